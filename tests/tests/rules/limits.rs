//! Limits against hand arithmetic, and what every limit must carry.

use crate::question::{FACTS, Line, cases, close, composition, day, eu, known_source, usage};
use levigate_rules::Question;
use levigate_rules::limits::{LimitReading, limits};
use serde::Deserialize;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LimitFile {
    factor: Vec<Factor>,
    case: Vec<LimitCase>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Factor {
    substance: String,
    limit: String,
    factor: f64,
    most_salt_percent: f64,
    source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LimitCase {
    name: String,
    source: String,
    lines: Vec<Line>,
    limit: String,
    group: Option<String>,
    amount: f64,
    maximum: Option<f64>,
    verdict: String,
    site: Option<String>,
    leave_on: Option<bool>,
    day: Option<String>,
    ph: Option<[f64; 2]>,
    warning: Option<String>,
    in_force: Option<bool>,
    available_in_force: Option<bool>,
    objects: Option<bool>,
}

fn read_limits(case: &LimitCase) -> Vec<LimitReading> {
    let usage = usage(case.site.as_deref().unwrap_or("face"), case.leave_on.unwrap_or(true));
    let composition = composition(&case.lines);
    let question = Question {
        composition: &composition,
        library: &FACTS.library,
        usage: &usage,
        day: day(case.day.as_deref()),
        ph: case.ph.map(|[low, high]| (low, high)),
    };
    limits(&question, eu())
}

#[test]
fn salts_are_compared_as_the_acid() {
    let file: LimitFile = cases("rules_limits");
    assert_eq!(file.factor.len(), 11);
    for case in &file.factor {
        known_source(&case.source);
        let lines = [Line {
            material: "x".to_owned(),
            percent: 0.01,
            of: Some([(case.substance.clone(), 100.0)].into()),
            spread: 0.0,
        }];
        let (usage, composition) = (usage("face", true), composition(&lines));
        let question = Question {
            composition: &composition,
            library: &FACTS.library,
            usage: &usage,
            day: day(None),
            ph: None,
        };
        let readings = limits(&question, eu());
        let reading = readings
            .iter()
            .find(|reading| reading.key == case.limit)
            .unwrap_or_else(|| panic!("{} is not counted towards {}", case.substance, case.limit));
        let factor = reading.counted[0].factor.unwrap();
        assert!(close(factor, case.factor, 1.2e-4), "{}: {factor} is not {}", case.substance, case.factor);
        let most = reading.maximum_percent.unwrap() / factor;
        assert!((most - case.most_salt_percent).abs() < 0.0006, "{}: most salt {most}", case.substance);
    }
}

#[test]
fn limits_agree_with_hand_arithmetic() {
    let file: LimitFile = cases("rules_limits");
    for case in &file.case {
        known_source(&case.source);
        let readings = read_limits(case);
        let reading = readings
            .iter()
            .find(|reading| {
                reading.key == case.limit && case.group.as_ref().is_none_or(|group| *group == reading.name)
            })
            .unwrap_or_else(|| panic!("{}: no reading of {}", case.name, case.limit));
        let amount = reading.amount.value.unwrap();
        assert!(close(amount, case.amount, 1.5e-3), "{}: {amount} is not {}", case.name, case.amount);
        assert_eq!(reading.maximum_percent, case.maximum, "{}", case.name);
        let verdict = serde_json::to_value(reading.verdict).unwrap();
        assert_eq!(verdict, case.verdict.as_str(), "{}", case.name);
        if let Some(warning) = &case.warning {
            assert!(
                reading.warnings.iter().any(|known| known.text == *warning && known.quoted),
                "{}",
                case.name
            );
        }
        assert_eq!(reading.placing.holds(), case.in_force.unwrap_or(true), "{}", case.name);
        if let Some(available) = case.available_in_force {
            assert_eq!(reading.available.holds(), available, "{}", case.name);
        }
        if let Some(objects) = case.objects {
            assert_eq!(reading.objects(), objects, "{}: {:?}", case.name, reading.conditions);
        }
        let parts: f64 = reading.amount.terms.iter().map(|term| term.value).sum();
        assert!(close(parts, amount, 1e-9), "{}: the terms do not sum to the amount", case.name);
    }
}

#[test]
fn every_limit_is_dated_and_its_members_have_proved_numbers() {
    let market = eu();
    let mut members = 0;
    for limit in market.limits.values() {
        assert!(!limit.rows.is_empty(), "{}", limit.key);
        for row in &limit.rows {
            assert!(row.dates.is_dated(), "{}", limit.key);
        }
        for member in &limit.members {
            members += 1;
            for number in &member.cas {
                assert!(cas_digit_holds(number), "{}: {number}", limit.key);
            }
        }
    }
    for allergen in market.allergens.values() {
        for number in allergen.members.iter().flat_map(|member| &member.cas) {
            assert!(cas_digit_holds(number), "{}: {number}", allergen.key);
        }
    }
    assert!(
        market.limits.len() >= 125 && members >= 200,
        "{} limits, {members} members",
        market.limits.len()
    );
}

/// Counted from the right, the digits before the last weighed 1, 2, 3, ... sum to it modulo ten.
fn cas_digit_holds(number: &str) -> bool {
    let digits: Vec<u32> = number.chars().filter_map(|letter| letter.to_digit(10)).collect();
    let Some((check, rest)) = digits.split_last() else { return false };
    let sum: u32 = rest.iter().rev().zip(1..).map(|(digit, weight)| digit * weight).sum();
    sum % 10 == *check
}

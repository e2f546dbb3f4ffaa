//! Allergens, certificates and the ingredient list against published thresholds and lists worked out by hand.

use crate::question::{FACTS, Line, cases, close, composition, day, eu, known_source, usage};
use jiff::civil::Date;
use levigate_formula::library::IfraLimit;
use levigate_rules::Question;
use levigate_rules::allergens::allergens;
use levigate_rules::book::Standing;
use levigate_rules::ifra::certificates;
use levigate_rules::label::{Zone, ingredient_list};
use levigate_rules::limits::limits;
use serde::Deserialize;
use std::collections::BTreeMap;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct AllergenFile {
    case: Vec<AllergenCase>,
    certificate: Vec<CertificateCase>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct AllergenCase {
    name: String,
    source: String,
    lines: Vec<Line>,
    amounts: BTreeMap<String, f64>,
    named: Vec<String>,
    day: Option<String>,
    leave_on: Option<bool>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CertificateCase {
    name: String,
    source: String,
    percent: f64,
    maximum: f64,
    exceeds: bool,
}

#[test]
fn allergens_are_summed_and_dated() {
    let file: AllergenFile = cases("rules_allergens");
    for case in &file.case {
        known_source(&case.source);
        let (usage, composition) = (usage("face", case.leave_on.unwrap_or(true)), composition(&case.lines));
        let question = Question {
            composition: &composition,
            library: &FACTS.library,
            usage: &usage,
            day: day(case.day.as_deref()),
            ph: None,
        };
        let readings = allergens(&question, eu());
        for (name, amount) in &case.amounts {
            let reading = readings
                .iter()
                .find(|reading| reading.label_name == *name)
                .unwrap_or_else(|| panic!("{}: {name} is not read", case.name));
            let found = reading.amount.value.unwrap();
            assert!(close(found, *amount, 1e-9), "{}: {name} {found} is not {amount}", case.name);
        }
        let mut named: Vec<&str> = readings
            .iter()
            .filter(|reading| reading.must_be_named())
            .map(|reading| reading.label_name.as_str())
            .collect();
        let mut expected: Vec<&str> = case.named.iter().map(String::as_str).collect();
        named.sort_unstable();
        expected.sort_unstable();
        assert_eq!(named, expected, "{}", case.name);
    }
}

#[test]
fn there_are_eighty_one_label_names_and_both_dates_stand_on_the_new_ones() {
    let market = eu();
    assert_eq!(market.allergens.len(), 81);
    let in_july: Date = "2026-07-31".parse().unwrap();
    let in_august: Date = "2026-08-01".parse().unwrap();
    let new: Vec<_> = market.allergens.values().filter(|one| one.dates.placing_from.is_some()).collect();
    assert_eq!(new.len(), 57, "24 names are older");
    for allergen in new {
        assert!(matches!(allergen.dates.placing(in_july), Standing::Coming { .. }), "{}", allergen.key);
        assert!(allergen.dates.placing(in_august).holds(), "{}", allergen.key);
        assert!(!allergen.dates.available("2028-07-31".parse().unwrap()).holds(), "{}", allergen.key);
        assert!(allergen.dates.available("2028-08-01".parse().unwrap()).holds(), "{}", allergen.key);
    }
}

#[test]
fn certificates_are_compared_strictly() {
    let file: AllergenFile = cases("rules_allergens");
    for case in &file.certificate {
        known_source(&case.source);
        let mut library = FACTS.library.clone();
        let oil = library.materials.get_mut("lavender-oil").unwrap();
        oil.ifra_limits = vec![IfraLimit {
            category: "5B".to_owned(),
            max_percent: case.maximum,
            amendment: 51,
            date: "2024-01-01".to_owned(),
        }];
        let composition = composition(&[Line {
            material: "lavender-oil".to_owned(),
            percent: case.percent,
            of: None,
            spread: 0.0,
        }]);
        let usage = usage("face", true);
        let question = Question {
            composition: &composition,
            library: &library,
            usage: &usage,
            day: day(None),
            ph: None,
        };
        let readings = certificates(&question, Some("5b"));
        assert_eq!(readings.len(), 1);
        assert_eq!(readings[0].exceeds, Some(case.exceeds), "{}", case.name);
        let without = certificates(&question, Some("4"));
        assert_eq!(without[0].exceeds, None, "a category without a limit is said, not passed");
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LabelFile {
    case: Vec<LabelCase>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LabelCase {
    name: String,
    source: String,
    lines: Vec<Line>,
    text: String,
    descending: usize,
    water_percent: f64,
}

#[test]
fn ingredient_lists_are_written_as_worked_out_by_hand() {
    let file: LabelFile = cases("rules_label");
    for case in &file.case {
        known_source(&case.source);
        let (usage, composition) = (usage("face", true), composition(&case.lines));
        let question = Question {
            composition: &composition,
            library: &FACTS.library,
            usage: &usage,
            day: day(None),
            ph: None,
        };
        let (limits, allergens) = (limits(&question, eu()), allergens(&question, eu()));
        let list = ingredient_list(&question, eu(), &limits, &allergens, Some(24.0)).unwrap();
        assert_eq!(list.text, case.text, "{}", case.name);
        let descending = list.entries.iter().filter(|entry| entry.zone == Zone::Descending).count();
        assert_eq!(descending, case.descending, "{}", case.name);
        let water = &list.entries[0].amount;
        assert!((water.percent - case.water_percent).abs() < 0.05, "{}: water {}", case.name, water.percent);
    }
}

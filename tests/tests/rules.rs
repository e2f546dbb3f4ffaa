//! The written rules against published arithmetic, on the shipped facts.

use jiff::civil::Date;
use levigate_facts::Facts;
use levigate_formula::composition::{Composition, ConstituentShare, SettledLine};
use levigate_formula::library::{IfraLimit, Library, Material, Price};
use levigate_formula::sheet::{FillUnit, Pack, Product};
use levigate_measure::Sourced;
use levigate_rules::allergens::allergens;
use levigate_rules::book::Standing;
use levigate_rules::cost::{CostQuestion, Density, cost};
use levigate_rules::exposure::{applied_dose, frames, margin, systemic_dose};
use levigate_rules::ifra::certificates;
use levigate_rules::incompatibility::incompatibilities;
use levigate_rules::label::{Zone, ingredient_list};
use levigate_rules::limits::{LimitReading, limits};
use levigate_rules::natural::natural_content;
use levigate_rules::{Market, Question, Usage};
use rust_decimal::Decimal;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use std::collections::BTreeMap;
use std::sync::LazyLock;

static FACTS: LazyLock<Facts> = LazyLock::new(|| levigate_facts::shipped().expect("the shipped facts load"));

fn cases<T: DeserializeOwned>(name: &str) -> T {
    let path = format!("{}/published/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).expect("the case file is there");
    toml::from_str(&text).expect("the case file follows its schema")
}

fn eu() -> &'static Market {
    FACTS.rules.market("eu").expect("the rules of the EU are held")
}

fn known_source(key: &str) {
    assert!(FACTS.sources.contains_key(key), "unknown source {key}");
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Line {
    material: String,
    percent: f64,
    of: Option<BTreeMap<String, f64>>,
    #[serde(default)]
    spread: f64,
}

fn composition(lines: &[Line]) -> Composition {
    let settled = lines
        .iter()
        .enumerate()
        .map(|(at, line)| {
            let constituents = match &line.of {
                Some(of) => of
                    .iter()
                    .map(|(substance, share)| {
                        assert!(
                            FACTS.library.substances.contains_key(substance),
                            "unknown substance {substance}"
                        );
                        ConstituentShare {
                            substance: substance.clone(),
                            low: share - line.spread,
                            typical: *share,
                            high: share + line.spread,
                        }
                    })
                    .collect(),
                None => FACTS.library.materials[&line.material]
                    .constituents
                    .iter()
                    .map(|part| ConstituentShare {
                        substance: part.substance.clone(),
                        low: part.min,
                        typical: part.typical,
                        high: part.max,
                    })
                    .collect(),
            };
            SettledLine {
                line: at,
                phase: 0,
                material: line.material.clone(),
                percent: line.percent,
                exact: None,
                constituents,
            }
        })
        .collect();
    Composition::of(settled)
}

fn usage(site: &str, leave_on: bool) -> Usage {
    Usage::of(&Product {
        name: "Case".to_owned(),
        kind: "serum".to_owned(),
        site: site.to_owned(),
        leave_on,
        markets: vec!["eu".to_owned()],
        client: None,
        note: None,
    })
}

fn day(text: Option<&str>) -> Date {
    text.unwrap_or("2026-11-24").parse().expect("a date")
}

fn close(found: f64, expected: f64, relative: f64) -> bool {
    (found - expected).abs() <= relative * expected.abs() + 1e-12
}

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

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CostFile {
    case: Vec<CostCase>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CostCase {
    name: String,
    source: String,
    lines: Vec<PricedLine>,
    per_kg: f64,
    tolerance: f64,
    largest_share_percent: f64,
    loss_percent: Option<Decimal>,
    fill: Option<Decimal>,
    unit: Option<FillUnit>,
    density: Option<f64>,
    per_pack: Option<f64>,
    pack_tolerance: Option<f64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PricedLine {
    percent: Decimal,
    price: Decimal,
}

fn material(key: &str) -> Material {
    let mut material = FACTS.library.materials["water"].clone();
    key.clone_into(&mut material.key);
    key.clone_into(&mut material.name);
    material.aliases = Vec::new();
    material.natural_origin_index = None;
    material
}

fn priced(lines: &[PricedLine], currency: impl Fn(usize) -> &'static str) -> (Library, Composition) {
    let mut library = Library::default();
    let mut settled = Vec::new();
    for (at, line) in lines.iter().enumerate() {
        let mut material = material(&format!("m{at}"));
        material.prices = vec![Price {
            per_kg: line.price,
            currency: currency(at).to_owned(),
            date: "2026-05-01".to_owned(),
            note: None,
        }];
        library.materials.insert(material.key.clone(), material);
        settled.push(SettledLine {
            line: at,
            phase: 0,
            material: format!("m{at}"),
            percent: line.percent.try_into().expect("a percentage"),
            exact: Some(line.percent),
            constituents: Vec::new(),
        });
    }
    (library, Composition::of(settled))
}

#[test]
fn costs_agree_with_hand_arithmetic() {
    let file: CostFile = cases("rules_cost");
    for case in &file.case {
        known_source(&case.source);
        let (library, composition) = priced(&case.lines, |_| "EUR");
        let pack = case.fill.zip(case.unit).map(|(fill, unit)| Pack {
            name: "bottle".to_owned(),
            fill,
            unit,
            cost: None,
            airless: false,
        });
        let answer = cost(&CostQuestion {
            composition: &composition,
            library: &library,
            day: day(None),
            loss_percent: case.loss_percent,
            pack: pack.as_ref(),
            density: case.density.map(|density| Density { low: density, typical: density, high: density }),
        });
        let per_kg = answer.per_kg.value.unwrap();
        assert!((per_kg - case.per_kg).abs() <= case.tolerance, "{}: {per_kg} per kg", case.name);
        let largest = answer.lines.iter().filter_map(|line| line.share_percent).fold(0.0, f64::max);
        assert!((largest - case.largest_share_percent).abs() < 0.5, "{}: {largest} %", case.name);
        if let Some(expected) = case.per_pack {
            let found = answer.per_pack.unwrap().value.unwrap();
            let tolerance = case.pack_tolerance.unwrap();
            assert!((found - expected).abs() <= tolerance, "{}: {found} per pack", case.name);
        }
    }
}

#[test]
fn two_currencies_are_never_added_and_a_later_price_is_not_used() {
    let lines = [
        PricedLine { percent: Decimal::from(50), price: Decimal::from(2) },
        PricedLine { percent: Decimal::from(50), price: Decimal::from(4) },
    ];
    let (library, composition) = priced(&lines, |at| if at == 0 { "EUR" } else { "USD" });
    let mut question = CostQuestion {
        composition: &composition,
        library: &library,
        day: day(None),
        loss_percent: None,
        pack: None,
        density: None,
    };
    assert!(cost(&question).per_kg.refused.unwrap().contains("EUR, USD"));
    question.day = day(Some("2026-04-30"));
    let early = cost(&question);
    assert_eq!(early.unpriced, [0, 1]);
    assert!(early.per_kg.notes.iter().any(|note| note.code == "price-later"));
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct NaturalFile {
    case: Vec<NaturalCase>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct NaturalCase {
    name: String,
    source: String,
    lines: Vec<NaturalLine>,
    with_water: [f64; 2],
    without_water: [f64; 2],
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct NaturalLine {
    percent: f64,
    index: Option<f64>,
    #[serde(default)]
    water: bool,
}

#[test]
fn natural_content_follows_the_standards_example() {
    let file: NaturalFile = cases("rules_natural");
    for case in &file.case {
        known_source(&case.source);
        let mut library = Library::default();
        library.substances.insert("water".to_owned(), FACTS.library.substances["water"].clone());
        let mut settled = Vec::new();
        for (at, line) in case.lines.iter().enumerate() {
            let mut material = material(&format!("m{at}"));
            material.natural_origin_index =
                line.index.map(|value| Sourced { value, source: "invented".to_owned() });
            library.materials.insert(material.key.clone(), material);
            let substance = if line.water { "water" } else { "other" };
            settled.push(SettledLine {
                line: at,
                phase: 0,
                material: format!("m{at}"),
                percent: line.percent,
                exact: None,
                constituents: vec![ConstituentShare {
                    substance: substance.to_owned(),
                    low: 100.0,
                    typical: 100.0,
                    high: 100.0,
                }],
            });
        }
        let (usage, composition) = (usage("face", true), Composition::of(settled));
        let question = Question {
            composition: &composition,
            library: &library,
            usage: &usage,
            day: day(None),
            ph: None,
        };
        let content = natural_content(&question);
        for (outcome, [low, high]) in
            [(&content.with_water, case.with_water), (&content.without_water, case.without_water)]
        {
            assert!((outcome.low.unwrap() - low).abs() < 1e-3, "{}: {:?}", case.name, outcome.low);
            assert!((outcome.high.unwrap() - high).abs() < 1e-3, "{}: {:?}", case.name, outcome.high);
            assert_eq!(outcome.value.is_some(), (high - low).abs() < 1e-9, "{}", case.name);
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ExposureFile {
    default: Vec<DefaultCase>,
    margin: Vec<MarginCase>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct DefaultCase {
    name: String,
    source: String,
    site: String,
    percent: f64,
    exposure: f64,
    dose: f64,
    tolerance: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct MarginCase {
    name: String,
    source: String,
    exposure: f64,
    percent: f64,
    absorption_percent: f64,
    point_of_departure: f64,
    dose: f64,
    margin: f64,
    tolerance: f64,
}

#[test]
fn exposure_frames_agree_with_the_committees_table() {
    let file: ExposureFile = cases("rules_exposure");
    for case in &file.default {
        known_source(&case.source);
        let frames = frames(&usage(&case.site, true), eu());
        assert_eq!(frames.len(), 1, "{}", case.name);
        let found = frames[0].product.value.unwrap();
        assert!(close(found, case.exposure, case.tolerance), "{}: {found}", case.name);
        let dose = applied_dose(&frames[0].product, "it", case.percent).value.unwrap();
        assert!(close(dose, case.dose, case.tolerance), "{}: {dose}", case.name);
    }
    for case in &file.margin {
        known_source(&case.source);
        let dose = systemic_dose(case.exposure, case.percent, case.absorption_percent);
        // The printed dose has three digits.
        assert!(close(dose.value.unwrap(), case.dose, 2e-3), "{}: {:?}", case.name, dose.value);
        let found = margin(case.point_of_departure, &dose).value.unwrap();
        assert!(close(found, case.margin, case.tolerance), "{}: {found}", case.name);
    }
}

#[test]
fn no_exposure_is_invented_for_the_eye_contour() {
    let frames = frames(&usage("eye", true), eu());
    assert_eq!(frames.len(), 1);
    assert_eq!(frames[0].product.value, None);
    assert!(frames[0].product.refused.as_ref().unwrap().contains("enter the amount"));
    assert_eq!(applied_dose(&frames[0].product, "it", 5.0).value, None);
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PairFile {
    case: Vec<PairCase>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PairCase {
    name: String,
    source: String,
    lines: Vec<Line>,
    rule: String,
    /// Absent: the pair must not be found.
    severity: Option<String>,
    size: Option<f64>,
    tolerance: Option<f64>,
    first_mmol: Option<f64>,
    second_mmol: Option<f64>,
}

#[test]
fn pairs_are_graded_by_amount() {
    let file: PairFile = cases("rules_incompatibilities");
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
        let readings = incompatibilities(&question, FACTS.rules.incompatibilities.values(), None);
        let reading = readings.iter().find(|reading| reading.key == case.rule);
        let Some(severity) = &case.severity else {
            assert!(reading.is_none(), "{}", case.name);
            continue;
        };
        let reading = reading.unwrap_or_else(|| panic!("{}: not found", case.name));
        assert_eq!(serde_json::to_value(reading.severity).unwrap(), severity.as_str(), "{}", case.name);
        let size = reading.size.value.unwrap();
        let tolerance = case.tolerance.unwrap();
        assert!(close(size, case.size.unwrap(), tolerance), "{}: size {size}", case.name);
        let sum = |side: &[levigate_rules::incompatibility::SideItem]| -> f64 {
            side.iter().map(|item| item.mmol_per_kg.unwrap()).sum()
        };
        if let Some(expected) = case.first_mmol {
            let found = sum(&reading.first);
            assert!(close(found, expected, 0.01), "{}: first {found}", case.name);
        }
        if let Some(expected) = case.second_mmol {
            let found = sum(&reading.second);
            assert!(close(found, expected, 0.01), "{}: second {found}", case.name);
        }
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

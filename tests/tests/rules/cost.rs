//! Cost and natural origin against hand arithmetic and the example of the standard.

use crate::question::{FACTS, cases, day, known_source, usage};
use levigate_formula::composition::{Composition, ConstituentShare, SettledLine};
use levigate_formula::library::{Library, Material, Price};
use levigate_formula::sheet::{FillUnit, Pack};
use levigate_measure::Sourced;
use levigate_rules::Question;
use levigate_rules::cost::{CostQuestion, Density, cost};
use levigate_rules::natural::natural_content;
use rust_decimal::Decimal;
use serde::Deserialize;

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

//! The batch sheet: exact totals, verdicts, remedies, cautions.

use super::*;
use levigate_formula::composition::SettledLine;
use levigate_formula::library::{Material, Substance};
use levigate_formula::sheet::Amount;
use rust_decimal::prelude::ToPrimitive;
use serde::Deserialize;
use std::collections::BTreeMap;

#[derive(Deserialize)]
struct Case {
    sheet: Sheet,
    substance: Vec<Substance>,
    material: Vec<Material>,
}

struct Fixture {
    sheet: Sheet,
    composition: Composition,
    library: Library,
}

/// The toner with its amounts settled by hand: the acid is given as 0.118 %.
fn toner() -> Fixture {
    let case: Case = toml::from_str(include_str!("toner.toml")).unwrap();
    let library = Library {
        substances: case.substance.into_iter().map(|s| (s.key.clone(), s)).collect::<BTreeMap<_, _>>(),
        materials: case.material.into_iter().map(|m| (m.key.clone(), m)).collect::<BTreeMap<_, _>>(),
        ..Library::default()
    };
    let composition = settle(&case.sheet);
    Fixture { sheet: case.sheet, composition, library }
}

fn settle(sheet: &Sheet) -> Composition {
    let solved = 0.118;
    let typed: Decimal = sheet
        .lines()
        .filter_map(|(_, line)| match line.amount {
            Amount::Percent(percent) => Some(percent),
            _ => None,
        })
        .sum();
    let has_solved = sheet.lines().any(|(_, line)| matches!(line.amount, Amount::ToPh(_)));
    let lines = sheet
        .lines()
        .enumerate()
        .map(|(at, (phase, line))| {
            let (percent, exact) = match line.amount {
                Amount::Percent(percent) => (percent.to_f64().unwrap(), Some(percent)),
                Amount::ToPh(_) => (solved, None),
                _ => {
                    let rest = Decimal::ONE_HUNDRED - typed;
                    let solved = if has_solved { solved } else { 0.0 };
                    (rest.to_f64().unwrap() - solved, (!has_solved).then_some(rest))
                }
            };
            SettledLine {
                line: at,
                phase,
                material: line.material.clone(),
                percent,
                exact,
                constituents: Vec::new(),
            }
        })
        .collect();
    Composition::of(lines)
}

fn made(fixture: &Fixture, size: &str, readability: &str) -> Result<BatchSheet, BatchSheetError> {
    let practice = Practice::shipped().unwrap();
    let balance = Balance::with_readability(readability.parse().unwrap()).unwrap();
    BatchSheet::build(&BatchOrder {
        sheet: &fixture.sheet,
        composition: &fixture.composition,
        library: &fixture.library,
        size_g: size.parse().unwrap(),
        balance: &balance,
        practice: &practice,
        procedure: None,
        version_code: "7f3a-20c1",
        date: "2026-11-24",
    })
}

fn line<'a>(sheet: &'a BatchSheet, material: &str) -> &'a BatchLine {
    sheet.lines().find(|line| line.material == material).unwrap()
}

#[test]
fn the_lines_add_up_to_the_batch_exactly() {
    let fixture = toner();
    for (size, readability) in
        [("200", "0.01"), ("200", "0.1"), ("50", "0.001"), ("333.3", "0.1"), ("5000", "1")]
    {
        let sheet = made(&fixture, size, readability).unwrap();
        assert_eq!(sheet.total_g, size.parse().unwrap(), "{size} {readability}");
        assert_eq!(sheet.lines().map(|line| line.grams).sum::<Decimal>(), sheet.size_g);
        assert_eq!(sheet.steps.iter().map(|step| step.subtotal_g).sum::<Decimal>(), sheet.size_g);
        let scale = readability.parse::<Decimal>().unwrap().scale();
        assert!(
            sheet.lines().all(|line| line.grams.scale() == scale),
            "every figure has the digits of the balance"
        );
    }
}

#[test]
fn a_size_the_balance_cannot_show_is_refused_with_its_neighbours() {
    let error = made(&toner(), "200.05", "0.1").unwrap_err();
    assert!(error.to_string().contains("200 g and 200.1 g"), "{error}");
    assert!(!error.hint().is_empty());
}

#[test]
fn small_preservative_lines_are_weak_and_get_a_stock_that_keeps_the_total() {
    let sheet = made(&toner(), "200", "0.01").unwrap();
    // 2 s / p = 1 g at 2 %: 0.40 g of sorbate is below it, 0.80 g of benzoate too, 6 g of niacinamide is not.
    let sorbate = line(&sheet, "sorbate");
    assert_eq!(sorbate.weighable, Weighable::TooSmall);
    assert_eq!(sorbate.tolerance_percent, Decimal::TWO);
    assert!((sorbate.minimum_weight.value.unwrap() - 1.0).abs() < 1e-9);
    let stock = &sorbate.remedies[0];
    assert_eq!(stock.kind, RemedyKind::Stock);
    let made_up = stock.dilution.as_ref().unwrap();
    assert_eq!(made_up.portion_g * made_up.strength_percent / Decimal::ONE_HUNDRED, sorbate.grams);
    assert_eq!(made_up.portion_g - made_up.carrier_in_portion_g, sorbate.grams);
    assert!(made_up.expanded_percent <= 2.0);
    assert_eq!(stock.carrier_number, Some(1));
    assert_eq!(line(&sheet, "niacinamide").weighable, Weighable::Well);
    assert!(line(&sheet, "niacinamide").remedies.is_empty());
}

#[test]
fn an_oil_gets_no_stock_in_water_but_a_premix_with_a_named_line() {
    let sheet = made(&toner(), "200", "0.01").unwrap();
    let scent = line(&sheet, "scent");
    assert_eq!(scent.weighable, Weighable::TooSmall);
    assert!(scent.remedies.iter().all(|remedy| remedy.kind != RemedyKind::Stock));
    let premix = scent.remedies.iter().find(|remedy| remedy.kind == RemedyKind::Premix).unwrap();
    assert_eq!(
        premix.carrier_number,
        Some(line(&sheet, "solubiliser").number),
        "the line of the phase that takes up oil"
    );
    let made_up = premix.dilution.as_ref().unwrap();
    assert!(made_up.carrier_in_portion_g <= line(&sheet, "solubiliser").grams);
    // Without a carrier in the formula there is no premix to propose.
    let mut fixture = toner();
    fixture.library.materials.get_mut("solubiliser").unwrap().functions.clear();
    let sheet = made(&fixture, "200", "0.01").unwrap();
    let kinds: Vec<RemedyKind> = line(&sheet, "scent").remedies.iter().map(|remedy| remedy.kind).collect();
    assert_eq!(kinds, [RemedyKind::FinerBalance, RemedyKind::LargerBatch]);
}

#[test]
fn a_remedy_makes_the_line_weigh_well() {
    let fixture = toner();
    let sheet = made(&fixture, "200", "0.01").unwrap();
    for weak in sheet.weak_lines() {
        for remedy in &weak.remedies {
            let again = match (remedy.kind, remedy.grams) {
                (RemedyKind::LargerBatch, Some(size)) => made(&fixture, &size.to_string(), "0.01").unwrap(),
                (RemedyKind::FinerBalance, Some(readability)) => {
                    made(&fixture, "200", &readability.to_string()).unwrap()
                }
                _ => continue,
            };
            assert_eq!(
                line(&again, &weak.material).weighable,
                Weighable::Well,
                "{} {}",
                weak.name,
                remedy.text
            );
        }
    }
}

#[test]
fn without_a_procedure_the_ph_is_read_before_an_adjuster_goes_in() {
    let sheet = made(&toner(), "200", "0.01").unwrap();
    let citric = line(&sheet, "citric");
    assert_eq!(citric.grams.to_string(), "0.24");
    let Part::ToPh { first_g, rest_g, .. } = &citric.part else { panic!("an adjuster") };
    assert_eq!((first_g.to_string().as_str(), rest_g.to_string().as_str()), ("0.00", "0.24"));
    assert!(sheet.notes.iter().any(|note| note.code == "adjuster"));
}

#[test]
fn cautions_stand_where_the_risk_arises() {
    let mut fixture = toner();
    let sheet = made(&fixture, "200", "0.01").unwrap();
    assert!(sheet.steps[0].cautions.iter().any(|caution| caution.hazard == "hot"));
    assert!(sheet.steps[1].cautions.is_empty());
    let ethanol = line(&sheet, "ethanol");
    assert!(
        ethanol.cautions.iter().any(|caution| caution.text.contains("hot plate")),
        "{:?}",
        ethanol.cautions
    );
    assert!(line(&sheet, "scent").cautions.iter().all(|caution| caution.hazard != "heat"));
    fixture.sheet.phases[2].temperature_c = Some(Decimal::new(60, 0));
    let sheet = made(&fixture, "200", "0.01").unwrap();
    assert!(line(&sheet, "scent").cautions.iter().any(|caution| caution.hazard == "heat"));
}

#[test]
fn the_vessel_is_two_thirds_full_at_most() {
    let sheet = made(&toner(), "200", "0.01").unwrap();
    assert!((sheet.vessel.batch_ml - 199.0).abs() < 3.0, "{}", sheet.vessel.batch_ml);
    assert_eq!(sheet.vessel.size_ml, Some(400.0));
}

#[test]
fn the_pharmacopoeial_figure_is_information_only() {
    let sheet = made(&toner(), "200", "0.01").unwrap();
    assert!((sheet.pharmacy_minimum.value.unwrap() - 20.0).abs() < 1e-9);
    assert_eq!(sheet.below_pharmacy_minimum, 10);
    assert!(sheet.pharmacy_minimum.notes.iter().any(|note| note.text.contains("nothing binds cosmetics")));
    assert!(sheet.weak_lines().count() < sheet.below_pharmacy_minimum);
}

#[test]
fn a_line_may_bring_its_own_tolerance() {
    let mut fixture = toner();
    fixture.sheet.phases[1].lines[2].tolerance_percent = Some(Decimal::new(10, 0));
    let sheet = made(&fixture, "200", "0.01").unwrap();
    assert_eq!(line(&sheet, "sorbate").weighable, Weighable::Well);
    fixture.sheet.phases[1].lines[2].tolerance_percent = Some(Decimal::ZERO);
    assert!(matches!(made(&fixture, "200", "0.01"), Err(BatchSheetError::Tolerance { number: 7, .. })));
}

#[test]
fn a_composition_of_another_formula_is_refused() {
    let mut fixture = toner();
    fixture.composition.lines.pop();
    assert!(matches!(
        made(&fixture, "200", "0.01"),
        Err(BatchSheetError::LinesDiffer { written: 11, settled: 10 })
    ));
    fixture.composition.lines.clear();
    fixture.sheet.phases.clear();
    assert!(matches!(made(&fixture, "200", "0.01"), Err(BatchSheetError::NoLines)));
}

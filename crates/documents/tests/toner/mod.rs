//! The made-up toner as a batch sheet, its amounts settled by hand (the acid is given as 0.118 %).

use levigate_formula::composition::{Composition, SettledLine};
use levigate_formula::library::{Library, Material, Substance};
use levigate_formula::sheet::{Amount, Sheet};
use levigate_measure::weighing::Balance;
use levigate_project::batch_sheet::{BatchOrder, BatchSheet, Practice};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::Deserialize;

#[derive(Deserialize)]
struct Case {
    sheet: Sheet,
    substance: Vec<Substance>,
    material: Vec<Material>,
}

/// The sheet for a size and a readability; `change` may alter the formula and its materials first.
pub(crate) fn sheet(
    size_g: &str,
    readability_g: &str,
    change: impl FnOnce(&mut Sheet, &mut Vec<Material>),
) -> BatchSheet {
    let text = include_str!("../../../project/src/batch_sheet/toner.toml");
    let mut case: Case = toml::from_str(text).expect("the fixture can be read");
    change(&mut case.sheet, &mut case.material);
    let library = Library {
        substances: case.substance.into_iter().map(|s| (s.key.clone(), s)).collect(),
        materials: case.material.into_iter().map(|m| (m.key.clone(), m)).collect(),
        ..Library::default()
    };
    let balance =
        Balance::with_readability(readability_g.parse().expect("a readability")).expect("a balance");
    BatchSheet::build(&BatchOrder {
        sheet: &case.sheet,
        composition: &settle(&case.sheet),
        library: &library,
        size_g: size_g.parse().expect("a size"),
        balance: &balance,
        practice: &Practice::shipped().expect("the shipped practice"),
        procedure: None,
        version_code: "7f3a-20c1",
        date: "2026-11-24",
    })
    .expect("a batch sheet")
}

fn settle(sheet: &Sheet) -> Composition {
    let solved = Decimal::new(118, 3);
    let typed: Decimal = sheet
        .lines()
        .map(|(_, line)| match line.amount {
            Amount::Percent(percent) => percent,
            Amount::ToPh(_) => solved,
            _ => Decimal::ZERO,
        })
        .sum();
    let lines = sheet
        .lines()
        .enumerate()
        .map(|(at, (phase, line))| {
            let (percent, exact) = match line.amount {
                Amount::Percent(percent) => (percent, Some(percent)),
                Amount::ToPh(_) => (solved, None),
                _ => (Decimal::ONE_HUNDRED - typed, None),
            };
            SettledLine {
                line: at,
                phase,
                material: line.material.clone(),
                percent: percent.to_f64().expect("a percentage"),
                exact,
                constituents: Vec::new(),
            }
        })
        .collect();
    Composition::of(lines)
}

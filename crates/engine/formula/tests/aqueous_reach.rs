//! The amount that reaches a pH: it does reach it, both ways to find it agree, and a pH that cannot be reached is said to be so.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

mod aqueous_mixtures;

use aqueous_mixtures::{conditions, mixture, system};
use levigate_formula::aqueous::{Conditions, Portion, Ray, Reach, System, Workspace};
use proptest::prelude::*;
use std::collections::BTreeMap;

/// What is added: strong base, strong acid, a weak acid or base as such or half neutralised, a chain, a ligand that binds metals.
fn titrants() -> impl Strategy<Value = Vec<(&'static str, f64)>> {
    prop_oneof![
        Just(vec![("Na+", 1.0), ("H+", -1.0)]),
        Just(vec![("Cl-", 1.0), ("H+", 1.0)]),
        Just(vec![("Citrate-3", 1.0), ("H+", 3.0)]),
        Just(vec![("Citrate-3", 1.0), ("H+", 1.5), ("Na+", 1.5)]),
        Just(vec![("Lactate-", 1.0), ("H+", 1.0)]),
        Just(vec![("Edta-4", 1.0), ("Na+", 4.0)]),
        Just(vec![("Chain-", 1.0), ("H+", 1.0)]),
        Just(vec![("Loose-", 1.0), ("Na+", 1.0)]),
        Just(vec![("Trisb", 1.0)]),
    ]
}

/// A ray: a mixture, and a titrant with its water (positive), or that takes the place of water (negative), kg per mole.
fn ray(
    totals: &BTreeMap<String, f64>,
    titrant: &[(&str, f64)],
    water_kg: f64,
    conditions: &Conditions,
) -> (System, Ray) {
    let mut totals = totals.clone();
    for (name, _) in titrant {
        totals.entry((*name).to_owned()).or_insert(0.0);
    }
    let (system, row) = system(&totals, conditions);
    let mut along = vec![0.0; row.len()];
    for (name, times) in titrant {
        along[system.place(name).unwrap()] += times;
    }
    let along = Portion { components_mol: along, water_kg, neutral_mol: 0.0 };
    let most = if water_kg < 0.0 { 2.0_f64.min(-0.95 / water_kg) } else { 2.0 };
    (system, Ray { base: Portion::of_totals(&row, 0.0), along, most })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 3000, ..ProptestConfig::default() })]

    /// The amount found gives the pH; the search from amount to amount finds it too, and finds nothing where nothing was found.
    #[test]
    fn both_ways_find_the_amount(
        totals in mixture(-7.0, -0.3),
        titrant in titrants(),
        water_kg in prop_oneof![Just(0.0), 0.01..1.0_f64, -0.3..-0.01_f64],
        aim in 1.0..13.0_f64,
        conditions in conditions(),
    ) {
        let (system, ray) = ray(&totals, &titrant, water_kg, &conditions);
        let mut workspace = Workspace::new();
        let direct = system.solve_to_ph(&ray, aim, &mut workspace).unwrap();
        let mut searching = Workspace::new();
        searching.bracketed_only = true;
        let searched = system.solve_to_ph(&ray, aim, &mut searching).unwrap();
        let mut check = Workspace::new();
        match (direct, searched) {
            (Reach::At(amount), searched) => {
                prop_assert!((0.0..=ray.most).contains(&amount));
                let ph = system.solve_along(&ray, amount, &mut check).unwrap();
                // One rounding of the amount may move the pH by more than the tolerance.
                let beside = amount * (1.0 + 4.0 * f64::EPSILON) + 1e-17;
                let rounding = 2.0 * (system.solve_along(&ray, beside, &mut check).unwrap() - ph).abs();
                prop_assert!((ph - aim).abs() < 1e-7 + rounding, "{ph} {aim} {rounding}");
                prop_assert!((workspace.ph() - ph).abs() < 1e-7 + rounding, "{} {ph}", workspace.ph());
                // An addition whose pH turns on its way has more than one amount, and the search from the start may see none of them.
                if let Reach::At(other) = searched {
                    let there = system.solve_along(&ray, other, &mut check).unwrap();
                    prop_assert!((there - aim).abs() < 1e-7 + rounding, "{there} {aim}");
                }
            }
            (Reach::WrongWay { ph }, Reach::WrongWay { ph: other }) => prop_assert!((ph - other).abs() < 1e-7),
            (Reach::NotEnough { amount, ph }, Reach::NotEnough { amount: other, ph: there }) => {
                prop_assert!((ph - there).abs() < 1e-7);
                prop_assert_eq!(amount, other);
            }
            (direct, searched) => prop_assert!(false, "{direct:?} {searched:?}"),
        }
    }
}

#[test]
fn a_ph_beyond_the_titrant_is_not_reached_and_the_nearest_is_named() {
    // Hydrochloric acid and triethanolamine: no amount of it leads to pH 12.
    let totals = BTreeMap::from([("H+".to_owned(), 0.01), ("Cl-".to_owned(), 0.01)]);
    let (system, ray) = ray(&totals, &[("Teab", 1.0)], 0.0, &Conditions::default());
    let mut workspace = Workspace::new();
    match system.solve_to_ph(&ray, 12.0, &mut workspace).unwrap() {
        Reach::NotEnough { amount, ph } => assert!(amount == ray.most && ph > 8.0 && ph < 12.0, "{ph}"),
        other => panic!("{other:?}"),
    }
    match system.solve_to_ph(&ray, 1.5, &mut workspace).unwrap() {
        Reach::WrongWay { ph } => assert!((ph - 2.05).abs() < 0.05, "{ph}"),
        other => panic!("{other:?}"),
    }
    assert!(system.solve_to_ph(&ray, f64::NAN, &mut workspace).is_err());
    let nothing = Ray { most: 0.0, ..ray };
    assert!(system.solve_to_ph(&nothing, 5.0, &mut workspace).is_err());
}

//! Laws that hold for every solution: balances, limits, derivatives, monotony.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use levigate_formula::aqueous::{
    ActivityModel, Addition, Chemistry, Conditions, EquilibriumFile, System, Workspace, names::charge_of_name,
};
use proptest::prelude::*;
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// The constants of the reference runs and two made-up polyacids.
fn chemistry() -> &'static Chemistry {
    static CHEMISTRY: OnceLock<Chemistry> = OnceLock::new();
    CHEMISTRY.get_or_init(|| {
        let text = include_str!("../../../../tests/cross/aqueous_reference_constants.toml");
        let file: EquilibriumFile = toml::from_str(text).unwrap();
        let known = Chemistry::from_reactions(file.reactions.clone(), Vec::new()).unwrap();
        let more: EquilibriumFile = toml::from_str(
            r#"
            [[component]]
            name = "Chain-"
            charge = -1
            [[component]]
            name = "Loose-"
            charge = -1
            [[polyacid]]
            component = "Chain-"
            product = "HChain"
            unit_spacing_nm = 0.25
            at = [
              { ionic_strength = 0.01, pk = 4.5, slope = 2.0, bend = -0.8, uncertainty = 0.2 },
              { ionic_strength = 0.1, pk = 4.3, slope = 1.2, uncertainty = 0.1 },
            ]
            [[polyacid]]
            component = "Loose-"
            product = "HLoose"
            unit_spacing_nm = 1.0
            at = [{ ionic_strength = 0.1, pk = 2.9, uncertainty = 0.1 }]
            "#,
        )
        .unwrap();
        let mut components: Vec<_> =
            known.components.values().filter(|row| row.name != "H+").cloned().collect();
        components.extend(more.components);
        Chemistry::from_files([EquilibriumFile {
            components,
            reactions: file.reactions,
            gases: file.gases,
            polyacids: more.polyacids,
            ..EquilibriumFile::default()
        }])
        .unwrap()
    })
}

fn names() -> Vec<String> {
    chemistry().components.keys().filter(|name| *name != "H+").cloned().collect()
}

/// A neutral mixture: random totals, protons (positive or negative) as electroneutrality leaves them.
fn mixture(least: f64, most: f64) -> impl Strategy<Value = BTreeMap<String, f64>> {
    let names = names();
    let part = (0..names.len(), least..most);
    (proptest::collection::vec(part, 1..9), -8.0..0.3_f64, prop_oneof![Just(1.0), Just(-1.0), Just(0.0)])
        .prop_map(move |(parts, strong, sign)| {
            let mut totals = BTreeMap::new();
            for (index, exponent) in parts {
                totals.insert(names[index].clone(), 10_f64.powf(exponent));
            }
            // A strong acid or base with its own inert counter-ion.
            let strong = 10_f64.powf(strong);
            if sign > 0.0 {
                *totals.entry("Cl-".to_owned()).or_insert(0.0) += strong;
            } else if sign < 0.0 {
                *totals.entry("Na+".to_owned()).or_insert(0.0) += strong;
            }
            let protons =
                -totals.iter().map(|(name, total)| f64::from(charge_of_name(name)) * total).sum::<f64>();
            totals.insert("H+".to_owned(), protons);
            totals
        })
}

fn system(totals: &BTreeMap<String, f64>, conditions: &Conditions) -> (System, Vec<f64>) {
    let system = System::prepare(chemistry(), totals.keys().map(String::as_str), conditions).unwrap();
    let row = system.totals(totals).unwrap();
    (system, row)
}

fn conditions() -> impl Strategy<Value = Conditions> {
    (
        0.0..95.0_f64,
        prop_oneof![Just(ActivityModel::Davies), Just(ActivityModel::Extended), Just(ActivityModel::Ideal)],
        prop_oneof![3 => Just(None), 1 => Just(Some(-3.377))],
    )
        .prop_map(|(temperature_c, activity, log10_pco2_atm)| Conditions {
            temperature_c,
            activity,
            log10_pco2_atm,
        })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2000, ..ProptestConfig::default() })]

    /// Whatever the totals from 1e-14 to 5 mol/kg: an answer, balanced to 1e-10, neutral.
    #[test]
    fn balances_close_from_a_cold_start(totals in mixture(-14.0, 0.7), conditions in conditions()) {
        let (system, row) = system(&totals, &conditions);
        let mut workspace = Workspace::new();
        system.solve(&row, 0.0, &mut workspace).unwrap();
        let speciation = system.read(&row, &workspace);
        prop_assert!(speciation.ph.is_finite());
        prop_assert!(speciation.residuals.mass_balance < 1e-10, "{:?}", speciation.residuals);
        prop_assert!(speciation.residuals.proton_balance < 1e-10, "{:?}", speciation.residuals);
        prop_assert!(speciation.residuals.charge_balance.abs() < 1e-9, "{:?}", speciation.residuals);
        prop_assert!(speciation.residuals.ionic_strength < 1e-9, "{:?}", speciation.residuals);
        prop_assert!(speciation.species.iter().all(|row| row.molality >= 0.0 && row.molality.is_finite()));
    }

    /// The direct and the bracketed method find the same solution; so does a warm start from somewhere else.
    #[test]
    fn every_way_leads_to_the_same_solution(totals in mixture(-6.0, -0.5), other in -5.0..-0.5_f64) {
        let (system, row) = system(&totals, &Conditions::default());
        let mut workspace = Workspace::new();
        system.solve(&row, 0.0, &mut workspace).unwrap();
        let cold = workspace.ph();
        let mut moved = row.clone();
        moved[0] += 10_f64.powf(other);
        system.solve(&moved, 0.0, &mut workspace).unwrap();
        system.solve(&row, 0.0, &mut workspace).unwrap();
        prop_assert!((workspace.ph() - cold).abs() < 1e-8, "{} {cold}", workspace.ph());
        let mut bracketed = Workspace::new();
        bracketed.bracketed_only = true;
        system.solve(&row, 0.0, &mut bracketed).unwrap();
        prop_assert!((bracketed.ph() - cold).abs() < 1e-8, "{} {cold}", bracketed.ph());
    }

    /// Derivatives agree with finite differences of the solver.
    #[test]
    fn derivatives_agree_with_differences(totals in mixture(-5.0, -1.0), pick in 0..100_usize) {
        let (system, row) = system(&totals, &Conditions::default());
        let mut workspace = Workspace::new();
        system.solve(&row, 0.0, &mut workspace).unwrap();
        // The held coefficients and the change to Raoult's law have a corner; a difference across it means nothing.
        prop_assume!((workspace.ionic_strength() - 1.0).abs() > 0.01);
        let slopes = system.sensitivities(&workspace);
        let place = pick % row.len();
        let step = 1e-5 * if place == 0 { 1e-2 / slopes.by_total[0].abs().max(1.0) * 1e3 } else { row[place] };
        let mut ph_with = |change: f64| {
            let mut moved = row.clone();
            moved[place] += change;
            system.solve(&moved, 0.0, &mut workspace).unwrap();
            workspace.ph()
        };
        let difference = (ph_with(step) - ph_with(-step)) / (2.0 * step);
        let slope = slopes.by_total[place];
        // Changes below 1e-9 pH are rounding.
        prop_assert!(((difference - slope) * step).abs() < 1e-3 * (slope * step).abs() + 2e-9, "{difference} {slope} {}", system.components()[place]);
        let index = pick % system.species().len();
        let name = system.species()[index].name.clone();
        if !system.components().contains(&name) {
            let mut with_constant = |shift: f64| {
                let other = system.with_shifted_constant(&name, shift);
                other.solve(&row, 0.0, &mut workspace).unwrap();
                workspace.ph()
            };
            let difference = (with_constant(1e-4) - with_constant(-1e-4)) / 2e-4;
            prop_assert!((difference - slopes.by_constant[index]).abs() < 1e-3 * difference.abs() + 1e-5, "{difference} {} {name}", slopes.by_constant[index]);
        }
    }

    /// Strong base raises the pH, strong acid lowers it, whatever is dissolved.
    #[test]
    fn base_raises_the_ph(totals in mixture(-6.0, -0.7), amount in -6.0..-0.5_f64) {
        let mut totals = totals;
        totals.entry("Na+".to_owned()).or_insert(0.0);
        let (system, row) = system(&totals, &Conditions { activity: ActivityModel::Ideal, ..Conditions::default() });
        let mut per_unit = vec![0.0; row.len()];
        per_unit[0] = -1.0;
        per_unit[system.place("Na+").unwrap()] = 1.0;
        let addition = Addition { start: &row, per_unit: &per_unit, neutral_molality: 0.0, most: 2.0 };
        let step = 10_f64.powf(amount);
        let curve = system.titrate(&addition, (0..8).map(|k| f64::from(k) * step), &mut Workspace::new()).unwrap();
        prop_assert!(curve.windows(2).all(|pair| pair[1].ph > pair[0].ph - 1e-9));
    }

    /// Dilution without end leads to neutral water.
    #[test]
    fn dilution_leads_to_water(totals in mixture(-4.0, 0.0)) {
        let diluted: BTreeMap<String, f64> = totals.iter().map(|(name, total)| (name.clone(), total * 1e-12)).collect();
        let (system, row) = system(&diluted, &Conditions::default());
        let mut workspace = Workspace::new();
        system.solve(&row, 0.0, &mut workspace).unwrap();
        prop_assert!((workspace.ph() - 6.997).abs() < 0.01, "{}", workspace.ph());
    }

    /// At vanishing ionic strength the activity models agree.
    #[test]
    fn models_agree_in_dilute_solution(totals in mixture(-3.0, 0.0)) {
        let small: BTreeMap<String, f64> = totals.iter().map(|(name, total)| (name.clone(), total * 1e-7)).collect();
        let mut values = Vec::new();
        for activity in [ActivityModel::Davies, ActivityModel::Extended, ActivityModel::Ideal] {
            let (system, row) = system(&small, &Conditions { activity, ..Conditions::default() });
            let mut workspace = Workspace::new();
            system.solve(&row, 0.0, &mut workspace).unwrap();
            values.push(workspace.ph());
        }
        prop_assert!(values.iter().all(|ph| (ph - values[2]).abs() < 0.01), "{values:?}");
    }

    /// The amount that the search returns gives the pH asked for.
    #[test]
    fn the_amount_found_gives_the_ph(acid in -4.0..-0.5_f64, target in 3.0..11.0_f64) {
        let total = 10_f64.powf(acid);
        let totals = BTreeMap::from([("H+".to_owned(), 3.0 * total), ("Citrate-3".to_owned(), total), ("Na+".to_owned(), 0.0)]);
        let (system, row) = system(&totals, &Conditions::default());
        let mut per_unit = vec![0.0; row.len()];
        per_unit[0] = -1.0;
        per_unit[system.place("Na+").unwrap()] = 1.0;
        let addition = Addition { start: &row, per_unit: &per_unit, neutral_molality: 0.0, most: 5.0 };
        let mut workspace = Workspace::new();
        let amount = system.amount_for_ph(&addition, target, &mut workspace).unwrap_or(f64::NAN);
        if amount.is_nan() {
            // Only a target below the start cannot be reached with a base.
            system.solve(&row, 0.0, &mut workspace).unwrap();
            prop_assert!(workspace.ph() > target);
        } else {
            let point = system.titrate(&addition, [amount], &mut workspace).unwrap();
            prop_assert!((point[0].ph - target).abs() < 1e-5);
        }
    }

    /// Totals that nobody can mean are refused, never answered with something that is not a number.
    #[test]
    fn nonsense_is_refused(value in prop_oneof![Just(f64::NAN), Just(f64::INFINITY), Just(-1e-3), Just(1e9), Just(f64::NEG_INFINITY)], place in 0..2_usize) {
        let totals = BTreeMap::from([("H+".to_owned(), 0.0), ("Citrate-3".to_owned(), 0.01)]);
        let (system, mut row) = system(&totals, &Conditions::default());
        row[place] = value;
        let answer = system.solve(&row, 0.0, &mut Workspace::new());
        prop_assert!(answer.is_err() || (place == 0 && value == -1e-3));
    }
}

#[test]
fn water_alone_has_the_ph_of_half_pkw() {
    let totals = BTreeMap::from([("H+".to_owned(), 0.0)]);
    let (system, row) =
        system(&totals, &Conditions { activity: ActivityModel::Ideal, ..Conditions::default() });
    let mut workspace = Workspace::new();
    system.solve(&row, 0.0, &mut workspace).unwrap();
    assert!((workspace.ph() - 13.997 / 2.0).abs() < 1e-6);
}

#[test]
fn a_ph_beyond_the_titrant_is_unreachable_and_says_how_near_it_gets() {
    let totals = BTreeMap::from([("H+".to_owned(), 0.0), ("Teab".to_owned(), 0.0), ("Cl-".to_owned(), 0.01)]);
    let mut totals = totals;
    totals.insert("H+".to_owned(), 0.01);
    let (system, row) = system(&totals, &Conditions::default());
    let mut per_unit = vec![0.0; row.len()];
    per_unit[system.place("Teab").unwrap()] = 1.0;
    let addition = Addition { start: &row, per_unit: &per_unit, neutral_molality: 0.0, most: 1.0 };
    let error = system.amount_for_ph(&addition, 12.0, &mut Workspace::new()).unwrap_err();
    let text = error.to_string();
    assert!(text.contains("cannot be reached") && !error.hint().is_empty(), "{text}");
}

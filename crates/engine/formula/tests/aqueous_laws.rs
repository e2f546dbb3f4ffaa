//! Laws that hold for every solution: balances, limits, derivatives, monotony.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

mod aqueous_mixtures;

use aqueous_mixtures::{conditions, mixture, system};
use levigate_formula::aqueous::{
    ActivityModel, Conditions, Departure, Portion, Ray, SolventShift, Workspace,
};
use levigate_measure::elementary::Elementary as _;
use proptest::prelude::*;
use std::collections::BTreeMap;

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
        moved[0] += 10_f64.to_the(other);
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

    /// Constants and coefficients that depart move the pH as the derivatives say, and come back to where they were.
    #[test]
    fn departures_move_the_ph_as_derivatives_say(totals in mixture(-5.0, -1.0), pick in 0..100_usize, which in 0..4_u8) {
        let (system, row) = system(&totals, &Conditions::default());
        let mut workspace = Workspace::new();
        system.solve(&row, 0.0, &mut workspace).unwrap();
        prop_assume!((workspace.ionic_strength() - 1.0).abs() > 0.01);
        let (ph, slopes) = (workspace.ph(), system.sensitivities(&workspace));
        let shifts = system.solvent_shifts(SolventShift { fraction: 0.1, acid: 0.3, base: -0.1 });
        let along = |by: f64| {
            let mut departure = Departure { constants: vec![0.0; system.species().len()], ..Departure::default() };
            match which {
                0 => departure.constants[pick % system.species().len()] = by,
                1 => departure.charged = by,
                2 => departure.neutral = by,
                _ => departure.solvent = by,
            }
            departure
        };
        let expected = match which {
            0 => slopes.by_constant[pick % system.species().len()],
            1 => slopes.by_charged_coefficient,
            2 => slopes.by_neutral_coefficient,
            _ => {
                let pull: f64 = slopes.by_constant.iter().zip(&shifts.0).map(|(slope, shift)| slope * shift).sum();
                pull + slopes.by_polyacid.iter().sum::<f64>() * shifts.1
            }
        };
        let mut other = system.clone();
        let mut ph_at = |by: f64| {
            other.depart(&system, &along(by), &shifts);
            other.solve(&row, 0.0, &mut workspace).unwrap();
            workspace.ph()
        };
        let difference = (ph_at(1e-4) - ph_at(-1e-4)) / 2e-4;
        prop_assert!((difference - expected).abs() < 1e-3 * difference.abs() + 1e-5, "{which}: {difference} {expected}");
        prop_assert!((ph_at(0.0) - ph).abs() < 1e-8);
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
        let ray = Ray { base: Portion::of_totals(&row, 0.0), along: Portion::of_components(per_unit), most: 2.0 };
        let step = 10_f64.to_the(amount);
        let curve = system.titrate(&ray, (0..8).map(|k| f64::from(k) * step), &mut Workspace::new()).unwrap();
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

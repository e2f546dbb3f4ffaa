//! Random water phases for the property tests of the equilibrium.

use levigate_formula::aqueous::{
    ActivityModel, Chemistry, Conditions, EquilibriumFile, System, names::charge_of_name,
};
use levigate_measure::elementary::Elementary as _;
use proptest::prelude::*;
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// The constants of the reference runs and two made-up polyacids.
pub(crate) fn chemistry() -> &'static Chemistry {
    static CHEMISTRY: OnceLock<Chemistry> = OnceLock::new();
    CHEMISTRY.get_or_init(|| {
        let text = include_str!("../../../../../tests/cross/aqueous_reference_constants.toml");
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
pub(crate) fn mixture(least: f64, most: f64) -> impl Strategy<Value = BTreeMap<String, f64>> {
    let names = names();
    let part = (0..names.len(), least..most);
    (proptest::collection::vec(part, 1..9), -8.0..0.3_f64, prop_oneof![Just(1.0), Just(-1.0), Just(0.0)])
        .prop_map(move |(parts, strong, sign)| {
            let mut totals = BTreeMap::new();
            for (index, exponent) in parts {
                totals.insert(names[index].clone(), 10_f64.to_the(exponent));
            }
            // A strong acid or base with its own inert counter-ion.
            let strong = 10_f64.to_the(strong);
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

/// The system of the components named, and the totals in its order.
pub(crate) fn system(totals: &BTreeMap<String, f64>, conditions: &Conditions) -> (System, Vec<f64>) {
    let system = System::prepare(chemistry(), totals.keys().map(String::as_str), conditions).unwrap();
    let row = system.totals(totals).unwrap();
    (system, row)
}

/// Any temperature, coefficients, with and without air.
pub(crate) fn conditions() -> impl Strategy<Value = Conditions> {
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

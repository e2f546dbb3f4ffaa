//! The aqueous equilibrium against another program, published buffers and textbook answers. Cases are TOML files beside this crate.

use levigate_formula::aqueous::{ActivityModel, Chemistry, Conditions, EquilibriumFile, Speciation, System, Workspace};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::Path;

fn text(path: &str) -> String {
    let full = Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
    std::fs::read_to_string(&full).unwrap_or_else(|error| panic!("{}: {error}", full.display()))
}

fn file<T: serde::de::DeserializeOwned>(path: &str) -> T {
    toml::from_str(&text(path)).unwrap_or_else(|error| panic!("{path}: {error}"))
}

fn solved(chemistry: &Chemistry, totals: &BTreeMap<String, f64>, conditions: &Conditions) -> Speciation {
    let system = System::prepare(chemistry, totals.keys().map(String::as_str), conditions).unwrap();
    let row = system.totals(totals).unwrap();
    let mut workspace = Workspace::new();
    system.solve(&row, 0.0, &mut workspace).unwrap();
    let speciation = system.read(&row, &workspace);
    assert!(speciation.residuals.mass_balance < 1e-10, "{:?}", speciation.residuals);
    speciation
}

#[derive(Deserialize)]
struct ReferenceFile {
    gates: Gates,
    case: Vec<ReferenceCase>,
}

#[derive(Deserialize)]
struct Gates {
    ph: f64,
    species_relative: f64,
    species_above: f64,
    free_metal_log10: f64,
    ionic_strength_relative: f64,
}

#[derive(Deserialize)]
struct ReferenceCase {
    id: String,
    title: String,
    temperature_c: f64,
    log10_pco2_atm: Option<f64>,
    totals: BTreeMap<String, f64>,
    ph: f64,
    ionic_strength: f64,
    water_activity: f64,
    free_metals: BTreeMap<String, f64>,
    species: BTreeMap<String, f64>,
}

fn reference_chemistry() -> Chemistry {
    let file: EquilibriumFile = file("cross/aqueous_reference_constants.toml");
    let gases = file.gases.clone();
    let mut chemistry = Chemistry::from_reactions(file.reactions, Vec::new()).unwrap();
    chemistry.gases = gases;
    chemistry
}

#[test]
fn thirty_reference_speciations_agree() {
    let chemistry = reference_chemistry();
    let reference: ReferenceFile = file("cross/aqueous_reference.toml");
    let gates = &reference.gates;
    assert_eq!(reference.case.len(), 30);
    let mut misses = Vec::new();
    for case in &reference.case {
        let conditions = Conditions {
            temperature_c: case.temperature_c,
            activity: ActivityModel::Davies,
            log10_pco2_atm: case.log10_pco2_atm,
        };
        let ours = solved(&chemistry, &case.totals, &conditions);
        println!(
            "{} {}: pH {:.5} ({:.5}), I {:.6e} ({:.6e}), {} iterations",
            case.id, case.title, ours.ph, case.ph, ours.ionic_strength, case.ionic_strength, ours.iterations
        );
        let mut check = |what: &str, ours: f64, theirs: f64, miss: f64, gate: f64| {
            if !(miss <= gate) {
                misses.push(format!("{} {what}: {ours} against {theirs} (miss {miss:.2e}, gate {gate})", case.id));
            }
        };
        check("pH", ours.ph, case.ph, (ours.ph - case.ph).abs(), gates.ph);
        let relative = (ours.ionic_strength / case.ionic_strength - 1.0).abs();
        check("ionic strength", ours.ionic_strength, case.ionic_strength, relative, gates.ionic_strength_relative);
        let apart = (ours.water_activity - case.water_activity).abs();
        check("water activity", ours.water_activity, case.water_activity, apart, 1e-5);
        for (name, &theirs) in &case.species {
            if theirs > gates.species_above {
                let value = ours.molality(name);
                check(name, value, theirs, (value / theirs - 1.0).abs(), gates.species_relative);
            }
        }
        for (name, &theirs) in &case.free_metals {
            let value = ours.free_metals.get(name).copied().unwrap_or(0.0);
            check(name, value, theirs, (value / theirs).log10().abs(), gates.free_metal_log10);
        }
    }
    assert!(misses.is_empty(), "{}", misses.join("\n"));
}

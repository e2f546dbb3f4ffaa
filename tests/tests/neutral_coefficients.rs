//! The coefficient of uncharged acids against published constants in salt solutions.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use levigate_formula::aqueous::chemistry::SaltingOut;
use levigate_formula::aqueous::{Chemistry, Conditions, Reaction, System, Workspace};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::Path;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Media {
    gate: f64,
    acid: Vec<Acid>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Acid {
    name: String,
    /// Species of the shipped facts; without it the acid is made up from `log10_k`.
    product: Option<String>,
    /// The form with one proton less, where it is not the component.
    over: Option<String>,
    log10_k: Option<f64>,
    #[serde(default)]
    used: Vec<[f64; 2]>,
    unused: Vec<[f64; 2]>,
}

/// Chemistry of one acid that the shipped facts do not hold.
fn made_up(log10_k: f64) -> Chemistry {
    let reaction = Reaction {
        product: "HA".to_owned(),
        from: BTreeMap::from([("H+".to_owned(), 1), ("A-".to_owned(), 1)]),
        log10_k,
        enthalpy_kj_mol: None,
        heat_capacity_j_mol_k: None,
        uncertainty_log10: None,
        source: String::new(),
        quality: None,
        note: None,
    };
    let mut chemistry = Chemistry::from_reactions(vec![reaction], Vec::new()).unwrap();
    let taken_over =
        SaltingOut { species: "HA".to_owned(), kg_mol: 0.0, source: String::new(), quality: None };
    chemistry.salting_out.push(taken_over);
    for (name, charge) in [("Na+", 1), ("Cl-", -1)] {
        let mut component = chemistry.components["A-"].clone();
        (component.name, component.charge) = (name.to_owned(), charge);
        chemistry.components.insert(name.to_owned(), component);
    }
    chemistry
}

/// log10 of [acid] / ([H+] [base]) in sodium chloride, where half of a trace of the acid is neutralised.
fn concentration_constant(chemistry: &Chemistry, acid: &str, base: &str, ionic_strength: f64) -> f64 {
    let row = chemistry.reactions.iter().find(|row| row.product == acid).unwrap();
    let component = row.from.keys().find(|name| *name != "H+").unwrap();
    let protons = f64::from(row.from["H+"]);
    let trace = 1e-5;
    let totals = BTreeMap::from([
        (component.clone(), trace),
        ("H+".to_owned(), trace * (protons - 0.5)),
        ("Na+".to_owned(), ionic_strength),
        ("Cl-".to_owned(), ionic_strength),
    ]);
    let system =
        System::prepare(chemistry, totals.keys().map(String::as_str), &Conditions::default()).unwrap();
    let row = system.totals(&totals).unwrap();
    let mut workspace = Workspace::new();
    system.solve(&row, 0.0, &mut workspace).unwrap();
    let speciation = system.read(&row, &workspace);
    (speciation.molality(acid) / (speciation.molality("H+") * speciation.molality(base))).log10()
}

#[test]
fn constants_in_salt_solutions_come_out() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("published/aqueous_media.toml");
    let media: Media = toml::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    let shipped = levigate_facts::shipped().unwrap_or_else(|error| panic!("{error}")).chemistry;
    let mut misses = Vec::new();
    for acid in &media.acid {
        let own = acid.log10_k.map(made_up);
        let chemistry = own.as_ref().unwrap_or(&shipped);
        let product = acid.product.as_deref().unwrap_or("HA");
        let base = acid.over.clone().unwrap_or_else(|| format!("{}-", product.trim_start_matches('H')));
        for &[ionic_strength, published] in acid.used.iter().chain(&acid.unused) {
            let ours = concentration_constant(chemistry, product, &base, ionic_strength);
            if (ours - published).abs() > media.gate {
                misses.push(format!("{} at {ionic_strength}: {ours:.3} against {published}", acid.name));
            }
        }
    }
    assert!(misses.is_empty(), "{}", misses.join("\n"));
}

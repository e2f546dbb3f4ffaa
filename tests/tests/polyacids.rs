//! Weak polyacids: the shipped parameters against the Poisson-Boltzmann equation solved outside, the solver's counting of counter-ions against
//! the cell model, and both against published titrations.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use levigate_formula::aqueous::{Chemistry, Conditions, Speciation, System, Workspace};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::io::Write as _;
use std::path::Path;

fn file<T: serde::de::DeserializeOwned>(path: &str) -> T {
    let full = Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
    toml::from_str(&std::fs::read_to_string(full).unwrap()).unwrap_or_else(|error| panic!("{path}: {error}"))
}

fn shipped() -> Chemistry {
    levigate_facts::shipped().unwrap_or_else(|error| panic!("{error}")).chemistry
}

/// Solves a solution of the components given.
fn solved(chemistry: &Chemistry, totals: &[(&str, f64)]) -> Speciation {
    let totals: BTreeMap<String, f64> =
        totals.iter().map(|(name, amount)| ((*name).to_owned(), *amount)).collect();
    let system =
        System::prepare(chemistry, totals.keys().map(String::as_str), &Conditions::default()).unwrap();
    let row = system.totals(&totals).unwrap();
    let mut workspace = Workspace::new();
    system.solve(&row, 0.0, &mut workspace).unwrap();
    system.read(&row, &workspace)
}

/// pH of a polyacid whose groups are neutralised in part with sodium hydroxide, nothing else dissolved.
fn salt_free_ph(chemistry: &Chemistry, component: &str, molality: f64, base: f64) -> f64 {
    let totals = [(component, molality), ("Na+", base * molality), ("H+", molality * (1.0 - base))];
    solved(chemistry, &totals).ph
}

#[derive(Deserialize)]
struct Computed {
    rod: Vec<Rod>,
    cell: Vec<Cell>,
}

#[derive(Deserialize)]
struct Rod {
    component: String,
    ionic_strength: f64,
    apparent_pk: Vec<[f64; 2]>,
}

#[derive(Deserialize)]
struct Cell {
    component: String,
    molality: f64,
    base_and_ph: Vec<[f64; 2]>,
}

/// Apparent pKa of a trace of the polyacid in sodium chloride, at a degree of ionisation; none where the acid itself is more than the salt.
fn apparent_pk(chemistry: &Chemistry, component: &str, ionic_strength: f64, degree: f64) -> Option<f64> {
    let trace = 1e-7;
    let (mut low, mut high) = (-3.0_f64, 12.0_f64);
    for _ in 0..60 {
        let exponent = 0.5 * (low + high);
        let acid = 10.0_f64.powf(-exponent);
        let salt = ionic_strength - 0.5 * acid;
        if salt <= 0.0 {
            low = exponent;
            continue;
        }
        let totals = [(component, trace), ("Na+", salt), ("Cl-", salt + acid), ("H+", trace + acid)];
        let speciation = solved(chemistry, &totals);
        let ionised = speciation.molality(component) / trace;
        if (ionised - degree).abs() < 1e-6 {
            return Some(speciation.ph - (degree / (1.0 - degree)).log10());
        }
        if ionised < degree {
            low = exponent;
        } else {
            high = exponent;
        }
    }
    None
}

#[test]
fn the_rows_follow_the_poisson_boltzmann_rod() {
    let chemistry = shipped();
    let computed: Computed = file("cross/polyion_titration.toml");
    let (mut checked, mut misses) = (0, Vec::new());
    for rod in &computed.rod {
        // The second degree in a follows the rod within this (largest miss over all a 0.065 and 0.127), and rows have two decimals.
        let gate = if rod.ionic_strength < 0.01 { 0.14 } else { 0.08 };
        for &[degree, expected] in &rod.apparent_pk {
            let Some(ours) = apparent_pk(&chemistry, &rod.component, rod.ionic_strength, degree) else {
                continue;
            };
            checked += 1;
            if (ours - expected).abs() > gate {
                misses.push(format!(
                    "{} {} {degree}: {ours:.3}, rod {expected}",
                    rod.component, rod.ionic_strength
                ));
            }
        }
    }
    assert!(checked > 100, "only {checked} points are within reach");
    assert!(misses.is_empty(), "{}", misses.join("\n"));
}

/// Without salt the solver counts free counter-ions for the ionic strength and reads a rod in salt; the cell model needs no such rule.
#[test]
fn counter_ions_counted_agree_with_the_cell_model() {
    let chemistry = shipped();
    let computed: Computed = file("cross/polyion_titration.toml");
    let mut misses = Vec::new();
    for cell in &computed.cell {
        for &[base, expected] in &cell.base_and_ph {
            let ours = salt_free_ph(&chemistry, &cell.component, cell.molality, base);
            if (ours - expected).abs() > 0.2 {
                misses
                    .push(format!("{} {} {base}: {ours:.3}, cell {expected}", cell.component, cell.molality));
            }
        }
    }
    assert!(misses.is_empty(), "{}", misses.join("\n"));
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Published {
    dispersion: Vec<Dispersion>,
    exponent: Vec<Exponent>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Dispersion {
    name: String,
    component: String,
    molality: f64,
    base: f64,
    ph: [f64; 2],
    #[serde(rename = "source")]
    _source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Exponent {
    name: String,
    component: String,
    molality: f64,
    n: [f64; 2],
    #[serde(rename = "source")]
    _source: String,
    disagrees: Option<String>,
}

#[test]
fn published_titrations_come_out() {
    let chemistry = shipped();
    let published: Published = file("published/polyacids.toml");
    for case in &published.dispersion {
        let ph = salt_free_ph(&chemistry, &case.component, case.molality, case.base);
        assert!((case.ph[0]..=case.ph[1]).contains(&ph), "{}: {ph:.2} is not in {:?}", case.name, case.ph);
    }
    for case in &published.exponent {
        let n = exponent(&chemistry, &case.component, case.molality);
        let agrees = (case.n[0]..=case.n[1]).contains(&n);
        match &case.disagrees {
            None => assert!(agrees, "{}: n = {n:.2} is not in {:?}", case.name, case.n),
            Some(why) => {
                assert!(!agrees, "{}: n = {n:.2} agrees now; take `disagrees` out", case.name);
                // Past the capture of the test harness: a disagreement is shown on every run.
                writeln!(
                    std::io::stderr(),
                    "\nDISAGREES WITH A PUBLICATION\n{}: n = {n:.2}, not {:?}. {}",
                    case.name,
                    case.n,
                    why.trim()
                )
                .unwrap();
            }
        }
    }
}

/// Least-squares exponent of the extended Henderson-Hasselbalch equation over a = 0.2 to 0.8.
fn exponent(chemistry: &Chemistry, component: &str, molality: f64) -> f64 {
    let points: Vec<(f64, f64)> = (2..=8)
        .map(|tenth| {
            let base = f64::from(tenth) / 10.0;
            let totals = [(component, molality), ("Na+", base * molality), ("H+", molality * (1.0 - base))];
            let speciation = solved(chemistry, &totals);
            let degree = speciation.molality(component) / molality;
            ((degree / (1.0 - degree)).log10(), speciation.ph)
        })
        .collect();
    let count = points.len() as f64;
    let (mean_x, mean_y) =
        points.iter().fold((0.0, 0.0), |(x, y), point| (x + point.0 / count, y + point.1 / count));
    let along: f64 = points.iter().map(|(x, y)| (x - mean_x) * (y - mean_y)).sum();
    along / points.iter().map(|(x, _)| (x - mean_x).powi(2)).sum::<f64>()
}

//! The prediction of flow against published values.

use levigate_process::flow::solvent::mixture;
use levigate_process::flow::thickener::Growth;
use serde::Deserialize;
use std::path::Path;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Cases {
    plateau: Vec<Plateau>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Point {
    dose: f64,
    mpa_s: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Plateau {
    name: String,
    #[expect(dead_code, reason = "for readers of the file")]
    source: String,
    growth: Growth,
    solvent_mpa_s: f64,
    anchor: Option<Point>,
    intrinsic_dl_g: Option<f64>,
    points: Vec<Point>,
    tolerance: f64,
}

#[test]
fn the_plateau_grows_with_the_dose_as_published() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("published/flow_prediction.toml");
    let cases: Cases = toml::from_str(&std::fs::read_to_string(file).unwrap()).unwrap();
    for case in cases.plateau {
        let viscosity =
            |intrinsic: f64, dose: f64| case.solvent_mpa_s * (1.0 + case.growth.specific(intrinsic * dose));
        let intrinsic = case.intrinsic_dl_g.unwrap_or_else(|| {
            let anchor = case.anchor.as_ref().unwrap();
            let (mut low, mut high) = (0.01_f64, 1000.0_f64);
            while high / low > 1.0 + 1e-9 {
                let middle = (low * high).sqrt();
                if viscosity(middle, anchor.dose) < anchor.mpa_s { low = middle } else { high = middle }
            }
            low
        });
        for point in &case.points {
            let off = viscosity(intrinsic, point.dose) / point.mpa_s - 1.0;
            assert!(off.abs() < case.tolerance, "{}: {} % is off by {off}", case.name, point.dose);
        }
    }
}

#[test]
fn mixtures_with_water_follow_the_published_correlation() {
    let facts = levigate_facts::shipped().unwrap();
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("cross/solvent_mixtures.csv");
    let text = std::fs::read_to_string(file).unwrap();
    let mut worst = 0.0_f64;
    for line in text.lines().skip(1) {
        let row: Vec<&str> = line.split(',').collect();
        let [celsius, percent, theirs] = [1, 2, 3].map(|at| row[at].parse::<f64>().unwrap());
        let cosolvent = &facts.flow.cosolvents[row[0]];
        let [ours, _] = mixture([(cosolvent, percent / 100.0)].into_iter(), celsius);
        let off = (ours * 1e3 / theirs - 1.0).abs();
        assert!(off < 0.06, "{line}: {ours}");
        worst = worst.max(off);
    }
    println!("largest deviation {worst:.3}");
}

#[test]
fn a_solution_of_sugar_has_its_handbook_viscosity() {
    // Sucrose in water at 20 C, mPa s (handbook, from memory): the two constants were fitted to these.
    let handbook = [(10.0, 1.336), (20.0, 1.945), (30.0, 3.187), (40.0, 6.162), (50.0, 15.43), (60.0, 58.5)];
    let facts = levigate_facts::shipped().unwrap();
    for (percent, theirs) in handbook {
        let [ours, _] = mixture([(&facts.flow.cosolvents["sucrose"], percent / 100.0)].into_iter(), 20.0);
        assert!((ours * 1e3 / theirs - 1.0).abs() < 0.02, "{percent} %: {ours}");
    }
}

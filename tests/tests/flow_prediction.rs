//! The prediction of flow against published values.

use levigate_process::flow::blend::{Blend, Dosed, Knowledge};
use levigate_process::flow::datasheet::{Datasheet, Family, Thickener, dial_viscosity, learn};
use levigate_process::flow::solvent::{glycerol_water, mixture};
use levigate_process::flow::thickener::{Growth, Response, Surroundings, Thickening};
use serde::Deserialize;
use std::path::Path;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Cases {
    plateau: Vec<Plateau>,
    series: Vec<Series>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Series {
    name: String,
    #[expect(dead_code, reason = "for readers of the file")]
    source: String,
    family: String,
    temperature_c: f64,
    ionic_strength: f64,
    learn: Learned,
    curves: Vec<Measured>,
    #[serde(default)]
    misses: Vec<Miss>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Learned {
    percent: f64,
    shear_rate: f64,
    mpa_s: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Measured {
    percent: f64,
    law: Option<PowerLaw>,
    #[serde(default)]
    rates: Vec<f64>,
    #[serde(default)]
    points: Vec<[f64; 2]>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PowerLaw {
    consistency: f64,
    index: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Miss {
    percent: f64,
    shear_rate: f64,
    because: String,
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

fn cases() -> Result<Cases, Box<dyn std::error::Error>> {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("published/flow_prediction.toml");
    Ok(toml::from_str(&std::fs::read_to_string(file)?)?)
}

/// A thickener alone in water.
fn alone<'k>(
    (law, knowledge): &'k (Thickening, Knowledge),
    family: &Family,
    dose_g_dl: f64,
    (temperature_c, ionic_strength): (f64, f64),
) -> Blend<'k> {
    let water = glycerol_water(0.0, temperature_c);
    let around = Surroundings {
        temperature_c,
        solvent_pa_s: water,
        water_pa_s: water,
        ionic_strength,
        added_salt: 0.0,
        dissociated: 0.6,
    };
    let window = family.evidence.shear_rate;
    let one =
        Dosed { law: *law, knowledge, dose_g_dl, around, own: 0.0, beyond: family.model_spread, window };
    Blend {
        solvent_pa_s: water,
        solvent_spread: 0.01,
        thickeners: vec![one],
        synergies: Vec::new(),
        drops: 1.0,
        drops_spread: 0.0,
        taught: None,
    }
}

#[test]
fn a_family_that_learned_one_value_predicts_other_doses_within_its_band() {
    let facts = levigate_facts::shipped().unwrap();
    let mut wrong = Vec::new();
    for case in cases().unwrap().series {
        let family = &facts.flow.families[&case.family];
        let Learned { percent, shear_rate, mpa_s } = case.learn;
        let record = Thickener {
            material: case.name.clone(),
            family: case.family.clone(),
            strength: None,
            critical: None,
            thinning: None,
            dose_exponent: None,
            datasheet: vec![Datasheet {
                percent,
                dry: true,
                mpa_s: [mpa_s, mpa_s],
                temperature_c: case.temperature_c,
                spindle: None,
                speed_rpm: None,
                shear_rate: Some(shear_rate),
                ionic_strength: Some(case.ionic_strength),
                source: "published".to_owned(),
            }],
            gels_above_c: None,
        };
        let known = learn(family, &record, 1.0, |_| None).unwrap();
        for curve in &case.curves {
            let prediction =
                alone(&known, family, curve.percent, (case.temperature_c, case.ionic_strength)).predict();
            let by_law = curve.law.iter().flat_map(|law| {
                curve.rates.iter().map(|rate| [*rate, 1e3 * law.consistency * rate.powf(law.index - 1.0)])
            });
            for [rate, theirs] in by_law.chain(curve.points.iter().copied()) {
                let [low, ours, high] = prediction.viscosity_within(rate).map(|one| one * 1e3);
                let held = (low..=high).contains(&theirs);
                let told =
                    case.misses.iter().find(|miss| miss.percent == curve.percent && miss.shear_rate == rate);
                println!(
                    "{}: {} % {rate} 1/s {theirs:.1}, ours {ours:.1} ({low:.1} to {high:.1})",
                    case.family, curve.percent
                );
                match (held, told) {
                    (false, None) => wrong.push(format!(
                        "{}: {} % at {rate} 1/s is {theirs}, ours {ours:.1} ({low:.1} to {high:.1})",
                        case.name, curve.percent
                    )),
                    (true, Some(miss)) => wrong.push(format!("{}: agrees now: {}", case.name, miss.because)),
                    _ => {}
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn a_datasheet_is_given_back_by_the_law_that_learned_it() {
    let facts = levigate_facts::shipped().unwrap();
    for understood in facts.flow.thickeners.values() {
        let known = (understood.law, understood.knowledge.clone());
        for sheet in &understood.record.datasheet {
            let material = &facts.library.materials[&understood.record.material];
            let active =
                material.constituents.iter().find(|part| Some(&part.substance) == material.active.as_ref());
            let share = if sheet.dry { 1.0 } else { active.unwrap().typical / 100.0 };
            let salt = sheet.ionic_strength.unwrap_or(understood.law.reference.ionic_strength);
            let blend = alone(&known, &understood.family, sheet.percent * share, (sheet.temperature_c, salt));
            let spindle = sheet.spindle.as_ref().map(|key| &facts.instruments.spindles[key]);
            let shown = dial_viscosity(&blend.predict(), spindle, sheet.speed_rpm.unwrap()) * 1e3;
            let [low, high] = sheet.mpa_s;
            assert!((0.97 * low..=1.03 * high).contains(&shown), "{}: {shown}", understood.record.material);
        }
    }
}

#[test]
fn a_gel_in_glycerol_flows_as_its_solvent_allows() {
    // Carbomer in glycerol, fits of open data: shear rates at which the stress is twice the yield stress by the three-component model,
    // 20, 30 and 40 C, 1/s (Caggioni and others 2020). The law lets the rate follow the solvent in full; it follows in part.
    let published = [(20.0, 0.005_65), (30.0, 0.009_57), (40.0, 0.015_64)];
    let facts = levigate_facts::shipped().unwrap();
    let carbomer = &facts.flow.thickeners["carbomer"];
    for (celsius, theirs) in published {
        let glycerol = glycerol_water(1.0, celsius);
        let around = Surroundings {
            temperature_c: celsius,
            solvent_pa_s: glycerol,
            water_pa_s: glycerol_water(0.0, celsius),
            ionic_strength: 0.01,
            added_salt: 0.0,
            dissociated: 0.6,
        };
        let Response::Yielding { critical_rate, .. } =
            carbomer.law.response(&carbomer.knowledge.theta, 0.5, &around)
        else {
            panic!("no gel");
        };
        println!("{celsius} C: {theirs}, ours {critical_rate:.5}");
        assert!(
            (0.4..=2.5).contains(&(critical_rate / theirs)),
            "{celsius} C: {theirs}, ours {critical_rate}"
        );
    }
}

#[test]
fn the_plateau_grows_with_the_dose_as_published() {
    for case in cases().unwrap().plateau {
        let viscosity = |intrinsic: f64, dose: f64| {
            case.solvent_mpa_s * (1.0 + case.growth.specific(intrinsic * dose, dose))
        };
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

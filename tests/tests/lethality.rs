//! What a hold does to microbes, against another program: `cross/lethality.py` and what it printed.

use levigate_process::heat::TemperatureRecord;
use levigate_process::heat::lethality::{
    Asked, DValue, HeatResistance, Kind, LethalUnit, Medium, Resistance, lethality,
};
use proptest::prelude::*;
use serde::Deserialize;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Cases {
    case: Vec<Case>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Case {
    name: String,
    points: Vec<(f64, f64)>,
    #[serde(default)]
    d: Vec<(f64, f64)>,
    reference_c: Option<f64>,
    z_k: f64,
    value: f64,
    printed: Option<f64>,
}

fn record(points: &[(f64, f64)]) -> TemperatureRecord {
    let seconds = points.iter().map(|(minutes, temperature)| (60.0 * minutes, *temperature)).collect();
    TemperatureRecord::new(seconds).expect("a record")
}

fn organism(d: &[(f64, f64)], z_k: [f64; 2]) -> HeatResistance {
    let d = d.iter().map(|(at_c, min)| DValue { at_c: *at_c, least_min: *min, most_min: *min }).collect();
    HeatResistance {
        key: "case".to_owned(),
        organism: "case".to_owned(),
        kind: Kind::Vegetative,
        medium: "water".to_owned(),
        d,
        z_k,
        below_ph: None,
        source: "case".to_owned(),
        z_source: "case".to_owned(),
        note: None,
    }
}

fn unit(reference_c: f64, z_k: f64) -> LethalUnit {
    let word = || "case".to_owned();
    LethalUnit { key: word(), name: word(), reference_c, z_k, used_for: word(), source: word() }
}

#[test]
fn records_are_integrated_as_another_program_does() {
    let path = format!("{}/cross/lethality.toml", env!("CARGO_MANIFEST_DIR"));
    let cases: Cases =
        toml::from_str(&std::fs::read_to_string(path).expect("the case file is there")).expect("it is TOML");
    assert_eq!(cases.case.len(), 13);
    for case in cases.case {
        let record = record(&case.points);
        let ours = match case.reference_c {
            Some(reference) => unit(reference, case.z_k).over(&record),
            None => organism(&case.d, [case.z_k; 2]).curve(Resistance::Middle).reduction(&record).log10,
        };
        assert!((ours / case.value - 1.0).abs() < 1e-9, "{}: {ours} against {}", case.name, case.value);
        if let Some(printed) = case.printed {
            // Within half of the last digit printed.
            let digits =
                printed.to_string().split_once('.').map_or(0, |(_, after)| after.trim_end_matches('0').len());
            let half = 0.5 * 10_f64.powi(-i32::try_from(digits).expect("few digits"));
            assert!((ours - printed).abs() <= half * 1.001, "{}: {ours} against {printed}", case.name);
        }
    }
}

#[test]
fn what_lies_outside_the_measured_temperatures_is_told_apart() {
    let curve = organism(&[(55.0, 10.0), (60.0, 1.0)], [5.0, 5.0]).curve(Resistance::Middle);
    let inside = curve.reduction(&record(&[(0.0, 55.0), (1.0, 60.0), (2.0, 60.0)]));
    assert_eq!((inside.below, inside.above), (0.0, 0.0));
    let above = curve.reduction(&record(&[(0.0, 70.0), (1.0, 70.0)]));
    assert_eq!(above.above, above.log10);
    let below = curve.reduction(&record(&[(0.0, 40.0), (1.0, 50.0)]));
    assert_eq!(below.below, below.log10);
}

#[test]
fn an_upper_end_beyond_what_is_told_is_left_open() {
    // D 1.3 to 5.1 min at 57.2 C held there for 25 min: 4.9 to 19.2, 9.7 in the middle.
    let mut coli = organism(&[(57.2, 1.3)], [5.3; 2]);
    coli.d[0].most_min = 5.1;
    let asked = Asked {
        record: record(&[(0.0, 57.2), (25.0, 57.2)]),
        medium: Medium::Water,
        water_activity: None,
        ph: None,
    };
    let found = lethality(&asked, &[&coli], &[]).organisms.remove(0).log_reduction;
    assert!((found.value.expect("told") - 25.0 / (1.3_f64 * 5.1).sqrt()).abs() < 1e-9);
    assert!((found.low.expect("told") - 25.0 / 5.1).abs() < 1e-9);
    assert_eq!(found.high, None);
    assert!(found.notes.iter().any(|note| note.code == "capped"));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn hotter_and_longer_never_does_less_and_a_cut_changes_nothing(
        from in 20.0..70.0_f64, to in 40.0..95.0_f64, minutes in 1.0..120.0_f64, more in 0.1..20.0_f64, cut in 0.05..0.95_f64,
        z in 4.0..12.0_f64,
    ) {
        let organism = organism(&[(57.0, 3.0), (63.0, 0.4)], [z, z + 2.0]);
        let of = |points: &[(f64, f64)]| organism.curve(Resistance::Middle).reduction(&record(points)).log10;
        let plain = of(&[(0.0, from), (minutes, to)]);
        prop_assert!(of(&[(0.0, from + more), (minutes, to + more)]) > plain);
        prop_assert!(of(&[(0.0, from), (minutes, to), (minutes + more, to)]) > plain);
        let halved = of(&[(0.0, from), (cut * minutes, from + cut * (to - from)), (minutes, to)]);
        prop_assert!((halved / plain - 1.0).abs() < 1e-9);
        // The most resistant never dies more than the least resistant.
        let [most, least] = [Resistance::Most, Resistance::Least]
            .map(|of| organism.curve(of).reduction(&record(&[(0.0, from), (minutes, to)])).log10);
        prop_assert!(most <= plain * (1.0 + 1e-12) && plain <= least * (1.0 + 1e-12));
    }
}

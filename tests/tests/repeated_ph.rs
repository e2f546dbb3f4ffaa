//! Repeated settled readings of one pH, against another program.

use levigate_process::repeated::{Stood, repeated};
use serde::Deserialize;
use std::path::Path;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Cases {
    repeatability: f64,
    digit: f64,
    case: Vec<Case>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Case {
    name: String,
    readings: Vec<[f64; 2]>,
    ph: f64,
    uncertainty: f64,
    count: usize,
    odd: Vec<usize>,
    drift: Option<f64>,
}

#[test]
fn they_say_together_what_another_program_says() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("cross/repeated_ph.toml");
    let cases: Cases = toml::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    assert!(cases.case.len() >= 8);
    for case in &cases.case {
        let readings: Vec<Stood> =
            case.readings.iter().map(|[time_s, ph]| Stood { time_s: *time_s, ph: *ph }).collect();
        let ours = repeated(&readings, cases.repeatability, cases.digit).unwrap();
        let near = |ours: f64, theirs: f64, what: &str| {
            assert!((ours - theirs).abs() <= 2e-9, "{}: {what} {ours} {theirs}", case.name);
        };
        near(ours.ph, case.ph, "pH");
        near(ours.uncertainty, case.uncertainty, "uncertainty");
        assert_eq!((ours.count, &ours.odd), (case.count, &case.odd), "{}", case.name);
        assert_eq!(ours.drift.is_some(), case.drift.is_some(), "{}", case.name);
        near(ours.drift.unwrap_or(0.0), case.drift.unwrap_or(0.0), "drift");
    }
    assert!(repeated(&[], 0.01, 0.01).is_none());
    assert!(repeated(&[Stood { time_s: 0.0, ph: f64::NAN }], 0.01, 0.01).is_none());
}

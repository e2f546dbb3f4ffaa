//! What measurements teach, against NIST's reference sets (a belief so wide that it says nothing) and fits of another program.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use levigate_measure::belief::{Belief, BeliefError, Measurement};
use proptest::prelude::*;
use serde::Deserialize;
use std::path::Path;

fn read<T: serde::de::DeserializeOwned>(file: &str) -> T {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(file);
    toml::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

#[derive(Deserialize)]
struct Sets {
    set: Vec<Set>,
}

#[derive(Deserialize)]
struct Set {
    name: String,
    start: [Vec<f64>; 2],
    certified: Vec<f64>,
    certified_deviation: Vec<f64>,
    sum_of_squares: f64,
    data: Vec<Vec<f64>>,
}

#[test]
fn a_belief_that_says_nothing_leaves_the_certified_fit() {
    let sets: Sets = read("published/nist_strd.toml");
    let mut seen = 0;
    for set in &sets.set {
        let model = |p: &[f64], x: f64| match set.name.as_str() {
            "Misra1a" => Some(p[0] * (1.0 - (-p[1] * x).exp())),
            "DanWood" => Some(p[0] * x.powf(p[1])),
            "Chwirut2" => Some((-p[0] * x).exp() / (p[1] + p[2] * x)),
            "Rat42" => Some(p[0] / (1.0 + (p[1] - p[2] * x).exp())),
            _ => None,
        };
        if model(&set.certified, 1.0).is_none() {
            continue;
        }
        seen += 1;
        // A thousand certified deviations wide: the belief moves the fit by a millionth of its distance.
        let wide: Vec<f64> = set.certified_deviation.iter().map(|deviation| 1e3 * deviation).collect();
        let belief = Belief::independent(set.start[1].clone(), &wide).unwrap();
        let free = set.data.len() - set.certified.len();
        let deviation = (set.sum_of_squares / free as f64).sqrt();
        let measurements: Vec<Measurement> =
            set.data.iter().map(|row| Measurement { value: row[0], deviation }).collect();
        let learned = belief
            .learn(&measurements, |p, out| {
                for (row, out) in set.data.iter().zip(out) {
                    *out = model(p, row[1]).unwrap();
                }
                true
            })
            .unwrap();
        for (j, certified) in set.certified.iter().enumerate() {
            let deviation = set.certified_deviation[j];
            let away = (learned.belief.mean()[j] - certified) / deviation;
            let start_away = (set.start[1][j] - certified).abs() / deviation;
            // The pull of the belief is a millionth of the distance, more where the parameters hang together.
            assert!(away.abs() < 2e-5 * start_away.max(100.0), "{}: {away} deviations away", set.name);
            let ratio = learned.belief.deviation(j) / deviation;
            assert!((ratio - 1.0).abs() < 1e-4, "{}: deviation {ratio} times the certified one", set.name);
            assert!(learned.share[j] > 0.999);
        }
    }
    assert_eq!(seen, 4);
}

#[derive(Deserialize)]
struct Cross {
    viscosity_of_solvent_pa_s: f64,
    case: Vec<Case>,
}

#[derive(Deserialize)]
struct Case {
    name: String,
    mean: Vec<f64>,
    covariance: Vec<f64>,
    rates: Vec<f64>,
    ln_viscosity: Vec<f64>,
    deviation: Vec<f64>,
    mean_after: Vec<f64>,
    covariance_after: Vec<f64>,
    surprise: Vec<f64>,
}

#[test]
fn curved_predictions_end_where_another_program_ends() {
    let cross: Cross = read("cross/belief.toml");
    assert_eq!(cross.case.len(), 3);
    for case in &cross.case {
        let belief = Belief::new(case.mean.clone(), case.covariance.clone()).unwrap();
        let measurements: Vec<Measurement> = case
            .ln_viscosity
            .iter()
            .zip(&case.deviation)
            .map(|(value, deviation)| Measurement { value: *value, deviation: *deviation })
            .collect();
        let learned = belief
            .learn(&measurements, |p, out| {
                for (rate, out) in case.rates.iter().zip(out) {
                    let (eta0, half) = (p[0].exp(), p[1].exp());
                    let solvent = cross.viscosity_of_solvent_pa_s;
                    *out = (solvent + (eta0 - solvent) / (1.0 + (eta0 * rate / half).powf(p[2]))).ln();
                }
                true
            })
            .unwrap();
        for i in 0..3 {
            let away = (learned.belief.mean()[i] - case.mean_after[i]).abs();
            assert!(away < 1e-6 * learned.belief.deviation(i), "{}: {away}", case.name);
            for j in 0..3 {
                let scale = learned.belief.deviation(i) * learned.belief.deviation(j);
                let away = (learned.belief.covariance(i, j) - case.covariance_after[3 * i + j]).abs() / scale;
                assert!(away < 1e-6, "{}: covariance {i} {j} off by {away}", case.name);
            }
        }
        for (lesson, surprise) in learned.lessons.iter().zip(&case.surprise) {
            assert!((lesson.surprise - surprise).abs() < 1e-6, "{}: {}", case.name, lesson.surprise);
            assert!(lesson.deviation_after < lesson.deviation_before);
        }
        let contradicts = learned.lessons.iter().any(|lesson| lesson.contradicts());
        assert_eq!(contradicts, case.surprise.iter().any(|surprise| surprise.abs() > 2.576), "{}", case.name);
    }
}

#[test]
fn what_cannot_be_learned_from_is_said() {
    let belief = Belief::independent(vec![1.0], &[1.0]).unwrap();
    let seen = |value, deviation| [Measurement { value, deviation }];
    let same = |p: &[f64], out: &mut [f64]| {
        out[0] = p[0];
        true
    };
    assert_eq!(belief.learn(&seen(1.0, 0.0), same), Err(BeliefError::NoMeasurement { at: 0 }));
    assert_eq!(belief.learn(&seen(f64::NAN, 1.0), same), Err(BeliefError::NoMeasurement { at: 0 }));
    assert_eq!(belief.learn(&seen(1.0, 1.0), |_, _| false), Err(BeliefError::NoPrediction));
    assert!(Belief::new(vec![0.0, 0.0], vec![1.0, 2.0, 2.0, 1.0]).is_err());
    assert!(Belief::independent(vec![0.0], &[-1.0]).is_err());
}

#[test]
fn what_is_not_spoken_of_follows_by_what_it_has_to_do_with_the_rest() {
    // Three numbers that hang together; a curved measurement of the first and the last. Learning about all of them at once is the reference.
    let covariance = vec![0.5, 0.2, -0.1, 0.2, 0.3, 0.05, -0.1, 0.05, 0.2];
    let belief = Belief::new(vec![0.4, -0.3, 0.1], covariance).unwrap();
    let seen = [Measurement { value: 1.1, deviation: 0.2 }, Measurement { value: -0.2, deviation: 0.1 }];
    let curved = |first: f64, last: f64, out: &mut [f64]| {
        out[0] = (0.7 * first).exp() + last;
        out[1] = first * last - last;
        true
    };
    let whole = belief.learn(&seen, |p, out| curved(p[0], p[2], out)).unwrap();
    let part = belief.learn_about(&[2, 0], &seen, |p, out| curved(p[1], p[0], out)).unwrap();
    for i in 0..3 {
        assert!((whole.belief.mean()[i] - part.belief.mean()[i]).abs() < 1e-8);
        for j in 0..3 {
            assert!((whole.belief.covariance(i, j) - part.belief.covariance(i, j)).abs() < 1e-8);
        }
    }
    let columns = part.belief.columns();
    let made: f64 = columns.iter().map(|column| column[1] * column[2]).sum();
    assert!((made - part.belief.covariance(1, 2)).abs() < 1e-12);
}

proptest! {
    /// Straight predictions: in one go or one after the other, in any order, the end is the same.
    #[test]
    fn the_order_of_lessons_does_not_matter(
        seen in prop::collection::vec((-3.0..3.0f64, 0.05..2.0f64, -2.0..2.0f64, -2.0..2.0f64), 1..6),
        held in prop::bool::ANY,
    ) {
        let belief = Belief::independent(vec![0.3, -0.2], &[1.5, if held { 0.0 } else { 0.4 }]).unwrap();
        let learn = |belief: &Belief, rows: &[(f64, f64, f64, f64)]| {
            let measurements: Vec<Measurement> =
                rows.iter().map(|(value, deviation, _, _)| Measurement { value: *value, deviation: *deviation }).collect();
            belief
                .learn(&measurements, |p, out| {
                    for ((_, _, a, b), out) in rows.iter().zip(out) {
                        *out = a * p[0] + b * p[1];
                    }
                    true
                })
                .unwrap()
                .belief
        };
        let at_once = learn(&belief, &seen);
        let one_by_one = seen.iter().rev().fold(belief.clone(), |belief, row| learn(&belief, &[*row]));
        for i in 0..2 {
            prop_assert!((at_once.mean()[i] - one_by_one.mean()[i]).abs() < 1e-7);
            prop_assert!((at_once.deviation(i) - one_by_one.deviation(i)).abs() < 1e-7);
            prop_assert!(at_once.deviation(i) <= belief.deviation(i) * (1.0 + 1e-12));
        }
        if held {
            prop_assert_eq!(at_once.mean()[1], -0.2);
        }
    }
}

#[test]
fn the_precision_is_the_inverse_of_the_covariance() {
    let covariance = [4.0, 1.2, -0.6, 1.2, 2.0, 0.3, -0.6, 0.3, 1.0];
    let precision = Belief::new(vec![0.0; 3], covariance.to_vec()).unwrap().precision();
    for i in 0..3 {
        for j in 0..3 {
            let product: f64 = (0..3).map(|k| covariance[3 * i + k] * precision[3 * k + j]).sum();
            assert!((product - f64::from(u8::from(i == j))).abs() < 1e-12, "{product}");
        }
    }
}

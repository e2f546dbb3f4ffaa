//! Nonlinear least squares against the reference sets of NIST, from both published starts.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use levigate_measure::least_squares::{Fit, Room, Stop, least_squares};
use serde::Deserialize;
use std::f64::consts::PI;
use std::path::Path;

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

/// Digits that two numbers share, as NIST counts them.
fn digits(found: f64, certified: f64) -> f64 {
    if found == certified { 11.0 } else { (-((found - certified) / certified).abs().log10()).min(11.0) }
}

/// Residual of a set's model at a row, and its derivatives by the chain rule of small numbers: central differences.
fn fit<const P: usize>(set: &Set, start: &[f64], model: impl Fn(&[f64; P], &[f64]) -> f64) -> Fit<P> {
    let start: [f64; P] = start.try_into().unwrap();
    let unbounded = [[f64::NEG_INFINITY, f64::INFINITY]; P];
    let stop = Stop { most: 5000, ..Stop::default() };
    least_squares(set.data.len(), start, &unbounded, &stop, &mut Room::new(), |p, residuals, rows| {
        for ((row, residual), slopes) in set.data.iter().zip(residuals.iter_mut()).zip(rows.iter_mut()) {
            let observed = if set.name == "Nelson" { row[0].ln() } else { row[0] };
            *residual = model(p, &row[1..]) - observed;
            for (j, slope) in slopes.iter_mut().enumerate() {
                let step = 6e-6 * p[j].abs().max(1e-12);
                let (mut low, mut high) = (*p, *p);
                low[j] -= step;
                high[j] += step;
                *slope = (model(&high, &row[1..]) - model(&low, &row[1..])) / (high[j] - low[j]);
            }
        }
        residuals.iter().all(|value| value.is_finite())
    })
    .unwrap_or_else(|error| panic!("{}: {error}", set.name))
}

fn hold<const P: usize>(set: &Set, model: impl Fn(&[f64; P], &[f64]) -> f64, misses: &mut Vec<String>) {
    for (number, start) in set.start.iter().enumerate() {
        let fit = fit::<P>(set, start, &model);
        let parameters =
            fit.parameters.iter().zip(&set.certified).map(|(ours, theirs)| digits(*ours, *theirs));
        let parameters = parameters.fold(f64::INFINITY, f64::min);
        // The deviations of a set without residual (Lanczos1) and its sum are rounding.
        let rounding = set.sum_of_squares < 1e-20;
        let deviations = fit.covariance().map_or(0.0, |covariance| {
            (0..P)
                .map(|j| digits(covariance[j][j].sqrt(), set.certified_deviation[j]))
                .fold(f64::INFINITY, f64::min)
        });
        let sum = digits(fit.sum, set.sum_of_squares);
        if parameters < 6.0 || (!rounding && (deviations < 4.0 || sum < 6.0)) {
            misses.push(format!(
                "{} from start {}: {parameters:.1}, {deviations:.1}, {sum:.1}",
                set.name,
                number + 1
            ));
        }
    }
}

fn gauss(p: &[f64; 8], x: &[f64]) -> f64 {
    let hill = |height: f64, centre: f64, width: f64| height * (-((x[0] - centre) / width).powi(2)).exp();
    p[0] * (-p[1] * x[0]).exp() + hill(p[2], p[3], p[4]) + hill(p[5], p[6], p[7])
}

fn exponentials(p: &[f64; 6], x: &[f64]) -> f64 {
    (0..3).map(|k| p[2 * k] * (-p[2 * k + 1] * x[0]).exp()).sum()
}

fn wave(x: f64, cosine: f64, sine: f64, period: f64) -> f64 {
    cosine * (2.0 * PI * x / period).cos() + sine * (2.0 * PI * x / period).sin()
}

#[test]
fn the_nonlinear_reference_sets_come_out_from_both_starts() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("published/nist_strd.toml");
    let sets: Sets = toml::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    assert_eq!(sets.set.len(), 23);
    let mut misses = Vec::new();
    for set in &sets.set {
        let m = &mut misses;
        match set.name.as_str() {
            "Bennett5" => hold::<3>(set, |p, x| p[0] * (p[1] + x[0]).powf(-1.0 / p[2]), m),
            "BoxBOD" | "Misra1a" => hold::<2>(set, |p, x| p[0] * (1.0 - (-p[1] * x[0]).exp()), m),
            "Chwirut1" | "Chwirut2" => hold::<3>(set, |p, x| (-p[0] * x[0]).exp() / (p[1] + p[2] * x[0]), m),
            "DanWood" => hold::<2>(set, |p, x| p[0] * x[0].powf(p[1]), m),
            "ENSO" => hold::<9>(
                set,
                |p, x| {
                    p[0] + wave(x[0], p[1], p[2], 12.0)
                        + wave(x[0], p[4], p[5], p[3])
                        + wave(x[0], p[7], p[8], p[6])
                },
                m,
            ),
            "Gauss1" | "Gauss2" | "Gauss3" => hold::<8>(set, gauss, m),
            "Hahn1" => hold::<7>(
                set,
                |p, x| {
                    let x = x[0];
                    (p[0] + x * (p[1] + x * (p[2] + x * p[3]))) / (1.0 + x * (p[4] + x * (p[5] + x * p[6])))
                },
                m,
            ),
            "Kirby2" => hold::<5>(
                set,
                |p, x| (p[0] + x[0] * (p[1] + x[0] * p[2])) / (1.0 + x[0] * (p[3] + x[0] * p[4])),
                m,
            ),
            "Lanczos1" | "Lanczos2" | "Lanczos3" => hold::<6>(set, exponentials, m),
            "MGH09" => hold::<4>(
                set,
                |p, x| p[0] * (x[0] * x[0] + x[0] * p[1]) / (x[0] * x[0] + x[0] * p[2] + p[3]),
                m,
            ),
            "MGH17" => {
                hold::<5>(set, |p, x| p[0] + p[1] * (-x[0] * p[3]).exp() + p[2] * (-x[0] * p[4]).exp(), m)
            }
            "Misra1b" => hold::<2>(set, |p, x| p[0] * (1.0 - (1.0 + p[1] * x[0] / 2.0).powi(-2)), m),
            "Misra1c" => hold::<2>(set, |p, x| p[0] * (1.0 - (1.0 + 2.0 * p[1] * x[0]).powf(-0.5)), m),
            "Misra1d" => hold::<2>(set, |p, x| p[0] * p[1] * x[0] / (1.0 + p[1] * x[0]), m),
            "Nelson" => hold::<3>(set, |p, x| p[0] - p[1] * x[0] * (-p[2] * x[1]).exp(), m),
            "Rat42" => hold::<3>(set, |p, x| p[0] / (1.0 + (p[1] - p[2] * x[0]).exp()), m),
            "Roszman1" => {
                hold::<4>(set, |p, x| p[0] - p[1] * x[0] - (p[2] / (x[0] - p[3])).atan() / PI, m);
            }
            other => panic!("no model for {other}"),
        }
    }
    assert!(misses.is_empty(), "{}", misses.join("\n"));
}

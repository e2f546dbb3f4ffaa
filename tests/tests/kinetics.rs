//! Loss over time at several temperatures against textbook answers and against another program's joint fits.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use levigate_measure::distribution::{Confidence, Sides};
use levigate_measure::regression::Regression;
use levigate_process::stability::kinetics::{
    KineticsError, RateAt, acceleration, energy_of, mean_kinetic_temperature_c, through_rates, two_step,
};
use levigate_process::stability::{Kinetics, Loss, Order};
use proptest::prelude::*;
use serde::Deserialize;
use std::path::Path;

/// One thermochemical kilocalorie, J.
const KCAL: f64 = 4184.0;

fn read<T: serde::de::DeserializeOwned>(file: &str) -> T {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(file);
    toml::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

#[derive(Deserialize)]
struct Published {
    two_points: Vec<TwoPoints>,
    series: Vec<Series>,
    two_temperatures: Vec<TwoTemperatures>,
    energy_of_two: Vec<EnergyOfTwo>,
    through_rates: Vec<ThroughRates>,
    ten_kelvin: Vec<TenKelvin>,
    mean_temperature: Vec<MeanTemperature>,
}

#[derive(Deserialize)]
struct TwoPoints {
    order: Order,
    start: f64,
    end: f64,
    time: f64,
    rate: f64,
    near: f64,
    half: f64,
}

#[derive(Deserialize)]
struct Series {
    name: String,
    points: Vec<(f64, f64)>,
    rate: f64,
    near: f64,
}

#[derive(Deserialize)]
struct TwoTemperatures {
    energy_j_mol: f64,
    at_k: f64,
    over_k: f64,
    rate_over: f64,
    rate_at: f64,
    near: f64,
}

#[derive(Deserialize)]
struct EnergyOfTwo {
    at_c: f64,
    over_c: f64,
    factor: f64,
    energy_kcal_mol: f64,
    near: f64,
}

#[derive(Deserialize)]
struct ThroughRates {
    name: String,
    rates: Vec<(f64, f64)>,
    energy_kj_mol: f64,
    near: f64,
    printed: f64,
    near_printed: f64,
    factor: Option<f64>,
    near_factor: Option<f64>,
}

#[derive(Deserialize)]
struct TenKelvin {
    energies_kcal_mol: Vec<f64>,
    factors: Vec<f64>,
    near: f64,
}

#[derive(Deserialize)]
struct MeanTemperature {
    energy_j_mol: f64,
    temperatures_c: Vec<f64>,
    mean_c: f64,
    near: f64,
}

#[test]
fn textbook_answers() {
    let cases: Published = read("published/kinetics.toml");
    for one in &cases.two_points {
        let rate = one.order.rate(one.start, one.end, one.time);
        assert!((rate - one.rate).abs() < one.near, "{rate}");
        assert!((one.order.time(one.start, one.start / 2.0, rate) - one.half).abs() < 0.05);
    }
    for one in &cases.series {
        let rows: Vec<[f64; 2]> = one.points.iter().map(|(t, _)| [1.0, -t]).collect();
        let logs: Vec<f64> = one.points.iter().map(|(_, c)| c.ln()).collect();
        let rate = Regression::fit(&rows, &logs).unwrap().coefficients[1];
        assert!((rate - one.rate).abs() < one.near, "{}: {rate}", one.name);
    }
    for one in &cases.two_temperatures {
        let factor = acceleration(one.energy_j_mol, one.at_k - 273.15, one.over_k - 273.15);
        assert!((one.rate_over * factor - one.rate_at).abs() < one.near);
    }
    for one in &cases.energy_of_two {
        let energy = energy_of(one.factor, one.at_c, one.over_c) / KCAL;
        assert!((energy - one.energy_kcal_mol).abs() < one.near, "{energy}");
    }
    for one in &cases.through_rates {
        let rates =
            one.rates.iter().map(|(k, rate)| RateAt { temperature_c: k - 273.15, rate: *rate, readings: 1 });
        let line = through_rates(rates.collect()).unwrap();
        let energy = line.energy_j_mol / 1e3;
        assert!((energy - one.energy_kj_mol).abs() < one.near, "{}: {energy}", one.name);
        assert!((energy - one.printed).abs() < one.near_printed, "{}: {energy}", one.name);
        if let (Some(factor), Some(near)) = (one.factor, one.near_factor) {
            assert!((line.ln_factor.exp() - factor).abs() < near, "{}", line.ln_factor.exp());
        }
    }
    for one in &cases.ten_kelvin {
        for (energy, factor) in one.energies_kcal_mol.iter().zip(&one.factors) {
            assert!((acceleration(energy * KCAL, 30.0, 20.0) - factor).abs() < one.near);
        }
    }
    for one in &cases.mean_temperature {
        let mean = mean_kinetic_temperature_c(&one.temperatures_c, one.energy_j_mol).unwrap();
        assert!((mean - one.mean_c).abs() < one.near, "{mean}");
    }
    assert_eq!(mean_kinetic_temperature_c(&[], 83144.0), None);
    assert_eq!(mean_kinetic_temperature_c(&[20.0, f64::NAN], 83144.0), None);
}

#[derive(Deserialize)]
struct Fits {
    fit: Vec<Fit>,
}

#[derive(Deserialize)]
struct Fit {
    name: String,
    order: Order,
    readings: Vec<(f64, f64, f64)>,
    start: f64,
    start_error: f64,
    rate_25: f64,
    rate_25_low: f64,
    rate_25_high: f64,
    energy: f64,
    energy_error: f64,
    scatter: f64,
    rates: Vec<f64>,
    bend: Option<[f64; 2]>,
    two_step_rates: Vec<f64>,
    two_step_energy: f64,
}

fn losses(readings: &[(f64, f64, f64)]) -> Vec<Loss> {
    readings
        .iter()
        .map(|(temperature_c, time, content)| Loss {
            temperature_c: *temperature_c,
            time: *time,
            content: *content,
        })
        .collect()
}

#[test]
fn joint_fits_of_another_program() {
    let cases: Fits = read("cross/kinetics.toml");
    assert_eq!(cases.fit.len(), 6);
    let confidence = Confidence::new(0.95, Sides::Two).unwrap();
    for case in &cases.fit {
        let readings = losses(&case.readings);
        let ours = Kinetics::fit(case.order, &readings).unwrap();
        let near = |what: &str, ours: f64, theirs: f64| {
            assert!(
                (ours / theirs - 1.0).abs() < 2e-6,
                "{} {:?} {what}: {ours} {theirs}",
                case.name,
                case.order
            );
        };
        near("start", ours.start, case.start);
        near("energy", ours.energy_j_mol, case.energy);
        near("rate", ours.rate(25.0), case.rate_25);
        near("scatter", ours.scatter, case.scatter);
        near("error of the start", ours.covariance[0][0].sqrt(), case.start_error);
        near("error of the energy", ours.covariance[2][2].sqrt(), case.energy_error);
        let (low, high) = ours.rate_within(25.0, &confidence);
        near("low", low, case.rate_25_low);
        near("high", high, case.rate_25_high);
        for (ours, theirs) in ours.rates.iter().zip(&case.rates) {
            near("rate of its own", ours.rate, *theirs);
        }
        assert_eq!(ours.bend.is_some(), case.bend.is_some(), "{}", case.name);
        if let (Some(ours), Some([ratio, beyond])) = (ours.bend, case.bend) {
            near("bend", ours.ratio, ratio);
            near("bend beyond", ours.beyond, beyond);
        }
        let steps = two_step(case.order, &readings).unwrap();
        near("two steps", steps.energy_j_mol, case.two_step_energy);
        for (ours, theirs) in steps.rates.iter().zip(&case.two_step_rates) {
            near("rate by steps", ours.rate, *theirs);
        }
        assert_eq!(steps.energy_error.is_some(), case.bend.is_some());
    }
}

#[test]
fn what_the_readings_do_not_hold_is_refused_in_words() {
    let some = |list: &[(f64, f64, f64)]| Kinetics::fit(Order::First, &losses(list)).unwrap_err();
    let one = some(&[(25.0, 0.0, 100.0), (25.0, 4.0, 99.0), (25.0, 8.0, 98.0), (25.0, 12.0, 97.5)]);
    assert_eq!(one, KineticsError::OneTemperature { temperature_c: 25.0 });
    assert!(one.to_string().contains("how the rate changes with temperature is not in them"));
    let rising = some(&[
        (25.0, 0.0, 100.0),
        (25.0, 4.0, 101.0),
        (25.0, 8.0, 102.0),
        (40.0, 0.0, 100.0),
        (40.0, 4.0, 95.0),
    ]);
    assert!(
        matches!(rising, KineticsError::NoLoss { temperature_c: 25.0, rate } if rate < 0.0),
        "{rising:?}"
    );
    let start = some(&[(25.0, 0.0, 100.0), (25.0, 4.0, 99.0), (25.0, 8.0, 98.0), (40.0, 0.0, 100.0)]);
    assert_eq!(start, KineticsError::StartOnly { temperature_c: 40.0 });
    let negative = some(&[(25.0, 0.0, -1.0), (25.0, 4.0, 99.0), (40.0, 0.0, 98.0), (40.0, 3.0, 90.0)]);
    assert_eq!(negative, KineticsError::Reading { place: 1, what: "a content of", value: -1.0 });
}

proptest! {
    /// What was made from the law without noise is found again, and the time to a level is when the content is at it.
    #[test]
    fn the_law_is_found_again(start in 50.0..150.0f64, ln_rate in -8.0..-4.5f64, energy in 40_000.0..120_000.0f64, second in 32.0..50.0f64) {
        let confidence = Confidence::new(0.95, Sides::Two).unwrap();
        for order in [Order::Zero, Order::First] {
            let scale = if order == Order::Zero { 100.0 } else { 1.0 };
            let rate = |c: f64| scale * ln_rate.exp() * acceleration(energy, c, 25.0);
            // Times at which a tenth at the most is lost.
            let readings: Vec<Loss> = [25.0, second].iter().flat_map(|c| (0..5).map(move |step| (*c, f64::from(step))))
                .map(|(c, step)| {
                    let time = step * 0.025 * if order == Order::Zero { start } else { 1.0 } / rate(c);
                    Loss { temperature_c: c, time, content: order.content(start, rate(c), time) }
                }).collect();
            let found = Kinetics::fit(order, &readings).unwrap();
            prop_assert!((found.energy_j_mol / energy - 1.0).abs() < 1e-6, "{} {energy}", found.energy_j_mol);
            prop_assert!((found.rate(30.0) / rate(30.0) - 1.0).abs() < 1e-6);
            let (time, low, high) = found.time_to(0.9 * start, 30.0, &confidence).unwrap();
            prop_assert!((found.content(30.0, time, &confidence).0 / (0.9 * start) - 1.0).abs() < 1e-9);
            prop_assert!(low <= time && time <= high);
        }
    }
}

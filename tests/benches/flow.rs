//! Fits of flow curves: one model from one start, and all models ranked. `tests/cross/bench_flow_reference.py` runs the reference on the
//! same points, start and tolerance.

use criterion::{Criterion, criterion_group, criterion_main};
use levigate_measure::least_squares::{Room, Stop};
use levigate_process::flow::fit::fit_from;
use levigate_process::flow::{Curve, FlowModel, Weights, fit_all};
use std::hint::black_box;

/// Twenty points from 0.01 to 1000 1/s with a deviation of 2 %.
const POINTS: &str = include_str!("cross_curve.csv");

/// The tolerance that users of the reference take by default.
const STOP: Stop = Stop { relative_step: 1e-8, relative_gain: 1e-8, most: 200 };

fn curve() -> Option<Curve> {
    let points: Option<Vec<(f64, f64)>> = POINTS
        .lines()
        .skip(1)
        .map(|line| line.split_once(','))
        .map(|pair| pair.and_then(|(rate, stress)| Some((rate.parse().ok()?, stress.parse().ok()?))))
        .collect();
    let (rates, stresses): (Vec<f64>, Vec<f64>) = points?.into_iter().unzip();
    Curve::new(&rates, &stresses).ok()
}

fn fits(criterion: &mut Criterion) {
    let Some(curve) = curve() else { return };
    assert_eq!(curve.len(), 20);
    let mut room = Room::new();
    let start = [12.0, 0.02, 0.3, 0.8];
    criterion.bench_function("Cross, 20 points, one start", |bencher| {
        bencher.iter(|| fit_from(black_box(&curve), FlowModel::Cross, Weights::Log, start, &STOP, &mut room));
    });
    criterion.bench_function("all models ranked, 20 points", |bencher| {
        bencher.iter(|| fit_all(black_box(&curve), Weights::Log));
    });
}

criterion_group!(benches, fits);
criterion_main!(benches);

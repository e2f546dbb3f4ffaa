//! Speed of choosing runs: five parts within bounds, 2370 blends of a grid, twenty runs for a quadratic model, ten starts.

#![expect(clippy::unwrap_used, reason = "a bench stops at the first surprise")]

use criterion::{Criterion, criterion_group, criterion_main};
use levigate_measure::experiment::{Bounds, Choice, Goal, Model, choose_by, within};
use std::hint::black_box;

fn design(c: &mut Criterion) {
    let bounds = Bounds(vec![[0.5, 0.9], [0.02, 0.2], [0.02, 0.2], [0.0, 0.1], [0.0, 0.06]]);
    let rows: Vec<Vec<f64>> =
        within(&bounds, 0.02).unwrap().iter().map(|blend| Model::Quadratic.terms(blend)).collect();
    for (name, goal) in
        [("twenty_runs_for_terms", Goal::Terms), ("twenty_runs_for_predictions", Goal::Predictions)]
    {
        let choice = Choice { runs: 20, kept: Vec::new(), goal, starts: 10, seed: 1 };
        c.bench_function(name, |b| b.iter(|| choose_by(black_box(&rows), black_box(&choice)).unwrap().d));
    }
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(10);
    targets = design
}
criterion_main!(benches);

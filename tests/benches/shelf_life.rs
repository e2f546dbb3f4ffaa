//! How fast shelf lives are found: `cargo bench -p levigate-evidence --bench shelf_life`.
//!
//! `one batch` is the closed form on eight readings, from the readings on; `four batches` lays four batches of 36 readings side by side, tests
//! slopes and heights, and finds the shortest of their lives. The reference of the second is a statistics package on the same machine
//! type: 48.6 a second.

use criterion::{Criterion, criterion_group, criterion_main};
use levigate_measure::distribution::{Confidence, Sides};
use levigate_process::stability::pooling::CUSTOMARY_LEVEL;
use levigate_process::stability::{Batch, Limits, Pooling};
use std::hint::black_box;

/// Sets S1 and S10 of `tests/published/shelf_life.toml`.
const ONE: [(f64, f64); 8] = [
    (0.0, 103.5),
    (3.0, 97.3),
    (6.0, 97.2),
    (9.0, 94.2),
    (12.0, 94.8),
    (18.0, 94.1),
    (24.0, 91.3),
    (36.0, 88.7),
];
const FOUR: [&[(f64, f64)]; 4] = [
    &[
        (0.0, 102.0),
        (3.0, 101.0),
        (3.0, 101.0),
        (6.0, 100.5),
        (6.0, 100.8),
        (12.0, 100.1),
        (12.0, 99.0),
        (24.0, 96.7),
        (24.0, 97.2),
    ],
    &[
        (0.0, 101.0),
        (1.0, 101.3),
        (3.0, 99.8),
        (3.0, 99.2),
        (6.0, 99.5),
        (6.0, 97.8),
        (12.0, 97.4),
        (12.0, 97.2),
        (24.0, 96.9),
        (24.0, 96.0),
    ],
    &[
        (0.0, 104.8),
        (3.0, 103.0),
        (3.0, 101.2),
        (6.0, 100.8),
        (6.0, 99.2),
        (12.0, 98.6),
        (12.0, 97.2),
        (24.0, 97.6),
        (24.0, 98.0),
    ],
    &[
        (0.0, 104.0),
        (3.0, 103.2),
        (6.0, 102.8),
        (6.0, 103.3),
        (12.0, 102.4),
        (12.0, 101.2),
        (24.0, 99.1),
        (24.0, 99.5),
    ],
];

fn shelf_life(c: &mut Criterion) {
    let Some(confidence) = Confidence::new(0.95, Sides::One) else { return };
    let mut group = c.benchmark_group("shelf life");
    let ninety = Limits { lower: Some(90.0), upper: None };
    group.bench_function("one batch", |b| {
        b.iter(|| {
            let line = Batch::of(0, black_box(&ONE)).ok().and_then(|batch| batch.alone());
            line.map(|line| line.leaves(ninety, &confidence))
        });
    });
    let line = Batch::of(0, &ONE).ok().and_then(|batch| batch.alone());
    group.bench_function("closed form", |b| {
        b.iter(|| black_box(line).map(|line| line.leaves(ninety, &confidence)))
    });
    let limits = Limits { lower: Some(95.0), upper: None };
    group.bench_function("four batches", |b| {
        b.iter(|| {
            let batches: Vec<Batch> = black_box(&FOUR)
                .iter()
                .enumerate()
                .filter_map(|(place, one)| Batch::of(place, one).ok())
                .collect();
            let pooling = Pooling::of(&batches).ok()?;
            let lines = pooling.lines(pooling.model(CUSTOMARY_LEVEL));
            lines.iter().map(|line| line.leaves(limits, &confidence)).reduce(|one, other| one.earlier(other))
        });
    });
    group.finish();
}

criterion_group!(benches, shelf_life);
criterion_main!(benches);

//! Speed of the uncertainty of a batch: the shares of 15 lines over 10^6 draws with mean, standard deviation and two quantiles each (the same
//! work as `python tests/cross/uncertainty_reference.py time`), and a toner of nine lines with the pH and viscosity
//! worked out in every one of 10^5 draws.

use criterion::{Criterion, criterion_group, criterion_main};
use jiff::civil::date;
use levigate_measure::uncertainty::Scatter;
use levigate_measure::uncertainty::shares::{Part, shares};
use levigate_project::making_file::uncertainty::read;
use levigate_project::workbench::making::uncertainty::uncertainty;
use std::hint::black_box;

const PERCENT: [f64; 15] = [70.85, 10.0, 5.0, 5.0, 3.0, 2.0, 1.0, 0.8, 0.6, 0.5, 0.4, 0.3, 0.25, 0.2, 0.1];
const TONER: &str = include_str!("../../examples/night-toner-mandelic.toml");
const SERUM: &str = include_str!("twenty_five_lines.toml");

fn batch(criterion: &mut Criterion) {
    let part = |(place, percent): (usize, &f64)| Part {
        name: format!("line {place}"),
        value: 2.0 * percent,
        scatter: Scatter { normal: 0.01, triangular: 0.01, rectangular: 0.0 },
        aim: None,
    };
    let parts: Vec<Part> = PERCENT.iter().enumerate().map(part).collect();
    let mut group = criterion.benchmark_group("uncertainty");
    group.sample_size(10);
    group.bench_function("shares of 15 lines, 10^6 draws", |bencher| {
        bencher.iter(|| shares(black_box(&parts), 1_000_000, 0.95, 1));
    });
    let facts = levigate_facts::shipped().unwrap_or_default();
    for (name, text) in [("a toner of 9 lines", TONER), ("a serum of 25 lines", SERUM)] {
        let Ok(mut question) = read("bench", text) else { continue };
        question.steady_digits = None;
        let answer =
            || uncertainty(&facts, (date(2026, 11, 24), "eu"), ("bench", text), black_box(&question));
        assert!(answer().is_ok(), "{name} is not told");
        // Two runs of 10^5 draws: with everything uncertain, and with weighing and lots alone.
        group.bench_function(format!("{name}, pH and viscosity in 2 x 10^5 draws"), |bencher| {
            bencher.iter(answer)
        });
    }
    group.finish();
}

criterion_group!(benches, batch);
criterion_main!(benches);

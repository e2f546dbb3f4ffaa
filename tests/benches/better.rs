//! The better formula of 25 lines, pH solved in every formula that is read: cheapest in particles, ten lines moving, two of them optional.

use criterion::{Criterion, criterion_group, criterion_main};
use jiff::civil::date;
use levigate_project::workbench::proof::optimise::optimise;
use std::hint::black_box;

const FORMULA: &str = include_str!("twenty_five_lines.toml");
const QUESTION: &str = include_str!("better.toml");

fn search(criterion: &mut Criterion) {
    let facts = levigate_facts::shipped().unwrap_or_default();
    let answer = || {
        let when = (date(2026, 11, 24), "eu");
        optimise(&facts, when, ("formula", FORMULA), ("question", black_box(QUESTION)), &mut |_, _| true)
    };
    assert!(answer().is_ok_and(|found| found.reading.conflict.is_none()), "no answer");
    let mut group = criterion.benchmark_group("better");
    group.sample_size(10);
    group.bench_function("25 lines, ten move: three answers and what binds", |bencher| bencher.iter(answer));
    group.finish();
}

criterion_group!(benches, search);
criterion_main!(benches);

//! How long it takes to read the shipped facts, and to lay a small folder of a laboratory over them.

use criterion::{Criterion, criterion_group, criterion_main};
use levigate_facts::shipped;
use levigate_formula::library::Layer;
use std::hint::black_box;

fn loading(criterion: &mut Criterion) {
    criterion.bench_function("shipped facts", |bencher| bencher.iter(|| black_box(shipped())));
    let Ok(facts) = shipped() else { return };
    let own = "[[substance]]\nkey = \"own\"\nname = \"own\"\nroles = [\"active\"]\n";
    criterion.bench_function("one record of a laboratory over them", |bencher| {
        bencher.iter(|| {
            let mut facts = facts.clone();
            black_box(facts.overlay(&[("own.toml", own)], Layer::Laboratory))
        });
    });
    criterion.bench_function("data check", |bencher| {
        bencher.iter(|| black_box(levigate_facts::check::check(&facts)))
    });
}

criterion_group!(benches, loading);
criterion_main!(benches);

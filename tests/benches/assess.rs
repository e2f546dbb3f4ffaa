//! Full assessment of a 25-line formula: the text read, settled, solved, judged and written as JSON, and its parts.

use criterion::{Criterion, criterion_group, criterion_main};
use jiff::civil::date;
use levigate_assess::Inquiry;
use levigate_assess::flow::{flowing_at, reading_at};
use levigate_project::formula_file;
use levigate_project::workbench::assess::known;
use std::hint::black_box;

const FORMULA: &str = include_str!("twenty_five_lines.toml");

fn assess(criterion: &mut Criterion) {
    let facts = levigate_facts::shipped().unwrap_or_default();
    let Ok(formula) = formula_file::read("bench", FORMULA) else { return };
    let inquiry =
        Inquiry { sheet: &formula.sheet, known: known(&facts), day: date(2026, 11, 24), market: "eu" };
    criterion.bench_function("assess 25 lines", |bencher| {
        bencher.iter(|| levigate_assess::assess(black_box(&inquiry)));
    });
    criterion.bench_function("settle and solve 25 lines", |bencher| {
        bencher.iter(|| levigate_assess::solved(black_box(&formula.sheet), &inquiry.known));
    });
    let assessed = levigate_assess::assess(&inquiry);
    if let Ok(assessed) = &assessed {
        criterion.bench_function("predict the flow of two thickeners", |bencher| {
            bencher.iter(|| black_box(&assessed.flowing).blend.predict());
        });
        let mut one = assessed.flowing.clone();
        one.blend.thickeners.truncate(1);
        one.blend.synergies.clear();
        criterion.bench_function("predict the flow of one thickener", |bencher| {
            bencher.iter(|| black_box(&one).blend.predict());
        });
        criterion.bench_function("make ready, predict and read the flow", |bencher| {
            bencher.iter(|| {
                let flowing = flowing_at(black_box(assessed), &formula.sheet, &inquiry.known, 25.0);
                let prediction = flowing.blend.predict();
                reading_at(
                    &flowing,
                    &prediction,
                    formula.sheet.target.viscosity.as_ref(),
                    &inquiry.known.flow,
                )
            });
        });
        criterion.bench_function("write 25 lines as JSON", |bencher| {
            bencher.iter(|| serde_json::to_vec(black_box(&assessed.assessment)));
        });
    }
    criterion.bench_function("read 25 lines from text", |bencher| {
        bencher.iter(|| formula_file::read("bench", black_box(FORMULA)));
    });
    criterion.bench_function("load the shipped facts", |bencher| bencher.iter(levigate_facts::shipped));
}

criterion_group! { name = benches; config = Criterion::default().sample_size(30); targets = assess }
criterion_main!(benches);

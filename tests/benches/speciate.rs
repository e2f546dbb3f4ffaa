//! From the text of a bare solution to JSON: read, names looked up, speciated with the shipped constants, written.
//!
//! The solution is the ten-component serum of `crates/engine/formula/benches/speciation.rs`, which measures the equilibrium alone.

use criterion::{Criterion, criterion_group, criterion_main};
use levigate_project::solution_file;
use std::hint::black_box;

const SERUM: &str = r#"
temperature_c = 25.0
solute = [
  { name = "disodium EDTA", molality = 0.0027 },
  { name = "CaCl2", molality = 0.001 },
  { name = "MgCl2", molality = 0.0005 },
  { name = "citric acid", molality = 0.01 },
  { name = "sodium benzoate", molality = 0.035 },
  { name = "potassium sorbate", molality = 0.013 },
  { name = "lactic acid", molality = 0.05 },
  { name = "NaOH", molality = 0.03 },
]
"#;

fn speciate(criterion: &mut Criterion) {
    let facts = levigate_facts::shipped().unwrap_or_default();
    let written = || {
        let report = solution_file::speciate("serum", black_box(SERUM), &facts).ok()?;
        serde_json::to_vec(&report).ok()
    };
    assert!(written().is_some(), "the serum is not read");
    criterion.bench_function("text to JSON, ten components", |bencher| bencher.iter(written));
    criterion.bench_function("read the text, ten components", |bencher| {
        bencher.iter(|| solution_file::read("serum", black_box(SERUM)));
    });
}

criterion_group!(benches, speciate);
criterion_main!(benches);

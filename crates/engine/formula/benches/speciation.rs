//! Speed of the equilibrium of a serum with ten components (EDTA, calcium, magnesium, citrate, benzoate, sorbate, lactate, sodium,
//! potassium, chloride): cold from totals alone, warm along a titration, and with the system prepared anew each time.
//!
//! The constants are those of the reference runs, so that `tests/cross/bench_reference.py` measures the same work.

use criterion::{BatchSize, Criterion, criterion_group, criterion_main};
use levigate_formula::aqueous::{Chemistry, Conditions, EquilibriumFile, System, Workspace};
use std::collections::BTreeMap;
use std::hint::black_box;

fn serum() -> BTreeMap<String, f64> {
    // Disodium EDTA 0.0027, calcium chloride 0.001, magnesium chloride 0.0005, citric acid 0.01, sodium benzoate 0.035,
    // potassium sorbate 0.013, lactic acid 0.05, sodium hydroxide 0.03 mol/kg.
    [
        ("H+", 0.0054 + 0.03 + 0.05 - 0.03),
        ("Edta-4", 0.0027),
        ("Ca+2", 0.001),
        ("Mg+2", 0.0005),
        ("Citrate-3", 0.01),
        ("Benzoate-", 0.035),
        ("Sorbate-", 0.013),
        ("Lactate-", 0.05),
        ("Na+", 0.0054 + 0.035 + 0.03),
        ("K+", 0.013),
        ("Cl-", 0.003),
    ]
    .into_iter()
    .map(|(name, total)| (name.to_owned(), total))
    .collect()
}

fn chemistry() -> Chemistry {
    let text = include_str!("../../../../tests/cross/aqueous_reference_constants.toml");
    let file: EquilibriumFile = toml::from_str(text).unwrap_or_default();
    Chemistry::from_reactions(file.reactions, Vec::new()).unwrap_or_default()
}

fn speciation(criterion: &mut Criterion) {
    let (chemistry, totals) = (chemistry(), serum());
    let prepare = || System::prepare(&chemistry, totals.keys().map(String::as_str), &Conditions::default());
    let Ok(system) = prepare() else { return };
    let Ok(row) = system.totals(&totals) else { return };
    let mut workspace = Workspace::new();
    criterion.bench_function("cold start, ten components", |bencher| {
        bencher.iter(|| {
            workspace.forget();
            system.solve(black_box(&row), 0.0, &mut workspace).is_ok()
        });
    });
    let proton = system.place("H+").unwrap_or(0);
    let sodium = system.place("Na+").unwrap_or(0);
    let mut moved = row.clone();
    let mut step = 0_u32;
    criterion.bench_function("warm step of a titration, ten components", |bencher| {
        bencher.iter(|| {
            // A thousand steps of sodium hydroxide from 0 to 0.05 mol/kg, and again.
            step = (step + 1) % 1000;
            let added = f64::from(step) * 5e-5;
            moved[proton] = row[proton] - added;
            moved[sodium] = row[sodium] + added;
            system.solve(black_box(&moved), 0.0, &mut workspace).is_ok()
        });
    });
    criterion.bench_function("prepare, solve and read, ten components", |bencher| {
        bencher.iter_batched(
            Workspace::new,
            |mut workspace| {
                let system = prepare().ok()?;
                let row = system.totals(&totals).ok()?;
                system.solve(&row, 0.0, &mut workspace).ok()?;
                Some(system.read(&row, &workspace))
            },
            BatchSize::SmallInput,
        );
    });
}

criterion_group!(benches, speciation);
criterion_main!(benches);

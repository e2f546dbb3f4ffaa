//! Measured tables: bytes to curves, and bytes to every model with its errors.
//!
//! An instrument file of 10,000 rows shall open in under 100 ms; a million rows shall be read or refused without a wait.

use criterion::{Criterion, criterion_group, criterion_main};
use levigate_project::flow_table::{Choices, read};
use levigate_project::workbench::flow_fit::{Asked, flow_fit};
use std::fmt::Write as _;
use std::hint::black_box;

/// A file as an instrument writes it: metadata, names, units, seven columns, decimal commas.
fn instrument_file(rows: u32) -> Vec<u8> {
    let mut text = String::from(
        "Sample;Hand gel T7\nGeometry;cone\n\nPoint;Time;Temperature;Shear Rate;Shear Stress;Viscosity;Torque\n;[s];[°C];[1/s];[Pa];[mPa·s];[µN·m]\n",
    );
    for row in 0..rows {
        let rate = 10_f64.powf(-3.0 + 6.0 * f64::from(row) / f64::from(rows));
        let stress = 5.0 + 3.0 * rate.powf(0.45);
        let line = format!(
            "{};{:.2};{:.2};{rate:.6e};{stress:.6e};{:.6e};{:.4}\n",
            row + 1,
            f64::from(row) * 2.5,
            25.0 + 0.01 * f64::from(row % 7),
            1000.0 * stress / rate,
            stress * 12.3,
        );
        let _ = write!(text, "{}", line.replace('.', ","));
    }
    text.into_bytes()
}

fn tables(criterion: &mut Criterion) {
    for (rows, name) in [(50, "50 rows"), (10_000, "10,000 rows"), (1_000_000, "1,000,000 rows")] {
        let bytes = instrument_file(rows);
        let mut group = criterion.benchmark_group("flow_table");
        group.sample_size(10);
        group.bench_function(format!("open {name}"), |bencher| {
            bencher.iter(|| {
                read("-", black_box(&bytes), &Choices::default(), None).map(|table| table.curves.len())
            });
        });
        group.finish();
    }
}

fn fits(criterion: &mut Criterion) {
    let Ok(facts) = levigate_facts::shipped() else { return };
    for (rows, name) in [(50, "50 rows"), (10_000, "10,000 rows")] {
        let bytes = instrument_file(rows);
        let mut group = criterion.benchmark_group("flow_fit");
        group.sample_size(10);
        group.bench_function(format!("all models, {name}"), |bencher| {
            bencher.iter(|| {
                flow_fit(&facts, "-", black_box(&bytes), &Asked::default()).map(|fit| fit.curves.len())
            });
        });
        group.finish();
    }
}

criterion_group!(benches, tables, fits);
criterion_main!(benches);

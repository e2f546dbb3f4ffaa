//! One experiment of the sample workspace, invented like the rest: three humectants of the hand gel against each other. All runs but the last
//! are read; what was read follows an invented law with invented slips of the hand.

use super::STUDIO;
use levigate_project::records::{Formula, Id};
use levigate_project::store::StoreError;
use levigate_project::workbench::experiments::{
    TypedExperiment, TypedExperimentPart, TypedExperimentRead, TypedRunReading, TypedRunReadings,
    keep_run_readings, plan_experiment,
};
use levigate_project::workbench::keeping::KeepError;
use levigate_project::workspace::Workspace;
use rust_decimal::prelude::ToPrimitive as _;

/// Lines of the gel that move, with their least and most.
const PARTS: [(usize, &str, &str, &str); 3] =
    [(2, "Propanediol", "2", "5.5"), (3, "Ectoin", "0.3", "2"), (4, "Sodium PCA 50 %", "0.5", "3")];
/// How far the hand and the instrument were off, in parts of the scatter of one reading.
const OFF: [f64; 14] = [0.4, -0.9, 1.2, -0.2, -1.1, 0.7, 0.1, -0.6, 1.4, -0.4, 0.9, -1.3, 0.3, -0.1];
/// Scatter of a viscosity, mPa·s, and of a tack, points.
const SCATTER: [f64; 2] = [190.0, 0.16];

fn store_error(error: KeepError) -> StoreError {
    match error {
        KeepError::Store(error) => error,
        KeepError::Typed(_) => StoreError::Medium { doing: "make the sample", what: error.to_string() },
    }
}

/// Plans the experiment and enters what was read.
pub(super) async fn keep(workspace: &Workspace, formula: Id<Formula>) -> Result<(), StoreError> {
    let experiment = plan_experiment(workspace, STUDIO, &plan(formula)).await.map_err(store_error)?.kept;
    let mut values = Vec::new();
    let last = experiment.what.runs.len() - 1;
    for (run, off) in experiment.what.runs.iter().zip(OFF.iter().cycle()).take(last) {
        let percent: Vec<f64> = run.percent.iter().map(|one| one.to_f64().unwrap_or(0.0)).collect();
        let [diol, ectoin, pca] = [percent[0], percent[1], percent[2]];
        // Salt thins a charged thickener; what draws water sticks.
        let viscosity = 14_900.0 - 2_150.0 * pca + 210.0 * pca * pca + 260.0 * ectoin + off * SCATTER[0];
        let tack = 0.6 + 0.28 * diol + 0.7 * ectoin + 1.15 * pca - 0.22 * ectoin * pca - off * SCATTER[1];
        let reading = |read: &str, value: String| TypedRunReading {
            run: run.number.to_string(),
            read: read.to_owned(),
            value,
            ..TypedRunReading::default()
        };
        values.push(reading("Viscosity", format!("{:.0}", (viscosity / 10.0).round() * 10.0)));
        values.push(reading("Tack", format!("{tack:.1}")));
    }
    keep_run_readings(workspace, STUDIO, experiment.id, &TypedRunReadings { values })
        .await
        .map_err(store_error)?;
    Ok(())
}

fn plan(formula: Id<Formula>) -> TypedExperiment {
    TypedExperiment {
        formula: formula.to_string(),
        version: 2,
        name: "Humectants of the hand gel".to_owned(),
        why: "Bramble Court finds the gel sticky. Which of the three may go down without thinning it?"
            .to_owned(),
        parts: PARTS
            .iter()
            .map(|(line, name, least, most)| TypedExperimentPart {
                name: (*name).to_owned(),
                line: Some(*line),
                least: (*least).to_owned(),
                most: (*most).to_owned(),
            })
            .collect(),
        total_percent: "6.5".to_owned(),
        model: "quadratic".to_owned(),
        goal: "predictions".to_owned(),
        runs: "13".to_owned(),
        middles: "2".to_owned(),
        repeats: "2".to_owned(),
        seed: "11".to_owned(),
        reads: vec![
            TypedExperimentRead {
                name: "Viscosity".to_owned(),
                unit: "mPa·s".to_owned(),
                wish: "target".to_owned(),
                low: "9000".to_owned(),
                target: "12000".to_owned(),
                high: "15000".to_owned(),
            },
            TypedExperimentRead {
                name: "Tack".to_owned(),
                unit: "points, 0 to 10".to_owned(),
                wish: "smaller".to_owned(),
                target: "2".to_owned(),
                high: "5".to_owned(),
                ..TypedExperimentRead::default()
            },
        ],
        note: "Tack by three of the house, blind, mean of their points; viscosity after a day at 25 °C."
            .to_owned(),
        ..TypedExperiment::default()
    }
}

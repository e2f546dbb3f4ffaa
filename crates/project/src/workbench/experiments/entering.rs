//! What was read of runs: everything sent is kept or nothing. A correction is an entry of its own; the struck one stays.

use super::{ExperimentRecords, TRIES, gather_experiment};
use crate::records::{Experiment, ExperimentReading, FromDevice, Id, Kept, TypedNumber};
use crate::store::StoreError;
use crate::workbench::keeping::{Form, KeepError, short};
use crate::workbench::readings::reasoned;
use crate::workspace::Workspace;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

/// What was read, as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedRunReadings {
    /// Readings; empty ones are passed over.
    pub values: Vec<TypedRunReading>,
}

/// One reading as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedRunReading {
    /// Number of the run, or name of the check batch.
    pub run: String,
    /// What was read, by name.
    pub read: String,
    /// Replicates, parted by semicolons.
    pub value: String,
    /// Remark.
    pub note: String,
}

/// Keeps what was read: all of it or nothing.
///
/// # Errors
/// What was typed cannot be kept, something of it is read already, or the workspace refused.
pub async fn keep_run_readings(
    workspace: &Workspace,
    who: &str,
    experiment: Id<Experiment>,
    typed: &TypedRunReadings,
) -> Result<Vec<Kept<ExperimentReading>>, KeepError> {
    for _ in 0..TRIES {
        let length = workspace.store().head().await?.length;
        let records = gather_experiment(workspace, experiment).await?;
        let readings = read_all(&records, typed)?;
        match workspace.add_all(who, readings, length).await {
            Err(StoreError::LogMoved { .. }) => {}
            kept => return Ok(kept?),
        }
    }
    Err(crate::workbench::readings_table::busy())
}

/// Puts another reading in the place of one, or takes it back.
///
/// # Errors
/// See [`keep_run_readings`]; also without a reason, or when it has been corrected already.
pub async fn correct_experiment_reading(
    workspace: &Workspace,
    who: &str,
    id: Id<ExperimentReading>,
    reason: &str,
    instead: Option<&TypedRunReading>,
) -> Result<Kept<ExperimentReading>, KeepError> {
    let reason = reasoned(reason)?;
    let struck = workspace.get(id).await?.what;
    let what = match instead {
        None => ExperimentReading { withdrawn: true, from: FromDevice::default(), ..struck },
        Some(typed) => {
            let mut form = Form::default();
            let values = read_values(&mut form, "value", &struck.read, &typed.value);
            let note = typed.note.trim().to_owned();
            form.done(ExperimentReading { values, note, from: FromDevice::default(), ..struck })?
        }
    };
    Ok(workspace.correct(who, id, reason, what).await?)
}

/// Field of a reading in a form.
pub(super) fn place_of(run: &str, read: &str) -> String {
    format!("{run} | {read}")
}

/// Reads what was typed.
///
/// # Errors
/// Everything that is wrong with it.
pub(super) fn read_all(
    records: &ExperimentRecords,
    typed: &TypedRunReadings,
) -> Result<Vec<ExperimentReading>, KeepError> {
    let plan = records.plan();
    let mut form = Form::default();
    if plan.withdrawn {
        form.fault(
            "values",
            "the experiment was given up",
            "nothing is read on it any more",
            "plan another one",
        );
    }
    let mut readings: Vec<ExperimentReading> = Vec::new();
    for one in typed.values.iter().filter(|one| !one.value.trim().is_empty()) {
        let run = one.run.trim();
        let field = place_of(run, one.read.trim());
        let known = plan.runs.iter().any(|planned| planned.number.to_string() == run)
            || records.checks().any(|batch| batch.what.check == run);
        if !known {
            form.fault(
                &field,
                &format!("\"{}\" is no run of this experiment", short(run)),
                "a reading belongs to a run of the sheet or to a check batch",
                &format!("write a number from 1 to {}, or the name of a check batch", plan.runs.len()),
            );
        }
        let Some(read) = plan.reads.iter().find(|read| read.name.eq_ignore_ascii_case(one.read.trim()))
        else {
            form.fault(
                &field,
                &format!("\"{}\" is not read in this experiment", short(&one.read)),
                "a number without a name of the plan has no unit",
                "write it as it stands in the plan, or change the plan first",
            );
            continue;
        };
        let values = read_values(&mut form, &field, &read.name, &one.value);
        let there = records
            .counted()
            .map(|kept| &kept.what)
            .chain(&readings)
            .any(|it| it.run == run && it.read == read.name);
        if there {
            form.fault(
                &field,
                &format!("{} of run {run} is read already", read.name),
                "a run holds one reading of each kind, with its replicates",
                "correct the one that is there, or leave this one empty",
            );
        }
        readings.push(ExperimentReading {
            experiment: records.root().id,
            run: run.to_owned(),
            read: read.name.clone(),
            values,
            note: one.note.trim().to_owned(),
            from: FromDevice::default(),
            withdrawn: false,
        });
    }
    if readings.is_empty() {
        form.fault(
            "values",
            "nothing is typed yet",
            "a run is read by its numbers",
            "type one reading at the least",
        );
    }
    form.done(readings)
}

fn read_values(form: &mut Form, field: &str, name: &str, typed: &str) -> Vec<TypedNumber> {
    let replicates: Vec<TypedNumber> = typed
        .split(';')
        .map(str::trim)
        .filter(|text| !text.is_empty())
        .map(TypedNumber::read_either)
        .collect();
    if replicates.is_empty() {
        form.fault(
            field,
            &format!("{name} is empty"),
            "the reading itself is missing",
            "type it as the instrument shows it",
        );
    }
    let ph = levigate_formula::names::folded(name) == "ph";
    let range = Decimal::NEGATIVE_ONE..=Decimal::from(15);
    for number in &replicates {
        match number.value {
            None => form.fault(
                field,
                &format!("\"{}\" is not a number for {name}", short(&number.typed)),
                "a model is laid through numbers",
                "type a number; replicates are parted by a semicolon. Leave the run empty where nothing could be read",
            ),
            Some(value) if ph && !range.contains(&value) => form.fault(
                field,
                &format!("\"{}\" is not a pH", short(&number.typed)),
                "a pH meter reads from about 0 to 14",
                "look for a decimal sign that is missing",
            ),
            Some(_) => {}
        }
    }
    replicates
}

//! Readings of an experiment from a spreadsheet, a CSV file or pasted cells: everything of it is kept, or nothing.
//!
//! One row is one run. Columns are found by their heads: `run` holds the number of a run or the name of a check batch; a column for each
//! reading has its name, its unit behind a comma or in brackets; `remark`. Columns of parts, settings and blocks may stand there, as on the
//! run sheet that is taken away, and are passed over.

use super::entering::{TypedRunReading, TypedRunReadings, read_all};
use super::{ExperimentRecords, TRIES, gather_experiment};
use crate::diagnostic::Diagnostic;
use crate::records::{Experiment, ExperimentReading, Id, Kept};
use crate::store::StoreError;
use crate::workbench::keeping::{KeepError, short};
use crate::workbench::readings_table::{ReadingsTable, TableLine, busy, unreadable};
use crate::workspace::Workspace;

enum Column {
    Run,
    Note,
    Read(String),
    PassedOver,
}

/// What a table would bring; writes nothing.
///
/// # Errors
/// The table cannot be read at all.
pub fn look_at_run_readings(
    records: &ExperimentRecords,
    table: (&str, &[u8]),
) -> Result<ReadingsTable, Vec<Diagnostic>> {
    read(records, table).map(|(table, _)| table)
}

/// Keeps every reading of a table, or none.
///
/// # Errors
/// The table cannot be read, a row of it is wrong, or the workspace refused; nothing is kept then.
pub async fn bring_run_readings(
    workspace: &Workspace,
    who: &str,
    experiment: Id<Experiment>,
    table: (&str, &[u8]),
) -> Result<Vec<Kept<ExperimentReading>>, KeepError> {
    for _ in 0..TRIES {
        let length = workspace.store().head().await?.length;
        let records = gather_experiment(workspace, experiment).await?;
        let (seen, readings) = read(&records, table).map_err(unreadable)?;
        seen.must_be_ready()?;
        match workspace.add_all(who, readings, length).await {
            Err(StoreError::LogMoved { .. }) => {}
            kept => return Ok(kept?),
        }
    }
    Err(busy())
}

fn read(
    records: &ExperimentRecords,
    (file, bytes): (&str, &[u8]),
) -> Result<(ReadingsTable, Vec<ExperimentReading>), Vec<Diagnostic>> {
    let mut rows = crate::bringing::rows_of(file, bytes)?.into_iter();
    let heads = rows.next().map(|(_, cells)| cells).unwrap_or_default();
    let mut table = ReadingsTable::default();
    let columns: Vec<Column> = heads.iter().map(|head| column(records, head, &mut table.wrong)).collect();
    table.columns =
        heads.iter().zip(&columns).map(|(head, column)| (head.clone(), meaning(column))).collect();
    if !columns.iter().any(|column| matches!(column, Column::Read(_))) {
        table.wrong.push(
            "No column has the name of a reading of the plan; the first row names the columns.".to_owned(),
        );
    }
    if !columns.iter().any(|column| matches!(column, Column::Run)) {
        table.wrong.push("No column says which run: call it run.".to_owned());
    }
    let mut readings: Vec<ExperimentReading> = Vec::new();
    for (line, cells) in rows {
        let cell = |wanted: fn(&Column) -> bool| {
            let at = columns.iter().position(wanted);
            at.and_then(|at| cells.get(at)).map(|text| text.trim().to_owned()).unwrap_or_default()
        };
        let run = cell(|column| matches!(column, Column::Run));
        let note = cell(|column| matches!(column, Column::Note));
        let values: Vec<TypedRunReading> = columns
            .iter()
            .zip(&cells)
            .filter_map(|(column, text)| match column {
                Column::Read(name) if !text.trim().is_empty() => Some(TypedRunReading {
                    run: run.clone(),
                    read: name.clone(),
                    value: text.trim().to_owned(),
                    note: note.clone(),
                }),
                _ => None,
            })
            .collect();
        // A run that was not read yet stands on the sheet without a number.
        if values.is_empty() {
            continue;
        }
        let told: Vec<String> = values.iter().map(|one| format!("{} {}", one.read, one.value)).collect();
        let words = format!("run {run}: {}", told.join(", "));
        let mut wrong = Vec::new();
        let mut made = Vec::new();
        match read_all(records, &TypedRunReadings { values }) {
            Ok(read) => made = read,
            Err(KeepError::Typed(faults)) => {
                wrong.extend(faults.iter().map(|fault| format!("{} {}", fault.what, fault.what_now)));
            }
            Err(error) => wrong.push(error.to_string()),
        }
        let there = |one: &&ExperimentReading| {
            readings.iter().any(|other| other.run == one.run && other.read == one.read)
        };
        if let Some(twice) = made.iter().find(there) {
            wrong.push(format!("{} of run {} stands in the table twice.", twice.read, twice.run));
        }
        table.lines.push(TableLine { line, words, readings: made.len(), wrong });
        readings.extend(made);
    }
    table.settle();
    Ok((table, readings))
}

fn meaning(column: &Column) -> String {
    match column {
        Column::Run => "run".to_owned(),
        Column::Note => "remark".to_owned(),
        Column::Read(name) => name.clone(),
        Column::PassedOver => "not looked at".to_owned(),
    }
}

/// What a column holds, by its head. A unit that is not that of the plan is refused, not converted.
fn column(records: &ExperimentRecords, head: &str, wrong: &mut Vec<String>) -> Column {
    let plan = records.plan();
    let head = head.trim();
    if head.eq_ignore_ascii_case("run") {
        return Column::Run;
    }
    if head.eq_ignore_ascii_case("remark") {
        return Column::Note;
    }
    let parted = head
        .strip_suffix([')', ']'])
        .and_then(|text| text.rsplit_once(['(', '[']))
        .or_else(|| head.rsplit_once(','))
        .map(|(name, unit)| (name.trim(), unit.trim()));
    let name = parted.map_or(head, |(name, _)| name);
    let named = |known: &str| known.eq_ignore_ascii_case(head) || known.eq_ignore_ascii_case(name);
    if let Some(read) = plan.reads.iter().find(|read| named(&read.name)) {
        if let Some((_, unit)) = parted.filter(|_| !read.name.eq_ignore_ascii_case(head))
            && !unit.eq_ignore_ascii_case(&read.unit)
        {
            wrong.push(format!(
                "{} is planned in {} and stands in the table in {unit}: convert it there, nothing is converted here.",
                read.name,
                if read.unit.is_empty() { "no unit" } else { &read.unit }
            ));
        }
        return Column::Read(read.name.clone());
    }
    let planned = plan.parts.iter().map(|part| &part.name).chain(plan.settings.iter().map(|one| &one.name));
    if head.is_empty() || head.eq_ignore_ascii_case("block") || planned.into_iter().any(|known| named(known))
    {
        return Column::PassedOver;
    }
    let known: Vec<&str> = plan.reads.iter().map(|read| read.name.as_str()).collect();
    wrong.push(format!(
        "The column \"{}\" is not understood; the plan reads {}.",
        short(head),
        known.join(", ")
    ));
    Column::PassedOver
}

//! Readings of a study from a spreadsheet, a CSV file or pasted cells: everything of it is kept, or nothing.
//!
//! One row is one batch in one pack at one pull. Columns are found by their heads: `condition`, `batch`, `pack`, the time as `pull`
//! (`13 weeks`) or as a number under `days`, `weeks` or `months`, the day really pulled as `day` (2026-11-24), and one column for each
//! attribute, its unit behind a comma or in brackets. A batch or pack may be left out where the study has one.

use super::entering::{TRIES, TypedPull, TypedValue, read_pull, same_place};
use super::{StudyRecords, gather_study};
use crate::diagnostic::Diagnostic;
use crate::records::{Id, Kept, PlannedPull, PullUnit, START, Study, StudyReading, TypedNumber};
use crate::store::StoreError;
use crate::workbench::keeping::{KeepError, short};
use crate::workbench::readings_table::{ReadingsTable, TableLine, busy, unreadable};
use crate::workspace::Workspace;
use jiff::civil::Date;
use rust_decimal::prelude::ToPrimitive;

/// What a column holds.
#[derive(Clone, Debug, PartialEq)]
enum Column {
    Condition,
    Batch,
    Pack,
    Pull,
    Time(PullUnit),
    Day,
    Note,
    Attribute(String),
    Unknown,
}

/// Heads by what they hold.
const HEADS: [(&str, Column); 17] = [
    ("condition", Column::Condition),
    ("storage", Column::Condition),
    ("kept at", Column::Condition),
    ("batch", Column::Batch),
    ("trial", Column::Batch),
    ("pack", Column::Pack),
    ("pull", Column::Pull),
    ("time", Column::Pull),
    ("day", Column::Day),
    ("date", Column::Day),
    ("pulled on", Column::Day),
    ("days", Column::Time(PullUnit::Days)),
    ("weeks", Column::Time(PullUnit::Weeks)),
    ("week", Column::Time(PullUnit::Weeks)),
    ("months", Column::Time(PullUnit::Months)),
    ("month", Column::Time(PullUnit::Months)),
    ("remark", Column::Note),
];

/// What a table would bring; writes nothing.
///
/// # Errors
/// The table cannot be read at all.
pub fn look_at_readings(
    records: &StudyRecords,
    today: Date,
    (file, bytes): (&str, &[u8]),
) -> Result<ReadingsTable, Vec<Diagnostic>> {
    read(records, today, (file, bytes)).map(|(table, _)| table)
}

/// Keeps every reading of a table, or none.
///
/// # Errors
/// The table cannot be read, a row of it is wrong, or the workspace refused; nothing is kept then.
pub async fn bring_readings(
    workspace: &Workspace,
    (who, today): (&str, Date),
    study: Id<Study>,
    (file, bytes): (&str, &[u8]),
) -> Result<Vec<Kept<StudyReading>>, KeepError> {
    for _ in 0..TRIES {
        let length = workspace.store().head().await?.length;
        let records = gather_study(workspace, study).await?;
        let (table, readings) = read(&records, today, (file, bytes)).map_err(unreadable)?;
        table.must_be_ready()?;
        match workspace.add_all(who, readings, length).await {
            Err(StoreError::LogMoved { .. }) => {}
            kept => return Ok(kept?),
        }
    }
    Err(busy())
}

fn read(
    records: &StudyRecords,
    today: Date,
    (file, bytes): (&str, &[u8]),
) -> Result<(ReadingsTable, Vec<StudyReading>), Vec<Diagnostic>> {
    let mut rows = crate::bringing::rows_of(file, bytes)?.into_iter();
    let heads = rows.next().map(|(_, cells)| cells).unwrap_or_default();
    let mut table = ReadingsTable::default();
    let columns: Vec<Column> =
        heads.iter().map(|head| column(records.plan(), head, &mut table.wrong)).collect();
    table.columns =
        heads.iter().zip(&columns).map(|(head, column)| (head.clone(), meaning(column))).collect();
    if !columns.iter().any(|column| matches!(column, Column::Attribute(_))) {
        table.wrong.push(
            "No column has the name of an attribute of the plan; the first row names the columns.".to_owned(),
        );
    }
    if !columns.iter().any(|column| matches!(column, Column::Pull | Column::Time(_) | Column::Day)) {
        table.wrong.push("No column says when: pull, weeks, months, or day.".to_owned());
    }
    let mut readings: Vec<StudyReading> = Vec::new();
    for (line, cells) in rows {
        let mut wrong = Vec::new();
        let typed = pull_of(records.plan(), today, (&columns, &cells), &mut wrong);
        let words = format!(
            "{}, {}: {}",
            if typed.condition.is_empty() { "no condition" } else { &typed.condition },
            if typed.pull.is_empty() { &typed.on } else { &typed.pull },
            typed
                .values
                .iter()
                .map(|it| format!("{} {}", it.attribute, it.value))
                .collect::<Vec<_>>()
                .join(", ")
        );
        let mut made = Vec::new();
        if wrong.is_empty() {
            match read_pull(records, today, &typed) {
                Ok(read) => made = read,
                Err(KeepError::Typed(faults)) => {
                    wrong.extend(faults.iter().map(|fault| format!("{} {}", fault.what, fault.what_now)));
                }
                Err(error) => wrong.push(error.to_string()),
            }
        }
        if let Some(twice) = made.iter().find(|it| readings.iter().any(|other| same_place(it, other))) {
            wrong.push(format!(
                "{} of {} in {} stands in the table twice for this pull.",
                twice.attribute, twice.batch, twice.pack
            ));
        }
        table.lines.push(TableLine { line, words, readings: made.len(), wrong });
        readings.extend(made);
    }
    table.settle();
    Ok((table, readings))
}

fn meaning(column: &Column) -> String {
    match column {
        Column::Condition => "where it was kept".to_owned(),
        Column::Batch => "the batch".to_owned(),
        Column::Pack => "the pack".to_owned(),
        Column::Pull => "the planned time".to_owned(),
        Column::Time(PullUnit::Days) => "days after the start".to_owned(),
        Column::Time(PullUnit::Weeks) => "weeks after the start".to_owned(),
        Column::Time(PullUnit::Months) => "months after the start".to_owned(),
        Column::Day => "the day really pulled".to_owned(),
        Column::Note => "a remark".to_owned(),
        Column::Attribute(name) => name.clone(),
        Column::Unknown => "not understood".to_owned(),
    }
}

/// What a column holds, by its head. A unit that is not that of the plan is refused, not converted.
fn column(plan: &Study, head: &str, wrong: &mut Vec<String>) -> Column {
    let head = head.trim();
    if head.is_empty() {
        return Column::Unknown;
    }
    if let Some((_, column)) = HEADS.iter().find(|(word, _)| head.eq_ignore_ascii_case(word)) {
        return column.clone();
    }
    if let Some(attribute) = plan.attributes.iter().find(|it| head.eq_ignore_ascii_case(&it.name)) {
        return Column::Attribute(attribute.name.clone());
    }
    let parted = head
        .strip_suffix([')', ']'])
        .and_then(|text| text.rsplit_once(['(', '[']))
        .or_else(|| head.rsplit_once(','))
        .map(|(name, unit)| (name.trim(), unit.trim()));
    if let Some((name, unit)) = parted
        && let Some(attribute) = plan.attributes.iter().find(|it| name.eq_ignore_ascii_case(&it.name))
    {
        if !unit.eq_ignore_ascii_case(&attribute.unit) {
            wrong.push(format!(
                "{} is planned in {} and stands in the table in {unit}: convert it there, nothing is converted here.",
                attribute.name,
                if attribute.unit.is_empty() { "no unit" } else { &attribute.unit }
            ));
        }
        return Column::Attribute(attribute.name.clone());
    }
    let known: Vec<&str> = plan.attributes.iter().map(|it| it.name.as_str()).collect();
    wrong.push(format!(
        "The column \"{}\" is not understood; the plan reads {}.",
        short(head),
        known.join(", ")
    ));
    Column::Unknown
}

fn pull_of(
    plan: &Study,
    today: Date,
    (columns, cells): (&[Column], &[String]),
    wrong: &mut Vec<String>,
) -> TypedPull {
    let cell = |wanted: &dyn Fn(&Column) -> bool| {
        let at = columns.iter().position(wanted);
        at.and_then(|at| cells.get(at)).map(|text| text.trim().to_owned()).unwrap_or_default()
    };
    let alone = |typed: String, names: Vec<&str>| match names.as_slice() {
        [only] if typed.is_empty() => (*only).to_owned(),
        _ => typed,
    };
    let batch =
        alone(cell(&|it| *it == Column::Batch), plan.batches.iter().map(|it| it.name.as_str()).collect());
    let pack = alone(cell(&|it| *it == Column::Pack), plan.packs.iter().map(|it| it.name.as_str()).collect());
    let time = columns.iter().enumerate().find_map(|(at, column)| match column {
        Column::Time(unit) => {
            cells.get(at).filter(|text| !text.trim().is_empty()).map(|text| (*unit, text.trim()))
        }
        _ => None,
    });
    let mut pull = cell(&|it| *it == Column::Pull);
    if let Some((unit, text)) = time {
        match TypedNumber::read_either(text).value.and_then(|number| number.to_u32()) {
            Some(0) => pull = START.to_owned(),
            Some(after) => pull = PlannedPull { after, unit }.to_string(),
            None => wrong.push(format!("\"{}\" is not a whole number of the time.", short(text))),
        }
    }
    let mut condition = place(plan, &cell(&|it| *it == Column::Condition));
    if pull.eq_ignore_ascii_case(START) {
        condition = START.to_owned();
    }
    let note = cell(&|it| *it == Column::Note);
    let mut on = cell(&|it| *it == Column::Day);
    let planned = plan.conditions.iter().filter(|it| it.name == condition).flat_map(|it| &it.pulls);
    let planned = planned.chain([&PlannedPull::START]).find(|it| it.to_string().eq_ignore_ascii_case(&pull));
    let mut remark = note;
    if on.is_empty()
        && let Some(planned) = planned
    {
        let due = planned.due(plan.start);
        on = due.to_string();
        let without = "no day in the table; taken as pulled when it was due";
        remark = if remark.is_empty() { without.to_owned() } else { format!("{remark}; {without}") };
        if due > today {
            wrong.push(format!("The pull after {pull} is due on {due}, which has not come; write the day."));
        }
    }
    let values = columns.iter().zip(cells).filter_map(|(column, text)| match column {
        Column::Attribute(name) if !text.trim().is_empty() => Some(TypedValue {
            batch: batch.clone(),
            pack: pack.clone(),
            attribute: name.clone(),
            value: text.trim().to_owned(),
            note: remark.clone(),
            ..TypedValue::default()
        }),
        _ => None,
    });
    TypedPull { condition, pull, on, values: values.collect() }
}

/// A condition by its name, or by its temperature where one alone has it: `40`, `40/75`, `40 C`.
fn place(plan: &Study, typed: &str) -> String {
    if plan.conditions.iter().any(|it| it.name.eq_ignore_ascii_case(typed)) {
        return typed.to_owned();
    }
    let digits: String = typed.chars().take_while(|sign| sign.is_ascii_digit() || *sign == '-').collect();
    let of = plan.conditions.iter().filter(|it| {
        let temperature = it.temperature_c.as_ref().and_then(|it| it.value);
        !digits.is_empty() && temperature == TypedNumber::read_either(&digits).value
    });
    match of.collect::<Vec<_>>().as_slice() {
        [only] => only.name.clone(),
        _ => typed.to_owned(),
    }
}

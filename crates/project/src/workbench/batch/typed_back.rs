//! A sheet that was filled by hand, typed back row by row under the number of its line.
//!
//! All rows are read before the first is kept, so that a fault or a doubtful figure keeps none. A row has an identity that follows from
//! what stands in it, so that the same sheet typed back twice is kept once.

use super::{
    BatchRecords, LineState, TypedEntry, TypedPaper, batch_called, batch_state, gather_batch, keep_entry,
};
use crate::audit::content_hash;
use crate::diagnostic::Diagnostic;
use crate::records::{Batch, Id, Kept, PlanStep};
use crate::workbench::keeping::{FieldFault, KeepError, short};
use crate::workspace::Workspace;
use jiff::Timestamp;
use jiff::civil::{Date, Time};
use jiff::tz::Offset;
use levigate_facts::Facts;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use uuid::Uuid;

/// Rows that are no line of the plan: word, kind of entry, in the order in which they happen within one minute.
const BESIDES: [(&str, &str); 4] =
    [("vessel", "vessel"), ("gross", "gross"), ("water", "water"), ("product", "output")];

/// A filled sheet as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedSheet {
    /// Identifier on the sheet.
    pub code: String,
    /// The day it was filled, ISO; that on which the batch was begun when empty.
    pub day: String,
    /// How far the clock on the wall is from universal time, such as `+01:00`; none when empty.
    pub utc_offset: String,
    /// Rows.
    pub rows: Vec<TypedRow>,
    /// Doubtful figures were looked at: it is what stands on the sheet.
    pub sure: bool,
}

/// A row of a sheet as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedRow {
    /// Number of the line, or `vessel`, `gross`, `water`, `product`.
    pub line: String,
    /// First reading, g: the empty boat. Empty where there was none.
    pub reading_1: String,
    /// Second reading, g: with what is in it, or all there is.
    pub reading_2: String,
    /// Lot.
    pub lot: String,
    /// Hour and minute.
    pub time: String,
    /// Initials.
    pub initials: String,
}

/// A row that was kept.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RowKept {
    /// The line as typed.
    pub line: String,
    /// What it is.
    pub name: String,
    /// Number of its entry on the batch.
    pub number: u32,
    /// It was kept before.
    pub already: bool,
    /// How the line stands after all rows: `short`, `within`, `over`; empty for what is no line.
    pub verdict: &'static str,
    /// Suspicion of a slip of the decimal sign, in words; empty for none.
    pub slip: String,
}

/// Columns of a table of rows, as its head names them.
const COLUMNS: [&str; 6] = ["line", "reading_1", "reading_2", "lot", "time", "initials"];
/// Most rows of one sheet.
const MOST_ROWS: usize = 2000;

/// Reads rows from a table with a head: comma or semicolon between the columns, in any order, missing ones empty.
///
/// # Errors
/// A head that names none of the columns, a row that cannot be read, or too many of them.
pub fn rows_of_table(file: &str, text: &str) -> Result<Vec<TypedRow>, Vec<Diagnostic>> {
    let text = text.strip_prefix('\u{FEFF}').unwrap_or(text);
    let complain = |line: u64, field: &str, what: String, what_now: &str| Diagnostic {
        code: "sheet-table".to_owned(),
        file: file.to_owned(),
        line: usize::try_from(line).unwrap_or_default(),
        column: 0,
        field: field.to_owned(),
        what,
        what_now: what_now.to_owned(),
        sheet_line: None,
    };
    let head = text.lines().next().unwrap_or_default();
    let between = if head.contains(';') { b';' } else { b',' };
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(between)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let heads: Vec<String> =
        reader.headers().map(|heads| heads.iter().map(str::to_lowercase).collect()).unwrap_or_default();
    let place = COLUMNS.map(|name| heads.iter().position(|head| head == name));
    if place[0].is_none() || (place[1].is_none() && place[2].is_none()) {
        let what = "the first row names no line and no reading".to_owned();
        return Err(vec![complain(1, "line", what, "begin with line,reading_1,reading_2,lot,time,initials")]);
    }
    let (mut rows, mut faults) = (Vec::new(), Vec::new());
    for record in reader.records() {
        match record {
            Ok(record) => {
                let [line, reading_1, reading_2, lot, time, initials] =
                    place.map(|at| at.and_then(|at| record.get(at)).unwrap_or_default().to_owned());
                if !record.iter().all(str::is_empty) {
                    rows.push(TypedRow { line, reading_1, reading_2, lot, time, initials });
                }
            }
            Err(error) => {
                let line = error.position().map_or(0, csv::Position::line);
                faults.push(complain(
                    line,
                    "",
                    "this row cannot be read".to_owned(),
                    "write one row for each weighing",
                ));
            }
        }
    }
    if rows.len() > MOST_ROWS {
        let what = format!("{} rows, at most {MOST_ROWS} are read", rows.len());
        faults.push(complain(0, "line", what, "type one sheet back at a time"));
    }
    if faults.is_empty() { Ok(rows) } else { Err(faults) }
}

/// Keeps what stands on a sheet.
///
/// # Errors
/// What was typed cannot be kept, row by row; or a figure looks like a slip and nobody said that it was looked at; or the workspace
/// refused.
pub async fn type_back(
    workspace: &Workspace,
    facts: &Facts,
    (who, day): (&str, Date),
    batch: &str,
    sheet: &TypedSheet,
) -> Result<Vec<RowKept>, KeepError> {
    let batch = batch_called(workspace, batch).await?;
    let records = gather_batch(workspace, batch.id).await?;
    let entries = read(&records, day, sheet)?;
    let now = workspace.clock().now();
    let mut faults = Vec::new();
    for (at, entry) in entries.iter().enumerate() {
        if let Err(KeepError::Typed(found)) = super::typed::read_entry(facts, &records, now, entry, None) {
            faults.extend(found.into_iter().map(|fault| in_row(at, fault)));
            // The code of the sheet is the same for every row, and is spoken of once.
            let mut code = false;
            faults.retain(|fault: &FieldFault| fault.field != "code" || !std::mem::replace(&mut code, true));
        }
    }
    if !sheet.sure {
        faults.extend(doubtful(&records, day, &entries));
    }
    if !faults.is_empty() {
        return Err(KeepError::Typed(faults));
    }
    let mut kept = Vec::new();
    for entry in &entries {
        kept.push(keep_entry(workspace, facts, (who, day), batch.id, (entry, None)).await?);
    }
    let state = batch_state(&gather_batch(workspace, batch.id).await?, day);
    let rows = entries.iter().zip(&sheet.rows).zip(kept).map(|((entry, row), once)| {
        let line = state.lines.iter().find(|line| line.number == entry.line);
        RowKept {
            line: row.line.trim().to_owned(),
            name: line.map_or_else(|| word_of(&entry.did).to_owned(), |line| line.name.clone()),
            number: once.kept.number,
            already: once.already,
            verdict: line.map_or("", |line| line.verdict),
            slip: line.map(|line| line.slip.clone()).unwrap_or_default(),
        }
    });
    Ok(rows.collect())
}

fn word_of(did: &str) -> &str {
    match did {
        "vessel" => "Empty vessel",
        "gross" => "Vessel with batch",
        "water" => "Water given back",
        _ => "Good product",
    }
}

/// The same under the name of the column; what is wrong with the sheet as a whole belongs to no row.
fn in_row(at: usize, fault: FieldFault) -> FieldFault {
    let column = match fault.field.as_str() {
        "paper" => return FieldFault { field: "code".to_owned(), ..fault },
        "tare" => "reading_1",
        "net" | "gross" => "reading_2",
        "at" => "time",
        other => other,
    };
    FieldFault { field: format!("rows.{}.{column}", at + 1), ..fault }
}

/// The rows as entries.
fn read(records: &BatchRecords, day: Date, sheet: &TypedSheet) -> Result<Vec<TypedEntry>, KeepError> {
    let mut faults = Vec::new();
    let offset = read_offset(&sheet.utc_offset).unwrap_or_else(|fault| {
        faults.push(fault);
        Offset::UTC
    });
    let begun = offset.to_datetime(records.batch.when).date();
    let filled = match sheet.day.trim() {
        "" => begun,
        text => text.parse().unwrap_or_else(|_| {
            let what = format!("\"{}\" is not a day", short(text));
            faults.push(FieldFault::new(
                "day",
                &what,
                "a day is written year-month-day",
                "type it like 2026-11-24",
            ));
            day
        }),
    };
    if sheet.rows.is_empty() {
        let (what, why) = ("no row is typed", "a sheet is typed back row by row");
        faults.push(FieldFault::new("rows", what, why, "write a row for each line that was weighed"));
    }
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    let mut entries = Vec::new();
    for (at, row) in sheet.rows.iter().enumerate() {
        let mut tell = |field: &str, what: &str, why: &str, now: &str| {
            faults.push(in_row(at, FieldFault::new(field, what, why, now)));
        };
        let Some((did, number, step)) = place_of(records, &row.line) else {
            let what = format!("\"{}\" is no line of this batch", short(&row.line));
            let now = "write the number of the line, or vessel, gross, water or product";
            tell("line", &what, "a row belongs to a line of the sheet", now);
            continue;
        };
        let written = match row.time.trim() {
            "" => None,
            text => match moment(filled, text, offset, did) {
                Some(when) => Some(when),
                None => {
                    let what = format!("\"{}\" is not a time of day", short(text));
                    tell("time", &what, "hours and minutes stand on the sheet", "type it like 14:05");
                    continue;
                }
            },
        };
        let canonical = serde_json::to_string(row).unwrap_or_default();
        let again = seen.entry(canonical.clone()).or_default();
        *again += 1;
        let id =
            identity(records.batch.id, &format!("{}\n{filled}\n{canonical}\n{again}", sheet.code.trim()));
        entries.push(entry(row, (did, number, step), (id, written), &sheet.code));
    }
    if faults.is_empty() { Ok(entries) } else { Err(KeepError::Typed(faults)) }
}

fn entry(
    row: &TypedRow,
    (did, number, step): (&str, usize, usize),
    (id, written): (Uuid, Option<Timestamp>),
    code: &str,
) -> TypedEntry {
    let (first, second) = (row.reading_1.trim(), row.reading_2.trim());
    // One reading alone is what was weighed; two are the empty boat and the full one. A vessel is weighed as it stands.
    let (tare, gross, net) = match (first, second) {
        (alone, "") | ("", alone) => ("", "", alone),
        (tare, gross) => (tare, gross, ""),
    };
    TypedEntry {
        id: id.to_string(),
        at: written.map(|when| when.to_string()).unwrap_or_default(),
        did: did.to_owned(),
        step,
        line: number,
        lot: row.lot.trim().to_owned(),
        tare: tare.to_owned(),
        gross: gross.to_owned(),
        net: net.to_owned(),
        unit: "g".to_owned(),
        paper: Some(TypedPaper {
            code: code.to_owned(),
            typed_at: String::new(),
            initials: row.initials.trim().to_owned(),
        }),
        ..TypedEntry::default()
    }
}

/// Kind of entry, number of the line and number of the step that a row means.
fn place_of(records: &BatchRecords, line: &str) -> Option<(&'static str, usize, usize)> {
    let word = line.trim().to_lowercase();
    if let Some((_, did)) = BESIDES.iter().find(|(known, _)| *known == word) {
        return Some((did, 0, 0));
    }
    let number: usize = word.parse().ok()?;
    let of_line = |step: &&PlanStep| step.line.as_ref().is_some_and(|line| line.number == number);
    let mut steps = records.batch.what.plan.steps.iter().filter(of_line);
    let first = steps.next()?.number;
    // Of a line that goes in by portions the row does not say which: it counts to the first that is open.
    let step = if steps.next().is_some() { 0 } else { first };
    Some(("weighed", number, step))
}

/// The moment of a time on the sheet. Within one minute things happen in this order: the empty vessel, what is weighed in, the full
/// vessel, water, good product; so many milliseconds keep it.
fn moment(day: Date, typed: &str, offset: Offset, did: &str) -> Option<Timestamp> {
    let (hour, minute) = typed.split_once([':', '.', 'h'])?;
    let (hour, minute) = (hour.trim().parse().ok()?, minute.trim().parse().ok()?);
    let after = match did {
        "vessel" => 0,
        "weighed" => 1,
        "gross" => 2,
        "water" => 3,
        _ => 4,
    };
    let time = Time::new(hour, minute, 0, after * 1_000_000).ok()?;
    offset.to_timestamp(day.to_datetime(time)).ok()
}

fn read_offset(typed: &str) -> Result<Offset, FieldFault> {
    let typed = typed.trim();
    let wrong = || {
        let what = format!("\"{}\" is not a difference to universal time", short(typed));
        FieldFault::new(
            "utc_offset",
            &what,
            "the clock on the wall is placed by it",
            "type it like +01:00 or -05:00",
        )
    };
    if typed.is_empty() {
        return Ok(Offset::UTC);
    }
    let (sign, rest) = match typed.strip_prefix('-') {
        Some(rest) => (-1, rest),
        None => (1, typed.strip_prefix('+').unwrap_or(typed)),
    };
    let (hours, minutes) = rest.split_once(':').unwrap_or((rest, "0"));
    let (hours, minutes): (i32, i32) =
        (hours.parse().map_err(|_| wrong())?, minutes.parse().map_err(|_| wrong())?);
    if !(0..=14).contains(&hours) || !(0..60).contains(&minutes) {
        return Err(wrong());
    }
    Offset::from_seconds(sign * (hours * 3600 + minutes * 60)).map_err(|_| wrong())
}

/// An identity that follows from what stands in a row.
pub(super) fn identity(batch: Id<Batch>, row: &str) -> Uuid {
    let hash = content_hash(format!("{batch}\n{row}").as_bytes());
    let number = hash.get(..32).and_then(|digits| u128::from_str_radix(digits, 16).ok()).unwrap_or(1);
    // The bits that mark an identity as made by a rule of its own.
    let marked = (number & !(0xF << 76) & !(0x3 << 62)) | (0x8 << 76) | (0x2 << 62);
    Uuid::from_u128(marked)
}

/// What the lines would be if the rows were kept, where that looks like a slip of the decimal sign.
fn doubtful(records: &BatchRecords, day: Date, entries: &[TypedEntry]) -> Vec<FieldFault> {
    let state = batch_state(records, day);
    let known = |id: &str| records.entries.iter().any(|there: &Kept<_>| there.id.to_string() == id);
    let mut weighed: BTreeMap<usize, (usize, Decimal)> = BTreeMap::new();
    for (at, entry) in entries.iter().enumerate() {
        if entry.did != "weighed" || known(&entry.id) {
            continue;
        }
        let number = |text: &str| crate::records::TypedNumber::read_either(text).value;
        let net = number(&entry.net).or_else(|| number(&entry.gross)?.checked_sub(number(&entry.tare)?));
        let sum = weighed.entry(entry.line).or_insert((at, Decimal::ZERO));
        *sum = (at, sum.1 + net.unwrap_or_default());
    }
    let doubt = |line: &LineState| {
        let (at, typed) = weighed.get(&line.number)?;
        let actual = *typed + line.actual.unwrap_or_default();
        let words = super::over::slipped(actual, line.target, line.to_ph.is_none())?;
        let why = "a sign in the wrong place is the commonest slip on paper and in typing";
        let now = "look at the sheet again; where it is what stands there, say that you are sure";
        Some(in_row(*at, FieldFault::new("reading_2", &words, why, now)))
    };
    state.lines.iter().filter_map(doubt).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_on_the_sheet_is_placed_by_its_offset_and_keeps_the_order_of_a_minute() {
        let day: Date = "2026-11-24".parse().unwrap();
        let offset = read_offset("+01:00").unwrap();
        let weighed = moment(day, "10:05", offset, "weighed").unwrap();
        assert_eq!(weighed.to_string(), "2026-11-24T09:05:00.001Z");
        assert!(moment(day, "10.05", offset, "gross").unwrap() > weighed);
        for wrong in ["", "25:00", "10", "10:61", "ten past"] {
            assert_eq!(moment(day, wrong, offset, "weighed"), None, "{wrong}");
        }
        for wrong in ["x", "+15:00", "1:99"] {
            assert!(read_offset(wrong).is_err(), "{wrong}");
        }
        assert_eq!(read_offset("-05:30").unwrap().seconds(), -19_800);
    }

    #[test]
    fn the_same_row_has_the_same_identity() {
        let batch = Id::from_uuid(Uuid::from_u128(7));
        assert_eq!(identity(batch, "a"), identity(batch, "a"));
        assert_ne!(identity(batch, "a"), identity(batch, "b"));
        assert_eq!(identity(batch, "a").get_version_num(), 8);
    }

    proptest::proptest! {
        #[test]
        fn no_text_breaks_the_reader(text in "\\PC*", lines in "(line|reading_1|reading_2|time|[0-9,.;\"\n-]){0,40}") {
            for text in [&text, &lines] {
                let _ = rows_of_table("f", text);
                let _ = rows_of_table("f", &format!("line,reading_2\n{text}"));
                let _ = moment(Date::constant(2026, 11, 24), text, Offset::UTC, "weighed");
                let _ = read_offset(text);
                let _ = crate::paper_code::read(text);
            }
        }
    }

    #[test]
    fn a_table_is_read_with_either_separator_and_its_columns_in_any_order() {
        let rows =
            rows_of_table("f", "\u{FEFF}Line;Reading_2;Time;Lot\n2;6,00;10:05;MA-1\n;;;\n3; 1,59 ;;\n")
                .unwrap();
        assert_eq!(rows.len(), 2);
        assert_eq!((rows[0].reading_2.as_str(), rows[0].lot.as_str()), ("6,00", "MA-1"));
        assert_eq!((rows[1].reading_2.as_str(), rows[1].reading_1.as_str()), ("1,59", ""));
        let quoted = rows_of_table("f", "line,reading_1,reading_2\n4,\"10,02\",\"10,42\"\n").unwrap();
        assert_eq!(quoted[0].reading_1, "10,02");
        for wrong in ["", "1,2,3\n", "line,lot\n1,x\n", "reading_2\n6\n"] {
            assert!(rows_of_table("f", wrong).is_err(), "{wrong}");
        }
        let many = format!("line,reading_2\n{}", "1,2\n".repeat(MOST_ROWS + 1));
        assert!(rows_of_table("f", &many).is_err());
    }
}

//! Entries, readings and observations of a batch from one file: what a device sends one by one, written down together.
//!
//! ```toml
//! [[entry]]
//! did = "weighed"
//! step = 3
//! line = 2
//! lot = "MA-2608-14"
//! net = 5.02
//! at = 2026-11-24T09:30:00Z
//! [[reading]]
//! quantity = "ph"
//! value = "3,81"                 # digits stay as typed
//! [[observation]]
//! text = "Clear after ten minutes"
//! ```

use super::typed_back::identity;
use super::{BatchState, TypedBuffer, TypedEntry, batch_called, batch_state, gather_batch, keep_entry};
use crate::diagnostic::Diagnostic;
use crate::records::{Batch, BatchEntry, Id};
use crate::store::StoreError;
use crate::toml_reader::{Reader, join, parsed};
use crate::workbench::keeping::{FieldFault, KeepError, TypedDevice};
use crate::workbench::readings::{TypedObservation, TypedReading, add_reading, observe, read_reading};
use crate::workspace::{KeptOnce, Workspace};
use jiff::civil::Date;
use levigate_facts::Facts;
use serde::Serialize;
use std::collections::BTreeMap;
use toml::de::{DeTable, DeValue};

/// `levigate schema batch-enter`.
pub const SCHEMA: &str = include_str!("entering.schema.json");

/// Fields of an entry that are text or a number with its digits.
const ENTRY_TEXTS: [&str; 21] = [
    "id",
    "at",
    "did",
    "material",
    "lot",
    "tare",
    "gross",
    "net",
    "unit",
    "value",
    "text",
    "reason",
    "decision",
    "way",
    "temperature_c",
    "method",
    "age",
    "instrument",
    "note",
    "step",
    "line",
];
/// Fields of a reading.
const READING_TEXTS: [&str; 10] =
    ["id", "at", "quantity", "value", "unit", "method", "temperature_c", "age", "instrument", "note"];
/// Most entries of one file.
const MOST: usize = 2000;

/// What a file holds.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct EntriesFile {
    /// Entries on the batch, in order.
    pub entries: Vec<TypedEntry>,
    /// Readings on its trial, in order.
    pub readings: Vec<TypedReading>,
    /// Observations on its trial, in order.
    pub observations: Vec<TypedObservation>,
}

/// What became of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EnteredAll {
    /// Code of the batch.
    pub batch: String,
    /// Entry by entry.
    pub kept: Vec<EnteredRow>,
    /// The next step, from 1; none when all are done or left out.
    pub next: Option<NextStep>,
}

/// The step that comes next.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NextStep {
    /// Its number.
    pub number: usize,
    /// What is to be done.
    pub text: String,
}

/// One entry that was kept.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EnteredRow {
    /// What it is: a word of an entry, `reading` or `observation`.
    pub what: String,
    /// Its identity.
    pub id: String,
    /// Its number on the batch or the trial.
    pub number: u32,
    /// It was there already.
    pub already: bool,
    /// Line it is about.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line: Option<usize>,
    /// How that line stands now; empty where it is about none.
    #[serde(skip_serializing_if = "str::is_empty")]
    pub verdict: &'static str,
    /// Suspicion of a slip of the decimal sign; empty for none.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub slip: String,
}

/// Reads a file of entries.
///
/// # Errors
/// Everything that is wrong with its form, with the place.
pub fn read_entries((file, text): (&str, &str)) -> Result<EntriesFile, Vec<Diagnostic>> {
    let document = parsed(file, text)?;
    let table = document.get_ref();
    let mut reader = Reader::new(file, text);
    reader.known_fields(table, "", &["entry", "reading", "observation"]);
    let mut found = EntriesFile::default();
    for (at, (one, span)) in reader.tables(table, "", "entry").into_iter().enumerate() {
        let path = format!("entry {}", at + 1);
        reader.known_fields(one, &path, &[&ENTRY_TEXTS[..], &["settled", "buffers"]].concat());
        let texts = texts(&mut reader, one, &path, &ENTRY_TEXTS);
        let said = |key: &str| texts.get(key).cloned().unwrap_or_default();
        if said("did").trim().is_empty() {
            reader.missing(
                &span,
                &path,
                "did",
                "say what was done: weighed, temperature, checked, note, ...",
            );
        }
        if said("did") == "photo" {
            let what = "a photo is not taken from a file of entries".to_owned();
            reader.wrong(one, &path, "did", what, "put it in on the page of the batch");
        }
        let entry = TypedEntry {
            id: said("id"),
            at: said("at"),
            did: said("did"),
            step: position(&mut reader, one, (&path, "step"), &said("step")),
            line: position(&mut reader, one, (&path, "line"), &said("line")),
            material: said("material"),
            lot: said("lot"),
            tare: said("tare"),
            gross: said("gross"),
            net: said("net"),
            unit: said("unit"),
            value: said("value"),
            text: said("text"),
            reason: said("reason"),
            decision: said("decision"),
            way: said("way"),
            buffers: buffers(&mut reader, one, &path),
            temperature_c: said("temperature_c"),
            method: said("method"),
            age: said("age"),
            settled: reader.bool(one, &path, "settled").unwrap_or_default(),
            instrument: said("instrument"),
            note: said("note"),
            paper: None,
        };
        found.entries.push(entry);
    }
    for (at, (one, _)) in reader.tables(table, "", "reading").into_iter().enumerate() {
        let path = format!("reading {}", at + 1);
        reader.known_fields(one, &path, &[&READING_TEXTS[..], &["conditions"]].concat());
        let texts = texts(&mut reader, one, &path, &READING_TEXTS);
        let said = |key: &str| texts.get(key).cloned().unwrap_or_default();
        let conditions = reader.table(one, &path, "conditions").map(|(inner, _)| {
            let of = join(&path, "conditions");
            inner
                .iter()
                .filter_map(|(key, value)| {
                    let key = key.get_ref().to_string();
                    Some((
                        key.clone(),
                        typed(&mut reader, value.get_ref(), (&value.span(), &join(&of, &key)))?,
                    ))
                })
                .collect::<BTreeMap<_, _>>()
        });
        found.readings.push(TypedReading {
            device: TypedDevice { id: said("id"), at: said("at") },
            quantity: said("quantity"),
            value: said("value"),
            unit: said("unit"),
            method: said("method"),
            temperature_c: said("temperature_c"),
            age: said("age"),
            instrument: said("instrument"),
            conditions: conditions.unwrap_or_default(),
            note: said("note"),
        });
    }
    for (at, (one, _)) in reader.tables(table, "", "observation").into_iter().enumerate() {
        let path = format!("observation {}", at + 1);
        reader.known_fields(one, &path, &["id", "at", "text"]);
        let texts = texts(&mut reader, one, &path, &["id", "at", "text"]);
        let said = |key: &str| texts.get(key).cloned().unwrap_or_default();
        let device = TypedDevice { id: said("id"), at: said("at") };
        found.observations.push(TypedObservation { device, text: said("text"), shows: String::new() });
    }
    let all = found.entries.len() + found.readings.len() + found.observations.len();
    if all == 0 || all > MOST {
        let what =
            if all == 0 { "nothing is entered".to_owned() } else { format!("{all} entries are too many") };
        let what_now = "write from one to 2000 of [[entry]], [[reading]] and [[observation]]";
        reader.complain(&(0..0), "no-entries", "entry".to_owned(), what, what_now);
    }
    let problems = reader.finish();
    if problems.is_empty() { Ok(found) } else { Err(problems) }
}

/// A value as text: quoted, or a number or a moment with its digits as they stand.
fn typed(
    reader: &mut Reader<'_>,
    value: &DeValue<'_>,
    (span, field): (&std::ops::Range<usize>, &str),
) -> Option<String> {
    match value {
        DeValue::String(text) => Some(text.to_string()),
        DeValue::Integer(number) if number.radix() == 10 => Some(number.as_str().replace('_', "")),
        DeValue::Float(number) => Some(number.as_str().replace('_', "")),
        DeValue::Datetime(moment) => Some(moment.to_string()),
        other => {
            let what = format!("text or a number is expected, this is {}", other.type_str());
            reader.complain(span, "not-text", field.to_owned(), what, "put it in quotes");
            None
        }
    }
}

fn texts(
    reader: &mut Reader<'_>,
    table: &DeTable<'_>,
    path: &str,
    keys: &[&'static str],
) -> BTreeMap<&'static str, String> {
    let mut found = BTreeMap::new();
    for key in keys {
        let Some(value) = table.get(*key) else { continue };
        if let Some(text) = typed(reader, value.get_ref(), (&value.span(), &join(path, key))) {
            found.insert(*key, text);
        }
    }
    found
}

/// The number of a step or a line; 0 where none is given.
fn position(reader: &mut Reader<'_>, table: &DeTable<'_>, (path, key): (&str, &str), text: &str) -> usize {
    if text.trim().is_empty() {
        return 0;
    }
    text.trim().parse().unwrap_or_else(|_| {
        let what = format!("\"{text}\" is no number of a {key}");
        reader.wrong(table, path, key, what, "write a whole number from 1");
        0
    })
}

fn buffers(reader: &mut Reader<'_>, table: &DeTable<'_>, path: &str) -> Vec<TypedBuffer> {
    let mut read = Vec::new();
    for (at, (one, _)) in reader.tables(table, path, "buffers").into_iter().enumerate() {
        let path = join(path, &format!("buffer {}", at + 1));
        reader.known_fields(one, &path, &["buffer", "ph", "mv"]);
        let texts = texts(reader, one, &path, &["buffer", "ph", "mv"]);
        let said = |key: &str| texts.get(key).cloned().unwrap_or_default();
        read.push(TypedBuffer { buffer: said("buffer"), ph: said("ph"), mv: said("mv") });
    }
    read
}

/// Keeps what a file holds on a batch: all of it, or nothing where anything in it cannot be kept.
///
/// An entry with an `id` is kept once under it. One with a moment of its own is kept once too: the same at the same moment is the same
/// entry. One with neither is one more each time.
///
/// # Errors
/// There is no such batch, something in the file cannot be kept, or the workspace refused.
pub async fn enter_all(
    workspace: &Workspace,
    facts: &Facts,
    (who, day): (&str, Date),
    batch: &str,
    file: &EntriesFile,
) -> Result<EnteredAll, KeepError> {
    let batch = batch_called(workspace, batch).await?;
    let records = gather_batch(workspace, batch.id).await?;
    let now = workspace.clock().now();
    let mut faults = Vec::new();
    let mut take = |path: String, result: Result<(), KeepError>| match result {
        Err(KeepError::Typed(found)) => {
            let named = |fault: FieldFault| FieldFault { field: join(&path, &fault.field), ..fault };
            faults.extend(found.into_iter().map(named));
            Ok(())
        }
        other => other,
    };
    let mut entries = Vec::new();
    for entry in &file.entries {
        entries.push(identified(workspace, batch.id, entry)?);
    }
    for (at, entry) in entries.iter().enumerate() {
        let read = super::typed::read_entry(facts, &records, now, entry, None).map(|_| ());
        take(format!("entry {}", at + 1), read)?;
    }
    for (at, reading) in file.readings.iter().enumerate() {
        let read = read_reading(records.trial.id, reading).map(|_| ());
        take(format!("reading {}", at + 1), read)?;
    }
    for (at, seen) in file.observations.iter().enumerate() {
        let empty = seen.text.trim().is_empty().then(|| {
            let why = "an observation is what you saw, smelled or felt";
            FieldFault::new("text", "nothing is written yet", why, "write it in a few words").into()
        });
        take(format!("observation {}", at + 1), empty.map_or(Ok(()), Err))?;
    }
    if !faults.is_empty() {
        return Err(KeepError::Typed(faults));
    }
    let mut kept = Vec::new();
    for entry in &entries {
        let once = keep_entry(workspace, facts, (who, day), batch.id, (entry, None)).await?;
        kept.push(EnteredRow { line: Some(entry.line).filter(|line| *line > 0), ..row(&entry.did, &once) });
    }
    for reading in &file.readings {
        kept.push(row("reading", &add_reading(workspace, who, records.trial.id, reading).await?));
    }
    for seen in &file.observations {
        kept.push(row("observation", &observe(workspace, who, records.trial.id, seen, None).await?));
    }
    let state = batch_state(&gather_batch(workspace, batch.id).await?, day);
    for row in &mut kept {
        if let Some(line) = state.lines.iter().find(|line| Some(line.number) == row.line) {
            row.verdict = line.verdict;
            row.slip.clone_from(&line.slip);
        }
    }
    Ok(EnteredAll { batch: state.code.clone(), kept, next: next_step(&state) })
}

/// Keeps the record of a logger on a batch, once, however often it is given.
///
/// # Errors
/// There is no such batch, the file is no record of temperatures, or the workspace refused.
pub async fn keep_log(
    workspace: &Workspace,
    facts: &Facts,
    by: (&str, Date),
    batch: &str,
    (name, text): (&str, &str),
) -> Result<EnteredAll, KeepError> {
    let of = batch_called(workspace, batch).await?;
    let entry = TypedEntry {
        id: identity(of.id, &format!("temperature_log\n{text}")).to_string(),
        did: "temperature_log".to_owned(),
        text: text.to_owned(),
        note: name.to_owned(),
        ..TypedEntry::default()
    };
    let file = EntriesFile { entries: vec![entry], ..EntriesFile::default() };
    enter_all(workspace, facts, by, batch, &file).await
}

/// The entry with an identity: without one, and without a moment, nothing tells it from the next.
fn identified(workspace: &Workspace, batch: Id<Batch>, entry: &TypedEntry) -> Result<TypedEntry, StoreError> {
    let mut entry = entry.clone();
    if entry.id.trim().is_empty() {
        entry.id = if entry.at.trim().is_empty() {
            Id::<BatchEntry>::new(workspace.clock().now(), workspace.dice())?.to_string()
        } else {
            identity(batch, &serde_json::to_string(&entry).unwrap_or_default()).to_string()
        };
    }
    Ok(entry)
}

fn row<T>(what: &str, once: &KeptOnce<T>) -> EnteredRow {
    EnteredRow {
        what: what.to_owned(),
        id: once.kept.id.to_string(),
        number: once.kept.number,
        already: once.already,
        line: None,
        verdict: "",
        slip: String::new(),
    }
}

fn next_step(state: &BatchState) -> Option<NextStep> {
    let step = state.steps.get(state.next?.checked_sub(1)?)?;
    Some(NextStep { number: step.number, text: step.text.clone() })
}

//! What was done on a batch as a table for spreadsheets: one row for each entry, struck ones too, as typed.

use crate::DocumentError;
use crate::sheet::harmless;
use levigate_project::records::TypedNumber;
use levigate_project::workbench::batch::{BatchState, EntryState};

const HEAD: [&str; 21] = [
    "batch",
    "entry",
    "identity",
    "done",
    "kept",
    "who",
    "did",
    "step",
    "line",
    "material",
    "lot",
    "tare",
    "gross",
    "net",
    "unit",
    "instrument",
    "in_words",
    "corrects",
    "reason",
    "struck_by",
    "after_sign_off",
];

/// The entries as CSV (UTF-8, comma, CRLF, quoted where needed). Text that a spreadsheet would take for a formula is given an
/// apostrophe in front; digits are as typed.
///
/// # Errors
/// Only if the writer fails, which memory does not.
pub fn batch_csv(state: &BatchState) -> Result<Vec<u8>, DocumentError> {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    let failed = |error: csv::Error| DocumentError::Writing { why: error.to_string() };
    writer.write_record(HEAD).map_err(failed)?;
    for entry in &state.entries {
        let row = row(state, entry).map(|cell| harmless(&cell));
        writer.write_record(row).map_err(failed)?;
    }
    writer.into_inner().map_err(|error| DocumentError::Writing { why: error.to_string() })
}

fn row(state: &BatchState, entry: &EntryState) -> [String; 21] {
    let kept = &entry.entry;
    let fields = serde_json::to_value(&kept.did).unwrap_or_default();
    let field = |name: &str| match &fields[name] {
        serde_json::Value::String(text) => text.clone(),
        serde_json::Value::Number(number) => number.to_string(),
        _ => String::new(),
    };
    let mass = kept.did.mass();
    let typed = |number: Option<&TypedNumber>| number.map(|number| number.typed.clone()).unwrap_or_default();
    let (corrects, reason) = match &entry.corrects {
        Some((number, reason)) => (number.to_string(), reason.clone()),
        None => Default::default(),
    };
    [
        state.code.clone(),
        entry.number.to_string(),
        entry.id.to_string(),
        kept.device_time.to_string(),
        entry.when.to_string(),
        entry.who.clone(),
        if kept.withdrawn { "taken back".to_owned() } else { kept.did.word().to_owned() },
        kept.step.map(|step| step.to_string()).unwrap_or_default(),
        field("line"),
        field("material"),
        kept.did.lot().map(|lot| lot.code.clone()).unwrap_or_default(),
        typed(mass.and_then(|mass| mass.tare.as_ref())),
        typed(mass.and_then(|mass| mass.gross.as_ref())),
        typed(mass.and_then(|mass| mass.net.as_ref())),
        mass.map(|mass| mass.unit.clone()).unwrap_or_default(),
        kept.instrument.clone(),
        entry.words(),
        corrects,
        reason,
        entry.struck.as_ref().map(|struck| struck.by.to_string()).unwrap_or_default(),
        if kept.after_sign_off { "yes".to_owned() } else { String::new() },
    ]
}

//! Everything that was entered on a batch, as typed, with what became of it.

use crate::document::{Block, Cell, Column, Row, Table};
use crate::papers::{SPACE, capitalised, moment};
use levigate_project::records::{Did, TypedMass};
use levigate_project::workbench::batch::{BatchState, EntryState};
use rust_decimal::Decimal;

/// Minutes between doing and keeping from which on both are told.
const LATE_MIN: i64 = 5;
/// Place of the column that says by whom.
const BY: usize = 2;

/// The entries in the order they were kept.
pub(super) fn entries(state: &BatchState) -> Vec<Block> {
    if state.entries.is_empty() {
        return vec![Block::words("Nothing was entered.")];
    }
    let by = |entry: &EntryState| format!("{}, {}", entry.who, entry.known_by);
    let alike = state.entries.windows(2).all(|pair| by(&pair[0]) == by(&pair[1]));
    let mut intro =
        "As typed, in the order they were kept; times are when it was done, in universal time.".to_owned();
    let mut columns = vec![
        Column::numbers("No.", 11.0),
        Column::words("Done, UTC", 36.0),
        Column::words("By", 36.0),
        Column::words("What", None),
        Column::numbers("g", 19.0),
        Column::words("Instrument", 30.0),
    ];
    let mut rows: Vec<Row> = state.entries.iter().map(|entry| entry_row(state, entry)).collect();
    // One name for all is said once, not in every row.
    if let Some(first) = state.entries.first().filter(|_| alike) {
        intro.push_str(&format!(" All of them by {}.", by(first)));
        columns.remove(BY);
        rows.iter_mut().for_each(|row| drop(row.cells.remove(BY)));
    }
    vec![Block::words(intro), Block::Table(Table { columns, rows })]
}

fn entry_row(state: &BatchState, entry: &EntryState) -> Row {
    let kept = &entry.entry;
    let (mut heed, mut below) = (Vec::new(), Vec::new());
    if let Some((number, reason)) = &entry.corrects {
        let verb = if kept.withdrawn { "Takes back entry" } else { "Stands instead of entry" };
        heed.push(format!("{verb} {number}: {reason}"));
    }
    if let Some(struck) = &entry.struck {
        heed.push(format!(
            "Struck out by entry {} ({}, {} UTC): {}",
            struck.by,
            struck.who,
            moment(struck.when),
            struck.reason
        ));
    }
    match &kept.paper {
        Some(paper) if !kept.withdrawn => {
            let words = entry.from_paper().unwrap_or_default();
            below.push(format!(
                "{}; typed {} UTC by {}",
                capitalised(&words),
                moment(paper.typed_at),
                entry.who
            ));
        }
        _ if (entry.when.as_second() - kept.device_time.as_second()).abs() > LATE_MIN * 60 => {
            below.push(format!("Kept {} UTC", moment(entry.when)));
        }
        _ => {}
    }
    if kept.after_sign_off {
        heed.push("After the batch had been signed off".to_owned());
    }
    if !kept.note.is_empty() {
        below.push(format!("Remark: {}", kept.note));
    }
    let mass = kept.did.mass();
    let grams = mass.and_then(|mass| mass.net_g().or_else(|| mass.gross_g()));
    Row {
        cells: vec![
            Cell { number: Some(Decimal::from(entry.number)), ..Cell::words(entry.number.to_string()) },
            Cell::words(moment(kept.device_time)),
            Cell::words(format!("{}, {}", entry.who, entry.known_by)),
            Cell::words(words(state, entry)),
            if kept.withdrawn { Cell::default() } else { Cell::maybe(grams) },
            Cell::words(&kept.instrument),
        ],
        struck: entry.struck.is_some(),
        heed,
        below,
    }
}

/// What was done in a sentence; of a kind without one by the fields it was kept with.
fn words(state: &BatchState, entry: &EntryState) -> String {
    let kept = &entry.entry;
    if kept.withdrawn {
        return "Taken back".to_owned();
    }
    let step = kept.step.map(|step| format!("Step {step}")).unwrap_or_else(|| "A step".to_owned());
    let named = |name: &str, more: &str| match (more, kept.did.mass()) {
        ("", Some(mass)) => format!("{name}: {}", weight(mass)),
        (more, Some(mass)) => format!("{name}, {more}: {}", weight(mass)),
        (more, None) => format!("{name} {more}").trim().to_owned(),
    };
    let lot = kept.did.lot().map(|lot| format!("lot {}", lot.code)).unwrap_or_default();
    match &kept.did {
        Did::Weighed { line, .. } => {
            let of = state.lines.iter().find(|known| known.number == *line);
            named(&format!("Line {line}, {}", of.map_or("", |known| known.name.as_str())), &lot)
        }
        Did::Water { .. } => named("Water given back", &lot),
        Did::Vessel { .. } => named("Empty vessel", ""),
        Did::Gross { .. } => named("Vessel with the batch", ""),
        Did::Output { .. } => named("Good product", ""),
        Did::Sample { purpose, .. } => named("Sample", purpose),
        Did::Lost { purpose, .. } => named("Known loss", purpose),
        Did::Temperature { value } => format!("{step} at {}{SPACE}\u{00B0}C", value.typed),
        Did::Speed { value } => format!("{step}, stirrer at {}{SPACE}rpm", value.typed),
        Did::Started => format!("{step} begun"),
        Did::Finished => format!("{step} done"),
        Did::Skipped { reason } => format!("{step} left out: {reason}"),
        Did::Checked { what, found } => format!("{}: {found}", capitalised(what)),
        Did::Note { text } => text.clone(),
        Did::Deviation { text, reason, decision } => {
            let decided = if decision.is_empty() { "nothing written" } else { decision };
            format!("Otherwise than planned: {text}. Why: {reason}. Decided: {decided}")
        }
        _ => capitalised(&entry.done()),
    }
}

fn weight(mass: &TypedMass) -> String {
    let parts = [("", &mass.net), ("gross ", &mass.gross), ("tare ", &mass.tare)];
    let parts = parts.into_iter().filter_map(|(name, number)| {
        number.as_ref().map(|number| format!("{name}{}{SPACE}{}", number.typed, mass.unit))
    });
    parts.collect::<Vec<_>>().join(", ")
}

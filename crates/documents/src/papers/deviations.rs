//! The list of what went otherwise than planned, over a batch or over a span of days.

use super::{capitalised, moment};
use crate::document::{Block, Cell, Column, Document, Row, Section, Table};
use levigate_project::paper_code;
use levigate_project::workbench::batch::{Deviated, DeviationList};

/// The list on paper.
#[must_use]
pub fn deviation_list(list: &DeviationList) -> Document {
    let span = match (list.from, list.to) {
        (Some(from), Some(to)) => format!("{from} to {to}"),
        _ => list.day.to_string(),
    };
    let code = match (&list.batch, &list.version_code) {
        (Some(batch), Some(version)) => paper_code::of_batch("deviations", batch, version),
        _ => paper_code::of_version("deviations", &span.replace(" to ", "/")),
    };
    let title = list.batch.as_ref().map_or_else(|| span.clone(), |batch| format!("Batch {batch}"));
    let struck = list.rows.iter().filter(|row| row.struck.is_some()).count();
    let mut particulars = vec![
        ("In force".to_owned(), (list.rows.len() - struck).to_string()),
        ("Struck out".to_owned(), struck.to_string()),
        ("Batches gone through".to_owned(), list.batches.to_string()),
    ];
    if list.batch.is_some() {
        particulars.push(("As of".to_owned(), list.day.to_string()));
    }
    let mut blocks = vec![Block::words(
        "What people wrote down, steps that were left out, what was decided about too much of a line, and lines that ended outside their \
         tolerance. Times are when it was done, in universal time.",
    )];
    if list.rows.is_empty() {
        blocks.push(Block::words("Nothing went otherwise than planned, as far as the record shows."));
    } else {
        blocks.push(Block::Table(table(list)));
    }
    Document {
        kind: "List of deviations".to_owned(),
        running: match &list.batch {
            Some(batch) => format!("Deviations, batch {batch}, as of {}", list.day),
            None => format!("Deviations, {span}"),
        },
        title,
        date: list.day.to_string(),
        code,
        particulars,
        sections: vec![Section { name: "What went otherwise".to_owned(), blocks }],
    }
}

fn table(list: &DeviationList) -> Table {
    let columns = vec![
        Column::words("Batch, entry", 27.0),
        Column::words("When, UTC", 36.0),
        Column::words("What", None),
        Column::words("Why", 32.0),
        Column::words("Decided", 32.0),
    ];
    Table { columns, rows: list.rows.iter().map(row).collect() }
}

fn row(row: &Deviated) -> Row {
    let place = match (row.entry, row.step) {
        (Some(entry), Some(step)) => format!("{}, entry {entry}, step {step}", row.batch),
        (Some(entry), None) => format!("{}, entry {entry}", row.batch),
        _ => row.batch.clone(),
    };
    let or = |text: &str, empty: &str| if text.is_empty() { empty.to_owned() } else { text.to_owned() };
    let asked = if row.kind == "off target" { "" } else { "nothing written" };
    let below = vec![format!("{}, version {}; {}, {}", row.product, row.version, row.who, row.known_by)];
    let struck = row.struck.iter().map(|struck| format!("Struck out by {}: {}", struck.who, struck.reason));
    Row {
        cells: vec![
            Cell::words(place),
            Cell::words(moment(row.when)),
            Cell::words(format!("{}: {}", capitalised(row.kind), row.text)),
            Cell::words(or(&row.reason, if row.kind == "too much" { "" } else { asked })),
            Cell::words(or(&row.decision, if row.kind == "left out" { "" } else { asked })),
        ],
        struck: row.struck.is_some(),
        heed: struck.collect(),
        below,
    }
}

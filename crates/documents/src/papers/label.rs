//! The text of the label: the ingredient list as printed, warnings, and what the reader must decide.

use crate::document::{Block, Cell, Column, Document, Row, Section, Table};
use levigate_project::paper_code;
use levigate_project::workbench::label::LabelReading;

/// The label text of a version on paper. `version_code` is that of the formula text.
#[must_use]
pub fn label_text(label: &LabelReading, version_code: &str) -> Document {
    let market = label.market.to_uppercase();
    let mut sections = Vec::new();
    match &label.label {
        Some(list) => {
            let mut blocks = vec![Block::words(format!("{}: {}", list.heading, list.text))];
            blocks.extend(list.warnings.iter().map(|warning| {
                let quoted =
                    if warning.warning.quoted { "" } else { " (not quoted: take the wording from the act)" };
                Block::heed(format!("{}{quoted}; {}", warning.warning.text, warning.because))
            }));
            blocks.push(Block::words(format!("By {}; {}.", list.act, list.status.words())));
            sections.push(Section { name: "On the label".to_owned(), blocks });
            let columns = vec![
                Column::numbers("No.", 12.0),
                Column::words("Name", 70.0),
                Column::words("To be known", None),
            ];
            let rows = list.entries.iter().enumerate().map(|(at, entry)| {
                let number = (at + 1).to_string();
                Row::of(vec![
                    Cell::words(number),
                    Cell::words(&entry.name),
                    Cell::words(entry.remarks.join(" ")),
                ])
            });
            let table = Table { columns, rows: rows.collect() };
            sections.push(Section { name: "Names in order".to_owned(), blocks: vec![Block::Table(table)] });
            let notes: Vec<Block> = list.notes.iter().map(|note| Block::words(&note.text)).collect();
            sections.push(Section { name: "To be decided".to_owned(), blocks: notes });
        }
        None => sections.push(Section {
            name: "On the label".to_owned(),
            blocks: vec![Block::heed(label.refused.clone().unwrap_or_default())],
        }),
    }
    sections.retain(|section| !section.blocks.is_empty());
    Document {
        kind: "Label text".to_owned(),
        title: label.product.clone(),
        date: label.as_of.clone(),
        running: format!("{}, label text, {market}, rules as of {}", label.product, label.as_of),
        code: paper_code::of_version("label", version_code),
        particulars: vec![
            ("Market".to_owned(), market),
            ("Version".to_owned(), version_code.to_owned()),
            ("Rules as of".to_owned(), label.as_of.clone()),
        ],
        sections,
    }
}

//! The batch sheet as a document, for the workbook; its pages have a layout of their own.

use crate::document::{Block, Cell, Column, Document, Row, Section, Table};
use levigate_project::batch_sheet::{BatchLine, BatchSheet, BatchStep, Part};
use levigate_project::paper_code;
use rust_decimal::Decimal;

/// The batch sheet with empty cells for what is weighed.
#[must_use]
pub fn sheet_document(sheet: &BatchSheet) -> Document {
    let rows = sheet.steps.iter().flat_map(|step| step.lines.iter().map(move |line| row(step, line)));
    let columns = [
        "Line",
        "Phase",
        "Raw material",
        "% w/w",
        "Weigh, g",
        "\u{00B1} g",
        "How it is meant",
        "Lot",
        "Reading 1, g",
        "Reading 2, g",
        "Time",
        "Initials",
        "Heed",
    ];
    let columns = columns.map(|head| Column::words(head, None)).to_vec();
    let lines = Table { columns, rows: rows.collect() };
    let mut sections = vec![Section { name: "Lines".to_owned(), blocks: vec![Block::Table(lines)] }];
    let making = sheet.making.iter().map(|step| {
        let lines =
            step.lines.iter().map(|line| format!("line {} {}, {} g", line.number, line.name, line.grams));
        Row::of(vec![
            Cell { number: Some(Decimal::from(step.number)), ..Cell::words(step.number.to_string()) },
            Cell::words(&step.instruction),
            Cell::words(&step.how),
            Cell::words(lines.collect::<Vec<_>>().join("; ")),
            Cell::words(step.checks.join("; ")),
            Cell::words(step.cautions.join(" ")),
        ])
    });
    let heads = ["Step", "What is done", "How", "What goes in", "Look at", "Heed"];
    let making =
        Table { columns: heads.map(|head| Column::words(head, None)).to_vec(), rows: making.collect() };
    if !making.rows.is_empty() {
        sections.push(Section { name: "How it is made".to_owned(), blocks: vec![Block::Table(making)] });
    }
    let mut words: Vec<Block> = sheet
        .weak_lines()
        .map(|line| {
            let ways =
                line.remedies.iter().map(|remedy| remedy.text.clone()).collect::<Vec<_>>().join(" Or: ");
            Block::words(format!("Line {}, {}: {}. {ways}", line.number, line.name, line.verdict))
        })
        .collect();
    words.extend(sheet.notes.iter().map(|note| Block::words(&note.text)));
    sections.push(Section { name: "To be known".to_owned(), blocks: words });
    sections.retain(|section| !section.blocks.is_empty());
    let mut particulars = vec![
        ("Batch, g".to_owned(), sheet.size_g.to_string()),
        ("Balance reads, g".to_owned(), sheet.balance.readability_g.to_string()),
        ("Version".to_owned(), sheet.version_code.clone()),
        ("Date".to_owned(), sheet.date.clone()),
        ("Vessel".to_owned(), sheet.vessel.text.clone()),
    ];
    particulars.extend(sheet.client.iter().map(|client| ("For".to_owned(), client.clone())));
    Document {
        kind: "Batch sheet".to_owned(),
        title: sheet.product.clone(),
        date: sheet.date.clone(),
        running: format!("{}, {} g, version {}", sheet.product, sheet.size_g, sheet.version_code),
        code: paper_code::of_version("sheet", &sheet.version_code),
        particulars,
        sections,
    }
}

fn row(step: &BatchStep, line: &BatchLine) -> Row {
    let meant = match &line.part {
        Part::Fixed => String::new(),
        Part::Remainder => "q.s. to 100".to_owned(),
        Part::ToPh { ph, first_g, .. } if first_g.is_zero() => format!("to pH {ph}, by the meter"),
        Part::ToPh { ph, first_g, .. } => format!("to pH {ph}, first {first_g} g"),
    };
    let cautions = line.cautions.iter().map(|caution| caution.text.clone()).collect::<Vec<_>>();
    Row::of(vec![
        Cell { number: Some(Decimal::from(line.number)), ..Cell::words(line.number.to_string()) },
        Cell::words(&step.phase),
        Cell::words(&line.name),
        Cell::number(line.percent),
        Cell::number(line.grams).strongly(),
        Cell::number(line.tolerance_g),
        Cell::words(meant),
        Cell::words(line.lot.clone().unwrap_or_default()),
        Cell::default(),
        Cell::default(),
        Cell::default(),
        Cell::default(),
        Cell::words(cautions.join(" ")),
    ])
}

//! What to send to a challenge test, on paper, with lines to write in what the laboratory and the sample say.

use super::SPACE;
use crate::document::{Block, Cell, Column, Document, Row, Section, Table};
use levigate_measure::Outcome;
use levigate_project::paper_code;
use levigate_project::workbench::submission::{Sent, Submission};

/// The order on paper.
#[must_use]
pub fn submission_paper(of: &Submission) -> Document {
    let section = |name: &str, blocks: Vec<Block>| Section { name: name.to_owned(), blocks };
    let words = |list: &[String]| list.iter().map(Block::words).collect::<Vec<_>>();
    let mut sections = vec![
        section(
            "pH to send",
            vec![
                Block::words(capital(&of.edge)),
                Block::blanks(&["pH measured", "at, C", "Date", "Initials"], 4),
            ],
        ),
        section("Samples", {
            let mut blocks = words(&of.samples);
            blocks.push(Block::blanks(
                &["Batch", "Made on", "Pack", "Aged how and how long", "Amount sent, g", "Number of packs"],
                3,
            ));
            blocks
        }),
        section(
            "Preservatives and what stops them",
            vec![
                Block::Table(preservatives(&of.preservatives)),
                Block::heed(
                    "A hint for the order, from memory of laboratories' practice: the laboratory shows on the product itself that its neutraliser works.",
                ),
            ],
        ),
        section(
            "Organisms",
            vec![
                Block::words(of.organisms.join(", ")),
                Block::blanks(&["Further organisms", "Method", "Days of counting"], 3),
            ],
        ),
        section("To be reported", words(&of.asked)),
        section("Not said by the formula", words(&of.open)),
        section(
            "Sent",
            vec![Block::blanks(&["Laboratory", "Sent on", "By", "Received on", "By", "Number there"], 3)],
        ),
    ];
    sections.retain(|section| !section.blocks.is_empty());
    let mut particulars =
        vec![("Version".to_owned(), of.version_code.clone()), ("As of".to_owned(), of.as_of.clone())];
    particulars.extend(of.client.iter().map(|client| ("For".to_owned(), client.clone())));
    Document {
        kind: "Order of a challenge test".to_owned(),
        title: of.product.clone(),
        date: of.as_of.clone(),
        running: format!("{}, order of a challenge test, version {}", of.product, of.version_code),
        code: paper_code::of_version("submission", &of.version_code),
        particulars,
        sections,
    }
}

fn preservatives(list: &[Sent]) -> Table {
    let amount = |outcome: &Option<Outcome>| {
        let value = outcome.as_ref().and_then(|outcome| outcome.value);
        value.map_or_else(String::new, |value| format!("{value:.3}{SPACE}%"))
    };
    let row = |one: &Sent| {
        Row::of(vec![
            Cell::words(&one.name).strongly(),
            Cell::words(&one.weighed),
            Cell::words(amount(&one.at_low)),
            Cell::words(amount(&one.at_high)),
            Cell::words(if one.neutraliser.is_empty() { "none on file" } else { &one.neutraliser }),
        ])
    };
    Table {
        columns: vec![
            Column::words("Preservative", 38.0),
            Column::words("As weighed", 28.0),
            Column::words("Works at the low edge", 28.0),
            Column::words("At the high edge", 26.0),
            Column::words("May be stopped by", None),
        ],
        rows: list.iter().map(row).collect(),
    }
}

fn capital(text: &str) -> String {
    let mut signs = text.chars();
    signs.next().map_or_else(String::new, |first| format!("{}{}.", first.to_uppercase(), signs.as_str()))
}

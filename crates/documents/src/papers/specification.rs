//! The specification of a product on paper, with lines to write in what the formula does not say.

use super::SPACE;
use crate::document::{Block, Cell, Column, Document, Row, Section, Table};
use levigate_measure::Outcome;
use levigate_project::paper_code;
use levigate_project::workbench::specification::{Microbes, Property, Specification};

/// The specification on paper.
#[must_use]
pub fn specification_paper(of: &Specification) -> Document {
    let mut sections =
        vec![Section { name: "What is tested".to_owned(), blocks: vec![Block::Table(properties(of))] }];
    if let Some(microbes) = &of.microbes {
        sections.push(Section { name: "Microbes".to_owned(), blocks: microbe_limits(microbes) });
    }
    if let Some(label) = &of.label {
        let mut blocks = vec![Block::words(format!("{}: {}", label.heading, label.text))];
        blocks.extend(label.warnings.iter().map(|warning| Block::heed(&warning.warning.text)));
        blocks.push(Block::words(format!(
            "By {}, market {}, rules as of {}.",
            label.act,
            of.market.to_uppercase(),
            of.as_of
        )));
        sections.push(Section { name: "Ingredients".to_owned(), blocks });
    }
    let mut keeping: Vec<Block> = Vec::new();
    if !of.keeping.is_empty() {
        keeping.push(Block::Pairs { pairs: of.keeping.clone() });
    }
    keeping.push(Block::blanks(&["Store at", "Keep from light and air", "Transport"], 3));
    sections.push(Section { name: "Pack and keeping".to_owned(), blocks: keeping });
    sections.push(Section {
        name: "Not said by the formula".to_owned(),
        blocks: of.open.iter().map(Block::words).collect(),
    });
    sections.push(Section {
        name: "Signed".to_owned(),
        blocks: vec![Block::blanks(&["Written by", "Date", "Approved by", "Date"], 2)],
    });
    sections.retain(|section| !section.blocks.is_empty());
    let mut particulars = vec![
        ("Version".to_owned(), of.version_code.clone()),
        ("Product".to_owned(), of.used.clone()),
        ("As of".to_owned(), of.as_of.clone()),
    ];
    particulars.extend(of.client.iter().map(|client| ("For".to_owned(), client.clone())));
    Document {
        kind: "Specification of the product".to_owned(),
        title: of.product.clone(),
        date: of.as_of.clone(),
        running: format!("{}, specification, version {}", of.product, of.version_code),
        code: paper_code::of_version("specification", &of.version_code),
        particulars,
        sections,
    }
}

fn properties(of: &Specification) -> Table {
    let columns = vec![
        Column::words("Property", 30.0),
        Column::words("Limits", 44.0),
        Column::words("Method and conditions", None),
        Column::words("Computed for the formula", 40.0),
    ];
    let row = |property: &Property| {
        let limits = if property.limits.is_empty() { "____________________" } else { &property.limits };
        Row::of(vec![
            Cell::words(&property.name),
            Cell::words(limits).strongly(),
            Cell::words(&property.method),
            Cell::words(property.expected.as_ref().map(expected).unwrap_or_default()),
        ])
    };
    Table { columns, rows: of.properties.iter().map(row).collect() }
}

/// A computed value with its interval, in the digits that mean something.
fn expected(outcome: &Outcome) -> String {
    let Some(value) = outcome.value else {
        return outcome.refused.clone().map(|why| format!("none: {why}")).unwrap_or_default();
    };
    let unit = if outcome.unit.is_empty() { String::new() } else { format!("{SPACE}{}", outcome.unit) };
    match (outcome.low, outcome.high) {
        (Some(low), Some(high)) if high > low => format!("{value:.2}{unit} ({low:.2} to {high:.2})"),
        _ => format!("{value:.2}{unit}"),
    }
}

fn microbe_limits(microbes: &Microbes) -> Vec<Block> {
    let limits = &microbes.limits;
    let count = limits.most.value.map(|most| format!("at most {most:.0}{SPACE}CFU/g")).unwrap_or_default();
    let above = limits.most.inputs.iter().find_map(|input| input.value);
    let mut pairs = vec![(
        "Aerobic mesophilic bacteria, yeast and mould together".to_owned(),
        match above {
            Some(above) => {
                format!("{count}; a single count is out of limit only above {above:.0}{SPACE}CFU/g")
            }
            None => count,
        },
    )];
    pairs.extend(limits.absent.iter().map(|organism| (organism.clone(), format!("absent in 1{SPACE}g"))));
    let mut blocks = vec![
        Block::words(format!(
            "Limits of {}, a standard and not law; its class here: {}. The formula itself sets none.",
            microbes.standard, microbes.class
        )),
        Block::Pairs { pairs },
    ];
    let known = limits.most.notes.iter().filter(|note| note.code == "from-memory");
    blocks.extend(known.map(|note| Block::heed(&note.text)));
    blocks
}

//! What lies between two trials, on paper and as a workbook.

use super::capitalised;
use crate::document::{Block, Cell, Column, Document, Row, Section, Table};
use jiff::civil::Date;
use levigate_measure::Outcome;
use levigate_project::paper_code;
use levigate_project::workbench::trials::{AttributeEffects, Effects, Scale};
use rust_decimal::Decimal;
use rust_decimal::prelude::FromPrimitive;

/// Significant figures of a number that was computed.
const FIGURES: u32 = 4;

/// The difference of two trials of a product.
#[must_use]
pub fn two_trials(told: &Effects, product: &str, day: Date) -> Document {
    let (left, right) = (told.left, told.right);
    let mut sections = vec![Section { name: "What differs".to_owned(), blocks: vec![differs(told)] }];
    if let Some(why) = &told.refused {
        let text = format!("What the differences did cannot be told: {why}.");
        sections.push(Section { name: "What it did".to_owned(), blocks: vec![Block::heed(text)] });
    } else {
        sections.push(Section { name: "Every reading".to_owned(), blocks: vec![overview(told)] });
    }
    sections.extend(
        told.attributes.iter().map(|one| Section { name: capitalised(&one.name), blocks: of_one(one, told) }),
    );
    Document {
        kind: "Two trials".to_owned(),
        title: product.to_owned(),
        date: day.to_string(),
        running: format!("{product}: from trial {left} to trial {right}"),
        code: paper_code::of_version("trials", &format!("{left}-{right}")),
        particulars: vec![
            ("From".to_owned(), format!("trial {left}")),
            ("To".to_owned(), format!("trial {right}")),
            ("Computed on".to_owned(), day.to_string()),
        ],
        sections,
    }
}

fn or_dash(text: &str) -> Cell {
    Cell::words(if text.is_empty() { "\u{2013}" } else { text })
}

fn differs(told: &Effects) -> Block {
    if told.differs.is_empty() {
        return Block::words("Nothing is found to differ: lines, lots, weights and making are the same.");
    }
    let rows = told.differs.iter();
    Block::Table(Table {
        columns: vec![
            Column::words("Found to differ", 55.0),
            Column::words(&format!("trial {}", told.left), None),
            Column::words(&format!("trial {}", told.right), None),
        ],
        rows: rows
            .map(|one| Row::of(vec![Cell::words(one.what.clone()), or_dash(&one.was), or_dash(&one.now)]))
            .collect(),
    })
}

/// A number with its digits, and its interval in words.
fn cells(outcome: Option<&Outcome>) -> [Cell; 2] {
    let number = |value: f64| Decimal::from_f64(value)?.round_sf(FIGURES).map(|number| number.normalize());
    let Some(outcome) = outcome else { return [Cell::default(), Cell::default()] };
    let range = outcome.low.and_then(number).zip(outcome.high.and_then(number));
    let range = range.map(|(low, high)| format!("{low} to {high}").replace('-', "\u{2212}"));
    [Cell::maybe(outcome.value.and_then(number)), Cell::words(range.unwrap_or_default())]
}

fn unit_of(one: &AttributeEffects) -> String {
    match one.scale {
        Scale::Factor => "factor".to_owned(),
        Scale::Difference => {
            one.explained.as_ref().map(|explained| explained.unit.to_string()).unwrap_or_default()
        }
    }
}

fn overview(told: &Effects) -> Block {
    let rows = told.attributes.iter().map(|one| {
        let name = Cell::words(capitalised(&one.name));
        if let Some(why) = &one.refused {
            return Row {
                cells: vec![name],
                below: vec![format!("Nothing can be told: {why}.")],
                ..Row::default()
            };
        }
        let number = |outcome: Option<&Outcome>| {
            let [number, _] = cells(outcome);
            number
        };
        let own_unit = one.predicted.first().map(|expected| expected.unit.to_string()).unwrap_or_default();
        Row::of(vec![
            name,
            number(one.predicted.first()),
            number(one.predicted.get(1)),
            Cell::words(own_unit),
            number(one.explained.as_ref()),
            number(one.measured.as_ref()),
            number(one.unexplained.as_ref()),
            Cell::words(unit_of(one)),
        ])
    });
    Block::Table(Table {
        columns: vec![
            Column::words("Reading", None),
            Column::numbers(&format!("Trial {}", told.left), 18.0),
            Column::numbers(&format!("Trial {}", told.right), 18.0),
            Column::words("unit", 16.0),
            Column::numbers("Explained", 20.0),
            Column::numbers("Read", 18.0),
            Column::numbers("Unexplained", 22.0),
            Column::words("in", 16.0),
        ],
        rows: rows.collect(),
    })
}

fn of_one(one: &AttributeEffects, told: &Effects) -> Vec<Block> {
    if let Some(why) = &one.refused {
        return vec![Block::words(format!("Nothing can be told: {why}."))];
    }
    let mut blocks =
        vec![Block::words(format!("{}.", capitalised(&one.conditions))), Block::words(one.say.clone())];
    let row = |what: &str, was: &str, now: &str, outcome: &Outcome| {
        let [number, range] = cells(Some(outcome));
        Row::of(vec![Cell::words(what), or_dash(was), or_dash(now), number, range])
    };
    let mut rows: Vec<Row> =
        one.differences.iter().map(|each| row(&each.what, &each.was, &each.now, &each.effect)).collect();
    let sums =
        [("Explained together", &one.explained), ("Read", &one.measured), ("Unexplained", &one.unexplained)];
    rows.extend(sums.into_iter().filter_map(|(name, outcome)| Some(row(name, "", "", outcome.as_ref()?))));
    let head = match one.scale {
        Scale::Factor => "factor".to_owned(),
        Scale::Difference => format!("change {}", unit_of(one)).trim_end().to_owned(),
    };
    blocks.push(Block::Table(Table {
        columns: vec![
            Column::words("Differs", 42.0),
            Column::words(&format!("trial {}", told.left), None),
            Column::words(&format!("trial {}", told.right), None),
            Column::numbers(&head, 26.0),
            Column::words("95 of 100 within", 36.0),
        ],
        rows,
    }));
    let others = one.not_computed.iter().filter(|_| one.measured.is_some());
    blocks.extend(others.map(|other| {
        let or = |text: &str| if text.is_empty() { "nothing written".to_owned() } else { text.to_owned() };
        Block::words(format!(
            "{}: {}, then {}. Not computed: {}.",
            other.what,
            or(&other.was),
            or(&other.now),
            other.why
        ))
    }));
    if !one.next.is_empty() {
        blocks.push(Block::words(format!("The next trial: {}", one.next)));
    }
    blocks
}

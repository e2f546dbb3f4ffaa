//! Readings as tables, one module per part of an assessment.

pub(crate) mod contents;
pub(crate) mod findings;
pub(crate) mod rules;
pub(crate) mod water;

use crate::numbers;
use crate::paper::{Lean, Paper};
use levigate_assess::Assessment;
use levigate_measure::{Note, Outcome};

/// Heads of a table of results.
pub(crate) const RESULT_HEADS: [(&str, Lean); 4] =
    [("", Lean::Left), ("value", Lean::Right), ("interval", Lean::Left), ("evidence", Lean::Left)];

/// One result as a row: name with unit, value, interval, evidence.
pub(crate) fn result_row(name: &str, outcome: &Outcome) -> Vec<String> {
    let name = if outcome.unit.is_empty() { name.to_owned() } else { format!("{name}, {}", outcome.unit) };
    let (value, interval) = match outcome.value {
        Some(value) => {
            (numbers::value(value, outcome.low, outcome.high), numbers::interval(outcome).unwrap_or_default())
        }
        None => ("–".to_owned(), outcome.refused.clone().unwrap_or_else(|| "not known".to_owned())),
    };
    vec![name, value, interval, numbers::grade(outcome)]
}

/// Notes of several results, each text once.
pub(crate) fn notes<'a>(paper: &mut Paper, notes: impl IntoIterator<Item = &'a Note>) {
    let mut said: Vec<&str> = Vec::new();
    for note in notes {
        if !said.contains(&note.text.as_str()) {
            said.push(&note.text);
            paper.hanging(2, "note:", &note.text);
        }
    }
}

/// Lines by number and name: `3 Sodium benzoate, 4 Potassium sorbate`.
pub(crate) fn line_names(assessment: &Assessment, lines: &[usize]) -> String {
    let named = lines.iter().map(|line| {
        let name = assessment.lines.iter().find(|reading| reading.line == *line);
        format!("{} {}", line + 1, name.map_or("", |reading| reading.name.as_str())).trim().to_owned()
    });
    named.collect::<Vec<_>>().join(", ")
}

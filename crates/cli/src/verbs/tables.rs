//! Readings as tables, one module per part of an assessment.

pub(crate) mod contents;
pub(crate) mod findings;
pub(crate) mod flow;
pub(crate) mod preserving;
pub(crate) mod rules;
pub(crate) mod water;

use crate::numbers;
use crate::paper::{Lean, Paper};
use levigate_assess::Assessment;
use levigate_measure::{Note, Outcome};

/// Lines named one by one; more are only numbered.
const MOST_NAMED: usize = 2;
/// Heads of a table of results.
const RESULT_HEADS: [(&str, Lean); 4] =
    [("", Lean::Left), ("value", Lean::Right), ("interval", Lean::Left), ("evidence", Lean::Left)];

/// Results as a table; below it why one has no value, and their notes, each text once.
pub(crate) fn results(paper: &mut Paper, results: &[(&str, &Outcome)]) {
    let rows: Vec<_> = results.iter().map(|(name, outcome)| result_row(name, outcome)).collect();
    paper.columns(&RESULT_HEADS, &rows);
    refusals(paper, results);
    notes(paper, results.iter().flat_map(|(_, outcome)| &outcome.notes));
}

/// Why some have no value; what is refused for the same reason is told together.
fn refusals(paper: &mut Paper, results: &[(&str, &Outcome)]) {
    let why = |outcome: &Outcome| outcome.refused.clone().unwrap_or_else(|| "not known".to_owned());
    let refused: Vec<_> = results.iter().filter(|(_, outcome)| outcome.value.is_none()).collect();
    for (at, (_, outcome)) in refused.iter().enumerate() {
        let reason = why(outcome);
        if refused[..at].iter().any(|(_, earlier)| why(earlier) == reason) {
            continue;
        }
        let names: Vec<&str> =
            refused.iter().filter(|(_, other)| why(other) == reason).map(|(name, _)| *name).collect();
        paper.hanging(2, "no value:", &format!("{}: {reason}", names.join(", ")));
    }
}

/// One result as a row: name with unit, value, interval, evidence.
fn result_row(name: &str, outcome: &Outcome) -> Vec<String> {
    let name = if outcome.unit.is_empty() { name.to_owned() } else { format!("{name}, {}", outcome.unit) };
    let value = outcome.value.map(|value| numbers::value(value, outcome.low, outcome.high));
    let interval = match outcome.value {
        Some(_) => numbers::interval(outcome).unwrap_or_default(),
        None => bounds(outcome),
    };
    vec![name, value.unwrap_or_else(|| "–".to_owned()), interval, numbers::grade(outcome)]
}

/// What is known of a result without a value.
fn bounds(outcome: &Outcome) -> String {
    let end = |end: f64| numbers::value(end, None, None);
    match (outcome.low, outcome.high) {
        (Some(low), Some(high)) => format!("{} to {}", end(low), end(high)),
        (Some(low), None) => format!("at least {}", end(low)),
        (None, Some(high)) => format!("at most {}", end(high)),
        (None, None) => String::new(),
    }
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

/// Lines by number and name; many only by number.
pub(crate) fn line_names(assessment: &Assessment, lines: &[usize]) -> String {
    let mut lines = lines.to_vec();
    lines.sort_unstable();
    lines.dedup();
    let named = lines.iter().map(|line| {
        let name = assessment.lines.iter().find(|reading| reading.line == *line);
        let name = name.filter(|_| lines.len() <= MOST_NAMED).map_or("", |reading| reading.name.as_str());
        format!("{} {name}", line + 1).trim().to_owned()
    });
    named.collect::<Vec<_>>().join(", ")
}

//! `design`: which blends to make, so that a model of them is settled best.

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, MakingFile};
use crate::paper::{Lean, Look, Paper};
use crate::verbs::making::answer;
use crate::verbs::tables::{notes, results};
use levigate_project::workbench::proof::design::{self as of, BlendsReading};

/// Answers.
pub(crate) fn design(common: &Common, asked: &MakingFile, look: Look) -> Result<Answer, Failure> {
    answer(common, asked, look, |_, input| of::design(input.pair()), page)
}

fn page(paper: &mut Paper, reading: &BlendsReading) {
    let title = if reading.title.is_empty() { String::new() } else { format!(": {}", reading.title) };
    paper.title(&format!("Blends to make{title}"));
    paper.heading("Runs", "percent of the product, in the order to make them");
    let mut heads: Vec<(&str, Lean)> = vec![("run", Lean::Right)];
    heads.extend(reading.parts.iter().map(|name| (name.as_str(), Lean::Right)));
    let rows: Vec<Vec<String>> = reading
        .runs
        .iter()
        .map(|run| {
            let percent =
                run.percent.iter().map(|percent| format!("{:.3}", percent.value.unwrap_or_default()));
            std::iter::once(run.number.to_string()).chain(percent).collect()
        })
        .collect();
    paper.columns(&heads, &rows);
    paper.heading(
        "How well they settle it",
        &format!("{} terms: {}", reading.terms.len(), reading.terms.join(", ")),
    );
    results(
        paper,
        &[
            ("blends chosen from", &reading.candidates),
            ("D", &reading.d),
            ("G efficiency, %", &reading.g_efficiency),
        ],
    );
    paper.heading("Mind", "");
    notes(paper, &reading.notes);
}

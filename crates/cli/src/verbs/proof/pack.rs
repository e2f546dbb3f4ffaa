//! `pack`: what a pack lets in and out.

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, MakingFile};
use crate::paper::{Look, Paper};
use crate::verbs::making::answer;
use crate::verbs::tables::{notes, results};
use levigate_measure::Outcome;
use levigate_project::workbench::proof::pack::{self as of, PackReading};

/// Answers.
pub(crate) fn pack(common: &Common, asked: &MakingFile, look: Look) -> Result<Answer, Failure> {
    answer(common, asked, look, |_, input| of::pack(input.pair()), page)
}

fn page(paper: &mut Paper, reading: &PackReading) {
    let title = if reading.title.is_empty() { String::new() } else { format!(": {}", reading.title) };
    paper.title(&format!("What the pack lets in and out{title}"));
    if let Some(together) = &reading.oxygen_together {
        paper.heading("Oxygen that reaches the product", "");
        let ways = reading.oxygen.iter().map(|way| (way.way, &way.oxygen));
        let rows: Vec<(&str, &Outcome)> = ways.chain([("together", together)]).collect();
        results(paper, &rows);
    }
    for one in &reading.taken {
        paper.heading(&one.name, "the most that all of it can take");
        results(
            paper,
            &[("in the pack", &one.content), ("taken", &one.mass), ("of the content", &one.share)],
        );
    }
    if let Some(water) = &reading.water {
        paper.heading("Water that leaves", "");
        let mut rows = vec![("where it was tested", &water.tested), ("where it will stand", &water.stored)];
        rows.extend(water.until.iter().map(|until| ("until the limit", until)));
        results(paper, &rows);
    }
    paper.heading("Mind", "");
    notes(paper, &reading.notes);
}

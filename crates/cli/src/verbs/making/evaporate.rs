//! `evaporate`: how much water a batch loses.

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, RecordedFile};
use crate::paper::{Look, Paper};
use crate::verbs::tables::{notes, results};
use levigate_measure::Outcome;
use levigate_project::workbench::making::evaporate::{self as of, EvaporationReading};

/// Answers.
pub(crate) fn evaporate(common: &Common, asked: &RecordedFile, look: Look) -> Result<Answer, Failure> {
    let logged = super::logged(asked)?;
    super::answer(
        common,
        &asked.question,
        look,
        |facts, input| of::evaporate(facts, input.pair(), logged.as_ref()),
        page,
    )
}

fn page(paper: &mut Paper, reading: &EvaporationReading) {
    paper.title("Water lost");
    if let Some(balance) = &reading.balance {
        paper.heading("By the balance", "(tare + batch) - gross - samples");
        results(paper, &[("water to make up", &balance.make_up), ("part of the batch", &balance.part)]);
    }
    paper.heading("By the model", "over the record of temperatures");
    results(
        paper,
        &[
            ("loss at the hottest, uncovered", &reading.rate),
            ("water lost", &reading.loss),
            ("part of the batch", &reading.part),
        ],
    );
    for verdict in &reading.verdicts {
        paper.gap();
        paper.hanging(
            2,
            &format!("{}:", verdict.holds.word()),
            &format!("{}; {}", verdict.question, verdict.because),
        );
    }
    paper.heading("If it is not made up", "percent as it then stands");
    let mut rows: Vec<(&str, &Outcome)> = vec![("everything else, times as planned", &reading.stronger)];
    rows.extend(reading.contents.iter().map(|content| (content.name.as_str(), &content.without_water)));
    results(paper, &rows);
    paper.heading("Mind", "");
    notes(paper, &reading.notes);
}

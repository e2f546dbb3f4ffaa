//! `sheet --of submission`: what to send to a challenge test.

use super::{day, papers};
use crate::answer::{Answer, Failure};
use crate::arguments::{Common, Sheet};
use crate::input::{self, FactsUsed, Input};
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use levigate_documents::submission_paper;
use levigate_project::workbench::submission::{Submission, submission as sent};
use serde::Serialize;

#[derive(Serialize)]
struct Told<'a> {
    #[serde(flatten)]
    submission: &'a Submission,
    facts: &'a FactsUsed,
}

/// Writes the order.
pub(super) fn submission(common: &Common, asked: &Sheet, look: Look) -> Result<Answer, Failure> {
    if asked.html.is_some() || asked.csv.is_some() {
        return Err(Failure::bad_option(
            "of",
            "--of",
            "an order of a challenge test is written as PDF or as a workbook",
            "use --pdf or --xlsx",
        ));
    }
    let (facts, used) = input::facts(&common.facts)?;
    let input = Input::read(&asked.formula)?;
    let market = asked.market.to_lowercase();
    let found = sent(&facts, day(asked.date), &market, &input.name, &input.text)
        .map_err(|problems| input.refused(problems))?;
    let files = papers::files(&submission_paper(&found), &asked.files)?;
    let answer = if common.json {
        Answer::json(&Told { submission: &found, facts: &used })?
    } else {
        Answer::text(page(&found, look))
    };
    papers::write(files, answer)
}

fn page(of: &Submission, look: Look) -> String {
    let mut paper = Paper::new(look);
    paper.title(&format!("{}, what to send to a challenge test", of.product));
    paper.hanging(2, "send:", &of.edge);
    paper.heading(
        "Preservatives",
        "working form in % w/w at both edges; what may stop them before counting, from memory",
    );
    let amount = |outcome: &Option<levigate_measure::Outcome>| {
        outcome.as_ref().map_or_else(String::new, |outcome| numbers::result(outcome, false))
    };
    let rows: Vec<Vec<String>> = of
        .preservatives
        .iter()
        .map(|one| {
            let stopped = if one.neutraliser.is_empty() { "none on file" } else { &one.neutraliser };
            vec![
                one.name.clone(),
                one.weighed.clone(),
                amount(&one.at_low),
                amount(&one.at_high),
                stopped.to_owned(),
            ]
        })
        .collect();
    let heads = [
        ("", Lean::Left),
        ("weighed", Lean::Left),
        ("low edge", Lean::Right),
        ("high edge", Lean::Right),
        ("stopped by", Lean::Left),
    ];
    paper.columns(&heads, &rows);
    for (name, list) in [
        ("Samples", &of.samples),
        ("Organisms", &of.organisms),
        ("To be reported", &of.asked),
        ("Not said by the formula", &of.open),
    ] {
        if !list.is_empty() {
            paper.heading(name, "");
            list.iter().for_each(|words| paper.hanging(2, "-", words));
        }
    }
    paper.finish()
}

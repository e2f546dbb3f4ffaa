//! `microbes`: counts of a finished product held against its limit.

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, Microbes};
use crate::input::{self, Input};
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use crate::verbs::making::Written;
use crate::verbs::tables::{notes, results};
use crate::verbs::{USUAL_MARKET, day};
use levigate_measure::Outcome;
use levigate_project::workbench::complaint::sentence;
use levigate_project::workbench::proof::microbes::{self as of, LowRiskReading, MicrobesReading, Stands};

/// Answers.
pub(crate) fn microbes(common: &Common, asked: &Microbes, look: Look) -> Result<Answer, Failure> {
    let (facts, used) = input::facts(&common.facts)?;
    let question = Input::read(&asked.file)?;
    let formula = asked.formula.as_deref().map(Input::read).transpose()?;
    let when = (day(None), USUAL_MARKET);
    let reading = of::microbes(&facts, when, question.pair(), formula.as_ref().map(Input::pair)).map_err(
        |problems| {
            let about = formula
                .as_ref()
                .filter(|formula| problems.iter().any(|problem| problem.file == formula.name));
            about.unwrap_or(&question).refused(problems)
        },
    )?;
    if common.json {
        return Answer::json(&Written { reading: &reading, facts: &used });
    }
    let mut paper = Paper::new(look);
    page(&mut paper, &reading);
    if let Some(remark) = used.remark() {
        paper.heading("", &remark);
    }
    Ok(Answer::text(paper.finish()))
}

fn page(paper: &mut Paper, reading: &MicrobesReading) {
    let title = if reading.title.is_empty() { String::new() } else { format!(": {}", reading.title) };
    paper.title(&format!("Microbes{title}"));
    paper.paragraph(0, &sentence(&reading.verdict));
    paper.heading("Counts", &reading.class);
    let rows: Vec<Vec<String>> = reading
        .counts
        .iter()
        .map(|one| {
            let interval = numbers::interval(&one.count).unwrap_or_default();
            vec![one.of.clone(), one.written.clone(), interval]
        })
        .collect();
    paper.columns(&[("", Lean::Left), ("CFU/g", Lean::Right), ("by counting alone", Lean::Left)], &rows);
    notes(paper, reading.counts.iter().flat_map(|one| &one.count.notes));
    paper.hanging(2, "total:", &format!("{}; {}", word(reading.total_says), reading.total_words));
    paper.heading("Organisms that must not be there", "");
    for one in &reading.organisms {
        paper.hanging(2, &format!("{}:", one.organism), &format!("{}; {}", word(one.says), one.words));
    }
    if let Some(brings) = &reading.brings {
        paper.heading("What comes in", "before anything dies or grows");
        let mut rows: Vec<(&str, &Outcome)> =
            brings.parts.iter().map(|(name, outcome)| (name.as_str(), outcome)).collect();
        rows.push(("together", &brings.total));
        rows.push(("of the limit", &brings.of_the_limit));
        results(paper, &rows);
    }
    if let Some(list) = &reading.low_risk {
        low_risk(paper, list);
    }
    paper.heading("Mind", "");
    notes(paper, &reading.notes);
}

fn low_risk(paper: &mut Paper, list: &LowRiskReading) {
    paper.heading("Properties of low risk", "ISO 29621");
    paper.paragraph(2, &list.verdict);
    let rows: Vec<Vec<String>> = list
        .items
        .iter()
        .map(|item| {
            let says = match item.met {
                Some(true) => "has it",
                Some(false) => "has it not",
                None => "not known",
            };
            vec![item.text.clone(), says.to_owned()]
        })
        .collect();
    paper.columns(&[("property", Lean::Left), ("the product", Lean::Left)], &rows);
    paper.paragraph(
        2,
        "Products based on solvent and oxidising products stand in the list too; no number speaks of them.",
    );
}

fn word(says: Stands) -> &'static str {
    match says {
        Stands::Within => "within",
        Stands::WithinTolerance => "within the tolerance of a count",
        Stands::CannotSay => "cannot say",
        Stands::Out => "out",
    }
}

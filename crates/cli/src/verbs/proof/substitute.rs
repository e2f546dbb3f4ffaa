//! `substitute`: what could stand in the place of a raw material, and what that does to each formula.

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, Substitute};
use crate::input::{self, FactsUsed, Input};
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use crate::verbs::tables::notes;
use crate::verbs::{USUAL_MARKET, day};
use levigate_measure::Outcome;
use levigate_project::workbench::proof::substitute::{
    CandidateReading, ConsequenceReading, Substituted, SubstitutionReading, substitute as found,
};
use serde::Serialize;

#[derive(Serialize)]
struct Written<'a> {
    #[serde(flatten)]
    reading: &'a SubstitutionReading,
    facts: &'a FactsUsed,
}

/// Answers.
pub(crate) fn substitute(common: &Common, asked: &Substitute, look: Look) -> Result<Answer, Failure> {
    let (facts, used) = input::facts(&common.facts)?;
    let inputs = asked.formulas.iter().map(|path| Input::read(path)).collect::<Result<Vec<_>, _>>()?;
    let pairs: Vec<(&str, &str)> = inputs.iter().map(Input::pair).collect();
    let question =
        Substituted { material: asked.material.clone(), with: asked.with.clone(), most: asked.most.max(1) };
    let market = asked.market.as_deref().unwrap_or(USUAL_MARKET);
    let reading = found(&facts, (day(None), market), &pairs, &question).map_err(|problems| {
        let about = inputs.iter().find(|input| problems.iter().any(|problem| problem.file == input.name));
        about.unwrap_or(&inputs[0]).refused(problems)
    })?;
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

fn number(outcome: &Outcome) -> String {
    outcome.value.map_or_else(|| "–".to_owned(), |value| numbers::value(value, outcome.low, outcome.high))
}

fn page(paper: &mut Paper, reading: &SubstitutionReading) {
    paper.title(&format!("In the place of {}", reading.material));
    paper.paragraph(0, &format!("Functions: {}.", reading.functions.join(", ")));
    if !reading.without.is_empty() {
        paper.paragraph(0, &format!("Not used in: {}.", reading.without.join(", ")));
    }
    if reading.candidates.is_empty() {
        paper.paragraph(0, "No raw material on file shares its main function.");
    }
    for candidate in &reading.candidates {
        one(paper, candidate);
    }
    paper.heading("Mind", "");
    notes(paper, &reading.notes);
}

fn one(paper: &mut Paper, candidate: &CandidateReading) {
    let distance = candidate.distance.value.unwrap_or_default();
    paper.heading(&candidate.material, &format!("distance {distance:.2} of 1"));
    let rows: Vec<Vec<String>> = candidate
        .properties
        .iter()
        .map(|own| {
            let far =
                own.distance.value.map_or_else(|| "not known".to_owned(), |value| format!("{value:.2}"));
            vec![own.name.to_owned(), own.gone.clone(), own.other.clone(), far]
        })
        .collect();
    paper.columns(
        &[("", Lean::Left), ("gone", Lean::Left), ("this", Lean::Left), ("distance", Lean::Right)],
        &rows,
    );
    for formula in &candidate.formulas {
        consequence(paper, formula);
    }
}

fn consequence(paper: &mut Paper, formula: &ConsequenceReading) {
    paper.gap();
    paper.hanging(
        2,
        &format!("{}:", formula.product),
        &format!(
            "line {}, {} % becomes {} % ({}).",
            formula.line + 1,
            number(&formula.before),
            number(&formula.amount),
            formula.rule
        ),
    );
    if let Some(why) = &formula.refused {
        paper.hanging(4, "no value:", why);
        return;
    }
    let rows: Vec<Vec<String>> = formula
        .changes
        .iter()
        .filter(|change| change.before.value.is_some() || change.after.value.is_some())
        .map(|change| {
            let unit = if change.after.unit.is_empty() { &change.before.unit } else { &change.after.unit };
            let name =
                if unit.is_empty() { change.name.to_owned() } else { format!("{}, {unit}", change.name) };
            vec![name, number(&change.before), number(&change.after)]
        })
        .collect();
    paper.columns(&[("", Lean::Left), ("before", Lean::Right), ("then", Lean::Right)], &rows);
    for (word, findings) in [("new", &formula.gained), ("gone", &formula.lost)] {
        for finding in findings {
            paper.hanging(4, &format!("{word}, {}:", finding.gravity.word()), &finding.found);
        }
    }
    if let Some(label) = &formula.label {
        paper.hanging(4, "label:", label);
    }
}

//! `substitute`: what could stand in the place of a raw material, and what that does to each formula.

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, Substitute, Where};
use crate::input::{self, FactsUsed, Input};
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use crate::shelf::{Shelf, Want, block_on, refused};
use crate::verbs::tables::notes;
use crate::verbs::{USUAL_MARKET, day};
use levigate_measure::Outcome;
use levigate_project::proof_file::substitute::{MOST, USUAL_MOST, read};
use levigate_project::workbench::proof::substitute::{
    CandidateReading, ConsequenceReading, KeptFormula, KeptSubstitution, Substituted, SubstitutionReading,
    Unread, substitute as found, substitute_kept,
};
use levigate_project::workbench::trials::{flow_book, gather_bench};
use serde::Serialize;
use std::path::{Path, PathBuf};

#[derive(Serialize)]
struct Written<'a, R: Serialize> {
    #[serde(flatten)]
    reading: &'a R,
    facts: &'a FactsUsed,
}

/// Answers.
pub(crate) fn substitute(common: &Common, asked: &Substitute, look: Look) -> Result<Answer, Failure> {
    let (question, formulas) = question(asked)?;
    let market = asked.market.as_deref().unwrap_or(USUAL_MARKET);
    if let Some(folder) = &asked.workspace {
        if !formulas.is_empty() {
            return Err(Failure::bad_option(
                "two-places",
                "workspace",
                "the file names formulas, and a workspace is named too".to_owned(),
                "leave formulas out of the file, or leave --workspace out",
            ));
        }
        let (found, used) = block_on(in_workspace(common, folder, market, &question))?;
        return written(common, &found, &found.reading, &found.unread, &used, look);
    }
    let (facts, used) = input::facts(&common.facts)?;
    let inputs = formulas.iter().map(|path| Input::read(path)).collect::<Result<Vec<_>, _>>()?;
    let pairs: Vec<(&str, &str)> = inputs.iter().map(Input::pair).collect();
    let reading = found(&facts, (day(None), market), &pairs, &question).map_err(|problems| {
        let about = inputs.iter().find(|input| problems.iter().any(|problem| problem.file == input.name));
        match about.or(inputs.first()) {
            Some(input) => input.refused(problems),
            None => Failure::bad_input(problems, None),
        }
    })?;
    written(common, &reading, &reading, &[], &used, look)
}

/// The question and the formula files, as options or as a file.
fn question(asked: &Substitute) -> Result<(Substituted, Vec<PathBuf>), Failure> {
    let Some(path) = &asked.question else {
        let most = asked.most.unwrap_or(USUAL_MOST).clamp(1, MOST);
        let material = asked.material.clone().unwrap_or_default();
        return Ok((Substituted { material, with: asked.with.clone(), most }, asked.formulas.clone()));
    };
    let input = Input::read(path)?;
    let file = read(&input.name, &input.text).map_err(|problems| input.refused(problems))?;
    if file.formulas.is_empty() && asked.workspace.is_none() {
        return Err(Failure::bad_option(
            "no-formulas",
            "question",
            "the file names no formulas".to_owned(),
            "write formulas = [\"toner.toml\"] in it, or name a folder with --workspace",
        ));
    }
    let beside = path.parent().unwrap_or(Path::new(""));
    Ok((file.asked, file.formulas.iter().map(|name| beside.join(name)).collect()))
}

/// Every formula of a workspace that uses it.
async fn in_workspace(
    common: &Common,
    folder: &Path,
    market: &str,
    question: &Substituted,
) -> Result<(KeptSubstitution, FactsUsed), Failure> {
    let place = Where { workspace: Some(folder.to_path_buf()) };
    let shelf = Shelf::open(common, &place, Want::Read).await?;
    let heads = shelf.workspace.formulas().await.map_err(|error| refused(&error))?;
    let bench = gather_bench(&shelf.workspace).await.map_err(|error| refused(&error))?;
    let learned = flow_book(&shelf.facts, day(None), USUAL_MARKET, &bench);
    let formulas: Vec<KeptFormula> = heads
        .into_iter()
        .map(|head| KeptFormula {
            id: head.formula.id.to_string(),
            name: format!("{}, version {}", head.formula.what.name, head.newest.number),
            text: head.newest.what.text,
        })
        .collect();
    let found = substitute_kept(&shelf.facts, (day(None), market), Some(&learned), &formulas, question)
        .map_err(|problems| Failure::bad_input(problems, None))?;
    Ok((found, shelf.used))
}

fn written(
    common: &Common,
    whole: &impl Serialize,
    reading: &SubstitutionReading,
    unread: &[Unread],
    used: &FactsUsed,
    look: Look,
) -> Result<Answer, Failure> {
    if common.json {
        return Answer::json(&Written { reading: whole, facts: used });
    }
    let mut paper = Paper::new(look);
    page(&mut paper, reading, unread);
    if let Some(remark) = used.remark() {
        paper.heading("", &remark);
    }
    Ok(Answer::text(paper.finish()))
}

fn number(outcome: &Outcome) -> String {
    outcome.value.map_or_else(|| "–".to_owned(), |value| numbers::value(value, outcome.low, outcome.high))
}

fn page(paper: &mut Paper, reading: &SubstitutionReading, unread: &[Unread]) {
    paper.title(&format!("In the place of {}", reading.material));
    paper.paragraph(0, &format!("Functions: {}.", reading.functions.join(", ")));
    if !reading.without.is_empty() {
        paper.paragraph(0, &format!("Not used in: {}.", reading.without.join(", ")));
    }
    for other in &reading.also {
        let words = format!(
            "{} in line {} brings {} % {}: it is not exchanged.",
            other.material,
            other.line + 1,
            number(&other.percent),
            other.substance
        );
        paper.hanging(0, &format!("{}:", other.product), &words);
    }
    for one in unread {
        paper.hanging(0, &format!("{}:", one.formula), &format!("not looked at, {}", one.why));
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

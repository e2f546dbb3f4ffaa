//! `optimise`: levels of lines that may move, so that an aim is met best and every wish is kept.

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, Optimise};
use crate::input::{self, FactsUsed, Input};
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use crate::verbs::tables::notes;
use crate::verbs::{USUAL_MARKET, day};
use levigate_measure::Outcome;
use levigate_project::proof_file::optimise::{formula_named, formula_of};
use levigate_project::workbench::proof::optimise::{
    AnswerReading, BetterReading, FindingBrief, optimise as found,
};
use serde::Serialize;
use std::io::{IsTerminal, Write as _};
use std::path::Path;

/// Formulas between two words about progress.
const TELL_EVERY: usize = 200;

#[derive(Serialize)]
struct Written<'a> {
    #[serde(flatten)]
    reading: &'a BetterReading,
    facts: &'a FactsUsed,
}

/// Answers.
pub(crate) fn optimise(common: &Common, asked: &Optimise, look: Look) -> Result<Answer, Failure> {
    let (facts, used) = input::facts(&common.facts)?;
    let input = Input::read(&asked.file)?;
    let named = formula_named(&input.name, &input.text).map_err(|problems| input.refused(problems))?;
    let formula = match &named {
        Some(name) => Input::read(&asked.file.parent().unwrap_or(Path::new("")).join(name))?,
        None => Input { name: input.name.clone(), text: formula_of(&input.text) },
    };
    let market = asked.market.as_deref().unwrap_or(USUAL_MARKET);
    let tells = std::io::stderr().is_terminal();
    let mut told = 0;
    let mut watch = |read: usize, _: Option<f64>| {
        if tells && read >= told + TELL_EVERY {
            told = read;
            // Progress that cannot be shown is no reason to stop.
            let _ = write!(std::io::stderr(), "\r{read} formulas solved");
        }
        asked.most_formulas.is_none_or(|most| read < most)
    };
    let answer = found(&facts, (day(None), market), formula.pair(), input.pair(), &mut watch);
    if told > 0 {
        let _ = write!(std::io::stderr(), "\r{:30}\r", "");
    }
    let answer = answer.map_err(|problems| {
        let of_formula = named.is_some() && problems.iter().any(|problem| problem.file == formula.name);
        if of_formula { formula.refused(problems) } else { input.refused(problems) }
    })?;
    let reading = &answer.reading;
    if asked.toml {
        return Ok(Answer::text(answer.formula.unwrap_or_default()));
    }
    if common.json {
        return Answer::json(&Written { reading, facts: &used });
    }
    let mut paper = Paper::new(look);
    page(&mut paper, reading);
    if let Some(remark) = used.remark() {
        paper.heading("", &remark);
    }
    Ok(Answer::text(paper.finish()))
}

fn page(paper: &mut Paper, reading: &BetterReading) {
    paper.title(&format!("{}: {}", reading.product, reading.aims.join(" against ")));
    if let Some(conflict) = &reading.conflict {
        paper.paragraph(0, &conflict.words);
        paper.paragraph(0, "Below stands the formula that is nearest to all wishes.");
    }
    paper.heading("Answers", "percent of the product as supplied; * moved, - left out, + taken in");
    levels(paper, reading);
    paper.heading("Aims and wishes", "the value decides; ~ where its interval reaches beyond the limit");
    held(paper, reading);
    if let Some(front) = &reading.front {
        paper.heading("What costs what", "from one answer to the next");
        for (place, step) in front.steps.iter().enumerate() {
            paper.hanging(2, &format!("{} to {}:", place + 1, place + 2), &step.words);
        }
        let gap = front.widest_gap.value.unwrap_or_default();
        paper.paragraph(2, &format!("Largest gap between neighbours: {gap:.0} % of the spread of an aim."));
    } else if reading.conflict.is_none() {
        paper.heading("What binds", "each limit moved and the answer sought again");
        if reading.binds.is_empty() {
            paper.paragraph(2, "No limit near the answer holds the aim back.");
        }
        for bind in &reading.binds {
            paper.paragraph(2, &bind.words);
        }
    }
    if let Some(best) = reading.answers.first().filter(|_| reading.front.is_none()) {
        findings(paper, "Findings gone", &best.lost);
        findings(paper, "Findings new", &best.gained);
    }
    paper.heading("Mind", "");
    paper.paragraph(
        2,
        &format!("{:.0} formulas solved, seed {}.", reading.read.value.unwrap_or_default(), reading.seed),
    );
    notes(paper, &reading.notes);
}

/// Columns: as typed, then every answer.
fn columns(reading: &BetterReading) -> Vec<(String, &AnswerReading)> {
    let before = reading.before.as_ref().map(|before| ("as typed".to_owned(), before));
    let answers = reading.answers.iter().enumerate().map(|(place, answer)| {
        let name = if reading.conflict.is_some() { "nearest".to_owned() } else { format!("{}", place + 1) };
        (name, answer)
    });
    before.into_iter().chain(answers).collect()
}

fn levels(paper: &mut Paper, reading: &BetterReading) {
    let columns = columns(reading);
    let mut heads: Vec<(&str, Lean)> = vec![("", Lean::Left)];
    heads.extend(columns.iter().map(|(name, _)| (name.as_str(), Lean::Right)));
    let Some((_, first)) = columns.first() else { return };
    let rows: Vec<Vec<String>> = (0..first.lines.len())
        .map(|line| {
            let cells = columns.iter().map(|(_, answer)| {
                let own = &answer.lines[line];
                let mark = match own.what {
                    "moved" => "*",
                    "taken out" => "-",
                    "taken in" => "+",
                    _ => " ",
                };
                match own.what {
                    "out" | "taken out" => format!("0{mark}"),
                    _ => format!("{}{mark}", level(own.percent.value.unwrap_or_default())),
                }
            });
            std::iter::once(first.lines[line].material.clone()).chain(cells).collect()
        })
        .collect();
    paper.columns(&heads, &rows);
    for (name, answer) in columns.iter().filter(|(name, _)| name != "as typed") {
        paper.hanging(2, &format!("{name}:"), &answer.words);
    }
}

/// A level without zeros that say nothing.
fn level(percent: f64) -> String {
    let text = format!("{percent:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn held(paper: &mut Paper, reading: &BetterReading) {
    let columns = columns(reading);
    let mut heads: Vec<(&str, Lean)> = vec![("", Lean::Left)];
    heads.extend(columns.iter().map(|(name, _)| (name.as_str(), Lean::Right)));
    let number = |outcome: &Outcome| {
        outcome.value.map_or_else(|| "–".to_owned(), |value| numbers::value(value, outcome.low, outcome.high))
    };
    let Some((_, first)) = columns.first() else { return };
    let mut rows: Vec<Vec<String>> = Vec::new();
    for (place, aim) in reading.aims.iter().enumerate() {
        let unit = first.aims.get(place).map_or("", |aim| aim.unit.as_ref());
        let name = if unit.is_empty() { aim.clone() } else { format!("{aim}, {unit}") };
        let cells = columns.iter().map(|(_, answer)| answer.aims.get(place).map(number).unwrap_or_default());
        rows.push(std::iter::once(name).chain(cells).collect());
    }
    for (place, wish) in first.wishes.iter().enumerate() {
        let cells = columns.iter().map(|(_, answer)| {
            let own = &answer.wishes[place];
            let mark = match (own.kept, own.unsure) {
                (false, _) => " missed",
                (true, true) => " ~",
                (true, false) => "",
            };
            format!("{}{mark}", number(&own.reading))
        });
        rows.push(std::iter::once(wish.wish.clone()).chain(cells).collect());
    }
    paper.columns(&heads, &rows);
}

fn findings(paper: &mut Paper, title: &str, findings: &[FindingBrief]) {
    if findings.is_empty() {
        return;
    }
    paper.heading(title, "of the first answer, beside the formula as typed");
    for finding in findings {
        paper.hanging(2, &format!("{}:", finding.gravity.word()), &finding.found);
    }
}

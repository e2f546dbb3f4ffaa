//! `study trend` and `study losses`: the lines through what a study read, and what follows from them.

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, StudyLossesAsked, StudyTrendAsked};
use crate::input::FactsUsed;
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use crate::shelf::{Shelf, Want, block_on, refused};
use crate::verbs::proof::{arrhenius, shelf_life};
use crate::verbs::tables::results;
use levigate_measure::Outcome;
use levigate_project::records::{ConditionRole, Study};
use levigate_project::workbench::studies::{
    StudyLosses, StudyRecords, StudyShift, StudyTrend, Unanswered, study_called, study_losses, study_shift,
    study_trend,
};
use serde::Serialize;

#[derive(Serialize)]
struct Trend<'a> {
    trend: &'a StudyTrend,
    #[serde(skip_serializing_if = "Option::is_none")]
    shift: Option<&'a StudyShift>,
    facts: &'a FactsUsed,
}

#[derive(Serialize)]
struct Losses<'a> {
    losses: &'a StudyLosses,
    facts: &'a FactsUsed,
}

pub(super) fn trend(common: &Common, asked: &StudyTrendAsked, look: Look) -> Result<Answer, Failure> {
    block_on(async {
        let shelf = Shelf::open(common, &asked.of.place, Want::Read).await?;
        let records = called(&shelf, &asked.of).await?;
        let plan = records.plan();
        let (attribute, pack) = (attribute(plan, &asked.of)?, pack(plan, &asked.of)?);
        let of = (attribute, pack, condition(plan, asked.condition.as_deref())?);
        let trend =
            study_trend(&shelf.facts, &records, of).ok_or_else(|| none_such("ATTRIBUTE", attribute, &[]))?;
        let version = shelf.workspace.version(plan.formula, plan.version).await;
        let version = version.map_err(|error| refused(&error))?;
        let shift = study_shift(&shelf.facts, &records, &version, of)
            .map_err(|problems| Failure::bad_input(problems, None))?;
        if common.json {
            return Answer::json(&Trend { trend: &trend, shift: shift.as_ref(), facts: &shelf.used });
        }
        let mut paper = Paper::new(look);
        told(&mut paper, &trend);
        if let Some(shift) = &shift {
            shifted(&mut paper, shift);
        }
        Ok(Answer::text(paper.finish()))
    })
}

pub(super) fn losses(common: &Common, asked: &StudyLossesAsked, look: Look) -> Result<Answer, Failure> {
    block_on(async {
        let shelf = Shelf::open(common, &asked.place, Want::Read).await?;
        let records = called(&shelf, asked).await?;
        let plan = records.plan();
        let of = (attribute(plan, asked)?, pack(plan, asked)?);
        let losses = study_losses(&records, of).ok_or_else(|| none_such("ATTRIBUTE", of.0, &[]))?;
        if common.json {
            return Answer::json(&Losses { losses: &losses, facts: &shelf.used });
        }
        let mut paper = Paper::new(look);
        match (&losses.answer, &losses.refused) {
            (Some(answer), _) => arrhenius::page(&mut paper, answer),
            (None, refused) => {
                paper.title(&format!("How fast it is lost: {}", losses.attribute));
                unanswered(&mut paper, refused.as_ref());
            }
        }
        Ok(Answer::text(paper.finish()))
    })
}

async fn called(shelf: &Shelf, asked: &StudyLossesAsked) -> Result<StudyRecords, Failure> {
    study_called(&shelf.workspace, &asked.study).await.map_err(|error| refused(&error))
}

fn none_such(argument: &str, typed: &str, known: &[&str]) -> Failure {
    let what = format!("the plan has no \"{typed}\"");
    Failure::bad_option("not-in-plan", argument, what, format!("it has {}", known.join("; ")))
}

/// The one that is called so, or the only one that begins so.
fn named<'p>(argument: &str, typed: &str, known: &[&'p str]) -> Result<&'p str, Failure> {
    let small = typed.trim().to_lowercase();
    let exact = known.iter().find(|name| name.to_lowercase() == small);
    let mut begin = known.iter().filter(|name| name.to_lowercase().starts_with(&small));
    match (exact, begin.next(), begin.next()) {
        (Some(name), ..) | (None, Some(name), None) => Ok(name),
        _ => Err(none_such(argument, typed, known)),
    }
}

fn attribute<'p>(plan: &'p Study, asked: &StudyLossesAsked) -> Result<&'p str, Failure> {
    let known: Vec<&str> = plan.attributes.iter().map(|one| one.name.as_str()).collect();
    named("ATTRIBUTE", &asked.attribute, &known)
}

fn pack<'p>(plan: &'p Study, asked: &StudyLossesAsked) -> Result<&'p str, Failure> {
    let known: Vec<&str> = plan.packs.iter().map(|one| one.name.as_str()).collect();
    match &asked.pack {
        Some(typed) => named("--pack", typed, &known),
        None => Ok(known.first().copied().unwrap_or_default()),
    }
}

fn condition<'p>(plan: &'p Study, asked: Option<&str>) -> Result<&'p str, Failure> {
    let known: Vec<&str> = plan.conditions.iter().map(|one| one.name.as_str()).collect();
    let sold = plan.conditions.iter().find(|one| one.role == ConditionRole::Storage);
    match asked {
        Some(typed) => named("--condition", typed, &known),
        None => Ok(sold.map_or_else(|| known.first().copied().unwrap_or_default(), |one| one.name.as_str())),
    }
}

fn unanswered(paper: &mut Paper, refused: Option<&Unanswered>) {
    if let Some(refused) = refused {
        paper.paragraph(0, &refused.what);
        paper.paragraph(0, &refused.what_now);
    }
}

fn told(paper: &mut Paper, trend: &StudyTrend) {
    match &trend.answer {
        Some(answer) => shelf_life::page(paper, answer),
        None => {
            paper.title(&format!("Over time: {}", trend.attribute));
            paper.paragraph(2, &format!("kept at {}", trend.condition));
            unanswered(paper, trend.refused.as_ref());
        }
    }
    for note in &trend.notes {
        paper.paragraph(2, note);
    }
    let rows: Vec<Vec<String>> = trend
        .batches
        .iter()
        .flat_map(|batch| {
            batch.points.iter().map(|point| {
                vec![
                    batch.name.clone(),
                    format!("{:.1}", point.months),
                    numbers::value(point.value, None, None),
                ]
            })
        })
        .collect();
    paper.heading(&format!("Read, {}", trend.pack), &trend.unit);
    paper.columns(&[("batch", Lean::Left), ("months", Lean::Right), ("read", Lean::Right)], &rows);
}

fn shifted(paper: &mut Paper, told: &StudyShift) {
    paper.heading("What the shift of the pH stands for", &format!("{}, {}", told.batch, told.pull));
    let Some(shift) = &told.shift else {
        unanswered(paper, told.refused.as_ref());
        return;
    };
    let rows: [(&str, &Outcome); 4] = [
        ("pH at the start", &shift.from),
        ("pH then", &shift.to),
        ("acid that would have to form", &shift.acid),
        ("buffer capacity between the two", &shift.capacity),
    ];
    results(paper, &rows);
    for cause in &told.causes {
        paper.hanging(2, &format!("{}:", cause.name), &cause.words);
        paper.paragraph(4, &cause.apart);
    }
}

//! `flow level`: how much of a thickener gives the viscosity wanted.

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, FlowLevel};
use crate::input::FactsUsed;
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use crate::verbs::flow::taught::{self, Asking, Learned};
use crate::verbs::tables::results;
use crate::verbs::{USUAL_MARKET, day};
use levigate_assess::flow::level::Level;
use levigate_measure::Outcome;
use levigate_project::workbench::flow_level::{LevelWanted, flow_level};
use serde::Serialize;

#[derive(Serialize)]
struct Written<'a> {
    #[serde(flatten)]
    level: &'a Level,
    #[serde(skip_serializing_if = "Option::is_none")]
    learned: Option<Learned>,
    facts: &'a FactsUsed,
}

/// Seeks a level.
pub(crate) fn level(common: &Common, asked: &FlowLevel, look: Look) -> Result<Answer, Failure> {
    let asking = Asking::read(common, &asked.formula, asked.workspace.as_ref())?;
    let Asking { facts, used, input, .. } = &asking;
    let wanted = LevelWanted {
        material: asked.material.clone(),
        mpa_s: asked.target,
        spindle: asked.spindle.clone(),
        speed_rpm: asked.speed,
        shear_rate: asked.shear,
        temperature_c: asked.temperature,
    };
    let level = asking
        .with_bench(|bench| flow_level(facts, (day(None), USUAL_MARKET), input.pair(), &wanted, bench))
        .map_err(|problems| input.refused(problems))?;
    let learned = asking.learned();
    if common.json {
        return Answer::json(&Written { level: &level, learned, facts: used });
    }
    let mut paper = Paper::new(look);
    paper.title(&format!(
        "{} for {} mPa·s",
        level.material,
        numbers::value(level.wanted.value.unwrap_or(0.0), None, None)
    ));
    paper.paragraph(0, &level.condition);
    paper.gap();
    results(&mut paper, &[("level", &level.level)]);
    if !level.ladder.is_empty() {
        paper.heading("To make", &level.advice);
        let rows: Vec<Vec<String>> = level
            .ladder
            .iter()
            .map(|rung| {
                let number = |of: &Outcome| numbers::value(of.value.unwrap_or(0.0), of.low, of.high);
                let ends = |of: &Outcome| match (of.low, of.high) {
                    (Some(low), Some(high)) => format!("{low:.0} to {high:.0}"),
                    _ => String::new(),
                };
                vec![weighed(&rung.percent), number(&rung.viscosity), ends(&rung.viscosity)]
            })
            .collect();
        paper.columns(&[("%", Lean::Right), ("mPa·s", Lean::Right), ("95 %", Lean::Left)], &rows);
    }
    if let Some(learned) = &learned {
        taught::learned(&mut paper, learned);
    }
    if let Some(remark) = used.remark() {
        paper.paragraph(2, &remark);
    }
    Ok(Answer::text(paper.finish()))
}

/// A level as it is weighed: no more decimals than its step has.
fn weighed(percent: &Outcome) -> String {
    let text = format!("{:.4}", percent.value.unwrap_or(0.0));
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

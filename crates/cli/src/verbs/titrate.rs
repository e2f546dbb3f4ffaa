//! `titrate`: how much of an acid or base brings a formula to a pH, and the curve on the way.

use super::tables::results;
use crate::answer::{Answer, Failure};
use crate::arguments::{Common, Titrate};
use crate::input::{self, FactsUsed, Input};
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use levigate_assess::titration::{Titration, TitrationPoint};
use levigate_project::workbench::titrate::titrate as titrate_formula;
use serde::Serialize;

/// Rows of the curve on the screen.
const ROWS: usize = 16;
/// Widest bar of the curve on the screen.
const BAR: usize = 40;

#[derive(Serialize)]
struct Written<'a> {
    #[serde(flatten)]
    titration: &'a Titration,
    facts: &'a FactsUsed,
}

/// Titrates a formula on paper.
pub(crate) fn titrate(common: &Common, asked: &Titrate, look: Look) -> Result<Answer, Failure> {
    let (facts, used) = input::facts(&common.facts)?;
    let input = Input::read(&asked.formula)?;
    let titration = titrate_formula(&facts, &input.name, &input.text, &asked.with, asked.to)
        .map_err(|problems| input.refused(problems))?;
    if common.json {
        return Answer::json(&Written { titration: &titration, facts: &used });
    }
    let mut paper = Paper::new(look);
    paper.title(&format!("{} to pH {}", titration.with, titration.to_ph));
    paper.paragraph(0, "Added on top of the formula without its acid and base lines, as at the bench.");
    paper.gap();
    results(
        &mut paper,
        &[
            ("pH before", &titration.start_ph),
            ("to be added", &titration.amount),
            ("of the product it ends in", &titration.percent),
            ("for one tenth of a pH unit there", &titration.per_tenth),
        ],
    );
    if !titration.curve.is_empty() {
        paper.heading("Curve", "g per kg of formula");
        paper.columns(
            &[("g/kg", Lean::Right), ("pH", Lean::Right), ("", Lean::Left)],
            &curve(&titration.curve),
        );
    }
    if let Some(remark) = used.remark() {
        paper.heading("", &remark);
    }
    Ok(Answer::text(paper.finish()))
}

/// The curve in a few rows, with a mark that moves across from the lowest pH to the highest.
fn curve(points: &[TitrationPoint]) -> Vec<Vec<String>> {
    let low = points.iter().map(|point| point.ph.value).fold(f64::INFINITY, f64::min);
    let high = points.iter().map(|point| point.ph.value).fold(f64::NEG_INFINITY, f64::max);
    let span = (high - low).max(1e-9);
    let most = points.iter().map(|point| point.added_g_per_kg).fold(0.0, f64::max);
    let step = points.len().div_ceil(ROWS).max(1);
    let rows = points.iter().enumerate().filter(|(at, _)| at % step == 0 || at + 1 == points.len());
    rows.map(|(_, point)| {
        let share = ((point.ph.value - low) / span).clamp(0.0, 1.0);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "between 0 and the width of the bar"
        )]
        let across = (share * (BAR - 1) as f64).round() as usize;
        let added = numbers::value(point.added_g_per_kg, Some(point.added_g_per_kg - most / 200.0), None);
        vec![added, format!("{:.2}", point.ph.value), format!("│{}•", " ".repeat(across))]
    })
    .collect()
}

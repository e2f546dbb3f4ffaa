//! Flow: viscosity as the brief speaks of it, what it comes from, and the curve.

use super::results;
use crate::numbers;
use crate::paper::{Lean, Paper};
use levigate_assess::flow::FlowReading;
use levigate_measure::Outcome;

/// How the formula flows.
pub(crate) fn flow(paper: &mut Paper, flow: &FlowReading) {
    paper.heading(
        "Flow",
        &format!("at {} C; {}", numbers::value(flow.temperature_c, None, None), flow.condition),
    );
    results(
        paper,
        &[
            ("viscosity", &flow.at_brief),
            ("solvent alone", &flow.solvent),
            ("viscosity at rest", &flow.at_rest),
            ("yield stress", &flow.yield_stress),
        ],
    );
    if flow.thickeners.is_empty() {
        return;
    }
    let rows: Vec<Vec<String>> = flow
        .thickeners
        .iter()
        .map(|one| {
            vec![
                one.name.clone(),
                one.family.clone(),
                numbers::result(&one.dose, false),
                numbers::result(&one.alone, false),
            ]
        })
        .collect();
    paper.columns(
        &[
            ("thickener", Lean::Left),
            ("family", Lean::Left),
            ("g/dL", Lean::Right),
            ("alone at 10 1/s, mPa s", Lean::Right),
        ],
        &rows,
    );
}

/// Viscosities at shear rates.
pub(crate) fn viscosities(paper: &mut Paper, heading: &str, viscosities: &[Outcome]) {
    let named: Vec<(String, &Outcome)> = viscosities
        .iter()
        .map(|outcome| {
            let rate =
                outcome.inputs.iter().find(|input| input.name == "shear rate").and_then(|input| input.value);
            (
                format!("{} 1/s", rate.map_or_else(String::new, |rate| numbers::value(rate, None, None))),
                outcome,
            )
        })
        .collect();
    paper.heading(heading, "Pa s");
    results(paper, &named.iter().map(|(name, outcome)| (name.as_str(), *outcome)).collect::<Vec<_>>());
}

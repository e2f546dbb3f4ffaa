//! How the batch is made, as the sheet says it: the steps of the procedure with grams that the balance can show.

use super::{BatchLine, Grams};
use levigate_assess::procedure::{Procedure, Step, StepKind};
use levigate_measure::written::result;
use rust_decimal::{Decimal, RoundingStrategy};
use serde::Serialize;
use std::collections::BTreeMap;

/// One step.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MakingStep {
    /// Number, from 1.
    pub number: usize,
    /// What is done.
    pub does: StepKind,
    /// Temperature, time and stirring in words.
    pub how: String,
    /// What is done, in plain sentences.
    pub instruction: String,
    /// What goes in, by the numbers of the lines above.
    pub lines: Vec<MakingLine>,
    /// Name of a premix that is made here.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// What is looked at before going on.
    pub checks: Vec<String>,
    /// Cautions that do not stand with a line already.
    pub cautions: Vec<String>,
}

/// A line in a step.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MakingLine {
    /// Number of the line.
    pub number: usize,
    /// Raw material.
    pub name: String,
    /// Grams with the decimals of the balance; the parts of a line add up to it.
    #[serde(serialize_with = "result::<Grams, _, _>")]
    pub grams: Decimal,
    /// Whether it is a part of the line only.
    pub part: bool,
}

/// The steps of a procedure for the lines of a sheet.
pub(super) fn steps(procedure: &Procedure, lines: &[&BatchLine]) -> Vec<MakingStep> {
    // Of a line that goes in by parts the last takes what is left, so that nothing is lost to rounding.
    let mut left: BTreeMap<usize, (Decimal, usize)> = BTreeMap::new();
    for line in procedure.steps.iter().flat_map(|step| &step.lines) {
        let whole =
            lines.iter().find(|own| own.number == line.line + 1).map_or(Decimal::ZERO, |own| own.grams);
        left.entry(line.line).or_insert((whole, 0)).1 += 1;
    }
    let said: Vec<&str> =
        lines.iter().flat_map(|line| &line.cautions).map(|caution| caution.text.as_str()).collect();
    procedure
        .steps
        .iter()
        .map(|step| MakingStep {
            number: step.number,
            does: step.does,
            how: how(step),
            instruction: step.note.clone().unwrap_or_else(|| step.instruction.clone()),
            name: step.name.clone(),
            checks: step.checks.clone(),
            cautions: step
                .cautions
                .iter()
                .map(|caution| caution.text.clone())
                .filter(|text| !said.contains(&text.as_str()))
                .collect(),
            lines: step
                .lines
                .iter()
                .filter_map(|line| {
                    let own = lines.iter().find(|own| own.number == line.line + 1)?;
                    let (rest, parts) = left.get_mut(&line.line)?;
                    let share = line.share_percent.and_then(|share| Decimal::try_from(share / 100.0).ok());
                    let grams = match share {
                        Some(share) if *parts > 1 => (own.grams * share)
                            .round_dp_with_strategy(own.grams.scale(), RoundingStrategy::MidpointAwayFromZero)
                            .min(*rest),
                        _ => *rest,
                    };
                    *rest -= grams;
                    *parts -= 1;
                    Some(MakingLine {
                        number: own.number,
                        name: own.name.clone(),
                        grams,
                        part: share.is_some(),
                    })
                })
                .collect(),
        })
        .collect()
}

/// Temperature, time and stirring in one line.
fn how(step: &Step) -> String {
    let span = |[low, high]: [f64; 2]| {
        let plain = |number: f64| {
            let text = format!("{number:.1}");
            text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
        };
        if low == high { plain(low) } else { format!("{} to {}", plain(low), plain(high)) }
    };
    let mut parts = Vec::new();
    if let Some(at) = step.temperature {
        parts.push(format!("{} \u{00B0}C", span(at.celsius)));
    }
    if let Some(minutes) = step.minutes {
        parts.push(format!("{} minutes", span(minutes)));
    }
    if let Some(way) = &step.stirring {
        let tip = way.tip_speed.map(|tip| format!(" (tip {} m/s)", span(tip))).unwrap_or_default();
        parts.push(format!("{}{tip}", way.words));
    }
    parts.join("; ")
}

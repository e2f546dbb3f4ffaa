//! How the batch is made, as the sheet says it: the steps of the procedure with grams that the balance can show.

use super::{BatchLine, Grams, Percent};
use levigate_assess::procedure::{Procedure, Step, StepKind};
use levigate_measure::rounding;
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
    /// Place of the step of the procedure it is, from 0; none where it brings in what no step does.
    #[serde(skip)]
    pub(crate) of: Option<usize>,
}

/// A line in a step.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MakingLine {
    /// Number of the line.
    pub number: usize,
    /// Raw material.
    pub name: String,
    /// Percent of the batch; the parts of a line add up to it.
    #[serde(serialize_with = "result::<Percent, _, _>")]
    pub percent: Decimal,
    /// Grams with the decimals of the balance; the parts of a line add up to it.
    #[serde(serialize_with = "result::<Grams, _, _>")]
    pub grams: Decimal,
    /// Whether it is a part of the line only.
    pub part: bool,
}

/// What of the lines goes in where: step and place in it, from 0.
type Parts = BTreeMap<(usize, usize), MakingLine>;

/// The steps of a procedure for the lines of a sheet. What no step puts in goes in before the last check; a step for which nothing that
/// can be weighed is left over is left out.
pub(super) fn steps(procedure: &Procedure, lines: &[&BatchLine], division: Decimal) -> Vec<MakingStep> {
    let mut parts = Parts::new();
    for own in lines {
        divide(procedure, own, division, &mut parts);
    }
    let nothing_left = |at: usize, step: &Step| {
        matches!(step.does, StepKind::Add | StepKind::Disperse)
            && step.premixes.is_empty()
            && !step.lines.is_empty()
            && parts.range((at, 0)..(at + 1, 0)).next().is_none()
    };
    let said: Vec<&str> =
        lines.iter().flat_map(|line| &line.cautions).map(|caution| caution.text.as_str()).collect();
    let mut steps: Vec<MakingStep> = procedure
        .steps
        .iter()
        .enumerate()
        .filter(|(at, step)| !nothing_left(*at, step))
        .map(|(at, step)| MakingStep {
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
            lines: parts.range((at, 0)..(at + 1, 0)).map(|(_, line)| line.clone()).collect(),
            of: Some(at),
        })
        .collect();
    let used = |own: &&BatchLine| parts.values().any(|line| line.number == own.number);
    let unused: Vec<&BatchLine> = lines.iter().copied().filter(|own| !used(own)).collect();
    if !unused.is_empty() {
        let at = steps.len() - usize::from(steps.last().is_some_and(|last| last.does == StepKind::Check));
        steps.insert(at, brought_in(&unused));
    }
    for (at, step) in steps.iter_mut().enumerate() {
        step.number = at + 1;
    }
    steps
}

/// Divides a line among the steps that put it in, so that nothing is lost to rounding: the last part takes what is left. A part of which the
/// balance shows nothing is none; its share goes in with the part before it, or with the next.
fn divide(procedure: &Procedure, own: &BatchLine, division: Decimal, parts: &mut Parts) {
    let places: Vec<((usize, usize), Option<f64>)> = procedure
        .steps
        .iter()
        .enumerate()
        .flat_map(|(at, step)| step.lines.iter().enumerate().map(move |(nth, line)| ((at, nth), line)))
        .filter(|(_, line)| line.line + 1 == own.number)
        .map(|(place, line)| (place, line.share_percent))
        .collect();
    let (mut percent_left, mut grams_left) = (own.percent, own.grams);
    let mut kept: Vec<((usize, usize), Decimal, Decimal)> = Vec::new();
    let mut unweighed = Decimal::ZERO;
    for (nth, (place, share)) in places.iter().enumerate() {
        let share = share.and_then(|share| Decimal::try_from(share / 100.0).ok());
        let (percent, grams) = match share {
            Some(share) if nth + 1 < places.len() => {
                let decimals = own.percent.scale().max(4);
                let percent = (own.percent * share)
                    .round_dp_with_strategy(decimals, RoundingStrategy::MidpointAwayFromZero)
                    .normalize();
                let exact = own.grams * share;
                let grams = rounding::to_division(exact, division).unwrap_or(exact);
                (percent.min(percent_left), grams.min(grams_left))
            }
            _ => (percent_left, grams_left),
        };
        percent_left -= percent;
        grams_left -= grams;
        match kept.last_mut() {
            _ if !grams.is_zero() => kept.push((*place, percent + core::mem::take(&mut unweighed), grams)),
            Some((_, before, _)) => *before += percent,
            None => unweighed += percent,
        }
    }
    // Of a line that cannot be weighed at all the first place keeps it, so that somebody sees it.
    if let (true, Some((place, _))) = (kept.is_empty(), places.first()) {
        kept.push((*place, own.percent, own.grams));
    }
    let part = kept.len() > 1;
    for (place, percent, grams) in kept {
        parts.insert(place, MakingLine { number: own.number, name: own.name.clone(), percent, grams, part });
    }
}

/// Lines that a person's steps leave out: the batch is not whole without them.
fn brought_in(lines: &[&BatchLine]) -> MakingStep {
    MakingStep {
        number: 0,
        does: StepKind::Add,
        how: String::new(),
        instruction:
            "No step of the procedure puts this in: put it in where it belongs, and write down when."
                .to_owned(),
        lines: lines
            .iter()
            .map(|own| MakingLine {
                number: own.number,
                name: own.name.clone(),
                percent: own.percent,
                grams: own.grams,
                part: false,
            })
            .collect(),
        name: None,
        checks: Vec::new(),
        cautions: Vec::new(),
        of: None,
    }
}

/// Temperature, time and stirring in one line.
pub(crate) fn how(step: &Step) -> String {
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

//! What is done in a step, in plain sentences, and the numbers that belong to it.

use super::handling::{Is, Swelling};
use super::lines::LineFacts;
use super::plan::Planned;
use super::reading::{Adding, Caution, StepLine};
use super::words::{celsius, line, listed};
use super::{Work, grams_per_percent, percent_per_step};
use crate::findings::digits;
use levigate_formula::library::Form;
use levigate_formula::sheet::StepKind;

/// What is done in a step, in plain sentences.
pub(super) fn instruction(
    work: &Work<'_>,
    planned: &[Planned],
    at: usize,
    step: &Planned,
    lines: &[StepLine],
    premixes: &[String],
) -> String {
    let all: Vec<String> = lines.iter().map(|own| called(work, own, step)).collect();
    let to = |otherwise: &str| step.temperature_c.map_or_else(|| otherwise.to_owned(), celsius);
    match step.does {
        StepKind::Premix => premix(work, step, &all),
        StepKind::Disperse => disperse(work, planned, step, &all, premixes),
        StepKind::Hydrate => swollen(work, planned, at)
            .map_or_else(|| "Let it swell.".to_owned(), |record| record.hydrate.clone()),
        StepKind::Add => add(work, work.is_first_addition(planned, at), step, lines, premixes),
        StepKind::Heat => {
            format!("Cover the vessel and warm it to {}.", to("the temperature of the next step"))
        }
        StepKind::Hold => format!("Hold it covered at {}.", to("the temperature of the hold")),
        StepKind::Cool => format!("Let it cool, stirring, to {}.", to("room temperature")),
        StepKind::MakeUp => MAKE_UP.to_owned(),
        StepKind::DeAir => DE_AIR.to_owned(),
        StepKind::AdjustPh => {
            let unread = |own: &StepLine| {
                work.first.as_ref().is_none_or(|first| first.line != own.line || first.grams == 0.0)
            };
            let begin = if lines.iter().all(|own| own.share_percent.is_some()) {
                Begin::TheRest
            } else if lines.iter().all(unread) {
                Begin::Reading
            } else {
                Begin::FirstPart
            };
            adjust(begin, &all)
        }
        StepKind::Check => CHECK.to_owned(),
    }
}

const MAKE_UP: &str = "Weigh the vessel. Add water up to the weight it should have: vessel and stirrer empty, plus all that \
    has gone in, less what was taken out; stir it in.";
const DE_AIR: &str = "Let it stand covered, or turn it very slowly, until no bubbles are left.";
const CHECK: &str = "Take a sample; look, smell, measure, and write it down with temperature and age.";

/// How the polymer of a step swells, also of one that comes in a premix.
fn swelling<'a>(work: &Work<'a>, planned: &[Planned], step: &Planned) -> Option<&'a Swelling> {
    let premixed = step.premixes.iter().filter_map(|made| planned.get(*made)).flat_map(|made| &made.parts);
    step.parts.iter().chain(premixed).find_map(|(at, _)| line(work, *at)?.swelling)
}

/// What swells in a step that lets swell: what was brought in last.
fn swollen<'a>(work: &Work<'a>, planned: &[Planned], at: usize) -> Option<&'a Swelling> {
    planned.iter().take(at).rev().find_map(|made| swelling(work, planned, made))
}

/// What can hurt somebody in a step that lets swell; what hangs on the materials themselves is told elsewhere.
pub(super) fn cautions(work: &Work<'_>, planned: &[Planned], at: usize) -> Vec<Caution> {
    let swells = planned.get(at).is_some_and(|step| step.does == StepKind::Hydrate);
    let record = swollen(work, planned, at).filter(|record| swells && !record.caution.is_empty());
    let caution = |record: &Swelling| Caution {
        hazard: record.hazard.clone(),
        text: record.caution.clone(),
        source: "common-practice".to_owned(),
    };
    record.map(caution).into_iter().collect()
}

/// Sources of what is done in a step and of what is looked at; a person's own words have none.
pub(super) fn sources(work: &Work<'_>, planned: &[Planned], at: usize) -> Vec<String> {
    let Some(step) = planned.get(at) else { return Vec::new() };
    let record = match step.does {
        StepKind::Disperse => swelling(work, planned, step),
        StepKind::Hydrate => swollen(work, planned, at),
        _ => None,
    };
    let mut sources: Vec<String> = record.map(|record| record.source.clone()).into_iter().collect();
    let of_checks = work.asked.handling.checks.values().filter(|check| step.checks.contains(&check.text));
    for source in of_checks.map(|check| &check.source) {
        if !sources.contains(source) {
            sources.push(source.clone());
        }
    }
    sources
}

fn premix(work: &Work<'_>, step: &Planned, all: &[String]) -> String {
    let Some((carrier, rest)) = all.split_first() else { return "Nothing goes in.".to_owned() };
    if rest.is_empty() {
        return format!("Into a small vessel weigh {carrier}.");
    }
    let rest = listed(rest);
    match step.temperature_c.filter(|there| there[0] > work.usual.room_c[1]) {
        Some(warm) => format!(
            "Into a small vessel weigh {carrier} and {rest}; warm them to {} and stir until all is one clear liquid.",
            celsius(warm)
        ),
        None => format!(
            "Into a small vessel weigh {carrier}; stir in {rest}. Stir until it is smooth, without dry specks."
        ),
    }
}

fn disperse(
    work: &Work<'_>,
    planned: &[Planned],
    step: &Planned,
    all: &[String],
    premixes: &[String],
) -> String {
    let what = listed(&all.iter().chain(premixes).cloned().collect::<Vec<_>>());
    match swelling(work, planned, step) {
        Some(_) if !premixes.is_empty() => {
            format!("Pour {what} in a thin stream into the moving liquid, at once after it was made.")
        }
        Some(record) => record.disperse.replace("{what}", &what),
        None => format!("Bring {what} slowly into the moving liquid."),
    }
}

/// Carrier over what it carries, where a premix has a carrier of its own.
pub(super) fn parts(work: &Work<'_>, step: &Planned) -> Option<f64> {
    if step.does != StepKind::Premix {
        return None;
    }
    let percent = |wanted: &dyn Fn(usize) -> bool| -> f64 {
        step.parts
            .iter()
            .filter(|(at, _)| wanted(*at))
            .filter_map(|(at, share)| Some(line(work, *at)?.percent * share))
            .sum()
    };
    let premix = work.held.premixes.iter().find(|premix| {
        step.parts.iter().any(|(at, _)| *at == premix.carrier)
            && step.parts.iter().any(|(at, _)| premix.what.contains(at))
    })?;
    let ratio = percent(&|at| at == premix.carrier) / percent(&|at| premix.what.contains(&at));
    Some(ratio).filter(|ratio| ratio.is_finite())
}

/// A line with its share, as a sentence of a step calls it.
fn called(work: &Work<'_>, own: &StepLine, step: &Planned) -> String {
    let name = line(work, own.line).map_or(own.name.as_str(), LineFacts::called);
    match own.share_percent {
        Some(share) if step.does == StepKind::Add => format!("{} % of {name}", digits(share)),
        _ => name.to_owned(),
    }
}

/// What a line is for the sentence that brings it in.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Comes {
    Water,
    Molten,
    Solid,
    SolidSlowly,
    Slowly,
    Liquid,
}

fn add(work: &Work<'_>, first: bool, step: &Planned, lines: &[StepLine], premixes: &[String]) -> String {
    let comes = |one: &LineFacts<'_>| {
        if one.is(Is::Water) {
            Comes::Water
        } else if one.material.form == Form::Wax {
            Comes::Molten
        } else if one.is_solid() {
            // Granules of a strong base warm the water more than its solutions do.
            if one.is_dangerous() { Comes::SolidSlowly } else { Comes::Solid }
        } else if one.is_dangerous() {
            Comes::Slowly
        } else {
            Comes::Liquid
        }
    };
    let mut runs: Vec<(Comes, Vec<String>)> = Vec::new();
    for own in lines {
        let Some(one) = line(work, own.line) else { continue };
        let (kind, name) = (comes(one), called(work, own, step));
        match runs.last_mut().filter(|(last, _)| *last == kind) {
            Some((_, names)) => names.push(name),
            None => runs.push((kind, vec![name])),
        }
    }
    let mut sentences = Vec::new();
    for (nth, (kind, names)) in runs.iter().enumerate() {
        let names = listed(names);
        sentences.push(match kind {
            Comes::Water if nth == 0 && first => {
                format!("Weigh {names} into the vessel; write down its empty weight with the stirrer first.")
            }
            Comes::Water => format!("Add {names} slowly, stirring."),
            Comes::Molten => format!("Add {names}; stir until it is molten and even."),
            Comes::Solid => format!("Add {names}; stir until no grain is left."),
            Comes::SolidSlowly => {
                format!("Add {names} slowly and in portions, stirring, until no grain is left.")
            }
            Comes::Slowly => format!("Add {names} slowly and in portions, stirring."),
            Comes::Liquid if nth == 0 && first => {
                format!("Weigh {names} into the vessel.")
            }
            Comes::Liquid => format!("Stir in {names}."),
        });
    }
    if !premixes.is_empty() {
        let first = lines.is_empty() && first;
        let how = if first { "Put {} into the vessel." } else { "Pour in {}, stirring." };
        sentences.push(how.replace("{}", &listed(premixes)));
    }
    if sentences.is_empty() {
        sentences.push("Nothing goes in.".to_owned());
    }
    sentences.join(" ")
}

/// How the setting of the pH begins.
enum Begin {
    /// A first part went in before.
    TheRest,
    /// Nothing goes in before the pH is read.
    Reading,
    /// A first part goes in unread.
    FirstPart,
}

fn adjust(begin: Begin, all: &[String]) -> String {
    if all.is_empty() {
        return "Read the pH at 25 C, until it stands still.".to_owned();
    }
    let what = listed(all);
    let read = "Let the batch come to 25 C and read the pH until it stands still";
    let begin = match begin {
        Begin::TheRest => format!("{read}. Add the rest of {what} in small steps"),
        Begin::Reading => format!("{read}. Add {what} in small steps, away from the electrode"),
        Begin::FirstPart => format!(
            "Add the first part of {what} slowly, away from the electrode. Stir until it is even, let it come to 25 C, \
             read the pH until it stands still, then go on in small steps"
        ),
    };
    format!("{begin}; stir and read after each, and write down what went in.")
}

/// How acid or base goes in.
pub(super) fn adding(work: &Work<'_>, step: &Planned) -> Vec<Adding> {
    let sets_the_ph = step.does == StepKind::AdjustPh;
    let per_percent = grams_per_percent(work.asked.sheet);
    let readings = &work.asked.assessed.assessment.adjusters;
    readings
        .iter()
        .filter_map(|reading| {
            let (_, share) = step.parts.iter().find(|(at, _)| *at == reading.line)?;
            reading.percent.value?;
            Some(Adding {
                line: reading.line,
                name: reading.name.clone(),
                first_g: work
                    .first
                    .as_ref()
                    .filter(|first| {
                        *share == 1.0 && sets_the_ph && first.line == reading.line && first.grams > 0.0
                    })
                    .map(|first| first.grams),
                warms_by: (*share > 0.5).then(|| reading.warms_by.clone()),
                for_0_05_ph: percent_per_step(work, reading.line)
                    .filter(|_| sets_the_ph)
                    .map(|percent| percent * per_percent),
            })
        })
        .collect()
}

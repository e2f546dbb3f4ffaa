//! From the rules of handling and the lines of a formula to what its procedure is held to.

use super::constraint::{Constraint, Demand, Event, Mark};
use super::handling::{Asks, Handling, Is, Limit, Rule, SwellingHow, Told, Usual, Who};
use super::lines::{Batch, LineFacts, matches};
use crate::saturation::Crystals;
use std::collections::{BTreeMap, BTreeSet};

/// A premix that is proposed.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Carried {
    /// What it is called.
    pub(super) word: String,
    /// What is carried, by line.
    pub(super) what: BTreeSet<usize>,
    /// The carrier, by line.
    pub(super) carrier: usize,
    /// Percent of the product that it takes of the carrier; absent: all.
    pub(super) percent: Option<f64>,
}

/// Everything a procedure of this formula is held to.
#[derive(Clone, Debug, Default)]
pub(super) struct Held {
    pub(super) constraints: Vec<Constraint>,
    /// Steps that are needed.
    pub(super) events: BTreeSet<Event>,
    /// Share of its line that a mark stands for; absent: all of it.
    pub(super) shares: BTreeMap<Mark, f64>,
    pub(super) premixes: Vec<Carried>,
    /// All marks of a procedure.
    pub(super) marks: Vec<Mark>,
}

impl Held {
    pub(super) fn share(&self, mark: Mark) -> f64 {
        self.shares.get(&mark).copied().unwrap_or(1.0)
    }
}

/// Gathers it. `first_share` is the share of an adjuster that goes in before the pH is set.
pub(super) fn held(
    batch: &Batch<'_>,
    handling: &Handling,
    usual: &Usual,
    crystals: &Crystals,
    first_share: f64,
) -> Held {
    let mut held = Held::default();
    let rules: Vec<&Rule> = handling.rules.values().filter(|rule| applies(rule, batch)).collect();
    for rule in &rules {
        if let Asks::Needs { event } = rule.asks {
            held.events.insert(event);
        }
    }
    divide_adjusters(&mut held, batch, first_share);
    divide_water(&mut held, batch, usual);
    for rule in &rules {
        if let Asks::With { what, carriers, parts, premix } = &rule.asks {
            carry(&mut held, batch, rule, (what, carriers, *parts, premix));
        }
    }
    divide_carriers(&mut held, batch);
    for rule in rules {
        apply(&mut held, batch, usual, rule, crystals);
    }
    for one in &batch.lines {
        let marks: Vec<Mark> =
            held.shares.keys().copied().filter(|mark| mark.line() == Some(one.line)).collect();
        if marks.is_empty() {
            held.marks.push(Mark::Line(one.line));
        } else {
            let used =
                marks.into_iter().filter(|mark| held.shares.get(mark).is_some_and(|share| *share > 0.0));
            held.marks.extend(used);
        }
    }
    held.marks.extend(held.events.iter().map(|event| Mark::Event(*event)));
    let known: BTreeSet<Mark> = held.marks.iter().copied().collect();
    held.constraints.retain(|one| one.demand.marks().iter().flatten().all(|mark| known.contains(mark)));
    held
}

/// Whether a rule speaks of batches like this.
pub(super) fn applies(rule: &Rule, batch: &Batch<'_>) -> bool {
    rule.when.iter().all(|when| batch.when.contains(when))
        && !rule.unless.iter().any(|unless| batch.when.contains(unless))
}

/// The last part of each adjuster goes in where the pH is set; the first part is a step of its own only where something stands between.
fn divide_adjusters(held: &mut Held, batch: &Batch<'_>, first_share: f64) {
    if !held.events.contains(&Event::AdjustPh) {
        return;
    }
    let between = batch.lines.iter().any(|one| one.is(Is::FallsOut));
    for one in batch.lines.iter().filter(|one| one.is(Is::Adjuster)) {
        let base = one.material.functions.iter().any(|function| function == "base");
        let last = if between && base {
            held.shares.insert(Mark::Line(one.line), first_share);
            held.shares.insert(Mark::Portion(one.line, 0), 1.0 - first_share);
            Mark::Portion(one.line, 0)
        } else {
            Mark::Line(one.line)
        };
        held.constraints.push(ours(
            "adjuster-sets-the-ph",
            Demand::Together(last, Mark::Event(Event::AdjustPh)),
            "It is added to a pH, so it goes in while the pH is read.",
            "The amount on paper is computed; without the meter the pH is a guess.",
        ));
    }
}

/// The part of the water that goes in cold, where it goes in twice.
pub(super) const COLD_REST: usize = usize::MAX;

/// Water for a powder that is dispersed hot and swells cold goes in twice.
fn divide_water(held: &mut Held, batch: &Batch<'_>, usual: &Usual) {
    let Some(water) = batch.lines.iter().find(|one| one.is(Is::Water)) else { return };
    let rest = Mark::Portion(water.line, COLD_REST);
    for one in &batch.lines {
        if one.swelling.is_none_or(|record| record.how != SwellingHow::HotThenCold) {
            continue;
        }
        let hot = usual.hot_water_percent / 100.0;
        held.shares.insert(Mark::Line(water.line), hot);
        held.shares.insert(rest, 1.0 - hot);
        let source = one.swelling.map(|record| record.source.clone()).unwrap_or_default();
        let why = "It scatters in hot water without dissolving, and swells when cold water brings the temperature down.";
        let breaks = "In cold water it lumps; in hot water alone it does not swell.";
        let mut add = |demand: Demand| {
            held.constraints.push(Constraint {
                sources: vec![source.clone()],
                gravity: crate::finding::Gravity::Change,
                ..ours("hot-then-cold", demand, why, breaks)
            });
        };
        add(Demand::Before(Mark::Line(water.line), Mark::Line(one.line)));
        add(Demand::Before(Mark::Line(one.line), rest));
        for other in &batch.lines {
            if other.line != one.line
                && !other.is(Is::Water)
                && !other.is(Is::Swells)
                && !other.is(Is::Polyol)
            {
                held.constraints.push(Constraint {
                    gravity: crate::finding::Gravity::Know,
                    sources: vec!["common-practice".to_owned()],
                    ..ours(
                        "rest-of-the-water-first",
                        Demand::Before(rest, Mark::Line(other.line)),
                        "It waits until the rest of the water is in and the batch is cool.",
                        "It meets a third of the water, hot.",
                    )
                });
            }
        }
    }
}

fn ours(rule: &str, demand: Demand, why: &str, breaks: &str) -> Constraint {
    Constraint {
        rule: rule.to_owned(),
        demand,
        gravity: crate::finding::Gravity::Change,
        why: why.to_owned(),
        breaks: breaks.to_owned(),
        told: Told::Later,
        sources: vec!["common-practice".to_owned()],
    }
}

/// Amounts are compared with less care than they are typed.
const ALMOST: f64 = 1e-6;

/// Finds a carrier for what a rule carries.
fn carry(
    held: &mut Held,
    batch: &Batch<'_>,
    rule: &Rule,
    (what, carriers, parts, premix): (&Who, &[Who], Option<[f64; 2]>, &str),
) {
    for one in batch.lines.iter().filter(|one| matches(what, one) && one.percent > 0.0) {
        let fits = |who: &Who| {
            let mut found: Vec<&LineFacts<'_>> = batch
                .lines
                .iter()
                .filter(|other| other.line != one.line && other.percent > 0.0 && matches(who, other))
                .collect();
            // The one of the same phase, else of the right amount, else the largest, else the first.
            let suits = |other: &LineFacts<'_>| {
                let ratio = other.percent / one.percent;
                parts.is_some_and(|[least, most]| (least..=most * (1.0 + ALMOST)).contains(&ratio))
            };
            found.sort_by(|a, b| {
                (a.phase != one.phase)
                    .cmp(&(b.phase != one.phase))
                    .then(suits(b).cmp(&suits(a)))
                    .then(b.percent.total_cmp(&a.percent))
                    .then(a.line.cmp(&b.line))
            });
            found.first().map(|found| found.line)
        };
        let Some(carrier) = carriers.iter().find_map(fits) else { continue };
        // Water that goes in twice already is not divided once more.
        if held.shares.contains_key(&Mark::Portion(carrier, COLD_REST)) {
            continue;
        }
        let carries = |other: &Carried| other.word == premix && other.carrier == one.line;
        if held.premixes.iter().any(|other| other.what.contains(&one.line) || carries(other)) {
            continue;
        }
        // What another is carried with already carries this too.
        let joined = held.premixes.iter().find(|other| other.word == premix && other.what.contains(&carrier));
        let carrier = joined.map_or(carrier, |other| other.carrier);
        let needs = parts.map(|[_, most]| most * one.percent);
        match held.premixes.iter_mut().find(|other| other.carrier == carrier && other.word == premix) {
            Some(other) => {
                other.what.insert(one.line);
                other.percent = other.percent.zip(needs).map(|(a, b)| a + b);
            }
            None => held.premixes.push(Carried {
                word: premix.to_owned(),
                what: BTreeSet::from([one.line]),
                carrier,
                percent: needs,
            }),
        }
        held.constraints.push(Constraint {
            rule: rule.key.clone(),
            demand: Demand::Together(Mark::Line(one.line), Mark::Line(carrier)),
            gravity: rule.gravity,
            why: rule.why.clone(),
            breaks: rule.breaks.clone(),
            told: Told::Later,
            sources: vec![rule.source.clone()],
        });
    }
}

/// Most of a carrier that stays over is not worth a part of its own, share of the line.
const SMALL_REST: f64 = 0.25;

/// Divides carriers that several premixes ask for, or that are far more than one needs.
fn divide_carriers(held: &mut Held, batch: &Batch<'_>) {
    let carriers: BTreeSet<usize> = held.premixes.iter().map(|premix| premix.carrier).collect();
    for carrier in carriers {
        let available = batch.lines.iter().find(|one| one.line == carrier).map_or(0.0, |one| one.percent);
        let users: Vec<usize> =
            (0..held.premixes.len()).filter(|at| held.premixes[*at].carrier == carrier).collect();
        let needs: Vec<f64> =
            users.iter().map(|at| held.premixes[*at].percent.unwrap_or(available).min(available)).collect();
        let wanted: f64 = needs.iter().sum();
        if available <= 0.0 || wanted <= 0.0 {
            continue;
        }
        if let ([_], true) = (&users[..], wanted >= (1.0 - SMALL_REST) * available) {
            continue;
        }
        let scale = if wanted > (1.0 - SMALL_REST) * available { available / wanted } else { 1.0 };
        for (part, (at, need)) in users.iter().zip(&needs).enumerate() {
            let mark = Mark::Portion(carrier, part);
            // Weighed at the bench: a share in whole percent.
            let share = (100.0 * need * scale / available).round() / 100.0;
            held.shares.insert(mark, share);
            let what = held.premixes[*at].what.clone();
            for constraint in &mut held.constraints {
                if let Demand::Together(Mark::Line(one), Mark::Line(other)) = constraint.demand
                    && other == carrier
                    && what.contains(&one)
                {
                    constraint.demand = Demand::Together(Mark::Line(one), mark);
                }
            }
        }
        let taken: f64 = (0..users.len()).map(|part| held.share(Mark::Portion(carrier, part))).sum();
        if taken > 1.0 - 0.005 {
            // What rounding left over, or took too much, falls to the first part.
            let first = Mark::Portion(carrier, 0);
            let share = held.share(first) + 1.0 - taken;
            held.shares.insert(first, share);
            held.shares.insert(Mark::Line(carrier), 0.0);
        } else {
            held.shares.insert(Mark::Line(carrier), 1.0 - taken);
        }
    }
}

/// The marks a rule means.
fn marks_of(who: &Who, batch: &Batch<'_>, held: &Held, first: bool) -> Vec<Mark> {
    if let Some(event) = who.event {
        return if held.events.contains(&event) { vec![Mark::Event(event)] } else { Vec::new() };
    }
    let mut marks = Vec::new();
    for one in batch.lines.iter().filter(|one| matches(who, one)) {
        let own: Vec<Mark> =
            held.shares.keys().copied().filter(|mark| mark.line() == Some(one.line)).collect();
        match own.as_slice() {
            [] => marks.push(Mark::Line(one.line)),
            // Of water that goes in twice, what needs water needs the first part.
            _ if first => marks.push(Mark::Line(one.line)),
            _ => marks.extend(own),
        }
    }
    marks
}

fn apply(held: &mut Held, batch: &Batch<'_>, usual: &Usual, rule: &Rule, crystals: &Crystals) {
    let one = |demand: Demand| Constraint {
        rule: rule.key.clone(),
        demand,
        gravity: rule.gravity,
        why: rule.why.clone(),
        breaks: rule.breaks.clone(),
        told: rule.told,
        sources: vec![rule.source.clone()],
    };
    match &rule.asks {
        Asks::Before { first, then } => {
            let then_who = then;
            let (firsts, thens) = (marks_of(first, batch, held, true), marks_of(then, batch, held, false));
            for first in &firsts {
                for then in thens.iter().filter(|then| then.line() != first.line() || then.line().is_none()) {
                    let mut constraint = one(Demand::Before(*first, *then));
                    if then_who.is.contains(&Is::FallsOut) {
                        explain_crystals(&mut constraint, crystals);
                    }
                    held.constraints.push(constraint);
                }
            }
        }
        Asks::AtLeast { what, celsius } => {
            for mark in marks_of(what, batch, held, true) {
                held.constraints.push(one(Demand::AtLeast(mark, *celsius)));
            }
        }
        Asks::KeepBelow { what, limit } => {
            for mark in marks_of(what, batch, held, true) {
                let line = mark.line().and_then(|line| batch.lines.iter().find(|one| one.line == line));
                let found = match (line, *limit) {
                    (Some(line), limit) => line.limit(limit, usual, &rule.source),
                    (None, Limit::Celsius(celsius)) => Some((celsius, rule.source.clone())),
                    (None, _) => None,
                };
                // One limit is told once: the lower of that of the material and that of its preservative.
                let told_already = *limit == Limit::AddBelow
                    && line
                        .and_then(|line| line.limit(Limit::HeatLimit, usual, ""))
                        .zip(found.as_ref())
                        .is_some_and(|((own, _), (celsius, _))| own <= *celsius);
                if let Some((celsius, source)) = found.filter(|_| !told_already) {
                    let mut constraint = one(Demand::KeepBelow(mark, celsius));
                    constraint.sources = vec![source];
                    held.constraints.push(constraint);
                }
            }
        }
        Asks::With { .. } | Asks::Needs { .. } => {}
    }
}

/// A rule about what crystallises says so with the numbers that were computed.
fn explain_crystals(constraint: &mut Constraint, crystals: &Crystals) {
    let Demand::Before(_, then) = constraint.demand else { return };
    let told: Vec<String> = crystals
        .acids
        .iter()
        .filter(|acid| then.line().is_some_and(|line| acid.lines.contains(&line)))
        .map(|acid| format!("{} at {} times its solubility", acid.name, crate::findings::digits(acid.degree)))
        .collect();
    if !told.is_empty() && crystals.ph.is_finite() {
        let hundredths = (crystals.ph * 100.0).round() / 100.0;
        constraint.breaks = format!(
            "{} Before the base is in, the mixture stands at pH {hundredths:.2} and {}.",
            constraint.breaks,
            told.join(", ")
        );
        for acid in &crystals.acids {
            for source in &acid.sources {
                if !constraint.sources.contains(source) {
                    constraint.sources.push(source.clone());
                }
            }
        }
    }
}

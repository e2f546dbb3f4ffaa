//! What the differences between two trials did to the pH, beside what was read: each difference by the engine, what is left unexplained,
//! and which difference to try alone next.

use super::book::{Desk, SheetMade};
use super::{FlowBook, TrialRecords};
use crate::records::{Kept, Method, Reading, Trial, TypedNumber};
use crate::workbench::assess::known;
use crate::workbench::complaint::complaints;
use crate::workbench::difference::words as amount_words;
use crate::workbench::keeping::struck;
use jiff::civil::Date;
use levigate_assess::effects::{
    MOST_TOGETHER, NextTrial, Stand, Suspect, next_trial, ph_stand, shared_out, weighing_doubt,
};
use levigate_assess::{AssessError, Known};
use levigate_facts::Facts;
use levigate_formula::sheet::{Amount, Line, Sheet};
use levigate_measure::{Grade, Outcome};
use rust_decimal::Decimal;
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};
use serde::Serialize;
use std::collections::BTreeMap;

/// A line weighed nearer than this, relative, to the same line of the other trial was meant to be the same. A judgement, no source.
const WEIGHED_ALIKE: f64 = 0.01;
const WIDTH_95: f64 = 1.96;
const PROOF: &str = "tests/tests/effects.rs";

/// Two trials and what lies between them.
#[derive(Clone, Debug, Serialize)]
pub struct Effects {
    /// Number of the trial it is told from.
    pub left: u32,
    /// Number of the trial it leads to.
    pub right: u32,
    /// What the engine says each difference did to the pH, in the order of the newer sheet.
    pub differences: Vec<Difference>,
    /// What differs and is not in any model here.
    pub not_computed: Vec<NotComputed>,
    /// Change of the pH that all of them explain.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub explained: Option<Outcome>,
    /// Change that was read, where both were read neat.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub measured: Option<Outcome>,
    /// What of it stays unexplained.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unexplained: Option<Outcome>,
    /// What it comes to, in a sentence.
    pub say: String,
    /// The trial that tells most next, in words; empty where there is none to advise.
    pub next: String,
    /// Why nothing is told.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub refused: Option<String>,
}

/// One difference, as the engine tells it.
#[derive(Clone, Debug, Serialize)]
pub struct Difference {
    /// What.
    pub what: String,
    /// In the trial it is told from; empty where it was not there.
    pub was: String,
    /// In the other; empty where it is gone.
    pub now: String,
    /// What it did to the pH.
    pub effect: Outcome,
}

/// A difference no model here speaks of.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct NotComputed {
    /// What.
    pub what: String,
    /// In the trial it is told from.
    pub was: String,
    /// In the other.
    pub now: String,
    /// Why it is not computed.
    pub why: String,
}

/// A change of the sheet that can be made by itself.
struct Patch {
    what: String,
    was: String,
    now: String,
    /// Lines of the older that give way, with the line that stands there instead, if any.
    lines: Vec<(usize, Option<Line>)>,
    /// Lines that are new, with the name of their phase.
    added: Vec<(String, Line)>,
    /// Metals of the brief, where they differ.
    metals: Option<BTreeMap<String, Decimal>>,
}

/// Lays what lies between two trials out.
///
/// # Errors
/// The number of a trial that is not there.
pub fn trial_effects(
    facts: &Facts,
    day: Date,
    market: &str,
    (records, flow): (&TrialRecords, &FlowBook),
    [left, right]: [u32; 2],
) -> Result<Effects, u32> {
    let find = |number: u32| records.trials.iter().find(|trial| trial.number == number).ok_or(number);
    let (before, after) = (find(left)?, find(right)?);
    let desk = Desk { facts, day, market, records, flow };
    let nothing = Effects {
        left,
        right,
        differences: Vec::new(),
        not_computed: Vec::new(),
        explained: None,
        measured: None,
        unexplained: None,
        say: String::new(),
        next: String::new(),
        refused: None,
    };
    Ok(match between(&desk, before, after, nothing.clone()) {
        Ok(effects) => effects,
        Err(why) => Effects { refused: Some(why), ..nothing },
    })
}

fn between(
    desk: &Desk<'_>,
    before: &Kept<Trial>,
    after: &Kept<Trial>,
    nothing: Effects,
) -> Result<Effects, String> {
    let (from, facts) = desk.sheet_made(before)?;
    let (to, newer) = desk.sheet_made(after)?;
    if facts.version() != newer.version() {
        return Err("the two versions bring different facts of their own: what a difference did cannot be told from what the facts did".to_owned());
    }
    let known = known(&facts);
    let (older, younger) = (weighed_out(&from, &known)?, weighed_out(&to, &known)?);
    let patches = patches([&from, &to], [&older, &younger]);
    let stand = |marks: &[bool]| {
        let chosen = patches.iter().zip(marks).filter(|(_, mark)| **mark).map(|(patch, _)| patch);
        ph_stand(&patched(&older, chosen), &known).map_err(|error| first(&error))
    };
    let effects = shared_out(patches.len(), stand)?;
    let mut explained = Stand::default();
    effects.iter().for_each(|effect| explained.add(1.0, effect));
    let convention = facts.ph_bench.convention.as_ref();
    let relative = convention.map_or(0.0, |convention| convention.line_relative);
    let weighing = weighings(&older, &younger, &known, relative)?;
    let spread = explained.uncertainty().hypot(weighing);
    let read = most_alike(&readings_on(desk.records, before), &readings_on(desk.records, after));
    let mut not_computed = not_computed(before, after, &from, &to);
    not_computed.extend(unlike_readings(&read));
    let reading = convention.map_or(0.0, |one| one.reading_ph.hypot(one.meter_ph));
    let measured = read[0].zip(read[1]).map(|(was, now)| change_read(was, now, reading));
    let unexplained = measured.as_ref().and_then(|measured| left_over(measured, &explained, spread, reading));
    let rest = unexplained.as_ref().and_then(|outcome| outcome.value);
    let next = rest
        .map(|rest| advice(&patches, &effects, &not_computed, rest, reading, [before.number, after.number]));
    Ok(Effects {
        say: say(patches.len(), &explained, spread, measured.as_ref(), unexplained.as_ref()),
        differences: patches
            .iter()
            .zip(&effects)
            .map(|(patch, effect)| difference(patch, effect, patches.len()))
            .collect(),
        not_computed,
        explained: Some(
            of_change(explained.value, spread, "sum of what the differences do by the equilibrium")
                .term("constants, coefficients and contents", explained.uncertainty(), "")
                .term("weighing of both", weighing, ""),
        ),
        measured,
        unexplained,
        next: next.unwrap_or_default(),
        ..nothing
    })
}

fn first(error: &AssessError) -> String {
    complaints(error).into_iter().next().map(|one| one.what).unwrap_or_default()
}

/// Weighing doubts of two makings together, pH.
fn weighings(from: &Sheet, to: &Sheet, known: &Known<'_>, relative: f64) -> Result<f64, String> {
    let doubt = |sheet| weighing_doubt(sheet, known, relative).map_err(|error| first(&error));
    Ok(doubt(from)?.hypot(doubt(to)?))
}

fn of_change(value: f64, spread: f64, how: &'static str) -> Outcome {
    Outcome::new(value, "", Grade::Computed, how)
        .within(value - WIDTH_95 * spread, value + WIDTH_95 * spread, Some(0.95))
        .proved_by(PROOF)
}

fn difference(patch: &Patch, effect: &Stand, all: usize) -> Difference {
    let mut outcome = of_change(
        effect.value,
        effect.uncertainty(),
        "equilibrium of the water phase with and without the difference",
    );
    outcome = if all > MOST_TOGETHER {
        outcome.note("two-orders", "shared out over two orders of the differences only: what two do together is shared between those two roughly")
    } else {
        outcome.by("mean over all orders of the differences")
    };
    let mut largest: Vec<(&String, &f64)> = effect.pulls.iter().collect();
    largest.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
    for (doubt, pull) in largest.into_iter().take(3).filter(|(_, pull)| pull.abs() > 1e-4) {
        outcome = outcome.term(doubt.clone(), pull.abs(), "");
    }
    Difference { what: patch.what.clone(), was: patch.was.clone(), now: patch.now.clone(), effect: outcome }
}

/// The line as it decides the composition: amount and assay.
fn deciding(line: &Line) -> (Amount, Option<Decimal>) {
    let plain = |amount: Amount| match amount {
        Amount::Percent(percent) => Amount::Percent(percent.normalize()),
        Amount::ActivePercent(percent) => Amount::ActivePercent(percent.normalize()),
        Amount::ToPh(ph) => Amount::ToPh(ph.normalize()),
        Amount::Remainder(rest) => Amount::Remainder(rest),
    };
    (plain(line.amount), line.assay_percent.map(|assay| assay.normalize()))
}

fn weighed_alike(left: &Line, right: &Line) -> bool {
    let (Amount::Percent(was), Amount::Percent(now)) = (&left.amount, &right.amount) else { return false };
    let (was, now) = (was.to_f64().unwrap_or(0.0), now.to_f64().unwrap_or(0.0));
    left.assay_percent == right.assay_percent && (now - was).abs() <= WEIGHED_ALIKE * was.abs().max(now.abs())
}

/// The sheet with what its acid and base lines come to in their place, so that each is a difference like any other.
fn weighed_out(made: &SheetMade, known: &Known<'_>) -> Result<Sheet, String> {
    let mut sheet = made.sheet.clone();
    if sheet.lines().all(|(_, line)| !matches!(line.amount, Amount::ToPh(_))) {
        return Ok(sheet);
    }
    let (settled, _, _) = levigate_assess::solved(&sheet, known).map_err(|error| first(&error))?;
    let lines = sheet.phases.iter_mut().flat_map(|phase| &mut phase.lines);
    for (line, settled) in lines.zip(&settled.lines) {
        if matches!(line.amount, Amount::ToPh(_)) {
            line.amount = Amount::Percent(Decimal::from_f64(settled.percent).unwrap_or_default());
        }
    }
    Ok(sheet)
}

/// The differences between two sheets as changes of the first that can be made one by one. What is q.s. is one of them: a sheet has just one such
/// line.
fn patches([from, to]: [&SheetMade; 2], [old, new]: [&Sheet; 2]) -> Vec<Patch> {
    let (target_was, target_now) = (&old.target, &new.target);
    let old: Vec<&Line> = old.lines().map(|(_, line)| line).collect();
    let new: Vec<(usize, &Line)> = new.lines().collect();
    let mut partner: Vec<Option<usize>> = vec![None; new.len()];
    let mut taken = vec![false; old.len()];
    for (at, of) in partner.iter_mut().enumerate() {
        let key = &to.lines()[at].key;
        let found = (0..old.len()).find(|other| !taken[*other] && from.lines()[*other].key == *key);
        if let Some(other) = found {
            taken[other] = true;
            *of = Some(other);
        }
    }
    let empty = |what: &str| Patch {
        what: what.to_owned(),
        was: String::new(),
        now: String::new(),
        lines: Vec::new(),
        added: Vec::new(),
        metals: None,
    };
    // As the formula writes it; of what was solved for a pH, what that comes to.
    let told = |line: &Line, written: &Line| match written.amount {
        Amount::ToPh(ph) => match line.amount {
            Amount::Percent(percent) => {
                format!("{} % for pH {}", percent.round_sf(3).unwrap_or(percent).normalize(), ph.normalize())
            }
            _ => String::new(),
        },
        _ => amount_words(&Line { lot: None, note: None, tolerance_percent: None, ..line.clone() }, true),
    };
    let (wrote, writes): (Vec<&Line>, Vec<&Line>) = (
        from.sheet.lines().map(|(_, line)| line).collect(),
        to.sheet.lines().map(|(_, line)| line).collect(),
    );
    let mut found: Vec<Patch> = Vec::new();
    let mut pools = [empty("what is q.s."), empty("weighings")];
    let pool_of = |was: Option<&Line>, now: Option<&Line>| {
        let rest = |line: &Line| matches!(line.amount, Amount::Remainder(_));
        if was.into_iter().chain(now).any(rest) {
            Some(0)
        } else {
            was.zip(now).is_some_and(|(was, now)| weighed_alike(was, now)).then_some(1)
        }
    };
    let both = |words: &mut String, more: String| {
        *words = if words.is_empty() { more } else { format!("{words}; {more}") };
    };
    let came = (0..new.len()).map(|at| (partner[at], Some(at)));
    let went = (0..old.len()).filter(|other| !taken[*other]).map(|other| (Some(other), None));
    for (was, now) in came.chain(went) {
        let (old_line, new_line) = (was.map(|at| old[at]), now.map(|at| new[at].1));
        if old_line.zip(new_line).is_some_and(|(was, now)| deciding(was) == deciding(now)) {
            continue;
        }
        let Some(line) = new_line.or(old_line) else { continue };
        let pool = pool_of(old_line, new_line);
        let mut patch = empty(&line.material);
        let into = pool.map_or(&mut patch, |pool| &mut pools[pool]);
        let named = |line: &Line, written: &Line| {
            let amount = told(line, written);
            if pool == Some(0) { format!("{} {amount}", line.material) } else { amount }
        };
        if let Some(at) = was {
            both(&mut into.was, named(old[at], wrote[at]));
        }
        if let Some(at) = now {
            both(&mut into.now, named(new[at].1, writes[at]));
        }
        match (was, now) {
            (Some(other), _) => into.lines.push((other, new_line.cloned())),
            (None, Some(at)) => into.added.push((to.sheet.phases[new[at].0].name.clone(), line.clone())),
            (None, None) => {}
        }
        if pool.is_none() {
            found.push(patch);
        }
    }
    let [_, alike] = &mut pools;
    (alike.was, alike.now) = (String::new(), format!("{} weighed within 1 % of the same", alike.lines.len()));
    found.extend(pools.into_iter().filter(|pool| !(pool.lines.is_empty() && pool.added.is_empty())));
    let (was, now) = (&target_was.metals_mg_kg, &target_now.metals_mg_kg);
    if was != now {
        let metals = |of: &BTreeMap<String, Decimal>| {
            of.iter()
                .map(|(ion, mg)| format!("{ion} {} mg/kg", mg.normalize()))
                .collect::<Vec<_>>()
                .join(", ")
        };
        let (was, words) = (metals(was), metals(now));
        found.push(Patch { was, now: words, metals: Some(now.clone()), ..empty("metals expected") });
    }
    found
}

/// The sheet with changes made in it.
fn patched<'p>(from: &Sheet, chosen: impl Iterator<Item = &'p Patch>) -> Sheet {
    let mut sheet = from.clone();
    let mut replaced: BTreeMap<usize, Option<Line>> = BTreeMap::new();
    let mut added: Vec<&(String, Line)> = Vec::new();
    for patch in chosen {
        replaced.extend(patch.lines.iter().cloned());
        added.extend(&patch.added);
        if let Some(metals) = &patch.metals {
            sheet.target.metals_mg_kg.clone_from(metals);
        }
    }
    let mut at = 0;
    for phase in &mut sheet.phases {
        phase.lines = std::mem::take(&mut phase.lines)
            .into_iter()
            .filter_map(|line| {
                let kept = replaced.remove(&at).unwrap_or(Some(line));
                at += 1;
                kept
            })
            .collect();
    }
    for (name, line) in added {
        let place =
            sheet.phases.iter().position(|phase| phase.name == *name).or(sheet.phases.len().checked_sub(1));
        if let Some(phase) = place.and_then(|place| sheet.phases.get_mut(place)) {
            phase.lines.push(line.clone());
        }
    }
    // How it is made plays no part in the equilibrium, and its steps mean lines by their places.
    sheet.steps.clear();
    sheet
}

fn not_computed(
    before: &Kept<Trial>,
    after: &Kept<Trial>,
    from: &SheetMade,
    to: &SheetMade,
) -> Vec<NotComputed> {
    let mut found = Vec::new();
    let mut tell = |what: &str, was: &str, now: &str, why: &str| {
        found.push(NotComputed {
            what: what.to_owned(),
            was: was.to_owned(),
            now: now.to_owned(),
            why: why.to_owned(),
        });
    };
    for line in to.lines() {
        let same = from.lines().iter().find(|other| other.key == line.key && other.lot != line.lot);
        if let Some(other) = same.filter(|other| other.lot_assay == line.lot_assay) {
            let why = if line.lot_assay.is_empty() {
                "no assay of either lot is on file"
            } else {
                "the assays are the same; what else differs is not on file"
            };
            tell(&format!("lot of {}", line.material), &other.lot, &line.lot, why);
        }
    }
    if before.what.process != after.what.process {
        let why = "words about the making are not computed with";
        tell("how it was made", &before.what.process, &after.what.process, why);
    }
    found
}

/// The readings of the pH that stand on a trial, taken neat.
fn readings_on<'r>(records: &'r TrialRecords, trial: &Kept<Trial>) -> Vec<&'r Reading> {
    let readings = records.readings.get(&trial.id).map_or(&[][..], Vec::as_slice);
    let strikes = struck(readings);
    let stands = |reading: &&Kept<Reading>| {
        !strikes.contains_key(&reading.id)
            && !reading.what.withdrawn
            && reading.what.quantity == "ph"
            && reading.what.method == Method::Neat
            && reading.what.value.value.is_some()
    };
    readings.iter().filter(stands).map(|reading| &reading.what).collect()
}

/// The pair of readings most alike in temperature and age, the later where several are.
fn most_alike<'r>(before: &[&'r Reading], after: &[&'r Reading]) -> [Option<&'r Reading>; 2] {
    let number = |number: &Option<TypedNumber>| plain(number.as_ref().and_then(|number| number.value));
    // Ages tell by their ratio, temperatures by their difference; what was not noted stands behind what was read alike.
    let unlike = |was: &Reading, now: &Reading| {
        let ages = number(&was.age_h).zip(number(&now.age_h));
        let aged = ages.map_or(1.0, |(was, now)| ((was + 1.0) / (now + 1.0)).log10().abs());
        let degrees = number(&was.temperature_c).zip(number(&now.temperature_c));
        aged + degrees.map_or(1.0, |(was, now)| (was - now).abs() / 5.0)
    };
    let pairs = after.iter().rev().flat_map(|now| before.iter().rev().map(move |was| (*was, *now)));
    let best = pairs.min_by(|one, other| unlike(one.0, one.1).total_cmp(&unlike(other.0, other.1)));
    match best {
        Some((was, now)) => [Some(was), Some(now)],
        None => [before.last().copied(), after.last().copied()],
    }
}

fn plain(value: Option<Decimal>) -> Option<f64> {
    value.and_then(|value| value.to_f64())
}

/// Readings taken otherwise: temperature and age.
fn unlike_readings(read: &[Option<&Reading>; 2]) -> Vec<NotComputed> {
    let [Some(was), Some(now)] = read else { return Vec::new() };
    let pairs = [
        ("temperature of the reading", &was.temperature_c, &now.temperature_c, " \u{b0}C"),
        ("age of the sample read", &was.age_h, &now.age_h, " h"),
    ];
    let typed = |number: &Option<TypedNumber>, unit: &str| {
        number.as_ref().map_or_else(|| "not noted".to_owned(), |number| format!("{}{unit}", number.typed))
    };
    pairs
        .into_iter()
        .filter(|(_, was, now, _)| {
            was.as_ref().and_then(|one| one.value) != now.as_ref().and_then(|one| one.value)
        })
        .map(|(what, was, now, unit)| NotComputed {
            what: what.to_owned(),
            was: typed(was, unit),
            now: typed(now, unit),
            why: "the two were not read alike".to_owned(),
        })
        .collect()
}

fn change_read(was: &Reading, now: &Reading, reading: f64) -> Outcome {
    let (was, now) = (plain(was.value.value).unwrap_or(f64::NAN), plain(now.value.value).unwrap_or(f64::NAN));
    let spread = std::f64::consts::SQRT_2 * reading;
    Outcome::new(now - was, "", Grade::Measured, "difference of the readings that stand, both neat")
        .within(now - was - WIDTH_95 * spread, now - was + WIDTH_95 * spread, Some(0.95))
        .input("read then", was, "", None)
        .input("read now", now, "", None)
        .note("meter", "each reading carries its scatter and the doubt of an electrode by itself")
}

fn left_over(measured: &Outcome, explained: &Stand, spread: f64, reading: f64) -> Option<Outcome> {
    let rest = measured.value? - explained.value;
    Some(of_change(
        rest,
        spread.hypot(std::f64::consts::SQRT_2 * reading),
        "change read less change explained",
    ))
}

fn say(
    differences: usize,
    explained: &Stand,
    spread: f64,
    measured: Option<&Outcome>,
    unexplained: Option<&Outcome>,
) -> String {
    let half = WIDTH_95 * spread;
    let sum = if differences == 0 {
        "Nothing differs that the equilibrium knows of.".to_owned()
    } else {
        format!("The differences explain a change of the pH by {:+.2} \u{b1} {half:.2}.", explained.value)
    };
    let (Some(change), Some(rest)) = (measured.and_then(|one| one.value), unexplained) else {
        return format!("{sum} There are not two neat readings of the pH to hold it against.");
    };
    let (Some(value), Some(low), Some(high)) = (rest.value, rest.low, rest.high) else { return sum };
    let far = 0.5 * (high - low);
    if low > 0.0 || high < 0.0 {
        format!(
            "{sum} Read was {change:+.2}: {value:+.2} stays unexplained, more than the doubts of both (\u{b1} {far:.2})."
        )
    } else {
        format!("{sum} Read was {change:+.2}: that agrees within the doubts of both (\u{b1} {far:.2}).")
    }
}

/// The trial to make next: the first one with the one difference whose effect is least known.
fn advice(
    patches: &[Patch],
    effects: &[Stand],
    not_computed: &[NotComputed],
    rest: f64,
    reading: f64,
    [left, right]: [u32; 2],
) -> String {
    let weighed = effects.iter().map(|effect| Suspect { deviation: effect.uncertainty() });
    // Of what no model speaks of nothing is known: each may be behind all that stays unexplained, and so may a slip nobody noticed.
    let nothing_known = Suspect { deviation: rest.abs().max(reading) };
    let others = not_computed.iter().map(|_| nothing_known);
    let suspects: Vec<Suspect> = weighed.chain(others).chain([nothing_known]).collect();
    let Some(NextTrial { difference, open, open_then }) = next_trial(&suspects, reading) else {
        return "No single change would tell more than the meter can read.".to_owned();
    };
    let gain = format!(
        "is open by \u{b1} {:.2}; one such trial leaves \u{b1} {:.2}.",
        WIDTH_95 * open,
        WIDTH_95 * open_then
    );
    let named = patches.iter().map(|patch| (&patch.what, &patch.now));
    let named = named.chain(not_computed.iter().map(|other| (&other.what, &other.now))).nth(difference);
    let Some((what, now)) = named else {
        return format!("Make trial {right} again as it was: what a slip in it did to the pH {gain}");
    };
    let with = if now.is_empty() {
        format!("without {what}")
    } else {
        format!("with only this changed: {what}, {now}")
    };
    format!("Make trial {left} again {with}. What it does to the pH {gain}")
}

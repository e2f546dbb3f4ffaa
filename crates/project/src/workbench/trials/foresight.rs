//! How well trials were foretold: per attribute what was expected of each reading from the trials before it, what was read, and whether the errors shrink.

use super::flow::FlowBook;
use super::ph::PhOfReading;
use super::{TrialRecords, flow};
use crate::records::{Formula, Id, Kept, Method, Reading, Trial, in_force};
use crate::workbench::readings::name_of;
use levigate_assess::ph_learning::TaughtPh;
use levigate_assess::ph_learning::{Foretold, Number};
use levigate_assess::repeats::{Awaited, Misses, from_repeats};
use levigate_facts::Facts;
use levigate_formula::names::folded;
use levigate_measure::order::{order, share_limits};
use levigate_measure::{Grade, Outcome};
use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;
use std::collections::BTreeMap;

/// Fewest errors from which it is said whether they shrink: with five, even a fall without exception says little. Judgement, no source.
const LEAST_FOR_ORDER: usize = 6;
/// Errors that the running mean goes back.
const RUNNING: usize = 5;
/// A fall or rise that comes by chance more often is not told.
const BY_CHANCE: f64 = 0.05;
const WIDTH_95: f64 = 1.959_964;

/// How well the readings of one formula, or of all, were foretold.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Foresight {
    /// The formula; none for all of the workspace.
    pub formula: Option<String>,
    /// What to know first, in a sentence or two.
    pub say: String,
    /// Attribute by attribute: pH, viscosity, density, then the others, the one with most readings first.
    pub attributes: Vec<AttributeForesight>,
    /// What the pH taught about raw materials, constants and the electrode.
    pub ph_numbers: Vec<Number>,
    /// What viscosities taught about thickeners.
    pub flow_numbers: Vec<FlowNumber>,
    /// The pH of the newest version, with what trials taught beside what the papers alone say; none for all of the workspace, or where they taught
    /// nothing about it.
    pub next_ph: Option<TaughtPh>,
}

/// How well one attribute was foretold.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AttributeForesight {
    /// Its name.
    pub name: String,
    /// Its unit.
    pub unit: String,
    /// Unit of its errors: `%` where errors are relative.
    pub error_unit: String,
    /// What it is foretold from, in words.
    pub by: String,
    /// Reading by reading, in the order of the trials.
    pub entries: Vec<Foreseen>,
    /// Mean error without its sign; none without one.
    pub mean_error: Option<Outcome>,
    /// The same where nothing were learned, over the same readings; none where no model speaks.
    pub mean_error_untaught: Option<Outcome>,
    /// Share that fell in their bands, with its limits.
    pub inside: Option<Outcome>,
    /// Whether the errors shrink, and the rest, in words.
    pub say: String,
}

/// One reading beside what was expected of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Foreseen {
    /// Formula.
    pub formula: String,
    /// Its identity.
    pub formula_id: String,
    /// Number of the trial.
    pub trial: u32,
    /// Number of the reading on it.
    pub reading: u32,
    /// The day it was made, ISO.
    pub made: String,
    /// How it was read, in words.
    pub how: String,
    /// Expected from the trials before; none where nothing could be.
    pub foretold: Option<Outcome>,
    /// Expected where nothing were learned.
    pub untaught: Option<Outcome>,
    /// What was read.
    pub read: Option<Outcome>,
    /// Read less expected, in the unit of the errors.
    pub error: Option<Outcome>,
    /// Whether it fell in the band; none where there was none.
    pub inside: Option<bool>,
    /// Mean error without its sign of this one and up to four before.
    pub running: Option<Outcome>,
    /// What it taught, or why it is not compared.
    pub words: String,
}

/// A number that viscosities moved.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FlowNumber {
    /// What of.
    pub of: String,
    /// The number, in words.
    pub number: String,
    /// Before the first trial that moved it.
    pub before: Outcome,
    /// Now.
    pub after: Outcome,
    /// Trials and certificates that moved it.
    pub from: Vec<String>,
}

/// A reading with the value, band and story it needs.
struct Entry {
    seen: Foreseen,
    relative: bool,
}

/// The attribute a reading is of: name, unit.
type Of = (String, String);

impl Foresight {
    /// The same with what trials taught set aside: every reading beside what the papers and models alone say, nothing learned. What is foretold from
    /// trials alone, or was told only with what they taught, is left out.
    #[must_use]
    pub fn untaught(self) -> Self {
        let bare = |attribute: AttributeForesight| {
            let relative = attribute.error_unit == "%" && attribute.unit != "%";
            let entries = attribute.entries.into_iter().map(|seen| Entry {
                seen: Foreseen {
                    foretold: seen.untaught.clone(),
                    error: None,
                    inside: None,
                    running: None,
                    words: String::new(),
                    ..seen
                },
                relative,
            });
            AttributeForesight {
                by: "what the papers and models alone say, nothing learned".to_owned(),
                mean_error_untaught: None,
                ..judged((attribute.name, attribute.unit), entries.collect())
            }
        };
        let attributes: Vec<AttributeForesight> = self.attributes.into_iter().map(bare).collect();
        Self {
            formula: self.formula,
            say: format!("{} What trials taught is set aside.", say(&attributes)),
            attributes,
            ..Self::default()
        }
    }
}

/// How well the readings of the workspace, or of one formula in it, were foretold. `flow` is what all of `all` taught.
#[must_use]
pub fn foresight(
    facts: &Facts,
    all: &[TrialRecords],
    flow: &FlowBook,
    only: Option<Id<Formula>>,
) -> Foresight {
    let mut trials: Vec<(&TrialRecords, &Kept<Trial>)> =
        all.iter().flat_map(|records| records.trials.iter().map(move |trial| (records, trial))).collect();
    trials.sort_by_key(|(_, trial)| trial.sequence);
    let mut told: BTreeMap<Of, Vec<Entry>> = BTreeMap::new();
    let mut misses = Misses::default();
    let mut means: BTreeMap<(Id<Formula>, Of), Vec<f64>> = BTreeMap::new();
    for (records, trial) in trials {
        let wanted = only.is_none_or(|id| id == records.formula.id);
        let readings = records.readings.get(&trial.id).map_or(&[][..], Vec::as_slice);
        let mut own: BTreeMap<Of, Vec<f64>> = BTreeMap::new();
        for reading in in_force(readings).into_iter().filter(|one| !one.what.withdrawn) {
            let seen = blank(records, trial, reading);
            let (of, entry) = match reading.what.quantity.as_str() {
                "temperature" => continue,
                "ph" => (("pH".to_owned(), String::new()), ph(seen, reading, flow.ph().of(reading.id))),
                "viscosity" => (
                    ("Viscosity".to_owned(), "mPa·s".to_owned()),
                    viscosity(seen, reading, flow.of(trial.id)),
                ),
                "density" => {
                    let model = flow.of(trial.id).and_then(|one| one.density.as_ref());
                    (
                        ("Density".to_owned(), "g/mL".to_owned()),
                        density(seen, reading, (&misses, model), &mut own),
                    )
                }
                _ => {
                    let of = attribute(reading);
                    let before = means.get(&(records.formula.id, of.clone()));
                    let entry = repeated(seen, reading, before.map_or(&[], Vec::as_slice));
                    if let Some(value) = plain(reading) {
                        own.entry(of.clone()).or_default().push(value);
                    }
                    (of, entry)
                }
            };
            if wanted {
                told.entry(of).or_default().push(entry);
            }
        }
        for (of, values) in own {
            let mean = values.iter().sum::<f64>() / values.len() as f64;
            let model = flow.of(trial.id).and_then(|one| one.density.as_ref()).and_then(value_and_deviation);
            if of.0 == "Density" {
                if let Some([value, deviation]) = model {
                    misses.learn(&records.formula.id.to_string(), value, deviation, mean);
                }
            } else {
                means.entry((records.formula.id, of)).or_default().push(mean);
            }
        }
    }
    let mut attributes: Vec<AttributeForesight> =
        told.into_iter().map(|(of, entries)| judged(of, entries)).collect();
    let rank = |name: &str| ["pH", "Viscosity", "Density"].iter().position(|one| *one == name).unwrap_or(3);
    attributes.sort_by_key(|one| (rank(&one.name), std::cmp::Reverse(one.entries.len())));
    let records = only.and_then(|id| all.iter().find(|records| records.formula.id == id));
    let next_ph = records.and_then(|records| {
        let text = records.versions.last()?.what.text.as_str();
        let formula = records.formula.id.to_string();
        flow.ph().taught_of(facts, ("formula", text), (&formula, &records.formula.what.name))
    });
    let newest = records.and_then(|records| records.versions.last()).map(|newest| newest.what.text.as_str());
    let ph_numbers = match (only, &next_ph) {
        (None, _) => flow.ph().numbers(),
        (Some(_), Some(next)) => next.numbers.clone(),
        (Some(_), None) => Vec::new(),
    };
    Foresight {
        formula: records.map(|records| records.formula.what.name.clone()),
        say: say(&attributes),
        attributes,
        ph_numbers,
        flow_numbers: flow.numbers(facts, only.map(|_| newest.unwrap_or_default())),
        next_ph,
    }
}

fn blank(records: &TrialRecords, trial: &Kept<Trial>, reading: &Kept<Reading>) -> Foreseen {
    let day = trial.what.made.unwrap_or_else(|| jiff::tz::Offset::UTC.to_datetime(trial.when).date());
    Foreseen {
        formula: records.formula.what.name.clone(),
        formula_id: records.formula.id.to_string(),
        trial: trial.number,
        reading: reading.number,
        made: day.to_string(),
        how: String::new(),
        foretold: None,
        untaught: None,
        read: None,
        error: None,
        inside: None,
        running: None,
        words: String::new(),
    }
}

fn plain(reading: &Kept<Reading>) -> Option<f64> {
    reading.what.value.value?.to_f64()
}

/// What a free kind of reading is of: its words, with the method where it is not the usual one.
fn attribute(reading: &Kept<Reading>) -> Of {
    let what = &reading.what;
    let mut name = name_of(&what.quantity).to_owned();
    if let Some(first) = name.get(..1).map(str::to_uppercase) {
        name.replace_range(..1, &first);
    }
    if what.method != Method::Neat {
        name.push_str(&format!(", {}", String::from(what.method.clone())));
    }
    (name, what.unit.clone())
}

fn read_as(value: f64, unit: &'static str) -> Outcome {
    Outcome::new(value, unit, Grade::Measured, "read on the trial")
}

fn free_unit(unit: &str, value: f64) -> Outcome {
    let mut outcome = read_as(value, "");
    outcome.unit = unit.to_owned().into();
    outcome
}

fn ph(mut seen: Foreseen, reading: &Kept<Reading>, found: Option<&PhOfReading>) -> Entry {
    seen.read = plain(reading).map(|value| read_as(value, ""));
    if let Some(found) = found {
        seen.how.clone_from(&found.how);
        seen.words.clone_from(&found.words);
        if let Some([taught, untaught]) = &found.foretold {
            let told = |of: &Foretold, grade: Grade| {
                Outcome::new(of.ph, "", grade, "equilibrium at the most probable hidden numbers")
                    .within(of.low, of.high, Some(0.95))
                    .proved_by("tests/cross/ph_learning.toml")
            };
            seen.foretold = Some(told(taught, Grade::Calibrated));
            seen.untaught = Some(told(untaught, Grade::Computed));
        }
    }
    Entry { seen, relative: false }
}

fn viscosity(mut seen: Foreseen, reading: &Kept<Reading>, found: Option<&flow::FlowOfTrial>) -> Entry {
    let value = plain(reading).zip(flow::to_mpa_s(&reading.what.unit).and_then(|factor| factor.to_f64()));
    seen.read = value.map(|(value, factor)| read_as(value * factor, "mPa·s"));
    seen.untaught = found
        .and_then(|found| found.untaught.get(&reading.id))
        .map(in_mpa_s)
        .filter(|outcome| outcome.value.is_some());
    match found.and_then(|found| found.readings.get(&reading.id)) {
        Some(Ok((how, outcome))) => {
            seen.how.clone_from(how);
            seen.foretold = Some(in_mpa_s(outcome)).filter(|outcome| outcome.value.is_some());
        }
        Some(Err(why)) => seen.words = why.clone(),
        None => {}
    }
    Entry { seen, relative: true }
}

/// A viscosity in mPa s, whatever it was told in.
fn in_mpa_s(outcome: &Outcome) -> Outcome {
    let mut outcome = outcome.clone();
    if outcome.unit == "Pa·s" || outcome.unit == "Pa s" {
        for value in [&mut outcome.value, &mut outcome.low, &mut outcome.high].into_iter().flatten() {
            *value *= 1e3;
        }
        outcome.unit = "mPa·s".into();
    }
    outcome
}

fn value_and_deviation(outcome: &Outcome) -> Option<[f64; 2]> {
    let (value, low, high) = (outcome.value?, outcome.low?, outcome.high?);
    let deviation = 0.5 * (high - low) / WIDTH_95;
    (deviation > 0.0).then_some([value, deviation])
}

fn density(
    mut seen: Foreseen,
    reading: &Kept<Reading>,
    (misses, model): (&Misses, Option<&Outcome>),
    own: &mut BTreeMap<Of, Vec<f64>>,
) -> Entry {
    let factor = match folded(&reading.what.unit).as_str() {
        "g/ml" | "g/cm3" | "g/cm³" | "kg/l" => Some(1.0),
        "kg/m3" | "kg/m³" | "g/l" => Some(1e-3),
        _ => None,
    };
    let value = plain(reading).zip(factor).map(|(value, factor)| value * factor);
    seen.read = value.map(|value| read_as(value, "g/mL"));
    let temperature = reading.what.temperature_c.as_ref().and_then(|typed| typed.value?.to_f64());
    let alike = temperature.is_none_or(|celsius| (celsius - 25.0).abs() <= 1.0);
    if !alike {
        seen.words =
            "Read at another temperature than 25 °C, which the model is for. Not compared.".to_owned();
        return Entry { seen, relative: false };
    }
    seen.how = "25 °C".to_owned();
    seen.untaught = model.cloned();
    if let Some([predicted, deviation]) = model.and_then(value_and_deviation) {
        let awaited = misses.foretell(&seen.formula_id, predicted, deviation);
        seen.foretold = awaited.map(|awaited| {
            awaited_as(&awaited, "model, with what it missed in the trials before", Grade::Calibrated, "g/mL")
        });
        if let Some(value) = value {
            own.entry(("Density".to_owned(), String::new())).or_default().push(value);
        }
    }
    Entry { seen, relative: false }
}

fn awaited_as(awaited: &Awaited, how: &'static str, grade: Grade, unit: &str) -> Outcome {
    let mut outcome = Outcome::new(awaited.value, "", grade, how)
        .within(awaited.low, awaited.high, Some(0.95))
        .proved_by("tests/tests/repeats.rs");
    outcome.unit = unit.to_owned().into();
    outcome
}

fn repeated(mut seen: Foreseen, reading: &Kept<Reading>, before: &[f64]) -> Entry {
    let unit = reading.what.unit.as_str();
    seen.read = plain(reading).map(|value| free_unit(unit, value));
    match from_repeats(before) {
        Some(awaited) => {
            let how = "mean of the trials before, limits by Student's t";
            seen.foretold = Some(awaited_as(&awaited, how, Grade::Calibrated, unit));
            seen.words = format!(
                "No model speaks of it: the mean of {} trials of this formula, as if nothing had been changed.",
                before.len()
            );
        }
        None if before.len() < 2 => {
            seen.words =
                "No model speaks of it, and fewer than two trials before: nothing is foretold.".to_owned();
        }
        None => {
            seen.words = "The trials before read all alike: no scatter to foretell from.".to_owned();
        }
    }
    Entry { seen, relative: false }
}

/// An attribute with its errors, its share inside, and what that comes to.
fn judged((name, unit): Of, entries: Vec<Entry>) -> AttributeForesight {
    let relative = entries.iter().any(|entry| entry.relative);
    let error_unit = if relative { "%".to_owned() } else { unit.clone() };
    let far = |read: f64, foretold: f64| {
        if relative { 100.0 * (read / foretold - 1.0) } else { read - foretold }
    };
    let outcome = |value: f64, how: &'static str| {
        let mut outcome = Outcome::new(value, "", Grade::Measured, how);
        outcome.unit = error_unit.clone().into();
        outcome
    };
    let mut errors: Vec<f64> = Vec::new();
    let mut untaught: Vec<f64> = Vec::new();
    let (mut inside, mut banded) = (0, 0);
    let mut kept = Vec::new();
    for Entry { mut seen, .. } in entries {
        let read = seen.read.as_ref().and_then(|one| one.value);
        let expected = seen.foretold.as_ref().and_then(|one| Some((one.value?, one.low, one.high)));
        if let (Some(read), Some((value, low, high))) = (read, expected) {
            let error = far(read, value);
            if error.is_finite() {
                errors.push(error.abs());
                seen.error = Some(outcome(error, "read less foretold"));
                let last = &errors[errors.len().saturating_sub(RUNNING)..];
                let mean = last.iter().sum::<f64>() / last.len() as f64;
                seen.running = Some(outcome(mean, "mean error without its sign, the last five"));
                untaught.extend(
                    seen.untaught.as_ref().and_then(|one| one.value).map(|value| far(read, value).abs()),
                );
            }
            if let (Some(low), Some(high)) = (low, high) {
                let held = low <= read && read <= high;
                banded += 1;
                inside += usize::from(held);
                seen.inside = Some(held);
            }
        }
        kept.push(seen);
    }
    let mean = |errors: &[f64]| errors.iter().sum::<f64>() / errors.len() as f64;
    let mean_error = (!errors.is_empty()).then(|| outcome(mean(&errors), "mean error without its sign"));
    let both = !untaught.is_empty() && untaught.len() == errors.len();
    let mean_error_untaught =
        both.then(|| outcome(mean(&untaught), "mean error without its sign, nothing learned"));
    let share = share_limits(inside, banded, 0.95).map(|[low, high]| {
        Outcome::new(
            100.0 * inside as f64 / banded as f64,
            "%",
            Grade::Measured,
            "share of the readings within their bands of 95 %",
        )
        .within(100.0 * low, 100.0 * high, Some(0.95))
        .by("limits of the binomial law (Clopper and Pearson)")
        .proved_by("tests/cross/order.toml")
    });
    let say = say_of(&errors, (inside, banded), share.as_ref(), &error_unit);
    let by = match name.as_str() {
        "pH" => {
            "the equilibrium, with what readings of the pH taught about raw materials, constants and the electrode"
        }
        "Viscosity" => "the laws of the thickeners, with what viscosities taught about them",
        "Density" => "the volumes of what is in it, with what they missed before",
        _ => "the trials of the same formula before: no model speaks of it",
    };
    AttributeForesight {
        name,
        unit,
        error_unit,
        by: by.to_owned(),
        entries: kept,
        mean_error,
        mean_error_untaught,
        inside: share,
        say,
    }
}

fn say_of(errors: &[f64], (inside, banded): (usize, usize), share: Option<&Outcome>, unit: &str) -> String {
    if errors.is_empty() {
        return "Nothing could be held against a reading yet.".to_owned();
    }
    let ends = share.and_then(|share| Some((share.low?, share.high?)));
    let held = match ends {
        Some((low, high)) => format!(
            "{inside} of {banded} fell in the band meant to hold 95 % (such a share may stand for {low:.0} to {high:.0} %).",
        ),
        None => String::new(),
    };
    let count = errors.len();
    if count < LEAST_FOR_ORDER {
        return format!(
            "{held} Too few to say whether the errors shrink: {count}, and {LEAST_FOR_ORDER} are the least."
        );
    }
    let (first, last) = errors.split_at(count / 2);
    let mean = |errors: &[f64]| errors.iter().sum::<f64>() / errors.len() as f64;
    let unit = if unit.is_empty() { String::new() } else { format!(" {unit}") };
    let digits = |value: f64| {
        if value >= 9.95 {
            format!("{value:.0}")
        } else if value >= 0.995 {
            format!("{value:.1}")
        } else {
            format!("{value:.2}")
        }
    };
    let halves = format!(
        "mean {}{unit} in the first {}, {}{unit} in the last {}",
        digits(mean(first)),
        first.len(),
        digits(mean(last)),
        last.len()
    );
    let chance = |share: f64| {
        if share < 0.001 { "less than 0.1 %".to_owned() } else { format!("{:.1} %", 100.0 * share) }
    };
    let trend = match order(errors) {
        Some(order) if order.falling_by_chance < BY_CHANCE => {
            format!(
                "The errors shrank: {halves}; so clear a fall comes by chance with {} (Kendall).",
                chance(order.falling_by_chance)
            )
        }
        Some(order) if order.rising_by_chance < BY_CHANCE => {
            format!(
                "The errors grew: {halves}; so clear a rise comes by chance with {} (Kendall).",
                chance(order.rising_by_chance)
            )
        }
        _ => format!("Whether the errors shrink cannot be told from chance: {halves}."),
    };
    format!("{held} {trend}")
}

fn say(attributes: &[AttributeForesight]) -> String {
    let compared: usize =
        attributes.iter().map(|one| one.entries.iter().filter(|entry| entry.error.is_some()).count()).sum();
    if attributes.is_empty() {
        return "Nothing has been read on a trial yet. A pH with its temperature and age is the first thing to have."
            .to_owned();
    }
    let held = |one: &&AttributeForesight| one.mean_error.is_some();
    let named: Vec<&str> = attributes.iter().filter(held).map(|one| one.name.as_str()).collect();
    if named.is_empty() {
        return "Nothing that was read could be held against what was foretold yet; why stands beside each reading."
            .to_owned();
    }
    format!(
        "{compared} reading{} of {} {} held against what was foretold from the trials before.",
        if compared == 1 { "" } else { "s" },
        named.join(", "),
        if compared == 1 { "is" } else { "are" },
    )
}

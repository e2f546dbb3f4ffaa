//! What the trials of a workspace say about the pH: each reading beside what was foretold for its own conditions from the trials before it.

use super::flow::Prepared;
use crate::records::{Id, Kept, Method, Reading, Trial, in_force};
use crate::workbench::assess::{facts_for, known};
use crate::workbench::complaint::sentence;
use levigate_assess::Known;
use levigate_assess::adjusting::Convention;
use levigate_assess::ph_learning::{
    Experience, Foretold, Heard, Lesson, Making, NoPot, Number, Pot, Read, ReadHow, TaughtPh,
};
use levigate_facts::Facts;
use levigate_formula::sheet::Sheet;
use rust_decimal::prelude::ToPrimitive;
use std::collections::BTreeMap;

/// A sample older than this, h, tells what time did to it, not what was weighed: judgement, no source.
const OLDEST_H: f64 = 168.0;
/// Temperature where a reading names none, C.
const USUAL_TEMPERATURE_C: f64 = 25.0;

/// What is known about the pH after all trials, and what was foretold for each reading.
#[derive(Clone, Debug, Default)]
pub struct PhBook {
    experience: Experience,
    readings: BTreeMap<Id<Reading>, PhOfReading>,
}

/// What became of a reading of the pH.
#[derive(Clone, Debug, Default)]
pub(super) struct PhOfReading {
    /// How it was read, in words.
    pub(super) how: String,
    /// From the trials before, and from the papers alone.
    pub(super) foretold: Option<[Foretold; 2]>,
    /// What it said, or why it taught nothing.
    pub(super) words: String,
}

impl PhBook {
    /// Every hidden number of which trials settled something, the most settled first.
    #[must_use]
    pub fn numbers(&self) -> Vec<Number> {
        self.experience.numbers()
    }

    /// The pH of a sheet with what trials taught beside what the papers say; none where they taught nothing about it.
    #[must_use]
    pub fn taught(&self, facts: &Facts, sheet: &Sheet, (formula, name): (&str, &str)) -> Option<TaughtPh> {
        let convention = facts.ph_bench.convention.as_ref()?;
        self.experience.taught(sheet, &known(facts), convention, &Making { formula, name })
    }

    /// The same of a formula as text; none for a text that is no formula.
    #[must_use]
    pub fn taught_of(
        &self,
        facts: &Facts,
        (file, text): (&str, &str),
        (formula, name): (&str, &str),
    ) -> Option<TaughtPh> {
        let read = crate::formula_file::read(file, text).ok()?;
        let facts = facts_for(facts, file, &read).ok()?;
        self.taught(&facts, &read.sheet, (formula, name))
    }

    pub(super) fn of(&self, reading: Id<Reading>) -> Option<&PhOfReading> {
        self.readings.get(&reading)
    }

    /// Goes through the pH read on a trial.
    pub(super) fn go_through(&mut self, one: &Prepared<'_>) {
        let known = known(&one.facts);
        let Some(convention) = one.facts.ph_bench.convention.as_ref() else { return };
        let mut lesson =
            Lesson { trial: trial_words(one.trial, &one.formula.what.name), readings: Vec::new() };
        let mut heard_as = Vec::new();
        for reading in in_force(one.readings).into_iter().filter(|one| one.what.quantity == "ph") {
            if reading.what.withdrawn {
                continue;
            }
            let spoken = match Spoken::of(reading) {
                Ok(spoken) => spoken,
                Err(words) => {
                    self.readings.insert(reading.id, PhOfReading { words, ..PhOfReading::default() });
                    continue;
                }
            };
            let pot = match self.pot(one, &known, convention, &spoken) {
                Ok(pot) => pot,
                Err(why) => {
                    let words = sentence(&why.words());
                    self.readings
                        .insert(reading.id, PhOfReading { how: spoken.words, words, foretold: None });
                    continue;
                }
            };
            let foretold = self.experience.foretell(&pot).zip(Experience::default().foretell(&pot));
            let found = PhOfReading {
                how: spoken.words.clone(),
                foretold: foretold.map(<[Foretold; 2]>::from),
                words: String::new(),
            };
            match still_moves(&one.facts, &one.made.sheet, spoken.age_h) {
                Some(words) => {
                    self.readings.insert(reading.id, PhOfReading { words, ..found });
                }
                None => {
                    lesson.readings.push(Read { pot, ph: spoken.ph });
                    heard_as.push((reading.id, found));
                }
            }
        }
        if lesson.readings.is_empty() {
            return;
        }
        for (heard, (id, found)) in self.experience.learn(&lesson).iter().zip(heard_as) {
            self.readings.insert(id, PhOfReading { words: said(heard), ..found });
        }
    }

    fn pot(
        &self,
        one: &Prepared<'_>,
        known: &Known<'_>,
        convention: &Convention,
        spoken: &Spoken,
    ) -> Result<Pot, NoPot> {
        let formula = one.formula.id.to_string();
        let making = Making { formula: &formula, name: &one.formula.what.name };
        Pot::of(&one.made.sheet, known, convention, &making, spoken.how)
    }
}

/// A trial in words.
pub(super) fn trial_words(trial: &Kept<Trial>, formula: &str) -> String {
    format!("trial {} of {formula}", trial.number)
}

/// A pH read, with what matters of how.
struct Spoken {
    ph: f64,
    how: ReadHow,
    age_h: Option<f64>,
    words: String,
}

impl Spoken {
    fn of(reading: &Kept<Reading>) -> Result<Self, String> {
        let what = &reading.what;
        let number = |typed: &Option<crate::records::TypedNumber>| typed.as_ref()?.value?.to_f64();
        let value = what.value.value.and_then(|value| value.to_f64()).filter(|ph| (0.0..=14.0).contains(ph));
        let Some(ph) = value else { return Err("What was typed is no pH. Not compared.".to_owned()) };
        let diluted = match &what.method {
            Method::Neat => false,
            Method::TenPercentInWater => true,
            Method::Other(method) => {
                return Err(format!("Read otherwise ({method}), which nothing is foretold for."));
            }
        };
        let noted = number(&what.temperature_c);
        let temperature_c = noted.unwrap_or(USUAL_TEMPERATURE_C);
        let words = format!(
            "{}, {}",
            if diluted { "10 % in water" } else { "neat" },
            noted.map_or_else(|| "25 °C taken, not noted".to_owned(), |celsius| format!("{celsius} °C"))
        );
        Ok(Self { ph, how: ReadHow { diluted, temperature_c }, age_h: number(&what.age_h), words })
    }
}

/// Why a reading of this age teaches nothing: too old, or taken while the pH still moves.
fn still_moves(facts: &Facts, sheet: &Sheet, age_h: Option<f64>) -> Option<String> {
    if age_h.is_some_and(|age| age > OLDEST_H) {
        return Some("Not learned from: so old a sample tells what time did to it.".to_owned());
    }
    let materials = sheet.lines().filter_map(|(_, line)| {
        let key = facts.names.resolve_material(&line.material).ok()?;
        facts.library.materials.get(key)
    });
    let substances: Vec<&str> =
        materials.flat_map(|one| &one.constituents).map(|part| part.substance.as_str()).collect();
    let mut drifts = facts.ph_bench.drifts.values().filter(|drift| {
        let held = drift.substances.iter().any(|one| substances.contains(&one.as_str()));
        held && age_h.is_none_or(|age| age < 24.0 * drift.within_days.min(1.0))
    });
    drifts.next().map(|drift| {
        let age =
            age_h.map_or_else(|| "its age is not noted".to_owned(), |age| format!("it was {age} h old"));
        format!("Not learned from: with {} in it the pH still moves on the first day, and {age}.", drift.name)
    })
}

fn said(heard: &Heard) -> String {
    match (&heard.refused, &heard.taken) {
        (Some(why), _) => format!("Nothing was learned from it: {why}."),
        (None, Some(taken)) if taken.contradicts() => format!(
            "It contradicts what was believed ({:.1} standard deviations); look at the reading, the lots and the record before trusting either.",
            taken.surprise.abs()
        ),
        (None, Some(taken)) => {
            format!("Learned from; it lay {:.1} standard deviations from the middle.", taken.surprise.abs())
        }
        (None, None) => String::new(),
    }
}

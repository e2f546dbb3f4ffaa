//! What was learned, in a chemist's words, and what it changes for a formula.

use super::{Experience, Foretold, Key, Making, NoPot, Pot, ReadHow, WIDTH_95};
use crate::adjusting::Convention;
use crate::assess::{AssessError, Known, solved};
use levigate_formula::sheet::{Amount, Sheet};
use levigate_measure::{Grade, Outcome};
use rust_decimal::Decimal;
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};
use serde::Serialize;

/// The file that proves what is learned.
const PROOF: &str = "tests/cross/ph_learning.toml";
/// Numbers of which less is settled are not worth a word.
const LEAST_SHARE: f64 = 0.1;
/// Readings that speak of two numbers so nearly in one proportion (cosine of what they say of both) cannot tell them apart: judgement, no source.
const NOT_TOLD_APART: f64 = 0.95;
/// Most numbers that one is said not to be told apart from, the nearest first.
const MOST_NAMED: usize = 3;

/// A hidden number that trials spoke of.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Number {
    /// What of: raw material, formula, constant.
    pub of: String,
    /// Key of the raw material; empty for what is none.
    pub material: String,
    /// Lot; empty where none is named or it is no raw material.
    pub lot: String,
    /// The number in words.
    pub what: String,
    /// Against what the papers say: before any trial.
    pub before: Outcome,
    /// After all of them.
    pub after: Outcome,
    /// Whether the band leaves out what the papers say.
    pub differs: bool,
    /// Trials that moved it.
    pub trials: Vec<String>,
    /// Numbers it cannot be told apart from by these trials.
    pub not_told_apart: Vec<String>,
    /// All of it in a sentence.
    pub words: String,
}

/// The pH of a formula with what trials taught, beside what the papers alone say.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TaughtPh {
    /// pH as it is, 25 C, as a reading would show it.
    pub taught: Outcome,
    /// The same from the papers alone.
    pub untaught: Outcome,
    /// What would bring it to its pH.
    pub amounts: Vec<TaughtAmount>,
    /// From how much it was learned, in words.
    pub from: String,
    /// The numbers behind it that differ most from the papers.
    pub numbers: Vec<Number>,
}

/// The amount of an acid or base that is solved for a pH.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TaughtAmount {
    /// Line, from 0.
    pub line: usize,
    /// Raw material.
    pub name: String,
    /// pH aimed at.
    #[serde(skip)]
    pub to_ph: f64,
    /// With what trials taught.
    pub taught: Outcome,
    /// From the papers alone.
    pub untaught: Outcome,
}

/// A hidden number put together from those of its grade and its lot.
struct Whole {
    gradient: Vec<(usize, f64)>,
    number: Number,
}

impl Experience {
    /// Every number of which trials settled something, the most settled first.
    #[must_use]
    pub fn numbers(&self) -> Vec<Number> {
        self.told(|_| true)
    }

    fn told(&self, about: impl Fn(&Key) -> bool) -> Vec<Number> {
        let Some(belief) = &self.belief else { return Vec::new() };
        let size = belief.mean().len();
        let flat = |gradient: &[(usize, f64)]| {
            let mut flat = vec![0.0; size];
            gradient.iter().for_each(|(place, one)| flat[*place] += one);
            flat
        };
        let mut wholes: Vec<(f64, Whole)> = self
            .places
            .keys()
            .filter(|key| !matches!(key, Key::Grade(..)))
            .filter_map(|key| self.whole(key))
            .map(|whole| {
                let open: f64 = whole.gradient.iter().map(|(_, one)| one * one).sum::<f64>();
                let left = belief.deviation_of(&flat(&whole.gradient)).powi(2);
                (1.0 - left / open, whole)
            })
            .filter(|(share, _)| *share > LEAST_SHARE)
            .collect();
        wholes.sort_by(|a, b| b.0.total_cmp(&a.0));
        // What the readings said, as information: the inverse of what is left less that of what was open, which is one for every number.
        let mut said = belief.precision();
        (0..size).for_each(|at| said[at * size + at] -= 1.0);
        let of_both = |one: &Whole, other: &Whole| -> f64 {
            let pairs = one.gradient.iter().flat_map(|a| other.gradient.iter().map(move |b| (a, b)));
            pairs.map(|((i, a), (j, b))| a * b * said[i * size + j]).sum()
        };
        let together = |one: &Whole, other: &Whole| {
            of_both(one, other) / (of_both(one, one) * of_both(other, other)).sqrt()
        };
        let mut numbers: Vec<Number> = Vec::new();
        for (at, (_, whole)) in wholes.iter().enumerate() {
            let mut number = whole.number.clone();
            let mut near: Vec<(f64, String)> = wholes
                .iter()
                .enumerate()
                .filter(|(other, (_, of))| {
                    let same = of.number.of == number.of && of.number.what == number.what;
                    *other != at && !same
                })
                .map(|(_, (_, of))| (together(whole, of).abs(), name_of(&of.number)))
                .filter(|(near, _)| *near > NOT_TOLD_APART)
                .collect();
            near.sort_by(|a, b| b.0.total_cmp(&a.0));
            number.not_told_apart = near.into_iter().take(MOST_NAMED).map(|(_, name)| name).collect();
            number.words = words_of(&number);
            numbers.push(number);
        }
        let keys: Vec<&Key> = self.places.keys().collect();
        numbers.retain(|number| {
            keys.iter().any(|key| match key {
                Key::Lot(material, lot, _) if !number.material.is_empty() => {
                    *material == number.material && *lot == number.lot && about(key)
                }
                Key::Constant(name) if number.material.is_empty() => *name == number.of && about(key),
                Key::Excess(_) | Key::Electrode if number.material.is_empty() => {
                    self.about.get(*key).is_some_and(|known| known.of == number.of) && about(key)
                }
                _ => false,
            })
        });
        numbers
    }

    fn whole(&self, key: &Key) -> Option<Whole> {
        let belief = self.belief.as_ref()?;
        let about = self.about.get(key)?;
        let mut gradient = vec![(*self.places.get(key)?, about.one)];
        let mut trials = self.from.get(key).cloned().unwrap_or_default();
        let (mut material, mut lot) = (String::new(), String::new());
        if let Key::Lot(of, code, what) = key {
            let grade = Key::Grade(of.clone(), what.clone());
            gradient.push((*self.places.get(&grade)?, self.about.get(&grade)?.one));
            (material, lot) = (of.clone(), code.clone());
            for trial in self.from.get(&grade).into_iter().flatten() {
                if !trials.contains(trial) {
                    trials.push(trial.clone());
                }
            }
        }
        let value: f64 = gradient.iter().map(|(place, one)| one * belief.mean()[*place]).sum();
        let open = gradient.iter().map(|(_, one)| one * one).sum::<f64>().sqrt();
        let mut flat = vec![0.0; belief.mean().len()];
        gradient.iter().for_each(|(place, one)| flat[*place] += one);
        let left = belief.deviation_of(&flat);
        let outcome = |value: f64, deviation: f64, grade: Grade| {
            let reach = WIDTH_95 * deviation;
            Outcome::new(
                value,
                about.unit,
                grade,
                "difference from what the papers say, moved by readings of the pH (Bayes)",
            )
            .within(value - reach, value + reach, Some(0.95))
            .proved_by(PROOF)
        };
        let number = Number {
            of: about.of.clone(),
            material,
            lot,
            what: about.what.clone(),
            before: outcome(0.0, open, Grade::RuleOfThumb),
            after: outcome(value, left, Grade::Calibrated),
            differs: value.abs() > WIDTH_95 * left,
            trials,
            not_told_apart: Vec::new(),
            words: String::new(),
        };
        Some(Whole { gradient, number })
    }

    /// From how much it was learned.
    #[must_use]
    pub fn words(&self) -> String {
        let [readings, trials] = self.learned;
        let many = |count: usize, one: &str| format!("{count} {one}{}", if count == 1 { "" } else { "s" });
        format!("{} of {}", many(readings, "reading"), many(trials, "trial"))
    }

    /// What is expected to be read on a formula with what trials taught, and what they change about its acid and base; none where they taught
    /// nothing about it or it cannot be computed.
    #[must_use]
    pub fn taught(
        &self,
        sheet: &Sheet,
        known: &Known<'_>,
        convention: &Convention,
        making: &Making<'_>,
    ) -> Option<TaughtPh> {
        let open = solved_out(sheet, known).ok()?;
        let pot = |sheet: &Sheet| Pot::of(sheet, known, convention, making, ReadHow::USUAL);
        let here = pot(&open.sheet).ok()?;
        if !self.speaks_of(&here) {
            return None;
        }
        let blank = Self::default();
        let taught = outcome(&self.foretell(&here)?, Grade::Calibrated)
            .note("learned", format!("learned from {} in this workspace", self.words()));
        let untaught = outcome(&blank.foretell(&here)?, Grade::Computed);
        let amount = |experience: &Self, line: usize, aim: f64, grade: Grade| -> Option<Outcome> {
            let (percent, half) = experience.amount(&open.sheet, line, aim, &pot)?;
            let outcome =
                Outcome::new(percent, "%", grade, "equilibrium at the most probable hidden numbers");
            Some(outcome.within((percent - half).max(0.0), percent + half, Some(0.95)).proved_by(PROOF))
        };
        let amounts = open
            .adjusters
            .iter()
            .filter_map(|(line, name, aim)| {
                Some(TaughtAmount {
                    line: *line,
                    name: name.clone(),
                    to_ph: *aim,
                    taught: amount(self, *line, *aim, Grade::Calibrated)?,
                    untaught: amount(&blank, *line, *aim, Grade::Computed)?,
                })
            })
            .collect();
        let keys: Vec<&Key> = here.numbers.iter().map(|one| &one.key).collect();
        let numbers = self.told(|key| keys.contains(&key));
        Some(TaughtPh { taught, untaught, amounts, from: self.words(), numbers })
    }

    /// Percent of a line that brings what is read to a pH, and how far that may be off, by a search along the line.
    fn amount(
        &self,
        sheet: &Sheet,
        line: usize,
        aim: f64,
        pot: &impl Fn(&Sheet) -> Result<Pot, NoPot>,
    ) -> Option<(f64, f64)> {
        let at = |percent: f64| -> Option<Foretold> {
            let mut sheet = sheet.clone();
            let place = sheet.phases.iter_mut().flat_map(|phase| &mut phase.lines).nth(line)?;
            place.amount = Amount::Percent(Decimal::from_f64(percent)?);
            self.foretell(&pot(&sheet).ok()?)
        };
        let line = sheet.lines().nth(line)?.1;
        let Amount::Percent(percent) = line.amount else { return None };
        let mut percent = percent.to_f64().filter(|percent| *percent > 0.0)?;
        let mut found = at(percent)?;
        let mut slope = (at(percent * 1.001)?.ph - found.ph) / (1e-3 * percent);
        for _ in 0..8 {
            if (found.ph - aim).abs() < 1e-4 || slope == 0.0 {
                break;
            }
            let step = ((aim - found.ph) / slope).clamp(-0.5 * percent, percent);
            let next = at(percent + step)?;
            slope = (next.ph - found.ph) / step;
            (percent, found) = (percent + step, next);
        }
        let settled = (found.ph - aim).abs() < 0.01 && slope != 0.0;
        settled.then(|| (percent, (WIDTH_95 * found.deviation / slope).abs()))
    }
}

/// A sheet with its acid and base lines at what they come to.
struct Opened {
    sheet: Sheet,
    /// Line, raw material, pH aimed at.
    adjusters: Vec<(usize, String, f64)>,
}

fn solved_out(sheet: &Sheet, known: &Known<'_>) -> Result<Opened, AssessError> {
    let mut open = Opened { sheet: sheet.clone(), adjusters: Vec::new() };
    if sheet.lines().all(|(_, line)| !matches!(line.amount, Amount::ToPh(_))) {
        return Ok(open);
    }
    let (settled, _, _) = solved(sheet, known)?;
    let lines = open.sheet.phases.iter_mut().flat_map(|phase| &mut phase.lines);
    for (at, (line, settled)) in lines.zip(&settled.lines).enumerate() {
        if let Amount::ToPh(aim) = line.amount {
            line.amount = Amount::Percent(Decimal::from_f64(settled.percent).unwrap_or_default());
            open.adjusters.push((at, line.material.clone(), aim.to_f64().unwrap_or(f64::NAN)));
        }
    }
    Ok(open)
}

/// A reading foretold, as a result.
#[must_use]
pub(super) fn outcome(foretold: &Foretold, grade: Grade) -> Outcome {
    Outcome::new(foretold.ph, "", grade, "equilibrium of the water phase at the most probable hidden numbers")
        .by("y = h(u), u by Bayes' rule")
        .within(foretold.low, foretold.high, Some(0.95))
        .proved_by(PROOF)
        .note("as-read", "as a reading would show it: electrode, weighing and scatter are in the band")
}

fn name_of(number: &Number) -> String {
    let lot = if number.lot.is_empty() { String::new() } else { format!(", lot {}", number.lot) };
    let what = if number.what.is_empty() { String::new() } else { format!(": {}", number.what) };
    format!("{}{lot}{what}", number.of)
}

/// Trials of one formula in one breath: `trials 1, 2 and 4 of Toner`.
fn together(trials: &[String]) -> String {
    let mut groups: Vec<(&str, Vec<&str>)> = Vec::new();
    for trial in trials {
        let (number, of) = trial
            .strip_prefix("trial ")
            .map(|rest| rest.find(" of ").map_or((rest, ""), |at| rest.split_at(at)))
            .unwrap_or((trial, "-"));
        match groups.iter_mut().find(|(known, _)| *known == of && of != "-") {
            Some((_, numbers)) => numbers.push(number),
            None => groups.push((of, vec![number])),
        }
    }
    let told = groups.iter().map(|(of, numbers)| match numbers.as_slice() {
        [only] if *of == "-" => (*only).to_owned(),
        [only] => format!("trial {only}{of}"),
        [others @ .., last] => format!("trials {} and {last}{of}", others.join(", ")),
        [] => String::new(),
    });
    told.collect::<Vec<_>>().join(", ")
}

fn words_of(number: &Number) -> String {
    let (value, low, high) = (
        number.after.value.unwrap_or(0.0),
        number.after.low.unwrap_or(0.0),
        number.after.high.unwrap_or(0.0),
    );
    let digits = |value: f64| {
        let far = value.abs();
        let text = if far >= 9.95 {
            format!("{value:.0}")
        } else if far >= 0.095 {
            format!("{value:.1}")
        } else {
            format!("{value:.2}")
        };
        // No minus before noughts.
        if text.contains(|sign: char| ('1'..='9').contains(&sign)) { text } else { text.replace('-', "") }
    };
    let unit = if number.after.unit.is_empty() { String::new() } else { format!(" {}", number.after.unit) };
    let name = name_of(number);
    let against = if number.material.is_empty() { "" } else { " what its paper says" };
    let from = match number.trials.as_slice() {
        [] => String::new(),
        trials => format!(", from {}", together(trials)),
    };
    let said = if number.differs {
        let (way, near, far) = if value > 0.0 { ("above", low, high) } else { ("below", -high, -low) };
        let way = if number.material.is_empty() { if value > 0.0 { "more" } else { "less" } } else { way };
        format!(
            "{name} seems {}{unit} ({} to {}) {way}{against}{from}.",
            digits(value.abs()),
            digits(near),
            digits(far)
        )
    } else if number.material.is_empty() {
        format!(
            "{name}: {}{unit} ({} to {}){from}; nothing speaks against zero.",
            digits(value),
            digits(low),
            digits(high)
        )
    } else {
        format!(
            "{name} agrees with its paper: {}{unit} ({} to {}){from}.",
            digits(value),
            digits(low),
            digits(high)
        )
    };
    if number.not_told_apart.is_empty() {
        said
    } else {
        let others = number.not_told_apart.join("; or ");
        format!("{said} These trials cannot tell it apart from {others}.")
    }
}

//! Warming, holding and cooling at every scale beside that of the bench.
//!
//! ```text
//! t  = t_warm + t_hold + t_cool          stage after stage
//! w  = 100 (m_warm + m_hold + m_cool) / m   water lost, percent of the batch
//! ```
//!
//! With the same coefficient and no losses the times go as `m/A`: six times less wall for each kilogram takes six times as long.
//! Range and interval: as [`crate::heat::warming`] gives them; the ends of the stages are added, as what is doubtful of vessel and room is the
//! same in all of them. Case: `tests/published/heat.toml`.

use crate::heat::warming::{HeatReading, MediumReading, StageReading};
use levigate_measure::{Note, Outcome};
use serde::Serialize;

const PROOF: &str = "tests/published/heat.toml";
const METHOD: &str = "warming, holding and cooling added";

/// How one scale is warmed, held and cooled.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HeatedScale {
    /// What it is called.
    pub words: String,
    /// Warming, min.
    pub warm: Outcome,
    /// Holding, min.
    pub hold: Outcome,
    /// Cooling, min; absent where nobody asked.
    pub cool: Option<Outcome>,
    /// All of it, min.
    pub time: Outcome,
    /// Warming and cooling, times that of the bench; absent for the bench itself.
    pub times_bench: Option<Outcome>,
    /// Water lost on the way, g.
    pub water: Outcome,
    /// The same, percent of the batch: to be made up by the balance.
    pub water_percent: Outcome,
    /// What flows through the jacket, where its flow is known.
    pub medium: Vec<MediumReading>,
    /// What must be known.
    pub notes: Vec<Note>,
}

impl HeatedScale {
    /// A scale as its vessel warms and cools it; `bench` is the same at the bench.
    #[must_use]
    pub fn of(words: &str, batch_kg: f64, reading: &HeatReading, bench: Option<&HeatReading>) -> Self {
        let stages = || [&reading.heat_up, &reading.hold].into_iter().chain(reading.cool_down.as_ref());
        let water = added("g", stages().map(|stage| &stage.water));
        let percent = added("%", stages().map(|stage| &stage.water));
        let percent = scaled(percent, 0.1 / batch_kg)
            .by("w = 100 (m_warm + m_hold + m_cool) / m")
            .input("batch", batch_kg, "kg", None);
        Self {
            words: words.to_owned(),
            warm: reading.heat_up.time.clone(),
            hold: reading.hold.time.clone(),
            cool: reading.cool_down.as_ref().map(|stage| stage.time.clone()),
            time: added("min", stages().map(|stage| &stage.time)).by("t = t_warm + t_hold + t_cool"),
            times_bench: bench.map(|bench| over(&moving(reading), &moving(bench))),
            water,
            water_percent: percent,
            medium: reading.medium.clone(),
            notes: reading.notes.clone(),
        }
    }

    /// A scale of which nothing can be told.
    #[must_use]
    pub fn refused(words: &str, why: &str) -> Self {
        let of = |unit: &'static str| Outcome::refuse(unit, METHOD, why);
        Self {
            words: words.to_owned(),
            warm: of("min"),
            hold: of("min"),
            cool: None,
            time: of("min"),
            times_bench: None,
            water: of("g"),
            water_percent: of("%"),
            medium: Vec::new(),
            notes: Vec::new(),
        }
    }
}

/// Warming and cooling: a hold is the same at every scale.
fn moving(reading: &HeatReading) -> Outcome {
    let time = |stage: &'_ StageReading| stage.time.clone();
    let both = [Some(time(&reading.heat_up)), reading.cool_down.as_ref().map(time)];
    added("min", both.iter().flatten())
}

/// Stages added; refused where one of them is. An end that is open stays open.
fn added<'o>(unit: &'static str, parts: impl Iterator<Item = &'o Outcome>) -> Outcome {
    let parts: Vec<&Outcome> = parts.collect();
    if let Some(why) = parts.iter().find_map(|part| part.refused.clone()) {
        return Outcome::refuse(unit, METHOD, why);
    }
    let value = |part: &&Outcome| part.value.unwrap_or(f64::NAN);
    let end = |of: fn(&Outcome) -> Option<f64>| -> f64 {
        parts
            .iter()
            // A part without an interval is sure; one with a single end is open at the other.
            .map(|part| match (part.low, part.high) {
                (None, None) => value(part),
                _ => of(part).unwrap_or(f64::INFINITY),
            })
            .sum()
    };
    let grade = parts.iter().map(|part| part.grade).max().unwrap_or(levigate_measure::Grade::Correlated);
    let mut sum = Outcome::new(parts.iter().map(value).sum(), unit, grade, METHOD)
        .valid_for("stages one after another in one vessel")
        .proved_by(PROOF);
    if parts.iter().any(|part| part.low.is_some() || part.high.is_some()) {
        sum = sum.within(end(|part| part.low), end(|part| part.high), None);
    }
    for part in parts {
        for source in &part.sources {
            if !sum.sources.contains(source) {
                sum.sources.push(source.clone());
            }
        }
    }
    sum
}

fn scaled(mut outcome: Outcome, factor: f64) -> Outcome {
    for end in [&mut outcome.value, &mut outcome.low, &mut outcome.high] {
        *end = end.map(|end| factor * end);
    }
    outcome
}

/// A time over that of the bench; the interval is that of the first alone, as both lean the same way.
fn over(time: &Outcome, bench: &Outcome) -> Outcome {
    const RATIO: &str = "warming and cooling over those of the bench";
    if let Some(why) = time.refused.clone().or_else(|| bench.refused.clone()) {
        return Outcome::refuse("", RATIO, why);
    }
    let mut ratio =
        Outcome::new(time.value.unwrap_or(f64::NAN) / bench.value.unwrap_or(f64::NAN), "", time.grade, RATIO)
            .by("x = (t_warm + t_cool) / (t_warm + t_cool of the bench)")
            .proved_by(PROOF);
    ratio.sources.clone_from(&time.sources);
    ratio
}

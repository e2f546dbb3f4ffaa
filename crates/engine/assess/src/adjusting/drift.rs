//! What moves the pH after it was set.

use levigate_formula::library::Material;
use levigate_formula::settle::Settled;
use levigate_measure::{Grade, Outcome};
use serde::{Deserialize, Serialize};

/// What moves the pH after it was set: `[[ph_drift]]`.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Drift {
    /// Key.
    pub key: String,
    /// Name.
    pub name: String,
    /// Substances it comes from.
    pub substances: Vec<String>,
    /// Which way.
    pub direction: Direction,
    /// Time within which most of it happens, days.
    pub within_days: f64,
    /// Why, a sentence.
    pub reason: String,
    /// Source.
    pub source: String,
}

/// Which way a pH drifts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Direction {
    /// Down.
    Falls,
    /// Up.
    Rises,
}

/// A drift of this batch.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Drifting {
    /// What drifts.
    pub name: String,
    /// Which way.
    pub direction: Direction,
    /// Time within which most of it happens.
    pub within: Outcome,
    /// What it means, in words.
    pub words: String,
}

/// Carbon dioxide of the air counts above this pH, or where a batch resists by less than this.
const ALKALINE_PH: f64 = 7.5;
const WEAK_MMOL_KG: f64 = 2.0;

/// The drifts a batch has to expect: those of its substances, and that of the air. `capacity` in mmol per kg and pH.
pub(super) fn drifts(
    settled: &Settled<'_>,
    adjusters: &[(&Material, Option<f64>)],
    known: &[&Drift],
    upper_edge: f64,
    capacity: Option<f64>,
) -> Vec<Drifting> {
    let holds = |substance: &String| {
        let lines = settled.lines.iter().any(|line| {
            line.percent > 0.0
                && line.constituents.iter().any(|part| part.substance == *substance && part.high > 0.0)
        });
        lines
            || adjusters.iter().any(|(material, _)| {
                material.constituents.iter().any(|part| part.substance == *substance && part.typical > 0.0)
            })
    };
    let mut found: Vec<Drifting> = known
        .iter()
        .filter(|drift| drift.substances.iter().any(holds))
        .map(|drift| {
            let way = match drift.direction {
                Direction::Falls => "falls",
                Direction::Rises => "rises",
            };
            Drifting {
                name: drift.name.clone(),
                direction: drift.direction,
                within: Outcome::new(drift.within_days, "days", Grade::RuleOfThumb, "known of the substance")
                    .source(drift.source.clone()),
                words: format!("{}: the pH {way}. {} Read again the next day.", drift.name, drift.reason),
            }
        })
        .collect();
    let alkaline = upper_edge > ALKALINE_PH;
    if alkaline || capacity.is_some_and(|capacity| capacity < WEAK_MMOL_KG) {
        let because = if alkaline { "the target is alkaline" } else { "the batch resists little" };
        found.push(Drifting {
            name: "carbon dioxide of the air".to_owned(),
            direction: Direction::Falls,
            within: Outcome::new(1.0, "days", Grade::RuleOfThumb, "common practice").source("common-practice"),
            words: format!(
                "carbon dioxide of the air: {because}, so that the pH falls while the batch stands open and is stirred. \
                 Cover it, and read again the next day."
            ),
        });
    }
    found
}

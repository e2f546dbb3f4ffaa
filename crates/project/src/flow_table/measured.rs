//! What was measured: curves over the shear rate, recoveries over time.

use super::units::Meaning;
use super::words::plain_label;
use serde::{Deserialize, Serialize};

/// Up or down.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Direction {
    /// Rising shear rates.
    Up,
    /// Falling shear rates.
    Down,
}

impl Direction {
    /// Its name.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Up => "up",
            Self::Down => "down",
        }
    }

    pub(super) fn of_words(text: &str) -> Option<Self> {
        let text = plain_label(text);
        let is = |words: &[&str]| words.iter().any(|word| text == *word);
        if is(&[
            "up",
            "rising",
            "increasing",
            "ascending",
            "auf",
            "aufwarts",
            "hin",
            "montee",
            "subida",
            "salita",
        ]) {
            Some(Self::Up)
        } else if is(&[
            "down",
            "falling",
            "decreasing",
            "descending",
            "ab",
            "abwarts",
            "ruck",
            "descente",
            "bajada",
            "discesa",
        ]) {
            Some(Self::Down)
        } else {
            None
        }
    }
}

/// A measured curve.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredCurve {
    /// What tells it from the others of the file; empty where it is the only one and has no name.
    pub name: String,
    /// Name of the sample, where the file says one.
    pub sample: String,
    /// Temperature, C, where the file says one.
    pub temperature_c: Option<f64>,
    /// Up or down, where it is known.
    pub direction: Option<Direction>,
    /// Names of its two columns.
    pub columns: [String; 2],
    /// Their units.
    pub units: [&'static str; 2],
    /// What they hold.
    pub meanings: [Meaning; 2],
    /// Its points in the order of the file.
    pub points: Vec<MeasuredPoint>,
}

/// A measured point.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredPoint {
    /// Line of the file, from 1.
    pub line: usize,
    /// Shear rate, 1/s.
    pub shear_rate: f64,
    /// Stress, Pa.
    pub stress: f64,
    /// Both values as they stand in the file.
    pub typed: [Box<str>; 2],
}

/// A shear rate or a speed that was held.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Held {
    /// Value.
    pub value: f64,
    /// `1/s` or `rpm`.
    pub unit: &'static str,
}

impl Held {
    /// In words, three figures.
    #[must_use]
    pub fn words(&self) -> String {
        let rounded = format!("{:.2e}", self.value).parse().unwrap_or(self.value);
        format!("{rounded} {}", self.unit)
    }
}

/// Readings over time at one shear rate after a strong shear.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredRecovery {
    /// What tells it from the others of the file; empty where it is the only one and has no name.
    pub name: String,
    /// Name of the sample, where the file says one.
    pub sample: String,
    /// Temperature, C, where the file says one.
    pub temperature_c: Option<f64>,
    /// Names of its two columns.
    pub columns: [String; 2],
    /// Their units.
    pub units: [&'static str; 2],
    /// What they hold.
    pub meanings: [Meaning; 2],
    /// What it was read at, where that is known.
    pub at: Option<Held>,
    /// The strong shear before it, where that was read too.
    pub strong: Option<Held>,
    /// Viscosities before the strong shear, Pa s, in the order of the file.
    pub before: Vec<f64>,
    /// Its readings in the order of the file.
    pub points: Vec<TimedPoint>,
}

/// A reading over time.
#[derive(Clone, Debug, PartialEq)]
pub struct TimedPoint {
    /// Line of the file, from 1.
    pub line: usize,
    /// Time from the end of the strong shear, s.
    pub time_s: f64,
    /// Viscosity, Pa s; what the dial shows where a spindle was read.
    pub viscosity: f64,
    /// Both values as they stand in the file.
    pub typed: [Box<str>; 2],
}

//! What is asked: batch, window, meter, balance, what went in and what was read, and why there may be no advice.

use crate::assess::AssessError;
use levigate_formula::aqueous::AqueousError;
use levigate_formula::library::Material;
use levigate_formula::sheet::PhRead;
use levigate_measure::belief::BeliefError;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::Deserialize;
use thiserror::Error;

/// How sure things are where nobody measured: `[ph_adjusting]`.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Convention {
    /// Acid or base of raw materials nobody counts, mmol per kg, standard uncertainty.
    pub excess_mmol_kg: f64,
    /// Buffer capacity as a whole, relative.
    pub capacity_relative: f64,
    /// Strength of an adjuster beside the range of its grade, relative.
    pub strength_relative: f64,
    /// Weighing and assay of a line, relative.
    pub line_relative: f64,
    /// Scatter of a settled reading, pH.
    pub reading_ph: f64,
    /// What an electrode is off by as a whole where no calibration is given, pH.
    pub meter_ph: f64,
    /// Half width of the window about a target that is one number, pH.
    pub target_ph: f64,
    /// A drop of a liquid as a dropper lets it fall, g.
    pub drop_g: f64,
    /// Source.
    pub source: String,
}

/// Why there is no advice.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum Trouble {
    /// The formula cannot be settled or solved.
    #[error("the formula has no answer")]
    Formula(AssessError),
    /// The equilibrium has no answer.
    #[error("the equilibrium of the water phase has no answer: {0}")]
    Aqueous(#[from] AqueousError),
    /// The bookkeeping of beliefs failed.
    #[error("the readings cannot be weighed against the model: {0}")]
    Belief(#[from] BeliefError),
    /// No temperature to work at.
    #[error("the target has no temperature")]
    NoTemperature,
    /// A pH the batch cannot have.
    #[error("no amount of acid or base explains a pH of {ph:.2} in this batch")]
    NoSuchPh {
        /// pH.
        ph: f64,
    },
    /// An adjuster that does nothing.
    #[error("the adjuster does not move the pH of this batch")]
    NoEffect,
    /// Several acids or bases are added to one pH.
    #[error("{lines} lines are added to the pH together")]
    Several {
        /// How many.
        lines: usize,
    },
    /// Numbers that cannot be.
    #[error("{what} is {value}")]
    NotUsable {
        /// What.
        what: &'static str,
        /// As given.
        value: f64,
    },
}

impl Trouble {
    /// What to do.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Formula(_) | Self::Aqueous(_) | Self::Belief(_) => {
                "look whether the formula can be assessed by itself"
            }
            Self::NoTemperature => "give the temperature the pH is read at",
            Self::NoSuchPh { .. } => "check the reading, and that the electrode was in the batch",
            Self::NoEffect => {
                "choose an acid or a base; look what the record of the raw material says it consists of"
            }
            Self::Several { .. } => "read the pH before any of them goes in",
            Self::NotUsable { .. } => "give a number that can be meant",
        }
    }
}

impl From<crate::mixture::MixtureError> for Trouble {
    fn from(error: crate::mixture::MixtureError) -> Self {
        Self::Formula(AssessError::Mixture(error))
    }
}

/// How the pH is read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Method {
    /// Diluted to 10 % in water, else neat.
    pub diluted: bool,
    /// Temperature, C.
    pub temperature_c: f64,
    /// Age of the batch, h, where it is said.
    pub age_h: Option<f64>,
}

/// Temperature at which a pH is read where nobody says one, C.
const USUAL_C: f64 = 25.0;

impl Method {
    /// As a target says it; neat at 25 C where it says nothing.
    #[must_use]
    pub fn of(read: &PhRead) -> Self {
        let number = |value: Option<Decimal>| value.and_then(|value| value.to_f64());
        Self {
            diluted: read.diluted,
            temperature_c: number(read.temperature_c).unwrap_or(USUAL_C),
            age_h: number(read.age_h),
        }
    }

    /// Whether it is neat at 25 C, which is what acid and base lines are solved for.
    #[must_use]
    pub fn is_usual(&self) -> bool {
        !self.diluted && self.temperature_c == USUAL_C
    }

    /// In words.
    #[must_use]
    pub fn words(&self) -> String {
        let how = if self.diluted { "10 % in water" } else { "neat" };
        let age = self.age_h.map_or_else(String::new, |hours| format!(", {hours} h old"));
        format!("{how}, {} \u{b0}C{age}", self.temperature_c)
    }
}

/// The batch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Batch {
    /// When it is finished, g.
    pub finished_g: f64,
    /// Of the q.s. line not in yet, g.
    pub held_back_g: f64,
}

/// What is wanted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    /// Lower and upper edge, pH.
    pub ph: [f64; 2],
    /// How it is read.
    pub method: Method,
}

/// What was put in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Addition {
    /// Which adjuster.
    pub adjuster: usize,
    /// Grams.
    pub grams: f64,
}

/// A settled reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Additions that were in by then.
    pub after: usize,
    /// pH.
    pub ph: f64,
    /// What it scatters by, standard deviation; the convention where it is not said.
    pub scatter: Option<f64>,
    /// How it was read.
    pub method: Method,
}

/// The meter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Meter {
    /// Standard uncertainty of what the electrode is off by as a whole, pH.
    pub offset_uncertainty: f64,
}

/// How finely an addition can be weighed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dosing {
    /// Last digit of the balance, g.
    pub readability_g: f64,
    /// Standard uncertainty of one addition, g.
    pub uncertainty_g: f64,
    /// Smallest portion that can be let fall, g: the division of the balance, or what a drop weighs where drops are counted.
    pub portion_g: f64,
}

/// What a bench is made of.
#[derive(Clone, Debug)]
pub struct Setting<'a> {
    /// Acid or base with its assay where the lot's is known; the first is the one in use.
    pub adjusters: Vec<(&'a Material, Option<f64>)>,
    /// Batch.
    pub batch: Batch,
    /// Window.
    pub window: Window,
    /// Meter.
    pub meter: Meter,
    /// Balance.
    pub dosing: Dosing,
    /// Temperatures readings are taken at besides that of the window, C.
    pub temperatures_c: Vec<f64>,
}

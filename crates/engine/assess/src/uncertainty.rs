//! How sure a batch is: what weighing, lots, constants and prices leave open about every line and about what follows from them.
//!
//! ```text
//! w_i = m_i / sum m_j                         m_i: what was really weighed
//! T   = sum over lines m_i (t_i + x_ik d_ik)  totals of the water phase; x_ik what a lot's content is off by
//! pH, shares of acids: solved anew for T and for constants within their doubt
//! c   = sum m_i k_i / sum m_i                 cost;   ln eta: the laws of flow anew for the doses, the salt and the charge of T
//! ```
//!
//! Each result is told twice: by the law of propagation (first order, independent inputs) and by Monte Carlo with equilibrium and flow solved in
//! every draw. What differs from batch to batch (weighing, lots) is kept apart from what every batch of the formula has in common (constants,
//! coefficients, laws of flow): the second is the doubt of the prediction, and one reading at the bench takes it away.
//!
//! | in it | as |
//! |---|---|
//! | a line's weighing | normal (repeatability, certificate, linearity), triangular (rounding of two readings), rectangular (eccentricity, or what its class permits) |
//! | air buoyancy between the lines | a correction, where a balance could show it |
//! | content of a raw material | rectangular over the half-range of its record about the typical value; of a lot as its certificate says |
//! | constants, coefficients, mixed solvent, pH scale | normal, as the interval of the pH counts them |
//! | grade and parameters of thickeners, gains, solvent, drops | normal, through the laws of flow |
//! | how far those laws miss | normal in ln viscosity |
//! | prices | rectangular, relative, where a spread is given |
//! | pH meter | normal, in what is read, where its uncertainty is given |
//!
//! Not in it: spillage, residues in boats, evaporation, slips. Range: lines weighed one by one, or in the portions of the procedure; a line
//! weighs no less than a millionth of itself. Source: JCGM 100 and 101. Cases: `tests/cross/uncertainty_batch.toml`,
//! `tests/cross/uncertainty_flow.toml`.

mod balances;
mod buoyancy;
mod draws;
mod flow;
mod help;
mod lines;
mod pot;
mod reading;
mod sources;
mod target_help;

pub use buoyancy::Buoyancy;
pub use reading::{
    BatchUncertainty, Help, LineUncertainty, Remedy, ResultUncertainty, ShareOfVariance, TargetChance,
    TargetHelp, TargetRemedy,
};
pub use sources::{Assigned, LotSpread, Spread};

use crate::adjusting::Convention;
use crate::assess::{AssessError, Inquiry, assess};
use crate::procedure::Handling;
use levigate_measure::uncertainty::UncertaintyError;
use levigate_measure::weighing::Balance;

/// Fewest draws.
pub const LEAST_DRAWS: usize = 1_000;
/// Most draws.
pub const MOST_DRAWS: usize = 2_000_000;

/// What is asked.
#[derive(Clone, Debug)]
pub struct Ask<'a> {
    /// The formula, what is known, the day and the market.
    pub inquiry: Inquiry<'a>,
    /// Batch, g.
    pub batch_g: f64,
    /// Balance of every line that no other is named for.
    pub balance: Balance,
    /// Further balances with what is weighed on them.
    pub others: Vec<Assigned>,
    /// Rules of handling and the doubts by which the first portion of an acid or base is found, for the portions that lines are weighed in; nothing: every
    /// line is weighed in one go.
    pub handling: Option<(&'a Handling, Option<&'a Convention>)>,
    /// What the certificates of lots say.
    pub lots: Vec<LotSpread>,
    /// Half-width of every price, percent of it; nothing: prices are taken as exact.
    pub price_half_width_percent: Option<f64>,
    /// Standard uncertainty of a pH reading; nothing: the meter is left out.
    pub meter_ph: Option<f64>,
    /// Coverage of every interval.
    pub coverage: f64,
    /// Draws; the most where it is drawn until steady.
    pub draws: usize,
    /// Digits of every standard uncertainty that must stand still before drawing ends (JCGM 101, 7.9); nothing: all draws are made.
    pub steady_digits: Option<i32>,
    /// Seed.
    pub seed: u64,
}

/// Why the uncertainty of a batch cannot be told.
#[derive(Clone, Debug, PartialEq)]
pub enum BatchError {
    /// The formula cannot be assessed.
    Assess(AssessError),
    /// Something that was given cannot be.
    Given(UncertaintyError),
    /// A balance or a lot names a line that is not there, counted from 0.
    NoSuchLine {
        /// The line.
        line: usize,
        /// How many there are.
        count: usize,
    },
    /// The record of the material on the line names no active substance, so a lot's assay means nothing.
    NoActive {
        /// The line.
        line: usize,
        /// Name of the material.
        material: String,
    },
    /// The equilibrium has no answer in too many of the draws.
    Draws {
        /// Draws without an answer.
        failed: usize,
        /// Draws made.
        made: usize,
    },
}

impl From<AssessError> for BatchError {
    fn from(error: AssessError) -> Self {
        Self::Assess(error)
    }
}

impl From<UncertaintyError> for BatchError {
    fn from(error: UncertaintyError) -> Self {
        Self::Given(error)
    }
}

impl Ask<'_> {
    fn check(&self) -> Result<(), BatchError> {
        let wrong = |what, value| Err(BatchError::Given(UncertaintyError::Parameter { what, value }));
        if !(self.batch_g > 0.0 && self.batch_g <= 1e9) {
            return wrong("batch size", self.batch_g);
        }
        if !(self.coverage >= 0.5 && self.coverage <= 0.999) {
            return wrong("coverage", self.coverage);
        }
        if !(LEAST_DRAWS..=MOST_DRAWS).contains(&self.draws) {
            return Err(
                UncertaintyError::Draws { draws: self.draws, least: LEAST_DRAWS, most: MOST_DRAWS }.into()
            );
        }
        if let Some(digits) = self.steady_digits.filter(|digits| !(1..=2).contains(digits)) {
            return wrong("digits that must stand still", f64::from(digits));
        }
        let spread = |value: &f64| value.is_finite() && *value >= 0.0;
        if let Some(value) = self.price_half_width_percent.filter(|value| !(spread(value) && *value < 100.0))
        {
            return wrong("half-width of the prices", value);
        }
        if let Some(value) = self.meter_ph.filter(|value| !(spread(value) && *value < 5.0)) {
            return wrong("standard uncertainty of the pH meter", value);
        }
        let count = self.inquiry.sheet.lines().count();
        let named =
            self.others.iter().flat_map(|other| &other.lines).chain(self.lots.iter().map(|lot| &lot.line));
        for &line in named {
            if line >= count {
                return Err(BatchError::NoSuchLine { line, count });
            }
        }
        if let Some(most) = self.others.iter().filter_map(|other| other.up_to_g).find(|most| *most <= 0.0) {
            return wrong("most that goes onto a balance", most);
        }
        self.lots.iter().try_for_each(|lot| lot.spread.check()).map_err(BatchError::from)
    }
}

/// Tells how sure a batch is.
///
/// # Errors
/// [`BatchError`].
pub fn batch(ask: &Ask<'_>) -> Result<BatchUncertainty, BatchError> {
    ask.check()?;
    let assessed = assess(&ask.inquiry)?;
    let readings: Vec<f64> =
        assessed.composition.lines.iter().map(|line| line.percent / 100.0 * ask.batch_g).collect();
    let balances = balances::Balances::of(ask, &assessed);
    let (buoyancy, masses) = buoyancy::of(ask, &assessed, &balances, &readings);
    let lines = lines::weighed(ask, &assessed, &balances, (&masses, &readings))?;
    let pot = pot::Pot::of(ask, &assessed, &balances, &masses)?;
    let mut results = reading::results(ask, &assessed, &pot)?;
    target_help::help_targets(ask, &assessed, (&balances, &pot), &mut results.results)?;
    let helps = help::helps(ask, &assessed, (&balances, &masses), &lines, &results.results)?;
    Ok(reading::together(ask, &pot, (lines, buoyancy), results, helps))
}

//! A batch on one balance: the share every line ends up as, the verdict, the way out.

use super::{Balance, COVERAGE_FACTOR};
use crate::Outcome;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::{Deserialize, Serialize};

/// What the balance can do for one line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Weighable {
    /// At or above the minimum weight, and the expanded uncertainty is within the tolerance.
    Well,
    /// At or above the minimum weight, but the expanded uncertainty uses the whole tolerance or more.
    AtTheLimit,
    /// Below the minimum weight.
    TooSmall,
    /// Rounds to nothing on this balance.
    Nothing,
    /// Heavier than the balance bears.
    TooHeavy,
}

impl Weighable {
    /// The verdict shown to people.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Well => "weighs well",
            Self::AtTheLimit => "at the limit of this balance",
            Self::TooSmall => "too small for this balance",
            Self::Nothing => "nothing this balance can show",
            Self::TooHeavy => "too heavy for this balance",
        }
    }

    /// Whether something should be done about it.
    #[must_use]
    pub fn is_weak(self) -> bool {
        !matches!(self, Self::Well)
    }
}

/// A batch on one balance: the masses of its lines, g.
#[derive(Clone, Debug)]
pub struct Weighing<'a> {
    pub(super) balance: &'a Balance,
    pub(super) masses_g: Vec<f64>,
    pub(super) standard_g: Vec<f64>,
    /// Sum of the squares of all standard uncertainties.
    pub(super) variance_g2: f64,
    pub(super) batch_g: f64,
}

impl<'a> Weighing<'a> {
    /// Each line weighed on its own. Masses that are negative or not finite count as nothing.
    #[must_use]
    pub fn of(balance: &'a Balance, masses_g: &[f64]) -> Self {
        let masses_g: Vec<f64> =
            masses_g.iter().map(|mass| if mass.is_finite() { mass.max(0.0) } else { 0.0 }).collect();
        let standard_g: Vec<f64> = masses_g
            .iter()
            .map(|mass| if *mass > 0.0 { balance.standard_uncertainty_g(*mass) } else { 0.0 })
            .collect();
        let variance_g2 = standard_g.iter().map(|own| own * own).sum();
        let batch_g = masses_g.iter().sum();
        Self { balance, masses_g, standard_g, variance_g2, batch_g }
    }

    /// Relative standard uncertainty of the final share of a line; `None` for a line of nothing.
    #[must_use]
    pub fn relative_standard(&self, line: usize) -> Option<f64> {
        let (mass, own) = (*self.masses_g.get(line)?, *self.standard_g.get(line)?);
        if mass <= 0.0 {
            return None;
        }
        Some(self.relative_with(mass, own, own))
    }

    /// The relative standard uncertainty of a share whose own weighing is uncertain by `own_g`, where `counted_g` of it stands in the
    /// variance of the batch.
    fn relative_with(&self, mass_g: f64, own_g: f64, counted_g: f64) -> f64 {
        let own = (1.0 - mass_g / self.batch_g) * own_g / mass_g;
        let others = (self.variance_g2 - counted_g * counted_g).max(0.0);
        (own * own + others / (self.batch_g * self.batch_g)).sqrt()
    }

    /// Expanded uncertainty (k = 2) of the final share of a line, percent of it, as a result that explains itself.
    #[must_use]
    pub fn expanded_percent(&self, line: usize) -> Outcome {
        let method = "law of propagation on the share of the line";
        let Some(relative) = self.relative_standard(line) else {
            return Outcome::refuse("%", method, "a line of nothing has no relative uncertainty");
        };
        let mass = self.masses_g.get(line).copied().unwrap_or(0.0);
        let own = self.standard_g.get(line).copied().unwrap_or(0.0);
        let outcome = Outcome::new(100.0 * COVERAGE_FACTOR * relative, "%", self.balance.grade(), method)
            .by("U = 2 sqrt((1 - w)^2 (u/m)^2 + sum over the other lines of (u_j/B)^2)")
            .valid_for("each line weighed on its own; no spillage, residue or evaporation")
            .proved_by("tests/published/weighing.toml")
            .source("masscor")
            .input("net weight m", mass, "g", None)
            .input("batch B", self.batch_g, "g", None)
            .input("readability d", self.balance.readability_g, "g", None)
            .input("repeatability s", self.balance.repeatability_g(), "g", None)
            .term("standard uncertainty of the net weight", own, "g");
        self.balance.with_assumptions(outcome)
    }

    /// The verdict for a line with its own relative tolerance.
    #[must_use]
    pub fn judge(&self, line: usize, tolerance: f64) -> Weighable {
        let mass = self.masses_g.get(line).copied().unwrap_or(0.0);
        let Some(relative) = self.relative_standard(line) else { return Weighable::Nothing };
        if mass < 0.5 * self.balance.readability_g {
            return Weighable::Nothing;
        }
        if self.balance.record.capacity_g.is_some_and(|capacity| mass > capacity) {
            return Weighable::TooHeavy;
        }
        // A hair's breadth for masses that are the minimum weight up to the last bit.
        if mass < self.balance.minimum_weight_g(tolerance) * (1.0 - 1e-9) {
            return Weighable::TooSmall;
        }
        if COVERAGE_FACTOR * relative > tolerance { Weighable::AtTheLimit } else { Weighable::Well }
    }

    /// Smallest round batch in which the line weighs well, g; looked for up to a thousand times the present batch.
    #[must_use]
    pub fn larger_batch_g(&self, line: usize, tolerance: f64) -> Option<Decimal> {
        let share = self.masses_g.get(line)? / self.batch_g;
        if !(share > 0.0 && share.is_finite()) {
            return None;
        }
        let least = (self.balance.minimum_weight_g(tolerance) / share).max(self.batch_g);
        round_sizes(least)
            .take_while(|size| size.to_f64().is_some_and(|grams| grams <= 1000.0 * self.batch_g))
            .find(|size| {
                let factor = size.to_f64().unwrap_or(0.0) / self.batch_g;
                let masses: Vec<f64> = self.masses_g.iter().map(|mass| mass * factor).collect();
                Weighing::of(self.balance, &masses).judge(line, tolerance) == Weighable::Well
            })
    }

    /// The coarsest decade of readability on which the line weighs well, repeatability taken equal to it, g.
    #[must_use]
    pub fn finer_readability_g(&self, line: usize, tolerance: f64) -> Option<Decimal> {
        let (mass, own) = (*self.masses_g.get(line)?, *self.standard_g.get(line)?);
        (1..=6).filter_map(|decades| self.balance.finer(decades)).find_map(|finer| {
            // Only this line moves to the other balance.
            let relative = self.relative_with(mass, finer.standard_uncertainty_g(mass), own);
            let weighs = mass >= finer.minimum_weight_g(tolerance) && COVERAGE_FACTOR * relative <= tolerance;
            weighs.then(|| finer.readability())
        })
    }
}

/// Round batch sizes from `least` upwards (1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8 times a power of ten), bounded.
fn round_sizes(least: f64) -> impl Iterator<Item = Decimal> {
    const STEPS: [i32; 10] = [10, 12, 15, 20, 25, 30, 40, 50, 60, 80];
    (0..8u32)
        .flat_map(|decade| STEPS.iter().map(move |step| step * 10i32.pow(decade)))
        .skip_while(move |tenths| f64::from(*tenths) / 10.0 < least * (1.0 - 1e-9))
        .map(|tenths| Decimal::new(i64::from(tenths), 1).normalize())
}

//! How well a line of a batch can be weighed: the balance, the net weight, the share it ends up as, the smallest weight.
//!
//! A net weight is the difference of two readings of one balance, so it carries the repeatability, the rounding of both
//! readings and what the calibration certificate leaves open. The share of a line in the finished batch then depends on
//! its own weight and, through the total, on all the others.
//!
//! ```text
//! u(m)^2      = s^2 + 2 d^2/12 + (e m / (2 sqrt 3))^2 + (U/k)^2 + 2 (L/sqrt 3)^2      with a certificate
//! u(m)^2      = s^2 + 2 d^2/12 + mpe^2/3                                              by its class alone ([`Verified`])
//! (u(w)/w)^2  = (1 - w)^2 (u_i/m_i)^2 + sum over j != i of (u_j/B)^2          w = m_i/B
//! m_min(p)    = 2 max(s, 0.41 d) / p
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | d | readability (division) of the balance | g |
//! | s | repeatability, standard deviation; equal to d unless stated | g |
//! | e | eccentricity: difference between centre and corner per load | g/g |
//! | U, k | expanded uncertainty on the certificate and its coverage factor | g, 1 |
//! | L | linearity, half-width, once for the empty and once for the full vessel | g |
//! | m, B | net weight of the line, mass of the batch | g |
//! | p | permitted relative error of the line | 1 |
//!
//! Range: masses well below the capacity of the balance, shares by mass (air buoyancy cancels to first order), each line
//! weighed on its own. Spillage, residues in the boat and evaporation are not in it.
//!
//! Sources: the reading model and its worked figures, `masscor`; linearity twice, `quam-a2`; the propagation is the law of
//! propagation applied to `m_i / B` (JCGM 100, 5.1.2). The factor 0.41 is `sqrt(1/6)`, the rounding of two readings, and is
//! the floor of `usp-41`. Others leave the batch total out (`u/m` alone): right for small lines, wrong for the largest one.
//!
//! Proof: `tests/published/weighing.toml` (a 15-line batch with an independent Monte Carlo, one certificate, the minimum weights).

mod air;
mod batch;
mod class;
mod dilution;
mod indication;
mod portions;

pub use air::{Air, Floating, USUAL_AIR_KG_M3, buoyancy_factor, floating};
pub use batch::{Weighable, Weighing};
pub use class::{ErrorSteps, Verified};
pub use dilution::{Dilution, DilutionLimits};
pub use indication::{Indication, Weighed};

use crate::{Grade, Outcome};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Coverage factor of every expanded uncertainty here: about 95 %.
pub const COVERAGE_FACTOR: f64 = 2.0;

/// Smallest repeatability that counts, in divisions: two rounded readings alone scatter by `sqrt(1/6)` divisions.
pub const REPEATABILITY_FLOOR_DIVISIONS: f64 = 0.41;

/// Permitted relative error of the pharmacopoeial minimum weight (USP <41>).
pub const PHARMACY_TOLERANCE: f64 = 0.001;

/// A balance as a person describes it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BalanceRecord {
    /// What it is called on the bench.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// Readability, g.
    pub readability_g: Decimal,
    /// Repeatability (standard deviation), g; the readability when it was never measured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub repeatability_g: Option<f64>,
    /// Capacity, g.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub capacity_g: Option<f64>,
    /// What the calibration certificate says.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub certificate: Option<Certificate>,
}

/// The figures of a calibration certificate that concern a net weight.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Certificate {
    /// Expanded uncertainty of the indication near the load in use, g.
    pub expanded_g: f64,
    /// Its coverage factor.
    pub coverage_factor: f64,
    /// Linearity, half-width, g.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub linearity_g: Option<f64>,
    /// Eccentricity: difference between corner and centre divided by the load it was found with, g/g.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub eccentricity_per_load: Option<f64>,
    /// Errors of indication load by load, loads rising; none where only the uncertainty near the load in use is known.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub at: Vec<Indication>,
}

/// A balance whose figures have been checked.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "BalanceRecord", into = "BalanceRecord")]
pub struct Balance {
    record: BalanceRecord,
    readability_g: f64,
    verified: Option<Verified>,
}

/// Why a balance or a question about it makes no sense.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum WeighingError {
    /// The readability is not a small positive mass.
    #[error("a readability of {grams} g is not one a balance has")]
    Readability {
        /// What was given.
        grams: Decimal,
    },
    /// The repeatability is negative or not a number.
    #[error("a repeatability of {grams} g is not possible")]
    Repeatability {
        /// What was given.
        grams: f64,
    },
    /// The capacity is not above the readability.
    #[error("a capacity of {grams} g is not possible")]
    Capacity {
        /// What was given.
        grams: f64,
    },
    /// A figure of the certificate is negative or not a number, or the coverage factor is not above zero.
    #[error("a certificate with U = {expanded_g} g and k = {coverage_factor} is not possible")]
    Certificate {
        /// Expanded uncertainty.
        expanded_g: f64,
        /// Coverage factor.
        coverage_factor: f64,
    },
    /// The loads of the certificate do not rise, or a figure there is not one.
    #[error("the certificate's load of {load_g} g does not follow the one before, or has no figures")]
    Indication {
        /// The load.
        load_g: f64,
    },
}

impl WeighingError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Readability { .. } => "give the smallest step of the display, between 0.000001g and 10 kg",
            Self::Repeatability { .. } => {
                "give the standard deviation of ten weighings of one weight, or leave it out: the readability is used"
            }
            Self::Capacity { .. } => "give the largest load of the balance, or leave it out",
            Self::Certificate { .. } => "copy U and k from the certificate; k is nearly always 2",
            Self::Indication { .. } => {
                "list the loads from the smallest up, each once, with the error of indication and U above or equal to zero"
            }
        }
    }
}

impl TryFrom<BalanceRecord> for Balance {
    type Error = WeighingError;

    fn try_from(record: BalanceRecord) -> Result<Self, WeighingError> {
        let plausible = Decimal::new(1, 6)..=Decimal::new(10_000, 0);
        let readability_g = record.readability_g.to_f64().unwrap_or(f64::NAN);
        if !plausible.contains(&record.readability_g) || !readability_g.is_finite() {
            return Err(WeighingError::Readability { grams: record.readability_g });
        }
        if let Some(grams) = record.repeatability_g.filter(|s| !(s.is_finite() && *s >= 0.0)) {
            return Err(WeighingError::Repeatability { grams });
        }
        if let Some(grams) = record.capacity_g.filter(|c| !(c.is_finite() && *c > readability_g)) {
            return Err(WeighingError::Capacity { grams });
        }
        if let Some(c) = &record.certificate {
            let sound = |figure: f64| figure.is_finite() && figure >= 0.0;
            let parts = [c.expanded_g, c.linearity_g.unwrap_or(0.0), c.eccentricity_per_load.unwrap_or(0.0)];
            let factor_sound = c.coverage_factor.is_finite() && c.coverage_factor > 0.0;
            if !(factor_sound && parts.into_iter().all(sound)) {
                return Err(WeighingError::Certificate {
                    expanded_g: c.expanded_g,
                    coverage_factor: c.coverage_factor,
                });
            }
            let mut before = 0.0;
            for point in &c.at {
                let follows = point.load_g > before && point.load_g.is_finite();
                if !(follows && point.error_g.is_finite() && sound(point.expanded_g)) {
                    return Err(WeighingError::Indication { load_g: point.load_g });
                }
                before = point.load_g;
            }
        }
        Ok(Self { record, readability_g, verified: None })
    }
}

impl From<Balance> for BalanceRecord {
    fn from(balance: Balance) -> Self {
        balance.record
    }
}

impl Certificate {
    /// `(U/k)^2 + 2 (L/sqrt 3)^2`, g squared: what the certificate leaves open about a net weight. `indication` is `U/k` at the load.
    fn variance_g2(&self, indication: f64) -> f64 {
        let linearity = self.linearity_g.unwrap_or(0.0);
        indication * indication + 2.0 * linearity * linearity / 3.0
    }

    /// The corner-load part for a load, g squared.
    fn eccentricity_g2(&self, load_g: f64) -> f64 {
        let half = self.eccentricity_per_load.unwrap_or(0.0) * load_g / (2.0 * 3.0f64.sqrt());
        half * half
    }
}

impl Balance {
    /// A balance known only by its readability; the repeatability is taken equal to it.
    ///
    /// # Errors
    /// A readability that no balance has.
    pub fn with_readability(readability_g: Decimal) -> Result<Self, WeighingError> {
        Self::try_from(BalanceRecord {
            name: None,
            readability_g,
            repeatability_g: None,
            capacity_g: None,
            certificate: None,
        })
    }

    /// The same balance, verified in a class: what its certificate says goes before.
    #[must_use]
    pub fn verified(mut self, verified: Verified) -> Self {
        self.verified = Some(verified);
        self
    }

    /// The class it is verified in, where no certificate says more.
    #[must_use]
    pub fn class(&self) -> Option<&Verified> {
        self.verified.as_ref().filter(|_| self.record.certificate.is_none())
    }

    /// The figures as given.
    #[must_use]
    pub fn record(&self) -> &BalanceRecord {
        &self.record
    }

    /// Readability, exactly.
    #[must_use]
    pub fn readability(&self) -> Decimal {
        self.record.readability_g
    }

    /// Readability d, g.
    #[must_use]
    pub fn readability_g(&self) -> f64 {
        self.readability_g
    }

    /// Repeatability s, g: as measured, else equal to the readability.
    #[must_use]
    pub fn repeatability_g(&self) -> f64 {
        self.record.repeatability_g.unwrap_or(self.readability_g)
    }

    /// Standard uncertainty of a net weight, g.
    #[must_use]
    pub fn standard_uncertainty_g(&self, net_g: f64) -> f64 {
        let (s, d) = (self.repeatability_g(), self.readability_g);
        let certificate = self.record.certificate.as_ref().map_or(0.0, |certificate| {
            let (_, indication) = self.error_of_indication(net_g);
            certificate.variance_g2(indication) + certificate.eccentricity_g2(net_g)
        });
        let permitted = self.class().map_or(0.0, |class| class.most_g(net_g).powi(2) / 3.0);
        (s * s + 2.0 * d * d / 12.0 + certificate + permitted).sqrt()
    }

    /// Smallest net weight, g, whose repeatability keeps within the relative tolerance (`0.02` for 2 %).
    #[must_use]
    pub fn minimum_weight_g(&self, tolerance: f64) -> f64 {
        let floor = REPEATABILITY_FLOOR_DIVISIONS * self.readability_g;
        COVERAGE_FACTOR * self.repeatability_g().max(floor) / tolerance
    }

    /// The minimum weight as a result that explains itself.
    #[must_use]
    pub fn minimum_weight(&self, tolerance: f64) -> Outcome {
        let outcome = Outcome::new(
            self.minimum_weight_g(tolerance),
            "g",
            self.grade(),
            "minimum weight from repeatability",
        )
        .by("m_min = 2 max(s, 0.41 d) / p")
        .valid_for("one net weight on this balance, 0 < p < 1")
        .proved_by("tests/published/weighing.toml")
        .source("usp-41")
        .input("repeatability s", self.repeatability_g(), "g", None)
        .input("readability d", self.readability_g, "g", None)
        .input("permitted relative error p", 100.0 * tolerance, "%", None);
        self.with_assumptions(outcome)
    }

    /// The pharmacopoeial figure at 0.10 %, for information.
    #[must_use]
    pub fn pharmacy_minimum_weight(&self) -> Outcome {
        self.minimum_weight(PHARMACY_TOLERANCE).note(
            "borrowed",
            "The 0.10 % of USP <41> is borrowed from pharmacy; nothing binds cosmetics to it.",
        )
    }

    /// The balance whose divisions are `decades` tens finer, its repeatability scaled with them, without a certificate.
    fn finer(&self, decades: u32) -> Option<Self> {
        let tenfold = Decimal::new(1, decades);
        let readability_g = self.record.readability_g.checked_mul(tenfold)?.normalize();
        Self::with_readability(readability_g).ok()
    }

    fn grade(&self) -> Grade {
        if self.record.repeatability_g.is_some() { Grade::Computed } else { Grade::RuleOfThumb }
    }

    fn with_assumptions(&self, mut outcome: Outcome) -> Outcome {
        if self.record.repeatability_g.is_none() {
            outcome = outcome.note(
                "assumed",
                "The repeatability is taken equal to the readability; ten weighings of one weight would measure it.",
            );
        }
        if self.record.certificate.is_none() {
            outcome = outcome.note(
                "missing",
                "No calibration certificate was given: the error of the scale is not in it.",
            );
        }
        outcome
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn balance(readability: &str) -> Balance {
        Balance::with_readability(readability.parse().unwrap()).unwrap()
    }

    #[test]
    fn a_balance_that_cannot_be_is_refused() {
        for readability in ["0", "-0.01", "0.0000001", "20000"] {
            let error = Balance::with_readability(readability.parse().unwrap()).unwrap_err();
            assert!(matches!(error, WeighingError::Readability { .. }));
            assert!(!error.hint().is_empty());
        }
        let mut record = balance("0.01").record().clone();
        record.repeatability_g = Some(f64::NAN);
        assert!(matches!(Balance::try_from(record.clone()), Err(WeighingError::Repeatability { .. })));
        record.repeatability_g = Some(0.0);
        record.certificate = Some(Certificate {
            expanded_g: 0.02,
            coverage_factor: 0.0,
            linearity_g: None,
            eccentricity_per_load: None,
            at: Vec::new(),
        });
        assert!(matches!(Balance::try_from(record), Err(WeighingError::Certificate { .. })));
    }

    #[test]
    fn a_flattering_repeatability_is_held_at_the_floor() {
        let mut record = balance("0.01").record().clone();
        record.repeatability_g = Some(0.0);
        let flattered = Balance::try_from(record).unwrap();
        assert!((flattered.minimum_weight_g(0.001) - 8.2).abs() < 1e-12);
    }

    #[test]
    fn the_verdict_follows_the_lines_own_tolerance() {
        let balance = balance("0.01");
        let weighing = Weighing::of(&balance, &[198.0, 1.0, 0.99, 0.001, 0.0]);
        // 2 s / p = 1 g at 2 %; there the expanded uncertainty of two rounded readings is 2.16 %.
        assert_eq!(weighing.judge(1, 0.02), Weighable::AtTheLimit);
        assert_eq!(weighing.judge(1, 0.05), Weighable::Well);
        assert_eq!(weighing.judge(2, 0.02), Weighable::TooSmall);
        assert_eq!(weighing.judge(3, 0.02), Weighable::Nothing);
        assert_eq!(weighing.judge(4, 0.02), Weighable::Nothing);
        assert_eq!(weighing.judge(9, 0.02), Weighable::Nothing);
    }

    #[test]
    fn a_dilution_is_better_than_the_line_it_replaces() {
        let balance = balance("0.01");
        let limits = DilutionLimits {
            needed_g: "0.10".parse().unwrap(),
            tolerance: 0.02,
            strongest_percent: 50.0,
            carrier_to_spare_g: "40".parse().unwrap(),
        };
        let dilution = balance.dilution(&limits).unwrap();
        assert!(dilution.expanded_percent <= 2.0);
        assert_eq!(dilution.portion_g * dilution.strength_percent, Decimal::new(10, 0));
        assert_eq!(dilution.portion_g - dilution.carrier_in_portion_g, limits.needed_g);
        assert!(balance.dilution(&DilutionLimits { carrier_to_spare_g: Decimal::ONE, ..limits }).is_none());
    }

    #[test]
    fn a_finer_balance_and_a_larger_batch_both_help() {
        let balance = balance("0.01");
        let weighing = Weighing::of(&balance, &[199.6, 0.4]);
        assert_eq!(weighing.finer_readability_g(1, 0.02), Some(Decimal::new(1, 3)));
        let larger = weighing.larger_batch_g(1, 0.02).unwrap();
        assert_eq!(larger, Decimal::new(600, 0));
    }

    proptest! {
        #[test]
        fn the_laws_hold(masses in prop::collection::vec(0.01f64..500.0, 2..40), pick in 0usize..40, factor in 1.1f64..10.0) {
            let balance = balance("0.01");
            let line = pick % masses.len();
            let weighing = Weighing::of(&balance, &masses);
            let relative = weighing.relative_standard(line).unwrap();
            prop_assert!(relative > 0.0 && relative.is_finite());
            // The total never helps by more than the line's own share, nor hurts by more than all readings together.
            let share = masses[line] / masses.iter().sum::<f64>();
            let own = balance.standard_uncertainty_g(masses[line]) / masses[line];
            prop_assert!(relative >= (1.0 - share) * own * (1.0 - 1e-12));
            // A larger batch of the same formula is weighed relatively better.
            let larger: Vec<f64> = masses.iter().map(|mass| mass * factor).collect();
            prop_assert!(Weighing::of(&balance, &larger).relative_standard(line).unwrap() < relative);
            // The order of the lines does not matter.
            let mut swapped = masses.clone();
            swapped.reverse();
            let again = Weighing::of(&balance, &swapped).relative_standard(masses.len() - 1 - line).unwrap();
            prop_assert!((again - relative).abs() <= 1e-12 * relative);
        }
    }
}

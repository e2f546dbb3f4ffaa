//! A balance of which only class and division are known: the errors its verification permits.
//!
//! ```text
//! n    = m / e
//! mpe  = f q(n) e              q by steps of n for each class: 0.5, 1, 1.5; f: how much more is permitted in service
//! u^2  = mpe^2 / 3             no more is known than that the error lies within
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | m | net load after taring | g |
//! | e | verification interval of the scale | g |
//! | q | error permitted at verification, in intervals | 1 |
//!
//! The permitted errors hold for a net weight whatever the tare (from memory). Range: a verified balance in its class, kept and used as it was
//! verified; a certificate says more and is taken instead. The steps are data (`data/methods/balance_classes.toml`).
//! Source: OIML R 76 by its tables. Case: `tests/published/weighing.toml`.

use serde::{Deserialize, Serialize};

/// The errors a class permits, as data.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ErrorSteps {
    /// `I`, `II`, `III`, `IIII`.
    pub class: String,
    /// Loads up to which each error holds, in verification intervals, rising; the last also beyond.
    pub up_to_intervals: Vec<f64>,
    /// Errors permitted at verification, in intervals.
    pub errors_intervals: Vec<f64>,
    /// How many times as much is permitted in service.
    pub in_service: f64,
    /// Verification interval in divisions, where only the division is known: the most it can be.
    pub interval_divisions: f64,
    /// Key of the source.
    pub source: String,
}

impl ErrorSteps {
    /// Why it cannot be used, if so.
    #[must_use]
    pub fn flaw(&self) -> Option<&'static str> {
        let rises = |values: &[f64]| {
            values.iter().all(|value| value.is_finite() && *value > 0.0)
                && values.windows(2).all(|pair| pair[0] < pair[1])
        };
        if self.up_to_intervals.is_empty() || self.up_to_intervals.len() != self.errors_intervals.len() {
            return Some("up_to_intervals and errors_intervals go together, one error for each load");
        }
        if !(rises(&self.up_to_intervals) && rises(&self.errors_intervals)) {
            return Some("loads and errors rise");
        }
        if !(1.0..=10.0).contains(&self.in_service) || !(1.0..=10.0).contains(&self.interval_divisions) {
            return Some("in_service and interval_divisions lie between 1 and 10");
        }
        None
    }
}

/// The class of a balance with its interval.
#[derive(Clone, Debug, PartialEq)]
pub struct Verified {
    /// Steps of its class.
    pub steps: ErrorSteps,
    /// Verification interval, g.
    pub interval_g: f64,
}

impl Verified {
    /// A class with the interval of the plate, or with the most it can be for a division.
    #[must_use]
    pub fn of(steps: &ErrorSteps, interval_g: Option<f64>, division_g: f64) -> Self {
        let interval_g = interval_g.unwrap_or(steps.interval_divisions * division_g);
        Self { steps: steps.clone(), interval_g }
    }

    /// The largest error permitted in service at a load, g.
    #[must_use]
    pub fn most_g(&self, load_g: f64) -> f64 {
        let intervals = load_g.abs() / self.interval_g;
        let ErrorSteps { up_to_intervals, errors_intervals, .. } = &self.steps;
        // A load on a step itself has the smaller error.
        let within = |(up_to, _): &(&f64, &f64)| intervals <= **up_to * (1.0 + 1e-12);
        let found = up_to_intervals.iter().zip(errors_intervals).find(within).map(|(_, error)| error);
        let error = found.or(errors_intervals.last()).copied().unwrap_or(0.0);
        self.steps.in_service * error * self.interval_g
    }
}

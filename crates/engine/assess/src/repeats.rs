//! Attributes of trials beside pH and flow: what a model always misses, and what repeats alone foretell.
//!
//! ```text
//! with a model:     y = p + d (c + f + t),     c ~ N(0, 1/4) of all formulas,  f ~ N(0, 1/2) of one formula,  t ~ N(0, 1/4) of one trial
//! without one:      y_next = mean of the trials +- t(n - 1) s sqrt(1 + 1/n)
//! ```
//!
//! | symbol | meaning |
//! |---|---|
//! | y, p, d | read; predicted by the model; its standard deviation |
//! | c, f, t | what the model misses in common, in a formula, in a trial |
//! | s, n | standard deviation of the means of the trials, their number |
//!
//! How what a model misses is shared out is judgement, no source. Without a model the trials are taken as alike: whoever changed the formula between
//! them is told the mean of what was made, not of what will be. Nothing is foretold from one trial. Source of the second: Hahn and Meeker, Statistical Intervals
//! (from memory). Cases: `tests/tests/repeats.rs`.

use levigate_measure::belief::{Belief, Measurement};
use levigate_measure::distribution::{Confidence, Sides};
use std::collections::BTreeMap;

/// Variance of a model's miss that all formulas share.
const IN_COMMON: f64 = 0.25;
/// The same that stays with one formula.
const WITH_FORMULA: f64 = 0.5;
/// A value further from what was believed than so many standard deviations teaches nothing: judgement, no source; as for flow.
const BEYOND_BELIEF: f64 = 8.0;

/// A value foretold with the limits that hold the next reading with a probability of 0.95.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Awaited {
    /// Value.
    pub value: f64,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
}

/// What a model always misses, learned trial by trial.
#[derive(Clone, Debug, Default)]
pub struct Misses {
    /// In the order: what all share, then formulas as they came.
    belief: Option<Belief>,
    formulas: BTreeMap<String, usize>,
}

impl Misses {
    /// The belief with a seat for a formula, and that seat.
    fn seated(&self, formula: &str) -> Option<(Belief, usize)> {
        let belief = match &self.belief {
            Some(belief) => belief.clone(),
            None => Belief::independent(vec![0.0], &[IN_COMMON.sqrt()]).ok()?,
        };
        if let Some(seat) = self.formulas.get(formula) {
            return Some((belief, *seat));
        }
        let fresh = Belief::independent(vec![0.0], &[WITH_FORMULA.sqrt()]).ok()?;
        Some((belief.and(&fresh), belief.mean().len()))
    }

    /// What is expected to be read where a model predicts a value with a standard deviation.
    #[must_use]
    pub fn foretell(&self, formula: &str, predicted: f64, deviation: f64) -> Option<Awaited> {
        let (belief, seat) = self.seated(formula)?;
        let part = belief.part(&[0, seat]);
        let miss = part.mean()[0] + part.mean()[1];
        let own = 1.0 - IN_COMMON - WITH_FORMULA;
        let spread = deviation * (part.deviation_of(&[1.0, 1.0]).powi(2) + own).sqrt();
        let value = predicted + deviation * miss;
        let awaited = Awaited { value, low: value - 1.959_964 * spread, high: value + 1.959_964 * spread };
        (value.is_finite() && spread.is_finite() && spread > 0.0).then_some(awaited)
    }

    /// Learns from the mean of what was read on a trial; says whether it did.
    pub fn learn(&mut self, formula: &str, predicted: f64, deviation: f64, read: f64) -> bool {
        let Some((belief, seat)) = self.seated(formula) else { return false };
        let own = (1.0 - IN_COMMON - WITH_FORMULA).sqrt();
        let measured = [Measurement { value: (read - predicted) / deviation, deviation: own }];
        let sum = |numbers: &[f64], told: &mut [f64]| {
            told[0] = numbers.iter().sum();
            true
        };
        let Ok(learned) = belief.learn_about(&[0, seat], &measured, sum) else { return false };
        if learned.lessons.iter().any(|lesson| lesson.surprise.abs() > BEYOND_BELIEF) {
            return false;
        }
        self.belief = Some(learned.belief);
        self.formulas.insert(formula.to_owned(), seat);
        true
    }
}

/// What the means of trials foretell of the next one where no model speaks; none from fewer than two or where none differs.
#[must_use]
pub fn from_repeats(means: &[f64]) -> Option<Awaited> {
    let count = means.len();
    if count < 2 {
        return None;
    }
    let n = count as f64;
    let value = means.iter().sum::<f64>() / n;
    let variance = means.iter().map(|one| (one - value).powi(2)).sum::<f64>() / (n - 1.0);
    let reach = Confidence::new(0.95, Sides::Two)?.factor(count - 1) * (variance * (1.0 + 1.0 / n)).sqrt();
    (reach.is_finite() && reach > 0.0).then_some(Awaited { value, low: value - reach, high: value + reach })
}

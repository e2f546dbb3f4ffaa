//! How fast microbes die in a product: the time for one tenth to survive, from counts of which some lie below their floor.
//!
//! ```text
//! log10 N = a - t/D + e,  e normal with one deviation s
//! ln L = sum found ln f((y - m)/s)/s + sum below ln F((c - m)/s)        y a count found, c the floor of one that was not, m = a - t/D
//! ```
//!
//! A count below its floor says only that it lies below: it enters with the probability of that, not as a number (maximum likelihood,
//! found by Newton's steps; the covariance is the curvature of ln L at the top). Where none lies below it is the plain straight line.
//! Two counts found give D without an interval, fewer give none. Range: dying by one mechanism; where the curve bends (a tail, a shoulder)
//! the line misleads: the largest distance from it is told, and [`bent()`] lays a line with one bend beside it. Source: Orth, J. Soc. Cosmet. Chem. 44 (1993) 333 (use), from memory for the
//! likelihood of censored numbers (Tobin, Econometrica 26 (1958) 24). Case: `tests/cross/killing.toml`.

mod bent;
mod likelihood;

pub use bent::{Bent, bent};

use likelihood::{Censored, Mean, deviations, line};

use levigate_measure::uncertainty::student;
use thiserror::Error;

/// A count at a time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Survivors {
    /// Hours since the start.
    pub hours: f64,
    /// Decimal logarithm of the count, or of its floor.
    pub log: f64,
    /// Whether the count lies below its floor.
    pub below: bool,
}

/// Why there is no line.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum KillingError {
    /// Fewer than two counts were found.
    #[error("{found} counts were found above their floors: a line needs two")]
    TooFewFound {
        /// Counts found.
        found: usize,
    },
    /// All counts are of one time.
    #[error("all counts that were found are of one time")]
    OneTime,
    /// The number of survivors does not fall.
    #[error("the survivors do not fall: {per_hour} decades per hour")]
    NotFalling {
        /// Slope found.
        per_hour: f64,
    },
    /// Too few counts at different times for a bend.
    #[error("counts were found at {times} different times: a bend needs four")]
    TooFewTimes {
        /// Times with a count found.
        times: usize,
    },
    /// The bend that fits best is none that counts could settle.
    #[error("the counts settle no bend: the sharper, the better it fits")]
    NoShape,
    /// A number that is none.
    #[error("a count or a time is not a number")]
    NotANumber,
}

impl KillingError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::TooFewFound { .. } => {
                "count earlier, while something is left, or plate less dilute: a lower floor finds more"
            }
            Self::OneTime => "count at a second time",
            Self::NotFalling { .. } => "there is no time for one tenth to survive where nothing dies",
            Self::TooFewTimes { .. } => "count on more days, or plate less dilute: a lower floor finds more",
            Self::NoShape => "count between the last day of many and the first of few: the bend lies there",
            Self::NotANumber => "correct the count or leave it out",
        }
    }
}

/// A line through survivors.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Killing {
    /// Decimal logarithm at the start.
    pub start: f64,
    /// Hours for one tenth to survive.
    pub d_hours: f64,
    /// Lower and upper limit of it; `None` with two counts found, and an upper limit of `None` where dying is not told from living on.
    pub within: Option<(f64, Option<f64>)>,
    /// Deviation of one logarithm about the line; zero with two counts found.
    pub scatter: f64,
    /// Largest distance of a count found from the line, in decades.
    pub largest: f64,
    /// Counts found.
    pub found: usize,
    /// Counts below their floors.
    pub below: usize,
}

/// The line, with limits that cover a share.
///
/// # Errors
/// [`KillingError`].
pub fn killing(points: &[Survivors], coverage: f64) -> Result<Killing, KillingError> {
    if points.iter().any(|point| !(point.hours.is_finite() && point.log.is_finite())) {
        return Err(KillingError::NotANumber);
    }
    let found = points.iter().filter(|point| !point.below).count();
    let below = points.len() - found;
    if found < 2 {
        return Err(KillingError::TooFewFound { found });
    }
    let hours = |point: &Survivors| point.hours;
    let Censored { start, slope, scatter, .. } = if found == 2 {
        let only: Vec<Survivors> = points.iter().copied().filter(|point| !point.below).collect();
        Censored { scatter: 0.0, ..line(&only, hours)? }
    } else {
        line(points, hours)?
    };
    if slope >= 0.0 || slope.is_nan() {
        return Err(KillingError::NotFalling { per_hour: slope });
    }
    // Likelihood takes the deviation a little small where the line was fitted to the same counts: as many degrees as were found, less two.
    let free = number(found) - 2.0;
    let inflated = if found > 2 { (number(found) / free).sqrt() } else { 0.0 };
    let half = (found > 2)
        .then(|| {
            if scatter <= 0.0 {
                return Some(0.0);
            }
            let mean =
                |hours: f64| Mean { value: start + slope * hours, by: [1.0, hours], bend: [[0.0; 2]; 2] };
            let error = deviations::<2, 3>(points, mean, scatter)?[1];
            Some(student::factor(coverage, free) * error * inflated)
        })
        .flatten();
    Ok(Killing {
        start,
        d_hours: -1.0 / slope,
        within: half
            .map(|half| (-1.0 / (slope - half), Some(-1.0 / (slope + half)).filter(|_| slope + half < 0.0))),
        scatter: scatter * inflated,
        largest: points
            .iter()
            .filter(|point| !point.below)
            .map(|point| (point.log - start - slope * point.hours).abs())
            .fold(0.0, f64::max),
        found,
        below,
    })
}

fn number(count: usize) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "a handful of counts")]
    let value = count as f64;
    value
}

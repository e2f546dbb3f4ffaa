//! Several batches over the same months: lines of their own, lines of one slope, or one line for all.
//!
//! ```text
//! F_slopes = ((R_slope - R_own)/(k - 1)) / (R_own/(N - 2k))      F_heights = ((R_one - R_slope)/(k - 1)) / (R_own/(N - 2k))
//! ```
//!
//! `R` are sums of squared residuals of one line for all, of lines with one slope, and of lines of their own. Slopes are judged first, given
//! separate heights; heights then, given one slope; both over the mean square of the full model. Below the level the difference stands.
//! A level of 0.25 errs on the side of keeping batches apart. Range: two batches or more with two times each, and in all more readings than
//! twice the batches.
//!
//! Source: ICH Q1E (2003), B.2 to B.4, from memory. Cases: `tests/published/shelf_life.toml` (ten published sets).

use super::line::Line;
use levigate_measure::distribution::fisher_beyond;
use levigate_measure::exact::{sum, sum_of_squares};
use levigate_measure::regression::mean;
use serde::Serialize;
use thiserror::Error;

/// Level at which a difference between batches stands, by custom.
pub const CUSTOMARY_LEVEL: f64 = 0.25;

/// Why lines cannot be laid.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum PoolingError {
    /// Nothing to lay a line through.
    #[error("no batch has been measured")]
    Nothing,
    /// A batch without two different times.
    #[error("batch {batch} has been measured at one time only, {months} months: no line goes through it")]
    OneTime {
        /// Batch, from one.
        batch: usize,
        /// The time.
        months: f64,
    },
    /// No reading left over to tell the scatter by.
    #[error("{readings} readings of {batches} batches leave none to tell the scatter by")]
    NoScatter {
        /// Readings.
        readings: usize,
        /// Batches.
        batches: usize,
    },
    /// A confidence no limit can have.
    #[error("a confidence of {share} is not between one half and one")]
    Confidence {
        /// The share.
        share: f64,
    },
    /// A number that is not one, or a time before the start.
    #[error("batch {batch}: {value} is not a reading over time")]
    NotAReading {
        /// Batch, from one.
        batch: usize,
        /// The number.
        value: f64,
    },
}

impl PoolingError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Nothing => "give readings as months and value",
            Self::OneTime { .. } => "wait for the next pull, or leave the batch out",
            Self::NoScatter { .. } => "measure at more times, or repeat a reading",
            Self::Confidence { .. } => "take 0.95",
            Self::NotAReading { .. } => "correct the reading; times count from the start, in months",
        }
    }
}

/// Readings of one batch, reduced to what lines need.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Batch {
    count: usize,
    middle: f64,
    height: f64,
    spread: f64,
    tilt: f64,
    height_spread: f64,
    last: f64,
}

impl Batch {
    /// Takes `(months, value)` readings of batch number `place` (from zero).
    ///
    /// # Errors
    /// A time before the start or a number that is not finite; one time only.
    pub fn of(place: usize, readings: &[(f64, f64)]) -> Result<Self, PoolingError> {
        for (months, value) in readings {
            for number in [months, value] {
                if !number.is_finite() || *months < 0.0 {
                    return Err(PoolingError::NotAReading { batch: place + 1, value: *number });
                }
            }
        }
        let times: Vec<f64> = readings.iter().map(|(months, _)| *months).collect();
        let values: Vec<f64> = readings.iter().map(|(_, value)| *value).collect();
        let (middle, height) = (mean(&times), mean(&values));
        let spread = sum_of_squares(times.iter().map(|t| t - middle));
        if spread <= 0.0 || readings.is_empty() {
            return Err(PoolingError::OneTime {
                batch: place + 1,
                months: times.first().copied().unwrap_or(0.0),
            });
        }
        Ok(Self {
            count: readings.len(),
            middle,
            height,
            spread,
            tilt: sum(readings.iter().map(|(t, y)| (t - middle) * (y - height))),
            height_spread: sum_of_squares(values.iter().map(|y| y - height)),
            last: times.iter().copied().fold(0.0, f64::max),
        })
    }

    /// Readings.
    #[must_use]
    pub fn count(&self) -> usize {
        self.count
    }

    /// The last time it was measured, in months.
    #[must_use]
    pub fn last(&self) -> f64 {
        self.last
    }

    fn residual(&self) -> f64 {
        (self.height_spread - self.tilt * self.tilt / self.spread).max(0.0)
    }

    fn line(&self, slope: f64, spread: f64, scatter: f64, degrees: usize) -> Line {
        Line {
            intercept: self.height - slope * self.middle,
            slope,
            count: number(self.count),
            middle: self.middle,
            spread,
            scatter,
            degrees,
        }
    }

    /// The line through this batch by itself.
    ///
    /// `None` where two readings leave nothing to tell the scatter by.
    #[must_use]
    pub fn alone(&self) -> Option<Line> {
        let degrees = self.count.checked_sub(2).filter(|degrees| *degrees > 0)?;
        let scatter = (self.residual() / number(degrees)).sqrt();
        Some(self.line(self.tilt / self.spread, self.spread, scatter, degrees))
    }
}

/// What batches may share.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Model {
    /// One line for all.
    OneLine,
    /// Lines of one slope, each with its own height.
    OneSlope,
    /// Every batch its own line, one scatter for all.
    OwnLines,
}

/// A test of one difference between batches.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Test {
    /// Mean square of the difference over that of the full model.
    pub ratio: f64,
    /// Degrees of freedom of the difference.
    pub above: usize,
    /// Degrees of freedom of the full model.
    pub below: usize,
    /// Probability of such a ratio or a larger one where there is no difference.
    pub beyond: f64,
}

/// Batches laid side by side.
#[derive(Clone, Debug, PartialEq)]
pub struct Pooling {
    batches: Vec<Batch>,
    all: Batch,
    own: f64,
    sloped: f64,
    spread: f64,
    tilt: f64,
}

impl Pooling {
    /// Lays batches side by side.
    ///
    /// # Errors
    /// No batch; too few readings to tell the scatter by.
    pub fn of(batches: &[Batch]) -> Result<Self, PoolingError> {
        let readings: usize = batches.iter().map(Batch::count).sum();
        if batches.is_empty() {
            return Err(PoolingError::Nothing);
        }
        if readings <= 2 * batches.len() {
            return Err(PoolingError::NoScatter { readings, batches: batches.len() });
        }
        let over = |part: &dyn Fn(&Batch) -> f64| sum(batches.iter().map(part));
        let (spread, tilt) = (over(&|one| one.spread), over(&|one| one.tilt));
        let total = number(readings);
        let middle = over(&|one| number(one.count) * one.middle) / total;
        let height = over(&|one| number(one.count) * one.height) / total;
        let between = |part: &dyn Fn(&Batch) -> f64| over(&|one| number(one.count) * part(one));
        let all = Batch {
            count: readings,
            middle,
            height,
            spread: spread + between(&|one| (one.middle - middle) * (one.middle - middle)),
            tilt: tilt + between(&|one| (one.middle - middle) * (one.height - height)),
            height_spread: over(&|one| one.height_spread)
                + between(&|one| (one.height - height) * (one.height - height)),
            last: batches.iter().map(Batch::last).fold(0.0, f64::max),
        };
        Ok(Self {
            own: over(&Batch::residual),
            sloped: (over(&|one| one.height_spread) - tilt * tilt / spread).max(0.0),
            spread,
            tilt,
            all,
            batches: batches.to_vec(),
        })
    }

    /// The batches.
    #[must_use]
    pub fn batches(&self) -> &[Batch] {
        &self.batches
    }

    fn own_degrees(&self) -> usize {
        self.all.count - 2 * self.batches.len()
    }

    fn test(&self, difference: f64) -> Option<Test> {
        let above = self.batches.len().checked_sub(1).filter(|above| *above > 0)?;
        let below = self.own_degrees();
        let ratio = (difference.max(0.0) / number(above)) / (self.own / number(below));
        Some(Test { ratio, above, below, beyond: fisher_beyond(ratio, number(above), number(below)) })
    }

    /// Do the slopes differ, given separate heights. `None` for a single batch.
    #[must_use]
    pub fn slopes(&self) -> Option<Test> {
        self.test(self.sloped - self.own)
    }

    /// Do the heights differ, given one slope. `None` for a single batch.
    #[must_use]
    pub fn heights(&self) -> Option<Test> {
        self.test(self.all.residual() - self.sloped)
    }

    /// What the batches may share at a level: slopes judged first, heights then.
    #[must_use]
    pub fn model(&self, level: f64) -> Model {
        let stands = |test: Option<Test>| test.is_some_and(|test| test.beyond < level || test.ratio.is_nan());
        if stands(self.slopes()) {
            Model::OwnLines
        } else if stands(self.heights()) {
            Model::OneSlope
        } else {
            Model::OneLine
        }
    }

    /// The line of every batch under a model, in the order of the batches (of one line for all, that line for each).
    #[must_use]
    pub fn lines(&self, model: Model) -> Vec<Line> {
        let scatter = |residual: f64, degrees: usize| (residual / number(degrees)).sqrt();
        match model {
            Model::OneLine => {
                let degrees = self.all.count - 2;
                let scatter = scatter(self.all.residual(), degrees);
                let line = self.all.line(self.all.tilt / self.all.spread, self.all.spread, scatter, degrees);
                vec![line; self.batches.len()]
            }
            Model::OneSlope => {
                let degrees = self.all.count - self.batches.len() - 1;
                let scatter = scatter(self.sloped, degrees);
                let slope = self.tilt / self.spread;
                self.batches.iter().map(|one| one.line(slope, self.spread, scatter, degrees)).collect()
            }
            Model::OwnLines => {
                let degrees = self.own_degrees();
                let scatter = scatter(self.own, degrees);
                self.batches
                    .iter()
                    .map(|one| one.line(one.tilt / one.spread, one.spread, scatter, degrees))
                    .collect()
            }
        }
    }
}

fn number(count: usize) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "counts of readings are far below 2^53")]
    let value = count as f64;
    value
}

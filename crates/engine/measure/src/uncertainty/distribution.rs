//! What is known of one input: a distribution with its mean and standard deviation, and how it is drawn from.
//!
//! | distribution | standard deviation | when (JCGM 101, 6.4) |
//! |---|---|---|
//! | normal | s | an estimate with its standard uncertainty |
//! | rectangular a, b | (b - a)/sqrt 12 | limits, nothing else |
//! | resolution x, d | d/sqrt 12 | a digital reading: the rectangle of its last step |
//! | triangular a, b | (b - a)/sqrt 24 | the sum of two equal rectangles; limits with the middle more likely |
//! | trapezoid a, b, share of the top | half sqrt((1 + share^2)/6) | the sum of two rectangles |
//! | curvilinear trapezoid a, b, d | sqrt((b - a)^2/12 + d^2/9) | limits that are themselves known to -+ d only |
//! | arcsine a, b | (b - a)/sqrt 8 | a cycle seen at an unknown moment |
//! | Student's t mean, s, nu | s sqrt(nu/(nu - 2)) | the mean of nu + 1 readings; infinite up to two degrees |
//!
//! Source: JCGM 101:2008, 6.4, from memory; the mean of the t is drawn by Bailey's polar way (Math. Comp. 62 (1994) 779).

use super::UncertaintyError;
use super::stream::{Normals, Stream};
use crate::elementary::Elementary as _;
use serde::{Deserialize, Serialize};

/// A distribution.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Distribution {
    /// Normal.
    Normal {
        /// Mean.
        mean: f64,
        /// Standard deviation.
        sd: f64,
    },
    /// Rectangular.
    Rectangular {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
    },
    /// A digital reading.
    Resolution {
        /// What is shown.
        shown: f64,
        /// Smallest step of the display.
        step: f64,
    },
    /// Symmetric triangular.
    Triangular {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
    },
    /// Symmetric trapezoid.
    Trapezoid {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
        /// Width of the top as a share of the base, 0 to 1.
        top: f64,
    },
    /// Rectangular whose limits are known to `inexact` only.
    CurvilinearTrapezoid {
        /// Lower end as stated.
        low: f64,
        /// Upper end as stated.
        high: f64,
        /// Half-width of either limit.
        inexact: f64,
    },
    /// Arcsine.
    Arcsine {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
    },
    /// Student's t, moved and scaled.
    Student {
        /// Mean.
        mean: f64,
        /// Scale: the standard deviation of the mean of the readings.
        scale: f64,
        /// Degrees of freedom.
        degrees: f64,
    },
}

impl Distribution {
    /// Rectangular between `value - half` and `value + half`.
    #[must_use]
    pub fn within(value: f64, half: f64) -> Self {
        Self::Rectangular { low: value - half, high: value + half }
    }

    /// # Errors
    /// [`UncertaintyError::Parameter`] for a negative spread, ends the wrong way round, or what is not a number.
    pub fn check(&self) -> Result<(), UncertaintyError> {
        let finite = |what, value: f64| {
            if value.is_finite() { Ok(()) } else { Err(UncertaintyError::Parameter { what, value }) }
        };
        let spread = |what, value: f64| {
            if value.is_finite() && value >= 0.0 {
                Ok(())
            } else {
                Err(UncertaintyError::Parameter { what, value })
            }
        };
        match *self {
            Self::Normal { mean, sd } => finite("mean", mean).and(spread("standard deviation", sd)),
            Self::Resolution { shown, step } => {
                finite("reading", shown).and(spread("step of the display", step))
            }
            Self::Rectangular { low, high }
            | Self::Triangular { low, high }
            | Self::Arcsine { low, high } => {
                finite("lower end", low).and(spread("upper end less lower end", high - low))
            }
            Self::Trapezoid { low, high, top } => finite("lower end", low)
                .and(spread("upper end less lower end", high - low))
                .and(spread("share of the top", top))
                .and(spread("one less share of the top", 1.0 - top)),
            Self::CurvilinearTrapezoid { low, high, inexact } => finite("lower end", low)
                .and(spread("doubt of the limits", inexact))
                .and(spread("upper end less lower end, less the doubt of both", high - low - 2.0 * inexact)),
            Self::Student { mean, scale, degrees } => finite("mean", mean)
                .and(spread("scale", scale))
                .and(spread("degrees of freedom less one", degrees - 1.0)),
        }
    }

    /// Mean.
    #[must_use]
    pub fn mean(&self) -> f64 {
        match *self {
            Self::Normal { mean, .. } | Self::Student { mean, .. } => mean,
            Self::Resolution { shown, .. } => shown,
            Self::Rectangular { low, high }
            | Self::Triangular { low, high }
            | Self::Trapezoid { low, high, .. }
            | Self::CurvilinearTrapezoid { low, high, .. }
            | Self::Arcsine { low, high } => 0.5 * (low + high),
        }
    }

    /// Standard deviation.
    #[must_use]
    pub fn standard_deviation(&self) -> f64 {
        match *self {
            Self::Normal { sd, .. } => sd,
            Self::Resolution { step, .. } => step / 12f64.sqrt(),
            Self::Rectangular { low, high } => (high - low) / 12f64.sqrt(),
            Self::Triangular { low, high } => (high - low) / 24f64.sqrt(),
            Self::Trapezoid { low, high, top } => 0.5 * (high - low) * ((1.0 + top * top) / 6.0).sqrt(),
            Self::CurvilinearTrapezoid { low, high, inexact } => {
                ((high - low) * (high - low) / 12.0 + inexact * inexact / 9.0).sqrt()
            }
            Self::Arcsine { low, high } => (high - low) / 8f64.sqrt(),
            Self::Student { scale, degrees, .. } if degrees > 2.0 => {
                scale * (degrees / (degrees - 2.0)).sqrt()
            }
            Self::Student { .. } => f64::INFINITY,
        }
    }

    /// Fills a column with draws.
    pub fn fill(&self, stream: &mut Stream, normals: &Normals, column: &mut [f64]) {
        match *self {
            Self::Normal { mean, sd } => each(column, || mean + sd * normals.draw(stream)),
            Self::Resolution { shown, step } => each(column, || shown + step * (stream.unit() - 0.5)),
            Self::Rectangular { low, high } => each(column, || low + (high - low) * stream.unit()),
            Self::Triangular { low, high } => {
                each(column, || 0.5 * (low + high) + 0.5 * (high - low) * stream.triangle());
            }
            Self::Trapezoid { low, high, top } => {
                let half = 0.5 * (high - low);
                each(column, || {
                    let wide = (1.0 + top) * (stream.unit() - 0.5);
                    0.5 * (low + high) + half * (wide + (1.0 - top) * (stream.unit() - 0.5))
                });
            }
            Self::CurvilinearTrapezoid { low, high, inexact } => each(column, || {
                let from = low - inexact + 2.0 * inexact * stream.unit();
                let to = low + high - from;
                from + (to - from) * stream.unit()
            }),
            Self::Arcsine { low, high } => each(column, || {
                let turn = core::f64::consts::TAU * stream.unit();
                0.5 * (low + high) + 0.5 * (high - low) * turn.sine()
            }),
            Self::Student { mean, scale, degrees } => {
                each(column, || mean + scale * student(stream, degrees))
            }
        }
    }
}

#[inline(always)]
fn each(column: &mut [f64], mut draw: impl FnMut() -> f64) {
    for value in column {
        *value = draw();
    }
}

/// One draw of Student's t.
fn student(stream: &mut Stream, degrees: f64) -> f64 {
    // Bounded: each round succeeds with a chance of pi/4.
    for _ in 0..1000 {
        let (u, v) = (2.0 * stream.unit() - 1.0, 2.0 * stream.unit() - 1.0);
        let w = u * u + v * v;
        if w < 1.0 && w > 0.0 {
            // nu (w^(-2/nu) - 1), without cancellation for many degrees.
            let stretched = degrees * libm::expm1(-2.0 / degrees * w.log_e());
            return u * (stretched / w).sqrt();
        }
    }
    0.0
}

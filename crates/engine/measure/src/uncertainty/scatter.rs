//! How a measured quantity scatters about what it is meant to be: a normal, a triangular and a rectangular part, added.

use super::UncertaintyError;
use super::stream::{Normals, Stream};

/// A scatter about nothing, in the unit of the quantity.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Scatter {
    /// Standard deviation of the normal part.
    pub normal: f64,
    /// Half-width of the triangular part: the rounding of two readings.
    pub triangular: f64,
    /// Half-width of the rectangular part: limits.
    pub rectangular: f64,
}

impl Scatter {
    /// A normal scatter.
    #[must_use]
    pub fn normal(standard_deviation: f64) -> Self {
        Self { normal: standard_deviation, ..Self::default() }
    }

    /// A rectangular scatter.
    #[must_use]
    pub fn rectangular(half: f64) -> Self {
        Self { rectangular: half, ..Self::default() }
    }

    /// Standard deviation of the whole.
    #[must_use]
    pub fn standard_deviation(&self) -> f64 {
        let Self { normal, triangular, rectangular } = *self;
        (normal * normal + triangular * triangular / 6.0 + rectangular * rectangular / 3.0).sqrt()
    }

    /// # Errors
    /// [`UncertaintyError::Parameter`] for a part that is negative or not a number.
    pub fn check(&self) -> Result<(), UncertaintyError> {
        let parts = [self.normal, self.triangular, self.rectangular];
        match parts.into_iter().find(|part| !(part.is_finite() && *part >= 0.0)) {
            Some(value) => Err(UncertaintyError::Parameter { what: "spread", value }),
            None => Ok(()),
        }
    }

    /// Fills a column with draws about a value.
    pub fn fill(&self, about: f64, stream: &mut Stream, normals: &Normals, column: &mut [f64]) {
        if self.normal > 0.0 {
            column.iter_mut().for_each(|value| *value = about + self.normal * normals.draw(stream));
        } else {
            column.fill(about);
        }
        if self.triangular > 0.0 {
            column.iter_mut().for_each(|value| *value += self.triangular * stream.triangle());
        }
        if self.rectangular > 0.0 {
            column.iter_mut().for_each(|value| *value += self.rectangular * (2.0 * stream.unit() - 1.0));
        }
    }
}

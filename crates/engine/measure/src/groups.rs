//! One-way analysis of variance: do groups differ by more than what scatters within them.
//!
//! ```text
//! between = sum n_i (m_i - m)^2, k - 1 degrees     within = sum (y - m_i)^2, N - k degrees     F = (between/(k-1)) / (within/(N-k))
//! ```
//!
//! Numbers that agree in many leading digits lose those that tell them apart when they are read as binary. [`about_first`] takes the first
//! one off while they are decimal still, so that nothing is lost. Range: two groups or more, more observations than groups.
//! Source: JCGM 100, H.5. Cases: `tests/published/nist_groups.toml`, the reference sets of NIST.

use crate::distribution::fisher_beyond;
use crate::exact::{Wide, sum};
use crate::regression::{mean, number};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive as _;
use thiserror::Error;

/// Why groups cannot be compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum GroupsError {
    /// Fewer than two groups hold anything.
    #[error("{groups} group holds observations; two are needed to compare")]
    TooFewGroups {
        /// Groups that hold something.
        groups: usize,
    },
    /// No group holds two observations.
    #[error("{observations} observations in {groups} groups leave nothing to tell how much one scatters")]
    NothingWithin {
        /// Groups.
        groups: usize,
        /// Observations.
        observations: usize,
    },
}

impl GroupsError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::TooFewGroups { .. } => "observe at a second setting",
            Self::NothingWithin { .. } => "repeat at least one setting",
        }
    }
}

/// An analysis of variance of groups.
#[derive(Clone, Debug, PartialEq)]
pub struct Groups {
    /// Mean of each group, `NaN` of an empty one.
    pub means: Vec<f64>,
    /// Sum of squares between the groups.
    pub between: f64,
    /// Its degrees of freedom.
    pub between_degrees: usize,
    /// Sum of squares within the groups.
    pub within: f64,
    /// Its degrees of freedom.
    pub within_degrees: usize,
}

impl Groups {
    /// Compares groups of observations.
    ///
    /// # Errors
    /// Fewer than two groups with observations; none with two.
    pub fn of<G: AsRef<[f64]>>(groups: &[G]) -> Result<Self, GroupsError> {
        let held: Vec<&[f64]> = groups.iter().map(AsRef::as_ref).filter(|group| !group.is_empty()).collect();
        let observations: usize = held.iter().map(|group| group.len()).sum();
        if held.len() < 2 {
            return Err(GroupsError::TooFewGroups { groups: held.len() });
        }
        if observations == held.len() {
            return Err(GroupsError::NothingWithin { groups: held.len(), observations });
        }
        let all: Vec<f64> = held.iter().flat_map(|group| group.iter().copied()).collect();
        let overall = mean(&all);
        let square = |sum: Wide, difference: f64| sum.and_product(difference, difference);
        let within = held.iter().fold(Wide::default(), |sum, group| {
            let middle = mean(group);
            group.iter().fold(sum, |sum, y| square(sum, y - middle))
        });
        let between = sum(held.iter().map(|group| {
            let from = mean(group) - overall;
            number(group.len()) * from * from
        }));
        Ok(Self {
            means: groups.iter().map(|group| mean(group.as_ref())).collect(),
            between,
            between_degrees: held.len() - 1,
            within: within.value(),
            within_degrees: observations - held.len(),
        })
    }

    /// Mean square between over mean square within; infinite where nothing scatters within.
    #[must_use]
    pub fn ratio(&self) -> f64 {
        (self.between / number(self.between_degrees)) / (self.within / number(self.within_degrees))
    }

    /// Probability of such a ratio or a larger one where the groups do not differ.
    #[must_use]
    pub fn beyond(&self) -> f64 {
        fisher_beyond(self.ratio(), number(self.between_degrees), number(self.within_degrees))
    }

    /// Standard deviation of one observation within its group.
    #[must_use]
    pub fn scatter(&self) -> f64 {
        (self.within / number(self.within_degrees)).sqrt()
    }

    /// Share of the spread that the groups explain.
    #[must_use]
    pub fn explained(&self) -> f64 {
        self.between / (self.between + self.within)
    }
}

/// Decimals as binary numbers after the first one was taken off, exactly, and what was taken off.
#[must_use]
pub fn about_first(typed: &[Decimal]) -> (Decimal, Vec<f64>) {
    let first = typed.first().copied().unwrap_or_default();
    (first, typed.iter().map(|value| (value - first).to_f64().unwrap_or(f64::NAN)).collect())
}

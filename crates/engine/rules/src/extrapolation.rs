//! How far beyond what was measured a shelf life may be stated.
//!
//! Equation: `reach = min(times X, X + more)` with `X` the last month measured at the storage temperature.
//!
//! The rows are data (`data/rules/extrapolation.toml`): what is allowed depends on whether anything changed under harsher conditions. They are
//! borrowed from pharmacy; nothing binds a cosmetic to them. Nothing known of harsher conditions allows nothing beyond the last month.
//! Proved by `tests/published/extrapolation.toml`.

use levigate_measure::{Grade, Outcome};
use serde::{Deserialize, Serialize};

use crate::book::Status;

/// Where a product is kept.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kept {
    /// At room temperature.
    #[default]
    Room,
    /// In the refrigerator.
    Cold,
}

/// What was seen under conditions harsher than those of storage.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Seen {
    /// No significant change.
    Unchanged,
    /// A significant change.
    Changed,
    /// Nothing was looked at.
    #[default]
    NotTested,
}

/// What is known of a study besides its readings.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Harsher {
    /// Where the product is kept.
    pub kept: Kept,
    /// What six months at the accelerated condition showed.
    pub accelerated: Seen,
    /// What the intermediate condition showed.
    pub intermediate: Seen,
}

/// One row: what may be stated beyond the data.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reach {
    /// Key.
    pub key: String,
    /// Where the product is kept.
    pub kept: Kept,
    /// What the accelerated condition showed.
    pub accelerated: Seen,
    /// What the intermediate condition showed; any, where it is left out.
    pub intermediate: Option<Seen>,
    /// Most, in times of the last month.
    pub times: f64,
    /// Most beyond the last month, months.
    pub more_months: f64,
    /// The row in words.
    pub words: String,
    /// Source key.
    pub source: String,
    /// How well the row was read.
    pub status: Status,
}

impl Reach {
    /// Longest shelf life that may be stated with data up to a month.
    #[must_use]
    pub fn months(&self, last: f64) -> f64 {
        (self.times * last).min(last + self.more_months)
    }

    fn speaks_of(&self, known: Harsher) -> bool {
        self.kept == known.kept
            && self.accelerated == known.accelerated
            && self.intermediate.is_none_or(|seen| seen == known.intermediate)
    }
}

/// Longest shelf life that may be stated with data up to a month, given what is known; the rule is in its notes.
#[must_use]
pub fn reach<'r>(rows: impl IntoIterator<Item = &'r Reach>, known: Harsher, last: f64) -> Outcome {
    let method = "how far beyond the data a shelf life may be stated";
    let proved = |outcome: Outcome| {
        outcome
            .by("reach = min(times X, X + more)")
            .proved_by("tests/published/extrapolation.toml")
            .input("last month measured", last, "month", None)
            .note("borrowed", "a rule of pharmacy; nothing binds a cosmetic to it")
    };
    match rows.into_iter().find(|row| row.speaks_of(known)) {
        Some(row) => proved(Outcome::new(row.months(last), "month", Grade::RuleOfThumb, method))
            .source(row.source.clone())
            .input("times", row.times, "", Some(&row.source))
            .input("more", row.more_months, "month", Some(&row.source))
            .note("extrapolation", row.words.clone()),
        None => proved(Outcome::new(last, "month", Grade::RuleOfThumb, method)).note(
            "no-extrapolation",
            "nothing is known of harsher conditions that would allow more than what was measured",
        ),
    }
}

//! One thing a colleague would pencil into the margin: what was found, with which numbers, by which rule, and what to change.

use levigate_measure::Input;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// How much a finding weighs, gravest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Gravity {
    /// Do not make it like this.
    Stop,
    /// Something must change before the product can be proved.
    Change,
    /// Look into it: a test, a document or a decision is missing.
    Check,
    /// Worth knowing.
    Know,
}

impl Gravity {
    /// The word shown to people.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Stop => "stop",
            Self::Change => "change",
            Self::Check => "check",
            Self::Know => "know",
        }
    }

    /// All, gravest first.
    pub const ALL: [Self; 4] = [Self::Stop, Self::Change, Self::Check, Self::Know];
}

/// What a finding is about.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "kind")]
pub enum Concerns {
    /// Lines of the formula, from 0, the first being the one to stand beside.
    Lines {
        /// Line numbers.
        lines: Vec<usize>,
    },
    /// A phase, from 0.
    Phase {
        /// Phase number.
        phase: usize,
    },
    /// A target of the brief (`ph`, `viscosity`, `cost`, `natural`, `free-from`, `pack`, ...).
    Target {
        /// Name of the target.
        target: String,
    },
    /// The product as a whole.
    Product,
}

/// One finding.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    /// Stable code, kebab-case (`preservative-asleep`, `limit-exceeded`, ...).
    pub code: Cow<'static, str>,
    /// Gravity.
    pub gravity: Gravity,
    /// What it is about.
    pub concerns: Concerns,
    /// What was found, one sentence with its numbers.
    pub found: String,
    /// What to change or do.
    pub change: String,
    /// The numbers behind it.
    pub numbers: Vec<Input>,
    /// Rule or model applied.
    pub rule: String,
    /// Source keys.
    pub sources: Vec<String>,
}

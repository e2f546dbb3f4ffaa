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

impl Finding {
    /// A finding without numbers or sources yet.
    #[must_use]
    pub fn new(
        code: &'static str,
        gravity: Gravity,
        concerns: Concerns,
        found: impl Into<String>,
        change: impl Into<String>,
    ) -> Self {
        Self {
            code: Cow::Borrowed(code),
            gravity,
            concerns,
            found: found.into(),
            change: change.into(),
            numbers: Vec::new(),
            rule: String::new(),
            sources: Vec::new(),
        }
    }

    /// Names the rule or model.
    #[must_use]
    pub fn rule(mut self, rule: impl Into<String>) -> Self {
        self.rule = rule.into();
        self
    }

    /// Adds a source key once.
    #[must_use]
    pub fn source(mut self, key: &str) -> Self {
        if !key.is_empty() && !self.sources.iter().any(|known| known == key) {
            self.sources.push(key.to_owned());
        }
        self
    }

    /// Adds a number.
    #[must_use]
    pub fn number(mut self, name: &str, value: f64, unit: impl Into<Cow<'static, str>>) -> Self {
        self.numbers.push(Input {
            name: name.to_owned(),
            value: value.is_finite().then_some(value),
            unit: unit.into(),
            source: None,
            text: None,
        });
        self
    }
}

impl Concerns {
    /// Lines in the order of the sheet, or the product when there are none.
    #[must_use]
    pub fn lines(lines: &[usize]) -> Self {
        let mut lines = lines.to_vec();
        lines.sort_unstable();
        lines.dedup();
        if lines.is_empty() { Self::Product } else { Self::Lines { lines } }
    }

    /// One line.
    #[must_use]
    pub fn line(line: usize) -> Self {
        Self::Lines { lines: vec![line] }
    }

    /// A target of the brief.
    #[must_use]
    pub fn target(target: &str) -> Self {
        Self::Target { target: target.to_owned() }
    }
}

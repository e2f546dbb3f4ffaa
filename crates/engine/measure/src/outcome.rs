//! A result that can explain itself: value, interval, evidence grade, method, inputs, sources, notes.

use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// How good the evidence behind a number is, best first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Grade {
    /// Read from an instrument, or typed by a person from one.
    Measured,
    /// From a model fitted to this laboratory's own measurements.
    Calibrated,
    /// From constants and laws, solved.
    Computed,
    /// From a published correlation.
    Correlated,
    /// Trade habit or an estimate from few facts.
    RuleOfThumb,
}

impl Grade {
    /// The word shown to people.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Measured => "measured",
            Self::Calibrated => "calibrated",
            Self::Computed => "computed",
            Self::Correlated => "correlated",
            Self::RuleOfThumb => "rule of thumb",
        }
    }

    /// The weaker of two grades: a result is never better than its weakest input.
    #[must_use]
    pub fn weaker(self, other: Self) -> Self {
        self.max(other)
    }
}

/// A published or measured value with the key of its source in `data/sources.toml`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Sourced<T> {
    /// The value; the unit is part of the field name that holds it.
    pub value: T,
    /// Key of the source.
    pub source: String,
}

/// Something a reader of a result must know: out of range, assumed, missing.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Note {
    /// Stable short code, kebab-case (`out-of-range`, `assumed`, `missing`, ...).
    pub code: Cow<'static, str>,
    /// One plain sentence.
    pub text: String,
}

impl Note {
    /// A note with a fixed code.
    #[must_use]
    pub fn new(code: &'static str, text: impl Into<String>) -> Self {
        Self { code: Cow::Borrowed(code), text: text.into() }
    }
}

/// One named number that went into a result.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Input {
    /// Name, with the symbol of the equation where there is one.
    pub name: String,
    /// Value, absent if the input is a word.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub value: Option<f64>,
    /// Unit, empty for a pure number.
    pub unit: Cow<'static, str>,
    /// Where it came from: a source key, a line of the formula, a person.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub source: Option<String>,
    /// The input in words, where a number does not say it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub text: Option<String>,
}

/// One named part of a result (a contribution, a share of the uncertainty).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Term {
    /// What the part is.
    pub name: String,
    /// Its size in `unit`.
    pub value: f64,
    /// Unit.
    pub unit: Cow<'static, str>,
}

/// A result with everything needed to judge it. `value` is `None` when the question was refused.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Outcome {
    /// The number, or nothing when refused or unknown.
    pub value: Option<f64>,
    /// Unit of `value`, `low` and `high`; empty for a pure number such as pH.
    pub unit: Cow<'static, str>,
    /// Lower end of the interval.
    pub low: Option<f64>,
    /// Upper end of the interval.
    pub high: Option<f64>,
    /// Probability that the interval is meant to hold (0.95), absent for a hard range from minimum and maximum.
    pub coverage: Option<f64>,
    /// Evidence grade.
    pub grade: Grade,
    /// The method in a few words.
    pub method: Cow<'static, str>,
    /// The equation as text, where one line can say it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub equation: Option<Cow<'static, str>>,
    /// Range in which the method holds, in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub range: Option<Cow<'static, str>>,
    /// The case that proves the method; absent means unverified.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub proof: Option<Cow<'static, str>>,
    /// Keys of `data/sources.toml`.
    pub sources: Vec<String>,
    /// Numbers that went in.
    pub inputs: Vec<Input>,
    /// Named parts of the result.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub terms: Vec<Term>,
    /// What the reader must know.
    pub notes: Vec<Note>,
    /// Why there is no value.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub refused: Option<String>,
}

impl Outcome {
    /// A value without an interval yet. A value that is not finite becomes a refusal: nothing infinite is ever shown.
    #[must_use]
    pub fn new(
        value: f64,
        unit: impl Into<Cow<'static, str>>,
        grade: Grade,
        method: impl Into<Cow<'static, str>>,
    ) -> Self {
        let mut outcome = Self::empty(unit, grade, method);
        if value.is_finite() {
            outcome.value = Some(value);
        } else {
            outcome.refused = Some("the computation gave no finite number".to_owned());
        }
        outcome
    }

    /// A question that is answered with a reason instead of a number.
    #[must_use]
    pub fn refuse(
        unit: impl Into<Cow<'static, str>>,
        method: impl Into<Cow<'static, str>>,
        why: impl Into<String>,
    ) -> Self {
        let mut outcome = Self::empty(unit, Grade::Computed, method);
        outcome.refused = Some(why.into());
        outcome
    }

    fn empty(unit: impl Into<Cow<'static, str>>, grade: Grade, method: impl Into<Cow<'static, str>>) -> Self {
        Self {
            value: None,
            unit: unit.into(),
            low: None,
            high: None,
            coverage: None,
            grade,
            method: method.into(),
            equation: None,
            range: None,
            proof: None,
            sources: Vec::new(),
            inputs: Vec::new(),
            terms: Vec::new(),
            notes: Vec::new(),
            refused: None,
        }
    }

    /// Adds the interval; ends that are not finite are left open.
    #[must_use]
    pub fn within(mut self, low: f64, high: f64, coverage: Option<f64>) -> Self {
        self.low = low.is_finite().then_some(low);
        self.high = high.is_finite().then_some(high);
        self.coverage = coverage;
        self
    }

    /// Adds the equation.
    #[must_use]
    pub fn by(mut self, equation: impl Into<Cow<'static, str>>) -> Self {
        self.equation = Some(equation.into());
        self
    }

    /// Adds the range in which the method holds.
    #[must_use]
    pub fn valid_for(mut self, range: impl Into<Cow<'static, str>>) -> Self {
        self.range = Some(range.into());
        self
    }

    /// Names the case that proves the method.
    #[must_use]
    pub fn proved_by(mut self, case: impl Into<Cow<'static, str>>) -> Self {
        self.proof = Some(case.into());
        self
    }

    /// Adds a source key once.
    #[must_use]
    pub fn source(mut self, key: impl Into<String>) -> Self {
        let key = key.into();
        if !self.sources.contains(&key) {
            self.sources.push(key);
        }
        self
    }

    /// Adds a numeric input.
    #[must_use]
    pub fn input(
        mut self,
        name: impl Into<String>,
        value: f64,
        unit: impl Into<Cow<'static, str>>,
        source: Option<&str>,
    ) -> Self {
        self.inputs.push(Input {
            name: name.into(),
            value: value.is_finite().then_some(value),
            unit: unit.into(),
            source: source.map(str::to_owned),
            text: None,
        });
        self
    }

    /// Adds an input that is a word.
    #[must_use]
    pub fn input_text(mut self, name: impl Into<String>, text: impl Into<String>) -> Self {
        self.inputs.push(Input {
            name: name.into(),
            value: None,
            unit: Cow::Borrowed(""),
            source: None,
            text: Some(text.into()),
        });
        self
    }

    /// Adds a named part.
    #[must_use]
    pub fn term(mut self, name: impl Into<String>, value: f64, unit: impl Into<Cow<'static, str>>) -> Self {
        self.terms.push(Term { name: name.into(), value, unit: unit.into() });
        self
    }

    /// Adds a note.
    #[must_use]
    pub fn note(mut self, code: &'static str, text: impl Into<String>) -> Self {
        self.notes.push(Note::new(code, text));
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_that_is_not_finite_is_refused() {
        let outcome = Outcome::new(f64::NAN, "g", Grade::Computed, "test");
        assert_eq!(outcome.value, None);
        assert!(outcome.refused.is_some());
    }

    #[test]
    fn the_weaker_grade_wins() {
        assert_eq!(Grade::Measured.weaker(Grade::RuleOfThumb), Grade::RuleOfThumb);
        assert_eq!(Grade::Correlated.weaker(Grade::Computed), Grade::Correlated);
    }
}

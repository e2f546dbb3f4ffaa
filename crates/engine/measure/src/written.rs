//! Bare numbers written as results.
//!
//! Inside the engine most readings are plain numbers: their unit, method and grade are the same for every value of a field. They
//! are said once, as a [`Description`], and written around each number when it leaves the engine, in the shape of an
//! [`Outcome`](crate::Outcome). So a number costs nothing while the engine computes and explains itself to whoever reads it.

use crate::outcome::{Grade, Note};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::ser::{SerializeMap, SerializeSeq};
use serde::{Serialize, Serializer};
use std::borrow::Cow;
use std::collections::BTreeMap;

/// What every value of one field has in common.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Description {
    unit: &'static str,
    coverage: Option<f64>,
    grade: Grade,
    method: &'static str,
    equation: Option<&'static str>,
    proof: Option<&'static str>,
    sources: &'static [&'static str],
    note: Option<(&'static str, &'static str)>,
}

impl Description {
    /// A field that is computed.
    #[must_use]
    pub const fn computed(unit: &'static str, method: &'static str) -> Self {
        Self {
            unit,
            coverage: None,
            grade: Grade::Computed,
            method,
            equation: None,
            proof: None,
            sources: &[],
            note: None,
        }
    }

    /// The same with another grade.
    #[must_use]
    pub const fn graded(mut self, grade: Grade) -> Self {
        self.grade = grade;
        self
    }

    /// The same with the probability its interval is meant to hold; without it, least and most are hard.
    #[must_use]
    pub const fn covering(mut self, probability: f64) -> Self {
        self.coverage = Some(probability);
        self
    }

    /// The same with its equation.
    #[must_use]
    pub const fn by(mut self, equation: &'static str) -> Self {
        self.equation = Some(equation);
        self
    }

    /// The same with the case that proves it.
    #[must_use]
    pub const fn proved_by(mut self, case: &'static str) -> Self {
        self.proof = Some(case);
        self
    }

    /// The same with the keys of its sources.
    #[must_use]
    pub const fn sources(mut self, keys: &'static [&'static str]) -> Self {
        self.sources = keys;
        self
    }

    /// The same with a note that holds for every value.
    #[must_use]
    pub const fn note(mut self, code: &'static str, text: &'static str) -> Self {
        self.note = Some((code, text));
        self
    }
}

/// A field with a description; implemented by an empty type named after the field.
pub trait Described {
    /// The description.
    const OF: Description;
}

/// One number with its description: the shape of an [`Outcome`](crate::Outcome) without its heap.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figure {
    value: Option<f64>,
    low: Option<f64>,
    high: Option<f64>,
    exact: Option<Decimal>,
    of: &'static Description,
}

impl Figure {
    /// A number.
    #[must_use]
    pub fn new(value: f64, of: &'static Description) -> Self {
        Self { value: finite(value), low: None, high: None, exact: None, of }
    }

    /// The number; nothing where it is not finite.
    #[must_use]
    pub fn number(&self) -> Option<f64> {
        self.value
    }

    /// The same with its least and most.
    #[must_use]
    pub fn within(mut self, low: f64, high: f64) -> Self {
        (self.low, self.high) = (finite(low), finite(high));
        self
    }

    /// The number, where it is one.
    #[must_use]
    pub fn value(&self) -> Option<f64> {
        self.value
    }

    fn exactly(value: Decimal, of: &'static Description) -> Self {
        Self { exact: Some(value), ..Self::new(value.to_f64().unwrap_or(f64::NAN), of) }
    }

    /// A range; its middle stands for it.
    fn between([low, high]: [f64; 2], of: &'static Description) -> Self {
        Self::new(0.5 * (low + high), of).within(low, high)
    }
}

fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

impl Serialize for Figure {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("value", &self.value)?;
        if let Some(exact) = self.exact {
            map.serialize_entry("exact", &exact)?;
        }
        map.serialize_entry("unit", self.of.unit)?;
        map.serialize_entry("low", &self.low)?;
        map.serialize_entry("high", &self.high)?;
        map.serialize_entry("coverage", &self.of.coverage)?;
        map.serialize_entry("grade", &self.of.grade)?;
        map.serialize_entry("method", self.of.method)?;
        for (key, text) in [("equation", self.of.equation), ("proof", self.of.proof)] {
            if let Some(text) = text {
                map.serialize_entry(key, text)?;
            }
        }
        map.serialize_entry("sources", self.of.sources)?;
        map.serialize_entry("inputs", &[(); 0])?;
        let note = self.of.note.map(|(code, text)| Note { code: Cow::Borrowed(code), text: text.to_owned() });
        map.serialize_entry("notes", note.as_slice())?;
        if self.value.is_none() {
            map.serialize_entry("refused", "the computation gave no finite number")?;
        }
        map.end()
    }
}

/// What can be written with a description: a number, a range, an exact decimal, several of them with their names.
pub trait Written {
    /// Writes it.
    ///
    /// # Errors
    /// Those of the serializer.
    fn write<S: Serializer>(&self, of: &'static Description, serializer: S) -> Result<S::Ok, S::Error>;
}

/// For `serialize_with`: writes a field with the description `D`.
///
/// # Errors
/// Those of the serializer.
pub fn result<D: Described, S: Serializer, W: Written>(value: &W, serializer: S) -> Result<S::Ok, S::Error> {
    value.write(const { &D::OF }, serializer)
}

impl Written for f64 {
    fn write<S: Serializer>(&self, of: &'static Description, serializer: S) -> Result<S::Ok, S::Error> {
        Figure::new(*self, of).serialize(serializer)
    }
}

impl Written for [f64; 2] {
    fn write<S: Serializer>(&self, of: &'static Description, serializer: S) -> Result<S::Ok, S::Error> {
        Figure::between(*self, of).serialize(serializer)
    }
}

impl Written for Decimal {
    fn write<S: Serializer>(&self, of: &'static Description, serializer: S) -> Result<S::Ok, S::Error> {
        Figure::exactly(*self, of).serialize(serializer)
    }
}

impl<W: Written> Written for Option<W> {
    fn write<S: Serializer>(&self, of: &'static Description, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Some(value) => value.write(of, serializer),
            None => serializer.serialize_none(),
        }
    }
}

impl<K: Serialize> Written for Vec<(K, f64)> {
    fn write<S: Serializer>(&self, of: &'static Description, serializer: S) -> Result<S::Ok, S::Error> {
        let mut rows = serializer.serialize_seq(Some(self.len()))?;
        for (key, value) in self {
            rows.serialize_element(&(key, Figure::new(*value, of)))?;
        }
        rows.end()
    }
}

impl Written for BTreeMap<String, f64> {
    fn write<S: Serializer>(&self, of: &'static Description, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.iter().map(|(key, value)| (key, Figure::new(*value, of))))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Outcome;

    struct Held;
    impl Described for Held {
        const OF: Description = Description::computed("mmol/kg", "sum").by("n = a + b").proved_by("a case");
    }

    #[derive(Serialize)]
    struct Reading {
        #[serde(serialize_with = "result::<Held, _, _>")]
        total: f64,
        #[serde(serialize_with = "result::<Held, _, _>")]
        range: Option<[f64; 2]>,
        #[serde(serialize_with = "result::<Held, _, _>")]
        weighed: Decimal,
        #[serde(serialize_with = "result::<Held, _, _>")]
        by: Vec<(String, f64)>,
    }

    #[test]
    fn a_described_number_is_written_as_the_outcome_it_is() {
        let outcome =
            Outcome::new(2.5, "mmol/kg", Grade::Computed, "sum").by("n = a + b").proved_by("a case");
        let reading = Reading {
            total: 2.5,
            range: Some([1.0, 2.0]),
            weighed: Decimal::new(1250, 2),
            by: vec![("a".to_owned(), f64::NAN)],
        };
        let written = serde_json::to_value(&reading).unwrap();
        assert_eq!(written["total"], serde_json::to_value(&outcome).unwrap());
        assert_eq!(
            [&written["range"]["low"], &written["range"]["value"], &written["range"]["high"]],
            [1.0, 1.5, 2.0]
        );
        assert_eq!(written["weighed"]["value"], 12.5);
        assert_eq!(written["weighed"]["exact"], "12.50");
        assert!(written["by"][0][1]["refused"].is_string());
    }
}

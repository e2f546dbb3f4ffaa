//! What a study begins from, shipped in `data/methods/stability.toml`: conditions with their usual pulls, how early or late a pull may
//! be, scales with anchored words, attributes.

use serde::{Deserialize, Serialize};
use std::sync::LazyLock;

const SHIPPED: &str = include_str!("../../../../../data/methods/stability.toml");

/// What a study begins from.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StudyPractice {
    /// Conditions.
    #[serde(rename(deserialize = "condition"))]
    pub conditions: Vec<ConditionOffer>,
    /// Windows, narrow ones first.
    #[serde(rename(deserialize = "window"))]
    pub windows: Vec<Window>,
    /// Samples kept beside the plan.
    pub reserve: Reserve,
    /// When the accelerated condition has shown a change.
    pub significant: Significant,
    /// How well a pH repeats.
    pub shift: ShiftPractice,
    /// What may stand behind a pH that moved.
    #[serde(rename(deserialize = "cause"))]
    pub causes: Vec<Cause>,
    /// How a warmer wall of a pack lets more water through, where nobody measured it.
    pub permeation: PermeationPractice,
    /// Scales.
    #[serde(rename(deserialize = "scale"))]
    pub scales: Vec<ScaleOffer>,
    /// Attributes.
    #[serde(rename(deserialize = "attribute"))]
    pub attributes: Vec<AttributeOffer>,
}

/// A condition that is offered.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ConditionOffer {
    /// Key.
    pub key: String,
    /// Name.
    pub name: String,
    /// Temperature, C, as written.
    pub temperature_c: String,
    /// Relative humidity, percent, as written.
    pub humidity_percent: String,
    /// What it is for, a word of [`crate::records::ConditionRole`].
    pub role: String,
    /// Usual pulls, as typed.
    pub pulls: String,
    /// How it is held, and why.
    pub words: String,
    /// Source key.
    pub source: String,
}

/// How early or late a pull may be.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Window {
    /// For pulls up to so many days after the start.
    pub up_to_days: u32,
    /// Days either way.
    pub days: u32,
    /// Source key.
    pub source: String,
}

/// Samples kept beside the plan.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reserve {
    /// Percent of all pulls, as written.
    pub percent: String,
    /// Source key.
    pub source: String,
}

/// When the accelerated condition has shown a change, and how long it must have been looked at to show none.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Significant {
    /// Change of an assay in percent of the label from the start.
    pub assay_percent: f64,
    /// Months without a change.
    pub months: f64,
    /// Source key.
    pub source: String,
}

/// How well a pH repeats from pull to pull.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShiftPractice {
    /// Standard uncertainty of a reading.
    pub reading_ph: f64,
    /// Source key.
    pub source: String,
}

/// How a warmer wall of a pack lets more water through.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PermeationPractice {
    /// Energy of permeation of water through plastics, kJ/mol, from and to.
    pub kj_mol: [f64; 2],
    /// What was published.
    pub words: String,
    /// Source key.
    pub source: String,
}

/// What may stand behind a pH that moved.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Cause {
    /// Key.
    pub key: String,
    /// Name.
    pub name: String,
    /// `acid` where it brings the pH down, `base` where up, `either`.
    pub way: String,
    /// Only where one of these is in the product; none: in any.
    pub substances: Vec<String>,
    /// What happens.
    pub words: String,
    /// What would tell it apart.
    pub apart: String,
    /// Source key.
    pub source: String,
}

/// A scale with anchored words.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ScaleOffer {
    /// Key.
    pub key: String,
    /// Name.
    pub name: String,
    /// Words from step 0 on.
    pub steps: Vec<String>,
    /// Source key.
    pub source: String,
}

/// An attribute that is offered.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct AttributeOffer {
    /// Name.
    pub name: String,
    /// How it is read, a word of [`crate::records::AttributeReads`].
    pub reads: String,
    /// Unit.
    pub unit: String,
    /// Least, as written.
    pub lower: String,
    /// Most, as written.
    pub upper: String,
    /// It may drift up or down.
    pub either_way: bool,
    /// What has to be said of how it is measured.
    pub asks: Vec<String>,
    /// Key of its scale.
    pub scale: String,
    /// Remark.
    pub words: String,
    /// Source key.
    pub source: String,
}

impl StudyPractice {
    /// The shipped practice. A shipped text that does not read is empty, which the tests exclude.
    #[must_use]
    pub fn shipped() -> &'static Self {
        static PRACTICE: LazyLock<StudyPractice> =
            LazyLock::new(|| toml::from_str(SHIPPED).unwrap_or_default());
        &PRACTICE
    }

    /// How many days early or late a pull so many days after the start may be.
    #[must_use]
    pub fn window_days(&self, days: u32) -> u32 {
        let last = self.windows.last();
        self.windows.iter().find(|window| days <= window.up_to_days).or(last).map_or(0, |window| window.days)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::{AttributeReads, ConditionRole};

    #[test]
    fn the_shipped_practice_reads_and_its_words_are_known() {
        let practice: StudyPractice = toml::from_str(SHIPPED).unwrap();
        assert!(practice.conditions.len() >= 8 && practice.scales.len() == 2);
        for condition in &practice.conditions {
            assert!(ConditionRole::from_word(&condition.role).is_some(), "{}", condition.key);
            assert!(!crate::workbench::studies::planning::read_pulls(&condition.pulls).unwrap().is_empty());
        }
        for attribute in &practice.attributes {
            assert!(AttributeReads::from_word(&attribute.reads).is_some(), "{}", attribute.name);
            let known = |key: &str| practice.scales.iter().any(|scale| scale.key == key);
            assert!(attribute.scale.is_empty() || known(&attribute.scale));
        }
        let library = crate::facts::shipped().unwrap().library;
        for cause in &practice.causes {
            assert!(["acid", "base", "either"].contains(&cause.way.as_str()), "{}", cause.key);
            for key in &cause.substances {
                assert!(library.substances.contains_key(key), "{}: {key}", cause.key);
            }
        }
        let days: Vec<u32> = practice.windows.iter().map(|window| window.up_to_days).collect();
        assert!(days.is_sorted());
        assert_eq!([7, 28, 365].map(|at| practice.window_days(at)), [1, 3, 7]);
    }
}

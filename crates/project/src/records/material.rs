//! The lab's own raw materials, grades and prices, laid over the shipped facts.

use serde::{Deserialize, Serialize};

use super::{Kind, Record, RecordError, TEXT_LIMIT, at_most, required};

/// What an overlay is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum OverlaySort {
    /// A raw material of the lab's own.
    Material,
    /// A grade of a shipped raw material.
    Grade,
    /// A price.
    Price,
}

impl OverlaySort {
    /// The word under which it is stored.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Material => "material",
            Self::Grade => "grade",
            Self::Price => "price",
        }
    }
}

/// One overlay. Its versions are numbered per sort and key; the latest counts.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct MaterialOverlay {
    /// What it is about.
    pub sort: OverlaySort,
    /// Key of the raw material or grade.
    pub key: String,
    /// The facts as TOML, in the schema of the shipped ones.
    pub text: String,
    /// Taken off the shelf: the shipped facts count again.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub withdrawn: bool,
}

impl Record for MaterialOverlay {
    const KIND: Kind = Kind::MaterialOverlay;
    fn scope(&self) -> String {
        format!("{}/{}", self.sort.word(), self.key)
    }
    fn check(&self) -> Result<(), RecordError> {
        required("key", &self.key)?;
        at_most("text", &self.text, TEXT_LIMIT)
    }
}

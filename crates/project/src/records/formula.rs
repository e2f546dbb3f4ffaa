//! Formulas and their frozen versions.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{Id, Kind, Mention, Record, RecordError, TEXT_LIMIT, at_most, required};
use crate::audit::content_hash;

/// A formula: the thing its versions are versions of.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Formula {
    /// Name under which it was begun. The sheet's own product name may change from version to version.
    pub name: String,
}

impl Record for Formula {
    const KIND: Kind = Kind::Formula;
    fn check(&self) -> Result<(), RecordError> {
        required("name", &self.name)
    }
}

/// A frozen version of a formula. Its number is the number of its envelope.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct FormulaVersion {
    /// The formula.
    pub formula: Id<Formula>,
    /// The version it was edited from; none for the first.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub parent: Option<u32>,
    /// The formula file exactly as saved.
    pub text: String,
    /// SHA-256 of the text, hexadecimal.
    pub sha256: String,
    /// Why it was saved.
    pub reason: String,
    /// Version of the engine that assessed it.
    pub engine_version: String,
    /// Version of the facts it was assessed with.
    pub data_version: String,
}

impl Record for FormulaVersion {
    const KIND: Kind = Kind::FormulaVersion;
    fn belongs_to(&self) -> Option<(Kind, Uuid)> {
        Some((Kind::Formula, self.formula.uuid()))
    }
    fn mentions(&self) -> Vec<Mention> {
        let scope = self.scope();
        self.parent
            .map(|number| Mention::Number { kind: Kind::FormulaVersion, scope, number })
            .into_iter()
            .collect()
    }
    fn check(&self) -> Result<(), RecordError> {
        at_most("text", &self.text, TEXT_LIMIT)?;
        required("reason", &self.reason)?;
        required("engine version", &self.engine_version)?;
        required("data version", &self.data_version)?;
        if self.sha256 != content_hash(self.text.as_bytes()) {
            return Err(RecordError::Contradiction {
                field: "sha256",
                what: "is not the hash of the text".to_owned(),
            });
        }
        Ok(())
    }
}

/// What a person is typing and has not saved: one per formula and editing tab, overwritten as they type, never audited.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Draft {
    /// The formula; none for a sheet that is not yet one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub formula: Option<Id<Formula>>,
    /// The editing tab's own mark.
    pub tab: String,
    /// Counts the tab's edits; an older one never overwrites a newer one, in whatever order they arrive.
    pub edit: u64,
    /// The version the tab was opened on; 0 for none.
    pub based_on: u32,
    /// The text as it stands.
    pub text: String,
    /// Who types.
    pub who: String,
    /// When it was last kept.
    pub when: Timestamp,
}

impl Draft {
    /// Whether it is fit to be kept.
    ///
    /// # Errors
    /// No tab, or too long.
    pub fn check(&self) -> Result<(), RecordError> {
        required("tab", &self.tab)?;
        at_most("who", &self.who, super::LINE_LIMIT)?;
        at_most("text", &self.text, TEXT_LIMIT)
    }
}

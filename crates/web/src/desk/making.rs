//! What is asked about the making of a draft.

use super::DraftStep;
use levigate_project::workbench::procedure::Procedure;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// How a draft is made.
#[derive(Clone, Debug, Serialize)]
pub struct Made {
    /// Steps with reasons and what they break.
    #[serde(flatten)]
    pub procedure: Procedure,
    /// The same steps as fields, to be changed: as they stand in the draft, or the proposed ones.
    pub fields: Vec<DraftStep>,
    /// Id of the draft line behind each line of the formula.
    pub line_ids: Vec<String>,
    /// Ways to stir.
    pub ways: Vec<Way>,
    /// Citation of every source key.
    pub sources: BTreeMap<String, String>,
}

/// A way to stir.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Way {
    /// Key.
    pub key: String,
    /// In words.
    pub words: String,
}

/// A step on the batch sheet.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct BatchMaking {
    /// Number, from 1.
    pub number: usize,
    /// What is done.
    pub instruction: String,
    /// Temperature, time and stirring.
    pub how: String,
    /// What goes in, each with its number and grams.
    pub lines: Vec<String>,
    /// What is looked at.
    pub checks: Vec<String>,
    /// Cautions that stand with no line.
    pub cautions: Vec<String>,
}

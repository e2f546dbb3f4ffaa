//! Measured flow curves and recoveries: what is sent, what comes back, and the routes.

use crate::desk::{FormulaCard, Look, Plate};
use crate::trouble::{Kind, Trouble};
use crate::window::{Body, Given, MOST_BYTES_WITH_PHOTO};
use axum::Json;
use base64::Engine as _;
use base64::prelude::BASE64_STANDARD;
use levigate_project::flow_table::{LeftOutAll, Meaning, Understood};
use levigate_project::workbench::flow_fit::Asked;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::collections::BTreeMap;

/// A table that was dropped or pasted, and how it shall be read, fitted and looked at.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default)]
pub struct Measured {
    /// Name of the file; empty for what was pasted.
    pub file: String,
    /// Text that was pasted.
    pub text: String,
    /// The file in base 64; taken instead of the text where it is not empty.
    pub bytes: String,
    /// What is asked of it; its model is not used.
    pub asked: Asked,
    /// Name of the curve to look at; empty: the first.
    pub curve: String,
    /// Model to show; empty: the one the points speak for.
    pub model: String,
    /// How the figures are looked at.
    pub looks: BTreeMap<String, Look>,
    /// Only the figure of this name; empty: everything.
    pub only: String,
}

impl Measured {
    /// The bytes of the table.
    ///
    /// # Errors
    /// What was sent as base 64 is not.
    pub fn table(&self) -> Result<Vec<u8>, Trouble> {
        if self.bytes.is_empty() {
            return Ok(self.text.clone().into_bytes());
        }
        BASE64_STANDARD.decode(&self.bytes).map_err(|_| {
            Trouble::new(
                Kind::BadInput,
                "file",
                "The file did not arrive whole.",
                "What was sent of it cannot be read.",
                "Drop it once more.",
            )
            .in_field("bytes")
        })
    }
}

/// What was made of a table.
#[derive(Clone, Debug, Default, Serialize)]
pub struct MeasuredReading {
    /// What is wrong, each with its place; what can be read is read all the same.
    pub troubles: Vec<TableTrouble>,
    /// Columns in their order, as they were understood.
    pub columns: Vec<Understood>,
    /// What a person should confirm.
    pub to_confirm: Vec<String>,
    /// What else is worth knowing of the file.
    pub remarks: Vec<String>,
    /// What was left out and why.
    pub left_out: LeftOutAll,
    /// Names of the curves in it.
    pub curves: Vec<String>,
    /// The curve or recovery that is looked at.
    pub curve: Option<Value>,
    /// What several curves say together: a title, and results with their words.
    pub together: Vec<Value>,
    /// Figures `flow` or `recovery`, and `residuals`.
    pub plates: Vec<Plate>,
    /// Citation of every source key.
    pub sources: BTreeMap<String, String>,
}

/// Something wrong with a table.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct TableTrouble {
    /// Stable short code.
    pub code: String,
    /// What is wrong.
    pub what: String,
    /// Why that is so.
    pub why: String,
    /// What to do.
    pub what_now: String,
    /// Where.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub place: Option<crate::trouble::Place>,
}

/// What a column can hold.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct ColumnMeaning {
    /// Word.
    pub word: String,
    /// Name for people.
    pub words: String,
    /// Units it can have.
    pub units: Vec<String>,
}

/// What the page begins with.
#[derive(Clone, Debug, Default, Serialize)]
pub struct MeasurementPage {
    /// Formulas a curve can be kept with.
    pub formulas: Vec<FormulaCard>,
    /// What columns can hold.
    pub meanings: Vec<ColumnMeaning>,
}

impl MeasurementPage {
    /// A page for these formulas.
    #[must_use]
    pub fn with(formulas: Vec<FormulaCard>) -> Self {
        let meaning = |meaning: Meaning| ColumnMeaning {
            word: meaning.word().to_owned(),
            words: meaning.words().to_owned(),
            units: meaning.units().iter().map(|unit| unit.symbol.to_owned()).collect(),
        };
        Self { formulas, meanings: Meaning::ALL.into_iter().map(meaning).collect() }
    }
}

/// Reads a table, fits models to its curves and draws them.
pub async fn read(
    Given(room): Given,
    Body(measured): Body<Measured, MOST_BYTES_WITH_PHOTO>,
) -> Result<Json<MeasuredReading>, Trouble> {
    room.desk.measure(&measured).await.map(Json)
}

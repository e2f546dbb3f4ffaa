//! JSON routes of measured flow curves.
//!
//! A measured file comes as `text` (pasted, or a file that is text) or as `bytes` in base 64 (a workbook, a file of another encoding), with
//! its name in `file`:
//!
//! ```json
//! { "file": "T7.csv", "text": "shear rate [1/s];stress [Pa]\n0,1;6,1\n1;8,2\n10;12,5",
//!   "asked": { "model": "", "weights": "log", "shear": [null, 100.0], "spindle": "",
//!     "table": { "sheet": "", "columns": [{ "name": "#2", "meaning": "stress", "unit": "Pa" }], "decimal": null,
//!       "split_sweeps": true, "torque_floor": { "value": 10, "unit": "%" } } } }
//! ```
//!
//! `POST /api/flow/fit` answers a [`levigate_project::workbench::flow_fit::FlowFit`], the same as `levigate flow fit --json`;
//! every part of `asked` may be left out. `POST /api/trials/{id}/curves` keeps one of its curves: the same fields, and `curve` (its
//! name in the report, where there are several), `model` (the one taken, empty for none), `temperature_c`, `age`, `instrument`, `geometry`,
//! `waiting`, `note`, as typed. The kept ones stand in `curves` of each trial at `GET /api/formulas/{id}/trials`; `GET /api/curves/{id}/fit`
//! fits a kept one anew; `POST /api/curves/{id}/correction` strikes it out (`reason`, and in `instead` what stands in its place).

use crate::desk::{Correction, Entered, FlowAsked, FlowFit, KeptFit, MeasuredFile, TypedCurve};
use crate::trouble::{Kind, Trouble};
use crate::window::{Body, Given, MOST_BYTES_MEASURED, identifier};
use axum::Json;
use axum::extract::Path;
use base64::Engine as _;
use base64::prelude::BASE64_STANDARD;
use serde::Deserialize;

type Told<T> = Result<Json<T>, Trouble>;

/// A measured file as the page sends it.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Sent {
    file: String,
    text: String,
    bytes: String,
}

impl Sent {
    pub(crate) fn handed_in(self) -> Result<MeasuredFile, Trouble> {
        let bytes = if self.bytes.is_empty() {
            self.text.into_bytes()
        } else {
            BASE64_STANDARD.decode(self.bytes).map_err(|_| {
                Trouble::new(
                    Kind::BadInput,
                    "file",
                    "The file did not arrive whole.",
                    "Its bytes could not be read.",
                    "Choose it again.",
                )
                .in_field("file")
            })?
        };
        Ok(MeasuredFile { name: self.file.chars().take(200).collect(), bytes })
    }
}

/// A measured file and what is asked of it.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Question {
    #[serde(flatten)]
    sent: Sent,
    asked: FlowAsked,
}

/// Fits flow models to a measured file.
pub async fn fit_flow(
    Given(room): Given,
    Body(question): Body<Question, MOST_BYTES_MEASURED>,
) -> Told<FlowFit> {
    room.desk.fit_flow(question.sent.handed_in()?, question.asked).await.map(Json)
}

/// A measured file, and what is said about the curve of it that is to be kept.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Keep {
    #[serde(flatten)]
    sent: Sent,
    #[serde(flatten)]
    typed: TypedCurve,
}

/// Keeps a curve on a trial.
pub async fn keep_curve(
    Given(room): Given,
    Path(trial): Path<String>,
    Body(keep): Body<Keep, MOST_BYTES_MEASURED>,
) -> Told<Entered> {
    room.desk.keep_curve(identifier(&trial)?, keep.sent.handed_in()?, keep.typed).await.map(Json)
}

/// Strikes a curve out.
pub async fn correct_curve(
    Given(room): Given,
    Path(id): Path<String>,
    Body(correction): Body<Correction<Keep>, MOST_BYTES_MEASURED>,
) -> Told<Entered> {
    let instead = match correction.instead {
        Some(keep) => Some((keep.sent.handed_in()?, keep.typed)),
        None => None,
    };
    room.desk.correct_curve(identifier(&id)?, &correction.reason, instead).await.map(Json)
}

/// The fit of a kept curve.
pub async fn curve_fit(Given(room): Given, Path(id): Path<String>) -> Told<KeptFit> {
    room.desk.curve_fit(identifier(&id)?).await.map(Json)
}

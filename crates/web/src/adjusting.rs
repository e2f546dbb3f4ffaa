//! JSON routes of the pH at the bench.
//!
//! `POST /api/adjust` and `POST /api/calibrate` take `{ "text": "..." }`, a file as `levigate schema adjust` and `levigate schema calibrate` describe it,
//! and answer what the verbs of these names answer with `--json`. Nothing is kept: the page sends the whole batch so far each time.

use crate::desk::Answer;
use crate::trouble::{Kind, Trouble};
use crate::window::{Body, Given};
use async_trait::async_trait;
use axum::Json;
use levigate_project::workbench::making::adjust::AdjustReading;
use levigate_project::workbench::making::calibrate::CalibrationReading;
use serde::Deserialize;

type Told<T> = Result<Json<T>, Trouble>;

/// The questions asked at the beaker; part of every desk.
#[async_trait]
pub trait BeakerDesk: Send + Sync {
    /// The next addition of an acid or base, from a file with the formula and what happened at the beaker.
    async fn adjust(&self, text: String) -> Answer<AdjustReading>;
    /// What buffers say of a pH electrode.
    async fn calibrate(&self, text: String) -> Answer<CalibrationReading>;
}

/// Longest text taken, bytes: a formula of 400 lines with 500 entries is a tenth of it.
const LONGEST: usize = 512 * 1024;

/// A file.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct AtTheBench {
    text: String,
}

impl AtTheBench {
    fn sound(self) -> Result<String, Trouble> {
        if self.text.len() > LONGEST {
            return Err(Trouble::new(
                Kind::BadInput,
                "too-long",
                format!("The file has {} bytes.", self.text.len()),
                format!("At most {LONGEST} are taken."),
                "Leave out old readings, or thin a trace out.",
            )
            .in_field("text"));
        }
        Ok(self.text)
    }
}

/// The next addition of an acid or base.
pub async fn adjust(Given(room): Given, Body(file): Body<AtTheBench>) -> Told<AdjustReading> {
    room.desk.adjust(file.sound()?).await.map(Json)
}

/// What buffers say of an electrode.
pub async fn calibrate(Given(room): Given, Body(file): Body<AtTheBench>) -> Told<CalibrationReading> {
    room.desk.calibrate(file.sound()?).await.map(Json)
}

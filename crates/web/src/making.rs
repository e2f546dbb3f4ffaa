//! JSON routes of the making of a draft beside its procedure: how sure a batch of it is, how it goes to the plant.
//!
//! `POST /api/sure` takes `{ "formula": "...", "draft": {...}, "asked": {...} }` and answers what `levigate uncertainty` answers with
//! `--json` about the same formula, with what the trials of this formula have taught about its flow. `POST /api/scale` takes a `text` instead, a
//! file as `levigate schema scale` describes it without a liquid, and answers as `levigate scale` does; an empty text asks for the vessels alone.

use crate::api::sound;
use crate::desk::{Answer, Draft};
use crate::trouble::{Kind, Trouble};
use crate::window::{Body, Given};
use async_trait::async_trait;
use axum::Json;
use levigate_project::workbench::flow_use::Answered;
use levigate_project::workbench::making::scale::{ScaledUp, VesselChoice};
use levigate_project::workbench::making::uncertainty::UncertaintyReading;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

type Told<T> = Result<Json<T>, Trouble>;

/// Draws for a page: an answer while somebody types. The chance of a target is known to half of one in a hundred.
pub(crate) const DRAWS: usize = 20_000;

/// The questions about making a draft; part of every desk.
#[async_trait]
pub trait MakingDesk: Send + Sync {
    /// How sure a batch of the draft is; nothing when the draft cannot be assessed.
    async fn sure(&self, formula: &str, draft: &Draft, asked: &SureAsked) -> Answer<Option<Sure>>;
    /// The draft from the bench to the plant.
    async fn scale(&self, formula: &str, draft: &Draft, text: String) -> Answer<Scaled>;
}

/// What a batch is weighed and read with, as typed; an empty text is what the formula says, or nothing.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(default)]
pub struct SureAsked {
    /// Batch, g.
    pub batch_g: String,
    /// Readability of the balance, g.
    pub balance_g: String,
    /// Its repeatability, g.
    pub repeatability_g: String,
    /// Class it is verified in, `I` to `IIII`.
    pub class: String,
    /// Further balances; an empty one is left out.
    pub balances: Vec<BalanceAsked>,
    /// What is said of single lines, by the id of the draft line.
    pub lines: BTreeMap<String, LineAsked>,
    /// Standard uncertainty of a pH reading.
    pub meter_ph: String,
    /// Half-width of every price, percent.
    pub price_percent: String,
}

/// A further balance, as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(default)]
pub struct BalanceAsked {
    /// What it is called on the bench.
    pub name: String,
    /// Readability, g.
    pub readability_g: String,
    /// Repeatability, g.
    pub repeatability_g: String,
    /// Class it is verified in.
    pub class: String,
    /// What weighs no more goes onto it, g.
    pub up_to_g: String,
}

/// A line with its balance and the certificate of its lot, as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(default)]
pub struct LineAsked {
    /// Place of its balance among the further ones, from 0, or `usual`; by its weight when empty.
    pub balance: String,
    /// Assay of the lot, percent; that of the formula when empty.
    pub assay_percent: String,
    /// How far the certificate lets it be off, percentage points.
    pub spread: String,
    /// `standard` where that is a standard uncertainty; else limits.
    pub spread_is: String,
}

/// How sure a batch of a draft is.
#[derive(Clone, Debug, Serialize)]
pub struct Sure {
    /// Lines, results, what would help.
    #[serde(flatten)]
    pub found: UncertaintyReading,
    /// Id of the draft line behind each line of the formula.
    pub line_ids: Vec<String>,
    /// Citation of every source key.
    pub sources: BTreeMap<String, String>,
}

/// A draft and what its batch is made with.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct AskSure {
    formula: String,
    draft: Draft,
    asked: SureAsked,
}

/// How sure a batch of a draft is.
pub async fn sure(Given(room): Given, Body(ask): Body<AskSure>) -> Told<Option<Sure>> {
    sound(&ask.draft)?;
    room.desk.sure(&ask.formula, &ask.draft, &ask.asked).await.map(Json)
}

/// A draft from the bench to the plant.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Scaled {
    /// Vessels that can be named.
    pub vessels: Vec<VesselChoice>,
    /// The answer; nothing where the question was empty or the sheet cannot be answered for.
    pub found: Option<Answered<ScaledUp>>,
    /// Why the sheet cannot be answered for; empty where it can.
    pub refused: String,
    /// Citation of every source key.
    pub sources: BTreeMap<String, String>,
}

/// A draft and the question.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct AskScale {
    formula: String,
    draft: Draft,
    text: String,
}

/// Longest question taken, bytes.
const LONGEST: usize = 64 * 1024;

/// A draft from the bench to the plant.
pub async fn scale(Given(room): Given, Body(ask): Body<AskScale>) -> Told<Scaled> {
    sound(&ask.draft)?;
    if ask.text.len() > LONGEST {
        return Err(Trouble::new(
            Kind::BadInput,
            "too-long",
            format!("The question has {} bytes.", ask.text.len()),
            format!("At most {LONGEST} are taken."),
            "Leave out additions.",
        )
        .in_field("text"));
    }
    room.desk.scale(&ask.formula, &ask.draft, ask.text).await.map(Json)
}

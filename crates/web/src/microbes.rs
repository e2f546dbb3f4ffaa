//! Counts of a finished product beside its formula: the questions of the page, the page, and its JSON routes.
//!
//! `GET /api/formulas/{id}/microbes` answers a [`MicrobesPage`] with nothing counted yet; a post there answers what was typed. Nothing of it is kept;
//! what shall stay is entered as readings of a trial.

use crate::desk::Answer;
use crate::pages::{Frame, Page, data, frame, page};
use crate::trouble::Trouble;
use crate::window::{Body, Given, MOST_BYTES, identifier};
use askama::Template;
use async_trait::async_trait;
use axum::Json;
use axum::extract::Path;
use levigate_project::records::{Id, Trial};
use levigate_project::workbench::proof::microbes::{MicrobesReading, TypedMicrobes};
use serde::Serialize;
use std::collections::BTreeMap;

type Told<T> = Result<Json<T>, Trouble>;

/// The questions about counts of a finished product; part of every desk.
#[async_trait]
pub trait MicrobesDesk: Send + Sync {
    /// What was typed, answered by the formula as it stands.
    async fn microbes(&self, formula: &str, typed: &TypedMicrobes) -> Answer<MicrobesPage>;
}

/// An answer as the page shows it.
#[derive(Clone, Debug, Serialize)]
pub struct MicrobesPage {
    /// Identity of the formula.
    pub formula: String,
    /// Name of the product.
    pub name: String,
    /// Its trials, newest first: identity, number, version.
    pub trials: Vec<(Id<Trial>, u32, u32)>,
    /// What is counted: key and words.
    pub platings: Vec<(String, String)>,
    /// The answer.
    pub reading: MicrobesReading,
    /// Citation of every source key.
    pub sources: BTreeMap<String, String>,
}

#[derive(Template)]
#[template(path = "microbes.html")]
struct Shown {
    frame: Frame,
    id: String,
    name: String,
    data: String,
}

/// The page.
pub async fn show(Given(room): Given, Path(id): Path<String>) -> Page {
    let id = identifier(&id)?.to_owned();
    let answer = room.desk.microbes(&id, &TypedMicrobes::default()).await?;
    let data = data(&answer)?;
    page(&Shown { frame: frame(&room, "formulas").await?, id, name: answer.name, data })
}

/// An answer with nothing counted.
pub async fn bare(Given(room): Given, Path(id): Path<String>) -> Told<MicrobesPage> {
    room.desk.microbes(identifier(&id)?, &TypedMicrobes::default()).await.map(Json)
}

/// What was typed, answered.
pub async fn answered(
    Given(room): Given,
    Path(id): Path<String>,
    Body(typed): Body<TypedMicrobes, MOST_BYTES>,
) -> Told<MicrobesPage> {
    room.desk.microbes(identifier(&id)?, &typed).await.map(Json)
}

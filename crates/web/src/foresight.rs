//! How well trials were foretold: of one formula and of the whole workspace, as pages and as JSON.
//!
//! `?without` sets aside what trials taught.

use crate::desk::{Answer, Plate};
use crate::pages::{Frame, Page, data, frame, page};
use crate::trouble::Trouble;
use crate::window::{Door, Given, Room, identifier};
use askama::Template;
use async_trait::async_trait;
use axum::extract::{Path, Query};
use axum::routing::get;
use axum::{Json, Router};
pub use levigate_project::workbench::trials::Foresight;
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// The questions asked about predictions; part of every desk.
#[async_trait]
pub trait ForesightDesk: Send + Sync {
    /// How well the readings of one formula, or of all, were foretold; with or without what trials taught.
    async fn foresight(&self, formula: Option<&str>, untaught: bool) -> Answer<ForesightTold>;
}

/// Predictions beside readings, with their figures.
#[derive(Clone, Debug, Serialize)]
pub struct ForesightTold {
    /// What was foretold and read.
    #[serde(flatten)]
    pub foresight: Foresight,
    /// A figure for each attribute, in their order; none where nothing could be compared.
    pub plates: Vec<Option<Plate>>,
    /// Identity of the formula; none for all.
    pub formula_id: Option<String>,
    /// What trials taught is set aside.
    pub untaught: bool,
}

/// Whether what trials taught is set aside.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(default)]
pub struct SetAside {
    without: Option<String>,
}

#[derive(Template)]
#[template(path = "predictions.html")]
struct PredictionsPage {
    frame: Frame,
    id: String,
    name: String,
    data: String,
}

/// The routes of predictions.
pub fn routes() -> Router<Arc<Door>> {
    Router::new()
        .route("/predictions", get(of_all))
        .route("/formulas/{id}/predictions", get(of_one))
        .route("/api/predictions", get(all_told))
        .route("/api/formulas/{id}/predictions", get(one_told))
}

async fn shown(room: &Room, id: Option<&str>, aside: &SetAside) -> Page {
    let told = room.desk.foresight(id, aside.without.is_some()).await?;
    let name = match (&told.foresight.formula, id) {
        (Some(name), _) => name.clone(),
        (None, Some(id)) => room.desk.formula(id).await?.draft.product.name,
        (None, None) => String::new(),
    };
    let data = data(&told)?;
    let id = id.unwrap_or_default().to_owned();
    page(&PredictionsPage { frame: frame(room, "formulas").await?, id, name, data })
}

/// How well the readings of all formulas were foretold.
pub async fn of_all(Given(room): Given, Query(aside): Query<SetAside>) -> Page {
    shown(&room, None, &aside).await
}

/// How well those of one formula were.
pub async fn of_one(Given(room): Given, Path(id): Path<String>, Query(aside): Query<SetAside>) -> Page {
    shown(&room, Some(identifier(&id)?), &aside).await
}

/// The same as JSON.
pub async fn all_told(
    Given(room): Given,
    Query(aside): Query<SetAside>,
) -> Result<Json<ForesightTold>, Trouble> {
    room.desk.foresight(None, aside.without.is_some()).await.map(Json)
}

/// The same of one formula.
pub async fn one_told(
    Given(room): Given,
    Path(id): Path<String>,
    Query(aside): Query<SetAside>,
) -> Result<Json<ForesightTold>, Trouble> {
    room.desk.foresight(Some(identifier(&id)?), aside.without.is_some()).await.map(Json)
}

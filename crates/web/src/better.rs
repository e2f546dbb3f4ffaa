//! The better formula: the questions of the page, the page, and its JSON routes. A search takes its time, so it runs beside the page.
//!
//! ```json
//! POST   /api/formulas/{id}/better        the question as typed: it is kept, and a search begins; answers { "search": "…" }
//! PUT    /api/formulas/{id}/better        the question as typed: it is kept
//! DELETE /api/formulas/{id}/better        forgets the question; answers the one a formula begins with
//! POST   /api/formulas/{id}/better/file   the question as typed; answers { "text": "…" }, a file for `levigate optimise`
//! GET    /api/searches/{search}           how far it is, or its answer
//! DELETE /api/searches/{search}           ends it: the best so far is then its answer
//! ```

use crate::desk::{Answer, Draft};
use crate::pages::{Frame, Page, data, frame, page};
use crate::trouble::Trouble;
use crate::window::{Body, Door, Given, identifier};
use askama::Template;
use async_trait::async_trait;
use axum::extract::Path;
use axum::routing::{get, post};
use axum::{Json, Router};
pub use levigate_project::workbench::proof::better_form::{BetterForm, StartedForm};
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeMap;
use std::sync::Arc;

type Told<T> = Result<Json<T>, Trouble>;

/// The questions about a better formula; part of every desk.
#[async_trait]
pub trait BetterDesk: Send + Sync {
    /// What the page of a formula begins with.
    async fn better_ground(&self, formula: &str) -> Answer<BetterGround>;
    /// Keeps the question beside the formula.
    async fn keep_better(&self, formula: &str, form: &BetterForm) -> Answer<()>;
    /// Forgets the question.
    async fn forget_better(&self, formula: &str) -> Answer<()>;
    /// The question with the formula as one file.
    async fn better_file(&self, formula: &str, form: &BetterForm) -> Answer<String>;
    /// Begins to search, and answers by which name the search is asked after.
    async fn begin_search(&self, formula: &str, form: &BetterForm) -> Answer<String>;
    /// How a search stands.
    async fn search(&self, search: &str) -> Answer<SearchView>;
    /// Ends a search with the best it has.
    async fn end_search(&self, search: &str) -> Answer<SearchView>;
}

/// What the page of a formula begins with.
#[derive(Clone, Debug, Serialize)]
pub struct BetterGround {
    /// Formula.
    pub id: String,
    /// Name of the product.
    pub name: String,
    /// What is on the sheet: `version 4`, `the draft after version 4`.
    pub of: String,
    /// The question, and the lines beside it.
    #[serde(flatten)]
    pub started: StartedForm,
    /// Whether the question is one that was kept.
    pub kept: bool,
    /// What may be aimed at or wished: word, unit, name.
    pub words: Vec<(&'static str, String, &'static str)>,
}

/// How a search stands.
#[derive(Clone, Debug, Default, Serialize)]
pub struct SearchView {
    /// It still searches.
    pub running: bool,
    /// Formulas solved so far.
    pub read: usize,
    /// Of one aim, the best value so far that keeps all wishes.
    pub best: Option<f64>,
    /// Seconds it has taken.
    pub seconds: f64,
    /// What it found.
    pub found: Option<SearchFound>,
}

/// What a search found.
#[derive(Clone, Debug, Serialize)]
pub struct SearchFound {
    /// Answers, as `levigate optimise --json` gives them.
    pub reading: Value,
    /// The answers as sheets, in their order.
    pub drafts: Vec<Draft>,
    /// Citation of every source key.
    pub sources: BTreeMap<String, String>,
}

#[derive(Template)]
#[template(path = "better.html")]
struct Shown {
    frame: Frame,
    id: String,
    name: String,
    of: String,
    data: String,
}

/// The routes.
pub fn routes() -> Router<Arc<Door>> {
    Router::new()
        .route("/formulas/{id}/better", get(show))
        .route("/api/formulas/{id}/better", post(begin).put(keep).delete(forget))
        .route("/api/formulas/{id}/better/file", post(file))
        .route("/api/searches/{search}", get(look).delete(end))
}

async fn show(Given(room): Given, Path(id): Path<String>) -> Page {
    let id = identifier(&id)?.to_owned();
    let ground = room.desk.better_ground(&id).await?;
    let data = data(&ground)?;
    page(&Shown { frame: frame(&room, "formulas").await?, id, name: ground.name, of: ground.of, data })
}

#[derive(Serialize)]
struct Begun {
    search: String,
}

async fn begin(
    Given(room): Given,
    Path(id): Path<String>,
    Body(form): Body<BetterForm>,
) -> Told<impl Serialize> {
    let id = identifier(&id)?;
    let search = room.desk.begin_search(id, &form).await?;
    room.desk.keep_better(id, &form).await?;
    Ok(Json(Begun { search }))
}

#[derive(Serialize)]
struct Kept {
    kept: bool,
}

async fn keep(
    Given(room): Given,
    Path(id): Path<String>,
    Body(form): Body<BetterForm>,
) -> Told<impl Serialize> {
    room.desk.keep_better(identifier(&id)?, &form).await?;
    Ok(Json(Kept { kept: true }))
}

async fn forget(Given(room): Given, Path(id): Path<String>) -> Told<BetterGround> {
    let id = identifier(&id)?;
    room.desk.forget_better(id).await?;
    room.desk.better_ground(id).await.map(Json)
}

#[derive(Serialize)]
struct File {
    text: String,
}

async fn file(
    Given(room): Given,
    Path(id): Path<String>,
    Body(form): Body<BetterForm>,
) -> Told<impl Serialize> {
    Ok(Json(File { text: room.desk.better_file(identifier(&id)?, &form).await? }))
}

async fn look(Given(room): Given, Path(search): Path<String>) -> Told<SearchView> {
    room.desk.search(identifier(&search)?).await.map(Json)
}

async fn end(Given(room): Given, Path(search): Path<String>) -> Told<SearchView> {
    room.desk.end_search(identifier(&search)?).await.map(Json)
}

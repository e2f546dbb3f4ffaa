//! Designed experiments: the questions of the pages, their HTML and JSON routes.
//!
//! ```json
//! POST /api/experiments                 an experiment as typed; a device makes its `id`, and sends it again until it hears that it is kept
//! POST /api/experiments/look            the same while it is typed: what is wrong, how many runs, how well they settle the model; keeps nothing
//! POST /api/experiments/{id}/runs       { "run": 3, "size": "200" } begins a run, { "percent": ["0.4", "0.6"] } a check batch, each as a trial
//! POST /api/experiments/{id}/readings   { "values": [{ "run": "3", "read": "Viscosity", "value": "4180; 4200" }] }: all is kept, or nothing
//! POST /api/experiments/{id}/answer     { "model": "data", "percent": ["0.4", "0.6"] }: what the runs say, and what they say of a blend
//! POST /api/experiments/{id}/seen       { "of": "Viscosity", "across": ["A", "B", "C"], "held": [["D", "1"]] }: the figure across three parts
//! ```

use crate::desk::{Answer, Correction, Entered, MeasuredFile, Plate};
use crate::measured::Sent;
use crate::pages::{Frame, Page, data, frame, page};
use crate::studies::PullKept;
use crate::trouble::Trouble;
use crate::window::{Body, Door, Given, MOST_BYTES_MEASURED, identifier};
use askama::Template;
use async_trait::async_trait;
use axum::extract::{Path, Query};
use axum::routing::{get, post};
use axum::{Json, Router};
use levigate_project::workbench::batch::Outcome;
use levigate_project::workbench::experiments::GroundLine;
pub use levigate_project::workbench::experiments::{
    Asking, ExperimentAnswer, ExperimentBook, ExperimentCard, ExperimentLook, Looking, TypedExperiment,
    TypedMaking, TypedRunReading, TypedRunReadings, Unanswered,
};
pub use levigate_project::workbench::readings_table::ReadingsTable;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::Arc;

type Told<T> = Result<Json<T>, Trouble>;

/// The questions asked about experiments; part of every desk.
#[async_trait]
pub trait ExperimentDesk: Send + Sync {
    /// All experiments, the newest in front.
    async fn experiments(&self) -> Answer<Vec<ExperimentCard>>;
    /// What an experiment with a formula begins from.
    async fn experiment_ground(&self, formula: &str) -> Answer<ExperimentGround>;
    /// What a plan as typed would be; keeps nothing.
    async fn look_at_experiment(&self, typed: &TypedExperiment) -> Answer<LookTold>;
    /// One experiment as it stands.
    async fn experiment(&self, id: &str) -> Answer<ExperimentOpened>;
    /// Plans an experiment.
    async fn plan_experiment(&self, typed: &TypedExperiment) -> Answer<Entered>;
    /// Changes its plan; without a plan in its place it is given up.
    async fn change_experiment(&self, id: &str, correction: &Correction<TypedExperiment>) -> Answer<Entered>;
    /// Begins a run or a check batch.
    async fn make_run(&self, id: &str, typed: &TypedMaking) -> Answer<Entered>;
    /// Keeps what was read of runs, all of it or nothing, and says how many readings that are.
    async fn keep_run_readings(&self, id: &str, typed: &TypedRunReadings) -> Answer<PullKept>;
    /// What a table of readings would bring; writes nothing.
    async fn look_at_run_readings(&self, id: &str, file: MeasuredFile) -> Answer<ReadingsTable>;
    /// Keeps every reading of a table, or none.
    async fn bring_run_readings(&self, id: &str, file: MeasuredFile) -> Answer<PullKept>;
    /// Strikes a reading out; another stands in its place, or none.
    async fn correct_experiment_reading(
        &self,
        id: &str,
        correction: &Correction<TypedRunReading>,
    ) -> Answer<Entered>;
    /// What the runs say.
    async fn experiment_answer(&self, id: &str, asking: &Asking) -> Answer<AnswerTold>;
    /// A reading, or all wishes together, across parts or settings.
    async fn experiment_seen(&self, id: &str, looking: &Looking) -> Answer<SeenTold>;
}

/// What an experiment with a formula begins from.
#[derive(Clone, Debug, Default, Serialize)]
pub struct ExperimentGround {
    /// Formula.
    pub formula: String,
    /// Its name.
    pub name: String,
    /// Newest version.
    pub version: u32,
    /// Lines that can be varied.
    pub lines: Vec<GroundLine>,
}

/// What a plan as typed would be.
#[derive(Clone, Debug, Serialize)]
pub struct LookTold {
    /// Runs, or what is wrong.
    #[serde(flatten)]
    pub look: ExperimentLook,
    /// How long the choice took; absent where nothing was chosen.
    pub took: Option<Outcome>,
    /// The region with the runs, of three parts.
    pub plate: Option<Plate>,
}

/// An experiment opened.
#[derive(Clone, Debug, Serialize)]
pub struct ExperimentOpened {
    /// As it stands.
    #[serde(flatten)]
    pub book: ExperimentBook,
    /// Sources by key.
    pub sources: BTreeMap<String, String>,
}

/// What the runs say.
#[derive(Clone, Debug, Serialize)]
pub struct AnswerTold {
    /// Models, predictions, the best blend.
    #[serde(flatten)]
    pub told: ExperimentAnswer,
    /// Residuals of every reading that has a model, in their order.
    pub residuals: Vec<Plate>,
    /// Sources by key.
    pub sources: BTreeMap<String, String>,
}

/// A figure across parts or settings.
#[derive(Clone, Debug, Default, Serialize)]
pub struct SeenTold {
    /// The figure; none where nothing can be seen.
    pub plate: Option<Plate>,
    /// Whether it lies across a plane; else it runs along one axis.
    pub plane: bool,
    /// What is varied.
    pub across: Vec<String>,
    /// What is held: name, level, unit.
    pub held: Vec<(String, String, String)>,
    /// Why nothing can be seen.
    pub refused: Option<Unanswered>,
}

/// The routes.
pub fn routes() -> Router<Arc<Door>> {
    Router::new()
        .route("/experiments", get(experiments_page))
        .route("/experiments/new", get(new_page))
        .route("/experiments/{id}", get(experiment_page))
        .route("/api/experiments", get(list).post(plan))
        .route("/api/experiments/look", post(look))
        .route("/api/experiments/{id}", get(opened))
        .route("/api/experiments/{id}/plan", post(change))
        .route("/api/experiments/{id}/runs", post(make))
        .route("/api/experiments/{id}/readings", post(keep))
        .route("/api/experiments/{id}/table", post(bring_table))
        .route("/api/experiments/{id}/table/preview", post(look_at_table))
        .route("/api/experiments/{id}/answer", post(answer))
        .route("/api/experiments/{id}/seen", post(seen))
        .route("/api/experiment-readings/{id}/correction", post(correct))
        .route("/api/formulas/{id}/experiment-ground", get(ground))
}

#[derive(Template)]
#[template(path = "experiments.html")]
struct ExperimentsPage {
    frame: Frame,
    data: String,
}

#[derive(Serialize)]
struct ExperimentsData {
    experiments: Vec<ExperimentCard>,
}

/// All experiments.
pub async fn experiments_page(Given(room): Given) -> Page {
    let data = data(&ExperimentsData { experiments: room.desk.experiments().await? })?;
    page(&ExperimentsPage { frame: frame(&room, "formulas").await?, data })
}

#[derive(Template)]
#[template(path = "experiment.html")]
struct ExperimentPage {
    frame: Frame,
    name: String,
    formula: String,
    formula_id: String,
    version: u32,
    data: String,
}

/// One experiment.
pub async fn experiment_page(Given(room): Given, Path(id): Path<String>) -> Page {
    let opened = room.desk.experiment(identifier(&id)?).await?;
    let card = opened.book.card.clone();
    let data = data(&opened)?;
    page(&ExperimentPage {
        frame: frame(&room, "formulas").await?,
        name: card.name,
        formula: card.formula,
        formula_id: card.formula_id,
        version: card.version,
        data,
    })
}

/// Which formula an experiment begins from; `none` for freely named parts.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Of {
    formula: String,
}

#[derive(Template)]
#[template(path = "experiment_new.html")]
struct NewPage {
    frame: Frame,
    data: String,
}

#[derive(Serialize)]
struct NewData {
    formulas: Vec<(String, String)>,
    ground: Option<ExperimentGround>,
}

/// An experiment to be planned.
pub async fn new_page(Given(room): Given, Query(of): Query<Of>) -> Page {
    let formulas: Vec<(String, String)> =
        room.desk.formulas().await?.into_iter().map(|card| (card.id, card.name)).collect();
    let ground = match of.formula.as_str() {
        "" => None,
        "none" => Some(ExperimentGround::default()),
        id => Some(room.desk.experiment_ground(identifier(id)?).await?),
    };
    let data = data(&NewData { formulas, ground })?;
    page(&NewPage { frame: frame(&room, "formulas").await?, data })
}

/// All experiments.
pub async fn list(Given(room): Given) -> Told<Vec<ExperimentCard>> {
    room.desk.experiments().await.map(Json)
}

/// What an experiment begins from.
pub async fn ground(Given(room): Given, Path(id): Path<String>) -> Told<ExperimentGround> {
    room.desk.experiment_ground(identifier(&id)?).await.map(Json)
}

/// What a plan as typed would be.
pub async fn look(Given(room): Given, Body(typed): Body<TypedExperiment>) -> Told<LookTold> {
    room.desk.look_at_experiment(&typed).await.map(Json)
}

/// One experiment.
pub async fn opened(Given(room): Given, Path(id): Path<String>) -> Told<ExperimentOpened> {
    room.desk.experiment(identifier(&id)?).await.map(Json)
}

/// Plans an experiment.
pub async fn plan(Given(room): Given, Body(typed): Body<TypedExperiment>) -> Told<Entered> {
    room.desk.plan_experiment(&typed).await.map(Json)
}

/// Changes a plan.
pub async fn change(
    Given(room): Given,
    Path(id): Path<String>,
    Body(correction): Body<Correction<TypedExperiment>>,
) -> Told<Entered> {
    room.desk.change_experiment(identifier(&id)?, &correction).await.map(Json)
}

/// Begins a run or a check batch.
pub async fn make(
    Given(room): Given,
    Path(id): Path<String>,
    Body(typed): Body<TypedMaking>,
) -> Told<Entered> {
    room.desk.make_run(identifier(&id)?, &typed).await.map(Json)
}

/// Keeps readings.
pub async fn keep(
    Given(room): Given,
    Path(id): Path<String>,
    Body(typed): Body<TypedRunReadings>,
) -> Told<PullKept> {
    room.desk.keep_run_readings(identifier(&id)?, &typed).await.map(Json)
}

/// What a table of readings would bring.
pub async fn look_at_table(
    Given(room): Given,
    Path(id): Path<String>,
    Body(sent): Body<Sent, MOST_BYTES_MEASURED>,
) -> Told<ReadingsTable> {
    room.desk.look_at_run_readings(identifier(&id)?, sent.handed_in()?).await.map(Json)
}

/// Keeps a table of readings.
pub async fn bring_table(
    Given(room): Given,
    Path(id): Path<String>,
    Body(sent): Body<Sent, MOST_BYTES_MEASURED>,
) -> Told<PullKept> {
    room.desk.bring_run_readings(identifier(&id)?, sent.handed_in()?).await.map(Json)
}

/// Corrects a reading.
pub async fn correct(
    Given(room): Given,
    Path(id): Path<String>,
    Body(correction): Body<Correction<TypedRunReading>>,
) -> Told<Entered> {
    room.desk.correct_experiment_reading(identifier(&id)?, &correction).await.map(Json)
}

/// What the runs say.
pub async fn answer(
    Given(room): Given,
    Path(id): Path<String>,
    Body(asking): Body<Asking>,
) -> Told<AnswerTold> {
    room.desk.experiment_answer(identifier(&id)?, &asking).await.map(Json)
}

/// A figure across parts or settings.
pub async fn seen(
    Given(room): Given,
    Path(id): Path<String>,
    Body(looking): Body<Looking>,
) -> Told<SeenTold> {
    room.desk.experiment_seen(identifier(&id)?, &looking).await.map(Json)
}

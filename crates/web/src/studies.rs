//! Stability studies: the questions of the pages, their HTML and JSON routes.
//!
//! ```json
//! POST /api/formulas/{id}/studies       a study as typed; a device makes its `id`, and sends it again until it hears that it is kept
//! POST /api/studies/{id}/pulls          { "condition": "25 °C, 60 % r.h.", "pull": "13 weeks", "on": "2026-11-24", "values": [{ "batch": "…",
//!                                         "pack": "…", "attribute": "pH", "value": "5,42; 5,44" }] }: all of it is kept, or nothing
//! POST /api/study-readings/{id}/correction { "reason": "misread", "instead": { "value": "5,42" } }, or without `instead` to take it back
//! ```

use crate::desk::{Answer, Correction, Entered, MeasuredFile, Plate};
use crate::measured::Sent;
use crate::pages::{Frame, Page, data, frame, page};
use crate::trouble::Trouble;
use crate::window::{Body, Door, Given, MOST_BYTES_MEASURED, identifier};
use askama::Template;
use async_trait::async_trait;
use axum::extract::{Path, Query};
use axum::routing::{get, post};
use axum::{Json, Router};
pub use levigate_project::workbench::readings_table::ReadingsTable;
pub use levigate_project::workbench::studies::{
    DuePull, StudyBook, StudyCard, StudyLosses, StudyPractice, StudyShift, StudyTrend, TypedPull, TypedStudy,
    TypedValue,
};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::Arc;

type Told<T> = Result<Json<T>, Trouble>;

/// The questions asked about studies; part of every desk.
#[async_trait]
pub trait StudyDesk: Send + Sync {
    /// All studies, the newest in front.
    async fn studies(&self) -> Answer<Vec<StudyCard>>;
    /// What is overdue, due, and comes within so many days.
    async fn due(&self, days_ahead: i64) -> Answer<Vec<DuePull>>;
    /// What a study of a formula begins from.
    async fn study_ground(&self, formula: &str) -> Answer<StudyGround>;
    /// One study as it stands.
    async fn study(&self, id: &str) -> Answer<StudyOpened>;
    /// Plans a study of a formula.
    async fn plan_study(&self, formula: &str, typed: &TypedStudy) -> Answer<Entered>;
    /// Changes the plan of a study; without a plan in its place it is given up.
    async fn change_study(&self, id: &str, correction: &Correction<TypedStudy>) -> Answer<Entered>;
    /// Keeps what was read at a pull, all of it or nothing, and says how many readings that are.
    async fn keep_pull(&self, id: &str, typed: &TypedPull) -> Answer<PullKept>;
    /// What a table of readings would bring; writes nothing.
    async fn look_at_readings(&self, id: &str, file: MeasuredFile) -> Answer<ReadingsTable>;
    /// Keeps every reading of a table, or none.
    async fn bring_readings(&self, id: &str, file: MeasuredFile) -> Answer<PullKept>;
    /// Strikes a reading out; another stands in its place, or none.
    async fn correct_study_reading(&self, id: &str, correction: &Correction<TypedValue>) -> Answer<Entered>;
    /// An attribute over time at one condition in one kind of pack.
    async fn study_trend(&self, id: &str, of: &TrendAsked) -> Answer<TrendTold>;
    /// What a pH that moved stands for.
    async fn study_shift(&self, id: &str, of: &TrendAsked) -> Answer<ShiftTold>;
    /// A content at several temperatures.
    async fn study_losses(&self, id: &str, of: &TrendAsked) -> Answer<LossesTold>;
}

/// What a study of a formula begins from.
#[derive(Clone, Debug, Default, Serialize)]
pub struct StudyGround {
    /// Formula.
    pub formula: String,
    /// Its name.
    pub name: String,
    /// Newest version.
    pub version: u32,
    /// Today, ISO.
    pub today: String,
    /// Trials that can be kept.
    pub trials: Vec<TrialChoice>,
}

/// A trial that can be kept in a study.
#[derive(Clone, Debug, Default, Serialize)]
pub struct TrialChoice {
    /// Identity.
    pub id: String,
    /// Its batch code, or its number.
    pub name: String,
    /// Version that was made.
    pub version: u32,
}

/// A study opened.
#[derive(Clone, Debug, Serialize)]
pub struct StudyOpened {
    /// As it stands.
    #[serde(flatten)]
    pub book: StudyBook,
    /// Today, ISO.
    pub today: String,
    /// Sources by key.
    pub sources: BTreeMap<String, String>,
}

/// How many readings were kept.
#[derive(Clone, Copy, Debug, Default, Serialize)]
pub struct PullKept {
    /// Readings.
    pub readings: usize,
}

/// Which trend.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(default)]
pub struct TrendAsked {
    /// Attribute.
    pub attribute: String,
    /// Pack.
    pub pack: String,
    /// Condition.
    pub condition: String,
}

/// A trend with its figure.
#[derive(Clone, Debug, Serialize)]
pub struct TrendTold {
    /// Points, lines, what follows.
    pub trend: StudyTrend,
    /// The figure; none where there is no point.
    pub plate: Option<Plate>,
    /// Sources by key.
    pub sources: BTreeMap<String, String>,
}

/// A law of temperature with its figure.
#[derive(Clone, Debug, Serialize)]
pub struct LossesTold {
    /// What the law says.
    pub losses: StudyLosses,
    /// The figure; none without a law.
    pub plate: Option<Plate>,
    /// Sources by key.
    pub sources: BTreeMap<String, String>,
}

/// What a pH that moved stands for.
#[derive(Clone, Debug, Serialize)]
pub struct ShiftTold {
    /// In numbers and causes.
    pub shift: StudyShift,
    /// Sources by key.
    pub sources: BTreeMap<String, String>,
}

/// The routes.
pub fn routes() -> Router<Arc<Door>> {
    Router::new()
        .route("/studies", get(studies_page))
        .route("/studies/new", get(new_page))
        .route("/studies/{id}", get(study_page))
        .route("/api/studies", get(list))
        .route("/api/studies/due", get(due))
        .route("/api/studies/{id}", get(opened))
        .route("/api/studies/{id}/plan", post(change))
        .route("/api/studies/{id}/pulls", post(keep_pull))
        .route("/api/studies/{id}/table", post(bring_table))
        .route("/api/studies/{id}/table/preview", post(look_at_table))
        .route("/api/studies/{id}/trend", get(trend))
        .route("/api/studies/{id}/losses", get(losses))
        .route("/api/studies/{id}/shift", get(shift))
        .route("/api/study-readings/{id}/correction", post(correct))
        .route("/api/formulas/{id}/studies", post(plan))
        .route("/api/formulas/{id}/study-ground", get(ground))
}

/// Days of the calendar that are looked ahead.
const AHEAD_DAYS: i64 = 42;

#[derive(Template)]
#[template(path = "studies.html")]
struct StudiesPage {
    frame: Frame,
    data: String,
}

#[derive(Serialize)]
struct StudiesData {
    studies: Vec<StudyCard>,
    due: Vec<DuePull>,
    today: String,
}

/// All studies, and what is due.
pub async fn studies_page(Given(room): Given) -> Page {
    let today = room.desk.studio().await?.as_of;
    let (studies, due) = (room.desk.studies().await?, room.desk.due(AHEAD_DAYS).await?);
    let data = data(&StudiesData { studies, due, today })?;
    page(&StudiesPage { frame: frame(&room, "studies").await?, data })
}

#[derive(Template)]
#[template(path = "study.html")]
struct StudyPage {
    frame: Frame,
    name: String,
    formula: String,
    formula_id: String,
    version: u32,
    data: String,
}

#[derive(Serialize)]
struct StudyData {
    study: StudyOpened,
    practice: &'static StudyPractice,
}

/// One study.
pub async fn study_page(Given(room): Given, Path(id): Path<String>) -> Page {
    let study = room.desk.study(identifier(&id)?).await?;
    let card = &study.book.card;
    let (name, formula, formula_id, version) =
        (card.name.clone(), card.formula.clone(), card.formula_id.clone(), card.version);
    let data = data(&StudyData { study, practice: StudyPractice::shipped() })?;
    page(&StudyPage { frame: frame(&room, "studies").await?, name, formula, formula_id, version, data })
}

/// Which formula a study begins from.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Of {
    formula: String,
}

#[derive(Template)]
#[template(path = "study_new.html")]
struct NewPage {
    frame: Frame,
    data: String,
}

#[derive(Serialize)]
struct NewData {
    practice: &'static StudyPractice,
    formulas: Vec<(String, String)>,
    ground: Option<StudyGround>,
}

/// A study to be planned.
pub async fn new_page(Given(room): Given, Query(of): Query<Of>) -> Page {
    let formulas: Vec<(String, String)> =
        room.desk.formulas().await?.into_iter().map(|card| (card.id, card.name)).collect();
    let ground = match of.formula.as_str() {
        "" => None,
        id => Some(room.desk.study_ground(identifier(id)?).await?),
    };
    let data = data(&NewData { practice: StudyPractice::shipped(), formulas, ground })?;
    page(&NewPage { frame: frame(&room, "studies").await?, data })
}

/// All studies.
pub async fn list(Given(room): Given) -> Told<Vec<StudyCard>> {
    room.desk.studies().await.map(Json)
}

/// How far ahead.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Ahead {
    days: String,
}

/// The calendar.
pub async fn due(Given(room): Given, Query(ahead): Query<Ahead>) -> Told<Vec<DuePull>> {
    let days = ahead.days.parse().unwrap_or(AHEAD_DAYS).clamp(0, 3660);
    room.desk.due(days).await.map(Json)
}

/// What a study begins from.
pub async fn ground(Given(room): Given, Path(id): Path<String>) -> Told<StudyGround> {
    room.desk.study_ground(identifier(&id)?).await.map(Json)
}

/// One study.
pub async fn opened(Given(room): Given, Path(id): Path<String>) -> Told<StudyOpened> {
    room.desk.study(identifier(&id)?).await.map(Json)
}

/// Plans a study.
pub async fn plan(
    Given(room): Given,
    Path(id): Path<String>,
    Body(typed): Body<TypedStudy>,
) -> Told<Entered> {
    room.desk.plan_study(identifier(&id)?, &typed).await.map(Json)
}

/// Changes a plan.
pub async fn change(
    Given(room): Given,
    Path(id): Path<String>,
    Body(correction): Body<Correction<TypedStudy>>,
) -> Told<Entered> {
    room.desk.change_study(identifier(&id)?, &correction).await.map(Json)
}

/// Keeps a pull.
pub async fn keep_pull(
    Given(room): Given,
    Path(id): Path<String>,
    Body(typed): Body<TypedPull>,
) -> Told<PullKept> {
    room.desk.keep_pull(identifier(&id)?, &typed).await.map(Json)
}

/// What a table of readings would bring.
pub async fn look_at_table(
    Given(room): Given,
    Path(id): Path<String>,
    Body(sent): Body<Sent, MOST_BYTES_MEASURED>,
) -> Told<ReadingsTable> {
    room.desk.look_at_readings(identifier(&id)?, sent.handed_in()?).await.map(Json)
}

/// Keeps a table of readings.
pub async fn bring_table(
    Given(room): Given,
    Path(id): Path<String>,
    Body(sent): Body<Sent, MOST_BYTES_MEASURED>,
) -> Told<PullKept> {
    room.desk.bring_readings(identifier(&id)?, sent.handed_in()?).await.map(Json)
}

/// Corrects a reading.
pub async fn correct(
    Given(room): Given,
    Path(id): Path<String>,
    Body(correction): Body<Correction<TypedValue>>,
) -> Told<Entered> {
    room.desk.correct_study_reading(identifier(&id)?, &correction).await.map(Json)
}

/// A trend.
pub async fn trend(
    Given(room): Given,
    Path(id): Path<String>,
    Query(of): Query<TrendAsked>,
) -> Told<TrendTold> {
    room.desk.study_trend(identifier(&id)?, &of).await.map(Json)
}

/// A law of temperature.
pub async fn losses(
    Given(room): Given,
    Path(id): Path<String>,
    Query(of): Query<TrendAsked>,
) -> Told<LossesTold> {
    room.desk.study_losses(identifier(&id)?, &of).await.map(Json)
}

/// What a pH that moved stands for.
pub async fn shift(
    Given(room): Given,
    Path(id): Path<String>,
    Query(of): Query<TrendAsked>,
) -> Told<ShiftTold> {
    room.desk.study_shift(identifier(&id)?, &of).await.map(Json)
}

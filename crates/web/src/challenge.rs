//! Challenge tests of a formula: the questions of the page, the page, and its JSON routes.
//!
//! `GET /api/formulas/{id}/challenge` answers a [`ChallengePage`]; a post there keeps a test, `POST /api/challenges/{id}/correction` strikes one out.
//! `POST /api/challenge/table` takes a table as pasted `text`, or as `bytes` in base 64 with its name in `file`, and answers its cells; it writes
//! nothing.

use crate::desk::{Answer, Correction, Entered, MeasuredFile, Plate};
use crate::measured::Sent;
use crate::pages::{Frame, Page, data, frame, page};
use crate::trouble::Trouble;
use crate::window::{Body, Given, MOST_BYTES_MEASURED, identifier};
use askama::Template;
use async_trait::async_trait;
use axum::Json;
use axum::extract::Path;
use levigate_project::bringing::CountTable;
use levigate_project::workbench::challenge_tests::{ChallengeBook, TypedChallenge};
use serde::Serialize;

type Told<T> = Result<Json<T>, Trouble>;

/// The questions about challenge tests; part of every desk.
#[async_trait]
pub trait ChallengeDesk: Send + Sync {
    /// The tests of a formula, judged and drawn.
    async fn challenge_tests(&self, formula: &str) -> Answer<ChallengePage>;
    /// Keeps a test.
    async fn keep_challenge(&self, formula: &str, typed: &TypedChallenge) -> Answer<Entered>;
    /// Strikes a test out; another stands in its place, or none.
    async fn correct_challenge(&self, id: &str, correction: &Correction<TypedChallenge>) -> Answer<Entered>;
    /// What a table holds: all of it, or why nothing of it is taken.
    async fn challenge_table(&self, file: MeasuredFile) -> Answer<CountTable>;
}

/// The tests of a formula as the page shows them.
#[derive(Clone, Debug, Serialize)]
pub struct ChallengePage {
    /// The tests.
    #[serde(flatten)]
    pub book: ChallengeBook,
    /// Figures of each test that stands, one per organism, in the order of the tests.
    pub plates: Vec<Vec<Plate>>,
}

#[derive(Template)]
#[template(path = "challenge.html")]
struct Shown {
    frame: Frame,
    id: String,
    name: String,
    data: String,
}

/// The page.
pub async fn show(Given(room): Given, Path(id): Path<String>) -> Page {
    let id = identifier(&id)?.to_owned();
    let tests = room.desk.challenge_tests(&id).await?;
    let data = data(&tests)?;
    page(&Shown { frame: frame(&room, "formulas").await?, id, name: tests.book.name, data })
}

/// The tests of a formula.
pub async fn tests(Given(room): Given, Path(id): Path<String>) -> Told<ChallengePage> {
    room.desk.challenge_tests(identifier(&id)?).await.map(Json)
}

/// Keeps a test.
pub async fn keep(
    Given(room): Given,
    Path(id): Path<String>,
    Body(typed): Body<TypedChallenge>,
) -> Told<Entered> {
    room.desk.keep_challenge(identifier(&id)?, &typed).await.map(Json)
}

/// Strikes a test out.
pub async fn correct(
    Given(room): Given,
    Path(id): Path<String>,
    Body(correction): Body<Correction<TypedChallenge>>,
) -> Told<Entered> {
    room.desk.correct_challenge(identifier(&id)?, &correction).await.map(Json)
}

/// What a table holds.
pub async fn table(Given(room): Given, Body(sent): Body<Sent, MOST_BYTES_MEASURED>) -> Told<CountTable> {
    room.desk.challenge_table(sent.handed_in()?).await.map(Json)
}

//! JSON routes of batches, of lots on the shelf, and of where a lot went.
//!
//! A device makes the identity of what it sends (a UUID in `id`) and the time (`at`), and sends it again until it hears that it is
//! kept: `already` says that it was kept before. What was typed travels as text.
//!
//! ```json
//! POST /api/formulas/{id}/batches { "id": "018f...", "version": 2, "size": "200", "unit": "g", "lots": [{ "line": 7, "code": "MA-1" }] }
//! POST /api/batches/{id}/entries  { "id": "018f...", "at": "2026-11-24T09:30:00Z", "did": "weighed", "step": 3, "line": 2,
//!                                   "lot": "MA-1", "tare": "10.02", "gross": "15.04", "unit": "g", "instrument": "balance 1" }
//! POST /api/batches/{id}/undo     { "id": "018f...", "entry": "018f...", "reason": "wrong boat" }
//! ```
//!
//! `did` is one of weighed, added, water, vessel, gross, temperature, temperature_log, speed, calibrated, ph, started, finished, skipped, checked, sample,
//! output, lost, note, deviation, photo, decided ([`levigate_project::workbench::batch::TypedEntry`] says which fields each one reads). An undo
//! that arrives before the entry it takes back is answered with 404 and is to be sent again behind it. Readings and observations of the
//! trial, retained samples, movements of stock and decisions about lots carry `id` and `at` the same way; without them each sending is
//! one more.

use crate::bench::bytes_of;
use crate::desk::{
    BatchCard, BatchState, BenchAdvice, Entered, EntryCorrection, KeptEntry, LotStock, PlanBefore, ShelfLot,
    Started, Suggested, TemperatureView, Traced, TypedBatch, TypedEntry, TypedMovement, TypedSample,
    TypedSignOff, TypedStatus, TypedUndo, TypedVessel,
};
use crate::trouble::Trouble;
use crate::window::{Body, Door, Given, MOST_BYTES_WITH_PHOTO, identifier};
use axum::extract::{Path, Query};
use axum::routing::{get, post};
use axum::{Json, Router};
use levigate_project::people::Right;
use levigate_project::workbench::people::Signature;
use serde::Deserialize;
use std::sync::Arc;

type Told<T> = Result<Json<T>, Trouble>;

/// Batches in a list when nobody says how many.
const USUAL: u32 = 100;
/// Most batches in a list.
const MOST: u32 = 1000;

/// The routes.
pub fn routes() -> Router<Arc<Door>> {
    Router::new()
        .route("/api/formulas/{id}/batches", post(start))
        .route("/api/formulas/{id}/batches/plan", post(plan))
        .route("/api/batches", get(list))
        .route("/api/batches/{id}", get(state))
        .route("/api/batches/{id}/entries", post(entry))
        .route("/api/batches/{id}/undo", post(undo))
        .route("/api/batches/{id}/steps/{step}/advice", get(advice))
        .route("/api/batches/{id}/corrections", post(correct))
        .route("/api/batches/{id}/sign-off", post(sign_off))
        .route("/api/batches/{id}/samples", post(sample))
        .route("/api/batches/{id}/lines/{line}/lots", get(lots_for_line))
        .route("/api/batches/{id}/next", get(next))
        .route("/api/batches/{id}/temperatures", get(temperatures))
        .route("/api/lots/shelf", get(shelf))
        .route("/api/lots/{id}", get(lot))
        .route("/api/lots/{id}/status", post(decide_lot))
        .route("/api/lots/{id}/movements", post(move_stock))
        .route("/api/movements/{id}/correction", post(take_back))
        .route("/api/trace", get(trace))
}

/// Starts a batch.
pub async fn start(
    Given(room): Given,
    Path(formula): Path<String>,
    Body(typed): Body<TypedBatch>,
) -> Told<Started> {
    room.desk.start_batch(identifier(&formula)?, &typed).await.map(Json)
}

/// The plan a batch would have: nothing is kept.
pub async fn plan(
    Given(room): Given,
    Path(id): Path<String>,
    Body(typed): Body<TypedBatch>,
) -> Told<PlanBefore> {
    room.desk.plan_before(identifier(&id)?, &typed).await.map(Json)
}

/// How many.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct HowMany {
    most: String,
}

/// The newest batches.
pub async fn list(Given(room): Given, Query(how): Query<HowMany>) -> Told<Vec<BatchCard>> {
    let most = how.most.parse().unwrap_or(USUAL);
    room.desk.batches(most.clamp(1, MOST)).await.map(Json)
}

/// A batch by identity or code.
pub async fn state(Given(room): Given, Path(batch): Path<String>) -> Told<BatchState> {
    room.desk.batch(named(&batch)?).await.map(Json)
}

/// An entry with the bytes of its photo in base 64.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Sent {
    #[serde(flatten)]
    typed: TypedEntry,
    photo: Option<String>,
}

/// Keeps an entry.
pub async fn entry(
    Given(room): Given,
    Path(batch): Path<String>,
    Body(sent): Body<Sent, MOST_BYTES_WITH_PHOTO>,
) -> Told<KeptEntry> {
    room.desk.batch_entry(identifier(&batch)?, &sent.typed, bytes_of(sent.photo)?).await.map(Json)
}

/// Takes an entry back.
pub async fn undo(
    Given(room): Given,
    Path(batch): Path<String>,
    Body(typed): Body<TypedUndo>,
) -> Told<KeptEntry> {
    room.desk.undo_entry(identifier(&batch)?, &typed).await.map(Json)
}

/// What is to be added next; what went in last when empty.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct OfWhat {
    with: String,
}

/// The next addition at a step that adds to a pH, from what is in the beaker and what was read so far.
pub async fn advice(
    Given(room): Given,
    Path((batch, step)): Path<(String, String)>,
    Query(of): Query<OfWhat>,
) -> Told<BenchAdvice> {
    let step = step.parse().map_err(|_| Trouble::not_found("There is no such step.").in_field("step"))?;
    let with: String = of.with.chars().take(200).collect();
    room.desk.bench_advice(identifier(&batch)?, step, &with).await.map(Json)
}

/// Puts an entry in the place of another.
pub async fn correct(
    Given(room): Given,
    Path(batch): Path<String>,
    Body(correction): Body<EntryCorrection>,
) -> Told<KeptEntry> {
    room.desk.correct_entry(identifier(&batch)?, &correction).await.map(Json)
}

/// What is signed for, and the ticket of the signature that `/api/sign` gave.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Signed {
    #[serde(flatten)]
    typed: TypedSignOff,
    signature: String,
}

/// Signs a batch off. Where people log in, whoever made it signs for having made it, and who may sign off for the rest; the password is
/// heard again by `/api/sign`. Where nobody does, the name is initialled.
pub async fn sign_off(
    Given(room): Given,
    Path(batch): Path<String>,
    Body(signed): Body<Signed>,
) -> Told<Entered> {
    let batch = identifier(&batch)?;
    let made = matches!(signed.typed.signed_as.trim(), "" | "made");
    room.may(if made { Right::Enter } else { Right::SignOff })?;
    let signature = match room.house().open() {
        true => Signature::of(&room.hand, jiff::Timestamp::now()),
        false => room.signed(&signed.signature)?,
    };
    room.desk.sign_off(batch, &signed.typed, &signature).await.map(Json)
}

/// Keeps a record of a retained sample.
pub async fn sample(
    Given(room): Given,
    Path(batch): Path<String>,
    Body(typed): Body<TypedSample>,
) -> Told<Entered> {
    room.desk.retain_sample(identifier(&batch)?, &typed).await.map(Json)
}

/// Lots for a line.
pub async fn lots_for_line(
    Given(room): Given,
    Path((batch, line)): Path<(String, String)>,
) -> Told<Vec<Suggested>> {
    let line = line.parse().map_err(|_| Trouble::not_found("There is no such line.").in_field("line"))?;
    room.desk.lots_for_line(identifier(&batch)?, line).await.map(Json)
}

/// The temperature over time, as planned and as read.
pub async fn temperatures(
    Given(room): Given,
    Path(batch): Path<String>,
    Query(vessel): Query<TypedVessel>,
) -> Told<TemperatureView> {
    room.desk.temperatures(identifier(&batch)?, &vessel).await.map(Json)
}

/// What the next batch starts from.
pub async fn next(Given(room): Given, Path(batch): Path<String>) -> Told<TypedBatch> {
    room.desk.next_batch(identifier(&batch)?).await.map(Json)
}

/// All lots as they stand on the shelf.
pub async fn shelf(Given(room): Given) -> Told<Vec<ShelfLot>> {
    room.desk.shelf_lots().await.map(Json)
}

/// A lot with its stock.
pub async fn lot(Given(room): Given, Path(id): Path<String>) -> Told<LotStock> {
    room.desk.lot(identifier(&id)?).await.map(Json)
}

/// Decides about a lot.
pub async fn decide_lot(
    Given(room): Given,
    Path(id): Path<String>,
    Body(typed): Body<TypedStatus>,
) -> Told<Entered> {
    room.desk.decide_lot(identifier(&id)?, &typed).await.map(Json)
}

/// Moves stock by hand.
pub async fn move_stock(
    Given(room): Given,
    Path(id): Path<String>,
    Body(typed): Body<TypedMovement>,
) -> Told<Entered> {
    room.desk.move_stock(identifier(&id)?, &typed).await.map(Json)
}

/// Why something is taken back.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Reasoned {
    reason: String,
}

/// Takes a movement back.
pub async fn take_back(
    Given(room): Given,
    Path(id): Path<String>,
    Body(typed): Body<Reasoned>,
) -> Told<Entered> {
    room.desk.take_back_movement(identifier(&id)?, &typed.reason).await.map(Json)
}

/// What is traced.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Wanted {
    material: String,
    lot: String,
    batch: String,
}

/// Where a lot went, and what is in a batch.
pub async fn trace(Given(room): Given, Query(wanted): Query<Wanted>) -> Told<Traced> {
    let short = |text: &str| text.trim().chars().take(200).collect::<String>();
    let (material, lot, batch) = (short(&wanted.material), short(&wanted.lot), short(&wanted.batch));
    room.desk.trace(&material, &lot, &batch).await.map(Json)
}

/// A batch code or identity from an address.
pub(crate) fn named(text: &str) -> Result<&str, Trouble> {
    let sound = !text.is_empty()
        && text.len() <= 80
        && text.bytes().all(|byte| byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'_' | b'.'));
    if sound { Ok(text) } else { Err(Trouble::not_found("There is no such batch.").in_field("address")) }
}

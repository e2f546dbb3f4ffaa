//! JSON routes of the bench: trials, readings, observations, photos and lots.

use crate::api::Pair;
use crate::desk::{
    Correction, Effects, Entered, LotCard, TrialBook, TypedLot, TypedObservation, TypedReading, TypedTrial,
};
use crate::trouble::{Kind, Trouble};
use crate::window::{Body, Given, MOST_BYTES_WITH_PHOTO, identifier, number};
use axum::Json;
use axum::extract::{Path, Query};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use base64::Engine as _;
use base64::prelude::BASE64_STANDARD;
use serde::Deserialize;

type Told<T> = Result<Json<T>, Trouble>;

/// What a photo may do in a browser: be seen, and nothing else.
const PHOTO_POLICY: &str = "default-src 'none'; frame-ancestors 'none'; sandbox";

/// The trials of a formula.
pub async fn trials(Given(room): Given, Path(id): Path<String>) -> Told<TrialBook> {
    room.desk.trials(identifier(&id)?).await.map(Json)
}

/// What lies between two trials.
pub async fn trial_effects(
    Given(room): Given,
    Path(id): Path<String>,
    Query(pair): Query<Pair>,
) -> Told<Effects> {
    room.desk.trial_effects(identifier(&id)?, number(&pair.left)?, number(&pair.right)?).await.map(Json)
}

/// Begins a trial.
pub async fn begin_trial(
    Given(room): Given,
    Path(id): Path<String>,
    Body(typed): Body<TypedTrial>,
) -> Told<Entered> {
    room.desk.begin_trial(identifier(&id)?, &typed).await.map(Json)
}

/// Keeps a reading.
pub async fn add_reading(
    Given(room): Given,
    Path(trial): Path<String>,
    Body(typed): Body<TypedReading>,
) -> Told<Entered> {
    room.desk.add_reading(identifier(&trial)?, &typed).await.map(Json)
}

/// Strikes a reading out.
pub async fn correct_reading(
    Given(room): Given,
    Path(id): Path<String>,
    Body(correction): Body<Correction<TypedReading>>,
) -> Told<Entered> {
    room.desk.correct_reading(identifier(&id)?, &correction).await.map(Json)
}

/// An observation with the bytes of its photo in base 64.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Seen {
    #[serde(flatten)]
    typed: TypedObservation,
    photo: Option<String>,
}

/// Keeps an observation.
pub async fn observe(
    Given(room): Given,
    Path(trial): Path<String>,
    Body(seen): Body<Seen, MOST_BYTES_WITH_PHOTO>,
) -> Told<Entered> {
    room.desk.observe(identifier(&trial)?, &seen.typed, bytes_of(seen.photo)?).await.map(Json)
}

/// The bytes of a photo sent in base 64.
pub(crate) fn bytes_of(photo: Option<String>) -> Result<Option<Vec<u8>>, Trouble> {
    photo.map(|text| BASE64_STANDARD.decode(text)).transpose().map_err(|_| {
        Trouble::new(
            Kind::BadInput,
            "photo",
            "The photo did not arrive whole.",
            "Its bytes could not be read.",
            "Choose it again.",
        )
        .in_field("photo")
    })
}

/// Strikes an observation out.
pub async fn correct_observation(
    Given(room): Given,
    Path(id): Path<String>,
    Body(correction): Body<Correction<TypedObservation>>,
) -> Told<Entered> {
    room.desk.correct_observation(identifier(&id)?, &correction).await.map(Json)
}

/// A photo: its own type, never a page, never changed under its address.
pub async fn photo(Given(room): Given, Path(id): Path<String>) -> Result<Response, Trouble> {
    let id = identifier(&id)?;
    let photo = room.desk.photo(id).await?;
    // On a tablet that many log in at, nothing of one is left for the next.
    let keep = if room.hand.person.is_some() { "no-store" } else { "private, max-age=31536000, immutable" };
    let name = format!("inline; filename=\"photo-{id}.{}\"", photo.media().extension());
    let headers = [
        (header::CONTENT_TYPE, photo.media().name().to_owned()),
        (header::CONTENT_DISPOSITION, name),
        (header::CONTENT_SECURITY_POLICY, PHOTO_POLICY.to_owned()),
        (header::CACHE_CONTROL, keep.to_owned()),
    ];
    Ok((headers, photo.bytes().to_vec()).into_response())
}

/// Of which raw material.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Of {
    material: String,
}

/// Lots, of one raw material by any of its names or all.
pub async fn lots(Given(room): Given, Query(of): Query<Of>) -> Told<Vec<LotCard>> {
    let name: String = of.material.chars().take(200).collect();
    room.desk.lots(Some(name.trim()).filter(|name| !name.is_empty())).await.map(Json)
}

/// Keeps a lot.
pub async fn add_lot(Given(room): Given, Body(typed): Body<TypedLot>) -> Told<Entered> {
    room.desk.add_lot(&typed).await.map(Json)
}

/// Strikes a lot out.
pub async fn correct_lot(
    Given(room): Given,
    Path(id): Path<String>,
    Body(correction): Body<Correction<TypedLot>>,
) -> Told<Entered> {
    room.desk.correct_lot(identifier(&id)?, &correction).await.map(Json)
}

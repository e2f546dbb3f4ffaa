//! What the balances, meters and thermometers of this machine show.
//!
//! `GET /api/instruments` answers a list; a page at the beaker asks again and again while it is looked at. Nothing is kept by it: a weight counts
//! when whoever weighs takes it.

use crate::window::Given;
use axum::Json;
use levigate_project::instrument::InstrumentShown;

/// How each instrument stands; none where none is joined.
pub async fn shown(Given(room): Given) -> Json<Vec<InstrumentShown>> {
    Json(room.house().instruments.as_ref().map(|joined| joined.shown()).unwrap_or_default())
}

//! HTML routes of lots: the shelf, and one lot with its ledger, its decisions and where it went.

use crate::desk::LotStock;
use crate::pages::{Frame, Page, data, frame, page};
use crate::window::{Given, identifier};
use askama::Template;
use axum::extract::Path;
use levigate_project::people::Right;
use serde::Serialize;

#[derive(Template)]
#[template(path = "lots.html")]
struct LotsPage {
    frame: Frame,
    data: String,
}

/// The lots on the shelf.
pub async fn lots(Given(room): Given) -> Page {
    let data = data(&room.desk.shelf_lots().await?)?;
    page(&LotsPage { frame: frame(&room, "lots").await?, data })
}

#[derive(Template)]
#[template(path = "lot.html")]
struct LotPage {
    frame: Frame,
    code: String,
    material: String,
    key: String,
    data: String,
}

#[derive(Serialize)]
struct LotData {
    lot: LotStock,
    /// Whoever looks may release and reject lots, and take rejected ones up again.
    judges: bool,
}

/// One lot.
pub async fn lot(Given(room): Given, Path(id): Path<String>) -> Page {
    let lot = room.desk.lot(identifier(&id)?).await?;
    let (code, material, key) =
        (lot.card.lot.code.clone(), lot.card.material_name.clone(), lot.card.lot.material.clone());
    let judges = room.may(Right::JudgeLots).is_ok();
    let data = data(&LotData { lot, judges })?;
    page(&LotPage { frame: frame(&room, "lots").await?, code, material, key, data })
}

//! HTML routes of batches: the list, and one batch at the beaker.

use crate::desk::{BatchCard, BatchState, FormulaCard, Suggested};
use crate::pages::{Frame, Page, data, frame, page};
use crate::window::{Given, identifier};
use askama::Template;
use axum::extract::{Path, Query};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Batches on the page.
const SHOWN: u32 = 200;

/// Which formula a batch is to be begun of.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Of {
    formula: String,
}

#[derive(Template)]
#[template(path = "batches.html")]
struct BatchesPage {
    frame: Frame,
    data: String,
}

#[derive(Serialize)]
struct BatchesData {
    batches: Vec<BatchCard>,
    formulas: Vec<FormulaCard>,
    formula: String,
}

/// The list of batches.
pub async fn batches(Given(room): Given, Query(of): Query<Of>) -> Page {
    let formula = if of.formula.is_empty() { String::new() } else { identifier(&of.formula)?.to_owned() };
    let (batches, formulas) = (room.desk.batches(SHOWN).await?, room.desk.formulas().await?);
    let data = data(&BatchesData { batches, formulas, formula })?;
    page(&BatchesPage { frame: frame(&room, "batches").await?, data })
}

#[derive(Template)]
#[template(path = "batch.html")]
struct BatchPage {
    frame: Frame,
    code: String,
    product: String,
    data: String,
}

#[derive(Serialize)]
struct BatchData {
    batch: BatchState,
    /// Lots that could be taken, by the number of the line: the page goes on with them when the program does not answer.
    lots: BTreeMap<usize, Vec<Suggested>>,
    /// Citation of every source key of the plan.
    sources: BTreeMap<String, String>,
}

/// One batch at the beaker.
pub async fn batch(Given(room): Given, Path(name): Path<String>) -> Page {
    let batch = room.desk.batch(crate::batches::named(&name)?).await?;
    let lots = room.desk.lots_for_lines(&batch.id.to_string()).await?;
    let (code, product) = (batch.code.clone(), batch.product.clone());
    let sources = room.desk.sources_of(&batch).await;
    let data = data(&BatchData { batch, lots, sources })?;
    page(&BatchPage { frame: frame(&room, "batches").await?, code, product, data })
}

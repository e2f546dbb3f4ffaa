//! What could stand in the place of a raw material that is gone or dear: the questions of the page, the page, and its JSON routes.
//!
//! ```json
//! GET /api/materials/{key}/instead?with=a,b                  candidates, each property by property; the nearest where none are named
//! GET /api/materials/{key}/instead/{formula}?with=a,b        what each does to one formula that uses it
//! GET /api/materials/{key}/instead/{formula}/draft?with=a&line=2   the formula with it in a line, as a draft; nothing is kept
//! ```

use crate::desk::{Answer, Draft};
use crate::pages::{Frame, Page, data, frame, page};
use crate::trouble::{Kind, Trouble};
use crate::window::{Door, Given, identifier};
use askama::Template;
use async_trait::async_trait;
use axum::extract::{Path, Query};
use axum::routing::get;
use axum::{Json, Router};
use levigate_project::workbench::proof::substitute::SubstitutionReading;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::Arc;

type Told<T> = Result<Json<T>, Trouble>;

/// Candidates that are looked at together; each is put into every formula.
const MOST_WITH: usize = 12;

/// The questions about what could stand in the place of a raw material; part of every desk.
#[async_trait]
pub trait InsteadDesk: Send + Sync {
    /// Candidates, and the formulas that use the one that is gone.
    async fn instead(&self, key: &str, with: &[String]) -> Answer<InsteadPage>;
    /// What candidates do to one formula.
    async fn instead_in(&self, key: &str, formula: &str, with: &[String]) -> Answer<InsteadTold>;
    /// The formula with one of them in a line as a draft.
    async fn instead_draft(&self, key: &str, formula: &str, line: usize, with: &str) -> Answer<Draft>;
}

/// Candidates, and the formulas that use the one that is gone.
#[derive(Clone, Debug, Serialize)]
pub struct InsteadPage {
    /// Key of the one that is gone.
    pub key: String,
    /// Candidates without formulas.
    pub reading: SubstitutionReading,
    /// Formulas whose newest version uses it.
    pub formulas: Vec<UsedIn>,
    /// Formulas that have the same main substance from other raw materials.
    pub same_substance: Vec<SameSubstance>,
    /// Further raw materials that can be looked at: key and name.
    pub others: Vec<(String, String)>,
}

/// A formula that uses it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct UsedIn {
    /// Identifier.
    pub id: String,
    /// Name of the product.
    pub name: String,
    /// Newest version.
    pub version: u32,
    /// A draft after that version is kept: it is not looked at.
    pub draft: bool,
}

/// A formula that has the same main substance from another raw material.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SameSubstance {
    /// Identifier of the formula.
    pub id: String,
    /// Name of the product.
    pub name: String,
    /// The raw material that brings it.
    pub material: String,
}

/// What candidates do to one formula.
#[derive(Clone, Debug, Serialize)]
pub struct InsteadTold {
    /// What was found.
    pub reading: SubstitutionReading,
    /// Citation of every source key.
    pub sources: BTreeMap<String, String>,
}

/// Which candidates.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct With {
    with: String,
    line: usize,
}

impl With {
    fn keys(&self) -> Result<Vec<String>, Trouble> {
        let keys = self.with.split(',').filter(|key| !key.is_empty()).map(identifier);
        let keys: Vec<String> = keys.map(|key| key.map(str::to_owned)).collect::<Result<_, _>>()?;
        if keys.len() > MOST_WITH {
            return Err(Trouble::new(
                Kind::BadInput,
                "too-many",
                format!("{} candidates are more than are looked at together.", keys.len()),
                "Each is put into every formula that uses the one that is gone.",
                format!("Name {MOST_WITH} at most."),
            )
            .in_field("with"));
        }
        Ok(keys)
    }
}

#[derive(Template)]
#[template(path = "instead.html")]
struct Shown {
    frame: Frame,
    key: String,
    name: String,
    data: String,
}

/// The routes.
pub fn routes() -> Router<Arc<Door>> {
    Router::new()
        .route("/materials/{key}/instead", get(show))
        .route("/api/materials/{key}/instead", get(candidates))
        .route("/api/materials/{key}/instead/{formula}", get(told))
        .route("/api/materials/{key}/instead/{formula}/draft", get(draft))
}

async fn show(Given(room): Given, Path(key): Path<String>, Query(with): Query<With>) -> Page {
    let key = identifier(&key)?.to_owned();
    let found = room.desk.instead(&key, &with.keys()?).await?;
    let data = data(&found)?;
    page(&Shown { frame: frame(&room, "materials").await?, key, name: found.reading.material, data })
}

async fn candidates(
    Given(room): Given,
    Path(key): Path<String>,
    Query(with): Query<With>,
) -> Told<InsteadPage> {
    room.desk.instead(identifier(&key)?, &with.keys()?).await.map(Json)
}

async fn told(
    Given(room): Given,
    Path((key, formula)): Path<(String, String)>,
    Query(with): Query<With>,
) -> Told<InsteadTold> {
    room.desk.instead_in(identifier(&key)?, identifier(&formula)?, &with.keys()?).await.map(Json)
}

async fn draft(
    Given(room): Given,
    Path((key, formula)): Path<(String, String)>,
    Query(with): Query<With>,
) -> Told<Draft> {
    let (key, formula, other) = (identifier(&key)?, identifier(&formula)?, identifier(&with.with)?);
    room.desk.instead_draft(key, formula, with.line, other).await.map(Json)
}

//! Documents to take away: batch records, deviations, specifications, labels, as PDF or as a workbook. And the page on which a sheet
//! that was filled by hand is typed back.

use crate::api::{BatchQuery, Pair};
use crate::batches::named;
use crate::desk::{Answer, BatchRequest, BatchState, Suggested};
use crate::pages::{Frame, Page, data, frame, page};
use crate::trouble::{Kind, Trouble};
use crate::window::{Door, Given, identifier, number};
use askama::Template;
use async_trait::async_trait;
use axum::Router;
use axum::extract::{Path, Query};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use jiff::civil::Date;
use levigate_documents::Paper;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::Arc;

/// How a document is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// Pages.
    Pdf,
    /// A workbook.
    Workbook,
}

/// What is asked about documents.
#[async_trait]
pub trait PaperDesk: Send + Sync {
    /// A document about a batch, by identity or code: `record`, `blank` or `deviations`.
    async fn batch_paper(&self, batch: &str, what: &str, how: (Form, Paper)) -> Answer<Vec<u8>>;
    /// A document about a formula: `sheet`, `specification`, `submission` or `label`.
    async fn formula_paper(&self, request: &BatchRequest, what: &str, how: (Form, Paper)) -> Answer<Vec<u8>>;
    /// What lies between two trials of a formula, by their numbers.
    async fn two_trials_paper(&self, formula: &str, pair: [u32; 2], how: (Form, Paper)) -> Answer<Vec<u8>>;
    /// The deviations of a span of days, both included.
    async fn deviations_paper(&self, span: (Date, Date), how: (Form, Paper)) -> Answer<Vec<u8>>;
    /// Code of the version a batch is made of.
    async fn version_code_of_batch(&self, batch: &str) -> Answer<String>;
}

/// The routes.
pub fn routes() -> Router<Arc<Door>> {
    Router::new()
        .route("/batches/{id}/papers/{file}", get(of_batch))
        .route("/batches/{id}/type-back", get(type_back))
        .route("/formulas/{id}/papers/{file}", get(of_formula))
        .route("/formulas/{id}/trials/{file}", get(of_two_trials))
        .route("/papers/{file}", get(of_span))
}

/// Name and form of a file such as `record.pdf`.
fn split(file: &str) -> Result<(&str, Form), Trouble> {
    let found = file.rsplit_once('.').and_then(|(what, ending)| match ending {
        "pdf" => Some((what, Form::Pdf)),
        "xlsx" => Some((what, Form::Workbook)),
        _ => None,
    });
    found.ok_or_else(no_such_paper)
}

/// There is no document of this name.
pub(crate) fn no_such_paper() -> Trouble {
    Trouble::not_found("There is no such document.").in_field("address")
}

/// The paper of an address.
pub(crate) fn paper_of(word: &str) -> Answer<Paper> {
    match word {
        "" | "a4" => Ok(Paper::A4),
        "letter" => Ok(Paper::Letter),
        other => {
            let short: String = other.chars().take(40).collect();
            let what = format!("There is no paper \"{short}\" here.");
            let (why, now) = ("The sheet is laid out for A4 and Letter.", "Choose one of the two.");
            Err(Trouble::new(Kind::BadInput, "paper", what, why, now).in_field("paper"))
        }
    }
}

fn file(name: &str, form: Form, bytes: Vec<u8>) -> Response {
    let (kind, ending, place) = match form {
        Form::Pdf => ("application/pdf", "pdf", "inline"),
        Form::Workbook => {
            ("application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", "xlsx", "attachment")
        }
    };
    let headers = [
        (header::CONTENT_TYPE, kind.to_owned()),
        (header::CONTENT_DISPOSITION, format!("{place}; filename=\"{name}.{ending}\"")),
    ];
    (headers, bytes).into_response()
}

/// On which paper, and over which days.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Wanted {
    paper: String,
    from: String,
    to: String,
}

/// A document about a batch.
pub async fn of_batch(
    Given(room): Given,
    Path((batch, name)): Path<(String, String)>,
    Query(wanted): Query<Wanted>,
) -> Result<Response, Trouble> {
    let (what, form) = split(&name)?;
    let batch = named(&batch)?;
    let bytes = room.desk.batch_paper(batch, what, (form, paper_of(&wanted.paper)?)).await?;
    Ok(file(&format!("{batch}-{what}"), form, bytes))
}

/// A document about a formula.
pub async fn of_formula(
    Given(room): Given,
    Path((id, name)): Path<(String, String)>,
    Query(query): Query<BatchQuery>,
) -> Result<Response, Trouble> {
    let (what, form) = split(&name)?;
    let request = query.request(&id)?;
    let bytes = room.desk.formula_paper(&request, what, (form, paper_of(&request.paper)?)).await?;
    Ok(file(&format!("{what}-{}", request.id), form, bytes))
}

/// What lies between two trials of a formula.
pub async fn of_two_trials(
    Given(room): Given,
    Path((id, name)): Path<(String, String)>,
    Query(pair): Query<Pair>,
    Query(wanted): Query<Wanted>,
) -> Result<Response, Trouble> {
    let (what, form) = split(&name)?;
    if what != "difference" {
        return Err(no_such_paper());
    }
    let (id, pair) = (identifier(&id)?, [number(&pair.left)?, number(&pair.right)?]);
    let bytes = room.desk.two_trials_paper(id, pair, (form, paper_of(&wanted.paper)?)).await?;
    Ok(file(&format!("trial-{}-to-{}", pair[0], pair[1]), form, bytes))
}

/// What went otherwise than planned, over a span of days.
pub async fn of_span(
    Given(room): Given,
    Path(name): Path<String>,
    Query(wanted): Query<Wanted>,
) -> Result<Response, Trouble> {
    let (what, form) = split(&name)?;
    if what != "deviations" {
        return Err(no_such_paper());
    }
    let day = |field: &str, text: &str| -> Result<Date, Trouble> {
        text.trim().parse().map_err(|_| {
            let (why, now) = ("A list over a span has a first and a last day.", "Choose both days.");
            Trouble::new(Kind::BadInput, "day", "This is not a day.", why, now).in_field(field)
        })
    };
    let (from, to) = (day("from", &wanted.from)?, day("to", &wanted.to)?);
    if from > to {
        let (why, now) = ("A span begins before it ends.", "Change the days.");
        return Err(
            Trouble::new(Kind::BadInput, "span", format!("{from} is after {to}."), why, now).in_field("from")
        );
    }
    let bytes = room.desk.deviations_paper((from, to), (form, paper_of(&wanted.paper)?)).await?;
    Ok(file(&format!("deviations-{from}-{to}"), form, bytes))
}

#[derive(Template)]
#[template(path = "type_back.html")]
struct TypeBackPage {
    frame: Frame,
    id: String,
    code: String,
    product: String,
    data: String,
}

#[derive(Serialize)]
struct TypeBackData {
    batch: BatchState,
    /// Code of the version it is made of, as it stands on the sheet.
    version_code: String,
    lots: BTreeMap<usize, Vec<Suggested>>,
}

/// A sheet that was filled by hand, typed back by the numbers of its lines.
pub async fn type_back(Given(room): Given, Path(name): Path<String>) -> Page {
    let batch = room.desk.batch(named(&name)?).await?;
    let id = batch.id.to_string();
    let lots = room.desk.lots_for_lines(&id).await?;
    let version_code = room.desk.version_code_of_batch(&id).await?;
    let (code, product) = (batch.code.clone(), batch.product.clone());
    let data = data(&TypeBackData { batch, version_code, lots })?;
    page(&TypeBackPage { frame: frame(&room, "batches").await?, id, code, product, data })
}

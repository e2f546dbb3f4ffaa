//! Bringing a table in: the questions of the page, and its routes.
//!
//! `POST /api/bring-in/preview` and `POST /api/bring-in` take the same: the table as pasted `text`, or as `bytes` in base 64 with its name in
//! `file`, and what is `asked` of it ([`Asked`]). The first answers a [`Preview`] and writes nothing; the second answers a [`Brought`], or
//! refuses and writes nothing.

use crate::desk::{Answer, MeasuredFile};
use crate::measured::Sent;
use crate::pages::{Page, frame, page};
use crate::trouble::Trouble;
use crate::window::{Body, Given, MOST_BYTES_MEASURED};
use askama::Template;
use async_trait::async_trait;
use axum::Json;
use axum::extract::Query;
pub use levigate_project::bringing::{Asked, Brought, Preview, What};
use serde::{Deserialize, Serialize};

type Told<T> = Result<Json<T>, Trouble>;

/// The questions asked about a table that is brought in; part of every desk.
#[async_trait]
pub trait BringingDesk: Send + Sync {
    /// What a table would bring, row by row; writes nothing.
    async fn look_at_table(&self, file: MeasuredFile, asked: Asked) -> Answer<Preview>;
    /// Brings a table in: everything it makes, or nothing.
    async fn bring_in(&self, file: MeasuredFile, asked: Asked) -> Answer<Brought>;
}

/// A table, and what is asked of it.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct TableSent {
    #[serde(flatten)]
    sent: Sent,
    asked: Asked,
}

/// What a table would bring.
pub async fn preview(Given(room): Given, Body(table): Body<TableSent, MOST_BYTES_MEASURED>) -> Told<Preview> {
    room.desk.look_at_table(table.sent.handed_in()?, table.asked).await.map(Json)
}

/// Brings it in.
pub async fn bring_in(
    Given(room): Given,
    Body(table): Body<TableSent, MOST_BYTES_MEASURED>,
) -> Told<Brought> {
    room.desk.bring_in(table.sent.handed_in()?, table.asked).await.map(Json)
}

/// What the page begins with.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Begins {
    what: What,
}

/// What a column of each kind of table can hold: the word that is sent, and its words.
#[derive(Debug, Serialize)]
struct PageData {
    what: What,
    fields: [(What, Vec<(&'static str, &'static str)>); 3],
}

#[derive(Template)]
#[template(path = "bringing.html")]
struct BringingPage {
    frame: crate::pages::Frame,
    data: String,
}

/// A formula, raw materials or lots from a spreadsheet.
pub async fn show(Given(room): Given, Query(begins): Query<Begins>) -> Page {
    let fields = [What::Formula, What::Material, What::Lot].map(|what| {
        let words = what.fields().into_iter().map(|field| (field.word(), field.words()));
        (what, words.collect())
    });
    let data = crate::pages::data(&PageData { what: begins.what, fields })?;
    page(&BringingPage { frame: frame(&room, "bring-in").await?, data })
}

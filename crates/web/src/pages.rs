//! HTML routes. The head of a page, lists and paper are written here; the sheet itself is drawn by our scripts from the JSON in it.

use crate::api::{BatchQuery, Pair, Words};
use crate::desk::{BatchSheet, Draft, FormulaCard, MaterialHit, Studio};
use crate::measurement::MeasurementPage;
use crate::trouble::{Kind, Trouble};
use crate::window::{Door, Given, Room, identifier, number};
use askama::Template;
use axum::extract::{Path, Query};
use axum::http::header;
use axum::response::{Html, IntoResponse, Redirect, Response};
use levigate_project::workbench::trials::TreeNode;
use serde::Serialize;

pub(crate) type Page = Result<Html<String>, Trouble>;

/// What stands at the head and foot of every page.
#[derive(Debug, Default)]
pub(crate) struct Frame {
    pub(crate) studio: Studio,
    pub(crate) token: String,
    /// Which of the few places the page belongs to.
    pub(crate) place: &'static str,
    /// Name of whoever has logged in; empty where nobody has, or has to.
    pub(crate) person: String,
    /// Their role in a word.
    pub(crate) role: &'static str,
    /// Whether they manage people, so that the way there is shown.
    pub(crate) manages: bool,
    /// Whether the places are shown: to whoever may go there.
    pub(crate) inside: bool,
}

pub(crate) async fn frame(room: &Room, place: &'static str) -> Result<Frame, Trouble> {
    let known = room.hand.person.is_some();
    Ok(Frame {
        studio: room.desk.studio().await?,
        token: room.house().token.clone(),
        place,
        person: if known { room.hand.name.clone() } else { String::new() },
        role: if known { room.hand.role.word() } else { "" },
        manages: known && room.may(levigate_project::people::Right::People).is_ok(),
        inside: true,
    })
}

pub(crate) fn page(template: &impl Template) -> Page {
    template.render().map(Html).map_err(unwritten)
}

fn unwritten(error: impl std::fmt::Display) -> Trouble {
    let (what, now) = ("The page could not be written.", "Go back to the list of formulas.");
    Trouble::new(Kind::Failed, "page-failed", what, error.to_string(), now)
}

/// JSON that can stand inside a script element: no character in it can end the element.
pub(crate) fn data(value: &impl Serialize) -> Result<String, Trouble> {
    serde_json::to_string(value)
        .map(|text| {
            text.replace('<', "\\u003c")
                .replace('>', "\\u003e")
                .replace('&', "\\u0026")
                .replace('\u{2028}', "\\u2028")
                .replace('\u{2029}', "\\u2029")
        })
        .map_err(unwritten)
}

/// The first page is the list of formulas.
pub async fn start() -> Redirect {
    Redirect::temporary("/formulas")
}

#[derive(Template)]
#[template(path = "formulas.html")]
struct FormulasPage {
    frame: Frame,
    formulas: Vec<FormulaCard>,
}

/// The list of formulas.
pub async fn formulas(Given(room): Given) -> Page {
    page(&FormulasPage { frame: frame(&room, "formulas").await?, formulas: room.desk.formulas().await? })
}

#[derive(Template)]
#[template(path = "formula.html")]
struct FormulaPage {
    frame: Frame,
    title: String,
    data: String,
}

#[derive(Serialize)]
struct FormulaData<'a> {
    id: &'a str,
    version: u32,
    saved: &'a str,
    draft: &'a Draft,
    kept: Option<crate::desk::KeptDraft>,
    judgement: crate::desk::Judgement,
    /// The page shows an old version and cannot save.
    looking_back: bool,
}

/// Which version to look at; none: the newest, to be worked on.
#[derive(Debug, Default, serde::Deserialize)]
#[serde(default)]
pub struct Look {
    version: String,
}

/// One formula as a sheet.
pub async fn formula(Given(room): Given, Path(id): Path<String>, Query(look): Query<Look>) -> Page {
    let mut open = room.desk.formula(identifier(&id)?).await?;
    let mut looking_back = false;
    if !look.version.is_empty() {
        let wanted = number(&look.version)?;
        if wanted != open.version {
            open.draft = room.desk.version(&id, wanted).await?;
            open.version = wanted;
            looking_back = true;
        }
        open.kept = None;
    }
    let shown = open.kept.as_ref().map_or(&open.draft, |kept| &kept.draft);
    let judgement = room.desk.assess_draft(&open.id, shown).await?;
    let title = if shown.product.name.is_empty() { "Formula without a name" } else { &shown.product.name };
    let title = title.to_owned();
    let data = data(&FormulaData {
        id: &open.id,
        version: open.version,
        saved: &open.saved,
        draft: &open.draft,
        kept: open.kept.clone(),
        judgement,
        looking_back,
    })?;
    page(&FormulaPage { frame: frame(&room, "formulas").await?, title, data })
}

/// A new sheet: not kept anywhere until its first version is saved.
pub async fn new_formula(Given(room): Given) -> Page {
    let draft = Draft::default();
    let judgement = room.desk.assess_draft("", &draft).await?;
    let data = data(&FormulaData {
        id: "",
        version: 0,
        saved: "",
        draft: &draft,
        kept: None,
        judgement,
        looking_back: false,
    })?;
    page(&FormulaPage { frame: frame(&room, "formulas").await?, title: "New formula".to_owned(), data })
}

#[derive(Template)]
#[template(path = "difference.html")]
struct DifferencePage {
    frame: Frame,
    id: String,
    name: String,
    data: String,
}

/// Two versions side by side.
pub async fn difference(Given(room): Given, Path(id): Path<String>, Query(pair): Query<Pair>) -> Page {
    let id = identifier(&id)?.to_owned();
    let difference = room.desk.difference(&id, number(&pair.left)?, number(&pair.right)?).await?;
    let name = room.desk.formula(&id).await?.draft.product.name;
    let versions = room.desk.versions(&id).await?;
    let data = data(&serde_json::json!({ "id": id, "difference": difference, "versions": versions }))?;
    page(&DifferencePage { frame: frame(&room, "formulas").await?, id, name, data })
}

#[derive(Template)]
#[template(path = "trials.html")]
struct TrialsPage {
    frame: Frame,
    id: String,
    name: String,
    data: String,
}

/// The trials of a formula.
pub async fn trials(Given(room): Given, Path(id): Path<String>) -> Page {
    let id = identifier(&id)?.to_owned();
    let book = room.desk.trials(&id).await?;
    let data = data(&book)?;
    page(&TrialsPage { frame: frame(&room, "formulas").await?, id, name: book.name, data })
}

/// A trial in the list that stands where there is no script: what hangs on it in a side line, or what ends with it.
struct TreeRow {
    node: TreeNode,
    opens: bool,
    closes: usize,
}

#[derive(Template)]
#[template(path = "tree.html")]
struct TreePage {
    frame: Frame,
    id: String,
    name: String,
    rows: Vec<TreeRow>,
    data: String,
}

/// The trials of a formula as a tree.
pub async fn tree(Given(room): Given, Path(id): Path<String>) -> Page {
    let id = identifier(&id)?.to_owned();
    let book = room.desk.trials(&id).await?;
    let lanes: Vec<usize> = book.tree.iter().map(|node| node.lane).collect();
    let rows = book.tree.iter().enumerate().map(|(at, node)| {
        let next = lanes.get(at + 1).copied().unwrap_or(0);
        TreeRow { node: node.clone(), opens: next > node.lane, closes: node.lane.saturating_sub(next) }
    });
    let rows = rows.collect();
    let data =
        data(&serde_json::json!({ "formula": book.formula, "tree": book.tree, "sources": book.sources }))?;
    page(&TreePage { frame: frame(&room, "formulas").await?, id, name: book.name, rows, data })
}

#[derive(Template)]
#[template(path = "batch_sheet.html")]
struct BatchSheetPage {
    frame: Frame,
    id: String,
    query: BatchQuery,
    sheet: BatchSheet,
}

/// The batch sheet, for the screen and for paper.
pub async fn batch_sheet(
    Given(room): Given,
    Path(id): Path<String>,
    Query(query): Query<BatchQuery>,
) -> Page {
    let request = query.request(&id)?;
    let sheet = room.desk.batch_sheet(&request).await?;
    page(&BatchSheetPage { frame: frame(&room, "formulas").await?, id: request.id, query, sheet })
}

fn attachment(name: &str) -> String {
    format!("attachment; filename=\"{name}\"")
}

/// The batch sheet as PDF.
pub async fn batch_sheet_pdf(
    Given(room): Given,
    Path(id): Path<String>,
    Query(query): Query<BatchQuery>,
) -> Result<Response, Trouble> {
    let request = query.request(&id)?;
    let bytes = room.desk.batch_sheet_pdf(&request).await?;
    let kind = (header::CONTENT_TYPE, "application/pdf".to_owned());
    let name = format!("batch-sheet-{}.pdf", request.id);
    let disposition = (header::CONTENT_DISPOSITION, format!("inline; filename=\"{name}\""));
    Ok(([kind, disposition], bytes).into_response())
}

/// The newest version, or one version, as a formula file.
pub async fn formula_toml(
    Given(room): Given,
    Path(id): Path<String>,
    Query(look): Query<Look>,
) -> Result<Response, Trouble> {
    let id = identifier(&id)?;
    let draft = if look.version.is_empty() {
        room.desk.formula(id).await?.draft
    } else {
        room.desk.version(id, number(&look.version)?).await?
    };
    let text = room.desk.formula_as_toml(&draft).await?;
    let kind = (header::CONTENT_TYPE, "application/toml; charset=utf-8".to_owned());
    let disposition = (header::CONTENT_DISPOSITION, attachment(&format!("{id}.toml")));
    Ok(([kind, disposition], text).into_response())
}

#[derive(Template)]
#[template(path = "materials.html")]
struct MaterialsPage {
    frame: Frame,
    words: String,
    hits: Vec<MaterialHit>,
}

/// Raw materials.
pub async fn materials(Given(room): Given, Query(query): Query<Words>) -> Page {
    let words = query.short_words();
    let hits = room.desk.search_materials(&words, 500).await?;
    page(&MaterialsPage { frame: frame(&room, "materials").await?, words, hits })
}

#[derive(Template)]
#[template(path = "material.html")]
struct MaterialPage {
    frame: Frame,
    title: String,
    data: String,
}

#[derive(Serialize)]
struct MaterialData<'a> {
    #[serde(flatten)]
    card: &'a crate::desk::MaterialCard,
    lots: Vec<crate::desk::LotCard>,
}

/// One raw material with its lots.
pub async fn material(Given(room): Given, Path(key): Path<String>) -> Page {
    let key = identifier(&key)?;
    let card = room.desk.material(key).await?;
    let lots = room.desk.lots(Some(key)).await?;
    let data = data(&MaterialData { card: &card, lots })?;
    page(&MaterialPage { frame: frame(&room, "materials").await?, title: card.hit.name, data })
}

/// Which raw material a grade of one's own begins from.
#[derive(Debug, Default, serde::Deserialize)]
#[serde(default)]
pub struct Origin {
    from: String,
}

#[derive(Template)]
#[template(path = "own_material.html")]
struct OwnMaterialPage {
    frame: Frame,
    title: &'static str,
    data: String,
}

/// A raw material or grade of one's own: an empty form, or one that begins from a record.
pub async fn new_material(Given(room): Given, Query(origin): Query<Origin>) -> Page {
    let card = if origin.from.is_empty() {
        None
    } else {
        Some(room.desk.material(identifier(&origin.from)?).await?)
    };
    let title = match &card {
        Some(card) if card.own => "Edit own raw material",
        Some(_) => "Own grade",
        None => "Own raw material",
    };
    let data = data(&card)?;
    page(&OwnMaterialPage { frame: frame(&room, "materials").await?, title, data })
}

#[derive(Template)]
#[template(path = "measurement.html")]
struct MeasurementTemplate {
    frame: Frame,
    data: String,
}

/// A measured flow curve.
pub async fn measurement(Given(room): Given) -> Page {
    let data = data(&MeasurementPage::with(room.desk.formulas().await?))?;
    page(&MeasurementTemplate { frame: frame(&room, "measurement").await?, data })
}

#[derive(Template)]
#[template(path = "settings.html")]
struct SettingsPage {
    frame: Frame,
}

/// Decimal sign, light, size of type.
pub async fn settings(Given(room): Given) -> Page {
    page(&SettingsPage { frame: frame(&room, "settings").await? })
}

#[derive(Template)]
#[template(path = "reading_numbers.html")]
struct ReadingNumbersPage {
    frame: Frame,
}

/// How to read a number.
pub async fn reading_numbers(Given(room): Given) -> Page {
    page(&ReadingNumbersPage { frame: frame(&room, "reading-numbers").await? })
}

#[derive(Template)]
#[template(path = "trouble.html")]
struct TroublePage<'a> {
    frame: Frame,
    trouble: &'a Trouble,
}

/// Trouble as a page with a way back. Asks the desk nothing, since the desk may be what failed.
pub(crate) fn trouble_page(door: &Door, trouble: &Trouble) -> Response {
    let inside = !matches!(trouble.code, "foreign-host" | "nobody-yet");
    // Whoever asks under a foreign name may be a page of somebody else's: it is not told the token.
    let token = if inside { door.house.token.clone() } else { String::new() };
    let frame = Frame { token, inside, ..Frame::default() };
    match (TroublePage { frame, trouble }).render() {
        Ok(text) => Html(text).into_response(),
        Err(_) => trouble.clone().into_response(),
    }
}

//! JSON routes. Each one reads its request, asks the desk one question and writes the answer.

use crate::desk::{
    BatchRequest, Difference, Draft, DraftOutcome, FormulaCard, InUse, Judgement, KeepDraft, Level, Looking,
    Made, MaterialCard, MaterialHit, OwnMaterial, Plate, SaveOutcome, SaveVersion, Saved, VersionCard,
};
use crate::trouble::{Kind, Trouble};
use crate::window::{Body, Given, identifier, number};
use axum::Json;
use axum::extract::{Path, Query};
use serde::{Deserialize, Serialize};

type Told<T> = Result<Json<T>, Trouble>;

/// Most lines a page may send; a sheet of 60 must be fluent, this is the fence far behind it.
const MOST_LINES: usize = 400;

/// Refuses drafts no person can have typed.
pub(crate) fn sound(draft: &Draft) -> Result<(), Trouble> {
    let lines: usize = draft.phases.iter().map(|phase| phase.lines.len()).sum();
    let parts: usize = draft.steps.iter().map(|step| step.lines.len() + step.premixes.len() + 1).sum();
    if parts > 4 * MOST_LINES {
        return Err(Trouble::new(
            Kind::BadInput,
            "too-many-steps",
            format!("The procedure has {} steps with {parts} entries.", draft.steps.len()),
            format!("At most {} are taken.", 4 * MOST_LINES),
            "Join steps.",
        )
        .in_field("steps"));
    }
    if lines > MOST_LINES || draft.phases.len() > MOST_LINES {
        return Err(Trouble::new(
            Kind::BadInput,
            "too-many-lines",
            format!("The sheet has {lines} lines."),
            format!("At most {MOST_LINES} are taken."),
            "Split the formula into premixes.",
        )
        .in_field("phases"));
    }
    Ok(())
}

/// A draft to judge.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Judge {
    /// Identity of the formula it is a draft of; empty for a new one. Its trials speak into what is predicted.
    formula: String,
    draft: Draft,
}

/// Everything that follows from a draft.
pub async fn assess(Given(room): Given, Body(judge): Body<Judge>) -> Told<Judgement> {
    sound(&judge.draft)?;
    room.desk.assess_draft(&judge.formula, &judge.draft).await.map(Json)
}

/// A draft to draw.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Drawn {
    draft: Draft,
    #[serde(flatten)]
    looking: Looking,
}

/// The figures for a draft.
pub async fn figures(Given(room): Given, Body(drawn): Body<Drawn>) -> Told<Vec<Plate>> {
    sound(&drawn.draft)?;
    room.desk.figures(&drawn.draft, &drawn.looking).await.map(Json)
}

/// A draft to be used, and the sizes a person set.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Used {
    formula: String,
    draft: Draft,
    sizes: std::collections::BTreeMap<String, f64>,
}

/// What the flow of a draft means in use.
pub async fn in_use(Given(room): Given, Body(used): Body<Used>) -> Told<Option<InUse>> {
    sound(&used.draft)?;
    room.desk.in_use(&used.formula, &used.draft, &used.sizes).await.map(Json)
}

/// A draft, the thickener whose level is sought and what for.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Sought {
    formula: String,
    draft: Draft,
    /// Id of the draft line.
    line: String,
    /// Viscosity wanted, mPa s.
    mpa_s: f64,
}

/// The level of a thickener that gives a viscosity.
pub async fn level(Given(room): Given, Body(sought): Body<Sought>) -> Told<Option<Level>> {
    sound(&sought.draft)?;
    room.desk.level(&sought.formula, &sought.draft, &sought.line, sought.mpa_s).await.map(Json)
}

/// How a draft is made.
pub async fn procedure(Given(room): Given, Body(judge): Body<Judge>) -> Told<Option<Made>> {
    sound(&judge.draft)?;
    room.desk.made(&judge.formula, &judge.draft).await.map(Json)
}

/// Text of a formula file.
#[derive(Debug, Serialize, Deserialize)]
pub struct FileText {
    text: String,
}

/// A draft as a formula file.
pub async fn toml(Given(room): Given, Body(judge): Body<Judge>) -> Told<FileText> {
    sound(&judge.draft)?;
    room.desk.formula_as_toml(&judge.draft).await.map(|text| Json(FileText { text }))
}

/// Words to look for.
#[derive(Debug, Deserialize)]
#[serde(default)]
pub struct Words {
    words: String,
    most: usize,
}

impl Default for Words {
    fn default() -> Self {
        Self { words: String::new(), most: 12 }
    }
}

impl Words {
    /// The words, cut to what a person would type.
    pub(crate) fn short_words(&self) -> String {
        self.words.chars().take(200).collect()
    }
}

/// Raw materials by words.
pub async fn search_materials(Given(room): Given, Query(query): Query<Words>) -> Told<Vec<MaterialHit>> {
    room.desk.search_materials(&query.short_words(), query.most.min(500)).await.map(Json)
}

/// One raw material.
pub async fn material(Given(room): Given, Path(key): Path<String>) -> Told<MaterialCard> {
    room.desk.material(identifier(&key)?).await.map(Json)
}

/// Keeps a raw material of one's own.
pub async fn save_material(Given(room): Given, Body(material): Body<OwnMaterial>) -> Told<MaterialCard> {
    room.desk.save_material(&material).await.map(Json)
}

/// All formulas.
pub async fn formulas(Given(room): Given) -> Told<Vec<FormulaCard>> {
    room.desk.formulas().await.map(Json)
}

/// A formula to start.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Start {
    draft: Draft,
    reason: String,
}

/// Starts a formula.
pub async fn new_formula(Given(room): Given, Body(start): Body<Start>) -> Told<Saved> {
    sound(&start.draft)?;
    let reason = if start.reason.trim().is_empty() { "first version" } else { start.reason.trim() };
    room.desk.new_formula(&start.draft, reason).await.map(Json)
}

/// Starts a formula from a formula file.
pub async fn import(Given(room): Given, Body(file): Body<FileText>) -> Told<Saved> {
    let draft = room.desk.import_toml(&file.text).await?;
    sound(&draft)?;
    room.desk.new_formula(&draft, "read from a formula file").await.map(Json)
}

/// All versions of a formula.
pub async fn versions(Given(room): Given, Path(id): Path<String>) -> Told<Vec<VersionCard>> {
    room.desk.versions(identifier(&id)?).await.map(Json)
}

/// Saves a version.
pub async fn save_version(
    Given(room): Given,
    Path(id): Path<String>,
    Body(save): Body<SaveVersion>,
) -> Told<SaveOutcome> {
    sound(&save.draft)?;
    if save.reason.trim().is_empty() {
        return Err(Trouble::new(
            Kind::BadInput,
            "no-reason",
            "The version has no reason yet.",
            "A year from now the reason is what tells two versions apart.",
            "Write a few words: what changed and why.",
        )
        .in_field("reason"));
    }
    room.desk.save_version(identifier(&id)?, &save).await.map(Json)
}

/// One version.
pub async fn version(Given(room): Given, Path((id, version)): Path<(String, String)>) -> Told<Draft> {
    room.desk.version(identifier(&id)?, number(&version)?).await.map(Json)
}

/// Two versions.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct Pair {
    /// The older.
    pub left: String,
    /// The newer.
    pub right: String,
}

/// Two versions side by side.
pub async fn difference(
    Given(room): Given,
    Path(id): Path<String>,
    Query(pair): Query<Pair>,
) -> Told<Difference> {
    room.desk.difference(identifier(&id)?, number(&pair.left)?, number(&pair.right)?).await.map(Json)
}

/// Keeps the draft against a crash.
pub async fn keep_draft(
    Given(room): Given,
    Path(id): Path<String>,
    Body(keep): Body<KeepDraft>,
) -> Told<DraftOutcome> {
    sound(&keep.draft)?;
    room.desk.keep_draft(identifier(&id)?, &keep).await.map(Json)
}

/// Drops the kept draft.
pub async fn drop_draft(Given(room): Given, Path(id): Path<String>) -> Told<()> {
    room.desk.drop_draft(identifier(&id)?).await.map(Json)
}

/// Which batch sheet, from an address.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub struct BatchQuery {
    /// Version; empty: the draft.
    pub version: String,
    /// Size, g.
    pub size: String,
    /// Balance, g.
    pub balance: String,
    /// Paper: `a4` or `letter`.
    pub paper: String,
}

impl BatchQuery {
    pub(crate) fn request(&self, id: &str) -> Result<BatchRequest, Trouble> {
        Ok(BatchRequest {
            id: identifier(id)?.to_owned(),
            version: if self.version.is_empty() { None } else { Some(number(&self.version)?) },
            size_g: self.size.chars().take(40).collect(),
            balance_g: self.balance.chars().take(40).collect(),
            paper: self.paper.chars().take(40).collect(),
        })
    }
}

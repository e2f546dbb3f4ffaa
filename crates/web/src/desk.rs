//! The desk: everything the pages ask of the work behind them, as one trait.
//!
//! The server knows no chemistry and no storage. It turns a request into one of these questions and the answer into a page
//! or JSON. What a person types travels as text, exactly as typed with `.` or `,` as decimal sign; reading it is the desk's work, and
//! what cannot be read comes back as a [`FieldRemark`] for the field it stands in.

mod batches;
mod draft;
mod flow;
mod making;
mod people;

pub use batches::{
    Back, BatchCard, BatchDesk, BatchState, BenchAdvice, EntryCorrection, Forward, HeldView, KeptEntry,
    LineState, LotStock, PlanBefore, ShelfLot, Started, Suggested, TemperatureView, Traced, TypedBatch,
    TypedEntry, TypedMovement, TypedSample, TypedSignOff, TypedStatus, TypedUndo, TypedVessel,
};
pub use draft::{
    AmountKind, Bench, Draft, DraftLine, DraftPhase, DraftProduct, DraftStep, DraftStepLine, DraftTarget,
};
pub use flow::{InUse, Level};
pub use making::{BatchMaking, Made, Way};
pub use people::PeopleDesk;

use crate::adjusting::BeakerDesk;
use crate::better::BetterDesk;
use crate::bringing::BringingDesk;
use crate::challenge::ChallengeDesk;
use crate::experiments::ExperimentDesk;
use crate::foresight::ForesightDesk;
use crate::instead::InsteadDesk;
use crate::making::MakingDesk;
use crate::measurement::{Measured, MeasuredReading};
use crate::microbes::MicrobesDesk;
use crate::papers::PaperDesk;
use crate::studies::StudyDesk;
use crate::trouble::Trouble;
use async_trait::async_trait;
use levigate_project::records::Photo;
pub use levigate_project::workbench::curves::{KeptFit, MeasuredFile, TypedCurve};
use levigate_project::workbench::difference::FormulaDifference;
pub use levigate_project::workbench::flow_fit::{Asked as FlowAsked, FlowFit};
pub use levigate_project::workbench::lots::{LotCard, TypedLot};
pub use levigate_project::workbench::materials::MaterialHit;
pub use levigate_project::workbench::own_material::{OwnConstituent, OwnMaterial};
pub use levigate_project::workbench::readings::{TypedObservation, TypedReading};
pub use levigate_project::workbench::trials::{Effects, TrialBook, TypedTrial};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::collections::BTreeMap;

/// Answer of the desk.
pub type Answer<T> = Result<T, Trouble>;

/// The questions the pages ask.
#[async_trait]
pub trait Desk:
    PeopleDesk
    + BatchDesk
    + BeakerDesk
    + BetterDesk
    + BringingDesk
    + ChallengeDesk
    + InsteadDesk
    + ForesightDesk
    + ExperimentDesk
    + MakingDesk
    + MicrobesDesk
    + PaperDesk
    + StudyDesk
    + 'static
{
    /// Who works here and with which facts.
    async fn studio(&self) -> Answer<Studio>;

    /// Everything that follows from the draft as it stands. Never fails because of what was typed: that is a remark in the answer.
    async fn assess_draft(&self, formula: &str, draft: &Draft) -> Answer<Judgement>;
    /// The figures for the draft. Empty when the draft cannot be assessed.
    async fn figures(&self, draft: &Draft, looking: &Looking) -> Answer<Vec<Plate>>;
    /// The level of the thickener in a line of the draft that gives a viscosity; nothing when the draft cannot be assessed.
    async fn level(&self, formula: &str, draft: &Draft, line: &str, mpa_s: f64) -> Answer<Option<Level>>;
    /// What the flow of the draft means in use, with the sizes a person set. Nothing when the draft cannot be assessed.
    async fn in_use(
        &self,
        formula: &str,
        draft: &Draft,
        sizes: &BTreeMap<String, f64>,
    ) -> Answer<Option<InUse>>;

    /// How the draft is made: the steps proposed or written, with their reasons and what they break. Nothing when it cannot be assessed.
    async fn made(&self, formula: &str, draft: &Draft) -> Answer<Option<Made>>;

    /// Raw materials by part of a name, INCI name, CAS number or function, best first. No words: all, by name.
    async fn search_materials(&self, words: &str, most: usize) -> Answer<Vec<MaterialHit>>;
    /// One raw material.
    async fn material(&self, key: &str) -> Answer<MaterialCard>;
    /// Keeps a raw material or grade of one's own. A shipped record is never changed: the own one lies over it.
    async fn save_material(&self, material: &OwnMaterial) -> Answer<MaterialCard>;

    /// All formulas, the last touched first.
    async fn formulas(&self) -> Answer<Vec<FormulaCard>>;
    /// One formula: its newest version, and the draft kept from an unfinished session.
    async fn formula(&self, id: &str) -> Answer<OpenFormula>;
    /// Starts a formula from a draft; its first version is number 1.
    async fn new_formula(&self, draft: &Draft, reason: &str) -> Answer<Saved>;
    /// Saves the draft as the next version; a conflict when `base` is no longer the newest one.
    async fn save_version(&self, id: &str, save: &SaveVersion) -> Answer<SaveOutcome>;
    /// Keeps the draft against a crash. Not a version. A draft that another tab kept in between is not written over.
    async fn keep_draft(&self, id: &str, keep: &KeepDraft) -> Answer<DraftOutcome>;
    /// Drops the kept draft.
    async fn drop_draft(&self, id: &str) -> Answer<()>;
    /// All versions, newest first.
    async fn versions(&self, id: &str) -> Answer<Vec<VersionCard>>;
    /// One version as a draft.
    async fn version(&self, id: &str, number: u32) -> Answer<Draft>;
    /// Two versions side by side: lines and consequences.
    async fn difference(&self, id: &str, left: u32, right: u32) -> Answer<Difference>;

    /// The trials of a formula, with what was read beside what is predicted.
    async fn trials(&self, id: &str) -> Answer<TrialBook>;
    /// What the differences between two trials of a formula did to the pH.
    async fn trial_effects(&self, id: &str, left: u32, right: u32) -> Answer<Effects>;
    /// Begins a trial of a saved version.
    async fn begin_trial(&self, id: &str, typed: &TypedTrial) -> Answer<Entered>;
    /// Keeps a reading on a trial.
    async fn add_reading(&self, trial: &str, typed: &TypedReading) -> Answer<Entered>;
    /// Strikes a reading out; another stands in its place, or none.
    async fn correct_reading(&self, id: &str, correction: &Correction<TypedReading>) -> Answer<Entered>;
    /// Keeps an observation on a trial, with the bytes of a photo or without.
    async fn observe(&self, trial: &str, typed: &TypedObservation, photo: Option<Vec<u8>>)
    -> Answer<Entered>;
    /// Strikes an observation out; other words stand in its place, or none.
    async fn correct_observation(
        &self,
        id: &str,
        correction: &Correction<TypedObservation>,
    ) -> Answer<Entered>;
    /// The photo of an observation.
    async fn photo(&self, id: &str) -> Answer<Photo>;
    /// Flow models fitted to the curves of a measured file: what was understood, every model, what is taken and why.
    async fn fit_flow(&self, file: MeasuredFile, asked: FlowAsked) -> Answer<FlowFit>;
    /// Keeps a curve of a measured file on a trial.
    async fn keep_curve(&self, trial: &str, file: MeasuredFile, typed: TypedCurve) -> Answer<Entered>;
    /// Strikes a curve out; another stands in its place, or none.
    async fn correct_curve(
        &self,
        id: &str,
        reason: &str,
        instead: Option<(MeasuredFile, TypedCurve)>,
    ) -> Answer<Entered>;
    /// The fit of a kept curve: the model that was taken, else all of them.
    async fn curve_fit(&self, id: &str) -> Answer<KeptFit>;
    /// The lots of a raw material by any of its names, or all of them.
    async fn lots(&self, material: Option<&str>) -> Answer<Vec<LotCard>>;
    /// Keeps a lot.
    async fn add_lot(&self, typed: &TypedLot) -> Answer<Entered>;
    /// Strikes a lot out; the corrected one stands in its place.
    async fn correct_lot(&self, id: &str, correction: &Correction<TypedLot>) -> Answer<Entered>;

    /// Reads a measured table, fits flow models to its curves and draws them. Never fails because of what is in it: that is told in the
    /// answer.
    async fn measure(&self, measured: &Measured) -> Answer<MeasuredReading>;

    /// The batch sheet.
    async fn batch_sheet(&self, request: &BatchRequest) -> Answer<BatchSheet>;
    /// The batch sheet as PDF.
    async fn batch_sheet_pdf(&self, request: &BatchRequest) -> Answer<Vec<u8>>;
    /// The draft as a formula file.
    async fn formula_as_toml(&self, draft: &Draft) -> Answer<String>;
    /// A formula file as a draft; errors carry line and column.
    async fn import_toml(&self, text: &str) -> Answer<Draft>;
}

/// Who works here and with which facts.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Studio {
    /// Name of the studio or laboratory.
    pub name: String,
    /// Whether this is the sample workspace.
    pub sample: bool,
    /// Date the rules are read for, ISO.
    pub as_of: String,
    /// Version of the program.
    pub program: String,
    /// Version of the facts.
    pub facts: String,
}

/// What follows from a draft.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Judgement {
    /// What could not be read, field by field. Not empty does not mean that there is no assessment.
    pub remarks: Vec<FieldRemark>,
    /// Id of the draft line behind each line of the assessment, in its order.
    pub line_ids: Vec<String>,
    /// The assessment, in the form the engine writes it; absent when the draft cannot be assessed.
    pub assessment: Option<Value>,
    /// The pH with what trials taught beside what the papers alone say; absent where they taught nothing about it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taught_ph: Option<Value>,
    /// Grams per line for the bench size, in the order of the assessment's lines.
    pub weighing: Vec<Weighing>,
    /// Citation of every source key used in the assessment.
    pub sources: BTreeMap<String, String>,
}

/// Something wrong in a field: what, why, what now.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct FieldRemark {
    /// Line it is about.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line_id: Option<String>,
    /// Phase it is about.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub phase_id: Option<String>,
    /// Field: a name from [`DraftLine`], [`DraftPhase`], `target.<name>`, `product.<name>`, `bench.<name>`; `sheet` for the whole.
    pub field: String,
    /// What is wrong.
    pub what: String,
    /// Why that is so.
    pub why: String,
    /// What to do.
    pub what_now: String,
    /// Names that may have been meant.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub offers: Vec<String>,
}

/// One line on the balance.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Weighing {
    /// Grams to the balance's readability, as decimal text.
    pub grams: String,
    /// The grams as a result that explains itself.
    pub reading: Value,
    /// Expanded uncertainty in percent of the line, as a result that explains itself.
    #[serde(default)]
    pub uncertainty_percent: Value,
}

/// Which figures, and how they are looked at.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Looking {
    /// Formula whose trials are shown with it; empty: none.
    pub formula: String,
    /// Only the figure of this name; empty: all.
    pub only: String,
    /// How single figures are looked at, by their names.
    pub looks: BTreeMap<String, Look>,
}

/// How one figure is looked at.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Look {
    /// What stands upright, one of the choices of the figure; empty: as it comes.
    pub upright: String,
    /// Part of the axis across; none: the whole.
    pub across: Option<[f64; 2]>,
}

impl Looking {
    /// Whether the figure of a name is asked for.
    #[must_use]
    pub fn wants(&self, id: &str) -> bool {
        self.only.is_empty() || self.only == id
    }

    /// How the figure of a name is looked at.
    #[must_use]
    pub fn at(&self, id: &str) -> Look {
        self.looks.get(id).cloned().unwrap_or_default()
    }
}

/// A figure under the sheet.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Plate {
    /// Stable name: `flow`, `windows`, `titration`, `working-share`.
    pub id: String,
    /// Short title.
    pub title: String,
    /// What it shows and under which conditions, one or two sentences.
    pub caption: String,
    /// The figure for the screen: inks as CSS variables, no style or script, and on the group `plot` the ends of both
    /// axes in data and in pixels (`data-x-low`, `data-left`, ...) for the cursor.
    pub svg: String,
    /// The same numbers as a table, whole whatever part is looked at; the first column is the axis across.
    pub table: PlateTable,
    /// What can stand upright, with the words for it; empty: only one thing.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub choices: Vec<(String, String)>,
    /// Which of the choices does.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub chosen: String,
    /// Whether a part of it can be looked at closer.
    #[serde(default)]
    pub zooms: bool,
}

/// The numbers of a figure, as text with a point as decimal sign.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct PlateTable {
    /// What it shows.
    pub caption: String,
    /// Column heads with their units.
    pub head: Vec<String>,
    /// Rows.
    pub rows: Vec<Vec<String>>,
}

/// One raw material opened.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct MaterialCard {
    /// Head.
    pub hit: MaterialHit,
    /// The record, in the form of the facts' schema.
    pub record: Value,
    /// Sources by key: citation in words.
    pub sources: BTreeMap<String, String>,
    /// Formulas that use it: `(id, name)`.
    pub used_in: Vec<(String, String)>,
    /// Whether it may be edited here.
    pub own: bool,
}

/// A formula in the list.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct FormulaCard {
    /// Identifier.
    pub id: String,
    /// Name of the product.
    pub name: String,
    /// Product type and site in words (`face serum`).
    pub kind: String,
    /// Client or project.
    pub client: String,
    /// Newest version.
    pub version: u32,
    /// When it was saved, ISO.
    pub saved: String,
    /// Number of lines.
    pub lines: usize,
    /// The gravest finding in a few words.
    pub first: String,
    /// Its gravity, or empty.
    pub gravity: String,
    /// pH as text, or empty.
    pub ph: String,
    /// Whether a draft is kept that is not a version yet.
    pub draft: bool,
    /// Number of trials.
    pub trials: usize,
}

/// An entry that was kept.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Entered {
    /// Identity.
    pub id: String,
    /// Its number.
    pub number: u32,
    /// It was there already: the device may forget it.
    #[serde(default)]
    pub already: bool,
}

/// A correction: why, and what stands in the place of the struck entry; nothing takes it back.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Correction<T> {
    /// Why.
    pub reason: String,
    /// What stands in its place.
    pub instead: Option<T>,
}

/// A formula opened.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct OpenFormula {
    /// Identifier.
    pub id: String,
    /// Newest version.
    pub version: u32,
    /// When it was saved, ISO.
    pub saved: String,
    /// The newest version as a draft.
    pub draft: Draft,
    /// A draft kept from an unfinished session.
    pub kept: Option<KeptDraft>,
}

/// A draft kept against a crash.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct KeptDraft {
    /// The draft.
    pub draft: Draft,
    /// Version it began from.
    pub base: u32,
    /// When it was kept, ISO; set by the desk.
    #[serde(default)]
    pub kept_at: String,
}

/// A draft to be kept.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct KeepDraft {
    /// The draft.
    pub draft: Draft,
    /// Version it began from.
    pub base: u32,
    /// When the draft was kept that this tab knows of, as the desk told it; empty when it knows of none. Absent: write over
    /// whatever is there.
    #[serde(default)]
    pub after: Option<String>,
}

/// What became of a draft.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DraftOutcome {
    /// It is kept.
    Kept {
        /// When, ISO.
        kept_at: String,
    },
    /// Another tab kept one in between; nothing was written.
    Elsewhere {
        /// When, ISO.
        kept_at: String,
    },
}

/// A request to save a version.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct SaveVersion {
    /// The draft.
    pub draft: Draft,
    /// Why.
    pub reason: String,
    /// Version it began from.
    pub base: u32,
}

/// A version that was saved.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Saved {
    /// Formula.
    pub id: String,
    /// Number.
    pub version: u32,
    /// When, ISO.
    pub saved: String,
}

/// What became of a save.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SaveOutcome {
    /// It is the newest version now.
    Saved(Saved),
    /// Somebody saved first; nothing was written.
    Conflict {
        /// The newest version.
        newest: VersionCard,
    },
}

/// A version in the list.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct VersionCard {
    /// Number.
    pub version: u32,
    /// When, ISO.
    pub saved: String,
    /// Who, empty when not known.
    pub who: String,
    /// Why.
    pub reason: String,
    /// Short code of the content.
    pub code: String,
}

/// Two versions side by side.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Difference {
    /// The older.
    pub left: VersionCard,
    /// The newer.
    pub right: VersionCard,
    /// Lines and consequences.
    #[serde(flatten)]
    pub found: FormulaDifference,
}

/// Which batch sheet.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct BatchRequest {
    /// Formula.
    pub id: String,
    /// Version; none: the kept draft, or the newest version when there is no draft.
    pub version: Option<u32>,
    /// Batch size as typed, g; empty: as on the sheet.
    pub size_g: String,
    /// Readability of the balance as typed, g; empty: as on the sheet.
    pub balance_g: String,
    /// Paper of the PDF: `a4` or `letter`; empty: A4.
    pub paper: String,
}

/// A batch sheet.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct BatchSheet {
    /// Product.
    pub product: String,
    /// Version in words (`version 4`, `draft after version 4`).
    pub version: String,
    /// Short code of the content.
    pub code: String,
    /// Batch size in words (`200 g`).
    pub size: String,
    /// Balance in words (`0.01 g`).
    pub balance: String,
    /// Cautions for the whole batch.
    pub cautions: Vec<String>,
    /// Phases.
    pub phases: Vec<BatchPhase>,
    /// How it is made, step by step.
    pub making: Vec<BatchMaking>,
    /// Sum of the grams as weighed.
    pub total: String,
    /// What to check at the end (`pH 5.2 to 5.8, neat, 25 °C`).
    pub checks: Vec<String>,
}

/// A phase on the batch sheet.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct BatchPhase {
    /// Name.
    pub name: String,
    /// What is done, with the temperature.
    pub step: String,
    /// Cautions where the risk arises.
    pub cautions: Vec<String>,
    /// Lines.
    pub lines: Vec<BatchLine>,
}

/// A line on the batch sheet.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct BatchLine {
    /// Number on the sheet, from 1.
    pub number: usize,
    /// Raw material.
    pub material: String,
    /// Lot, empty to be written by hand.
    pub lot: String,
    /// Percent w/w.
    pub percent: String,
    /// Grams to the balance's readability.
    pub grams: String,
    /// Tolerance in words (`± 0.20 g`).
    pub tolerance: String,
    /// Expanded uncertainty in percent of the line.
    pub uncertainty: String,
    /// What to do about a weak line, empty when nothing.
    pub advice: String,
}

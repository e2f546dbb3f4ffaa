//! The desk over a workspace: the verbs of `levigate_project::workbench` on the records of a
//! [`Workspace`] and the facts, answered in the shapes of the pages.
//!
//! | Module | What it is for |
//! | --- | --- |
//! | `experiments` | designed experiments |
//! | `studies` | stability studies |
//! | `shelf` | the facts with own materials laid over, and what a formula brings along |
//! | `judging` | a draft to what follows from it, and remarks beside its fields |
//! | `plates` | figures under the sheet |
//! | `flow_plate` | the flow curve among them |
//! | `better` | the better formula, searched for beside the page |
//! | `batches` | batches, stock, where a lot went |
//! | `beaker` | the pH at the bench |
//! | `bench` | trials, readings, observations, photos, lots |
//! | `bringing` | tables brought in |
//! | `folders` | formulas, versions, drafts |
//! | `instead` | what could stand in the place of a raw material |
//! | `foresight` | how well trials were foretold |
//! | `making` | how a draft is made |
//! | `list` | the list of formulas, with a summary kept for each version |
//! | `materials` | raw materials, shipped and own |
//! | `measuring` | measured tables to curves, models and figures |
//! | `paper` | the batch sheet |
//! | `papers` | records, specifications, labels, deviations |
//! | `people` | people who log in |
//! | `searches` | searches under way: how many, how long |
//! | `troubles` | errors from below, in words |
//!
//! Whatever computes runs beside the threads that answer, so that a long titration holds no page up.

mod batches;
mod beaker;
mod bench;
mod better;
mod bringing;
mod challenge;
mod course;
mod experiments;
mod flow_plate;
mod folders;
mod foresight;
mod instead;
mod judging;
mod list;
mod making;
mod materials;
mod measured;
mod measuring;
mod microbes;
mod paper;
mod papers;
pub(crate) mod people;
mod plates;
mod searches;
mod shelf;
mod studies;
mod troubles;

use crate::desk::{
    Answer, BatchRequest, BatchSheet, Correction, Desk, Difference, Draft, DraftOutcome, Effects, Entered,
    FlowAsked, FlowFit, FormulaCard, InUse, Judgement, KeepDraft, KeptFit, Level, Looking, LotCard, Made,
    MaterialCard, MaterialHit, MeasuredFile, OpenFormula, OwnMaterial, Plate, SaveOutcome, SaveVersion,
    Saved, Studio, TrialBook, TypedCurve, TypedLot, TypedObservation, TypedReading, TypedTrial, VersionCard,
};
use crate::measurement::{Measured, MeasuredReading};
use crate::trouble::Trouble;
use async_trait::async_trait;
use jiff::civil::Date;
use levigate_project::facts::Facts;
use levigate_project::people::Hand;
use levigate_project::records::Photo;
use levigate_project::workbench::people as verbs;
use levigate_project::workspace::Workspace;
use std::collections::BTreeMap;
use std::sync::atomic::AtomicU64;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Who works at the desk and for which day and market.
#[derive(Clone)]
pub struct DeskSetup {
    /// Name of the studio or laboratory.
    pub studio: String,
    /// Who saves, where nobody logs in: stands beside every version.
    pub person: String,
    /// Whether this is the sample workspace.
    pub sample: bool,
    /// Market whose rules are read where a formula names none.
    pub market: String,
    /// The day the rules are read for.
    pub day: Arc<dyn Fn() -> Date + Send + Sync>,
}

impl std::fmt::Debug for DeskSetup {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.debug_struct("DeskSetup").field("studio", &self.studio).finish_non_exhaustive()
    }
}

/// The desk over a workspace.
#[derive(Clone)]
pub struct WorkspaceDesk {
    inner: Arc<Inner>,
}

struct Inner {
    workspace: Workspace,
    setup: DeskSetup,
    /// Whose name stands on what is written here; everything below is shared by all who sit down.
    hand: Hand,
    people: Arc<people::People>,
    shelf: Arc<shelf::Shelf>,
    summaries: Arc<Mutex<list::Summaries>>,
    flow: Arc<Mutex<bench::FlowKnown>>,
    last_edit: Arc<AtomicU64>,
    searches: Arc<searches::Searches>,
    /// One draft is looked at and written at a time.
    drafting: Arc<tokio::sync::Mutex<()>>,
}

impl std::fmt::Debug for WorkspaceDesk {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.debug_struct("WorkspaceDesk").field("setup", &self.inner.setup).finish_non_exhaustive()
    }
}

impl WorkspaceDesk {
    /// Sits down at a workspace. `facts` are the shipped ones with the laboratory's and the workspace's folder laid over; own
    /// materials kept in the workspace are laid over them here.
    ///
    /// # Errors
    /// The workspace cannot be read.
    pub async fn open(workspace: Workspace, facts: Facts, setup: DeskSetup) -> Answer<Self> {
        let shelf = shelf::Shelf::open(&workspace, facts).await?;
        let roll = verbs::roll(&workspace).await.map_err(|error| troubles::stored(&error))?;
        let inner = Inner {
            workspace,
            hand: Hand::initialled(&setup.person),
            setup,
            people: Arc::new(people::People::of(roll)),
            shelf: Arc::new(shelf),
            summaries: Arc::default(),
            flow: Arc::default(),
            last_edit: Arc::default(),
            searches: Arc::default(),
            drafting: Arc::default(),
        };
        Ok(Self { inner: Arc::new(inner) })
    }

    /// Computes beside the threads that answer.
    async fn work<T: Send + 'static>(&self, job: impl FnOnce(&Inner) -> T + Send + 'static) -> Answer<T> {
        let inner = Arc::clone(&self.inner);
        tokio::task::spawn_blocking(move || job(&inner)).await.map_err(|_| Trouble::broken())
    }
}

impl Inner {
    /// For somebody else: their name and how it is known, over the same workspace and all that is kept at hand of it.
    fn seated(&self, hand: Hand) -> Self {
        Self {
            workspace: self.workspace.known(hand.how),
            setup: DeskSetup { person: hand.name.clone(), ..self.setup.clone() },
            hand,
            people: Arc::clone(&self.people),
            shelf: Arc::clone(&self.shelf),
            summaries: Arc::clone(&self.summaries),
            flow: Arc::clone(&self.flow),
            last_edit: Arc::clone(&self.last_edit),
            searches: Arc::clone(&self.searches),
            drafting: Arc::clone(&self.drafting),
        }
    }

    fn day(&self) -> Date {
        (self.setup.day)()
    }
}

/// A lock that a panic elsewhere does not close: what is behind it is whole after every statement.
fn held<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}

#[async_trait]
impl Desk for WorkspaceDesk {
    async fn studio(&self) -> Answer<Studio> {
        let setup = &self.inner.setup;
        let refused = self.inner.shelf.refused();
        let mut facts = self.inner.shelf.facts().version();
        if refused > 0 {
            facts.push_str(&format!("; {refused} own records could not be read and are left out"));
        }
        Ok(Studio {
            name: setup.studio.clone(),
            sample: setup.sample,
            as_of: self.inner.day().to_string(),
            program: env!("CARGO_PKG_VERSION").to_owned(),
            facts,
        })
    }

    async fn assess_draft(&self, formula: &str, draft: &Draft) -> Answer<Judgement> {
        let (formula, draft, flow) = (formula.to_owned(), draft.clone(), bench::flow(self).await?);
        self.work(move |desk| judging::judge(desk, &flow, &formula, &draft)).await
    }

    async fn figures(&self, draft: &Draft, looking: &Looking) -> Answer<Vec<Plate>> {
        let (draft, looking, known) = (draft.clone(), looking.clone(), bench::flow(self).await?);
        let measured = flow_plate::measured(&self.inner, &looking.formula).await?;
        self.work(move |desk| {
            plates::plates(desk, known.for_formula(&looking.formula), &draft, &looking, &measured)
        })
        .await
    }

    async fn level(&self, formula: &str, draft: &Draft, line: &str, mpa_s: f64) -> Answer<Option<Level>> {
        let (formula, draft, line) = (formula.to_owned(), draft.clone(), line.to_owned());
        let known = bench::flow(self).await?;
        self.work(move |desk| flow_plate::level(desk, known.for_formula(&formula), &draft, &line, mpa_s))
            .await
    }

    async fn in_use(
        &self,
        formula: &str,
        draft: &Draft,
        sizes: &BTreeMap<String, f64>,
    ) -> Answer<Option<InUse>> {
        let (formula, draft, sizes) = (formula.to_owned(), draft.clone(), sizes.clone());
        let known = bench::flow(self).await?;
        self.work(move |desk| flow_plate::in_use(desk, known.for_formula(&formula), &draft, &sizes)).await
    }

    async fn made(&self, formula: &str, draft: &Draft) -> Answer<Option<Made>> {
        let (formula, draft, known) = (formula.to_owned(), draft.clone(), bench::flow(self).await?);
        self.work(move |desk| making::made(desk, known.for_formula(&formula), &draft)).await
    }

    async fn search_materials(&self, words: &str, most: usize) -> Answer<Vec<MaterialHit>> {
        let words = words.to_owned();
        self.work(move |desk| materials::search(desk, &words, most)).await
    }

    async fn material(&self, key: &str) -> Answer<MaterialCard> {
        materials::card(self, key).await
    }

    async fn save_material(&self, material: &OwnMaterial) -> Answer<MaterialCard> {
        materials::save(self, material).await
    }

    async fn formulas(&self) -> Answer<Vec<FormulaCard>> {
        list::cards(self).await
    }

    async fn formula(&self, id: &str) -> Answer<OpenFormula> {
        folders::open(&self.inner, id).await
    }

    async fn new_formula(&self, draft: &Draft, reason: &str) -> Answer<Saved> {
        folders::begin(&self.inner, draft, reason).await
    }

    async fn save_version(&self, id: &str, save: &SaveVersion) -> Answer<SaveOutcome> {
        folders::save(&self.inner, id, save).await
    }

    async fn keep_draft(&self, id: &str, keep: &KeepDraft) -> Answer<DraftOutcome> {
        folders::keep_draft(&self.inner, id, keep).await
    }

    async fn drop_draft(&self, id: &str) -> Answer<()> {
        folders::drop_draft(&self.inner, id).await
    }

    async fn versions(&self, id: &str) -> Answer<Vec<VersionCard>> {
        folders::versions(&self.inner, id).await
    }

    async fn version(&self, id: &str, number: u32) -> Answer<Draft> {
        folders::version(&self.inner, id, number).await
    }

    async fn difference(&self, id: &str, left: u32, right: u32) -> Answer<Difference> {
        folders::difference(self, id, left, right).await
    }

    async fn trials(&self, id: &str) -> Answer<TrialBook> {
        bench::trials(self, id).await
    }

    async fn trial_effects(&self, id: &str, left: u32, right: u32) -> Answer<Effects> {
        bench::trial_effects(self, id, [left, right]).await
    }

    async fn begin_trial(&self, id: &str, typed: &TypedTrial) -> Answer<Entered> {
        bench::begin_trial(&self.inner, id, typed).await
    }

    async fn add_reading(&self, trial: &str, typed: &TypedReading) -> Answer<Entered> {
        bench::add_reading(&self.inner, trial, typed).await
    }

    async fn correct_reading(&self, id: &str, correction: &Correction<TypedReading>) -> Answer<Entered> {
        bench::correct_reading(&self.inner, id, correction).await
    }

    async fn observe(
        &self,
        trial: &str,
        typed: &TypedObservation,
        photo: Option<Vec<u8>>,
    ) -> Answer<Entered> {
        bench::observe(&self.inner, trial, typed, photo).await
    }

    async fn correct_observation(
        &self,
        id: &str,
        correction: &Correction<TypedObservation>,
    ) -> Answer<Entered> {
        bench::correct_observation(&self.inner, id, correction).await
    }

    async fn photo(&self, id: &str) -> Answer<Photo> {
        bench::photo(&self.inner, id).await
    }

    async fn fit_flow(&self, file: MeasuredFile, asked: FlowAsked) -> Answer<FlowFit> {
        measured::fit_flow(self, file, asked).await
    }

    async fn keep_curve(&self, trial: &str, file: MeasuredFile, typed: TypedCurve) -> Answer<Entered> {
        measured::keep_curve(&self.inner, trial, &file, &typed).await
    }

    async fn correct_curve(
        &self,
        id: &str,
        reason: &str,
        instead: Option<(MeasuredFile, TypedCurve)>,
    ) -> Answer<Entered> {
        measured::correct_curve(&self.inner, id, reason, instead).await
    }

    async fn curve_fit(&self, id: &str) -> Answer<KeptFit> {
        measured::curve_fit(self, id).await
    }

    async fn lots(&self, material: Option<&str>) -> Answer<Vec<LotCard>> {
        bench::lots(&self.inner, material).await
    }

    async fn add_lot(&self, typed: &TypedLot) -> Answer<Entered> {
        bench::keep_lot(&self.inner, typed).await
    }

    async fn correct_lot(&self, id: &str, correction: &Correction<TypedLot>) -> Answer<Entered> {
        bench::correct_lot(&self.inner, id, correction).await
    }

    async fn measure(&self, measured: &Measured) -> Answer<MeasuredReading> {
        let measured = measured.clone();
        self.work(move |desk| measuring::measure(desk, &measured)).await?
    }

    async fn batch_sheet(&self, request: &BatchRequest) -> Answer<BatchSheet> {
        paper::page(self, request).await
    }

    async fn batch_sheet_pdf(&self, request: &BatchRequest) -> Answer<Vec<u8>> {
        paper::pdf(self, request).await
    }

    async fn formula_as_toml(&self, draft: &Draft) -> Answer<String> {
        folders::text_of(&self.inner, draft)
    }

    async fn import_toml(&self, text: &str) -> Answer<Draft> {
        let text = text.to_owned();
        self.work(move |desk| folders::import(desk, &text)).await?
    }
}

//! What is asked about batches, lots on the shelf and where a lot went.

use super::{Answer, Entered, Plate};
use async_trait::async_trait;
use levigate_project::records::PlanTold;
use levigate_project::workbench::batch::Outcome;
pub use levigate_project::workbench::batch::{
    BatchCard, BatchState, BenchAdvice, LineState, Started, TypedBatch, TypedEntry, TypedSample,
    TypedSignOff, TypedUndo, TypedVessel,
};
use levigate_project::workbench::making::lethality::LethalityReading;
use levigate_project::workbench::people::Signature;
pub use levigate_project::workbench::stock::{LotStock, ShelfLot, Suggested, TypedMovement, TypedStatus};
pub use levigate_project::workbench::trace::{Back, Forward};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// An entry that was kept, now or when it was sent the first time.
#[derive(Clone, Debug, Serialize)]
pub struct KeptEntry {
    /// Identity, as the device made it.
    pub id: String,
    /// Its number on the batch.
    pub number: u32,
    /// It was there already: the device may forget it.
    pub already: bool,
    /// The next step, from 1; none when all are done or left out.
    pub next: Option<usize>,
    /// The line it was about, as it stands now: with its verdict, a slip suspected, the ways out.
    pub line: Option<LineState>,
}

/// An entry put in the place of another.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(default)]
pub struct EntryCorrection {
    /// The entry that is struck.
    pub entry: String,
    /// Why.
    pub reason: String,
    /// What stands in its place, with an identity of its own.
    pub instead: TypedEntry,
}

/// Where lots went.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Traced {
    /// Lots of the code asked for, each with the batches that hold it.
    pub forward: Vec<Forward>,
    /// The batch asked for, with the lots in it.
    pub back: Option<Back>,
}

/// A plan before it is frozen.
#[derive(Clone, Debug, Default, Serialize)]
pub struct PlanBefore {
    /// Its steps in a few words.
    pub steps: Vec<String>,
    /// What is said against it.
    pub told: Vec<PlanTold>,
    /// Citation of every source key.
    pub sources: BTreeMap<String, String>,
}

/// The temperature of a batch over time, to be looked at.
#[derive(Clone, Debug, Serialize)]
pub struct TemperatureView {
    /// The figure with its numbers; none where nothing is planned and nothing was read.
    pub plate: Option<Plate>,
    /// Vessels of the facts: key and words.
    pub vessels: Vec<(String, String)>,
    /// What each hold asks for, and how long it was kept.
    pub held: Vec<HeldView>,
    /// How long warming and cooling takes.
    pub takes: Vec<(String, Outcome)>,
    /// What the record does to microbes.
    pub lethality: Option<LethalityReading>,
    /// Water that goes off by the model, g.
    pub evaporates: Option<Outcome>,
    /// Water that went off by the balance, g.
    pub went_off: Option<Outcome>,
    /// What must be known of it.
    pub notes: Vec<String>,
    /// Citation of every source key.
    pub sources: BTreeMap<String, String>,
}

/// A hold as it was kept.
#[derive(Clone, Debug, Serialize)]
pub struct HeldView {
    /// What was asked for, in words.
    pub words: String,
    /// At its temperature or above.
    pub kept: Outcome,
}

/// The questions about batches and stock.
#[async_trait]
pub trait BatchDesk: Send + Sync {
    /// Starts a batch of a saved version, and its trial with it. Sent twice, it is started once.
    async fn start_batch(&self, formula: &str, typed: &TypedBatch) -> Answer<Started>;
    /// The plan a batch would have, and what is said against it.
    async fn plan_before(&self, formula: &str, typed: &TypedBatch) -> Answer<PlanBefore>;
    /// Citation of every source key that stands in a batch.
    async fn sources_of(&self, batch: &BatchState) -> BTreeMap<String, String>;
    /// The temperature of a batch over time, with what is known of its vessel.
    async fn temperatures(&self, batch: &str, vessel: &TypedVessel) -> Answer<TemperatureView>;
    /// The newest batches, the newest first.
    async fn batches(&self, most: u32) -> Answer<Vec<BatchCard>>;
    /// A batch as it stands, by identity or code.
    async fn batch(&self, name: &str) -> Answer<BatchState>;
    /// Keeps an entry, with the bytes of a photo or without. Sent twice, it is kept once.
    async fn batch_entry(&self, batch: &str, typed: &TypedEntry, photo: Option<Vec<u8>>)
    -> Answer<KeptEntry>;
    /// Takes an entry back, or an undo. Sent twice, it is kept once.
    async fn undo_entry(&self, batch: &str, typed: &TypedUndo) -> Answer<KeptEntry>;
    /// The next addition at a step of a batch that adds to a pH, of what went in last or of another raw material.
    async fn bench_advice(&self, batch: &str, step: usize, with: &str) -> Answer<BenchAdvice>;
    /// Puts an entry in the place of another. Sent twice, it is kept once.
    async fn correct_entry(&self, batch: &str, correction: &EntryCorrection) -> Answer<KeptEntry>;
    /// Signs a batch off with a signature just given.
    async fn sign_off(&self, batch: &str, typed: &TypedSignOff, signature: &Signature) -> Answer<Entered>;
    /// Keeps a record of a retained sample. Sent twice, it is kept once.
    async fn retain_sample(&self, batch: &str, typed: &TypedSample) -> Answer<Entered>;
    /// The lots that could be taken for a line of a batch, the one to take first in front.
    async fn lots_for_line(&self, batch: &str, line: usize) -> Answer<Vec<Suggested>>;
    /// The same for every line, by its number, with one look at the stock.
    async fn lots_for_lines(&self, batch: &str) -> Answer<BTreeMap<usize, Vec<Suggested>>>;
    /// What the next batch after this one starts from: all the same, and one thing to change.
    async fn next_batch(&self, batch: &str) -> Answer<TypedBatch>;
    /// All lots as they stand on the shelf.
    async fn shelf_lots(&self) -> Answer<Vec<ShelfLot>>;
    /// A lot with its stock and all that happened to it.
    async fn lot(&self, id: &str) -> Answer<LotStock>;
    /// Keeps a decision about a lot. Sent twice, it is kept once.
    async fn decide_lot(&self, id: &str, typed: &TypedStatus) -> Answer<Entered>;
    /// Keeps what was put to a lot or taken from it by hand. Sent twice, it is kept once.
    async fn move_stock(&self, id: &str, typed: &TypedMovement) -> Answer<Entered>;
    /// Takes a movement back, with its reason; it stays to be seen.
    async fn take_back_movement(&self, id: &str, reason: &str) -> Answer<Entered>;
    /// Forward from a lot code, with its raw material or without; back from a batch; or both.
    async fn trace(&self, material: &str, lot: &str, batch: &str) -> Answer<Traced>;
}

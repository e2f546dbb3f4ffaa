//! The facts with own materials laid over. They are put together anew only when an own material is kept; a request takes what
//! stands ready.

use super::held;
use super::troubles::stored;
use crate::desk::{Answer, FieldRemark};
use levigate_project::facts::{Facts, Layer, lay_over};
use levigate_project::workbench::complaint::sentence;
use levigate_project::workbench::shelf::{laid_over, own_texts};
use levigate_project::workspace::Workspace;
use std::sync::{Arc, Mutex, PoisonError, RwLock};

/// How many formulas' own facts stand ready.
const KEPT: usize = 8;

/// The shelf.
pub(super) struct Shelf {
    /// Facts below the own materials.
    base: Facts,
    laid: RwLock<Laid>,
    /// Own facts of formulas seen last, newest last: text and the facts with them laid over.
    brought: Mutex<Vec<(u64, String, Arc<Facts>)>>,
}

#[derive(Clone)]
struct Laid {
    facts: Arc<Facts>,
    generation: u64,
    refused: usize,
}

impl Shelf {
    pub(super) async fn open(workspace: &Workspace, base: Facts) -> Answer<Self> {
        let laid = RwLock::new(Laid { facts: Arc::new(base.clone()), generation: 0, refused: 0 });
        let shelf = Self { base, laid, brought: Mutex::new(Vec::new()) };
        let texts = Self::texts(workspace).await?;
        if !texts.is_empty() {
            shelf.lay(&texts);
        }
        Ok(shelf)
    }

    /// The own materials of a workspace in the order they were kept: name and text.
    pub(super) async fn texts(workspace: &Workspace) -> Answer<Vec<(String, String)>> {
        own_texts(workspace).await.map_err(|error| stored(&error))
    }

    /// Lays texts over the base and puts the result on the shelf. A text that no longer reads is left out, and counted.
    pub(super) fn lay(&self, texts: &[(String, String)]) {
        let (facts, refused) = laid_over(&self.base, texts);
        let mut laid = self.laid.write().unwrap_or_else(PoisonError::into_inner);
        *laid = Laid { facts: Arc::new(facts), generation: laid.generation + 1, refused };
    }

    fn laid(&self) -> Laid {
        self.laid.read().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// The facts as they stand.
    pub(super) fn facts(&self) -> Arc<Facts> {
        self.laid().facts
    }

    /// Counts how often the facts changed.
    pub(super) fn generation(&self) -> u64 {
        self.laid().generation
    }

    /// Own records that could not be read.
    pub(super) fn refused(&self) -> usize {
        self.laid().refused
    }

    /// The facts with those a formula brings along laid over.
    pub(super) fn facts_with(&self, own: &str) -> Result<Arc<Facts>, Vec<FieldRemark>> {
        let laid = self.laid();
        if own.trim().is_empty() {
            return Ok(laid.facts);
        }
        let ready = |(generation, text, _): &&(u64, String, Arc<Facts>)| {
            *generation == laid.generation && text == own
        };
        if let Some((_, _, facts)) = held(&self.brought).iter().find(ready) {
            return Ok(Arc::clone(facts));
        }
        let facts = lay_over(&laid.facts, &[("the formula", own)], Layer::Formula).map_err(|error| {
            let remark = |fault: &levigate_project::facts::Fault| FieldRemark {
                field: "own_facts".to_owned(),
                what: sentence(&format!("{}: {}", fault.field(), fault.what())),
                why: "The formula brings facts of its own, and they cannot be read.".to_owned(),
                what_now: sentence(&fault.hint()),
                ..FieldRemark::default()
            };
            error.faults.iter().map(remark).collect::<Vec<_>>()
        })?;
        let facts = Arc::new(facts);
        let mut brought = held(&self.brought);
        if brought.len() >= KEPT {
            brought.remove(0);
        }
        brought.push((laid.generation, own.to_owned(), Arc::clone(&facts)));
        Ok(facts)
    }
}

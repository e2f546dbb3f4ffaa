//! Designed experiments: planned, made run by run, read, answered.
//!
//! | Module | What it is for |
//! | --- | --- |
//! | `ground` | lines of a version that can be varied |
//! | `typed` | an experiment as typed |
//! | `planning` | a plan read from that, what its runs would be, changes of it |
//! | `choosing` | the grid runs are chosen from, and a run as it stands on the sheet |
//! | `making` | a run, or a check batch, begun as a trial of a version with its percents |
//! | `entering` | what was read of runs, and corrections |
//! | `table` | readings from a spreadsheet |
//! | `book` | one experiment as it stands, and the list of all |
//! | `answer` | what the runs say, told anew each time |

mod answer;
mod book;
mod choosing;
mod entering;
mod ground;
mod making;
mod planning;
mod table;
mod typed;

pub(crate) use answer::surface;
pub use answer::{
    Asking, ExperimentAnswer, Looking, SeenRun, SeenSurface, Unanswered, experiment_answer, experiment_seen,
    region_seen,
};
pub use book::{
    BatchTold, ExperimentBook, ExperimentCard, ExperimentChange, ReadingTold, RunTold, experiment_book,
    experiment_cards,
};
pub use entering::{TypedRunReading, TypedRunReadings, correct_experiment_reading, keep_run_readings};
pub use ground::{GroundLine, ground_lines};
pub use making::{TypedMaking, make_run};
pub use planning::{
    ExperimentLook, LookFault, change_experiment, give_up_experiment, look_at_experiment, plan_experiment,
    time_of_choice,
};
pub use table::{bring_run_readings, look_at_run_readings};
pub use typed::{
    TypedExperiment, TypedExperimentCondition, TypedExperimentPart, TypedExperimentRead,
    TypedExperimentSetting, typed_experiment,
};

use crate::records::{
    Experiment, ExperimentBatch, ExperimentReading, Formula, Id, Kept, Kind, Trial, in_force,
};
use crate::store::StoreError;
use crate::workspace::Workspace;
use std::collections::BTreeMap;

/// How often a write is made anew because somebody wrote in between.
const TRIES: usize = 20;

/// An experiment with everything made and read for it.
#[derive(Clone, Debug)]
pub struct ExperimentRecords {
    /// All its records, the first in front: each corrects the one before.
    pub plans: Vec<Kept<Experiment>>,
    /// Batches made for it.
    pub batches: Vec<Kept<ExperimentBatch>>,
    /// What was read, struck readings too.
    pub readings: Vec<Kept<ExperimentReading>>,
    /// The formula its runs are made from.
    pub formula: Option<Kept<Formula>>,
    /// Numbers of the trials that were begun for it.
    pub trials: BTreeMap<Id<Trial>, u32>,
}

impl ExperimentRecords {
    /// The record that batches and readings belong to.
    #[must_use]
    pub fn root(&self) -> &Kept<Experiment> {
        &self.plans[0]
    }

    /// The plan as it stands.
    #[must_use]
    pub fn plan(&self) -> &Experiment {
        &self.plans[self.plans.len() - 1].what
    }

    /// The readings that count.
    pub(crate) fn counted(&self) -> impl Iterator<Item = &Kept<ExperimentReading>> {
        in_force(&self.readings).into_iter().filter(|reading| !reading.what.withdrawn)
    }

    /// The check batches, in the order they were begun.
    pub(crate) fn checks(&self) -> impl Iterator<Item = &Kept<ExperimentBatch>> {
        self.batches.iter().filter(|batch| batch.what.run.is_none())
    }

    /// The batch of a run, or the check batch of this name.
    pub(crate) fn batch_of(&self, run: &str) -> Option<&Kept<ExperimentBatch>> {
        self.batches.iter().find(|batch| match batch.what.run {
            Some(number) => number.to_string() == run,
            None => batch.what.check == run,
        })
    }
}

fn chains(all: Vec<Kept<Experiment>>) -> Vec<Vec<Kept<Experiment>>> {
    let mut chains: Vec<Vec<Kept<Experiment>>> = Vec::new();
    for one in all {
        let before = one.corrects.as_ref().map(|correction| correction.supersedes);
        match chains.iter_mut().find(|chain| chain.iter().any(|other| Some(other.id) == before)) {
            Some(chain) => chain.push(one),
            None => chains.push(vec![one]),
        }
    }
    chains
}

async fn filled(
    workspace: &Workspace,
    plans: Vec<Kept<Experiment>>,
) -> Result<ExperimentRecords, StoreError> {
    let root = plans[0].id;
    let of = plans[0].what.of;
    let (formula, trials) = match of {
        Some(of) => {
            let trials: Vec<Kept<Trial>> = workspace.of(of.formula).await?;
            let numbers = trials.into_iter().map(|trial| (trial.id, trial.number)).collect();
            (Some(workspace.get(of.formula).await?), numbers)
        }
        None => (None, BTreeMap::new()),
    };
    let batches = workspace.of(root).await?;
    let readings = workspace.of(root).await?;
    Ok(ExperimentRecords { plans, batches, readings, formula, trials })
}

/// Reads an experiment by the identity of any of its records.
///
/// # Errors
/// There is no such experiment, or the workspace cannot be read.
pub async fn gather_experiment(
    workspace: &Workspace,
    id: Id<Experiment>,
) -> Result<ExperimentRecords, StoreError> {
    let all = chains(workspace.all().await?);
    match all.into_iter().find(|chain| chain.iter().any(|one| one.id == id)) {
        Some(plans) => filled(workspace, plans).await,
        None => Err(StoreError::Missing { kind: Kind::Experiment, id: id.to_string() }),
    }
}

/// Reads all experiments, oldest first.
///
/// # Errors
/// The workspace cannot be read.
pub async fn gather_experiments(workspace: &Workspace) -> Result<Vec<ExperimentRecords>, StoreError> {
    let mut found = Vec::new();
    for plans in chains(workspace.all().await?) {
        found.push(filled(workspace, plans).await?);
    }
    Ok(found)
}

/// The experiment of a number, or the one whose name holds these words.
///
/// # Errors
/// There is none or more than one, or the workspace cannot be read.
pub async fn experiment_called(workspace: &Workspace, name: &str) -> Result<ExperimentRecords, StoreError> {
    let wanted = levigate_formula::names::folded(name);
    let called = |records: &ExperimentRecords| {
        records.root().id.to_string() == name.trim()
            || records.root().number.to_string() == name.trim()
            || (!wanted.is_empty() && levigate_formula::names::folded(&records.plan().name).contains(&wanted))
    };
    let mut found: Vec<ExperimentRecords> =
        gather_experiments(workspace).await?.into_iter().filter(called).collect();
    match (found.len(), found.pop()) {
        (1, Some(records)) => Ok(records),
        (many, _) => Err(StoreError::Missing {
            kind: Kind::Experiment,
            id: if many == 0 { name.to_owned() } else { format!("{name} ({many} are called so)") },
        }),
    }
}

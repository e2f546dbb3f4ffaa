//! Stability studies: planned, read at their pulls, looked at.
//!
//! | Module | What it is for |
//! | --- | --- |
//! | `practice` | what a study begins from: conditions, windows, scales |
//! | `planning` | a study as typed, and changes of its plan |
//! | `entering` | what was read at a pull, and corrections |
//! | `calendar` | what is due when |
//! | `book` | one study as it stands |
//! | `series` | the readings of one attribute over time, as they are judged |
//! | `trend` | the lines through them, and the law of temperature |
//! | `shift` | what a pH that moved stands for |
//! | `table` | readings from a spreadsheet |

mod book;
mod calendar;
mod entering;
mod planning;
mod practice;
mod series;
mod shift;
mod table;
mod trend;

pub use book::{PlanChange, StudyBook, StudyCard, StudyRead, study_book, study_cards};
pub use calendar::{DuePull, PullState, StudyPull, due_pulls};
pub use entering::{TypedPull, TypedValue, correct_study_reading, keep_pull};
pub use planning::{
    TypedStudy, TypedStudyAttribute, TypedStudyBatch, TypedStudyCondition, TypedStudyPack, change_study,
    give_up_study, plan_study, samples_needed, typed_of,
};
pub use practice::{AttributeOffer, Cause, ConditionOffer, ScaleOffer, StudyPractice, Window};
pub use series::Verdict;
pub use shift::{StudyShift, study_shift};
pub use table::{bring_readings, look_at_readings};
pub use trend::{StudyLosses, StudyTrend, TrendBatch, TrendPoint, Unanswered, study_losses, study_trend};

use crate::records::{Formula, Id, Kept, Study, StudyReading, in_force};
use crate::store::StoreError;
use crate::workspace::Workspace;

/// A study with everything read on it.
#[derive(Clone, Debug)]
pub struct StudyRecords {
    /// All its records, the first in front: each corrects the one before.
    pub plans: Vec<Kept<Study>>,
    /// What was read, struck readings too.
    pub readings: Vec<Kept<StudyReading>>,
    /// The formula.
    pub formula: Kept<Formula>,
}

impl StudyRecords {
    /// The record that readings belong to.
    #[must_use]
    pub fn root(&self) -> &Kept<Study> {
        &self.plans[0]
    }

    /// The plan as it stands.
    #[must_use]
    pub fn plan(&self) -> &Study {
        &self.plans[self.plans.len() - 1].what
    }

    /// The readings that count.
    pub(crate) fn counted(&self) -> impl Iterator<Item = &Kept<StudyReading>> {
        in_force(&self.readings).into_iter().filter(|reading| !reading.what.withdrawn)
    }
}

/// The records of every study by its first record, oldest first.
fn chains(all: Vec<Kept<Study>>) -> Vec<Vec<Kept<Study>>> {
    let mut chains: Vec<Vec<Kept<Study>>> = Vec::new();
    for study in all {
        let before = study.corrects.as_ref().map(|correction| correction.supersedes);
        let chain = chains.iter_mut().find(|chain| chain.iter().any(|one| Some(one.id) == before));
        match chain {
            Some(chain) => chain.push(study),
            None => chains.push(vec![study]),
        }
    }
    chains
}

/// Reads a study by the identity of any of its records.
///
/// # Errors
/// There is no such study, or the workspace cannot be read.
pub async fn gather_study(workspace: &Workspace, id: Id<Study>) -> Result<StudyRecords, StoreError> {
    let all = chains(workspace.all().await?);
    let chain = all.into_iter().find(|chain| chain.iter().any(|one| one.id == id));
    let Some(plans) = chain else {
        return Err(StoreError::Missing { kind: crate::records::Kind::Study, id: id.to_string() });
    };
    let readings = workspace.of(plans[0].id).await?;
    let formula = workspace.get(plans[0].what.formula).await?;
    Ok(StudyRecords { plans, readings, formula })
}

/// Reads all studies, oldest first.
///
/// # Errors
/// The workspace cannot be read.
pub async fn gather_studies(workspace: &Workspace) -> Result<Vec<StudyRecords>, StoreError> {
    let mut studies = Vec::new();
    for plans in chains(workspace.all().await?) {
        let readings = workspace.of(plans[0].id).await?;
        let formula = workspace.get(plans[0].what.formula).await?;
        studies.push(StudyRecords { plans, readings, formula });
    }
    Ok(studies)
}

/// The study of a number, or the one whose name holds these words.
///
/// # Errors
/// There is none or more than one, or the workspace cannot be read.
pub async fn study_called(workspace: &Workspace, name: &str) -> Result<StudyRecords, StoreError> {
    let wanted = levigate_formula::names::folded(name);
    let mut found: Vec<StudyRecords> = gather_studies(workspace)
        .await?
        .into_iter()
        .filter(|study| {
            study.root().id.to_string() == name.trim()
                || study.root().number.to_string() == name.trim()
                || (!wanted.is_empty()
                    && levigate_formula::names::folded(&study.plan().name).contains(&wanted))
        })
        .collect();
    match (found.len(), found.pop()) {
        (1, Some(study)) => Ok(study),
        (many, _) => Err(StoreError::Missing {
            kind: crate::records::Kind::Study,
            id: if many == 0 { name.to_owned() } else { format!("{name} ({many} are called so)") },
        }),
    }
}

//! What people did and decided, as it is kept: every record is written once and never changed. A correction is a new record
//! that names the old one and says why; the old one stays.
//!
//! A record is the plain thing a person gave ([`Lot`], [`Reading`], ...) inside the envelope the workspace puts round it
//! ([`Kept`]: identity, running number, who, when, what it corrects).

mod batch;
mod batch_entry;
mod challenge;
mod curve;
mod device;
mod experiment;
mod formula;
mod identity;
mod lot;
mod material;
mod number;
mod person;
mod photo;
mod setting;
mod sign_off;
mod stock;
mod study;
mod trial;

pub use batch::{
    Batch, Plan, PlanCaution, PlanLine, PlanPortion, PlanProcedure, PlanReason, PlanStep, PlanTold, StepKind,
    is_batch_code,
};
pub use batch_entry::{
    BatchEntry, BufferRead, Did, FromPaper, LotNamed, MOST_LOGGED, OverWay, TypedMass, WEIGHT_UNITS,
};
pub use challenge::{ChallengeTest, Inoculated, MOST_DAYS, MOST_ORGANISMS};
pub use curve::{
    CurveColumn, CurvePoint, FitTaken, FlowCurve, HeldShear, MOST_POINTS, OverTime, ReadingBefore,
    ReadingOverTime,
};
pub use device::FromDevice;
pub use experiment::{
    Experiment, ExperimentBatch, ExperimentCondition, ExperimentOf, ExperimentPart, ExperimentRead,
    ExperimentReading, ExperimentRun, ExperimentSetting, ExperimentWish, MOST_RUNS,
};
pub use formula::{Draft, Formula, FormulaVersion};
pub use identity::{BadId, Id};
pub use lot::{AgainstSpecification, CoaValue, Lot};
pub use material::{MaterialOverlay, OverlaySort};
pub use number::{DecimalSign, TypedNumber};
pub use person::{PasswordKept, Person, Role};
pub use photo::{MediaType, PHOTO_LIMIT_BYTES, Photo, PhotoError};
pub use setting::{Setting, Theme};
pub use sign_off::{RetainedSample, SignOff, SignedAs};
pub use stock::{LotStatus, Status, StockMovement};
pub use study::{
    AttributeReads, ConditionRole, PlannedPull, PullUnit, START, Study, StudyAttribute, StudyBatch,
    StudyCondition, StudyPack, StudyReading,
};
pub use trial::{BatchSize, LotTaken, Method, Observation, Reading, Trial};

use jiff::Timestamp;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::store::LotUse;

/// The kinds of record. A new kind is a new line here and a migration in the store, so that an older program says that it is
/// too old instead of reading half a workspace.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// A formula.
    Formula,
    /// A version of a formula.
    FormulaVersion,
    /// A lot of a raw material.
    Lot,
    /// A trial of a formula version.
    Trial,
    /// A reading on a trial.
    Reading,
    /// An observation on a trial.
    Observation,
    /// A measured flow curve of a trial.
    FlowCurve,
    /// The lab's own raw material, grade or price.
    MaterialOverlay,
    /// A person's settings.
    Setting,
    /// A person who logs in.
    Person,
    /// A batch being made.
    Batch,
    /// What was done on a batch.
    BatchEntry,
    /// A batch signed off.
    SignOff,
    /// A sample of a batch that is kept.
    RetainedSample,
    /// A decision about a lot.
    LotStatus,
    /// Something put to a lot or taken from it by hand.
    StockMovement,
    /// A challenge test of a formula.
    ChallengeTest,
    /// A stability study.
    Study,
    /// What was read at a pull of a study.
    StudyReading,
    /// A designed experiment.
    Experiment,
    /// A batch made for an experiment.
    ExperimentBatch,
    /// What was read of a run of an experiment.
    ExperimentReading,
}

impl Kind {
    /// All kinds.
    pub const ALL: [Self; 22] = [
        Self::Formula,
        Self::FormulaVersion,
        Self::Lot,
        Self::Trial,
        Self::Reading,
        Self::Observation,
        Self::FlowCurve,
        Self::MaterialOverlay,
        Self::Setting,
        Self::Person,
        Self::Batch,
        Self::BatchEntry,
        Self::SignOff,
        Self::RetainedSample,
        Self::LotStatus,
        Self::StockMovement,
        Self::ChallengeTest,
        Self::Study,
        Self::StudyReading,
        Self::Experiment,
        Self::ExperimentBatch,
        Self::ExperimentReading,
    ];

    /// The word under which it is stored.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Formula => "formula",
            Self::FormulaVersion => "formula_version",
            Self::Lot => "lot",
            Self::Trial => "trial",
            Self::Reading => "reading",
            Self::Observation => "observation",
            Self::FlowCurve => "flow_curve",
            Self::MaterialOverlay => "material_overlay",
            Self::Setting => "setting",
            Self::Person => "person",
            Self::Batch => "batch",
            Self::BatchEntry => "batch_entry",
            Self::SignOff => "sign_off",
            Self::RetainedSample => "retained_sample",
            Self::LotStatus => "lot_status",
            Self::StockMovement => "stock_movement",
            Self::ChallengeTest => "challenge_test",
            Self::Study => "study",
            Self::StudyReading => "study_reading",
            Self::Experiment => "experiment",
            Self::ExperimentBatch => "experiment_batch",
            Self::ExperimentReading => "experiment_reading",
        }
    }

    /// The kind of a stored word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.word() == word)
    }
}

impl std::fmt::Display for Kind {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.write_str(&self.word().replace('_', " "))
    }
}

/// How it is known who wrote a record.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum How {
    /// Somebody at this machine wrote under a name; nothing proves that it is theirs.
    #[default]
    Initialled,
    /// The person had logged in with their password.
    Authenticated,
}

impl How {
    /// The word under which it is stored and hashed.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Initialled => "initialled",
            Self::Authenticated => "authenticated",
        }
    }

    /// The meaning of a stored word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Initialled, Self::Authenticated].into_iter().find(|how| how.word() == word)
    }

    /// As it stands beside a name.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Initialled => "initialled, not authenticated",
            Self::Authenticated => "authenticated by password",
        }
    }
}

/// A record in its envelope.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(bound(deserialize = "T: DeserializeOwned"))]
pub struct Kept<T> {
    /// Identity.
    pub id: Id<T>,
    /// Running number from 1 inside its scope: versions and trials per formula, readings and observations per trial,
    /// formulas, lots, studies and experiments per workspace, readings of a study per study, entries and sign-offs per batch, overlays per material, settings per person.
    pub number: u32,
    /// Place in the workspace's log, from 1.
    pub sequence: u64,
    /// Who wrote it.
    pub who: String,
    /// How that is known.
    #[serde(default)]
    pub how: How,
    /// When.
    pub when: Timestamp,
    /// The older record it corrects, and why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub corrects: Option<Correction<T>>,
    /// What the person gave.
    #[serde(flatten)]
    pub what: T,
}

/// Which older record a record corrects, and why.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(bound = "")]
pub struct Correction<T> {
    /// The older record, which stays as it was.
    pub supersedes: Id<T>,
    /// Why.
    pub reason: String,
}

/// The records nobody has corrected, in their order.
#[must_use]
pub fn in_force<T>(records: &[Kept<T>]) -> Vec<&Kept<T>> {
    let replaced: std::collections::BTreeSet<Id<T>> = records
        .iter()
        .filter_map(|record| record.corrects.as_ref().map(|correction| correction.supersedes))
        .collect();
    records.iter().filter(|record| !replaced.contains(&record.id)).collect()
}

/// Another record that must exist before this one may be written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Mention {
    /// A record of a kind within a scope, by identity.
    Record {
        /// Its kind.
        kind: Kind,
        /// Its scope.
        scope: String,
        /// Its identity.
        id: Uuid,
    },
    /// A record of a kind within a scope, by running number.
    Number {
        /// Its kind.
        kind: Kind,
        /// Its scope.
        scope: String,
        /// Its number.
        number: u32,
    },
}

/// What a person gave, in a form the workspace can keep.
pub trait Record: Serialize + DeserializeOwned + Send + Sync {
    /// Its kind.
    const KIND: Kind;
    /// The record it belongs to: a version to its formula, a reading to its trial.
    fn belongs_to(&self) -> Option<(Kind, Uuid)> {
        None
    }
    /// Within what its running number counts; empty means the whole workspace.
    fn scope(&self) -> String {
        self.belongs_to().map_or_else(String::new, |(_, id)| id.to_string())
    }
    /// Further records that must exist.
    fn mentions(&self) -> Vec<Mention> {
        Vec::new()
    }
    /// The lots it puts into a batch, for the index by which lots are traced.
    fn uses(&self) -> Vec<LotUse> {
        Vec::new()
    }
    /// Whether it is fit to be kept.
    ///
    /// # Errors
    /// A field is empty, too long or contradicts another.
    fn check(&self) -> Result<(), RecordError>;
}

/// Why a record is not fit to be kept.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum RecordError {
    /// A field that must say something says nothing.
    #[error("{field} is empty")]
    Empty {
        /// The field.
        field: &'static str,
    },
    /// A field is longer than is kept.
    #[error("{field} has {length} bytes, at most {limit} are kept")]
    TooLong {
        /// The field.
        field: &'static str,
        /// Bytes given.
        length: usize,
        /// Bytes kept at most.
        limit: usize,
    },
    /// A field contradicts sense or another field.
    #[error("{field}: {what}")]
    Contradiction {
        /// The field.
        field: &'static str,
        /// What is wrong.
        what: String,
    },
    /// The photo is not one.
    #[error(transparent)]
    Photo(#[from] PhotoError),
}

impl RecordError {
    /// The field it is about.
    #[must_use]
    pub fn field(&self) -> &'static str {
        match self {
            Self::Empty { field } | Self::TooLong { field, .. } | Self::Contradiction { field, .. } => field,
            Self::Photo(_) => "photo",
        }
    }

    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Empty { .. } => "fill the field in",
            Self::TooLong { .. } => "shorten the text, or keep the long form as a file beside the workspace",
            Self::Contradiction { .. } => "correct the field; nothing was written",
            Self::Photo(error) => error.hint(),
        }
    }
}

/// Longest one-line field, bytes.
pub(crate) const LINE_LIMIT: usize = 400;
/// Longest text, bytes: a formula of 60 lines has about 6,000.
pub(crate) const TEXT_LIMIT: usize = 1_000_000;

/// A one-line field that must say something.
pub(crate) fn required(field: &'static str, text: &str) -> Result<(), RecordError> {
    if text.trim().is_empty() {
        return Err(RecordError::Empty { field });
    }
    at_most(field, text, LINE_LIMIT)
}

/// Replicates as typed: one at least, at most so many as anybody types.
pub(crate) fn replicates(values: &[TypedNumber]) -> Result<(), RecordError> {
    const MOST: usize = 40;
    if values.is_empty() {
        return Err(RecordError::Empty { field: "values" });
    }
    if values.len() > MOST {
        let what = format!("{} numbers are more than the {MOST} a reading holds", values.len());
        return Err(RecordError::Contradiction { field: "values", what });
    }
    values.iter().try_for_each(|value| required("values", &value.typed))
}

/// A field that may be empty.
pub(crate) fn at_most(field: &'static str, text: &str, limit: usize) -> Result<(), RecordError> {
    if text.len() > limit {
        return Err(RecordError::TooLong { field, length: text.len(), limit });
    }
    Ok(())
}

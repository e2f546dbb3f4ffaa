//! Designed experiments: which blends of parts are made at which settings, in which order, what is read of them, and what was read.
//!
//! An experiment is its first record; a change of its plan corrects the one before. The run sheet is kept as it was chosen, so that what was
//! made stays what was asked for, whatever becomes of the way runs are chosen.

use std::collections::BTreeSet;

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{
    Formula, FromDevice, Id, Kind, LINE_LIMIT, Mention, Record, RecordError, TEXT_LIMIT, Trial, TypedNumber,
    at_most, replicates, required,
};

/// Most runs of an experiment.
pub const MOST_RUNS: usize = 200;
/// Most of anything else an experiment lists.
const MOST: usize = 40;

/// A designed experiment. Its number counts in the whole workspace.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Experiment {
    /// What it is called.
    pub name: String,
    /// What it shall tell.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub why: String,
    /// The formula and version its runs are made from; none where the parts are named freely.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub of: Option<ExperimentOf>,
    /// Parts that are varied, percent of the product.
    pub parts: Vec<ExperimentPart>,
    /// What the parts make together, percent of the product.
    pub total_percent: TypedNumber,
    /// Sums of factors times percents that must be reached.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub conditions: Vec<ExperimentCondition>,
    /// Settings of the process.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub settings: Vec<ExperimentSetting>,
    /// Model of the blend: `linear`, `quadratic`, `special-cubic`, `full-cubic`.
    pub model: String,
    /// Terms of the settings: `linear`, `pairs`, `quadratic`.
    pub process: String,
    /// How settings act beside the blend: `added`, `crossed`.
    pub joined: String,
    /// What the runs are chosen for: `terms`, `predictions`.
    pub goal: String,
    /// How often the middle of the region is made.
    pub middles: u32,
    /// How many runs are made a second time.
    pub repeats: u32,
    /// Blocks.
    pub blocks: u32,
    /// Seed of the choice and of the order.
    pub seed: u64,
    /// What is read of every run.
    pub reads: Vec<ExperimentRead>,
    /// The runs in the order to make them.
    pub runs: Vec<ExperimentRun>,
    /// Remark.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// When it was typed on a device, and the mark of what was sent.
    #[serde(flatten)]
    pub from: FromDevice,
    /// The experiment was given up; what was read stays.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub withdrawn: bool,
}

/// The formula version runs are made from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ExperimentOf {
    /// The formula.
    pub formula: Id<Formula>,
    /// The version.
    pub version: u32,
}

/// A part that is varied.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ExperimentPart {
    /// Name; of a formula the raw material of its line.
    pub name: String,
    /// Its line in the version, from 0.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub line: Option<usize>,
    /// Least, percent of the product.
    pub least: TypedNumber,
    /// Most, percent of the product.
    pub most: TypedNumber,
}

/// A sum of factors times percents that must be reached.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ExperimentCondition {
    /// One factor for every part.
    pub factors: Vec<TypedNumber>,
    /// Least of the sum, percent.
    pub least_percent: TypedNumber,
}

/// A setting of the process.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ExperimentSetting {
    /// Name.
    pub name: String,
    /// Unit as typed.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub unit: String,
    /// Lower level.
    pub low: TypedNumber,
    /// Upper level.
    pub high: TypedNumber,
}

/// What is read of a run.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ExperimentRead {
    /// Name.
    pub name: String,
    /// Unit as typed; empty for a pH.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub unit: String,
    /// What is wished of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wish: Option<ExperimentWish>,
}

/// What is wished of a reading.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ExperimentWish {
    /// `larger`, `smaller`, `target`.
    pub wish: String,
    /// Nothing below is worth anything.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub low: Option<TypedNumber>,
    /// What is wished.
    pub target: TypedNumber,
    /// Nothing beyond is worth anything.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub high: Option<TypedNumber>,
}

/// A run of the sheet.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ExperimentRun {
    /// When it is made, from 1.
    pub number: u32,
    /// Its block, from 1; none where there is one only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub block: Option<u32>,
    /// Percent of every part, of the product.
    pub percent: Vec<Decimal>,
    /// Level of every setting.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub settings: Vec<Decimal>,
}

fn listed<'a>(field: &'static str, names: impl Iterator<Item = &'a String>) -> Result<(), RecordError> {
    let mut seen = BTreeSet::new();
    for name in names {
        required(field, name)?;
        if !seen.insert(name.to_lowercase()) {
            let what = format!("\"{name}\" stands there twice");
            return Err(RecordError::Contradiction { field, what });
        }
    }
    if seen.len() > MOST {
        let what = format!("{} are more than the {MOST} an experiment holds", seen.len());
        return Err(RecordError::Contradiction { field, what });
    }
    Ok(())
}

impl Record for Experiment {
    const KIND: Kind = Kind::Experiment;
    fn mentions(&self) -> Vec<Mention> {
        let version = |of: ExperimentOf| Mention::Number {
            kind: Kind::FormulaVersion,
            scope: of.formula.to_string(),
            number: of.version,
        };
        self.of.map(version).into_iter().collect()
    }
    fn check(&self) -> Result<(), RecordError> {
        required("name", &self.name)?;
        at_most("why", &self.why, TEXT_LIMIT)?;
        at_most("note", &self.note, TEXT_LIMIT)?;
        for (field, word) in [
            ("model", &self.model),
            ("process", &self.process),
            ("joined", &self.joined),
            ("goal", &self.goal),
        ] {
            required(field, word)?;
        }
        let parts = self.parts.iter().map(|part| &part.name);
        listed("parts", parts.chain(self.settings.iter().map(|setting| &setting.name)))?;
        listed("reads", self.reads.iter().map(|read| &read.name))?;
        if self.parts.len() < 2 || self.reads.is_empty() {
            return Err(RecordError::Empty { field: if self.reads.is_empty() { "reads" } else { "parts" } });
        }
        if self.runs.is_empty() || self.runs.len() > MOST_RUNS {
            let what = format!("{} runs; an experiment has one to {MOST_RUNS}", self.runs.len());
            return Err(RecordError::Contradiction { field: "runs", what });
        }
        let whole = |run: &ExperimentRun| {
            run.percent.len() == self.parts.len() && run.settings.len() == self.settings.len()
        };
        if !self.runs.iter().all(whole) {
            let what = "a run has a level for every part and every setting".to_owned();
            return Err(RecordError::Contradiction { field: "runs", what });
        }
        Ok(())
    }
}

/// A batch made for an experiment: of a run of its sheet, or beside it to check what the models say.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ExperimentBatch {
    /// The experiment, by its first record.
    pub experiment: Id<Experiment>,
    /// The run; none for a check batch, which has a blend of its own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub run: Option<u32>,
    /// Name of a check batch; empty for a run.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub check: String,
    /// Percent of every part as it is made.
    pub percent: Vec<Decimal>,
    /// Level of every setting.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub settings: Vec<Decimal>,
    /// The version saved for it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub version: Option<u32>,
    /// The trial that was begun with it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub trial: Option<Id<Trial>>,
}

impl Record for ExperimentBatch {
    const KIND: Kind = Kind::ExperimentBatch;
    fn belongs_to(&self) -> Option<(Kind, Uuid)> {
        Some((Kind::Experiment, self.experiment.uuid()))
    }
    fn check(&self) -> Result<(), RecordError> {
        at_most("check", &self.check, LINE_LIMIT)?;
        if self.run.is_none() == self.check.trim().is_empty() {
            let what = "a batch is one of a run or a check batch with a name".to_owned();
            return Err(RecordError::Contradiction { field: "run", what });
        }
        Ok(())
    }
}

/// What was read of one run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ExperimentReading {
    /// The experiment, by its first record.
    pub experiment: Id<Experiment>,
    /// Number of the run, or name of the check batch.
    pub run: String,
    /// What was read, by name.
    pub read: String,
    /// Replicates as typed.
    pub values: Vec<TypedNumber>,
    /// Remark.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// When it was typed on a device, and the mark of what was sent.
    #[serde(flatten)]
    pub from: FromDevice,
    /// The record only takes back the one it corrects and puts nothing in its place.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub withdrawn: bool,
}

impl Record for ExperimentReading {
    const KIND: Kind = Kind::ExperimentReading;
    fn belongs_to(&self) -> Option<(Kind, Uuid)> {
        Some((Kind::Experiment, self.experiment.uuid()))
    }
    fn check(&self) -> Result<(), RecordError> {
        required("run", &self.run)?;
        required("read", &self.read)?;
        at_most("note", &self.note, TEXT_LIMIT)?;
        replicates(&self.values)?;
        Ok(())
    }
}

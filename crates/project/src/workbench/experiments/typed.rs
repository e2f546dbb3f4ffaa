//! An experiment as typed.

use crate::records::{Experiment, TypedNumber};
use crate::workbench::keeping::TypedDevice;
use serde::{Deserialize, Serialize};

/// An experiment as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedExperiment {
    /// Identity and moment from the device.
    #[serde(flatten)]
    pub device: TypedDevice,
    /// Identity of the formula; empty where parts are named freely.
    pub formula: String,
    /// Its version.
    pub version: u32,
    /// Name.
    pub name: String,
    /// What it shall tell.
    pub why: String,
    /// Parts.
    pub parts: Vec<TypedExperimentPart>,
    /// What they make together; 100 when empty.
    pub total_percent: String,
    /// Conditions.
    pub conditions: Vec<TypedExperimentCondition>,
    /// Settings.
    pub settings: Vec<TypedExperimentSetting>,
    /// Model; quadratic when empty.
    pub model: String,
    /// Terms of the settings; linear when empty.
    pub process: String,
    /// How settings act beside the blend; added when empty.
    pub joined: String,
    /// Goal; terms when empty.
    pub goal: String,
    /// Runs, all together; three more than terms and the middles when empty.
    pub runs: String,
    /// Middles; none when empty.
    pub middles: String,
    /// Runs made a second time; none when empty.
    pub repeats: String,
    /// Blocks; one when empty.
    pub blocks: String,
    /// Seed; 1 when empty.
    pub seed: String,
    /// What is read.
    pub reads: Vec<TypedExperimentRead>,
    /// Remark.
    pub note: String,
}

/// A part as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedExperimentPart {
    /// Name.
    pub name: String,
    /// Its line in the version, from 0.
    pub line: Option<usize>,
    /// Least, percent of the product.
    pub least: String,
    /// Most, percent of the product.
    pub most: String,
}

/// A condition as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedExperimentCondition {
    /// One factor for every part; empty is nought.
    pub factors: Vec<String>,
    /// Least of the sum, percent.
    pub least_percent: String,
}

/// A setting as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedExperimentSetting {
    /// Name.
    pub name: String,
    /// Unit.
    pub unit: String,
    /// Lower level.
    pub low: String,
    /// Upper level.
    pub high: String,
}

/// What is read, as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedExperimentRead {
    /// Name.
    pub name: String,
    /// Unit.
    pub unit: String,
    /// `larger`, `smaller`, `target`; nothing is wished when empty.
    pub wish: String,
    /// Nothing below is worth anything.
    pub low: String,
    /// What is wished.
    pub target: String,
    /// Nothing beyond is worth anything.
    pub high: String,
}

/// The plan as it would be typed again.
#[must_use]
pub fn typed_experiment(of: &Experiment) -> TypedExperiment {
    let text = |number: &Option<TypedNumber>| number.as_ref().map(|it| it.typed.clone()).unwrap_or_default();
    TypedExperiment {
        device: TypedDevice::default(),
        formula: of.of.map(|of| of.formula.to_string()).unwrap_or_default(),
        version: of.of.map_or(0, |of| of.version),
        name: of.name.clone(),
        why: of.why.clone(),
        parts: of
            .parts
            .iter()
            .map(|part| TypedExperimentPart {
                name: part.name.clone(),
                line: part.line,
                least: part.least.typed.clone(),
                most: part.most.typed.clone(),
            })
            .collect(),
        total_percent: of.total_percent.typed.clone(),
        conditions: of
            .conditions
            .iter()
            .map(|one| TypedExperimentCondition {
                factors: one.factors.iter().map(|factor| factor.typed.clone()).collect(),
                least_percent: one.least_percent.typed.clone(),
            })
            .collect(),
        settings: of
            .settings
            .iter()
            .map(|one| TypedExperimentSetting {
                name: one.name.clone(),
                unit: one.unit.clone(),
                low: one.low.typed.clone(),
                high: one.high.typed.clone(),
            })
            .collect(),
        model: of.model.clone(),
        process: of.process.clone(),
        joined: of.joined.clone(),
        goal: of.goal.clone(),
        runs: of.runs.len().to_string(),
        middles: of.middles.to_string(),
        repeats: of.repeats.to_string(),
        blocks: of.blocks.to_string(),
        seed: of.seed.to_string(),
        reads: of
            .reads
            .iter()
            .map(|one| TypedExperimentRead {
                name: one.name.clone(),
                unit: one.unit.clone(),
                wish: one.wish.as_ref().map(|wish| wish.wish.clone()).unwrap_or_default(),
                low: one.wish.as_ref().map(|wish| text(&wish.low)).unwrap_or_default(),
                target: one.wish.as_ref().map(|wish| wish.target.typed.clone()).unwrap_or_default(),
                high: one.wish.as_ref().map(|wish| text(&wish.high)).unwrap_or_default(),
            })
            .collect(),
        note: of.note.clone(),
    }
}

//! The trials of a formula: begun, copied, and laid out in order with what was read on them beside what was predicted.
//!
//! Everything here tells what people did. The prediction beside a reading is computed anew from the version that was made and the
//! lots that were taken, with the facts of today; it is not what somebody saw on the screen that day.

mod beside;
mod book;
mod effects;
mod flow;
mod foresight;
mod making;
mod ph;
mod tree;

pub(super) use beside::against_target;
pub use beside::{Beside, Stands};
pub use book::{
    ChangeSince, Observed, Prediction, Read, TrialBook, TrialLine, TrialView, VersionBrief, trial_book,
};
pub use effects::{AttributeEffects, Difference, Effects, NotComputed, Scale, trial_effects};
pub use flow::{FlowBook, FlowLesson, MovedNumber, TaughtBy, flow_book, gather_bench};
pub use foresight::{AttributeForesight, FlowNumber, Foreseen, Foresight, foresight};
pub use ph::PhBook;
pub use tree::{Tie, TreeNode, Verdict};

use super::batch::{BatchFilled, made_on};
use super::keeping::{Form, KeepError};
use crate::formula_file;
use crate::records::{
    BatchSize, FlowCurve, Formula, FormulaVersion, Id, Kept, Lot, LotTaken, Observation, Reading, Trial,
    TypedNumber,
};
use crate::store::StoreError;
use crate::workspace::Workspace;
use levigate_formula::names::folded;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Units a batch size is typed in, with their grams.
pub const BATCH_UNITS: [(&str, u32); 2] = [("g", 1), ("kg", 1000)];

/// A trial as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedTrial {
    /// The saved version that is made.
    pub version: u32,
    /// Identity of the trial it is copied from; empty for none.
    pub parent: String,
    /// What was changed against it.
    pub changed: String,
    /// Batch size.
    pub size: String,
    /// Its unit; grams when empty.
    pub unit: String,
    /// How it is made.
    pub process: String,
    /// The day, ISO; the day of the entry when empty.
    pub made: String,
    /// Lots taken; empty codes are passed over.
    pub lots: Vec<TypedLotTaken>,
}

/// The lot taken for a line, as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedLotTaken {
    /// Position of the line in the version, from 0.
    pub line: usize,
    /// Lot code.
    pub code: String,
}

/// Everything the workspace holds about the trials of a formula.
#[derive(Clone, Debug)]
pub struct TrialRecords {
    /// The formula.
    pub formula: Kept<Formula>,
    /// Its versions, oldest first, at least one.
    pub versions: Vec<Kept<FormulaVersion>>,
    /// Its trials, oldest first.
    pub trials: Vec<Kept<Trial>>,
    /// What was read on each.
    pub readings: BTreeMap<Id<Trial>, Vec<Kept<Reading>>>,
    /// What was seen on each.
    pub observations: BTreeMap<Id<Trial>, Vec<Kept<Observation>>>,
    /// Flow curves measured on each.
    pub curves: BTreeMap<Id<Trial>, Vec<Kept<FlowCurve>>>,
    /// All lots of the workspace.
    pub lots: Vec<Kept<Lot>>,
    /// The batch each was made as, with what was done on it, where it was made step by step.
    pub batches: BTreeMap<Id<Trial>, BatchFilled>,
}

/// Reads everything the workspace holds about the trials of a formula.
///
/// # Errors
/// There is no such formula, or the workspace cannot be read.
pub async fn gather(workspace: &Workspace, formula: Id<Formula>) -> Result<TrialRecords, StoreError> {
    let kept = workspace.get(formula).await?;
    let trials: Vec<Kept<Trial>> = workspace.of(formula).await?;
    let (mut readings, mut observations, mut curves) = (BTreeMap::new(), BTreeMap::new(), BTreeMap::new());
    let mut batches = BTreeMap::new();
    for trial in &trials {
        readings.insert(trial.id, workspace.of(trial.id).await?);
        observations.insert(trial.id, workspace.of(trial.id).await?);
        curves.insert(trial.id, workspace.of(trial.id).await?);
        if let Some(made) = made_on(workspace, trial.id).await? {
            batches.insert(trial.id, made);
        }
    }
    let versions = workspace.of(formula).await?;
    let lots = workspace.all().await?;
    Ok(TrialRecords { formula: kept, versions, trials, readings, observations, curves, lots, batches })
}

/// How many trials each formula has.
///
/// # Errors
/// The workspace cannot be read.
pub async fn trial_counts(workspace: &Workspace) -> Result<BTreeMap<Id<Formula>, usize>, StoreError> {
    let mut counts = BTreeMap::new();
    for trial in workspace.all::<Trial>().await? {
        *counts.entry(trial.what.formula).or_default() += 1;
    }
    Ok(counts)
}

/// The formulas a person may mean: by identity, by whole name, else by part of the name. Names are compared without regard to
/// case and signs.
///
/// # Errors
/// The workspace cannot be read.
pub async fn formulas_called(workspace: &Workspace, name: &str) -> Result<Vec<Kept<Formula>>, StoreError> {
    let all: Vec<Kept<Formula>> = workspace.all().await?;
    if let Ok(id) = name.parse::<Id<Formula>>() {
        return Ok(all.into_iter().filter(|formula| formula.id == id).collect());
    }
    let wanted = folded(name);
    let (whole, others): (Vec<_>, Vec<_>) =
        all.into_iter().partition(|formula| folded(&formula.what.name) == wanted);
    if !whole.is_empty() || wanted.is_empty() {
        return Ok(whole);
    }
    Ok(others.into_iter().filter(|formula| folded(&formula.what.name).contains(&wanted)).collect())
}

/// The trial of a number.
///
/// # Errors
/// There is none, or the workspace cannot be read.
pub async fn trial_numbered(
    workspace: &Workspace,
    formula: Id<Formula>,
    number: u32,
) -> Result<Kept<Trial>, StoreError> {
    let trials: Vec<Kept<Trial>> = workspace.of(formula).await?;
    let kind = crate::records::Kind::Trial;
    trials
        .into_iter()
        .find(|trial| trial.number == number)
        .ok_or_else(|| StoreError::Missing { kind, id: number.to_string() })
}

/// Begins a trial of a saved version.
///
/// # Errors
/// What was typed cannot be kept, there is no such version, or the workspace refused.
pub async fn begin_trial(
    workspace: &Workspace,
    who: &str,
    formula: Id<Formula>,
    typed: &TypedTrial,
) -> Result<Kept<Trial>, KeepError> {
    let version = workspace.version(formula, typed.version).await?;
    let trial = read_trial(&version, typed)?;
    Ok(workspace.add(who, trial).await?)
}

/// Reads a trial of a version from what was typed.
///
/// # Errors
/// Everything that is wrong with it, field by field.
pub(super) fn read_trial(version: &Kept<FormulaVersion>, typed: &TypedTrial) -> Result<Trial, KeepError> {
    let materials: Vec<String> = formula_file::read("formula", &version.what.text)
        .map(|file| file.sheet.lines().map(|(_, line)| line.material.clone()).collect())
        .unwrap_or_default();
    let mut form = Form::default();
    let parent = match typed.parent.trim() {
        "" => None,
        text => match text.parse() {
            Ok(id) => Some(id),
            Err(_) => {
                form.fault(
                    "parent",
                    "this is not a trial",
                    "a copy is made of a trial of this formula",
                    "open the trials and copy from there",
                );
                None
            }
        },
    };
    let batch_size = batch_size(&mut form, typed);
    let mut lots = Vec::new();
    for taken in typed.lots.iter().filter(|taken| !taken.code.trim().is_empty()) {
        match materials.get(taken.line) {
            Some(material) => lots.push(LotTaken {
                line: taken.line,
                material: material.clone(),
                code: taken.code.trim().to_owned(),
            }),
            None => form.fault(
                "lots",
                &format!("version {} has no line {}", version.number, taken.line.saturating_add(1)),
                "a lot is taken for a line",
                "open the version again",
            ),
        }
    }
    let trial = Trial {
        formula: version.what.formula,
        version: version.number,
        parent,
        changed: typed.changed.trim().to_owned(),
        batch_size,
        process: typed.process.trim().to_owned(),
        made: form.day("made", &typed.made),
        lots,
    };
    form.done(trial)
}

/// A batch size in grams, where it is a number in a unit known.
pub(super) fn size_in_grams(batch: &BatchSize) -> Option<Decimal> {
    let (_, grams) = BATCH_UNITS.iter().find(|(unit, _)| *unit == batch.unit)?;
    batch.size.value?.checked_mul(Decimal::from(*grams)).filter(|grams| *grams > Decimal::ZERO)
}

fn batch_size(form: &mut Form, typed: &TypedTrial) -> Option<BatchSize> {
    if typed.size.trim().is_empty() {
        return None;
    }
    let unit = match typed.unit.trim() {
        "" => "g",
        unit => unit,
    };
    let size = TypedNumber::read_either(&typed.size);
    if !BATCH_UNITS.iter().any(|(known, _)| *known == unit) {
        form.fault(
            "unit",
            &format!("\"{}\" is not a unit of a batch here", super::keeping::short(unit)),
            "a batch is weighed",
            "choose g or kg",
        );
    }
    if size.value.is_none_or(|size| size <= Decimal::ZERO || size > Decimal::from(1_000_000)) {
        form.fault(
            "size",
            &format!("\"{}\" is not a batch size", super::keeping::short(&typed.size)),
            "a batch is a mass above zero",
            "type it like 200 or 1,5",
        );
    }
    Some(BatchSize { size, unit: unit.to_owned() })
}

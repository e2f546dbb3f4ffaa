//! A batch being made: the plan as it was frozen when it was started.
//!
//! The plan is copied into the record, not pointed at: whatever becomes of the formula, of the facts or of the way steps are
//! derived, what the person at the bench was asked to do stays as it was.

use levigate_formula::sheet::StepKind as Does;
use levigate_measure::weighing::BalanceRecord;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use uuid::Uuid;

use super::{Id, Kind, LINE_LIMIT, Record, RecordError, TEXT_LIMIT, Trial, at_most, required};

/// Most steps of a plan.
const MOST_STEPS: usize = 500;

/// A batch. It belongs to the trial that was begun with it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Batch {
    /// The trial.
    pub trial: Id<Trial>,
    /// Batch code, one in the workspace: capital letters, digits, `-`, `_`, `.`.
    pub code: String,
    /// What is to be done.
    pub plan: Plan,
    /// Version of the program that made the plan.
    pub engine_version: String,
    /// Version of the facts it rests on.
    pub data_version: String,
    /// SHA-256 of what was sent, by which a second sending is told from another batch with the same identity.
    pub sent_sha256: String,
    /// Remark.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
}

/// What is to be done, frozen.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Plan {
    /// Name of the product.
    pub product: String,
    /// Number of the formula version.
    pub version: u32,
    /// Code of its text.
    pub version_code: String,
    /// Batch size, g.
    pub size_g: Decimal,
    /// Balances, the first one where an entry names none.
    pub balances: Vec<BalanceRecord>,
    /// Steps in order.
    pub steps: Vec<PlanStep>,
    /// What was said against the procedure before it was frozen: told, not forbidden.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub told: Vec<PlanTold>,
}

/// Something that the procedure breaks, as it was told.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlanTold {
    /// What it weighs, in a word.
    pub gravity: String,
    /// Step of the procedure it is about, from 1; absent for the whole.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub number: Option<usize>,
    /// What stands wrong, or which demands cannot all be kept.
    pub found: String,
    /// What happens then.
    pub breaks: String,
    /// Why it is asked.
    pub why: String,
    /// Source keys.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sources: Vec<String>,
}

/// What a step is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum StepKind {
    /// Weigh a line and put it in.
    Weigh,
    /// Do what the text says: stir, heat, hold, cool, combine.
    Work,
    /// Add an acid or a base to a pH.
    Adjust,
    /// Weigh the vessel and give back the water that went off.
    MakeUp,
    /// Look, read or measure.
    Check,
}

/// One step.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlanStep {
    /// Number, from 1.
    pub number: usize,
    /// What it is about.
    pub kind: StepKind,
    /// Name of the phase; empty where it belongs to none.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub phase: String,
    /// What is done, in words.
    pub text: String,
    /// Why it stands here, where the plan knows.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub why: String,
    /// The line to weigh.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub line: Option<PlanLine>,
    /// Temperature to be reached, C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature_c: Option<Decimal>,
    /// Speed of the stirrer, rpm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub speed_rpm: Option<Decimal>,
    /// How long, minutes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hold_min: Option<Decimal>,
    /// What to look at before going on.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub checks: Vec<String>,
    /// What to heed.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cautions: Vec<PlanCaution>,
    /// What the procedure says of it; absent in plans that were made from the phases alone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub procedure: Option<PlanProcedure>,
}

/// The step of the procedure that a step of the plan belongs to.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlanProcedure {
    /// Its number, from 1, as on the printed sheet.
    pub number: usize,
    /// Place of the step of the plan in it, from 1.
    pub place: usize,
    /// How many steps of the plan it has.
    pub of: usize,
    /// What is done in it.
    pub does: Does,
    /// The premix that is made in it.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub premix: String,
    /// What is done, in plain sentences.
    pub instruction: String,
    /// Temperature, time and stirring in one line.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub how: String,
    /// Temperature of what is in the vessel, C, from and to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature_c: Option<[Decimal; 2]>,
    /// How long, minutes, from and to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub minutes: Option<[Decimal; 2]>,
    /// Why it stands there.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub because: Vec<PlanReason>,
    /// Source keys of what is done and looked at.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sources: Vec<String>,
}

/// Why a step stands where it stands.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlanReason {
    /// Where that puts it.
    pub stands: String,
    /// Why.
    pub why: String,
    /// Source keys.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sources: Vec<String>,
}

/// A line to weigh, or a portion of one that goes in by portions.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlanLine {
    /// Number on the sheet, from 1.
    pub number: usize,
    /// Key of the raw material.
    pub material: String,
    /// Its name.
    pub name: String,
    /// Percent of the batch.
    pub percent: Decimal,
    /// Grams to weigh, with the decimals of the balance.
    pub grams: Decimal,
    /// Tolerance, percent of the target.
    pub tolerance_percent: Decimal,
    /// Tolerance, g, in whole divisions of the balance.
    pub tolerance_g: Decimal,
    /// The q.s. line.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub remainder: bool,
    /// The pH it is added to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to_ph: Option<Decimal>,
    /// Of a line added to a pH: what goes in first, g.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub first_g: Option<Decimal>,
    /// Lot code intended.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub lot: String,
    /// Where it is a portion: of what.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub portion: Option<PlanPortion>,
}

/// The whole that a portion belongs to.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlanPortion {
    /// Which portion, from 1 in the order of the steps.
    pub number: usize,
    /// Of how many.
    pub of: usize,
    /// Percent of the whole line.
    pub percent: Decimal,
    /// Grams of the whole line.
    pub grams: Decimal,
    /// Tolerance of the whole line, g.
    pub tolerance_g: Decimal,
}

/// Something to heed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlanCaution {
    /// Hazard (`caustic`, `heat`, ...).
    pub hazard: String,
    /// Plain words.
    pub text: String,
    /// Source key.
    pub source: String,
}

impl Plan {
    /// Lines and portions as they are weighed, in the order of the steps.
    pub fn portions(&self) -> impl Iterator<Item = &PlanLine> {
        self.steps.iter().filter_map(|step| step.line.as_ref())
    }

    /// The lines by their numbers, each once and whole.
    #[must_use]
    pub fn lines(&self) -> Vec<PlanLine> {
        let mut lines: BTreeMap<usize, (PlanLine, Decimal)> = BTreeMap::new();
        for one in self.portions() {
            let (line, first_g) = lines.entry(one.number).or_insert_with(|| (one.whole(), one.grams));
            if one.to_ph.is_some() && one.portion.is_some() {
                // What goes in first of a line that is added to a pH is then a portion of its own.
                (line.to_ph, line.first_g) = (one.to_ph, Some(*first_g));
            }
        }
        lines.into_values().map(|(line, _)| line).collect()
    }

    /// Lines whose portions do not add up to them, by number.
    fn uneven(&self) -> Option<usize> {
        let mut sums: BTreeMap<usize, (Decimal, Decimal)> = BTreeMap::new();
        for one in self.portions() {
            let (sum, _) = sums.entry(one.number).or_insert((Decimal::ZERO, one.whole().grams));
            *sum += one.grams;
        }
        sums.into_iter().find(|(_, (sum, whole))| sum != whole).map(|(number, _)| number)
    }
}

impl PlanStep {
    /// Whether a temperature, C, has reached that of the step: from above where it cools, else from below. One without a temperature is
    /// reached by none.
    #[must_use]
    pub fn reaches(&self, celsius: Decimal) -> bool {
        let cools = self.procedure.as_ref().is_some_and(|procedure| procedure.does == Does::Cool);
        self.temperature_c.is_some_and(|goal| if cools { celsius <= goal } else { celsius >= goal })
    }
}

impl PlanLine {
    /// The line it is, or is a portion of.
    #[must_use]
    pub fn whole(&self) -> Self {
        match &self.portion {
            None => self.clone(),
            Some(whole) => Self {
                percent: whole.percent,
                grams: whole.grams,
                tolerance_g: whole.tolerance_g,
                portion: None,
                ..self.clone()
            },
        }
    }
}

/// Whether a text can be a batch code as it is kept.
#[must_use]
pub fn is_batch_code(text: &str) -> bool {
    let allowed =
        |sign: char| sign.is_ascii_uppercase() || sign.is_ascii_digit() || matches!(sign, '-' | '_' | '.');
    (1..=40).contains(&text.len()) && text.chars().all(allowed)
}

impl Record for Batch {
    const KIND: Kind = Kind::Batch;
    fn belongs_to(&self) -> Option<(Kind, Uuid)> {
        Some((Kind::Trial, self.trial.uuid()))
    }
    /// Its own code: one batch has it, and it is found by it.
    fn scope(&self) -> String {
        self.code.clone()
    }
    fn check(&self) -> Result<(), RecordError> {
        required("batch code", &self.code)?;
        if !is_batch_code(&self.code) {
            let what = "only capital letters, digits, - _ and . make a batch code, at most 40".to_owned();
            return Err(RecordError::Contradiction { field: "batch code", what });
        }
        at_most("note", &self.note, TEXT_LIMIT)?;
        let plan = &self.plan;
        required("product", &plan.product)?;
        if plan.size_g <= Decimal::ZERO {
            let what = format!("{} g is nothing to make", plan.size_g);
            return Err(RecordError::Contradiction { field: "batch size", what });
        }
        if plan.steps.is_empty() || plan.balances.is_empty() {
            return Err(RecordError::Empty { field: "plan" });
        }
        if plan.steps.len() > MOST_STEPS {
            let what = format!("{} steps, at most {MOST_STEPS} are kept", plan.steps.len());
            return Err(RecordError::Contradiction { field: "plan", what });
        }
        if let Some(number) = plan.uneven() {
            let what = format!("the portions of line {number} do not add up to it");
            return Err(RecordError::Contradiction { field: "plan", what });
        }
        for (at, step) in plan.steps.iter().enumerate() {
            required("step", step.text.get(..LINE_LIMIT.min(step.text.len())).unwrap_or("step"))?;
            at_most("step", &step.text, TEXT_LIMIT)?;
            if step.number != at + 1 {
                let what = format!("step {} stands in place {}", step.number, at + 1);
                return Err(RecordError::Contradiction { field: "plan", what });
            }
        }
        Ok(())
    }
}

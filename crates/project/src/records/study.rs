//! Stability studies: what is kept where, when it is pulled, what is read, and what was read.
//!
//! A study belongs to a formula version and to the batches that are kept. A change of its plan is a correction: a new record that names the
//! old one and says why. Readings belong to the first record of the study, whatever corrected that.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;
use jiff::{Span, ToSpan as _};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{
    Formula, FromDevice, Id, Kind, LINE_LIMIT, Mention, Record, RecordError, TEXT_LIMIT, Trial, TypedNumber,
    at_most, replicates, required,
};

/// Name of the condition under which the start is read: before anything went anywhere.
pub const START: &str = "start";
/// Most of anything a study lists.
const MOST: usize = 40;
/// Longest time of a pull: twenty years.
const MOST_DAYS: u32 = 7305;

/// A stability study. Its number counts in the whole workspace.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Study {
    /// The formula.
    pub formula: Id<Formula>,
    /// The version that is kept.
    pub version: u32,
    /// What it is called.
    pub name: String,
    /// Why it is made, and why these conditions and limits.
    pub why: String,
    /// The day everything went to its place.
    pub start: Date,
    /// The batches that are kept.
    pub batches: Vec<StudyBatch>,
    /// The packs they are kept in.
    pub packs: Vec<StudyPack>,
    /// Where they are kept.
    pub conditions: Vec<StudyCondition>,
    /// What is read.
    pub attributes: Vec<StudyAttribute>,
    /// Packs opened at each pull, of each batch and kind of pack.
    pub units_per_pull: u32,
    /// Kept beside that, percent of all pulls.
    pub reserve_percent: TypedNumber,
    /// Shelf life that is wanted, months.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wanted_months: Option<TypedNumber>,
    /// Remark.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// When it was typed on a device, and the mark of what was sent.
    #[serde(flatten)]
    pub from: FromDevice,
    /// The study was given up; what was read stays.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub withdrawn: bool,
}

/// A batch in a study.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct StudyBatch {
    /// Its code, or how the trial is called.
    pub name: String,
    /// The trial it was made as; none for one that was made elsewhere.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub trial: Option<Id<Trial>>,
}

/// A kind of pack.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct StudyPack {
    /// Name.
    pub name: String,
    /// How much is in it, as typed with its unit.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub fill: String,
    /// What it is made of.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub material: String,
}

/// What a condition is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ConditionRole {
    /// Where it is kept and sold.
    Storage,
    /// In the refrigerator.
    Cold,
    /// Between the two.
    Intermediate,
    /// Harsher, to see early what may come.
    Accelerated,
    /// So harsh that no law of temperature holds.
    Stress,
}

impl ConditionRole {
    /// All, with their words.
    pub const ALL: [(Self, &'static str, &'static str); 5] = [
        (Self::Storage, "storage", "where it is kept and sold"),
        (Self::Cold, "cold", "kept cold"),
        (Self::Intermediate, "intermediate", "between storage and accelerated"),
        (Self::Accelerated, "accelerated", "harsher, to see early what may come"),
        (Self::Stress, "stress", "a stress that no law of temperature covers"),
    ];

    /// The role of a word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|(_, known, _)| *known == word).map(|(role, ..)| role)
    }
}

/// Where samples are kept.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct StudyCondition {
    /// Name.
    pub name: String,
    /// Temperature, C; none where it is not held.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature_c: Option<TypedNumber>,
    /// Relative humidity, percent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub humidity_percent: Option<TypedNumber>,
    /// What it is for.
    pub role: ConditionRole,
    /// How it is held.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub words: String,
    /// When samples are pulled, earliest first; the start stands for itself.
    pub pulls: Vec<PlannedPull>,
}

/// Unit of the time of a pull.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum PullUnit {
    /// Days.
    Days,
    /// Weeks.
    Weeks,
    /// Months of the calendar.
    Months,
}

/// A time at which samples are pulled, counted from the start.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct PlannedPull {
    /// How many.
    pub after: u32,
    /// Of what.
    pub unit: PullUnit,
}

impl PlannedPull {
    /// The start itself.
    pub const START: Self = Self { after: 0, unit: PullUnit::Days };

    /// The day it is due. Months are those of the calendar; where a month has no such day it is its last.
    #[must_use]
    pub fn due(self, start: Date) -> Date {
        let after = i64::from(self.after);
        let span: Span = match self.unit {
            PullUnit::Days => after.days(),
            PullUnit::Weeks => after.weeks(),
            PullUnit::Months => after.months(),
        };
        start.checked_add(span).unwrap_or(start)
    }

    /// About how many days that is, for windows and order.
    #[must_use]
    pub fn days(self) -> u32 {
        match self.unit {
            PullUnit::Days => self.after,
            PullUnit::Weeks => self.after.saturating_mul(7),
            PullUnit::Months => self.after.saturating_mul(30) + self.after / 2,
        }
    }
}

impl std::fmt::Display for PlannedPull {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let (one, many) = match self.unit {
            PullUnit::Days if self.after == 0 => return out.write_str(START),
            PullUnit::Days => ("day", "days"),
            PullUnit::Weeks => ("week", "weeks"),
            PullUnit::Months => ("month", "months"),
        };
        write!(out, "{} {}", self.after, if self.after == 1 { one } else { many })
    }
}

/// How an attribute is read and judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum AttributeReads {
    /// The number itself.
    Value,
    /// The number in percent of that of the same batch and pack at the start.
    PercentOfStart,
    /// L*, a*, b*; the distance from the start is judged.
    Colour,
    /// A step of a scale with anchored words.
    Scale,
}

impl AttributeReads {
    /// All, with their words.
    pub const ALL: [(Self, &'static str); 4] = [
        (Self::Value, "value"),
        (Self::PercentOfStart, "percent-of-start"),
        (Self::Colour, "colour"),
        (Self::Scale, "scale"),
    ];

    /// The way of a word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|(_, known)| *known == word).map(|(reads, _)| reads)
    }
}

/// What is read at a pull.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct StudyAttribute {
    /// Name; of an assay with the content.
    pub name: String,
    /// How it is read and judged.
    pub reads: AttributeReads,
    /// Unit as typed; empty for pH, colour and scales.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub unit: String,
    /// Least that is within.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lower: Option<TypedNumber>,
    /// Most that is within.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub upper: Option<TypedNumber>,
    /// It may drift up or down: both confidence limits count.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub either_way: bool,
    /// How it is measured, by name: `spindle`, `speed`, `temperature`.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub measured_at: BTreeMap<String, String>,
    /// The words of a scale, from step 0 on.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub steps: Vec<String>,
}

impl StudyAttribute {
    /// How many numbers one replicate has.
    #[must_use]
    pub fn numbers(&self) -> usize {
        if self.reads == AttributeReads::Colour { 3 } else { 1 }
    }
}

fn listed<'a>(
    field: &'static str,
    names: impl ExactSizeIterator<Item = &'a String>,
) -> Result<(), RecordError> {
    let contradiction = |what: String| Err(RecordError::Contradiction { field, what });
    if names.len() == 0 {
        return Err(RecordError::Empty { field });
    }
    if names.len() > MOST {
        return contradiction(format!("{} are more than the {MOST} a study holds", names.len()));
    }
    let mut seen = BTreeSet::new();
    for name in names {
        required(field, name)?;
        if !seen.insert(name.to_lowercase()) {
            return contradiction(format!("\"{name}\" stands there twice"));
        }
    }
    Ok(())
}

impl Record for Study {
    const KIND: Kind = Kind::Study;
    fn belongs_to(&self) -> Option<(Kind, Uuid)> {
        Some((Kind::Formula, self.formula.uuid()))
    }
    fn scope(&self) -> String {
        String::new()
    }
    fn mentions(&self) -> Vec<Mention> {
        let scope = self.formula.to_string();
        let version =
            Mention::Number { kind: Kind::FormulaVersion, scope: scope.clone(), number: self.version };
        let trials = self.batches.iter().filter_map(|batch| batch.trial);
        let trials =
            trials.map(|id| Mention::Record { kind: Kind::Trial, scope: scope.clone(), id: id.uuid() });
        std::iter::once(version).chain(trials).collect()
    }
    fn check(&self) -> Result<(), RecordError> {
        required("name", &self.name)?;
        required("why", &self.why)?;
        at_most("note", &self.note, TEXT_LIMIT)?;
        listed("batches", self.batches.iter().map(|batch| &batch.name))?;
        listed("packs", self.packs.iter().map(|pack| &pack.name))?;
        listed("conditions", self.conditions.iter().map(|condition| &condition.name))?;
        listed("attributes", self.attributes.iter().map(|attribute| &attribute.name))?;
        for pack in &self.packs {
            at_most("fill of a pack", &pack.fill, LINE_LIMIT)?;
            at_most("material of a pack", &pack.material, LINE_LIMIT)?;
        }
        for condition in &self.conditions {
            at_most("words of a condition", &condition.words, TEXT_LIMIT)?;
            let fits = |pull: &PlannedPull| (1..=MOST_DAYS).contains(&pull.days());
            if condition.pulls.len() > MOST || !condition.pulls.iter().all(fits) {
                let what = format!("the pulls at {} lie between a day and twenty years", condition.name);
                return Err(RecordError::Contradiction { field: "conditions", what });
            }
        }
        for attribute in &self.attributes {
            if attribute.reads == AttributeReads::Scale && attribute.steps.len() < 2 {
                let what = format!("the scale of {} has no steps", attribute.name);
                return Err(RecordError::Contradiction { field: "attributes", what });
            }
        }
        if !(1..=100).contains(&self.units_per_pull) {
            let what = format!("{} packs at each pull", self.units_per_pull);
            return Err(RecordError::Contradiction { field: "units_per_pull", what });
        }
        Ok(())
    }
}

/// What was read of one attribute on one batch in one pack at one pull.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct StudyReading {
    /// The study, by its first record.
    pub study: Id<Study>,
    /// Batch, by name.
    pub batch: String,
    /// Pack, by name.
    pub pack: String,
    /// Condition, by name; [`START`] at the start.
    pub condition: String,
    /// The pull it was planned for; none for one beside the plan.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pull: Option<PlannedPull>,
    /// The day the sample was really pulled.
    pub on: Date,
    /// Attribute, by name.
    pub attribute: String,
    /// Replicates as typed: one number each, of a colour three.
    pub values: Vec<TypedNumber>,
    /// How it was measured where that is otherwise than planned, by name.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub measured_at: BTreeMap<String, String>,
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

impl Record for StudyReading {
    const KIND: Kind = Kind::StudyReading;
    fn belongs_to(&self) -> Option<(Kind, Uuid)> {
        Some((Kind::Study, self.study.uuid()))
    }
    fn check(&self) -> Result<(), RecordError> {
        required("batch", &self.batch)?;
        required("pack", &self.pack)?;
        required("condition", &self.condition)?;
        required("attribute", &self.attribute)?;
        at_most("note", &self.note, TEXT_LIMIT)?;
        replicates(&self.values)?;
        for (name, value) in &self.measured_at {
            required("condition's name", name)?;
            at_most("condition", value, LINE_LIMIT)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn a_pull_is_due_by_the_calendar_and_a_short_month_ends_it() {
        let pull = |after, unit| PlannedPull { after, unit };
        assert_eq!(pull(3, PullUnit::Months).due(date(2026, 11, 30)), date(2027, 2, 28));
        assert_eq!(pull(26, PullUnit::Weeks).due(date(2026, 5, 29)), date(2026, 11, 27));
        assert_eq!(pull(1, PullUnit::Days).due(date(2026, 12, 31)), date(2027, 1, 1));
        assert_eq!(pull(1, PullUnit::Weeks).to_string(), "1 week");
        assert_eq!(PlannedPull::START.to_string(), START);
    }
}

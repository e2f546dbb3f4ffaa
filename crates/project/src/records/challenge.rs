//! A challenge test of a formula: what was sent, to whom, how it was counted, and the counts as they were typed.

use std::collections::BTreeSet;

use jiff::civil::Date;
use levigate_rules::challenge::Kind as Microbe;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{
    Formula, FromDevice, Id, Kind, LINE_LIMIT, Mention, Record, RecordError, TEXT_LIMIT, Trial, TypedNumber,
    at_most, required,
};

/// Most organisms of a test that are kept.
pub const MOST_ORGANISMS: usize = 40;
/// Most days.
pub const MOST_DAYS: usize = 24;

/// A challenge test. Its number counts per formula.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ChallengeTest {
    /// The formula.
    pub formula: Id<Formula>,
    /// The version that was made.
    pub version: u32,
    /// The trial the sample was taken from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub trial: Option<Id<Trial>>,
    /// The sample: batch, pack, what was done to it before.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub sample: String,
    /// Who tested it.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub laboratory: String,
    /// The day it was inoculated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub started: Option<Date>,
    /// By which method.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub method: String,
    /// pH of the sample.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ph: Option<TypedNumber>,
    /// Age of the sample, hours.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub age_h: Option<TypedNumber>,
    /// Unit of the counts: `CFU/g` or `CFU/mL`.
    pub unit: String,
    /// Recovered with product and neutraliser, % of the control.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub recovered_percent: Option<TypedNumber>,
    /// Recovered with the neutraliser alone, % of the control.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub alone_percent: Option<TypedNumber>,
    /// Days on which was counted, ascending.
    pub days: Vec<u16>,
    /// Organisms.
    pub organisms: Vec<Inoculated>,
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

/// An organism of a test.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Inoculated {
    /// Name.
    pub organism: String,
    /// Kind.
    pub kind: Microbe,
    /// Calculated initial count, as typed.
    pub initial: String,
    /// Counts as typed, one text per day: `240`, `240 260` for two plates, `<10` below a floor; empty where nothing was counted.
    pub counts: Vec<String>,
}

impl Record for ChallengeTest {
    const KIND: Kind = Kind::ChallengeTest;
    fn belongs_to(&self) -> Option<(Kind, Uuid)> {
        Some((Kind::Formula, self.formula.uuid()))
    }
    fn mentions(&self) -> Vec<Mention> {
        let version =
            Mention::Number { kind: Kind::FormulaVersion, scope: self.scope(), number: self.version };
        let trial =
            self.trial.map(|id| Mention::Record { kind: Kind::Trial, scope: self.scope(), id: id.uuid() });
        std::iter::once(version).chain(trial).collect()
    }
    fn check(&self) -> Result<(), RecordError> {
        for (field, text) in
            [("sample", &self.sample), ("laboratory", &self.laboratory), ("method", &self.method)]
        {
            at_most(field, text, LINE_LIMIT)?;
        }
        at_most("note", &self.note, TEXT_LIMIT)?;
        required("unit", &self.unit)?;
        let wrong = |field: &'static str, what: String| Err(RecordError::Contradiction { field, what });
        if self.days.is_empty()
            || self.days.len() > MOST_DAYS
            || !self.days.is_sorted_by(|one, two| one < two)
        {
            return wrong("days", format!("days ascend, and there are 1 to {MOST_DAYS} of them"));
        }
        if self.organisms.is_empty() || self.organisms.len() > MOST_ORGANISMS {
            return wrong("organisms", format!("there are 1 to {MOST_ORGANISMS} of them"));
        }
        let mut names = BTreeSet::new();
        for one in &self.organisms {
            required("organism", &one.organism)?;
            required("initial count", &one.initial)?;
            for count in &one.counts {
                at_most("count", count, LINE_LIMIT)?;
            }
            if one.counts.len() != self.days.len() {
                return wrong(
                    "counts",
                    format!("{} has {} texts for {} days", one.organism, one.counts.len(), self.days.len()),
                );
            }
            if !names.insert(&one.organism) {
                return wrong("organism", format!("{} stands there twice", one.organism));
            }
        }
        Ok(())
    }
}

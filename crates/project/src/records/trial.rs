//! Trials at the bench, what was read on them and what was seen.

use std::collections::BTreeMap;

use jiff::civil::Date;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{
    Formula, FromDevice, Id, Kept, Kind, LINE_LIMIT, MediaType, Mention, Record, RecordError, TEXT_LIMIT,
    TypedNumber, at_most, required,
};

/// A trial: one making of one formula version. Its number counts per formula.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Trial {
    /// The formula.
    pub formula: Id<Formula>,
    /// The version that was made.
    pub version: u32,
    /// The trial it was copied from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub parent: Option<Id<Trial>>,
    /// What was changed against the parent, in words.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub changed: String,
    /// Batch size.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub batch_size: Option<BatchSize>,
    /// How it was made.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub process: String,
    /// The day it was made; the day of the entry when not said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub made: Option<Date>,
    /// Lots taken, line by line. A line that is not named here was made from the lot its formula line names, if it names one.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lots: Vec<LotTaken>,
}

/// The lot taken for a line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LotTaken {
    /// Position of the line in the version, from 0.
    pub line: usize,
    /// Raw material as the line names it.
    pub material: String,
    /// Lot code.
    pub code: String,
}

/// A batch size as typed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct BatchSize {
    /// Number as typed.
    #[serde(flatten)]
    pub size: TypedNumber,
    /// Unit: `g`, `kg`.
    pub unit: String,
}

impl Trial {
    /// The next trial copied from one that was kept: same formula, size, process and lots; the version to make, the day and what
    /// changed are the person's to say.
    #[must_use]
    pub fn copied_from(kept: &Kept<Self>, version: u32, changed: impl Into<String>) -> Self {
        Self { version, parent: Some(kept.id), changed: changed.into(), made: None, ..kept.what.clone() }
    }
}

impl Record for Trial {
    const KIND: Kind = Kind::Trial;
    fn belongs_to(&self) -> Option<(Kind, Uuid)> {
        Some((Kind::Formula, self.formula.uuid()))
    }
    fn mentions(&self) -> Vec<Mention> {
        let version =
            Mention::Number { kind: Kind::FormulaVersion, scope: self.scope(), number: self.version };
        let parent =
            self.parent.map(|id| Mention::Record { kind: Kind::Trial, scope: self.scope(), id: id.uuid() });
        std::iter::once(version).chain(parent).collect()
    }
    fn check(&self) -> Result<(), RecordError> {
        at_most("what changed", &self.changed, TEXT_LIMIT)?;
        at_most("process", &self.process, TEXT_LIMIT)?;
        for taken in &self.lots {
            required("raw material of a lot", &taken.material)?;
            required("lot code", &taken.code)?;
        }
        let Some(batch) = &self.batch_size else { return Ok(()) };
        required("batch size", &batch.size.typed)?;
        required("unit of the batch size", &batch.unit)?;
        if batch.size.value.is_some_and(|size| size <= Decimal::ZERO) {
            let what = format!("{} {} is nothing to make", batch.size.typed, batch.unit);
            return Err(RecordError::Contradiction { field: "batch size", what });
        }
        Ok(())
    }
}

/// How a reading was taken on the sample.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(from = "String", into = "String")]
pub enum Method {
    /// On the product as it is.
    Neat,
    /// On the product diluted to 10 % in water.
    TenPercentInWater,
    /// Otherwise, in the person's words.
    Other(String),
}

impl From<String> for Method {
    fn from(text: String) -> Self {
        match text.as_str() {
            "neat" => Self::Neat,
            "10 % in water" => Self::TenPercentInWater,
            _ => Self::Other(text),
        }
    }
}

impl From<Method> for String {
    fn from(method: Method) -> Self {
        match method {
            Method::Neat => "neat".to_owned(),
            Method::TenPercentInWater => "10 % in water".to_owned(),
            Method::Other(text) => text,
        }
    }
}

/// One reading on a trial.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// The trial.
    pub trial: Id<Trial>,
    /// What was read: `ph`, `viscosity`, `density`, ...
    pub quantity: String,
    /// The value as typed, with the number where it is one.
    #[serde(flatten)]
    pub value: TypedNumber,
    /// Unit as typed; empty for pH.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub unit: String,
    /// How the sample was presented.
    pub method: Method,
    /// Temperature of the sample, C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature_c: Option<TypedNumber>,
    /// Age of the sample, hours since it was made.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub age_h: Option<TypedNumber>,
    /// The instrument.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub instrument: String,
    /// Further conditions by name: `spindle`, `speed`, ...
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub conditions: BTreeMap<String, String>,
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

impl Record for Reading {
    const KIND: Kind = Kind::Reading;
    fn belongs_to(&self) -> Option<(Kind, Uuid)> {
        Some((Kind::Trial, self.trial.uuid()))
    }
    fn check(&self) -> Result<(), RecordError> {
        required("quantity", &self.quantity)?;
        required("value", &self.value.typed)?;
        at_most("unit", &self.unit, LINE_LIMIT)?;
        required("method", &String::from(self.method.clone()))?;
        at_most("instrument", &self.instrument, LINE_LIMIT)?;
        at_most("note", &self.note, TEXT_LIMIT)?;
        for (field, number) in [("temperature", &self.temperature_c), ("age", &self.age_h)] {
            if let Some(number) = number {
                required(field, &number.typed)?;
            }
        }
        for (name, value) in &self.conditions {
            required("condition's name", name)?;
            at_most("condition", value, LINE_LIMIT)?;
        }
        Ok(())
    }
}

/// Something seen on a trial, with or without a photo. The photo's bytes are kept beside it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Observation {
    /// The trial.
    pub trial: Id<Trial>,
    /// What was seen.
    pub text: String,
    /// Media type of the photo, where there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub photo: Option<MediaType>,
    /// What the photo shows, for those who cannot see it.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub shows: String,
    /// What stood in the photo's file beside the picture and was taken out of it before it was kept, in words.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub taken_out: Vec<String>,
    /// When it was typed on a device, and the mark of what was sent.
    #[serde(flatten)]
    pub from: FromDevice,
    /// The record only takes back the one it corrects and puts nothing in its place.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub withdrawn: bool,
}

impl Observation {
    /// Words alone.
    #[must_use]
    pub fn in_words(trial: Id<Trial>, text: impl Into<String>) -> Self {
        let text = text.into();
        Self {
            trial,
            text,
            photo: None,
            shows: String::new(),
            taken_out: Vec::new(),
            from: FromDevice::default(),
            withdrawn: false,
        }
    }
}

impl Record for Observation {
    const KIND: Kind = Kind::Observation;
    fn belongs_to(&self) -> Option<(Kind, Uuid)> {
        Some((Kind::Trial, self.trial.uuid()))
    }
    fn check(&self) -> Result<(), RecordError> {
        if self.photo.is_none() && self.text.trim().is_empty() {
            return Err(RecordError::Empty { field: "observation" });
        }
        at_most("what the photo shows", &self.shows, TEXT_LIMIT)?;
        at_most("observation", &self.text, TEXT_LIMIT)
    }
}

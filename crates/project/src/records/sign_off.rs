//! Signing a batch off, and the sample that is kept of it.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{
    Batch, FromDevice, Id, Kind, LINE_LIMIT, Record, RecordError, TEXT_LIMIT, TypedMass, at_most, required,
};

/// What a person signs for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SignedAs {
    /// Made it.
    Made,
    /// Went through the record.
    Reviewed,
    /// Lets it go on.
    Released,
    /// Stops it.
    Rejected,
}

impl SignedAs {
    /// The meaning of a word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        match word {
            "made" => Some(Self::Made),
            "reviewed" => Some(Self::Reviewed),
            "released" => Some(Self::Released),
            "rejected" => Some(Self::Rejected),
            _ => None,
        }
    }

    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Made => "made",
            Self::Reviewed => "reviewed",
            Self::Released => "released",
            Self::Rejected => "rejected",
        }
    }
}

/// A batch signed off: everything that was entered up to here, held by one hash.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SignOff {
    /// The batch.
    pub batch: Id<Batch>,
    /// What is signed for.
    pub signed_as: SignedAs,
    /// How it is known who signed, in words as it stood beside the name.
    pub known_by: String,
    /// The signature covers the records of the batch up to this place in the log.
    pub through: u64,
    /// How many records that are.
    pub records: usize,
    /// SHA-256 over their hashes in order, and the two versions.
    pub content_sha256: String,
    /// Version of the program.
    pub engine_version: String,
    /// Version of the facts.
    pub data_version: String,
    /// Remark.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// Why whoever made the batch also reviews or releases it; empty where somebody else does.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub alone: String,
}

impl Record for SignOff {
    const KIND: Kind = Kind::SignOff;
    fn belongs_to(&self) -> Option<(Kind, Uuid)> {
        Some((Kind::Batch, self.batch.uuid()))
    }
    fn check(&self) -> Result<(), RecordError> {
        required("content hash", &self.content_sha256)?;
        required("how it is known who signed", &self.known_by)?;
        at_most("note", &self.note, TEXT_LIMIT)?;
        at_most("alone", &self.alone, TEXT_LIMIT)
    }
}

/// A sample of a batch that is kept.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct RetainedSample {
    /// The batch.
    pub batch: Id<Batch>,
    /// What stands on its label.
    pub label: String,
    /// Its weight as typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mass: Option<TypedMass>,
    /// In what it is kept.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub container: String,
    /// Where it stands.
    pub location: String,
    /// To be kept until.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<Date>,
    /// Remark.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// When it was typed on a device, and the mark of what was sent.
    #[serde(flatten)]
    pub from: FromDevice,
    /// The record only takes back the one it corrects: the sample was thrown away, or never was.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub withdrawn: bool,
}

impl Record for RetainedSample {
    const KIND: Kind = Kind::RetainedSample;
    fn belongs_to(&self) -> Option<(Kind, Uuid)> {
        Some((Kind::Batch, self.batch.uuid()))
    }
    fn check(&self) -> Result<(), RecordError> {
        required("label", &self.label)?;
        required("location", &self.location)?;
        at_most("container", &self.container, LINE_LIMIT)?;
        at_most("note", &self.note, TEXT_LIMIT)
    }
}

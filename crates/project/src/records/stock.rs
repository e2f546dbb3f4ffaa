//! What becomes of a lot on the shelf: its status, and what was put to it or taken from it by hand. Both are records of their
//! own beside the lot; what batches took is read from their entries.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{FromDevice, Id, Kind, Lot, Record, RecordError, TEXT_LIMIT, TypedMass, at_most, required};

/// Whether a lot may be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Status {
    /// Waits for a decision.
    Quarantine,
    /// May be used.
    Released,
    /// May not be used.
    Rejected,
    /// Nothing is left of it.
    UsedUp,
}

impl Status {
    /// All, with their words.
    pub const ALL: [(Self, &'static str); 4] = [
        (Self::Quarantine, "quarantine"),
        (Self::Released, "released"),
        (Self::Rejected, "rejected"),
        (Self::UsedUp, "used_up"),
    ];

    /// The status of a word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|(_, known)| *known == word).map(|(status, _)| status)
    }

    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Quarantine => "in quarantine",
            Self::Released => "released",
            Self::Rejected => "rejected",
            Self::UsedUp => "used up",
        }
    }
}

/// A decision about a lot; the last one counts. It belongs to the first entry of the lot, whatever corrected that.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LotStatus {
    /// The lot.
    pub lot: Id<Lot>,
    /// What it is now.
    pub status: Status,
    /// Why.
    pub reason: String,
    /// When it was typed on a device, and the mark of what was sent.
    #[serde(flatten)]
    pub from: FromDevice,
}

impl Record for LotStatus {
    const KIND: Kind = Kind::LotStatus;
    fn belongs_to(&self) -> Option<(Kind, Uuid)> {
        Some((Kind::Lot, self.lot.uuid()))
    }
    fn check(&self) -> Result<(), RecordError> {
        required("reason", &self.reason)
    }
}

/// Something put to a lot or taken from it by hand: a count that differs, a spill, a sample given away.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct StockMovement {
    /// The lot, by its first entry.
    pub lot: Id<Lot>,
    /// How much, in `net`.
    pub mass: TypedMass,
    /// It was taken from the lot; otherwise put to it.
    pub taken: bool,
    /// Why.
    pub reason: String,
    /// Remark.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// When it was typed on a device, and the mark of what was sent.
    #[serde(flatten)]
    pub from: FromDevice,
}

impl Record for StockMovement {
    const KIND: Kind = Kind::StockMovement;
    fn belongs_to(&self) -> Option<(Kind, Uuid)> {
        Some((Kind::Lot, self.lot.uuid()))
    }
    fn check(&self) -> Result<(), RecordError> {
        required("reason", &self.reason)?;
        at_most("note", &self.note, TEXT_LIMIT)?;
        self.mass.check()
    }
}

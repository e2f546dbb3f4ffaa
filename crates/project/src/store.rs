//! Where records are kept. The trait speaks of sealed records only, so that a second database has twelve short methods to write
//! and nothing to understand; the typed doors over it are in [`crate::workspace`].

use std::collections::BTreeMap;

use async_trait::async_trait;
use jiff::Timestamp;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use uuid::Uuid;

use crate::clock::NoEntropy;
use crate::records::{Draft, Formula, How, Id, Kind, Photo, RecordError};

/// A record ready to be written, or read back, without its meaning.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// Identity.
    pub id: Uuid,
    /// Kind.
    pub kind: Kind,
    /// Within what its number counts.
    pub scope: String,
    /// The record it belongs to, which the store makes sure exists and is of that kind.
    pub parent: Option<(Kind, Uuid)>,
    /// The record it corrects, and why. The store lets a record be corrected once only: then the correction is corrected.
    pub corrects: Option<(Uuid, String)>,
    /// Who.
    pub who: String,
    /// How that is known.
    pub how: How,
    /// When.
    pub when: Timestamp,
    /// The content as JSON, kept byte for byte.
    pub body: String,
    /// SHA-256 of the photo, where there is one.
    pub photo_sha256: Option<String>,
}

/// A record as it stands in the log.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LogEntry {
    /// Place in the log, from 1 without a gap.
    pub sequence: u64,
    /// Running number in its scope, from 1 without a gap.
    pub number: u32,
    /// The record.
    pub entry: Entry,
    /// Hash of its content, [`crate::audit::entry_hash`].
    pub hash: String,
    /// Its link in the chain, [`crate::audit::link`].
    pub link: String,
}

/// One record of a write.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewEntry {
    /// The record.
    pub entry: Entry,
    /// Its photo.
    pub photo: Option<Photo>,
    /// The highest number in its scope that the writer knew of. If it has moved, nothing is written.
    pub based_on: Option<u32>,
    /// The lots it puts into the batch it belongs to; the store indexes them in the same transaction.
    pub uses: Vec<LotUse>,
}

/// A lot that an entry puts into a batch.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct LotUse {
    /// Under which the lot is traced, [`crate::records::LotNamed::key`].
    pub lot: String,
    /// How much, in micrograms: whole numbers add up in any database, and no balance shows less.
    pub micrograms: i64,
}

impl LotUse {
    /// A use of so many grams.
    #[must_use]
    pub fn new(lot: &str, grams: Decimal) -> Self {
        let micrograms = grams.checked_mul(Decimal::from(1_000_000)).and_then(|it| it.round().to_i64());
        Self { lot: lot.to_owned(), micrograms: micrograms.unwrap_or(i64::MAX) }
    }

    /// Grams.
    #[must_use]
    pub fn grams(&self) -> Decimal {
        Decimal::new(self.micrograms, 6).normalize()
    }
}

/// A lot in a batch, as the index has it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TracedUse {
    /// The lot and how much of it.
    pub used: LotUse,
    /// The entry that put it in.
    pub entry: Uuid,
    /// The batch.
    pub batch: Uuid,
    /// Its code.
    pub code: String,
    /// The trial it belongs to.
    pub trial: Uuid,
    /// Who entered it.
    pub who: String,
    /// When.
    pub when: Timestamp,
    /// The entry was taken back or corrected: another entry stands in its place, or none.
    pub struck: bool,
}

/// Which uses of lots.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Trace {
    /// Forward: the batches that hold a lot, by the key of the lot.
    Lot(String),
    /// Back: the lots in a batch.
    Batch(Uuid),
}

/// What is written together or not at all.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Write {
    /// Records in order.
    pub entries: Vec<NewEntry>,
    /// The length of the log that the writer knew of. If it has moved, nothing is written.
    pub log_length: Option<u64>,
    /// A draft that these records make superfluous.
    pub discard: Option<DraftKey>,
    /// What belongs to one of the records but stays out of every export, by the identity of the record.
    pub secret: Option<(Uuid, String)>,
}

/// Which draft.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DraftKey {
    /// The formula; none for a sheet that is not yet one.
    pub formula: Option<Id<Formula>>,
    /// The editing tab's own mark.
    pub tab: String,
}

/// Which records to read, always in the order they were written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Select {
    /// Everything.
    All,
    /// One, by identity.
    One(Uuid),
    /// One, by number in a scope.
    Number(Kind, String, u32),
    /// All of a kind in a scope.
    Scope(Kind, String),
    /// All of a kind.
    Kind(Kind),
    /// Of a kind, the last of every scope.
    Latest(Kind),
    /// All of a kind that belong to a record, whatever they count within.
    Children(Kind, Uuid),
    /// Of a kind, the newest so many.
    Newest(Kind, u32),
    /// Behind a place in the log, so many at most.
    After(u64, u32),
    /// Of a kind, behind a place in the log, so many at most.
    KindAfter(Kind, u64, u32),
}

/// Where the log ends.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Head {
    /// Number of records.
    pub length: u64,
    /// The last link; [`crate::audit::FIRST_LINK`] if there is no record.
    pub link: String,
}

/// A place that keeps records. Every method is one transaction; when it returns, what was written survives a power cut.
#[async_trait]
pub trait Store: Send + Sync {
    /// Writes records together or not at all and gives them back with place, number and link.
    async fn write(&self, write: &Write) -> Result<Vec<LogEntry>, StoreError>;
    /// Reads records.
    async fn read(&self, select: &Select) -> Result<Vec<LogEntry>, StoreError>;
    /// The secret of a record.
    async fn secret(&self, record: Uuid) -> Result<Option<String>, StoreError>;
    /// The photo of a record.
    async fn photo(&self, record: Uuid) -> Result<Option<Photo>, StoreError>;
    /// Where the log ends.
    async fn head(&self) -> Result<Head, StoreError>;
    /// Keeps a draft unless a later edit of the same tab is there already.
    async fn keep_draft(&self, draft: &Draft) -> Result<(), StoreError>;
    /// The drafts of a formula, or of sheets that are not yet one, oldest first.
    async fn drafts(&self, formula: Option<Id<Formula>>) -> Result<Vec<Draft>, StoreError>;
    /// Throws a draft away.
    async fn discard_draft(&self, key: &DraftKey) -> Result<(), StoreError>;
    /// Lots in batches, in the order they were put in: one query, whichever way it is asked.
    async fn trace(&self, trace: &Trace) -> Result<Vec<TracedUse>, StoreError>;
    /// How much of every lot is in batches, micrograms, entries that were struck left out.
    async fn used(&self) -> Result<BTreeMap<String, i64>, StoreError>;
    /// The key of every lot that is in a batch, each once.
    async fn lots_used(&self) -> Result<Vec<String>, StoreError>;
    /// All uses as they stand in the index with the entry that made them, in the order of the log: for the check.
    async fn indexed(&self) -> Result<Vec<(Uuid, LotUse)>, StoreError>;
    /// The database's own check of itself.
    async fn check_medium(&self) -> Result<(), StoreError>;
}

/// Why something could not be kept or read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum StoreError {
    /// Somebody saved in between. Nothing was overwritten.
    #[error(
        "your change is based on version {yours}, but {by} saved version {theirs} at {when}; nothing was overwritten"
    )]
    Moved {
        /// The version the change was based on.
        yours: u32,
        /// The version there now.
        theirs: u32,
        /// Who saved it.
        by: String,
        /// When.
        when: Timestamp,
    },
    /// The log has other records than the writer knew of.
    #[error("the workspace holds {found} records, not {expected}; nothing was written")]
    LogMoved {
        /// Records the writer knew of.
        expected: u64,
        /// Records there are.
        found: u64,
    },
    /// There is no such record.
    #[error("there is no {kind} {id}")]
    Missing {
        /// Kind.
        kind: Kind,
        /// Identity or number.
        id: String,
    },
    /// The record has been corrected already.
    #[error("{kind} {id} has been corrected already")]
    AlreadyCorrected {
        /// Kind.
        kind: Kind,
        /// Identity.
        id: Uuid,
    },
    /// A record of this identity is kept already. Nothing was written.
    #[error("{kind} {id} is kept already")]
    AlreadyKept {
        /// Kind.
        kind: Kind,
        /// Identity.
        id: Uuid,
    },
    /// Another record has this identity. Nothing was written.
    #[error("another record has the identity {id}")]
    IdentityTaken {
        /// Identity.
        id: Uuid,
    },
    /// The record is not fit to be kept.
    #[error(transparent)]
    Unfit(#[from] RecordError),
    /// Another program has the workspace open.
    #[error("the workspace {folder} is open in another Levigate{}", holder.as_deref().map(|it| format!(" ({it})")).unwrap_or_default())]
    Locked {
        /// The folder.
        folder: String,
        /// What the other program says of itself.
        holder: Option<String>,
    },
    /// A newer Levigate wrote the workspace.
    #[error("the workspace was written by a newer Levigate (schema {found}, this one knows {known})")]
    NewerSchema {
        /// Schema there.
        found: i64,
        /// Newest schema known.
        known: i64,
    },
    /// The folder or file is not a workspace, or is one already.
    #[error("{path}: {what}")]
    Folder {
        /// Where.
        path: String,
        /// What is wrong.
        what: String,
    },
    /// The chain does not hold.
    #[error("record {sequence} of the log does not hold: {what}")]
    Damaged {
        /// Place in the log.
        sequence: u64,
        /// What does not hold.
        what: String,
    },
    /// A stored record cannot be understood.
    #[error("{kind} {id} cannot be read: {what}")]
    Unreadable {
        /// Kind.
        kind: String,
        /// Identity.
        id: String,
        /// Why.
        what: String,
    },
    /// The database failed.
    #[error("could not {doing}: {what}")]
    Medium {
        /// What was being done.
        doing: &'static str,
        /// What the database said.
        what: String,
    },
    /// No identity could be made.
    #[error(transparent)]
    NoEntropy(#[from] NoEntropy),
}

impl StoreError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Moved { .. } => {
                "compare your text with the newer version, take over what you want and save again"
            }
            Self::LogMoved { .. } => "read the workspace again and repeat the change",
            Self::Missing { .. } => {
                "look at the list of what there is; the name, number or address may be mistyped"
            }
            Self::AlreadyCorrected { .. } => "open the correction and correct that one",
            Self::AlreadyKept { .. } => "nothing is to be done; it is on record",
            Self::IdentityTaken { .. } => "send it again with an identity of its own",
            Self::Unfit(error) => error.hint(),
            Self::Locked { .. } => {
                "use the one that is running, or stop it first; a second workspace needs its own folder"
            }
            Self::NewerSchema { .. } => "open it with the newer Levigate; nothing was changed",
            Self::Folder { .. } => "name another folder with --workspace",
            Self::Damaged { .. } => {
                "stop writing, keep a copy of the folder, and go back to the last good file in backups/"
            }
            Self::Unreadable { .. } => {
                "keep a copy of the folder and report the record; the others stay readable"
            }
            Self::Medium { .. } => {
                "see that the disk is there, has room and may be written to, then try again"
            }
            Self::NoEntropy(_) => "the machine is not fully started, try again",
        }
    }
}

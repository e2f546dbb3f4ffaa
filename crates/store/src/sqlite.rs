//! Records on SQLite. Every statement is a constant text with bound values.
//!
//! One connection writes, a few read. The journal is the write-ahead log with a full sync at every commit: what a method
//! returned survives a power cut as far as the disk keeps its word.

mod opening;
mod reading;
mod uses;
mod writing;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use async_trait::async_trait;
use levigate_project::records::{Draft, Formula, Id, Photo};
use levigate_project::store::{
    DraftKey, Head, LogEntry, LotUse, Select, Store, StoreError, Trace, TracedUse, Write,
};
use sqlx::sqlite::SqlitePool;
use uuid::Uuid;

pub(crate) use opening::copy_file;

use crate::folder::Lock;

/// A store on SQLite.
#[derive(Debug)]
pub struct SqliteStore {
    writer: SqlitePool,
    readers: SqlitePool,
    folder: Option<PathBuf>,
    _lock: Option<Lock>,
}

impl SqliteStore {
    /// The workspace folder; none in memory.
    #[must_use]
    pub fn folder(&self) -> Option<&Path> {
        self.folder.as_deref()
    }

    /// Ends all work and lets go of the folder.
    pub async fn close(self) {
        self.readers.close().await;
        self.writer.close().await;
    }
}

#[async_trait]
impl Store for SqliteStore {
    async fn write(&self, write: &Write) -> Result<Vec<LogEntry>, StoreError> {
        writing::write(&self.writer, write).await
    }

    async fn read(&self, select: &Select) -> Result<Vec<LogEntry>, StoreError> {
        reading::read(&self.readers, select).await
    }

    async fn secret(&self, record: Uuid) -> Result<Option<String>, StoreError> {
        reading::secret(&self.readers, record).await
    }

    async fn photo(&self, record: Uuid) -> Result<Option<Photo>, StoreError> {
        reading::photo(&self.readers, record).await
    }

    async fn head(&self) -> Result<Head, StoreError> {
        reading::head(&self.readers).await
    }

    async fn keep_draft(&self, draft: &Draft) -> Result<(), StoreError> {
        writing::keep_draft(&self.writer, draft).await
    }

    async fn drafts(&self, formula: Option<Id<Formula>>) -> Result<Vec<Draft>, StoreError> {
        reading::drafts(&self.readers, formula).await
    }

    async fn discard_draft(&self, key: &DraftKey) -> Result<(), StoreError> {
        writing::discard_draft(&self.writer, key).await
    }

    async fn trace(&self, trace: &Trace) -> Result<Vec<TracedUse>, StoreError> {
        uses::trace(&self.readers, trace).await
    }

    async fn used(&self) -> Result<BTreeMap<String, i64>, StoreError> {
        uses::used(&self.readers).await
    }

    async fn lots_used(&self) -> Result<Vec<String>, StoreError> {
        uses::lots_used(&self.readers).await
    }

    async fn indexed(&self) -> Result<Vec<(Uuid, LotUse)>, StoreError> {
        uses::indexed(&self.readers).await
    }

    async fn check_medium(&self) -> Result<(), StoreError> {
        reading::check_medium(&self.readers).await
    }
}

/// What the database said, with what was being done.
fn failed(doing: &'static str) -> impl Fn(sqlx::Error) -> StoreError {
    move |error| StoreError::Medium { doing, what: error.to_string() }
}

/// The stored form of a draft's formula.
fn draft_scope(formula: Option<Id<Formula>>) -> String {
    formula.map(|id| id.to_string()).unwrap_or_default()
}

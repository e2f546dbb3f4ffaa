//! A table of readings of something planned, a study or an experiment: what it would bring, and why nothing of it is kept.

use super::keeping::{FieldFault, KeepError};
use crate::diagnostic::Diagnostic;
use crate::store::StoreError;
use serde::Serialize;

/// What a table would bring.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct ReadingsTable {
    /// What every column was understood to hold: head and meaning.
    pub columns: Vec<(String, String)>,
    /// Rows.
    pub lines: Vec<TableLine>,
    /// Readings they make.
    pub readings: usize,
    /// What is wrong with the table as a whole.
    pub wrong: Vec<String>,
    /// Whether it can be kept as it stands.
    pub ready: bool,
}

/// A row.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TableLine {
    /// Line of the file, from 1.
    pub line: usize,
    /// What it is.
    pub words: String,
    /// Readings it makes.
    pub readings: usize,
    /// What is wrong with it.
    pub wrong: Vec<String>,
}

impl ReadingsTable {
    /// Says whether it can be kept, once all rows are read.
    pub(super) fn settle(&mut self) {
        self.readings = self.lines.iter().map(|line| line.readings).sum();
        self.ready =
            self.wrong.is_empty() && self.readings > 0 && self.lines.iter().all(|line| line.wrong.is_empty());
    }

    /// That it can be kept as it stands.
    ///
    /// # Errors
    /// The first thing that is wrong with it.
    pub(super) fn must_be_ready(&self) -> Result<(), KeepError> {
        if self.ready {
            return Ok(());
        }
        let of_lines = self
            .lines
            .iter()
            .flat_map(|line| line.wrong.iter().map(move |wrong| format!("line {}: {wrong}", line.line)));
        let told = self.wrong.iter().cloned().chain(of_lines).next();
        let told = told.unwrap_or_else(|| "there is no reading in it".to_owned());
        let why = "a table is kept whole or not at all";
        Err(FieldFault::new("file", &told, why, "mend the table and bring it in again").into())
    }
}

/// A table that cannot be read at all.
pub(super) fn unreadable(list: Vec<Diagnostic>) -> KeepError {
    let why = "the table cannot be read as it stands";
    let faults = list.into_iter().map(|one| FieldFault::new("file", &one.what, why, &one.what_now));
    KeepError::Typed(faults.collect())
}

/// Others wrote again and again while readings were to be kept.
pub(super) fn busy() -> KeepError {
    KeepError::Store(StoreError::Medium {
        doing: "keep the readings",
        what: "others write without a pause".to_owned(),
    })
}

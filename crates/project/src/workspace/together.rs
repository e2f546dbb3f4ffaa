//! Records of several kinds that are written together or not at all.

use super::{SampleFormula, Save, Workspace, open, short_answer, version};
use crate::records::{
    ExperimentBatch, FromDevice, Id, Kept, Lot, LotStatus, MaterialOverlay, Record, Status, Trial,
};
use crate::store::{LogEntry, StoreError, Write};

/// A record to be written with others.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Together {
    /// A formula with its first version.
    Formula(SampleFormula),
    /// The next version of a formula.
    Version(Save),
    /// A lot, and what is decided about it with the reason.
    Lot(Box<Lot>, Option<(Status, String)>),
    /// A raw material, grade or price of the laboratory's own.
    Overlay(MaterialOverlay),
}

impl Workspace {
    /// Keeps records of one kind together or not at all, and only if nothing was written since the log was so long.
    ///
    /// # Errors
    /// One of them is unfit or belongs to nothing, or [`StoreError::LogMoved`]; nothing is written then.
    pub(crate) async fn add_all<T: Record>(
        &self,
        who: &str,
        records: Vec<T>,
        log_length: u64,
    ) -> Result<Vec<Kept<T>>, StoreError> {
        let now = self.clock.now();
        let mut entries = Vec::new();
        for what in &records {
            self.check(what).await?;
            entries.push(self.seal(who, now, what, None, None, None)?);
        }
        let written =
            self.store.write(&Write { entries, log_length: Some(log_length), ..Write::default() }).await?;
        written.iter().map(open).collect()
    }

    /// Writes records together or not at all, and only if nothing was written since the log was so long.
    ///
    /// # Errors
    /// One of them is unfit, or [`StoreError::LogMoved`]; nothing is written then.
    pub(crate) async fn keep_together(
        &self,
        who: &str,
        records: Vec<Together>,
        log_length: u64,
    ) -> Result<Vec<LogEntry>, StoreError> {
        let now = self.clock.now();
        let mut entries = Vec::new();
        for record in records {
            match record {
                Together::Formula(formula) => entries.extend(self.formula_entries(who, &formula)?),
                Together::Version(save) => {
                    let what = version(save.formula, Some(save.parent).filter(|it| *it > 0), save.version);
                    self.check(&what).await?;
                    entries.push(self.seal(who, now, &what, None, None, Some(save.based_on))?);
                }
                Together::Lot(lot, decided) => {
                    lot.check()?;
                    let entry = self.seal(who, now, lot.as_ref(), None, None, None)?;
                    let id = Id::from_uuid(entry.entry.id);
                    entries.push(entry);
                    if let Some((status, reason)) = decided {
                        let decision = LotStatus { lot: id, status, reason, from: FromDevice::default() };
                        decision.check()?;
                        entries.push(self.seal(who, now, &decision, None, None, None)?);
                    }
                }
                Together::Overlay(overlay) => {
                    overlay.check()?;
                    entries.push(self.seal(who, now, &overlay, None, None, None)?);
                }
            }
        }
        self.store.write(&Write { entries, log_length: Some(log_length), ..Write::default() }).await
    }

    /// Begins a trial for an experiment, with the version it is made from where that is a new one: together or not at all.
    ///
    /// # Errors
    /// One of them is unfit or belongs to nothing; [`StoreError::Moved`] if a version was saved in between.
    pub(crate) async fn begin_run(
        &self,
        who: &str,
        save: Option<Save>,
        trial: Trial,
        batch: ExperimentBatch,
    ) -> Result<Kept<ExperimentBatch>, StoreError> {
        let now = self.clock.now();
        let (mut trial, mut batch) = (trial, batch);
        let mut entries = Vec::new();
        match save {
            Some(save) => {
                let what = version(save.formula, Some(save.parent).filter(|it| *it > 0), save.version);
                self.check(&what).await?;
                // The guard of the write makes it the next one, or nothing is written.
                trial.version = save.based_on + 1;
                trial.check()?;
                entries.push(self.seal(who, now, &what, None, None, Some(save.based_on))?);
            }
            None => self.check(&trial).await?,
        }
        let begun = self.seal(who, now, &trial, None, None, None)?;
        batch.version = Some(trial.version);
        batch.trial = Some(Id::from_uuid(begun.entry.id));
        self.check(&batch).await?;
        entries.push(begun);
        entries.push(self.seal(who, now, &batch, None, None, None)?);
        let written = self.store.write(&Write { entries, ..Write::default() }).await?;
        written.last().map_or_else(|| Err(short_answer()), open)
    }
}

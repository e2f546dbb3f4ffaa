//! Batches: begun with their trial in one write, filled by entries that are kept once however often they are sent, signed off.

use super::{Workspace, open, short_answer};
use crate::audit::content_hash;
use crate::records::{
    Batch, BatchEntry, Correction, FlowCurve, Id, Kept, Kind, Mention, Observation, Photo, Reading, Record,
    RetainedSample, SignOff, Trial,
};
use crate::store::{LogEntry, NewEntry, Select, StoreError, Trace, TracedUse, Write};

/// A record that was kept, now or when it was sent the first time.
#[derive(Clone, Debug, PartialEq)]
pub struct KeptOnce<T> {
    /// The record.
    pub kept: Kept<T>,
    /// It was there already.
    pub already: bool,
}

/// How often a signature is made anew because somebody wrote in between.
const SIGNING_TRIES: usize = 20;

impl Workspace {
    /// Keeps a record under an identity made elsewhere. Sent again, it is there already; `same` says whether it is the same.
    ///
    /// # Errors
    /// Another record has the identity, or what [`Workspace::add`] and [`Workspace::correct`] refuse.
    pub async fn keep_once<T: Record>(
        &self,
        who: &str,
        id: Id<T>,
        what: T,
        (corrects, photo): (Option<Correction<T>>, Option<Photo>),
        same: impl Fn(&T) -> bool + Send + Sync,
    ) -> Result<KeptOnce<T>, StoreError> {
        if let Some(kept) = self.kept_already(id, &same).await? {
            return Ok(KeptOnce { kept, already: true });
        }
        if let Some(correction) = &corrects {
            crate::records::required("reason", &correction.reason)?;
            let id = correction.supersedes.uuid();
            self.check_mention(&Mention::Record { kind: T::KIND, scope: what.scope(), id }).await?;
        }
        self.check(&what).await?;
        let mut entry = self.seal(who, self.clock.now(), &what, corrects, photo, None)?;
        entry.entry.id = id.uuid();
        match self.store.write(&Write { entries: vec![entry], ..Write::default() }).await {
            Ok(written) => {
                let kept = written.first().map_or_else(|| Err(short_answer()), open)?;
                Ok(KeptOnce { kept, already: false })
            }
            // Somebody sent it at the same moment.
            Err(StoreError::AlreadyKept { .. }) => match self.kept_already(id, &same).await? {
                Some(kept) => Ok(KeptOnce { kept, already: true }),
                None => Err(short_answer()),
            },
            Err(error) => Err(error),
        }
    }

    async fn kept_already<T: Record>(
        &self,
        id: Id<T>,
        same: impl Fn(&T) -> bool,
    ) -> Result<Option<Kept<T>>, StoreError> {
        let found = self.store.read(&Select::One(id.uuid())).await?;
        let Some(found) = found.first() else { return Ok(None) };
        let taken = StoreError::IdentityTaken { id: id.uuid() };
        if found.entry.kind != T::KIND {
            return Err(taken);
        }
        let kept: Kept<T> = open(found)?;
        if same(&kept.what) { Ok(Some(kept)) } else { Err(taken) }
    }

    /// Begins a trial and its batch in one write.
    ///
    /// # Errors
    /// Unfit, or [`StoreError::Moved`] where a batch has the code already.
    pub async fn begin_batch(
        &self,
        who: &str,
        trial: Trial,
        id: Option<Id<Batch>>,
        batch: impl FnOnce(Id<Trial>) -> Batch + Send,
    ) -> Result<(Kept<Trial>, Kept<Batch>), StoreError> {
        self.check(&trial).await?;
        let now = self.clock.now();
        let begun = self.seal(who, now, &trial, None, None, None)?;
        let batch = batch(Id::from_uuid(begun.entry.id));
        batch.check()?;
        let mut entry = self.seal(who, now, &batch, None, None, Some(0))?;
        if let Some(id) = id {
            entry.entry.id = id.uuid();
        }
        let written = self.store.write(&Write { entries: vec![begun, entry], ..Write::default() }).await?;
        match written.as_slice() {
            [trial, batch] => Ok((open(trial)?, open(batch)?)),
            _ => Err(short_answer()),
        }
    }

    /// All records of a kind that belong to another, whatever they count within: the batch of a trial.
    ///
    /// # Errors
    /// The medium failed.
    pub async fn belonging_to<T: Record, P>(&self, owner: Id<P>) -> Result<Vec<Kept<T>>, StoreError> {
        self.select(&Select::Children(T::KIND, owner.uuid())).await
    }

    /// The newest records of a kind, the newest first.
    ///
    /// # Errors
    /// The medium failed.
    pub async fn newest<T: Record>(&self, most: u32) -> Result<Vec<Kept<T>>, StoreError> {
        self.select(&Select::Newest(T::KIND, most)).await
    }

    /// The records of a kind behind a place in the log, so many at most: page by page, where there may be more than fit at once.
    ///
    /// # Errors
    /// The medium failed.
    pub async fn after<T: Record>(&self, sequence: u64, most: u32) -> Result<Vec<Kept<T>>, StoreError> {
        self.select(&Select::KindAfter(T::KIND, sequence, most)).await
    }

    /// The batch of a code.
    ///
    /// # Errors
    /// There is none, or the medium failed.
    pub async fn batch_of_code(&self, code: &str) -> Result<Kept<Batch>, StoreError> {
        let found: Vec<Kept<Batch>> = self.select(&Select::Scope(Kind::Batch, code.to_owned())).await?;
        let missing = || StoreError::Missing { kind: Kind::Batch, id: code.chars().take(60).collect() };
        found.into_iter().next().ok_or_else(missing)
    }

    /// Lots in batches.
    ///
    /// # Errors
    /// The medium failed.
    pub async fn trace(&self, trace: &Trace) -> Result<Vec<TracedUse>, StoreError> {
        self.store.trace(trace).await
    }

    /// Signs a batch off: the signature covers every record of it up to the end of the log at that moment.
    ///
    /// # Errors
    /// Unfit, or others wrote so often in between that no moment was found.
    pub async fn sign_off(
        &self,
        who: &str,
        batch: &Kept<Batch>,
        sign_off: SignOff,
    ) -> Result<Kept<SignOff>, StoreError> {
        let mut told = short_answer();
        for _ in 0..SIGNING_TRIES {
            let through = self.store.head().await?.length;
            let versions = (sign_off.engine_version.as_str(), sign_off.data_version.as_str());
            let (records, content_sha256) = self.batch_content(batch, through, versions).await?;
            let signed = SignOff { through, records, content_sha256, ..sign_off.clone() };
            self.check(&signed).await?;
            let entry: NewEntry = self.seal(who, self.clock.now(), &signed, None, None, None)?;
            let write = Write { entries: vec![entry], log_length: Some(through), ..Write::default() };
            match self.store.write(&write).await {
                Ok(written) => return written.first().map_or_else(|| Err(short_answer()), open),
                Err(error @ StoreError::LogMoved { .. }) => told = error,
                Err(error) => return Err(error),
            }
        }
        Err(told)
    }

    /// Whether the records a signature covers still are what was signed.
    ///
    /// # Errors
    /// The medium failed.
    pub async fn sign_off_holds(&self, batch: &Kept<Batch>, signed: &SignOff) -> Result<bool, StoreError> {
        let versions = (signed.engine_version.as_str(), signed.data_version.as_str());
        let (records, hash) = self.batch_content(batch, signed.through, versions).await?;
        Ok(records == signed.records && hash == signed.content_sha256)
    }

    /// All signatures of the workspace with the code of their batch, and whether what they cover still is what was signed.
    ///
    /// # Errors
    /// The medium failed.
    pub async fn signatures(&self) -> Result<Vec<(String, Kept<SignOff>, bool)>, StoreError> {
        let mut checked = Vec::new();
        for signed in self.all::<SignOff>().await? {
            let batch = self.get(signed.what.batch).await?;
            let holds = self.sign_off_holds(&batch, &signed.what).await?;
            checked.push((batch.what.code, signed, holds));
        }
        Ok(checked)
    }

    /// Number and hash of the records of a batch up to a place in the log: its trial, itself, its entries and samples, and what
    /// was read and seen on the trial.
    async fn batch_content(
        &self,
        batch: &Kept<Batch>,
        through: u64,
        (engine_version, data_version): (&str, &str),
    ) -> Result<(usize, String), StoreError> {
        let mut covered = self.of_batch(batch).await?;
        covered.retain(|found| found.sequence <= through);
        let mut content = format!("{engine_version}\n{data_version}\n");
        for found in &covered {
            content.push_str(&found.hash);
            content.push('\n');
        }
        Ok((covered.len(), content_hash(content.as_bytes())))
    }

    /// Kind and place in the log of every record of a batch: what a signature covers, and what came after it.
    ///
    /// # Errors
    /// The medium failed.
    pub async fn places_of_batch(&self, batch: &Kept<Batch>) -> Result<Vec<(Kind, u64)>, StoreError> {
        Ok(self.of_batch(batch).await?.into_iter().map(|found| (found.entry.kind, found.sequence)).collect())
    }

    /// The records of a batch in the order of the log, without its signatures.
    ///
    /// # Errors
    /// The medium failed.
    pub async fn of_batch(&self, batch: &Kept<Batch>) -> Result<Vec<LogEntry>, StoreError> {
        let (own, trial) = (batch.id.to_string(), batch.what.trial.to_string());
        let selects = [
            Select::One(batch.what.trial.uuid()),
            Select::One(batch.id.uuid()),
            Select::Scope(BatchEntry::KIND, own.clone()),
            Select::Scope(RetainedSample::KIND, own),
            Select::Scope(Reading::KIND, trial.clone()),
            Select::Scope(Observation::KIND, trial.clone()),
            Select::Scope(FlowCurve::KIND, trial),
        ];
        let mut covered: Vec<LogEntry> = Vec::new();
        for select in &selects {
            covered.extend(self.store.read(select).await?);
        }
        covered.sort_by_key(|found| found.sequence);
        Ok(covered)
    }
}

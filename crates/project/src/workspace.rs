//! The typed doors over a [`Store`]: records go in as the plain things people gave and come back in their envelopes.

mod batches;
mod export;
mod people;
mod together;
mod verify;

pub use batches::KeptOnce;
pub use export::ExportFile;
pub(crate) use together::Together;

use std::sync::Arc;

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::audit::content_hash;
use crate::clock::{Clock, Dice};
use crate::records::{
    Correction, Draft, Formula, FormulaVersion, How, Id, Kept, Kind, Mention, Observation, Photo, Record,
    Setting,
};
use crate::store::{DraftKey, Entry, LogEntry, NewEntry, Select, Store, StoreError, Write};

/// A workspace: a store, the time and the dice.
#[derive(Clone)]
pub struct Workspace {
    store: Arc<dyn Store>,
    clock: Arc<dyn Clock>,
    dice: Arc<dyn Dice>,
    how: How,
}

/// The text of a version to be saved, with the versions of what assessed it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct VersionText {
    /// The formula file exactly as it shall be kept.
    pub text: String,
    /// Why it is saved.
    pub reason: String,
    /// Version of the engine.
    pub engine_version: String,
    /// Version of the facts.
    pub data_version: String,
}

/// A save.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Save {
    /// The formula.
    pub formula: Id<Formula>,
    /// The newest version the person knew of.
    pub based_on: u32,
    /// The version the text was edited from; mostly the same.
    pub parent: u32,
    /// The text.
    pub version: VersionText,
    /// The editing tab, whose draft the save makes superfluous.
    pub tab: Option<String>,
}

/// A formula with its newest version.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FormulaHead {
    /// The formula.
    pub formula: Kept<Formula>,
    /// Its newest version.
    pub newest: Kept<FormulaVersion>,
}

/// A formula to begin an empty workspace with: a name and its versions in order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SampleFormula {
    /// Name.
    pub name: String,
    /// Versions, oldest first, at least one.
    pub versions: Vec<VersionText>,
}

impl Workspace {
    /// Puts a workspace together.
    #[must_use]
    pub fn new(store: Arc<dyn Store>, clock: Arc<dyn Clock>, dice: Arc<dyn Dice>) -> Self {
        Self { store, clock, dice, how: How::Initialled }
    }

    /// The same workspace for a person of whom it is known in this way who they are: it stands beside their name on everything
    /// that is written through it.
    #[must_use]
    pub fn known(&self, how: How) -> Self {
        Self { how, ..self.clone() }
    }

    /// The store beneath.
    #[must_use]
    pub fn store(&self) -> &dyn Store {
        self.store.as_ref()
    }

    /// The clock.
    #[must_use]
    pub fn clock(&self) -> &dyn Clock {
        self.clock.as_ref()
    }

    /// The dice.
    #[must_use]
    pub fn dice(&self) -> &dyn Dice {
        self.dice.as_ref()
    }

    /// Keeps a record: a lot, a trial, a reading, an observation without a photo, an overlay, a setting.
    ///
    /// # Errors
    /// Unfit, or what it belongs to does not exist.
    pub async fn add<T: Record>(&self, who: &str, what: T) -> Result<Kept<T>, StoreError> {
        self.put(who, what, None, None, None).await
    }

    /// Keeps a record only if the newest of its scope is still the one the person knew of: the next version of an overlay.
    ///
    /// # Errors
    /// [`StoreError::Moved`] if it is not; nothing is overwritten.
    pub async fn add_after<T: Record>(
        &self,
        who: &str,
        what: T,
        based_on: u32,
    ) -> Result<Kept<T>, StoreError> {
        self.put(who, what, None, None, Some(based_on)).await
    }

    /// Corrects a record: a new one that names the old one and says why. The old one stays as it was.
    ///
    /// # Errors
    /// No such record in the same scope, corrected already, or no reason.
    pub async fn correct<T: Record>(
        &self,
        who: &str,
        supersedes: Id<T>,
        reason: &str,
        what: T,
    ) -> Result<Kept<T>, StoreError> {
        crate::records::required("reason", reason)?;
        self.check_mention(&Mention::Record { kind: T::KIND, scope: what.scope(), id: supersedes.uuid() })
            .await?;
        self.put(who, what, Some(Correction { supersedes, reason: reason.to_owned() }), None, None).await
    }

    /// Keeps an observation with its photo.
    ///
    /// # Errors
    /// Unfit, or no such trial.
    pub async fn observe(
        &self,
        who: &str,
        observation: Observation,
        photo: Option<Photo>,
    ) -> Result<Kept<Observation>, StoreError> {
        let what = Observation { photo: photo.as_ref().map(Photo::media), ..observation };
        self.put(who, what, None, photo, None).await
    }

    /// One record.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is none of this kind.
    pub async fn get<T: Record>(&self, id: Id<T>) -> Result<Kept<T>, StoreError> {
        let found = self.store.read(&Select::One(id.uuid())).await?;
        let found = found.first().filter(|found| found.entry.kind == T::KIND);
        found.map_or_else(|| Err(StoreError::Missing { kind: T::KIND, id: id.to_string() }), open)
    }

    /// All records of a kind, in order.
    ///
    /// # Errors
    /// The medium failed.
    pub async fn all<T: Record>(&self) -> Result<Vec<Kept<T>>, StoreError> {
        self.select(&Select::Kind(T::KIND)).await
    }

    /// All records of a kind that belong to another: versions or trials of a formula, readings or observations of a trial.
    /// Corrected ones are among them; [`crate::records::in_force`] leaves them out.
    ///
    /// # Errors
    /// The medium failed.
    pub async fn of<T: Record, P>(&self, owner: Id<P>) -> Result<Vec<Kept<T>>, StoreError> {
        self.select(&Select::Scope(T::KIND, owner.to_string())).await
    }

    /// The last record of every scope: the overlays that count, the newest version of every formula.
    ///
    /// # Errors
    /// The medium failed.
    pub async fn latest<T: Record>(&self) -> Result<Vec<Kept<T>>, StoreError> {
        self.select(&Select::Latest(T::KIND)).await
    }

    /// Begins a formula with its first version.
    ///
    /// # Errors
    /// Unfit.
    pub async fn create_formula(
        &self,
        who: &str,
        name: &str,
        first: VersionText,
    ) -> Result<FormulaHead, StoreError> {
        let name = name.to_owned();
        let entries = self.formula_entries(who, &SampleFormula { name, versions: vec![first] })?;
        let written = self.store.write(&Write { entries, ..Write::default() }).await?;
        match written.as_slice() {
            [formula, newest] => Ok(FormulaHead { formula: open(formula)?, newest: open(newest)? }),
            _ => Err(short_answer()),
        }
    }

    /// Saves a new version of a formula and discards the tab's draft with it.
    ///
    /// # Errors
    /// [`StoreError::Moved`] if somebody saved in between; nothing is overwritten and the draft stays.
    pub async fn save_version(&self, who: &str, save: Save) -> Result<Kept<FormulaVersion>, StoreError> {
        let what = version(save.formula, Some(save.parent).filter(|number| *number > 0), save.version);
        self.check(&what).await?;
        let entry = self.seal(who, self.clock.now(), &what, None, None, Some(save.based_on))?;
        let discard = save.tab.map(|tab| DraftKey { formula: Some(save.formula), tab });
        let written = self.store.write(&Write { entries: vec![entry], discard, ..Write::default() }).await?;
        written.first().map_or_else(|| Err(short_answer()), open)
    }

    /// All formulas with their newest versions, in the order they were begun.
    ///
    /// # Errors
    /// The medium failed.
    pub async fn formulas(&self) -> Result<Vec<FormulaHead>, StoreError> {
        let mut newest: std::collections::BTreeMap<Id<Formula>, Kept<FormulaVersion>> = self
            .latest::<FormulaVersion>()
            .await?
            .into_iter()
            .map(|version| (version.what.formula, version))
            .collect();
        let formulas = self.all::<Formula>().await?;
        Ok(formulas
            .into_iter()
            .filter_map(|formula| newest.remove(&formula.id).map(|newest| FormulaHead { formula, newest }))
            .collect())
    }

    /// One version of a formula.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is none of this number.
    pub async fn version(
        &self,
        formula: Id<Formula>,
        number: u32,
    ) -> Result<Kept<FormulaVersion>, StoreError> {
        let kind = Kind::FormulaVersion;
        let found = self.select(&Select::Number(kind, formula.to_string(), number)).await?;
        found
            .into_iter()
            .next()
            .ok_or_else(|| StoreError::Missing { kind, id: format!("{number} of formula {formula}") })
    }

    /// A person's settings; the defaults if they never chose.
    ///
    /// # Errors
    /// The medium failed.
    pub async fn setting(&self, person: &str) -> Result<Setting, StoreError> {
        let found: Vec<Kept<Setting>> = self.select(&Select::Scope(Kind::Setting, person.to_owned())).await?;
        let person = person.to_owned();
        Ok(found.into_iter().next_back().map_or_else(
            || Setting { person, decimal_sign: Default::default(), theme: Default::default() },
            |kept| kept.what,
        ))
    }

    /// The photo of an observation.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if it has none.
    pub async fn photo(&self, observation: Id<Observation>) -> Result<Photo, StoreError> {
        let missing =
            || StoreError::Missing { kind: Kind::Observation, id: format!("{observation} with a photo") };
        self.store.photo(observation.uuid()).await?.ok_or_else(missing)
    }

    /// Keeps what a person is typing.
    ///
    /// # Errors
    /// Unfit, or the medium failed.
    pub async fn keep_draft(&self, draft: &Draft) -> Result<(), StoreError> {
        draft.check()?;
        self.store.keep_draft(draft).await
    }

    /// The drafts of a formula, or of sheets that are not yet one, oldest first.
    ///
    /// # Errors
    /// The medium failed.
    pub async fn drafts(&self, formula: Option<Id<Formula>>) -> Result<Vec<Draft>, StoreError> {
        self.store.drafts(formula).await
    }

    /// Throws a draft away.
    ///
    /// # Errors
    /// The medium failed.
    pub async fn discard_draft(&self, key: &DraftKey) -> Result<(), StoreError> {
        self.store.discard_draft(key).await
    }

    /// Puts sample formulas into a workspace that holds no record at all, and says whether it did. A workspace with anything
    /// in it is left alone.
    ///
    /// # Errors
    /// Unfit samples, or the medium failed.
    pub async fn seed(&self, who: &str, samples: &[SampleFormula]) -> Result<bool, StoreError> {
        if self.store.head().await?.length > 0 {
            return Ok(false);
        }
        let mut entries = Vec::new();
        for sample in samples {
            entries.extend(self.formula_entries(who, sample)?);
        }
        match self.store.write(&Write { entries, log_length: Some(0), ..Write::default() }).await {
            Ok(_) => Ok(true),
            Err(StoreError::LogMoved { .. }) => Ok(false),
            Err(error) => Err(error),
        }
    }

    async fn select<T: Record>(&self, select: &Select) -> Result<Vec<Kept<T>>, StoreError> {
        self.store.read(select).await?.iter().map(open).collect()
    }

    async fn put<T: Record>(
        &self,
        who: &str,
        what: T,
        corrects: Option<Correction<T>>,
        photo: Option<Photo>,
        based_on: Option<u32>,
    ) -> Result<Kept<T>, StoreError> {
        self.check(&what).await?;
        let entry = self.seal(who, self.clock.now(), &what, corrects, photo, based_on)?;
        let written = self.store.write(&Write { entries: vec![entry], ..Write::default() }).await?;
        written.first().map_or_else(|| Err(short_answer()), open)
    }

    /// Fit to be kept, and everything it mentions exists. Records never vanish, so what existed a moment ago exists when the
    /// record is written.
    async fn check<T: Record>(&self, what: &T) -> Result<(), StoreError> {
        what.check()?;
        if let Some((kind, id)) = what.belongs_to() {
            let found = self.store.read(&Select::One(id)).await?;
            if found.first().is_none_or(|found| found.entry.kind != kind) {
                return Err(StoreError::Missing { kind, id: id.to_string() });
            }
        }
        for mention in what.mentions() {
            self.check_mention(&mention).await?;
        }
        Ok(())
    }

    async fn check_mention(&self, mention: &Mention) -> Result<(), StoreError> {
        let (select, kind, scope, id) = match mention {
            Mention::Record { kind, scope, id } => (Select::One(*id), *kind, scope, id.to_string()),
            Mention::Number { kind, scope, number } => {
                (Select::Number(*kind, scope.clone(), *number), *kind, scope, number.to_string())
            }
        };
        let found = self.store.read(&select).await?;
        match found.first() {
            Some(found) if found.entry.kind == kind && found.entry.scope == *scope => Ok(()),
            _ => Err(StoreError::Missing { kind, id }),
        }
    }

    fn formula_entries(&self, who: &str, sample: &SampleFormula) -> Result<Vec<NewEntry>, StoreError> {
        let now = self.clock.now();
        let formula = Formula { name: sample.name.clone() };
        formula.check()?;
        let begun = self.seal(who, now, &formula, None, None, None)?;
        let id = Id::from_uuid(begun.entry.id);
        let mut entries = vec![begun];
        let mut parent = None;
        for text in &sample.versions {
            let what = version(id, parent, text.clone());
            what.check()?;
            let based_on = parent.unwrap_or(0);
            entries.push(self.seal(who, now, &what, None, None, Some(based_on))?);
            parent = Some(based_on + 1);
        }
        Ok(entries)
    }

    fn seal<T: Record>(
        &self,
        who: &str,
        when: jiff::Timestamp,
        what: &T,
        corrects: Option<Correction<T>>,
        photo: Option<Photo>,
        based_on: Option<u32>,
    ) -> Result<NewEntry, StoreError> {
        crate::records::required("who", who)?;
        let id: Id<T> = Id::new(when, self.dice.as_ref())?;
        let body = serde_json::to_string(what).map_err(|error| StoreError::Medium {
            doing: "write the record as JSON",
            what: error.to_string(),
        })?;
        let entry = Entry {
            id: id.uuid(),
            kind: T::KIND,
            scope: what.scope(),
            parent: what.belongs_to(),
            corrects: corrects.map(|correction| (correction.supersedes.uuid(), correction.reason)),
            who: who.to_owned(),
            how: self.how,
            when,
            body,
            photo_sha256: photo.as_ref().map(|photo| content_hash(photo.bytes())),
        };
        Ok(NewEntry { entry, photo, based_on, uses: what.uses() })
    }
}

/// Opens a sealed record.
pub(crate) fn open<T: Record>(found: &LogEntry) -> Result<Kept<T>, StoreError> {
    let entry = &found.entry;
    let unreadable = |what: String| StoreError::Unreadable {
        kind: entry.kind.to_string(),
        id: entry.id.to_string(),
        what,
    };
    if entry.kind != T::KIND {
        return Err(unreadable(format!("it is not a {}", T::KIND)));
    }
    let what = serde_json::from_str(&entry.body).map_err(|error| unreadable(error.to_string()))?;
    let corrects = entry.corrects.as_ref().map(|(id, reason): &(Uuid, String)| Correction {
        supersedes: Id::from_uuid(*id),
        reason: reason.clone(),
    });
    Ok(Kept {
        id: Id::from_uuid(entry.id),
        number: found.number,
        sequence: found.sequence,
        who: entry.who.clone(),
        how: entry.how,
        when: entry.when,
        corrects,
        what,
    })
}

fn version(formula: Id<Formula>, parent: Option<u32>, text: VersionText) -> FormulaVersion {
    FormulaVersion {
        formula,
        parent,
        sha256: content_hash(text.text.as_bytes()),
        text: text.text,
        reason: text.reason,
        engine_version: text.engine_version,
        data_version: text.data_version,
    }
}

fn short_answer() -> StoreError {
    StoreError::Medium {
        doing: "write the record",
        what: "the store gave back fewer records than it was given".to_owned(),
    }
}

//! A store in memory that keeps what the trait promises: numbers without a gap, a conflict when the scope has moved, drafts by tab.

use async_trait::async_trait;
use levigate_project::audit::{FIRST_LINK, entry_hash, link};
use levigate_project::records::{Draft, Formula, Id, Photo};
use levigate_project::store::{
    DraftKey, Head, LogEntry, LotUse, Select, Store, StoreError, Trace, TracedUse, Write,
};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Mutex;
use uuid::Uuid;

#[derive(Default)]
struct Kept {
    log: Vec<LogEntry>,
    drafts: Vec<Draft>,
    photos: Vec<(Uuid, Photo)>,
    secrets: Vec<(Uuid, String)>,
    uses: Vec<(Uuid, LotUse)>,
}

/// The store.
#[derive(Default)]
pub(crate) struct MemoryStore(Mutex<Kept>);

fn of_draft(draft: &Draft, key: &DraftKey) -> bool {
    draft.formula == key.formula && draft.tab == key.tab
}

#[async_trait]
impl Store for MemoryStore {
    async fn write(&self, write: &Write) -> Result<Vec<LogEntry>, StoreError> {
        let mut kept = self.0.lock().unwrap();
        let mut log = kept.log.clone();
        let mut written = Vec::new();
        for new in &write.entries {
            if log.iter().any(|found| found.entry.id == new.entry.id) {
                return Err(StoreError::AlreadyKept { kind: new.entry.kind, id: new.entry.id });
            }
            let same = |found: &&LogEntry| {
                found.entry.kind == new.entry.kind && found.entry.scope == new.entry.scope
            };
            let last = log.iter().rev().find(same).cloned();
            let number = last.as_ref().map_or(0, |last| last.number);
            if let (Some(yours), Some(last)) = (new.based_on.filter(|yours| *yours != number), &last) {
                return Err(StoreError::Moved {
                    yours,
                    theirs: number,
                    by: last.entry.who.clone(),
                    when: last.entry.when,
                });
            }
            if let Some((id, _)) = new.entry.corrects
                && log
                    .iter()
                    .any(|found| found.entry.corrects.as_ref().is_some_and(|(other, _)| *other == id))
            {
                return Err(StoreError::AlreadyCorrected { kind: new.entry.kind, id });
            }
            let sequence = log.len() as u64 + 1;
            let hash = entry_hash(&new.entry, number + 1);
            let before = log.last().map_or(FIRST_LINK, |last| last.link.as_str());
            let link = link(before, sequence, &hash);
            let entry = LogEntry { sequence, number: number + 1, entry: new.entry.clone(), hash, link };
            log.push(entry.clone());
            written.push(entry);
        }
        kept.log = log;
        let photos = write.entries.iter().filter_map(|new| Some((new.entry.id, new.photo.clone()?)));
        kept.photos.extend(photos);
        kept.secrets.extend(write.secret.clone());
        let uses =
            write.entries.iter().flat_map(|new| new.uses.iter().map(|used| (new.entry.id, used.clone())));
        kept.uses.extend(uses);
        if let Some(key) = &write.discard {
            kept.drafts.retain(|draft| !of_draft(draft, key));
        }
        Ok(written)
    }

    async fn read(&self, select: &Select) -> Result<Vec<LogEntry>, StoreError> {
        let log = self.0.lock().unwrap().log.clone();
        let mut found: Vec<LogEntry> = log
            .into_iter()
            .filter(|found| match select {
                Select::All => true,
                Select::One(id) => found.entry.id == *id,
                Select::Number(kind, scope, number) => {
                    found.entry.kind == *kind && found.entry.scope == *scope && found.number == *number
                }
                Select::Scope(kind, scope) => found.entry.kind == *kind && found.entry.scope == *scope,
                Select::Kind(kind) | Select::Latest(kind) | Select::Newest(kind, _) => {
                    found.entry.kind == *kind
                }
                Select::Children(kind, id) => {
                    found.entry.kind == *kind && found.entry.parent.is_some_and(|(_, parent)| parent == *id)
                }
                Select::After(sequence, _) => found.sequence > *sequence,
                Select::KindAfter(kind, sequence, _) => {
                    found.entry.kind == *kind && found.sequence > *sequence
                }
            })
            .collect();
        if matches!(select, Select::Latest(_)) {
            let all = found.clone();
            found.retain(|one| {
                all.iter()
                    .filter(|other| other.entry.scope == one.entry.scope)
                    .all(|other| other.number <= one.number)
            });
        }
        if let Select::Newest(..) = select {
            found.reverse();
        }
        if let Select::Newest(_, most) | Select::After(_, most) | Select::KindAfter(_, _, most) = select {
            found.truncate(*most as usize);
        }
        Ok(found)
    }

    async fn secret(&self, record: Uuid) -> Result<Option<String>, StoreError> {
        let kept = self.0.lock().unwrap();
        Ok(kept.secrets.iter().find(|(id, _)| *id == record).map(|(_, secret)| secret.clone()))
    }

    async fn photo(&self, record: Uuid) -> Result<Option<Photo>, StoreError> {
        let kept = self.0.lock().unwrap();
        Ok(kept.photos.iter().find(|(id, _)| *id == record).map(|(_, photo)| photo.clone()))
    }

    async fn head(&self) -> Result<Head, StoreError> {
        let kept = self.0.lock().unwrap();
        let link = kept.log.last().map_or(FIRST_LINK, |last| last.link.as_str()).to_owned();
        Ok(Head { length: kept.log.len() as u64, link })
    }

    async fn keep_draft(&self, draft: &Draft) -> Result<(), StoreError> {
        let mut kept = self.0.lock().unwrap();
        let key = DraftKey { formula: draft.formula, tab: draft.tab.clone() };
        if kept.drafts.iter().any(|older| of_draft(older, &key) && older.edit > draft.edit) {
            return Ok(());
        }
        kept.drafts.retain(|older| !of_draft(older, &key));
        kept.drafts.push(draft.clone());
        Ok(())
    }

    async fn drafts(&self, formula: Option<Id<Formula>>) -> Result<Vec<Draft>, StoreError> {
        let kept = self.0.lock().unwrap();
        Ok(kept.drafts.iter().filter(|draft| draft.formula == formula).cloned().collect())
    }

    async fn discard_draft(&self, key: &DraftKey) -> Result<(), StoreError> {
        self.0.lock().unwrap().drafts.retain(|draft| !of_draft(draft, key));
        Ok(())
    }

    async fn trace(&self, trace: &Trace) -> Result<Vec<TracedUse>, StoreError> {
        let kept = self.0.lock().unwrap();
        let one = |id: Uuid| kept.log.iter().find(|found| found.entry.id == id).unwrap();
        let struck = |id: Uuid| {
            kept.log.iter().any(|found| found.entry.corrects.as_ref().is_some_and(|(other, _)| *other == id))
        };
        let all = kept.uses.iter().map(|(id, used)| {
            let entry = one(*id);
            let batch = one(entry.entry.parent.unwrap().1);
            TracedUse {
                used: used.clone(),
                entry: *id,
                batch: batch.entry.id,
                code: batch.entry.scope.clone(),
                trial: batch.entry.parent.unwrap().1,
                who: entry.entry.who.clone(),
                when: entry.entry.when,
                struck: struck(*id),
            }
        });
        Ok(all
            .filter(|found| match trace {
                Trace::Lot(lot) => found.used.lot == *lot,
                Trace::Batch(batch) => found.batch == *batch,
            })
            .collect())
    }

    async fn used(&self) -> Result<BTreeMap<String, i64>, StoreError> {
        let kept = self.0.lock().unwrap();
        let mut used = BTreeMap::new();
        for (id, one) in &kept.uses {
            let struck =
                kept.log.iter().any(|it| it.entry.corrects.as_ref().is_some_and(|(other, _)| other == id));
            if !struck {
                *used.entry(one.lot.clone()).or_default() += one.micrograms;
            }
        }
        Ok(used)
    }

    async fn lots_used(&self) -> Result<Vec<String>, StoreError> {
        let lots: BTreeSet<String> =
            self.0.lock().unwrap().uses.iter().map(|(_, used)| used.lot.clone()).collect();
        Ok(lots.into_iter().collect())
    }

    async fn indexed(&self) -> Result<Vec<(Uuid, LotUse)>, StoreError> {
        Ok(self.0.lock().unwrap().uses.clone())
    }

    async fn check_medium(&self) -> Result<(), StoreError> {
        Ok(())
    }
}

//! Whether a workspace still is what was written.

use super::{Workspace, open};
use crate::audit::{FIRST_LINK, content_hash, entry_hash, link};
use crate::records::{BatchEntry, Kept, Kind, Record as _};
use crate::store::{Head, LogEntry, LotUse, Select, StoreError};
use uuid::Uuid;

/// Records looked at in one go.
const AT_ONCE: u32 = 2000;

impl Workspace {
    /// Checks the medium and walks the whole chain: every content against its hash, every link against the one before, every
    /// photo and every password against its record, and the index of lots against the entries it follows from.
    ///
    /// # Errors
    /// [`StoreError::Damaged`] with the first record that does not hold.
    pub async fn verify(&self) -> Result<Head, StoreError> {
        self.store.check_medium().await?;
        let head = self.store.head().await?;
        let (mut before, mut length) = (FIRST_LINK.to_owned(), 0);
        let mut uses = self.store.indexed().await?.into_iter().peekable();
        'log: loop {
            let some = self.store.read(&Select::After(length, AT_ONCE)).await?;
            if some.is_empty() {
                break;
            }
            for found in &some {
                if length == head.length {
                    break 'log;
                }
                length += 1;
                before = self.holds(found, length, &before).await?;
                let mut indexed = Vec::new();
                while let Some((_, used)) = uses.next_if(|(entry, _)| *entry == found.entry.id) {
                    indexed.push(used);
                }
                if indexed != follows(found)? {
                    let what = "the index of lots does not say what it says".to_owned();
                    return Err(StoreError::Damaged { sequence: length, what });
                }
            }
        }
        if length != head.length || before != head.link {
            let what = "the log does not end where its head says".to_owned();
            return Err(StoreError::Damaged { sequence: head.length, what });
        }
        // A batch may be written to while it is checked: what was added behind the head is not looked at.
        self.nothing_strange(uses.next(), &head).await?;
        Ok(head)
    }

    /// The link of a record, if content, link, photo and password hold.
    async fn holds(&self, found: &LogEntry, sequence: u64, before: &str) -> Result<String, StoreError> {
        let damaged = |what: &str| StoreError::Damaged { sequence, what: what.to_owned() };
        if found.sequence != sequence {
            return Err(damaged("a record before it is gone"));
        }
        if entry_hash(&found.entry, found.number) != found.hash {
            return Err(damaged("its content is not what was written"));
        }
        let own = link(before, sequence, &found.hash);
        if own != found.link {
            return Err(damaged("its link does not follow from the one before"));
        }
        if let Some(expected) = &found.entry.photo_sha256 {
            let photo = self.store.photo(found.entry.id).await?;
            if photo.is_none_or(|photo| content_hash(photo.bytes()) != *expected) {
                return Err(damaged("its photo is not what was kept"));
            }
        }
        if found.entry.kind == Kind::Person && !self.password_holds(found).await? {
            return Err(damaged("its password is not what was kept"));
        }
        Ok(own)
    }

    async fn nothing_strange(&self, left: Option<(Uuid, LotUse)>, head: &Head) -> Result<(), StoreError> {
        let Some((entry, _)) = left else { return Ok(()) };
        let found = self.store.read(&Select::One(entry)).await?;
        if found.first().is_some_and(|found| found.sequence > head.length) {
            return Ok(());
        }
        let what = "the index of lots names an entry out of its order".to_owned();
        Err(StoreError::Damaged { sequence: found.first().map_or(head.length, |found| found.sequence), what })
    }
}

/// What the index must say of a record.
fn follows(found: &LogEntry) -> Result<Vec<LotUse>, StoreError> {
    if found.entry.kind != Kind::BatchEntry {
        return Ok(Vec::new());
    }
    let kept: Kept<BatchEntry> = open(found)?;
    Ok(kept.what.uses())
}

//! Whether a workspace still is what was written.

use super::Workspace;
use crate::audit::{FIRST_LINK, content_hash, entry_hash, link};
use crate::records::Kind;
use crate::store::{Head, Select, StoreError};

impl Workspace {
    /// Checks the medium and walks the whole chain: every content against its hash, every link against the one before, every
    /// photo and every password against its record.
    ///
    /// # Errors
    /// [`StoreError::Damaged`] with the first record that does not hold.
    pub async fn verify(&self) -> Result<Head, StoreError> {
        self.store.check_medium().await?;
        let head = self.store.head().await?;
        let mut before = FIRST_LINK.to_owned();
        let mut length = 0;
        for found in self
            .store
            .read(&Select::All)
            .await?
            .iter()
            .take(usize::try_from(head.length).unwrap_or(usize::MAX))
        {
            length += 1;
            let damaged = |what: &str| StoreError::Damaged { sequence: length, what: what.to_owned() };
            if found.sequence != length {
                return Err(damaged("a record before it is gone"));
            }
            if entry_hash(&found.entry, found.number) != found.hash {
                return Err(damaged("its content is not what was written"));
            }
            before = link(&before, length, &found.hash);
            if before != found.link {
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
        }
        if length != head.length || before != head.link {
            let what = "the log does not end where its head says".to_owned();
            return Err(StoreError::Damaged { sequence: head.length, what });
        }
        Ok(head)
    }
}

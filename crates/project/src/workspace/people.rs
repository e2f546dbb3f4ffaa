//! People as the workspace keeps them: the record without the password, and the password's hash apart from it.

use uuid::Uuid;

use super::{Workspace, open, short_answer};
use crate::audit::content_hash;
use crate::people::password::PasswordHash;
use crate::records::{Correction, Id, Kept, PasswordKept, Person, Record as _, required};
use crate::store::{LogEntry, StoreError, Write};

impl Workspace {
    /// Keeps a person with the hash of their password: a new one, or one that stands in the place of an older record.
    ///
    /// `newest` is the number of the newest record of a person that the writer knew of.
    ///
    /// # Errors
    /// Unfit, the older record has been corrected already, or somebody wrote a person in between.
    pub async fn keep_person(
        &self,
        who: &str,
        person: Person,
        password: &PasswordHash,
        corrects: Option<Correction<Person>>,
        newest: u32,
    ) -> Result<Kept<Person>, StoreError> {
        if let Some(correction) = &corrects {
            required("reason", &correction.reason)?;
        }
        let what = Person { password: PasswordKept::of(password), ..person };
        what.check()?;
        let entry = self.seal(who, self.clock.now(), &what, corrects, None, Some(newest))?;
        let secret = Some((entry.entry.id, password.as_text().to_owned()));
        let written = self.store.write(&Write { entries: vec![entry], secret, ..Write::default() }).await?;
        written.first().map_or_else(|| Err(short_answer()), open)
    }

    /// The hash of a person's password.
    ///
    /// # Errors
    /// [`StoreError::Missing`] if there is none.
    pub async fn password_of(&self, person: Id<Person>) -> Result<PasswordHash, StoreError> {
        let missing = || StoreError::Missing { kind: Person::KIND, id: format!("{person} with a password") };
        let text = self.store.secret(person.uuid()).await?.ok_or_else(missing)?;
        Ok(PasswordHash::from_text(text))
    }

    /// Whether the hash kept apart is the one the record was written with.
    pub(super) async fn password_holds(&self, found: &LogEntry) -> Result<bool, StoreError> {
        let person: Kept<Person> = open(found)?;
        let id: Uuid = found.entry.id;
        let kept = self.store.secret(id).await?;
        Ok(kept.is_some_and(|text| content_hash(text.as_bytes()) == person.what.password.sha256()))
    }
}

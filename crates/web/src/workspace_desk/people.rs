//! People, from the pages to the verbs and back.

use super::troubles::{not_kept, stored};
use super::{Inner, WorkspaceDesk, held};
use crate::desk::{Answer, Desk, PeopleDesk};
use crate::trouble::{Kind, Trouble};
use async_trait::async_trait;
use levigate_project::people::password::PasswordHash;
use levigate_project::people::{Denied, Hand, Roll};
use levigate_project::records::{Id, Kept, Person};
use levigate_project::workbench::complaint::sentence;
use levigate_project::workbench::people::{
    self as verbs, PeopleError, PersonCard, PersonChange, TypedPerson, confirm,
};
use std::sync::mpsc::Sender;
use std::sync::{Arc, Mutex, OnceLock};
use tokio::sync::{Mutex as Turn, Semaphore};

/// Hashes of passwords that are computed or waited for.
const MOST_WAITING: usize = 16;

/// Stands in for the hash of somebody who is unknown, so that they are refused as slowly as somebody who is known.
const NOBODY: &str =
    "$argon2id$v=19$m=19456,t=2,p=1$cXVpbGxmZW4gbGFib3JhdA$7Jm0qkDJ0w5lZ1uZVq9Oqv3o5mE9y2w1Gk0m1b8b1nU";

/// Something to be computed with a password.
type Job = Box<dyn FnOnce() + Send>;

/// The one thread that computes with passwords. Each hash takes 19 MiB, and a system gives memory back per thread if at all: many
/// threads would hold that much each.
fn bench_of_passwords() -> Sender<Job> {
    let (give, take) = std::sync::mpsc::channel::<Job>();
    std::thread::spawn(move || {
        while let Ok(job) = take.recv() {
            // A job that fails is told by the answer that never comes; the thread goes on.
            let _ = std::panic::catch_unwind(std::panic::AssertUnwindSafe(job));
        }
    });
    give
}

/// The people of the workspace, kept at hand, and the room there is for passwords.
pub(super) struct People {
    roll: Mutex<Arc<Roll>>,
    waiting: Semaphore,
    computing: OnceLock<Sender<Job>>,
    /// One change of people at a time.
    changing: Turn<()>,
}

impl People {
    pub(super) fn of(roll: Roll) -> Self {
        Self {
            roll: Mutex::new(Arc::new(roll)),
            waiting: Semaphore::new(MOST_WAITING),
            computing: OnceLock::new(),
            changing: Turn::new(()),
        }
    }

    /// Computes with a password, when it is its turn.
    async fn compute<T: Send + 'static>(&self, job: impl FnOnce() -> T + Send + 'static) -> Answer<T> {
        let _waiting = self.waiting.try_acquire().map_err(|_| {
            Trouble::new(
                Kind::Busy,
                "busy",
                "Too many people are logging in just now.",
                "Checking a password is slow on purpose, and only a few are checked at a time.",
                "Try again in a few seconds.",
            )
        })?;
        let (tell, told) = tokio::sync::oneshot::channel();
        let job = Box::new(move || {
            // Whoever asked may have gone.
            let _ = tell.send(job());
        });
        self.computing.get_or_init(bench_of_passwords).send(job).map_err(|_| Trouble::broken())?;
        told.await.map_err(|_| Trouble::broken())
    }
}

/// Somebody may not do something.
pub(crate) fn denied(denied: &Denied) -> Trouble {
    Trouble::new(
        Kind::NotAllowed,
        "not-your-role",
        sentence(&denied.to_string()),
        "Roles say who answers for what.",
        sentence(&denied.hint()),
    )
    .in_field("role")
}

fn told(error: &PeopleError) -> Trouble {
    match error {
        PeopleError::Denied(it) => denied(it),
        PeopleError::Keep(error) => not_kept("person", error),
    }
}

impl WorkspaceDesk {
    async fn hash(&self, password: &str) -> Answer<PasswordHash> {
        let (password, workspace) = (password.to_owned(), self.inner.workspace.clone());
        let made = self.inner.people.compute(move || PasswordHash::make(&password, workspace.dice())).await?;
        made.map_err(|error| stored(&error.into()))
    }

    /// Reads the people anew and gives the card of one.
    async fn reread(&self, kept: &Kept<Person>) -> Answer<PersonCard> {
        let inner: &Inner = &self.inner;
        let roll = verbs::roll(&inner.workspace).await.map_err(|error| stored(&error))?;
        let found = roll.members().iter().find(|member| member.newest.id == kept.id).map(PersonCard::of);
        *held(&inner.people.roll) = Arc::new(roll);
        found.ok_or_else(Trouble::broken)
    }
}

#[async_trait]
impl PeopleDesk for WorkspaceDesk {
    fn seated(&self, hand: Hand) -> Arc<dyn Desk> {
        Arc::new(Self { inner: Arc::new(self.inner.seated(hand)) })
    }

    fn hand(&self) -> &Hand {
        &self.inner.hand
    }

    fn people(&self) -> Arc<Roll> {
        Arc::clone(&held(&self.inner.people.roll))
    }

    async fn add_person(&self, typed: &TypedPerson) -> Answer<PersonCard> {
        let inner = &self.inner;
        let _alone = inner.people.changing.lock().await;
        verbs::person_to_add(&self.people(), &inner.hand, typed).map_err(|error| told(&error))?;
        let hash = self.hash(&typed.password).await?;
        let kept = verbs::add(&inner.workspace, &inner.hand, typed, &hash).await;
        self.reread(&kept.map_err(|error| told(&error))?).await
    }

    async fn change_person(&self, id: Id<Person>, change: &PersonChange) -> Answer<PersonCard> {
        let inner = &self.inner;
        let _alone = inner.people.changing.lock().await;
        verbs::person_to_change(&self.people(), &inner.hand, id, change).map_err(|error| told(&error))?;
        let hash = match &change.password {
            Some(password) => Some(self.hash(password).await?),
            None => None,
        };
        let kept = verbs::change(&inner.workspace, &inner.hand, id, change, hash.as_ref()).await;
        self.reread(&kept.map_err(|error| told(&error))?).await
    }

    async fn recognise(&self, name: &str, password: &str) -> Answer<Option<Hand>> {
        let member = self.people().called(name).cloned();
        let hash = match &member {
            Some(member) => {
                self.inner.workspace.password_of(member.newest.id).await.map_err(|error| stored(&error))?
            }
            None => PasswordHash::from_text(NOBODY.to_owned()),
        };
        let password = password.to_owned();
        self.inner
            .people
            .compute(move || match &member {
                Some(member) => confirm(member, &hash, &password),
                None => {
                    // What it says does not matter, that it was computed does.
                    let _ = hash.holds(&password);
                    None
                }
            })
            .await
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nobody_has_a_hash_that_is_as_dear_as_anybodys() {
        let parts: Vec<&str> = NOBODY.split('$').collect();
        let made =
            PasswordHash::make("grey pestle 41", &levigate_project::clock::LoadedDice::new(1)).unwrap();
        let other: Vec<&str> = made.as_text().split('$').collect();
        assert_eq!(parts[1..4], other[1..4]);
        assert_eq!((parts[4].len(), parts[5].len()), (other[4].len(), other[5].len()));
        assert!(!PasswordHash::from_text(NOBODY.to_owned()).holds("grey pestle 41"));
    }
}

//! Who is logged in. Of the random token in a browser's cookie only the SHA-256 is kept, in memory: whoever could read the memory or a
//! copy of it could not log in with it, and a restart of the program logs everybody out.
//!
//! A map and two limits of time are all there is; a library for sessions would keep the token itself as its key and bring a store, and
//! has no way to end all sessions of one person.

use levigate_project::records::{Id, Person};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// A session in which nothing was asked for so long is over.
pub const IDLE: Duration = Duration::from_secs(2 * 60 * 60);
/// A session is over after so long, whatever was asked: a long day at the bench.
pub const LONGEST: Duration = Duration::from_secs(12 * 60 * 60);
/// Sessions of one person at a time; a further one ends the oldest.
const MOST: usize = 10;

/// The SHA-256 of a token.
type Mark = [u8; 32];

struct Session {
    person: Id<Person>,
    since: Instant,
    seen: Instant,
}

impl Session {
    fn over(&self, now: Instant) -> bool {
        now.saturating_duration_since(self.seen) >= IDLE
            || now.saturating_duration_since(self.since) >= LONGEST
    }
}

/// Who is logged in.
#[derive(Default)]
pub struct Sessions(Mutex<BTreeMap<Mark, Session>>);

impl std::fmt::Debug for Sessions {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.debug_struct("Sessions").field("many", &self.held().len()).finish()
    }
}

fn mark(token: &str) -> Mark {
    Sha256::digest(token.as_bytes()).into()
}

/// 256 random bits as a text for a header.
///
/// # Errors
/// The machine has no random bytes to give.
pub fn random_token() -> std::io::Result<String> {
    let mut secret = [0_u8; 32];
    getrandom::fill(&mut secret).map_err(|error| std::io::Error::other(error.to_string()))?;
    Ok(secret.iter().map(|byte| format!("{byte:02x}")).collect())
}

impl Sessions {
    fn held(&self) -> MutexGuard<'_, BTreeMap<Mark, Session>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Begins a session and gives its token.
    ///
    /// # Errors
    /// The machine has no random bytes to give.
    pub fn begin(&self, person: Id<Person>, now: Instant) -> std::io::Result<String> {
        let token = random_token()?;
        let mut held = self.held();
        held.retain(|_, session| !session.over(now));
        let own = held.iter().filter(|(_, session)| session.person == person);
        let oldest = own.clone().min_by_key(|(_, session)| session.seen).map(|(mark, _)| *mark);
        if own.count() >= MOST
            && let Some(oldest) = oldest
        {
            held.remove(&oldest);
        }
        held.insert(mark(&token), Session { person, since: now, seen: now });
        Ok(token)
    }

    /// Whose session a token is, if it is not over.
    pub fn person(&self, token: &str, now: Instant) -> Option<Id<Person>> {
        let mut held = self.held();
        let session = held.get_mut(&mark(token)).filter(|session| !session.over(now))?;
        session.seen = now;
        Some(session.person)
    }

    /// Ends one session.
    pub fn end(&self, token: &str) {
        self.held().remove(&mark(token));
    }

    /// Ends all sessions of a person, but one where it is named.
    pub fn end_all(&self, person: Id<Person>, but: Option<&str>) {
        let but = but.map(mark);
        self.held().retain(|mark, session| session.person != person || Some(*mark) == but);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn person(number: u8) -> Id<Person> {
        format!("018f0000-0000-7000-8000-0000000000{number:02}").parse().unwrap()
    }

    #[test]
    fn a_session_ends_by_idleness_by_age_by_logging_out_and_everywhere() {
        let (sessions, start) = (Sessions::default(), Instant::now());
        let token = sessions.begin(person(1), start).unwrap();
        assert_eq!(token.len(), 64);
        assert_eq!(sessions.person(&token, start), Some(person(1)));
        assert_eq!(sessions.person("", start), None);
        let mut now = start;
        // Kept awake, it lasts until it is too old.
        while now + Duration::from_secs(3600) < start + LONGEST {
            now += Duration::from_secs(3600);
            assert!(sessions.person(&token, now).is_some());
        }
        assert!(sessions.person(&token, start + LONGEST).is_none());
        let idle = sessions.begin(person(1), start).unwrap();
        assert!(sessions.person(&idle, start + IDLE).is_none());
        let (one, two) = (sessions.begin(person(1), now).unwrap(), sessions.begin(person(1), now).unwrap());
        let other = sessions.begin(person(2), now).unwrap();
        sessions.end(&one);
        assert!(sessions.person(&one, now).is_none() && sessions.person(&two, now).is_some());
        let kept = sessions.begin(person(1), now).unwrap();
        sessions.end_all(person(1), Some(&kept));
        assert!(sessions.person(&two, now).is_none() && sessions.person(&kept, now).is_some());
        sessions.end_all(person(1), None);
        assert!(sessions.person(&kept, now).is_none() && sessions.person(&other, now).is_some());
    }

    #[test]
    fn the_token_is_not_kept_and_sessions_are_bounded() {
        let (sessions, now) = (Sessions::default(), Instant::now());
        let first = sessions.begin(person(1), now).unwrap();
        assert!(!format!("{sessions:?}").contains(&first));
        for second in 1..=MOST as u64 {
            sessions.begin(person(1), now + Duration::from_secs(second)).unwrap();
        }
        assert!(sessions.person(&first, now).is_none());
        assert_eq!(sessions.held().len(), MOST);
    }
}

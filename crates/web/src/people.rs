//! People at the door: who is logged in, what they may do, and the routes by which they come and go.

pub(crate) mod pages;
pub(crate) mod routes;
pub mod sessions;
pub mod waits;

use crate::desk::PeopleDesk;
use crate::trouble::{Kind, Trouble};
use crate::window::{House, Room};
use axum::http::Method;
use levigate_project::people::Right;
use levigate_project::workbench::people::Signature;
use sessions::random_token;
use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// What has to be had for a route.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Need {
    /// Nothing: logging in, and what the page for it is made of.
    Nothing,
    /// A right.
    Right(Right),
}

/// Addresses for which more or less is needed than for others, by how they begin.
const NEEDS: [(&str, Need); 9] = [
    ("/static/", Need::Nothing),
    ("/login", Need::Nothing),
    ("/api/login", Need::Nothing),
    ("/api/people/first", Need::Nothing),
    ("/pairing/certificate", Need::Nothing),
    ("/pairing", Need::Right(Right::People)),
    ("/people", Need::Right(Right::People)),
    ("/api/people", Need::Right(Right::People)),
    ("/api/me/", Need::Right(Right::Look)),
];

/// What has to be had to ask in this way for an address.
pub(crate) fn need(method: &Method, path: &str) -> Need {
    let known = NEEDS.iter().find(|(begin, _)| {
        path.strip_prefix(begin)
            .is_some_and(|rest| begin.ends_with('/') || rest.is_empty() || rest.starts_with('/'))
    });
    match known {
        Some((_, need)) => *need,
        None if matches!(*method, Method::GET | Method::HEAD) => Need::Right(Right::Look),
        None => Need::Right(Right::Enter),
    }
}

/// How long a signature may wait for what is signed.
const SIGNATURE_HOLDS: Duration = Duration::from_secs(120);
/// Most signatures that wait.
const MOST_SIGNATURES: usize = 100;

/// Signatures that were given and wait for what is signed, by a ticket that is used once.
#[derive(Default)]
pub struct Signatures(Mutex<BTreeMap<String, (Instant, Signature)>>);

impl std::fmt::Debug for Signatures {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str("Signatures")
    }
}

impl Signatures {
    fn keep(&self, signature: Signature, now: Instant) -> std::io::Result<String> {
        let ticket = random_token()?;
        let mut held = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        held.retain(|_, (given, _)| now.saturating_duration_since(*given) < SIGNATURE_HOLDS);
        if held.len() >= MOST_SIGNATURES
            && let Some(oldest) = held.iter().min_by_key(|(_, (given, _))| *given).map(|(key, _)| key.clone())
        {
            held.remove(&oldest);
        }
        held.insert(ticket.clone(), (now, signature));
        Ok(ticket)
    }

    fn take(&self, ticket: &str, now: Instant) -> Option<Signature> {
        let (given, signature) = self.0.lock().unwrap_or_else(PoisonError::into_inner).remove(ticket)?;
        (now.saturating_duration_since(given) < SIGNATURE_HOLDS).then_some(signature)
    }
}

impl Room {
    /// Whether whoever asks may do something.
    ///
    /// # Errors
    /// They may not; the trouble says who may.
    pub fn may(&self, right: Right) -> Result<(), Trouble> {
        self.hand.may(right).map_err(|denied| crate::workspace_desk::people::denied(&denied))
    }

    /// The password of whoever asks, heard again: their signature. Where nobody logs in there is no password to hear, and the
    /// signature says that it is initialled.
    ///
    /// # Errors
    /// The password is not theirs, or too many wrong ones were heard.
    pub async fn sign(&self, password: &str) -> Result<Signature, Trouble> {
        let now = jiff::Timestamp::now();
        let Some(person) = self.hand.person else { return Ok(Signature::of(&self.hand, now)) };
        let hand = routes::guess(self, &self.hand.name, password).await?;
        match hand {
            Some(hand) if hand.person == Some(person) => Ok(Signature::of(&hand, now)),
            _ => Err(Trouble::new(
                Kind::BadInput,
                "wrong-password",
                "This is not your password.",
                format!(
                    "The signature would be {}'s, so it asks for the password of {}.",
                    self.hand.name, self.hand.name
                ),
                "Type it again; nothing was signed.",
            )
            .in_field("password")),
        }
    }

    /// Keeps a signature for what is signed next, and gives the ticket for it.
    pub(crate) fn keep_signature(&self, signature: Signature) -> Result<String, Trouble> {
        self.house().signatures.keep(signature, Instant::now()).map_err(|_| Trouble::broken())
    }

    /// The signature of a ticket that `/api/sign` gave to the same person; a ticket is good once and for two minutes.
    ///
    /// # Errors
    /// There is no such signature.
    pub fn signed(&self, ticket: &str) -> Result<Signature, Trouble> {
        let signature = self.house().signatures.take(ticket, Instant::now());
        signature
            .filter(|signature| signature.who == self.hand.name && signature.how == self.hand.how)
            .ok_or_else(|| {
                Trouble::new(
                    Kind::BadInput,
                    "not-signed",
                    "The signature is missing or too old.",
                    "A signature is good once and for two minutes.",
                    "Sign again; nothing was written.",
                )
                .in_field("signature")
            })
    }
}

impl House {
    /// Whether nobody has to log in.
    #[must_use]
    pub fn open(&self) -> bool {
        PeopleDesk::people(&*self.desk).is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_address_needs_something_unless_it_is_for_logging_in() {
        let right = |path: &str| need(&Method::GET, path);
        for open in ["/login", "/static/api.js", "/api/login", "/pairing/certificate"] {
            assert_eq!(right(open), Need::Nothing, "{open}");
        }
        for closed in
            ["/", "/loginx", "/formulas", "/api/formulas", "/photos/1", "/api/people/firstly", "/nothing"]
        {
            assert_ne!(right(closed), Need::Nothing, "{closed}");
        }
        assert_eq!(right("/people"), Need::Right(Right::People));
        assert_eq!(right("/pairing"), Need::Right(Right::People));
        assert_eq!(need(&Method::POST, "/api/people/x"), Need::Right(Right::People));
        assert_eq!(need(&Method::DELETE, "/api/anything"), Need::Right(Right::Enter));
    }
}

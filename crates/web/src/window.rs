//! What every request handler can reach, and how a request body is read.

use crate::desk::Desk;
use crate::lan::Pairing;
use crate::people::Signatures;
use crate::people::sessions::Sessions;
use crate::people::waits::{Waits, Where};
use crate::trouble::{Kind, Place, Trouble};
use axum::body::to_bytes;
use axum::extract::{FromRequest, FromRequestParts, Request};
use axum::http::request::Parts;
use levigate_project::instrument::Instruments;
use levigate_project::people::Hand;
use levigate_project::records::PHOTO_LIMIT_BYTES;
use serde::de::DeserializeOwned;
use std::sync::{Arc, Mutex};

/// Most bytes of one JSON body.
pub const MOST_BYTES: usize = 2 * 1024 * 1024;

/// What all doors of one run share.
#[derive(Debug)]
pub struct House {
    /// Does the work; nobody has sat down at it.
    pub desk: Unseated,
    /// Token of this run.
    pub token: String,
    /// Who is logged in.
    pub sessions: Sessions,
    /// Who has to wait.
    pub waits: Waits,
    /// Signatures that wait for what is signed.
    pub signatures: Signatures,
    /// The code by which the first person comes in, where one was printed.
    pub first_code: Mutex<Option<FirstCode>>,
    /// What a tablet has to be told, where there is a door to the network.
    pub pairing: Option<Pairing>,
    /// Instruments on ports of this machine, where any are joined.
    pub instruments: Option<Arc<dyn Instruments>>,
}

/// A desk nobody has sat down at.
pub struct Unseated(pub Arc<dyn Desk>);

impl std::fmt::Debug for Unseated {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str("Unseated")
    }
}

impl std::ops::Deref for Unseated {
    type Target = dyn Desk;
    fn deref(&self) -> &Self::Target {
        self.0.as_ref()
    }
}

/// A code that is good for making the first person, until it was guessed wrong too often.
#[derive(Clone)]
pub struct FirstCode {
    /// The code, capital letters and digits.
    pub code: String,
    /// Wrong guesses left.
    pub left: u32,
}

impl std::fmt::Debug for FirstCode {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.debug_struct("FirstCode").field("left", &self.left).finish_non_exhaustive()
    }
}

/// A door: an address that is listened on.
#[derive(Debug)]
pub struct Door {
    /// The house behind it.
    pub house: Arc<House>,
    /// Names it answers to, with the port.
    pub hosts: Vec<String>,
    /// Whether it leads into the network, under TLS; else it is on this machine.
    pub network: bool,
    /// Name of the cookie; browsers do not tell ports apart, so the port is in it.
    pub cookie: String,
}

impl Door {
    /// How addresses behind it begin.
    #[must_use]
    pub fn scheme(&self) -> &'static str {
        if self.network { "https://" } else { "http://" }
    }
}

/// What a request handler can reach: the desk as whoever asks sits at it.
pub struct Room {
    /// Does the work, in their name.
    pub desk: Arc<dyn Desk>,
    /// Who asks.
    pub hand: Hand,
    /// The token of their session; empty where there is none.
    pub session: String,
    /// The door they came through.
    pub door: Arc<Door>,
    /// Where they stand.
    pub stands: Where,
}

impl Room {
    /// The house.
    #[must_use]
    pub fn house(&self) -> &House {
        &self.door.house
    }
}

impl std::fmt::Debug for Room {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.debug_struct("Room").field("hand", &self.hand).finish_non_exhaustive()
    }
}

/// The room of a request, as the guard has opened it. Without the guard there is none.
#[derive(Debug)]
pub struct Given(pub Arc<Room>);

impl<S: Send + Sync> FromRequestParts<S> for Given {
    type Rejection = Trouble;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Trouble> {
        parts.extensions.get::<Arc<Room>>().map(|room| Self(Arc::clone(room))).ok_or_else(Trouble::broken)
    }
}

/// Most bytes of a JSON body with a photo in it: four letters for three bytes, and room for the words.
pub const MOST_BYTES_WITH_PHOTO: usize = PHOTO_LIMIT_BYTES / 3 * 4 + 64 * 1024;

/// Most bytes of a JSON body with a measured file in it: some hundred thousand rows.
pub const MOST_BYTES_MEASURED: usize = 32 * 1024 * 1024;

/// A JSON body; what cannot be read is told with its line and column.
#[derive(Debug)]
pub struct Body<T, const MOST: usize = MOST_BYTES>(pub T);

impl<T: DeserializeOwned, S: Send + Sync, const MOST: usize> FromRequest<S> for Body<T, MOST> {
    type Rejection = Trouble;

    async fn from_request(request: Request, _: &S) -> Result<Self, Trouble> {
        let bytes = to_bytes(request.into_body(), MOST).await.map_err(|_| {
            Trouble::new(
                Kind::TooLarge,
                "too-large",
                "This is more than is taken in one go.",
                format!("At most {} MB are taken here.", MOST / 1_000_000),
                "Send less: split a file, save a photo smaller.",
            )
            .in_field("body")
        })?;
        serde_json::from_slice(&bytes).map(Self).map_err(|error| {
            Trouble::new(
                Kind::BadInput,
                "unreadable",
                "What was sent could not be read.",
                format!("{error}."),
                "Reload the page and try again; if it happens again, it is our fault.",
            )
            .at(Place {
                line: Some(error.line()),
                column: Some(error.column()),
                field: Some("body".to_owned()),
            })
        })
    }
}

/// An identifier from an address: letters, digits, `-` and `_`, at most 80.
pub(crate) fn identifier(text: &str) -> Result<&str, Trouble> {
    let sound = !text.is_empty()
        && text.len() <= 80
        && text.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'-' || byte == b'_');
    if sound {
        Ok(text)
    } else {
        Err(Trouble::not_found("There is nothing under this name.").in_field("address"))
    }
}

/// A version number from an address or a query.
pub(crate) fn number(text: &str) -> Result<u32, Trouble> {
    text.parse().map_err(|_| {
        Trouble::new(
            Kind::BadInput,
            "not-a-number",
            "The version must be a whole number.",
            "Versions are counted 1, 2, 3.",
            "Open the version from the list of versions.",
        )
        .in_field("version")
    })
}

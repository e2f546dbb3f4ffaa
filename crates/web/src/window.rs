//! What every request handler can reach, and how a request body is read.

use crate::desk::Desk;
use crate::trouble::{Kind, Place, Trouble};
use axum::body::to_bytes;
use axum::extract::{FromRequest, Request};
use levigate_project::records::PHOTO_LIMIT_BYTES;
use serde::de::DeserializeOwned;
use std::sync::Arc;

/// Most bytes of one JSON body.
pub const MOST_BYTES: usize = 2 * 1024 * 1024;

/// What every request handler can reach.
pub struct Room {
    /// Does the work.
    pub desk: Arc<dyn Desk>,
    /// Token of this run.
    pub token: String,
    /// Names the server answers to.
    pub hosts: Vec<String>,
}

impl std::fmt::Debug for Room {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.debug_struct("Room").field("hosts", &self.hosts).finish_non_exhaustive()
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

//! What went wrong, told so that a person can go on: what, why, what now, and where.

use axum::Json;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde::{Deserialize, Serialize};

/// Which kind of trouble it is; decides the HTTP status.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// What was sent cannot be read or breaks a rule.
    BadInput,
    /// Nobody is logged in.
    LoginNeeded,
    /// Too many at once, or too often.
    Busy,
    /// The request does not come from this program's own page, or whoever asks may not.
    NotAllowed,
    /// There is no such thing.
    NotFound,
    /// The way of asking is not known here.
    WrongWay,
    /// Too much at once.
    TooLarge,
    /// It took too long.
    TooSlow,
    /// The program could not do it.
    Failed,
}

impl Kind {
    /// HTTP status.
    #[must_use]
    pub fn status(self) -> StatusCode {
        match self {
            Self::BadInput => StatusCode::UNPROCESSABLE_ENTITY,
            Self::LoginNeeded => StatusCode::UNAUTHORIZED,
            Self::Busy => StatusCode::TOO_MANY_REQUESTS,
            Self::NotAllowed => StatusCode::FORBIDDEN,
            Self::NotFound => StatusCode::NOT_FOUND,
            Self::WrongWay => StatusCode::METHOD_NOT_ALLOWED,
            Self::TooLarge => StatusCode::PAYLOAD_TOO_LARGE,
            Self::TooSlow => StatusCode::REQUEST_TIMEOUT,
            Self::Failed => StatusCode::INTERNAL_SERVER_ERROR,
        }
    }
}

/// Where in the input the trouble is.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Place {
    /// Line from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line: Option<usize>,
    /// Column from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub column: Option<usize>,
    /// Field or parameter.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub field: Option<String>,
}

/// Trouble, in words a person can act on.
#[derive(Clone, Debug, thiserror::Error)]
#[error("{what} {why} {what_now}")]
pub struct Trouble {
    /// Kind.
    pub kind: Kind,
    /// Stable short code.
    pub code: &'static str,
    /// What happened.
    pub what: String,
    /// Why.
    pub why: String,
    /// What to do now.
    pub what_now: String,
    /// Where.
    pub place: Option<Box<Place>>,
}

impl Trouble {
    /// Trouble of a kind.
    #[must_use]
    pub fn new(
        kind: Kind,
        code: &'static str,
        what: impl Into<String>,
        why: impl Into<String>,
        what_now: impl Into<String>,
    ) -> Self {
        Self { kind, code, what: what.into(), why: why.into(), what_now: what_now.into(), place: None }
    }

    /// A mistake of ours.
    #[must_use]
    pub fn broken() -> Self {
        Self::new(
            Kind::Failed,
            "failed",
            "The program made a mistake here.",
            "A step inside it failed that should not be able to fail.",
            "Go back and try again. What was typed is kept.",
        )
    }

    /// There is no such thing.
    #[must_use]
    pub fn not_found(what: impl Into<String>) -> Self {
        Self::new(
            Kind::NotFound,
            "not-found",
            what,
            "It may have been renamed, or the address was typed by hand.",
            "Go back to the list and open it from there.",
        )
    }

    /// Says where.
    #[must_use]
    pub fn at(mut self, place: Place) -> Self {
        self.place = Some(Box::new(place));
        self
    }

    /// Says in which field or parameter.
    #[must_use]
    pub fn in_field(self, field: impl Into<String>) -> Self {
        self.at(Place { field: Some(field.into()), ..Place::default() })
    }
}

#[derive(Serialize)]
struct Written<'a> {
    code: &'a str,
    what: &'a str,
    why: &'a str,
    what_now: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    place: Option<&'a Place>,
}

impl IntoResponse for Trouble {
    fn into_response(self) -> Response {
        let body = Written {
            code: self.code,
            what: &self.what,
            why: &self.why,
            what_now: &self.what_now,
            place: self.place.as_deref(),
        };
        let mut answer = (self.kind.status(), Json(body)).into_response();
        answer.extensions_mut().insert(self);
        answer
    }
}

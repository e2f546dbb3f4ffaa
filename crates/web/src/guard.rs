//! Who may ask. The server listens on the loopback address, but every web page the person has open can send requests there too;
//! so the name it is called by, the page a change comes from and a token only our own pages know are checked on every request.

use crate::pages;
use crate::trouble::{Kind, Trouble};
use crate::window::Room;
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use std::sync::Arc;
use std::time::Duration;

/// Header that carries the token of this run.
pub const TOKEN_HEADER: &str = "x-levigate-token";

/// Longest time for one answer.
const PATIENCE: Duration = Duration::from_secs(30);

const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; \
    font-src 'self'; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'";

/// Checks a request, answers in time, and dresses the answer.
pub async fn watch(State(room): State<Arc<Room>>, request: Request, next: Next) -> Response {
    let path = request.uri().path().to_owned();
    let answer = match check(&room, request.method(), request.headers()) {
        Err(trouble) => trouble.into_response(),
        Ok(()) => match tokio::time::timeout(PATIENCE, next.run(request)).await {
            Ok(answer) => answer,
            Err(_) => Trouble::new(
                Kind::TooSlow,
                "too-slow",
                "The answer took longer than half a minute.",
                "The formula or the machine is unusually heavy.",
                "Try again; what was typed is still on the page.",
            )
            .into_response(),
        },
    };
    dress(told(&room, &path, answer))
}

fn check(room: &Room, method: &Method, headers: &HeaderMap) -> Result<(), Trouble> {
    let host = headers.get(header::HOST).and_then(|value| value.to_str().ok()).unwrap_or_default();
    if !room.hosts.iter().any(|allowed| allowed.eq_ignore_ascii_case(host)) {
        return Err(
            refused("foreign-host", "The address used is not one this program answers to.").in_field("Host")
        );
    }
    if matches!(*method, Method::GET | Method::HEAD) {
        return Ok(());
    }
    if let Some(site) = headers.get("sec-fetch-site")
        && site != "same-origin"
    {
        return Err(
            refused("foreign-page", "The request comes from another site.").in_field("Sec-Fetch-Site")
        );
    }
    if let Some(origin) = headers.get(header::ORIGIN) {
        let own = origin.to_str().ok().and_then(|text| text.strip_prefix("http://"));
        if !own.is_some_and(|text| text.eq_ignore_ascii_case(host)) {
            return Err(refused("foreign-page", "The request comes from another page.").in_field("Origin"));
        }
    }
    let token = headers.get(TOKEN_HEADER).map(HeaderValue::as_bytes).unwrap_or_default();
    if !same(token, room.token.as_bytes()) {
        return Err(Trouble::new(
            Kind::NotAllowed,
            "old-page",
            "This page belongs to an earlier start of the program.",
            "The program was started again while the page was open.",
            "Reload the page; the draft is kept.",
        )
        .in_field(TOKEN_HEADER));
    }
    Ok(())
}

fn refused(code: &'static str, why: &str) -> Trouble {
    Trouble::new(
        Kind::NotAllowed,
        code,
        "The request was not accepted.",
        why,
        "Open the address that the program printed when it started.",
    )
}

/// Compares without telling by its duration where two texts differ.
fn same(left: &[u8], right: &[u8]) -> bool {
    left.len() == right.len()
        && left.iter().zip(right).fold(0_u8, |sum, (one, other)| sum | (one ^ other)) == 0
}

/// Gives every refusal a body a person can act on: a page for pages, JSON for the JSON routes.
fn told(room: &Room, path: &str, answer: Response) -> Response {
    if answer.status().is_success() || answer.status().is_redirection() {
        return answer;
    }
    let status = answer.status();
    let trouble = answer.extensions().get::<Trouble>().cloned().unwrap_or_else(|| {
        let (kind, code, what) = match status.as_u16() {
            404 => (Kind::NotFound, "not-found", "There is nothing at this address."),
            405 => (Kind::WrongWay, "wrong-way", "This address cannot be asked in this way."),
            413 => (Kind::TooLarge, "too-large", "This is more than is taken in one go."),
            500.. => (Kind::Failed, "failed", "The program could not do this."),
            _ => (Kind::BadInput, "bad-input", "The request could not be read."),
        };
        Trouble::new(
            kind,
            code,
            what,
            "The address or what was sent with it does not fit.",
            "Go back and open it from the list.",
        )
        .in_field("address")
    });
    if path.starts_with("/api/") || path.starts_with("/static/") {
        return trouble.into_response();
    }
    let status = trouble.kind.status();
    (status, pages::trouble_page(room, &trouble)).into_response()
}

fn dress(mut answer: Response) -> Response {
    let headers = answer.headers_mut();
    // A photo brings a policy of its own, stricter still.
    headers.entry(header::CONTENT_SECURITY_POLICY).or_insert(HeaderValue::from_static(POLICY));
    for (name, value) in [
        ("x-content-type-options", "nosniff"),
        ("referrer-policy", "no-referrer"),
        ("cross-origin-opener-policy", "same-origin"),
        ("cross-origin-resource-policy", "same-origin"),
        ("x-frame-options", "DENY"),
        ("permissions-policy", "camera=(), microphone=(), geolocation=()"),
    ] {
        headers.insert(HeaderName::from_static(name), HeaderValue::from_static(value));
    }
    headers.entry(header::CACHE_CONTROL).or_insert(HeaderValue::from_static("no-store"));
    answer
}

#[cfg(test)]
mod tests {
    use super::same;

    #[test]
    fn tokens_are_the_same_only_when_all_bytes_are() {
        assert!(same(b"abc", b"abc"));
        assert!(!same(b"abc", b"abd"));
        assert!(!same(b"abc", b"ab"));
        assert!(!same(b"", b"a"));
    }
}

//! Who may ask. Every web page a person has open can send requests here too, and so can every machine of the network where there is a
//! door to it; so the name the program is called by, the page a change comes from, who is logged in, what they may do and a token
//! only our own pages know are checked on every request.

use crate::desk::PeopleDesk;
use crate::listen::Peer;
use crate::pages;
use crate::people::waits::Where;
use crate::people::{Need, need};
use crate::trouble::{Kind, Trouble};
use crate::window::{Door, Room};
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Redirect, Response};
use levigate_project::people::Hand;
use levigate_project::records::Role;
use std::net::{IpAddr, Ipv4Addr};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Header that carries the token of this run.
pub const TOKEN_HEADER: &str = "x-levigate-token";

/// Longest time for one answer.
const PATIENCE: Duration = Duration::from_secs(30);

const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; \
    font-src 'self'; connect-src 'self'; worker-src 'self'; manifest-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'";

/// Checks a request, answers in time, and dresses the answer.
pub async fn watch(State(door): State<Arc<Door>>, mut request: Request, next: Next) -> Response {
    let path = request.uri().path().to_owned();
    let answer = match check(&door, &request) {
        Err(trouble) if trouble.kind == Kind::LoginNeeded && is_page(request.method(), &path) => {
            let back = request.uri().path_and_query().map_or("/", |whole| whole.as_str());
            Redirect::to(&format!("/login?to={}", escaped(back))).into_response()
        }
        Err(trouble) => trouble.into_response(),
        Ok(room) => {
            request.extensions_mut().insert(Arc::new(room));
            match tokio::time::timeout(PATIENCE, next.run(request)).await {
                Ok(answer) => answer,
                Err(_) => Trouble::new(
                    Kind::TooSlow,
                    "too-slow",
                    "The answer took longer than half a minute.",
                    "The formula or the machine is unusually heavy.",
                    "Try again; what was typed is still on the page.",
                )
                .into_response(),
            }
        }
    };
    dress(told(&door, &path, answer))
}

/// Whether somebody looks at a page, rather than a script at data.
fn is_page(method: &Method, path: &str) -> bool {
    matches!(*method, Method::GET | Method::HEAD)
        && !path.starts_with("/api/")
        && !path.starts_with("/static/")
}

/// A text as part of a query.
fn escaped(text: &str) -> String {
    let mut out = String::new();
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || b"/-_.".contains(&byte) {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
    }
    out
}

fn check(door: &Arc<Door>, request: &Request) -> Result<Room, Trouble> {
    let (method, headers) = (request.method(), request.headers());
    let host = headers.get(header::HOST).and_then(|value| value.to_str().ok()).unwrap_or_default();
    if !door.hosts.iter().any(|allowed| allowed.eq_ignore_ascii_case(host)) {
        return Err(
            refused("foreign-host", "The address used is not one this program answers to.").in_field("Host")
        );
    }
    let changes = !matches!(*method, Method::GET | Method::HEAD);
    if changes {
        from_own_page(door, host, headers)?;
    }
    let room = admit(door, request)?;
    let token = headers.get(TOKEN_HEADER).map(HeaderValue::as_bytes).unwrap_or_default();
    if changes && !same(token, door.house.token.as_bytes()) {
        return Err(Trouble::new(
            Kind::NotAllowed,
            "old-page",
            "This page belongs to an earlier start of the program.",
            "The program was started again while the page was open.",
            "Reload the page; the draft is kept.",
        )
        .in_field(TOKEN_HEADER));
    }
    Ok(room)
}

/// Whether a change comes from a page of ours.
fn from_own_page(door: &Door, host: &str, headers: &HeaderMap) -> Result<(), Trouble> {
    if let Some(site) = headers.get("sec-fetch-site")
        && site != "same-origin"
    {
        return Err(
            refused("foreign-page", "The request comes from another site.").in_field("Sec-Fetch-Site")
        );
    }
    if let Some(origin) = headers.get(header::ORIGIN) {
        let own = origin.to_str().ok().and_then(|text| text.strip_prefix(door.scheme()));
        if !own.is_some_and(|text| text.eq_ignore_ascii_case(host)) {
            return Err(refused("foreign-page", "The request comes from another page.").in_field("Origin"));
        }
    }
    Ok(())
}

/// Who asks, and whether they may.
fn admit(door: &Arc<Door>, request: &Request) -> Result<Room, Trouble> {
    let house = &door.house;
    let need = need(request.method(), request.uri().path());
    let people = PeopleDesk::people(&*house.desk);
    let session = cookie(request.headers(), &door.cookie);
    let member = session
        .and_then(|token| house.sessions.person(token, Instant::now()))
        .and_then(|person| people.active(person));
    let hand = match member {
        Some(member) => Hand::of(member),
        None if people.is_empty() && !door.network => house.desk.hand().clone(),
        None if need == Need::Nothing => Hand { role: Role::Bench, ..Hand::initialled("nobody") },
        None if people.is_empty() => {
            return Err(Trouble::new(
                Kind::NotAllowed,
                "nobody-yet",
                "Nobody can log in here yet.",
                "The workspace has no people, and in the network everybody has to log in.",
                "Make the first person at the machine itself: the pairing page there asks for the code that was printed.",
            )
            .in_field("address"));
        }
        None => {
            return Err(Trouble::new(
                Kind::LoginNeeded,
                "log-in",
                "You are not logged in.",
                "Nobody has logged in here yet, the session has ended, or the program was started again.",
                "Log in; what you typed stays on this page.",
            )
            .in_field("session"));
        }
    };
    let session = if member.is_some() { session.unwrap_or_default().to_owned() } else { String::new() };
    let peer = request.extensions().get::<Peer>().map_or(IpAddr::V4(Ipv4Addr::LOCALHOST), |peer| peer.0.ip());
    let stands = if door.network { Where::Network(peer) } else { Where::Here };
    let room = Room { desk: house.desk.seated(hand.clone()), hand, session, door: Arc::clone(door), stands };
    if let Need::Right(right) = need {
        room.may(right)?;
    }
    Ok(room)
}

/// The value of a cookie.
fn cookie<'a>(headers: &'a HeaderMap, name: &str) -> Option<&'a str> {
    headers
        .get_all(header::COOKIE)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(';'))
        .find_map(|one| one.trim().strip_prefix(name)?.strip_prefix('='))
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
pub(crate) fn same(left: &[u8], right: &[u8]) -> bool {
    left.len() == right.len()
        && left.iter().zip(right).fold(0_u8, |sum, (one, other)| sum | (one ^ other)) == 0
}

/// Gives every refusal a body a person can act on: a page for pages, JSON for the JSON routes.
fn told(door: &Door, path: &str, answer: Response) -> Response {
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
    (status, pages::trouble_page(door, &trouble)).into_response()
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
    use super::{cookie, escaped, same};
    use axum::http::{HeaderMap, HeaderValue, header};

    #[test]
    fn tokens_are_the_same_only_when_all_bytes_are() {
        assert!(same(b"abc", b"abc"));
        assert!(!same(b"abc", b"abd"));
        assert!(!same(b"abc", b"ab"));
        assert!(!same(b"", b"a"));
    }

    #[test]
    fn a_cookie_is_found_by_its_whole_name() {
        let mut headers = HeaderMap::new();
        headers.append(header::COOKIE, HeaderValue::from_static("xlevigate-1=a; levigate-12=b"));
        headers.append(header::COOKIE, HeaderValue::from_static("levigate-1=c; levigate-1=d"));
        assert_eq!(cookie(&headers, "levigate-1"), Some("c"));
        assert_eq!(cookie(&headers, "levigate"), None);
    }

    #[test]
    fn the_way_back_is_one_value_of_a_query() {
        assert_eq!(
            escaped("/formulas/a?version=2&x=%41 é"),
            "/formulas/a%3Fversion%3D2%26x%3D%2541%20%C3%A9"
        );
    }
}

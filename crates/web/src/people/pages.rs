//! Pages: logging in, people, pairing a tablet.

use crate::desk::PeopleDesk;
use crate::pages::{Frame, Page, data, frame, page};
use crate::trouble::Trouble;
use crate::window::Given;
use askama::Template;
use axum::extract::Query;
use axum::http::header;
use axum::response::{IntoResponse, Redirect, Response};
use levigate_project::workbench::people::PersonCard;

/// Where somebody was going.
#[derive(Debug, Default, serde::Deserialize)]
#[serde(default)]
pub(crate) struct To {
    to: String,
}

/// A way back into this program, and never out of it.
fn way_back(to: &str) -> &str {
    let sound = to.len() <= 400
        && to.starts_with('/')
        && !to.starts_with("//")
        && !to.starts_with("/login")
        && to.bytes().all(|byte| byte.is_ascii_graphic() && !b"\\\"'<>".contains(&byte));
    if sound { to } else { "/formulas" }
}

#[derive(Template)]
#[template(path = "login.html")]
struct LoginPage {
    frame: Frame,
    to: String,
}

/// Logging in. Whoever has logged in, or has not to, goes where they were going.
pub(crate) async fn login(Given(room): Given, Query(to): Query<To>) -> Result<Response, Trouble> {
    let to = way_back(&to.to).to_owned();
    let open = room.house().open() && !room.door.network;
    if open || room.hand.person.is_some() {
        return Ok(Redirect::to(&to).into_response());
    }
    let frame = Frame { token: room.house().token.clone(), place: "login", ..Frame::default() };
    page(&LoginPage { frame, to }).map(IntoResponse::into_response)
}

#[derive(Template)]
#[template(path = "people.html")]
struct PeoplePage {
    frame: Frame,
    nobody: bool,
    data: String,
}

/// People, for those who manage them.
pub(crate) async fn people(Given(room): Given) -> Page {
    let roll = PeopleDesk::people(room.desk.as_ref());
    let cards: Vec<PersonCard> = roll.members().iter().map(PersonCard::of).collect();
    let own = room.hand.person.map(|id| id.to_string());
    let data = data(&serde_json::json!({ "people": cards, "own": own }))?;
    page(&PeoplePage { frame: frame(&room, "people").await?, nobody: roll.is_empty(), data })
}

#[derive(Template)]
#[template(path = "pairing.html")]
struct PairingPage {
    frame: Frame,
    nobody: bool,
    urls: Vec<String>,
    code: String,
    fingerprint: Vec<String>,
    root_fingerprint: Vec<String>,
    until: String,
    fresh: bool,
}

/// What a tablet has to be told; only at this machine.
pub(crate) async fn pairing(Given(room): Given) -> Page {
    let told = room.house().pairing.as_ref().filter(|_| !room.door.network).ok_or_else(|| {
        let what = "There is no door to the network here.";
        let why =
            "It is opened with `levigate serve --lan`, and its certificate is shown at that machine itself.";
        Trouble::new(
            crate::trouble::Kind::NotFound,
            "no-lan",
            what,
            why,
            "Start the program with --lan at that machine.",
        )
        .in_field("address")
    })?;
    let lines = |fingerprint: &str| {
        let groups: Vec<&str> = fingerprint.split(' ').collect();
        groups.chunks(4).map(|four| four.join(" ")).collect()
    };
    page(&PairingPage {
        frame: frame(&room, "pairing").await?,
        nobody: room.house().open(),
        urls: told.urls.clone(),
        code: told.code().unwrap_or_default(),
        fingerprint: lines(&told.fingerprint),
        root_fingerprint: lines(&told.root_fingerprint),
        until: told.until.to_string(),
        fresh: told.fresh,
    })
}

/// The root certificate, for a tablet to install.
pub(crate) async fn certificate(Given(room): Given) -> Result<Response, Trouble> {
    let told = room.house().pairing.as_ref();
    let told = told.ok_or_else(|| Trouble::not_found("There is no certificate here.").in_field("address"))?;
    let kind = (header::CONTENT_TYPE, "application/x-x509-ca-cert");
    let name = (header::CONTENT_DISPOSITION, "attachment; filename=\"levigate-root.crt\"");
    Ok(([kind, name], told.root.clone()).into_response())
}

#[cfg(test)]
mod tests {
    use super::way_back;

    #[test]
    fn the_way_back_leads_into_this_program_only() {
        assert_eq!(way_back("/formulas/a?version=2"), "/formulas/a?version=2");
        for out in [
            "",
            "formulas",
            "//elsewhere.example",
            "/\\elsewhere.example",
            "https://elsewhere.example",
            "/login?to=/x",
            "/a\nb",
        ] {
            assert_eq!(way_back(out), "/formulas", "{out}");
        }
    }
}

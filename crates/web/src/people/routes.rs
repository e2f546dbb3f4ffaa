//! JSON routes: logging in and out, people, signatures.

use super::sessions::LONGEST;
use super::waits::{Whom, words};
use crate::desk::PeopleDesk;
use crate::trouble::{Kind, Trouble};
use crate::window::{Body, Given, Room};
use axum::Json;
use axum::extract::Path;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use levigate_project::people::{Hand, Right};
use levigate_project::records::{Id, Person};
use levigate_project::workbench::people::{PersonCard, PersonChange, Signature, TypedPerson};
use serde::{Deserialize, Serialize};
use std::fmt;
use std::sync::PoisonError;
use std::time::Instant;

type Told<T> = Result<Json<T>, Trouble>;

/// Most bytes of a body about people: somebody who is not logged in may send one.
const MOST: usize = 16 * 1024;

/// A name and a password.
#[derive(Default, Deserialize)]
#[serde(default)]
pub(crate) struct LogIn {
    name: String,
    password: String,
}

/// Nothing but words to show, never what was typed.
macro_rules! says_nothing {
    ($($shape:ident),*) => { $(
        impl fmt::Debug for $shape {
            fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
                out.write_str(stringify!($shape))
            }
        }
    )* };
}

says_nothing!(LogIn, First, NewPassword, Sign);

/// Who has this name and password, where they have not guessed wrong too often.
pub(crate) async fn guess(room: &Room, name: &str, password: &str) -> Result<Option<Hand>, Trouble> {
    let house = room.house();
    let whom = Whom::called(&PeopleDesk::people(&*house.desk), name);
    house.waits.guess(whom.clone(), room.stands, Instant::now()).map_err(|left| {
        Trouble::new(
            Kind::Busy,
            "wait",
            format!("Wait {} before the next try.", words(left)),
            "Too many wrong passwords were given for this name or from this place.",
            "At the machine itself the wait of the network does not count; an admin can set a new password.",
        )
        .in_field("password")
    })?;
    let hand = house.desk.recognise(name, password).await?;
    if hand.is_some() {
        house.waits.right(whom, room.stands);
    }
    Ok(hand)
}

/// Who has logged in.
#[derive(Debug, Serialize)]
pub(crate) struct LoggedIn {
    name: String,
    role: &'static str,
}

/// Logs somebody in: begins a session and gives its token as a cookie no script can read.
pub(crate) async fn log_in(Given(room): Given, Body(typed): Body<LogIn, MOST>) -> Result<Response, Trouble> {
    let hand = guess(&room, &typed.name, &typed.password).await?;
    let Some((hand, person)) = hand.and_then(|hand| hand.person.map(|person| (hand, person))) else {
        return Err(Trouble::new(
            Kind::BadInput,
            "wrong-password",
            "Name and password do not belong together.",
            "One of them is mistyped, or nobody of this name may log in.",
            "Type both again; an admin can set a new password.",
        )
        .in_field("password"));
    };
    let house = room.house();
    // Whoever logs in anew leaves the session they had in this browser.
    house.sessions.end(&room.session);
    let token = house.sessions.begin(person, Instant::now()).map_err(|_| Trouble::broken())?;
    let cookie = cookie(&room, &token, LONGEST.as_secs());
    let told = LoggedIn { name: hand.name, role: hand.role.word() };
    Ok(([(header::SET_COOKIE, cookie)], Json(told)).into_response())
}

fn cookie(room: &Room, token: &str, seconds: u64) -> String {
    let secure = if room.door.network { "; Secure" } else { "" };
    format!("{}={token}; Path=/; HttpOnly; SameSite=Strict; Max-Age={seconds}{secure}", room.door.cookie)
}

/// Which sessions end.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(crate) struct LogOut {
    everywhere: bool,
}

/// Ends this session, or all of the person.
pub(crate) async fn log_out(Given(room): Given, Body(which): Body<LogOut, MOST>) -> Response {
    room.house().sessions.end(&room.session);
    if let Some(person) = room.hand.person.filter(|_| which.everywhere) {
        room.house().sessions.end_all(person, None);
    }
    ([(header::SET_COOKIE, cookie(&room, "", 0))], Json(serde_json::json!({}))).into_response()
}

/// A password to be changed by whoever has it.
#[derive(Default, Deserialize)]
#[serde(default)]
pub(crate) struct NewPassword {
    old: String,
    new: String,
}

/// Changes one's own password; all other sessions of the person end.
pub(crate) async fn own_password(
    Given(room): Given,
    Body(typed): Body<NewPassword, MOST>,
) -> Told<PersonCard> {
    let Some(person) = room.hand.person else {
        return Err(Trouble::not_found("Nobody has to log in here, so there is no password.").in_field("old"));
    };
    room.sign(&typed.old).await.map_err(|trouble| trouble.in_field("old"))?;
    let change = PersonChange { password: Some(typed.new.clone()), ..PersonChange::default() };
    let card = room.desk.change_person(person, &change).await?;
    room.house().sessions.end_all(person, Some(&room.session));
    Ok(Json(card))
}

/// Everybody.
pub(crate) async fn people(Given(room): Given) -> Json<Vec<PersonCard>> {
    Json(PeopleDesk::people(room.desk.as_ref()).members().iter().map(PersonCard::of).collect())
}

/// Adds a person. The first one comes in by the code or from the command line.
pub(crate) async fn add(Given(room): Given, Body(typed): Body<TypedPerson, MOST>) -> Told<PersonCard> {
    if room.house().open() {
        return Err(Trouble::new(
            Kind::NotAllowed,
            "first-person",
            "The first person is not made here.",
            "Whoever is first manages all others, so it takes the code from the terminal or the command line.",
            "Run `levigate people add NAME --role admin`, or start with `levigate serve --lan`, which prints a code.",
        )
        .in_field("name"));
    }
    room.desk.add_person(&typed).await.map(Json)
}

/// Changes a person. Whoever has a new password or may no longer log in is logged out everywhere.
pub(crate) async fn change(
    Given(room): Given,
    Path(id): Path<String>,
    Body(change): Body<PersonChange, MOST>,
) -> Told<PersonCard> {
    let id: Id<Person> =
        id.parse().map_err(|_| Trouble::not_found("There is no such person.").in_field("address"))?;
    let card = room.desk.change_person(id, &change).await?;
    if change.password.is_some() || !card.active {
        let own = room.hand.person == Some(id);
        room.house().sessions.end_all(id, Some(room.session.as_str()).filter(|_| own));
    }
    Ok(Json(card))
}

/// The first person, with the code from the terminal.
#[derive(Default, Deserialize)]
#[serde(default)]
pub(crate) struct First {
    code: String,
    #[serde(flatten)]
    person: TypedPerson,
}

/// Makes the first person, an admin, for whoever reads the code on the terminal of this machine.
pub(crate) async fn first(Given(room): Given, Body(typed): Body<First, MOST>) -> Told<PersonCard> {
    let house = room.house();
    let wrong = |left: u32| {
        Trouble::new(
            Kind::NotAllowed,
            "wrong-code",
            "This is not the code.",
            format!("The code stands on the terminal where the program was started; {left} tries are left."),
            "Read it again. After too many tries the program has to be started anew.",
        )
        .in_field("code")
    };
    if room.door.network || !house.open() {
        return Err(wrong(0));
    }
    {
        let mut held = house.first_code.lock().unwrap_or_else(PoisonError::into_inner);
        let Some(code) = held.as_mut().filter(|code| code.left > 0) else { return Err(wrong(0)) };
        let given: String = typed.code.chars().filter(char::is_ascii_alphanumeric).collect();
        if !crate::guard::same(given.to_ascii_uppercase().as_bytes(), code.code.as_bytes()) {
            code.left -= 1;
            return Err(wrong(code.left));
        }
    }
    let admin = TypedPerson { role: "admin".to_owned(), ..typed.person };
    let card = room.desk.add_person(&admin).await?;
    *house.first_code.lock().unwrap_or_else(PoisonError::into_inner) = None;
    Ok(Json(card))
}

/// A password heard again.
#[derive(Default, Deserialize)]
#[serde(default)]
pub(crate) struct Sign {
    password: String,
    /// Whether only those who may sign batches off may sign.
    sign_off: bool,
}

/// A signature and the ticket with which it is used.
#[derive(Debug, Serialize)]
pub(crate) struct Signed {
    ticket: String,
    #[serde(flatten)]
    signature: Signature,
    words: String,
}

/// Signs: hears the password again, and keeps the signature for what is signed next.
pub(crate) async fn sign(Given(room): Given, Body(typed): Body<Sign, MOST>) -> Told<Signed> {
    if typed.sign_off {
        room.may(Right::SignOff)?;
    }
    let signature = room.sign(&typed.password).await?;
    let ticket = room.keep_signature(signature.clone())?;
    Ok(Json(Signed { ticket, words: signature.words(), signature }))
}

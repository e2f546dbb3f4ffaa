//! `people`: who logs in to a workspace.

use crate::answer::{Answer, Failure};
use crate::arguments::{By, Common, People, PeopleAdd, PeopleChange, PeopleList, PeopleVerb};
use crate::paper::{Lean, Look, Paper};
use crate::shelf::{Shelf, Want, block_on, not_kept, refused, who};
use levigate_project::people::Hand;
use levigate_project::people::password::{MOST_BYTES, PasswordHash};
use levigate_project::records::{Id, Person};
use levigate_project::workbench::people::{
    self as verbs, PeopleError, PersonCard, PersonChange, TypedPerson,
};
use serde::Serialize;
use std::io::{self, BufRead, Read};

#[derive(Serialize)]
struct Written<'a> {
    people: &'a [PersonCard],
}

/// Lists, adds or changes people.
pub(crate) fn people(common: &Common, asked: &People, look: Look) -> Result<Answer, Failure> {
    block_on(async {
        match &asked.what {
            PeopleVerb::List(asked) => list(common, asked, look).await,
            PeopleVerb::Add(asked) => add(common, asked).await,
            PeopleVerb::Change(asked) => change(common, asked).await,
        }
    })
}

async fn list(common: &Common, asked: &PeopleList, look: Look) -> Result<Answer, Failure> {
    let shelf = Shelf::open(common, &asked.place, Want::Read).await?;
    let roll = verbs::roll(&shelf.workspace).await.map_err(|error| refused(&error))?;
    let cards: Vec<PersonCard> = roll.members().iter().map(PersonCard::of).collect();
    if common.json {
        return Answer::json(&Written { people: &cards });
    }
    let mut paper = Paper::new(look);
    if cards.is_empty() {
        let words = "Nobody has to log in at this workspace. levigate people add NAME --role admin lets the first person in; \
                     from then on everybody has to.";
        paper.paragraph(0, words);
        return Ok(Answer::text(paper.finish()));
    }
    let rows: Vec<Vec<String>> = cards
        .iter()
        .map(|card| {
            let standing = if card.active { "may log in" } else { "may no longer log in" };
            let since = card.since.strftime("%Y-%m-%d").to_string();
            vec![card.name.clone(), card.initials.clone(), card.role.to_string(), since, standing.to_owned()]
        })
        .collect();
    let heads = ["Name", "Initials", "Role", "Since", ""].map(|head| (head, Lean::Left));
    paper.columns(&heads, &rows);
    Ok(Answer::text(paper.finish()))
}

async fn at(common: &Common, by: &By) -> Result<(Shelf, Hand), Failure> {
    let shelf = Shelf::open(common, &by.place, Want::Write).await?;
    let hand = Hand::initialled(&who(by.who.as_ref(), shelf.sample));
    Ok((shelf, hand))
}

async fn add(common: &Common, asked: &PeopleAdd) -> Result<Answer, Failure> {
    let (shelf, hand) = at(common, &asked.by).await?;
    let roll = verbs::roll(&shelf.workspace).await.map_err(|error| refused(&error))?;
    let typed = TypedPerson {
        name: asked.name.clone(),
        initials: asked.initials.clone(),
        role: asked.role.word().to_owned(),
        password: password(asked.password_stdin, &asked.name)?,
    };
    verbs::person_to_add(&roll, &hand, &typed).map_err(|error| told(&error))?;
    let hash = hash(&shelf, &typed.password)?;
    let kept = verbs::add(&shelf.workspace, &hand, &typed, &hash).await.map_err(|error| told(&error))?;
    let first = if roll.is_empty() { " From now on everybody has to log in at this workspace." } else { "" };
    said(common, &shelf, kept.id, |name, role| format!("{name} may log in as {role}.{first}")).await
}

async fn change(common: &Common, asked: &PeopleChange) -> Result<Answer, Failure> {
    let (shelf, hand) = at(common, &asked.by).await?;
    let roll = verbs::roll(&shelf.workspace).await.map_err(|error| refused(&error))?;
    let id = roll.bearer(&asked.person).ok_or_else(|| {
        let names: Vec<String> =
            roll.members().iter().map(|member| member.newest.what.name.clone()).collect();
        let what_now = if names.is_empty() {
            "nobody was added yet; see levigate people add --help".to_owned()
        } else {
            format!("name one of these: {}", names.join("; "))
        };
        Failure::bad_option(
            "no-such-person",
            "NAME",
            format!("nobody is called \"{}\"", asked.person),
            what_now,
        )
    })?;
    let asks = asked.password || asked.password_stdin;
    let wanted = PersonChange {
        name: asked.name.clone(),
        initials: asked.initials.clone(),
        role: asked.role.map(|role| role.word().to_owned()),
        active: asked.activate.then_some(true).or_else(|| asked.deactivate.then_some(false)),
        password: if asks { Some(password(asked.password_stdin, &asked.person)?) } else { None },
    };
    verbs::person_to_change(&roll, &hand, id, &wanted).map_err(|error| told(&error))?;
    let hash = wanted.password.as_deref().map(|password| hash(&shelf, password)).transpose()?;
    let kept = verbs::change(&shelf.workspace, &hand, id, &wanted, hash.as_ref()).await;
    let reason = kept.map_err(|error| told(&error))?.corrects.map(|it| it.reason).unwrap_or_default();
    said(common, &shelf, id, |name, _| format!("{name}: {reason}.")).await
}

/// What became of a person: their card, or a sentence.
async fn said(
    common: &Common,
    shelf: &Shelf,
    id: Id<Person>,
    words: impl FnOnce(&str, &str) -> String,
) -> Result<Answer, Failure> {
    let roll = verbs::roll(&shelf.workspace).await.map_err(|error| refused(&error))?;
    let card = roll.member(id).map(PersonCard::of);
    match card {
        Some(card) if common.json => Answer::json(&card),
        Some(card) => Ok(Answer::text(format!("{}\n", words(&card.name, card.role.word())))),
        None => Ok(Answer::text(String::new())),
    }
}

fn hash(shelf: &Shelf, password: &str) -> Result<PasswordHash, Failure> {
    PasswordHash::make(password, shelf.workspace.dice())
        .map_err(|error| Failure::could_not("no-hash", error.to_string(), "try again"))
}

/// A password from the terminal, twice and unseen, or from standard input.
fn unread(error: io::Error) -> Failure {
    Failure::could_not(
        "password-not-read",
        format!("the password could not be read: {error}"),
        "type it at a terminal, or hand it over with --password-stdin",
    )
}

/// A password that is on file already, heard once.
pub(crate) fn heard(stdin: bool, name: &str) -> Result<String, Failure> {
    if stdin {
        return password(true, name);
    }
    rpassword::prompt_password(format!("Password of {name} (it is not shown): ")).map_err(unread)
}

/// A new password, from standard input or typed twice.
fn password(stdin: bool, name: &str) -> Result<String, Failure> {
    if stdin {
        let mut line = String::new();
        let most = u64::try_from(MOST_BYTES).unwrap_or(u64::MAX) + 2;
        io::stdin().lock().take(most).read_line(&mut line).map_err(unread)?;
        return Ok(line.trim_end_matches(['\r', '\n']).to_owned());
    }
    let first =
        rpassword::prompt_password(format!("Password of {name} (it is not shown): ")).map_err(unread)?;
    let again = rpassword::prompt_password("Once more: ").map_err(unread)?;
    if first != again {
        return Err(Failure::bad_option(
            "passwords-differ",
            "password",
            "the two are not the same",
            "type both again",
        ));
    }
    Ok(first)
}

/// Why it was not done.
pub(crate) fn told(error: &PeopleError) -> Failure {
    match error {
        PeopleError::Denied(denied) => Failure::could_not("not-your-role", denied.to_string(), denied.hint()),
        PeopleError::Keep(error) => not_kept(error),
    }
}

//! People of a workspace: listed, added, changed; and a password asked for again where somebody signs.
//!
//! Making and checking the hash of a password takes some time and memory, so the caller does both where it holds nobody up, and
//! hands the hash over.

use std::fmt;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::keeping::{FieldFault, Form, KeepError};
use crate::people::password::{FEWEST_LETTERS, PasswordHash, Weak, fit};
use crate::people::{Denied, Hand, Member, Right, Roll, folded};
use crate::records::{Correction, How, Id, Kept, PasswordKept, Person, Record as _, Role};
use crate::store::StoreError;
use crate::workspace::Workspace;

/// A person as typed.
#[derive(Clone, Default, Deserialize)]
#[serde(default)]
pub struct TypedPerson {
    /// Name.
    pub name: String,
    /// Initials; empty: from the name.
    pub initials: String,
    /// `bench`, `reviewer` or `admin`.
    pub role: String,
    /// Password.
    pub password: String,
}

impl fmt::Debug for TypedPerson {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.debug_struct("TypedPerson")
            .field("name", &self.name)
            .field("role", &self.role)
            .finish_non_exhaustive()
    }
}

/// What shall be different about a person; what is absent stays.
#[derive(Clone, Default, Deserialize)]
#[serde(default)]
pub struct PersonChange {
    /// Name.
    pub name: Option<String>,
    /// Initials.
    pub initials: Option<String>,
    /// `bench`, `reviewer` or `admin`.
    pub role: Option<String>,
    /// Whether they may log in.
    pub active: Option<bool>,
    /// Password.
    pub password: Option<String>,
}

impl fmt::Debug for PersonChange {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.debug_struct("PersonChange")
            .field("name", &self.name)
            .field("role", &self.role)
            .finish_non_exhaustive()
    }
}

/// A person as they are shown. There is no field for the password: that one is kept is all that is told.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PersonCard {
    /// Identity.
    pub id: Id<Person>,
    /// Name.
    pub name: String,
    /// Initials.
    pub initials: String,
    /// Role.
    pub role: Role,
    /// Whether they may log in.
    pub active: bool,
    /// When they came.
    pub since: Timestamp,
    /// When something about them was changed last.
    pub changed: Timestamp,
    /// Who changed it.
    pub changed_by: String,
    /// Always `kept`.
    pub password: &'static str,
}

impl PersonCard {
    /// The card of a person.
    #[must_use]
    pub fn of(member: &Member) -> Self {
        let Person { name, initials, role, active, .. } = member.newest.what.clone();
        Self {
            id: member.id,
            name,
            initials,
            role,
            active,
            since: member.since,
            changed: member.newest.when,
            changed_by: member.newest.who.clone(),
            password: "kept",
        }
    }
}

/// Why something about people was not done.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PeopleError {
    /// They may not.
    #[error(transparent)]
    Denied(#[from] Denied),
    /// What was typed cannot be kept, or the workspace refused.
    #[error(transparent)]
    Keep(#[from] KeepError),
}

impl From<StoreError> for PeopleError {
    fn from(error: StoreError) -> Self {
        Self::Keep(error.into())
    }
}

/// The people of a workspace.
///
/// # Errors
/// The workspace cannot be read.
pub async fn roll(workspace: &Workspace) -> Result<Roll, StoreError> {
    Ok(Roll::of(&workspace.all::<Person>().await?))
}

/// The person that a form asks for, before a hash is made of the password.
///
/// # Errors
/// A field is wrong, or whoever asks may not.
pub fn person_to_add(roll: &Roll, hand: &Hand, typed: &TypedPerson) -> Result<Person, PeopleError> {
    hand.may(Right::People)?;
    let mut form = Form::default();
    let name =
        spaced(&form.needed("name", &typed.name, "it stands on everything they write", "type the full name"));
    let initials = match spaced(&typed.initials) {
        given if given.is_empty() => initials_of(&name),
        given => given,
    };
    let role = role_of(&mut form, &typed.role);
    free_name(&mut form, roll, None, &name);
    free_initials(&mut form, roll, None, &initials);
    password_fit(&mut form, &name, &typed.password);
    if roll.is_empty() && role.is_some_and(|role| role != Role::Admin) {
        form.fault(
            "role",
            "the first person must be an admin",
            "from then on everybody has to log in, and somebody must be able to let others in",
            "choose admin; the role can be changed once there is another admin",
        );
    }
    let person = Person {
        name,
        initials,
        role: role.unwrap_or(Role::Bench),
        active: true,
        password: PasswordKept::default(),
    };
    Ok(form.done(person)?)
}

/// Keeps a new person.
///
/// # Errors
/// As [`person_to_add`], or the workspace refused.
pub async fn add(
    workspace: &Workspace,
    hand: &Hand,
    typed: &TypedPerson,
    password: &PasswordHash,
) -> Result<Kept<Person>, PeopleError> {
    let roll = roll(workspace).await?;
    let person = person_to_add(&roll, hand, typed)?;
    let workspace = workspace.known(hand.how);
    Ok(workspace.keep_person(&hand.name, person, password, None, roll.newest()).await?)
}

/// The changed person that a form asks for, with what is different in words, before a hash is made of a new password.
///
/// Everybody may change their own password; everything else is for those who manage people.
///
/// # Errors
/// A field is wrong, nothing would be different, nobody could manage people any more, or whoever asks may not.
pub fn person_to_change(
    roll: &Roll,
    hand: &Hand,
    id: Id<Person>,
    change: &PersonChange,
) -> Result<(Person, String), PeopleError> {
    let own_password = hand.person == Some(id)
        && matches!(
            change,
            PersonChange { name: None, initials: None, role: None, active: None, password: Some(_) }
        );
    if !own_password {
        hand.may(Right::People)?;
    }
    let missing = || StoreError::Missing { kind: Person::KIND, id: id.to_string() };
    let before = &roll.member(id).ok_or_else(missing)?.newest.what;
    let mut form = Form::default();
    let mut person = before.clone();
    if let Some(name) = &change.name {
        person.name =
            spaced(&form.needed("name", name, "it stands on everything they write", "type the full name"));
        free_name(&mut form, roll, Some(id), &person.name);
    }
    if let Some(initials) = &change.initials {
        person.initials = spaced(initials);
    }
    if let Some(role) = &change.role {
        person.role = role_of(&mut form, role).unwrap_or(before.role);
    }
    person.active = change.active.unwrap_or(before.active);
    if person.active {
        free_initials(&mut form, roll, Some(id), &person.initials);
    }
    if let Some(password) = &change.password {
        password_fit(&mut form, &person.name, password);
    }
    let is_admin = |person: &Person| person.active && person.role == Role::Admin;
    let others = roll.members().iter().any(|other| other.id != id && is_admin(&other.newest.what));
    if !is_admin(&person) && !others {
        form.fault(
            if person.active { "role" } else { "active" },
            "nobody would be left who may manage people",
            &format!("{} is the only admin", before.name),
            "make somebody else an admin first",
        );
    }
    let different = differences(before, &person, change.password.is_some());
    if different.is_empty() {
        let fault =
            FieldFault::new("", "nothing is different", "all fields are as they were", "change something");
        return Err(KeepError::from(fault).into());
    }
    Ok(form.done((person, different))?)
}

/// Keeps what is different about a person.
///
/// # Errors
/// As [`person_to_change`], or the workspace refused.
pub async fn change(
    workspace: &Workspace,
    hand: &Hand,
    id: Id<Person>,
    change: &PersonChange,
    password: Option<&PasswordHash>,
) -> Result<Kept<Person>, PeopleError> {
    let roll = roll(workspace).await?;
    let (person, reason) = person_to_change(&roll, hand, id, change)?;
    let missing = || StoreError::Missing { kind: Person::KIND, id: id.to_string() };
    let supersedes = roll.member(id).ok_or_else(missing)?.newest.id;
    let kept = match password {
        Some(hash) => hash.clone(),
        None => workspace.password_of(supersedes).await?,
    };
    let correction = Some(Correction { supersedes, reason });
    let workspace = workspace.known(hand.how);
    Ok(workspace.keep_person(&hand.name, person, &kept, correction, roll.newest()).await?)
}

/// A signature: who signed, how that is known, and when.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Signature {
    /// Name.
    pub who: String,
    /// How it is known.
    pub how: How,
    /// The role they had.
    pub role: Role,
    /// When.
    pub when: Timestamp,
}

impl Signature {
    /// Of somebody at a workspace where nobody logs in, or of a person whose password [`confirm`] has just heard.
    #[must_use]
    pub fn of(hand: &Hand, when: Timestamp) -> Self {
        Self { who: hand.name.clone(), how: hand.how, role: hand.role, when }
    }

    /// As it stands beside the name.
    #[must_use]
    pub fn words(&self) -> String {
        match self.how {
            How::Initialled => self.how.words().to_owned(),
            How::Authenticated => format!("{}, {}", self.role, self.how.words()),
        }
    }
}

/// Asks a person for their password again: whether it is theirs. Takes as long for a wrong one as for the right one.
#[must_use]
pub fn confirm(member: &Member, kept: &PasswordHash, password: &str) -> Option<Hand> {
    (kept.holds(password) && member.newest.what.active).then(|| Hand::of(member))
}

/// Whose hand somebody at a command line is: initialled where nobody logs in, else theirs who gives name and password.
///
/// # Errors
/// There is no such person or it is not their password, which is told in the same words; or the workspace cannot be read.
pub async fn hand_of(workspace: &Workspace, who: &str, password: Option<&str>) -> Result<Hand, KeepError> {
    let roll = roll(workspace).await?;
    if roll.is_empty() {
        return Ok(Hand::initialled(who));
    }
    let why = "people log in at this workspace, and what is signed is theirs who gives their password";
    let Some(password) = password else {
        let now = "give your name with --who and your password";
        return Err(FieldFault::new("password", "no password was heard", why, now).into());
    };
    let known = match roll.called(who) {
        Some(member) => {
            let kept = workspace.password_of(member.newest.id).await?;
            confirm(member, &kept, password)
        }
        None => None,
    };
    known.ok_or_else(|| {
        let what =
            format!("this is not the name and the password of anybody here: {}", super::keeping::short(who));
        FieldFault::new("password", &what, why, "type both again; nothing was signed").into()
    })
}

fn spaced(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn initials_of(name: &str) -> String {
    name.split([' ', '-']).filter_map(|part| part.chars().next()).take(6).collect::<String>().to_uppercase()
}

fn role_of(form: &mut Form, typed: &str) -> Option<Role> {
    let role = Role::from_word(typed.trim());
    if role.is_none() {
        form.fault(
            "role",
            &format!("\"{}\" is no role", super::keeping::short(typed)),
            "a role says what somebody may do",
            "choose bench, reviewer or admin",
        );
    }
    role
}

fn free_name(form: &mut Form, roll: &Roll, own: Option<Id<Person>>, name: &str) {
    if roll.bearer(name).is_some_and(|bearer| Some(bearer) != own) {
        form.fault(
            "name",
            &format!("{name} is or was somebody else's name here"),
            "a name on a record must mean one person for ever",
            "add a middle name or a letter",
        );
    }
}

fn free_initials(form: &mut Form, roll: &Roll, own: Option<Id<Person>>, initials: &str) {
    let taken = roll.members().iter().find(|member| {
        let person = &member.newest.what;
        Some(member.id) != own && person.active && folded(&person.initials) == folded(initials)
    });
    if let Some(other) = taken {
        form.fault(
            "initials",
            &format!("{initials} are the initials of {}", other.newest.what.name),
            "initials on paper must mean one person",
            "type others, such as with a third letter",
        );
    }
}

fn password_fit(form: &mut Form, name: &str, password: &str) {
    let Err(weak) = fit(name, password) else { return };
    let why = match weak {
        Weak::Short | Weak::Even => "a short or even one is guessed quickly",
        Weak::Long => "so much is not looked at",
        Weak::Named => "a name is the first thing that is tried",
    };
    let what_now =
        format!("a few words nobody would put together make a good one; at least {FEWEST_LETTERS} letters");
    form.fault("password", &format!("this cannot be the password: {weak}"), why, &what_now);
}

/// What is different, in words: the reason that stands on the new record.
fn differences(before: &Person, after: &Person, password: bool) -> String {
    let mut said = Vec::new();
    if before.name != after.name {
        said.push(format!("name from {} to {}", before.name, after.name));
    }
    if before.initials != after.initials {
        said.push(format!("initials from {} to {}", before.initials, after.initials));
    }
    if before.role != after.role {
        said.push(format!("role from {} to {}", before.role, after.role));
    }
    match (before.active, after.active) {
        (true, false) => said.push("may no longer log in".to_owned()),
        (false, true) => said.push("may log in again".to_owned()),
        _ => {}
    }
    if password {
        said.push("a new password".to_owned());
    }
    said.join("; ")
}

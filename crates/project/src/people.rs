//! Who is at work, how that is known, and what they may do.
//!
//! The table of rights is here, once: the guard of the pages and the verbs ask it, and a refusal says who may.

pub mod password;

use std::collections::BTreeMap;

use jiff::Timestamp;
use serde::Serialize;

use crate::records::{How, Id, Kept, Person, Role, in_force};

/// Something not everybody may do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Right {
    /// Read everything of the workspace.
    Look,
    /// Write formulas, trials, readings, batches and lots.
    Enter,
    /// Sign batches off as reviewed, released or rejected.
    SignOff,
    /// Release or reject lots, and take rejected ones up again.
    JudgeLots,
    /// Change what holds for the whole workspace.
    Settings,
    /// Manage people.
    People,
}

/// Every right with the role from which on it is had, and what it is in words.
pub const RIGHTS: [(Right, Role, &str); 6] = [
    (Right::Look, Role::Bench, "read"),
    (Right::Enter, Role::Bench, "enter work"),
    (Right::SignOff, Role::Reviewer, "sign batches off"),
    (Right::JudgeLots, Role::Reviewer, "release or reject a lot, or take a rejected one up again"),
    (Right::Settings, Role::Admin, "change the settings of the workspace"),
    (Right::People, Role::Admin, "manage people"),
];

impl Right {
    /// The role from which on it is had.
    #[must_use]
    pub fn from_role(self) -> Role {
        RIGHTS.iter().find(|(right, ..)| *right == self).map_or(Role::Admin, |(_, role, _)| *role)
    }

    /// What it is, as a verb in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        RIGHTS.iter().find(|(right, ..)| *right == self).map_or("do this", |(.., words)| words)
    }

    /// Who has it, in words.
    #[must_use]
    pub fn who_may(self) -> &'static str {
        match self.from_role() {
            Role::Bench => "everybody who is logged in",
            Role::Reviewer => "a reviewer or an admin",
            Role::Admin => "an admin",
        }
    }
}

impl Role {
    /// Whether it has a right.
    #[must_use]
    pub fn may(self, right: Right) -> bool {
        self >= right.from_role()
    }
}

/// Whose hand writes: the name on every record, and how it is known.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Hand {
    /// Name.
    pub name: String,
    /// How it is known.
    pub how: How,
    /// What they may do.
    pub role: Role,
    /// The person who logged in; none where nobody has to.
    #[serde(skip)]
    pub person: Option<Id<Person>>,
}

impl Hand {
    /// Somebody at a workspace without people: they may do everything, and what they write is initialled.
    #[must_use]
    pub fn initialled(name: &str) -> Self {
        Self { name: name.to_owned(), how: How::Initialled, role: Role::Admin, person: None }
    }

    /// A person who has logged in.
    #[must_use]
    pub fn of(member: &Member) -> Self {
        let person = &member.newest.what;
        Self {
            name: person.name.clone(),
            how: How::Authenticated,
            role: person.role,
            person: Some(member.id),
        }
    }

    /// Asks the table.
    ///
    /// # Errors
    /// They may not; the refusal says who may.
    pub fn may(&self, right: Right) -> Result<(), Denied> {
        if self.role.may(right) {
            return Ok(());
        }
        Err(Denied { name: self.name.clone(), role: self.role, right })
    }
}

/// Somebody may not do something.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{name} has the role {role}; only {} may {}", right.who_may(), right.words())]
pub struct Denied {
    /// Name.
    pub name: String,
    /// Their role.
    pub role: Role,
    /// What they may not do.
    pub right: Right,
}

impl Denied {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> String {
        match self.right.from_role() {
            Role::Admin => "ask an admin".to_owned(),
            _ => format!("ask {}, or an admin for another role", self.right.who_may()),
        }
    }
}

/// A person with everything that was changed since they came.
#[derive(Clone, Debug, PartialEq)]
pub struct Member {
    /// Identity of the first record of them, which stays.
    pub id: Id<Person>,
    /// The record that counts.
    pub newest: Kept<Person>,
    /// When they came.
    pub since: Timestamp,
}

/// The people of a workspace.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Roll {
    members: Vec<Member>,
    /// Every name that ever stood on a record, folded, and whose it is: nobody takes over a name from another.
    names: BTreeMap<String, Id<Person>>,
    newest: u32,
}

/// A name as it is compared.
#[must_use]
pub fn folded(name: &str) -> String {
    name.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase()
}

impl Roll {
    /// From all records of people, in their order.
    #[must_use]
    pub fn of(records: &[Kept<Person>]) -> Self {
        let mut first: BTreeMap<Id<Person>, (Id<Person>, Timestamp)> = BTreeMap::new();
        let mut names = BTreeMap::new();
        for record in records {
            let before = record.corrects.as_ref().and_then(|it| first.get(&it.supersedes).copied());
            let begun = before.unwrap_or((record.id, record.when));
            first.insert(record.id, begun);
            names.entry(folded(&record.what.name)).or_insert(begun.0);
        }
        let members = in_force(records).into_iter().map(|newest| {
            let (id, since) = first.get(&newest.id).copied().unwrap_or((newest.id, newest.when));
            Member { id, newest: newest.clone(), since }
        });
        let mut members: Vec<Member> = members.collect();
        members.sort_by_key(|member| member.since);
        Self { members, names, newest: records.iter().map(|record| record.number).max().unwrap_or(0) }
    }

    /// Everybody, those who may no longer log in too, in the order they came.
    #[must_use]
    pub fn members(&self) -> &[Member] {
        &self.members
    }

    /// Whether nobody was ever entered: then nobody has to log in.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.members.is_empty()
    }

    /// Number of the newest record.
    #[must_use]
    pub fn newest(&self) -> u32 {
        self.newest
    }

    /// Somebody who may log in.
    #[must_use]
    pub fn active(&self, id: Id<Person>) -> Option<&Member> {
        self.member(id).filter(|member| member.newest.what.active)
    }

    /// Somebody.
    #[must_use]
    pub fn member(&self, id: Id<Person>) -> Option<&Member> {
        self.members.iter().find(|member| member.id == id)
    }

    /// Somebody who may log in, by their name or their initials.
    #[must_use]
    pub fn called(&self, name: &str) -> Option<&Member> {
        let name = folded(name);
        let active = || self.members.iter().filter(|member| member.newest.what.active);
        active()
            .find(|member| folded(&member.newest.what.name) == name)
            .or_else(|| active().find(|member| folded(&member.newest.what.initials) == name))
    }

    /// Whose a name is or was.
    #[must_use]
    pub fn bearer(&self, name: &str) -> Option<Id<Person>> {
        self.names.get(&folded(name)).copied()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_role_may_what_the_one_before_it_may() {
        for (right, ..) in RIGHTS {
            for pair in Role::ALL.windows(2) {
                assert!(!pair[0].may(right) || pair[1].may(right), "{right:?}");
            }
            assert!(Role::Admin.may(right));
        }
        assert!(Role::Bench.may(Right::Enter) && !Role::Bench.may(Right::SignOff));
        assert!(Role::Reviewer.may(Right::SignOff) && !Role::Reviewer.may(Right::People));
    }

    #[test]
    fn a_refusal_says_who_may() {
        let hand = Hand { role: Role::Bench, ..Hand::initialled("Ines Marrow") };
        let denied = hand.may(Right::SignOff).unwrap_err();
        assert_eq!(
            denied.to_string(),
            "Ines Marrow has the role bench; only a reviewer or an admin may sign batches off"
        );
        assert_eq!(denied.hint(), "ask a reviewer or an admin, or an admin for another role");
        assert!(Hand::initialled("alone").may(Right::People).is_ok());
    }
}

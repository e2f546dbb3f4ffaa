//! What is asked about the people of a workspace.

use super::{Answer, Desk};
use async_trait::async_trait;
use levigate_project::people::{Hand, Roll};
use levigate_project::records::{Id, Person};
use levigate_project::workbench::people::{PersonCard, PersonChange, TypedPerson};
use std::sync::Arc;

/// The questions about people.
#[async_trait]
pub trait PeopleDesk: Send + Sync {
    /// The same desk for somebody: what is written at it carries their name and how that is known.
    fn seated(&self, hand: Hand) -> Arc<dyn Desk>;
    /// Whose name stands on what is written at this desk.
    fn hand(&self) -> &Hand;
    /// Everybody, as of now. Nobody: then nobody has to log in.
    fn people(&self) -> Arc<Roll>;
    /// Adds a person.
    async fn add_person(&self, typed: &TypedPerson) -> Answer<PersonCard>;
    /// Changes what is told about a person, or their password.
    async fn change_person(&self, id: Id<Person>, change: &PersonChange) -> Answer<PersonCard>;
    /// Who has this name and password. Takes as long whether the name is unknown, the password is wrong or both are right.
    async fn recognise(&self, name: &str, password: &str) -> Answer<Option<Hand>>;
}

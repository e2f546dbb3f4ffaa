//! `people`: who logs in.

use super::{By, Where};
use clap::{Args, Subcommand, ValueEnum};

/// `people`
#[derive(Debug, Args)]
#[command(
    after_long_help = "Where nobody was added, nobody has to log in, and what is written is initialled. \
    A password is asked for without being shown, or read as one line from standard input; never given as an argument.\n\n\
    Example: levigate people add \"Ines Marrow\" --role admin"
)]
pub(crate) struct People {
    /// What to do.
    #[command(subcommand)]
    pub(crate) what: PeopleVerb,
}

/// What can be done about people.
#[derive(Debug, Subcommand)]
pub(crate) enum PeopleVerb {
    /// Everybody, with their role
    List(PeopleList),
    /// Let somebody in; the first must be an admin
    Add(PeopleAdd),
    /// Change name, initials, role or password, or whether they may log in
    Change(PeopleChange),
}

/// `people list`
#[derive(Debug, Args)]
pub(crate) struct PeopleList {
    /// Which workspace.
    #[command(flatten)]
    pub(crate) place: Where,
}

/// A role.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum RoleAsked {
    /// Reads everything and enters work
    Bench,
    /// Also signs batches off and releases lots
    Reviewer,
    /// Also manages people and settings
    Admin,
}

impl RoleAsked {
    /// Its word.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Self::Bench => "bench",
            Self::Reviewer => "reviewer",
            Self::Admin => "admin",
        }
    }
}

/// `people add`
#[derive(Debug, Args)]
pub(crate) struct PeopleAdd {
    /// Full name; it stands on everything they write
    #[arg(value_name = "NAME")]
    pub(crate) name: String,
    /// Role
    #[arg(long, value_name = "ROLE")]
    pub(crate) role: RoleAsked,
    /// Initials [default: from the name]
    #[arg(long, value_name = "LETTERS", default_value = "")]
    pub(crate) initials: String,
    /// Read the password as one line from standard input instead of asking for it
    #[arg(long)]
    pub(crate) password_stdin: bool,
    /// Who and where.
    #[command(flatten)]
    pub(crate) by: By,
}

/// `people change`
#[derive(Debug, Args)]
pub(crate) struct PeopleChange {
    /// Name of the person
    #[arg(value_name = "NAME")]
    pub(crate) person: String,
    /// New name; what was written under the old one keeps it
    #[arg(long, value_name = "NAME")]
    pub(crate) name: Option<String>,
    /// New initials
    #[arg(long, value_name = "LETTERS")]
    pub(crate) initials: Option<String>,
    /// New role
    #[arg(long, value_name = "ROLE")]
    pub(crate) role: Option<RoleAsked>,
    /// Ask for a new password
    #[arg(long)]
    pub(crate) password: bool,
    /// Read the new password as one line from standard input
    #[arg(long, conflicts_with = "password")]
    pub(crate) password_stdin: bool,
    /// They may no longer log in
    #[arg(long, conflicts_with = "activate")]
    pub(crate) deactivate: bool,
    /// They may log in again
    #[arg(long)]
    pub(crate) activate: bool,
    /// Who and where.
    #[command(flatten)]
    pub(crate) by: By,
}

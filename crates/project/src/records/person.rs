//! A person who logs in.

use serde::{Deserialize, Serialize};

use super::{Kind, Record, RecordError, required};
use crate::audit::content_hash;
use crate::people::password::PasswordHash;

/// What a person may do; every role may do what the one before it may.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// Works at the bench: formulas, trials, readings, batches, lots.
    Bench,
    /// Also signs batches off and releases lots.
    Reviewer,
    /// Also manages people and the settings of the workspace.
    Admin,
}

impl Role {
    /// All roles, the one that may least first.
    pub const ALL: [Self; 3] = [Self::Bench, Self::Reviewer, Self::Admin];

    /// Its word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Bench => "bench",
            Self::Reviewer => "reviewer",
            Self::Admin => "admin",
        }
    }

    /// The role of a word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|role| role.word() == word)
    }
}

impl std::fmt::Display for Role {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.write_str(self.word())
    }
}

/// A person who logs in. A change is a new record in the place of the old one, which stays.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Person {
    /// Name, which stands on everything they write.
    pub name: String,
    /// Initials, as on paper.
    pub initials: String,
    /// What they may do.
    pub role: Role,
    /// Whether they may log in.
    pub active: bool,
    /// That a password is kept, and which.
    pub password: PasswordKept,
}

/// That the hash of a password is kept apart from the record. Only the SHA-256 of that hash stands in the record, so that an
/// exchanged password shows; it tells nothing about the password, since nobody can compute the hash without its salt.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct PasswordKept {
    kept: String,
}

impl PasswordKept {
    /// For the hash of a password.
    #[must_use]
    pub fn of(password: &PasswordHash) -> Self {
        Self { kept: content_hash(password.as_text().as_bytes()) }
    }

    /// SHA-256 of the hash, lower-case hexadecimal.
    #[must_use]
    pub fn sha256(&self) -> &str {
        &self.kept
    }
}

/// Longest name, letters.
const MOST_LETTERS: usize = 60;

/// Whether a sign cannot be seen and so lets one name look like another: control characters, joiners and spaces without width, marks of
/// direction, the soft hyphen.
fn unseen(sign: char) -> bool {
    let format = ['\u{00AD}', '\u{061C}', '\u{180E}', '\u{FEFF}'];
    sign.is_control()
        || format.contains(&sign)
        || ('\u{200B}'..='\u{200F}').contains(&sign)
        || ('\u{2028}'..='\u{202E}').contains(&sign)
        || ('\u{2060}'..='\u{206F}').contains(&sign)
}

impl Record for Person {
    const KIND: Kind = Kind::Person;
    fn check(&self) -> Result<(), RecordError> {
        required("name", &self.name)?;
        required("initials", &self.initials)?;
        for (field, text, most) in [("name", &self.name, MOST_LETTERS), ("initials", &self.initials, 6)] {
            if text.chars().count() > most {
                return Err(RecordError::Contradiction {
                    field,
                    what: format!("at most {most} letters are kept"),
                });
            }
            if text.chars().any(unseen) || text.trim() != text {
                let what = "it begins or ends with a space or holds signs that cannot be seen".to_owned();
                return Err(RecordError::Contradiction { field, what });
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_holds_nothing_that_cannot_be_seen() {
        let called = |name: &str| Person {
            name: name.to_owned(),
            initials: "IM".to_owned(),
            role: Role::Bench,
            active: true,
            password: PasswordKept::default(),
        };
        for sound in ["Ines Marrow", "In\u{00E8}s O\u{2019}Marrow-Quill", "\u{674E} \u{5C0F}\u{9F99}"] {
            assert_eq!(called(sound).check(), Ok(()), "{sound}");
        }
        for unseen in ["Ines\u{200B} Marrow", "Ines \u{202E}worraM", "I\u{00AD}nes", "Ines\u{2060}", "I\tM"] {
            let refused = called(unseen).check();
            assert!(matches!(refused, Err(RecordError::Contradiction { field: "name", .. })), "{unseen:?}");
        }
    }
}

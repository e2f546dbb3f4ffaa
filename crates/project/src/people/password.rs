//! Passwords: what is taken as one, how it is kept, how it is checked.
//!
//! A password is kept as an argon2id hash in the PHC string format, with 19 MiB of memory, two passes and one lane: the least that the
//! password storage cheat sheet of OWASP asks for of argon2id (read in an excerpt). The salt has 16 bytes. A hash says which settings
//! it was made with, so that later ones may be dearer. Computing one takes some 20 ms and 19 MiB: never on a thread that answers.

use std::cell::RefCell;

use argon2::password_hash::phc::{Output, ParamsString, PasswordHash as Phc, Salt};
use argon2::{Algorithm, Argon2, Block, Params, Version};

use crate::clock::{Dice, NoEntropy};

/// Fewest letters of a password (from memory of NIST SP 800-63B: 8 at the least, 15 where nothing else is asked for).
pub const FEWEST_LETTERS: usize = 10;
/// Most bytes that are looked at.
pub const MOST_BYTES: usize = 256;
/// Fewest different letters.
const FEWEST_DIFFERENT: usize = 5;

/// Bytes of a hash.
const LENGTH: usize = 32;

thread_local! {
    /// Memory in which a thread computes, kept from one hash to the next: given back each time, the system keeps a multiple of it.
    static MEMORY: RefCell<Vec<Block>> = const { RefCell::new(Vec::new()) };
}

/// Computes with argon2id.
fn computed(password: &str, salt: &[u8], params: Params) -> argon2::Result<[u8; LENGTH]> {
    MEMORY.with_borrow_mut(|memory| {
        memory.resize(params.block_count(), Block::new());
        let mut out = [0; LENGTH];
        Argon2::new(Algorithm::Argon2id, Version::V0x13, params).hash_password_into_with_memory(
            password.as_bytes(),
            salt,
            &mut out,
            memory.as_mut_slice(),
        )?;
        Ok(out)
    })
}

/// The hash of a password, in PHC form. It is not written by `Debug` and has no JSON.
#[derive(Clone, PartialEq, Eq)]
pub struct PasswordHash(String);

impl std::fmt::Debug for PasswordHash {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.write_str("PasswordHash(kept)")
    }
}

impl PasswordHash {
    /// A hash as it was kept.
    #[must_use]
    pub fn from_text(text: String) -> Self {
        Self(text)
    }

    /// The PHC text, for the store only.
    #[must_use]
    pub fn as_text(&self) -> &str {
        &self.0
    }

    /// Makes the hash of a password.
    ///
    /// # Errors
    /// The machine has no random bytes or no memory to give.
    pub fn make(password: &str, dice: &dyn Dice) -> Result<Self, NoEntropy> {
        let mut salt = [0_u8; 16];
        dice.roll(&mut salt)?;
        let made = || -> Result<Phc, argon2::password_hash::Error> {
            let hash = computed(password, &salt, Params::DEFAULT)?;
            Ok(Phc {
                algorithm: Algorithm::Argon2id.ident(),
                version: Some(Version::V0x13.into()),
                params: ParamsString::try_from(&Params::DEFAULT)?,
                salt: Some(Salt::new(&salt)?),
                hash: Some(Output::new(&hash)?),
            })
        };
        made().map(|hash| Self(hash.to_string())).map_err(|error| NoEntropy(error.to_string()))
    }

    /// Whether it is the hash of this password. The comparison takes as long wherever the two differ.
    #[must_use]
    pub fn holds(&self, password: &str) -> bool {
        let Ok(hash) = Phc::new(&self.0) else { return false };
        let ours =
            hash.algorithm == Algorithm::Argon2id.ident() && hash.version == Some(Version::V0x13.into());
        let (true, Ok(params), Some(salt), Some(kept)) =
            (ours, Params::try_from(&hash), hash.salt, hash.hash)
        else {
            return false;
        };
        let found = computed(password, &salt, params).ok().and_then(|found| Output::new(&found).ok());
        // Two outputs are compared in constant time.
        password.len() <= MOST_BYTES && found.is_some_and(|found| found == kept)
    }
}

/// Why a text is not taken as a password.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Weak {
    /// Too short.
    #[error("it has fewer than {FEWEST_LETTERS} letters")]
    Short,
    /// Too long.
    #[error("it has more than {MOST_BYTES} bytes")]
    Long,
    /// Too few different letters.
    #[error("it has fewer than {FEWEST_DIFFERENT} different letters")]
    Even,
    /// The name is in it.
    #[error("the name is in it")]
    Named,
}

/// Whether a text is taken as a password of a person.
///
/// # Errors
/// It is too short, too long, too even, or holds the name.
pub fn fit(name: &str, password: &str) -> Result<(), Weak> {
    if password.chars().count() < FEWEST_LETTERS {
        return Err(Weak::Short);
    }
    if password.len() > MOST_BYTES {
        return Err(Weak::Long);
    }
    let different: std::collections::BTreeSet<char> = password.chars().collect();
    if different.len() < FEWEST_DIFFERENT {
        return Err(Weak::Even);
    }
    let low = password.to_lowercase();
    if name.to_lowercase().split_whitespace().any(|part| part.chars().count() > 3 && low.contains(part)) {
        return Err(Weak::Named);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::LoadedDice;

    /// Made by the reference implementation in C with the same settings.
    const FOREIGN: &str = include_str!("../../../../tests/cross/passwords.txt");

    #[test]
    fn a_hash_holds_its_password_only_and_is_salted() {
        let dice = LoadedDice::new(1);
        let hash = PasswordHash::make("grey pestle 41", &dice).unwrap();
        assert!(hash.as_text().starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{}", hash.as_text());
        assert!(hash.holds("grey pestle 41"));
        assert!(!hash.holds("grey pestle 42"));
        assert!(!hash.holds(""));
        assert_ne!(hash, PasswordHash::make("grey pestle 41", &dice).unwrap());
        assert!(!PasswordHash::from_text("no hash".to_owned()).holds("no hash"));
        assert_eq!(format!("{hash:?}"), "PasswordHash(kept)");
    }

    #[test]
    fn a_hash_of_another_program_is_understood() {
        let hash = PasswordHash::from_text(FOREIGN.trim().to_owned());
        assert!(hash.holds("Mörser und Stößel 12"));
        assert!(!hash.holds("Mörser und Stössel 12"));
    }

    #[test]
    fn a_password_is_long_enough_and_not_the_name() {
        assert_eq!(fit("Ines Marrow", "short"), Err(Weak::Short));
        assert_eq!(fit("Ines Marrow", &"ab".repeat(200)), Err(Weak::Long));
        assert_eq!(fit("Ines Marrow", "aaaaaaaaaaaa"), Err(Weak::Even));
        assert_eq!(fit("Ines Marrow", "mArRow-2026-x"), Err(Weak::Named));
        assert_eq!(fit("Ines Marrow", "grey pestle 41"), Ok(()));
        assert_eq!(fit("Al", "alabaster jar 7"), Ok(()), "a part of two letters is in many words");
    }
}

//! Identities that cannot be mixed up: the identity of a lot is not the identity of a trial.

use std::cmp::Ordering;
use std::fmt;
use std::hash::{Hash, Hasher};
use std::marker::PhantomData;
use std::str::FromStr;

use jiff::Timestamp;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use uuid::Uuid;

use crate::clock::{Dice, NoEntropy};

/// The identity of a record of type `T`: a version 7 UUID, so that identities sort by the time they were made.
pub struct Id<T> {
    value: Uuid,
    of: PhantomData<fn() -> T>,
}

impl<T> Id<T> {
    /// Wraps a UUID.
    #[must_use]
    pub fn from_uuid(value: Uuid) -> Self {
        Self { value, of: PhantomData }
    }

    /// Makes a new one from the time and the dice.
    ///
    /// # Errors
    /// The dice have no entropy.
    pub fn new(now: Timestamp, dice: &dyn Dice) -> Result<Self, NoEntropy> {
        let mut random = [0_u8; 10];
        dice.roll(&mut random)?;
        let millisecond = u64::try_from(now.as_millisecond()).unwrap_or(0);
        Ok(Self::from_uuid(uuid::Builder::from_unix_timestamp_millis(millisecond, &random).into_uuid()))
    }

    /// The UUID.
    #[must_use]
    pub fn uuid(self) -> Uuid {
        self.value
    }
}

/// A text that is no identity.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("`{0}` is not an identity")]
pub struct BadId(pub String);

impl<T> FromStr for Id<T> {
    type Err = BadId;
    fn from_str(text: &str) -> Result<Self, BadId> {
        Uuid::try_parse(text).map(Self::from_uuid).map_err(|_| BadId(text.chars().take(60).collect()))
    }
}

impl<T> Clone for Id<T> {
    fn clone(&self) -> Self {
        *self
    }
}
impl<T> Copy for Id<T> {}
impl<T> PartialEq for Id<T> {
    fn eq(&self, other: &Self) -> bool {
        self.value == other.value
    }
}
impl<T> Eq for Id<T> {}
impl<T> PartialOrd for Id<T> {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl<T> Ord for Id<T> {
    fn cmp(&self, other: &Self) -> Ordering {
        self.value.cmp(&other.value)
    }
}
impl<T> Hash for Id<T> {
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.value.hash(state);
    }
}
impl<T> fmt::Debug for Id<T> {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, out)
    }
}
impl<T> fmt::Display for Id<T> {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.value.fmt(out)
    }
}
impl<T> Serialize for Id<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(&self.value)
    }
}
impl<'de, T> Deserialize<'de> for Id<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(serde::de::Error::custom)
    }
}

//! What all verbs that keep something share: faults beside the field they are about, and entries that were struck.

use crate::audit::content_hash;
use crate::records::{FromDevice, Id, Kept, Photo, Record, RecordError};
use crate::store::StoreError;
use crate::workspace::{KeptOnce, Workspace};
use jiff::Timestamp;
use jiff::civil::Date;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use uuid::Uuid;

use super::complaint::sentence;
use crate::records::TypedNumber;

/// One thing wrong with what was typed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FieldFault {
    /// Field.
    pub field: String,
    /// What is wrong.
    pub what: String,
    /// Why.
    pub why: String,
    /// What to do.
    pub what_now: String,
}

impl FieldFault {
    pub(crate) fn new(field: &str, what: &str, why: &str, what_now: &str) -> Self {
        Self {
            field: field.to_owned(),
            what: sentence(what),
            why: sentence(why),
            what_now: sentence(what_now),
        }
    }
}

/// Why something was not kept.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum KeepError {
    /// What was typed cannot be kept as it stands; at least one fault.
    #[error("{}", told(.0))]
    Typed(Vec<FieldFault>),
    /// The workspace refused or failed.
    #[error(transparent)]
    Store(#[from] StoreError),
}

fn told(faults: &[FieldFault]) -> String {
    faults.iter().map(|fault| format!("{}: {}", fault.field, fault.what)).collect::<Vec<_>>().join(" ")
}

impl From<FieldFault> for KeepError {
    fn from(fault: FieldFault) -> Self {
        Self::Typed(vec![fault])
    }
}

impl From<RecordError> for KeepError {
    fn from(error: RecordError) -> Self {
        Self::Store(StoreError::Unfit(error))
    }
}

/// What struck an entry out: the one that stands in its place, or that only takes it back.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Struck {
    /// Number of the entry that struck it.
    pub by: u32,
    /// Why.
    pub reason: String,
    /// Who.
    pub who: String,
    /// When.
    pub when: Timestamp,
}

/// The struck ones among records, with what struck them.
pub(super) fn struck<T>(records: &[Kept<T>]) -> BTreeMap<Id<T>, Struck> {
    records
        .iter()
        .filter_map(|record| {
            let correction = record.corrects.as_ref()?;
            let struck = Struck {
                by: record.number,
                reason: correction.reason.clone(),
                who: record.who.clone(),
                when: record.when,
            };
            Some((correction.supersedes, struck))
        })
        .collect()
}

/// The number of the record that another corrects.
pub(super) fn corrects<T>(records: &[Kept<T>], record: &Kept<T>) -> Option<u32> {
    let correction = record.corrects.as_ref()?;
    records.iter().find(|other| other.id == correction.supersedes).map(|other| other.number)
}

/// Reads the fields of a form and gathers what is wrong.
#[derive(Debug, Default)]
pub(super) struct Form {
    faults: Vec<FieldFault>,
}

impl Form {
    pub(super) fn fault(&mut self, field: &str, what: &str, why: &str, what_now: &str) {
        self.faults.push(FieldFault::new(field, what, why, what_now));
    }

    /// A text that must say something.
    pub(super) fn needed(&mut self, field: &str, typed: &str, why: &str, what_now: &str) -> String {
        let text = typed.trim();
        if text.is_empty() {
            self.fault(field, "this is empty", why, what_now);
        }
        text.to_owned()
    }

    /// A number within limits, where something is typed.
    pub(super) fn number(
        &mut self,
        field: &str,
        typed: &str,
        (low, high): (Decimal, Decimal),
        why: &str,
    ) -> Option<TypedNumber> {
        if typed.trim().is_empty() {
            return None;
        }
        let number = TypedNumber::read_either(typed);
        let what_now =
            format!("type a number from {low} to {high}, with a comma or a point before the decimals");
        match number.value {
            Some(value) if (low..=high).contains(&value) => return Some(number),
            Some(value) => {
                self.fault(field, &format!("{value} is not between {low} and {high}"), why, &what_now)
            }
            None => self.fault(field, &format!("\"{}\" is not a number", short(typed)), why, &what_now),
        }
        None
    }

    /// A day, where something is typed.
    pub(super) fn day(&mut self, field: &str, typed: &str) -> Option<Date> {
        let text = typed.trim();
        if text.is_empty() {
            return None;
        }
        let day = text.parse().ok();
        if day.is_none() {
            self.fault(
                field,
                &format!("\"{}\" is not a day", short(text)),
                "a day is written year-month-day",
                "type it like 2026-11-24",
            );
        }
        day
    }

    /// An identity from a device. `Option::None` where it is left out or wrong.
    pub(super) fn identity<T>(&mut self, typed: &str, may_be_empty: bool) -> Option<Id<T>> {
        let typed = typed.trim();
        let read = typed.parse::<Id<T>>().ok().filter(|id| !id.uuid().is_nil());
        if read.is_none() && !(may_be_empty && typed.is_empty()) {
            self.fault(
                "id",
                &format!("\"{}\" is not an identity", short(typed)),
                "by its identity the same entry sent twice is kept once",
                "send a UUID made on the device",
            );
        }
        read
    }

    /// A moment, where one is given.
    pub(super) fn moment(&mut self, typed: &str) -> Option<Timestamp> {
        let typed = typed.trim();
        if typed.is_empty() {
            return None;
        }
        let read = typed.parse().ok();
        if read.is_none() {
            self.fault(
                "at",
                &format!("\"{}\" is not a moment", short(typed)),
                "the device says when it was done",
                "send it like 2026-11-24T09:30:00Z",
            );
        }
        read
    }

    /// Identity and marks of what a device sent to whatever it belongs to.
    pub(super) fn sent<T>(
        &mut self,
        device: &TypedDevice,
        owner: Uuid,
        typed: &impl Serialize,
        photo: Option<&[u8]>,
    ) -> (Option<Id<T>>, FromDevice) {
        let id = self.identity(&device.id, true);
        let device_time = self.moment(&device.at);
        let mut from = FromDevice { device_time, sent_sha256: String::new() };
        if id.is_some() {
            let text = serde_json::to_string(typed).unwrap_or_default();
            let photo = photo.map(content_hash).unwrap_or_default();
            from.sent_sha256 = content_hash(format!("{owner}\n{text}\n{photo}").as_bytes());
        }
        (id, from)
    }

    /// What was read, if nothing is wrong.
    pub(super) fn done<T>(self, read: T) -> Result<T, KeepError> {
        if self.faults.is_empty() { Ok(read) } else { Err(KeepError::Typed(self.faults)) }
    }
}

/// The beginning of what was typed, for a message.
pub(crate) fn short(typed: &str) -> String {
    let text: String = typed.trim().chars().take(40).collect();
    if text.len() < typed.trim().len() { format!("{text}…") } else { text }
}

/// What a device sends beside what was typed on it.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedDevice {
    /// Identity made on the device, a UUID; one is made here when empty.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub id: String,
    /// What the clock of the device said, ISO; nothing when empty.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub at: String,
}

/// Keeps what a device sent under its identity, once, however often it is sent; without an identity it is one more.
///
/// # Errors
/// Another record has the identity, or the workspace refused.
pub(super) async fn keep_sent<T: Record>(
    workspace: &Workspace,
    who: &str,
    id: Option<Id<T>>,
    (what, photo): (T, Option<Photo>),
    from: fn(&T) -> &FromDevice,
) -> Result<KeptOnce<T>, KeepError> {
    let id = match id {
        Some(id) => id,
        None => Id::new(workspace.clock().now(), workspace.dice()).map_err(StoreError::from)?,
    };
    let sent = from(&what).sent_sha256.clone();
    let same = |there: &T| from(there).sent_sha256 == sent;
    Ok(workspace.keep_once(who, id, what, (None, photo), same).await?)
}

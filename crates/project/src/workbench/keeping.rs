//! What all verbs that keep something share: faults beside the field they are about, and entries that were struck.

use crate::records::{Id, Kept, RecordError};
use crate::store::StoreError;
use jiff::Timestamp;
use jiff::civil::Date;
use rust_decimal::Decimal;
use serde::Serialize;
use std::collections::BTreeMap;

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
    pub(super) fn new(field: &str, what: &str, why: &str, what_now: &str) -> Self {
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

    /// What was read, if nothing is wrong.
    pub(super) fn done<T>(self, read: T) -> Result<T, KeepError> {
        if self.faults.is_empty() { Ok(read) } else { Err(KeepError::Typed(self.faults)) }
    }
}

/// The beginning of what was typed, for a message.
pub(super) fn short(typed: &str) -> String {
    let text: String = typed.trim().chars().take(40).collect();
    if text.len() < typed.trim().len() { format!("{text}…") } else { text }
}

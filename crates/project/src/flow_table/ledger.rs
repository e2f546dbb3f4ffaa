//! What is wrong with a table, and what is said about it while it is read.

use super::header::Column;
use super::{LeftOut, LeftOutAll, LeftOutCount, MOST_COLUMNS, MOST_NAMED, complaint};
use crate::diagnostic::Diagnostic;
use std::borrow::Cow;
use std::collections::BTreeMap;

/// What is wrong with a table.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Fault {
    pub(crate) code: &'static str,
    pub(crate) what: String,
    pub(crate) what_now: String,
    pub(crate) line: usize,
    pub(crate) field: String,
}

impl Fault {
    pub(crate) fn new(code: &'static str, what: impl Into<String>, what_now: impl Into<String>) -> Self {
        Self { code, what: what.into(), what_now: what_now.into(), line: 0, field: String::new() }
    }

    pub(crate) fn on(mut self, line: usize) -> Self {
        self.line = line;
        self
    }

    pub(super) fn in_column(mut self, at: usize, name: &str) -> Self {
        self.field = format!("column {}, {name}", at + 1);
        self
    }

    pub(crate) fn diagnose(self, file: &str) -> Diagnostic {
        Diagnostic { line: self.line, ..complaint(file, self.code, &self.field, self.what, self.what_now) }
    }
}

pub(super) fn too_many_columns(line: usize) -> Fault {
    Fault::new(
        "too-many-columns",
        format!("there are more than {MOST_COLUMNS} columns"),
        "save the part with the curve alone: a shear rate with a stress or viscosity",
    )
    .on(line)
}

/// What is said about a table while it is read.
#[derive(Debug, Default)]
pub(super) struct Ledger {
    pub(super) count: usize,
    pub(super) by_reason: BTreeMap<String, usize>,
    pub(super) first: Vec<LeftOut>,
    pub(super) to_confirm: Vec<String>,
    pub(super) remarks: Vec<String>,
}

impl Ledger {
    pub(super) fn leave_out(&mut self, line: usize, column: &Column, text: &str, why: String) {
        self.enter(line, &column.name, text, why);
    }

    pub(super) fn enter(&mut self, line: usize, name: &str, text: &str, why: String) {
        self.count += 1;
        if self.first.len() < MOST_NAMED {
            let text = text.chars().take(60).collect();
            self.first.push(LeftOut { line, name: name.to_owned(), text, why: why.clone() });
        }
        *self.by_reason.entry(why).or_default() += 1;
    }

    /// A row without numbers below the header: a remark of the instrument.
    pub(super) fn remark(&mut self, line: usize, cells: &[Cow<'_, str>]) {
        let text =
            cells.iter().filter(|cell| !cell.is_empty()).map(AsRef::as_ref).collect::<Vec<_>>().join(" ");
        if !text.is_empty() {
            self.enter(
                line,
                "",
                &text,
                "a row without a shear rate and its value: read as a remark".to_owned(),
            );
        }
    }

    pub(super) fn confirm(&mut self, text: String) {
        if !self.to_confirm.contains(&text) && self.to_confirm.len() < MOST_NAMED {
            self.to_confirm.push(text);
        }
    }

    pub(super) fn note(&mut self, text: String) {
        if !self.remarks.contains(&text) && self.remarks.len() < MOST_NAMED {
            self.remarks.push(text);
        }
    }

    /// Takes over what another one holds.
    pub(super) fn absorb(&mut self, other: Self) {
        self.count += other.count;
        for (why, count) in other.by_reason {
            *self.by_reason.entry(why).or_default() += count;
        }
        let room = MOST_NAMED.saturating_sub(self.first.len());
        self.first.extend(other.first.into_iter().take(room));
        other.to_confirm.into_iter().for_each(|text| self.confirm(text));
        other.remarks.into_iter().for_each(|text| self.note(text));
    }

    pub(super) fn left_out(&mut self) -> LeftOutAll {
        let by_reason = std::mem::take(&mut self.by_reason);
        LeftOutAll {
            count: self.count,
            by_reason: by_reason.into_iter().map(|(why, count)| LeftOutCount { why, count }).collect(),
            first: std::mem::take(&mut self.first),
        }
    }
}

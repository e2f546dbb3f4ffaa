//! Errors from below, in words a person can act on.

use crate::desk::FieldRemark;
use crate::trouble::{Kind, Place, Trouble};
use levigate_project::diagnostic::Diagnostic;
use levigate_project::store::StoreError;
use levigate_project::workbench::complaint::{Complaint, sentence};
use levigate_project::workbench::keeping::{FieldFault, KeepError};

/// How many further things wrong are told beside the first.
const TOLD: usize = 5;

/// The store refused or failed.
pub(super) fn stored(error: &StoreError) -> Trouble {
    let (kind, code, why) = match error {
        StoreError::Missing { .. } => {
            (Kind::NotFound, "not-found", "It may have been renamed, or the address was typed by hand.")
        }
        StoreError::Unfit(_) => (Kind::BadInput, "unfit", "Only what can be read again is kept."),
        StoreError::AlreadyKept { .. } | StoreError::IdentityTaken { .. } => {
            (Kind::BadInput, "identity-taken", "By its identity the same entry sent twice is kept once.")
        }
        StoreError::AlreadyCorrected { .. } => {
            (Kind::BadInput, "already-corrected", "Another entry stands in its place.")
        }
        StoreError::Moved { .. } | StoreError::LogMoved { .. } => {
            (Kind::BadInput, "moved", "Nothing that was saved is ever overwritten.")
        }
        _ => (Kind::Failed, "store", "The workspace could not do it."),
    };
    let trouble = Trouble::new(kind, code, sentence(&error.to_string()), why, sentence(error.hint()));
    match error {
        StoreError::Unfit(unfit) => trouble.in_field(unfit.field()),
        StoreError::Missing { .. } => trouble.in_field("address"),
        StoreError::AlreadyKept { .. } | StoreError::IdentityTaken { .. } => trouble.in_field("id"),
        StoreError::AlreadyCorrected { .. } => trouble.in_field("entry"),
        StoreError::Moved { .. } | StoreError::LogMoved { .. } => trouble.in_field("base"),
        _ => trouble,
    }
}

/// What was typed was not kept, or the workspace refused it.
pub(super) fn not_kept(code: &'static str, error: &KeepError) -> Trouble {
    match error {
        KeepError::Typed(faults) => refused(code, faults),
        KeepError::Store(error) => stored(error),
    }
}

/// What was typed cannot be kept; the first fault is told, the others beside it.
pub(super) fn refused(code: &'static str, faults: &[FieldFault]) -> Trouble {
    let Some(first) = faults.first() else { return Trouble::broken() };
    let others: Vec<String> =
        faults.iter().skip(1).map(|fault| format!("{}: {}", fault.field, fault.what)).collect();
    let why = if others.is_empty() {
        first.why.clone()
    } else {
        format!("{} Also {}", first.why, others.join(" "))
    };
    Trouble::new(Kind::BadInput, code, first.what.clone(), why, first.what_now.clone())
        .in_field(first.field.clone())
}

/// A text of a formula is wrong; the first place is told, the others beside it.
pub(super) fn diagnosed(code: &'static str, list: &[Diagnostic]) -> Trouble {
    let Some(first) = list.first() else { return Trouble::broken() };
    let others: Vec<String> = list
        .iter()
        .skip(1)
        .take(TOLD)
        .map(|one| if one.line > 0 { format!("line {}: {}", one.line, one.what) } else { one.what.clone() })
        .collect();
    let left = list.len().saturating_sub(1 + others.len());
    let why = match (others.is_empty(), left) {
        (true, _) if first.field.is_empty() => {
            "The text does not follow the form of a formula file.".to_owned()
        }
        (true, _) => format!("It stands in {}.", first.field),
        (false, 0) => sentence(&format!("Also {}", others.join("; "))),
        (false, left) => sentence(&format!("Also {}; and {left} more", others.join("; "))),
    };
    let place = Place {
        line: Some(first.line).filter(|line| *line > 0),
        column: Some(first.column).filter(|column| *column > 0),
        field: Some(first.field.clone()).filter(|field| !field.is_empty()),
    };
    Trouble::new(Kind::BadInput, code, sentence(&first.what), why, sentence(&first.what_now)).at(place)
}

/// A measured file is wrong, or what is asked of it.
pub(super) fn measured_wrong(list: &[Diagnostic]) -> Trouble {
    let Some(first) = list.first() else { return Trouble::broken() };
    let place = Place {
        line: Some(first.line).filter(|line| *line > 0),
        column: Some(first.column).filter(|column| *column > 0),
        field: Some(if first.field.is_empty() { "file".to_owned() } else { first.field.clone() }),
    };
    let why = if first.field.is_empty() {
        "The file does not hold a flow curve as it stands.".to_owned()
    } else {
        format!("It stands in {}.", first.field)
    };
    Trouble::new(Kind::BadInput, "measured", sentence(&first.what), why, sentence(&first.what_now)).at(place)
}

/// A draft cannot be used as it stands.
pub(super) fn unreadable(remarks: &[FieldRemark], doing: &str) -> Trouble {
    let Some(first) = remarks.first() else { return Trouble::broken() };
    let more = match remarks.len() {
        1 => String::new(),
        number => format!(" {} more fields cannot be read either.", number - 1),
    };
    Trouble::new(
        Kind::BadInput,
        "unreadable-field",
        format!("The formula cannot be {doing} yet. {}", first.what),
        format!(
            "{}{more}",
            if first.why.is_empty() { "A field on the sheet cannot be read." } else { &first.why }
        ),
        first.what_now.clone(),
    )
    .in_field(first.field.clone())
}

/// A complaint about a sheet as a remark beside its field.
pub(super) fn remark(complaint: Complaint, line_ids: &[String]) -> FieldRemark {
    FieldRemark {
        line_id: complaint.line.and_then(|line| line_ids.get(line).cloned()),
        phase_id: None,
        field: complaint.field.to_owned(),
        what: complaint.what,
        why: complaint.why,
        what_now: complaint.what_now,
        offers: complaint.offers,
    }
}

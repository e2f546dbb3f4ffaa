//! What is wrong with a sheet in the fields of a page: which line, which field, what, why, what now.

use levigate_assess::AssessError;
use levigate_assess::mixture::MixtureError;
use levigate_formula::settle::SettleError;
use rust_decimal::Decimal;

/// One complaint about a sheet.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Complaint {
    /// Line of the sheet, from 0; none for the sheet as a whole.
    pub line: Option<usize>,
    /// Field of the line: `material`, `amount`, `kind` or `assay_percent`; without a line `sheet` or `bench.<name>`.
    pub field: &'static str,
    /// What is wrong.
    pub what: String,
    /// Why that is so.
    pub why: String,
    /// What to do.
    pub what_now: String,
    /// Names that may have been meant.
    pub offers: Vec<String>,
}

/// All complaints of an assessment that could not be made.
#[must_use]
pub fn complaints(error: &AssessError) -> Vec<Complaint> {
    match error {
        AssessError::Settle(errors) => errors.iter().map(settling).collect(),
        AssessError::Mixture(error) => vec![mixture(error)],
    }
}

fn settling(error: &SettleError) -> Complaint {
    let (field, why, what_now) = match error {
        SettleError::UnknownMaterial { nearest, .. } => (
            "material",
            "A line is opened to what it consists of, so its raw material must be on file.",
            if nearest.is_empty() {
                "Search the raw materials, or add your own.".to_owned()
            } else {
                format!("Did you mean {}?", nearest.join(", "))
            },
        ),
        SettleError::BelowZero { .. } => {
            ("amount", "A line is a share of the product.", "Type zero or more.".to_owned())
        }
        SettleError::AboveHundred { .. } => {
            ("amount", "All lines together make 100 %.", "Type at most 100, or check the assay.".to_owned())
        }
        SettleError::NoActive { .. } => (
            "kind",
            "A percent of active is divided by the assay of a named substance.",
            "Give the percent as supplied, or name the active in a record of your own.".to_owned(),
        ),
        SettleError::AssayOutOfRange { .. } => (
            "assay_percent",
            "An assay is the share of the active substance in the lot.",
            "Take it from the certificate of the lot: more than 0, at most 100 %.".to_owned(),
        ),
        SettleError::TwoRemainders { first, .. } => (
            "kind",
            "Only one line can take up what the others leave.",
            format!("Give this line or line {} a percent.", first + 1),
        ),
        SettleError::NoRemainder { .. } => (
            "sheet",
            "One line takes up what the others leave, and the rounding at the balance.",
            "Choose q.s. to 100 for one line, mostly the water.".to_owned(),
        ),
        SettleError::OverHundred { total, .. } => (
            "kind",
            "All lines together make 100 %.",
            format!("Take at least {} % out of the other lines.", (total - Decimal::ONE_HUNDRED).normalize()),
        ),
        SettleError::TwoAims { .. } => (
            "amount",
            "The product has one pH.",
            "An acid and a base line may share one aim; give both the same pH.".to_owned(),
        ),
        SettleError::PhOutOfRange { .. } => {
            ("amount", "The pH of a water phase lies between 0 and 14.", "Type a pH such as 5.5.".to_owned())
        }
        SettleError::Empty => ("sheet", "There is nothing to settle.", "Add a first line.".to_owned()),
        other => ("sheet", "The lines do not go together.", sentence(&other.hint())),
    };
    let offers = match error {
        SettleError::UnknownMaterial { nearest, .. } => nearest.clone(),
        _ => Vec::new(),
    };
    Complaint {
        line: error.line(),
        field,
        what: sentence(&error.to_string()),
        why: why.to_owned(),
        what_now,
        offers,
    }
}

fn mixture(error: &MixtureError) -> Complaint {
    let why = match error {
        MixtureError::Unreachable { wrong_way: true, .. } => "It moves the pH away from the one wanted.",
        MixtureError::Unreachable { .. } => {
            "Even all of the q.s. line given up for it does not bring the product there."
        }
        _ => "pH and everything that hangs on it come from the equilibrium of the water phase.",
    };
    Complaint {
        line: error.line(),
        field: if error.line().is_some() { "amount" } else { "sheet" },
        what: sentence(&error.to_string()),
        why: why.to_owned(),
        what_now: sentence(&error.hint()),
        offers: Vec::new(),
    }
}

/// A text as a sentence: capital letter and full stop.
#[must_use]
pub fn sentence(text: &str) -> String {
    let text = text.trim();
    let mut letters = text.chars();
    let mut out: String =
        letters.next().map(|first| first.to_uppercase().collect::<String>()).unwrap_or_default();
    // "pH" keeps its small letter.
    if text.starts_with("pH") {
        out = "p".to_owned();
    }
    out.push_str(letters.as_str());
    if !out.is_empty() && !out.ends_with(['.', '?', '!']) {
        out.push('.');
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sentence_begins_large_and_ends_with_a_stop() {
        assert_eq!(sentence("two lines are q.s."), "Two lines are q.s.");
        assert_eq!(sentence("pH 15 is outside"), "pH 15 is outside.");
        assert_eq!(sentence(" did you mean X?"), "Did you mean X?");
        assert_eq!(sentence(""), "");
    }

    #[test]
    fn every_settling_error_of_a_line_names_a_field_of_a_line() {
        let errors = vec![
            SettleError::UnknownMaterial { line: 3, name: "Watr".into(), nearest: vec!["Water".into()] },
            SettleError::TwoRemainders { first: 0, second: 2 },
            SettleError::OverHundred { line: 0, total: Decimal::from(120) },
            SettleError::PhOutOfRange { line: 1, ph: Decimal::from(15) },
        ];
        let found = complaints(&AssessError::Settle(errors));
        let fields: Vec<_> = found.iter().map(|one| (one.line, one.field)).collect();
        assert_eq!(
            fields,
            [(Some(3), "material"), (Some(2), "kind"), (Some(0), "kind"), (Some(1), "amount")]
        );
        assert_eq!(found[0].offers, ["Water"]);
        assert_eq!(found[2].what_now, "Take at least 20 % out of the other lines.");
    }
}

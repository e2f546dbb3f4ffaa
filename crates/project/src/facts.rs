//! The facts as the doors of the house need them: reading, laying one layer over another.

use crate::diagnostic::Diagnostic;
pub use levigate_facts::{Facts, FactsError, Fault, shipped};
pub use levigate_formula::library::Layer;

/// Lays texts (name and content) over facts. Unlike a plain overlay, a record may replace one of the same layer that was laid
/// before: a material kept in the workspace lies over one in the workspace's folder, and one in a formula file over both.
///
/// # Errors
/// Every fault in the texts, each with its place.
pub fn lay_over<N: AsRef<str>, T: AsRef<str>>(
    facts: &Facts,
    texts: &[(N, T)],
    layer: Layer,
) -> Result<Facts, FactsError> {
    let mut laid = facts.clone();
    laid.places.retain(|_, (below, _)| *below != layer);
    laid.overlay(texts, layer)?;
    Ok(laid)
}

/// What is wrong with a text of facts, for people.
#[must_use]
pub fn diagnose(fault: &Fault) -> Diagnostic {
    let place = fault.place();
    Diagnostic {
        code: "facts".to_owned(),
        file: place.file.to_string(),
        line: place.line,
        column: place.column,
        field: fault.field(),
        what: fault.what(),
        what_now: fault.hint(),
        sheet_line: None,
    }
}

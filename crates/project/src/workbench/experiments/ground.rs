//! What an experiment with a formula begins from: the lines of a version that can be varied.

use crate::diagnostic::Diagnostic;
use crate::formula_file;
use levigate_formula::sheet::Amount;
use rust_decimal::Decimal;
use serde::Serialize;

/// A line that can be varied.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct GroundLine {
    /// Its place in the version, from 0.
    pub line: usize,
    /// Raw material.
    pub material: String,
    /// Percent as it stands; empty where it cannot be told from the typed lines alone.
    pub percent: String,
    /// It takes up what the others leave.
    pub rest: bool,
}

/// The lines of a version that can be varied.
///
/// # Errors
/// What is wrong with the text.
pub fn ground_lines(text: &str) -> Result<Vec<GroundLine>, Vec<Diagnostic>> {
    let file = formula_file::read("formula", text)?;
    let typed = file.sheet.lines().map(|(_, line)| match line.amount {
        Amount::Percent(percent) => Some(percent),
        Amount::Remainder(_) => Some(Decimal::ZERO),
        // What is weighed follows from the assay or from the pH.
        _ => None,
    });
    let left = typed.sum::<Option<Decimal>>().map(|sum| Decimal::ONE_HUNDRED - sum);
    let line = |(place, (_, line)): (usize, (usize, &levigate_formula::sheet::Line))| {
        let (percent, rest) = match line.amount {
            Amount::Percent(percent) | Amount::ActivePercent(percent) => {
                (percent.normalize().to_string(), false)
            }
            Amount::Remainder(_) => (left.map(|left| left.normalize().to_string()).unwrap_or_default(), true),
            _ => return None,
        };
        Some(GroundLine { line: place, material: line.material.clone(), percent, rest })
    };
    Ok(file.sheet.lines().enumerate().filter_map(line).collect())
}

//! How long an attribute stays within its limits.

use crate::diagnostic::Diagnostic;
use crate::proof_file::shelf_life::{read, refused};
pub use levigate_assess::shelf_life::{
    BatchReading, Drawn, Scale, ShelfLifeReading, Support, TestReading, WantedReading,
};
use levigate_facts::Facts;
pub use levigate_process::stability::Model;

/// Answers a study.
///
/// # Errors
/// All that is wrong with the text, or why its batches carry no line.
pub fn shelf_life(facts: &Facts, (file, text): (&str, &str)) -> Result<ShelfLifeReading, Vec<Diagnostic>> {
    let study = read(file, text)?;
    let rows = facts.rules.extrapolation.values();
    levigate_assess::shelf_life::shelf_life(&study, rows).map_err(|error| refused(file, text, &study, &error))
}

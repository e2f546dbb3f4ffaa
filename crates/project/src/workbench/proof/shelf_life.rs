//! How long an attribute stays within its limits.

use crate::diagnostic::Diagnostic;
use crate::proof_file::shelf_life::{read, read_readings, refused};
use crate::proof_file::{Handed, handed};
pub use levigate_assess::shelf_life::{
    BatchReading, Drawn, Scale, ShelfLifeReading, Support, TestReading, WantedReading,
};
use levigate_facts::Facts;
pub use levigate_process::stability::Model;

/// Answers a study, a file; or a table of readings, with `options` (`lower=90`) beside it.
///
/// # Errors
/// All that is wrong with it, or why its batches carry no line.
pub fn shelf_life(
    facts: &Facts,
    (file, bytes): (&str, &[u8]),
    options: &[String],
) -> Result<ShelfLifeReading, Vec<Diagnostic>> {
    let (study, text) = match handed((file, bytes), options)? {
        Handed::Whole(text) => (read(file, text)?, text),
        Handed::Table(bytes, beside) => (read_readings((file, bytes), &beside)?, ""),
    };
    let rows = facts.rules.extrapolation.values();
    levigate_assess::shelf_life::shelf_life(&study, rows).map_err(|error| refused(file, text, &study, &error))
}

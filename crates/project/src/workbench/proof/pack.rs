//! What a pack lets in and out.

use crate::diagnostic::Diagnostic;
use crate::proof_file::pack::read;
use levigate_process::pack::pack as answered;
pub use levigate_process::pack::{PackReading, Taken, WaterReading, Way};

/// Answers.
///
/// # Errors
/// All that is wrong with the text.
pub fn pack((file, text): (&str, &str)) -> Result<PackReading, Vec<Diagnostic>> {
    read(file, text).map(|asked| answered(&asked))
}

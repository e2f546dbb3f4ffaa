//! Which blends to make.

use crate::diagnostic::Diagnostic;
use crate::proof_file::design::{read, refused};
pub use levigate_assess::blends::{BlendsReading, Run};

/// Plans runs.
///
/// # Errors
/// All that is wrong with the text, or why no runs can be chosen.
pub fn design((file, text): (&str, &str)) -> Result<BlendsReading, Vec<Diagnostic>> {
    let asked = read(file, text)?;
    levigate_assess::blends::blends(&asked).map_err(|error| refused(file, text, &error))
}

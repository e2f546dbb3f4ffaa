//! How fast a content is lost at several temperatures.

use crate::diagnostic::Diagnostic;
use crate::proof_file::arrhenius::{read, refused};
pub use levigate_process::stability::Order;
use levigate_process::stability::decay::decay;
pub use levigate_process::stability::decay::{DecayReading, LawReading, StoredReading};

/// Answers.
///
/// # Errors
/// All that is wrong with the text, or why no law can be had from its readings.
pub fn arrhenius((file, text): (&str, &str)) -> Result<DecayReading, Vec<Diagnostic>> {
    let asked = read(file, text)?;
    decay(&asked).map_err(|error| refused(file, text, &error))
}

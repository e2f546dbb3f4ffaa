//! How fast a content is lost at several temperatures.

use crate::diagnostic::Diagnostic;
use crate::proof_file::arrhenius::{read, read_readings, refused};
use crate::proof_file::{Handed, handed};
pub use levigate_process::stability::Order;
use levigate_process::stability::decay::decay;
pub use levigate_process::stability::decay::{DecayReading, LawReading, StoredReading};

/// Answers a file; or a table of readings, with `options` (`lower=90`) beside it.
///
/// # Errors
/// All that is wrong with it, or why no law can be had from its readings.
pub fn arrhenius((file, bytes): (&str, &[u8]), options: &[String]) -> Result<DecayReading, Vec<Diagnostic>> {
    let (asked, text) = match handed((file, bytes), options)? {
        Handed::Whole(text) => (read(file, text)?, text),
        Handed::Table(bytes, beside) => (read_readings((file, bytes), &beside)?, ""),
    };
    decay(&asked).map_err(|error| refused(file, text, &error))
}

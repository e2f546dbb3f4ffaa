//! A challenge test held against the criteria of standards.

use crate::diagnostic::Diagnostic;
use crate::proof_file::challenge::{ChallengeFile, read, read_beside};
use crate::proof_file::{Handed, handed};
use crate::workbench::challenge_tests::series_of_table;
pub use levigate_assess::challenge::{ChallengeReading, Dying};
use levigate_facts::Facts;
pub use levigate_rules::challenge::{Cell, Judged, Says};

/// Answers a file; or a table of counts, with `options` (`neutraliser.recovered_percent=82`) beside it.
///
/// # Errors
/// All that is wrong with it.
pub fn challenge(
    facts: &Facts,
    (file, bytes): (&str, &[u8]),
    options: &[String],
) -> Result<ChallengeReading, Vec<Diagnostic>> {
    let known = &facts.rules.challenge;
    let question: ChallengeFile = match handed((file, bytes), options)? {
        Handed::Whole(text) => read(file, text, known)?,
        Handed::Table(bytes, beside) => {
            let mut question = read_beside(&beside, known)?;
            question.test.series = series_of_table((file, bytes))?;
            question
        }
    };
    let named = |key: &String| question.criteria.is_empty() || question.criteria.contains(key);
    let criteria = known.iter().filter(|(key, _)| named(key)).map(|(_, criterion)| criterion);
    Ok(levigate_assess::challenge::challenge(&question.test, criteria))
}

//! A challenge test held against the criteria of standards.

use crate::diagnostic::Diagnostic;
use crate::proof_file::challenge::read;
pub use levigate_assess::challenge::{ChallengeReading, Dying};
use levigate_facts::Facts;
pub use levigate_rules::challenge::{Cell, Judged, Says};

/// Answers a test.
///
/// # Errors
/// All that is wrong with the text.
pub fn challenge(facts: &Facts, (file, text): (&str, &str)) -> Result<ChallengeReading, Vec<Diagnostic>> {
    let known = &facts.rules.challenge;
    let question = read(file, text, known)?;
    let named = |key: &String| question.criteria.is_empty() || question.criteria.contains(key);
    let criteria = known.iter().filter(|(key, _)| named(key)).map(|(_, criterion)| criterion);
    Ok(levigate_assess::challenge::challenge(&question.test, criteria))
}

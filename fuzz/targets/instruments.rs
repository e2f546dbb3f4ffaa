//! The file of the instruments, and what their lines say. A line of three hyphens parts the file from the lines; without one the first
//! line is a pattern alone.
#![no_main]

use levigate_project::instrument::{LinePattern, Reads, read};
use libfuzzer_sys::fuzz_target;

fn lines(pattern: &LinePattern, text: &str) {
    for line in text.lines() {
        match pattern.read(line) {
            Ok(said) => {
                assert!(
                    said.digits.parse::<rust_decimal::Decimal>().is_ok(),
                    "{:?} is no number",
                    said.digits
                );
                assert!(!said.unit.is_empty());
            }
            Err(unread) => assert!(!unread.to_string().is_empty() && !unread.hint().is_empty()),
        }
    }
}

fuzz_target!(|text: &str| {
    if let Some((file, said)) = text.split_once("\n---\n") {
        match read("instruments.toml", file) {
            Ok(instruments) => instruments.iter().for_each(|one| lines(&one.pattern, said)),
            Err(problems) => {
                assert!(!problems.is_empty());
                assert!(problems.iter().all(|one| !one.what.is_empty() && !one.what_now.is_empty()));
            }
        }
        return;
    }
    let (pieces, said) = text.split_once('\n').unwrap_or((text, ""));
    for reads in [Reads::Mass, Reads::Ph, Reads::Temperature] {
        match LinePattern::new(reads, Some(pieces), &["ok".to_owned()], None) {
            Ok(pattern) => lines(&pattern, said),
            Err(error) => assert!(!error.to_string().is_empty() && !error.hint().is_empty()),
        }
    }
});

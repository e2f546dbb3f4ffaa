//! Papers: what the workbench knows of a batch or a version, arranged as documents.

mod blank;
mod deviations;
mod label;
mod record;
mod sheet;
mod specification;
mod submission;
mod two_trials;

pub use blank::blank_record;
pub use deviations::deviation_list;
pub use label::label_text;
pub use record::filled_record;
pub use sheet::sheet_document;
pub use specification::specification_paper;
pub use submission::submission_paper;
pub use two_trials::two_trials;

use jiff::Timestamp;
use rust_decimal::Decimal;

/// Keeps a figure and its unit on one line.
const SPACE: char = '\u{00A0}';

/// Date and minute, in universal time.
fn moment(when: Timestamp) -> String {
    when.strftime("%Y-%m-%d\u{00A0}%H:%M").to_string()
}

/// A number with its sign, as a difference is written.
fn signed(number: Decimal) -> String {
    let sign = match number {
        zero if zero.is_zero() => "",
        below if below.is_sign_negative() => "\u{2212}",
        _ => "+",
    };
    format!("{sign}{}", number.abs())
}

/// A hash in groups, so that it can be compared by eye and breaks at the end of a line.
fn grouped(hash: &str) -> String {
    let signs: Vec<char> = hash.chars().collect();
    signs.chunks(8).map(|group| group.iter().collect::<String>()).collect::<Vec<_>>().join(" ")
}

/// The first letter as a capital.
fn capitalised(text: &str) -> String {
    let mut characters = text.chars();
    characters.next().map_or_else(String::new, |first| first.to_uppercase().chain(characters).collect())
}

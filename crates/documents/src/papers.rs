//! Papers: what the workbench knows of a batch or a version, arranged as documents.

mod blank;
mod deviations;
mod label;
mod record;
mod sheet;
mod specification;

pub use blank::blank_record;
pub use deviations::deviation_list;
pub use label::label_text;
pub use record::filled_record;
pub use sheet::sheet_document;
pub use specification::specification_paper;

use jiff::Timestamp;
use rust_decimal::Decimal;

/// Keeps a figure and its unit on one line.
const SPACE: char = '\u{00A0}';

/// Date and minute, in universal time.
fn moment(when: Timestamp) -> String {
    when.strftime("%Y-%m-%d %H:%M").to_string()
}

/// A number with its sign, as a difference is written.
fn signed(number: Decimal) -> String {
    let sign = if number.is_sign_negative() && !number.is_zero() { "\u{2212}" } else { "+" };
    format!("{sign}{}", number.abs())
}

/// The first letter as a capital.
fn capitalised(text: &str) -> String {
    let mut characters = text.chars();
    characters.next().map_or_else(String::new, |first| first.to_uppercase().chain(characters).collect())
}

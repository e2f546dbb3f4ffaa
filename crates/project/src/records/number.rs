//! Numbers as people type them: the text is kept, the number is read from it with the person's own decimal sign, never guessed.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

/// The decimal sign a person writes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DecimalSign {
    /// `5.25`
    #[default]
    Point,
    /// `5,25`
    Comma,
}

impl DecimalSign {
    /// Reads a number written with this sign. Grouping signs are not read: `1,234` may be either number, so with the point it
    /// is none. With the comma, `5.25` is none for the same reason.
    #[must_use]
    pub fn read(self, typed: &str) -> Option<Decimal> {
        let text = typed.trim().replace('\u{2212}', "-");
        if text.len() > 40 {
            return None;
        }
        let plain = match self {
            Self::Point if text.contains(',') => return None,
            Self::Point => text,
            Self::Comma if text.contains('.') => return None,
            Self::Comma => text.replace(',', "."),
        };
        let digits = plain.strip_prefix(['-', '+']).unwrap_or(&plain);
        let allowed = |sign: char| sign.is_ascii_digit() || matches!(sign, '.' | 'e' | 'E' | '-' | '+');
        if !digits.starts_with(|sign: char| sign.is_ascii_digit() || sign == '.')
            || !plain.chars().all(allowed)
        {
            return None;
        }
        if plain.contains(['e', 'E']) {
            return Decimal::from_scientific(&plain).ok();
        }
        Decimal::from_str_exact(&plain).ok()
    }
}

/// A number as typed, with the number read from it. `< 10`, `n.d.` and `clear` are kept with no number.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct TypedNumber {
    /// As typed.
    pub typed: String,
    /// The number, where the text is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<Decimal>,
}

impl TypedNumber {
    /// Reads a text with a person's decimal sign.
    #[must_use]
    pub fn read(typed: &str, sign: DecimalSign) -> Self {
        Self { typed: typed.to_owned(), value: sign.read(typed) }
    }

    /// Reads a text from a field that takes both signs: a lone comma or a lone point is the decimal sign. A text with both, or
    /// with grouped digits, is kept and no number is read from it.
    #[must_use]
    pub fn read_either(typed: &str) -> Self {
        let typed = typed.trim();
        let sign = if typed.contains(',') { DecimalSign::Comma } else { DecimalSign::Point };
        Self::read(typed, sign)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sign_is_the_persons_and_nothing_is_guessed() {
        let read = |text: &str, sign: DecimalSign| sign.read(text).map(|value| value.to_string());
        assert_eq!(read("5.250", DecimalSign::Point).as_deref(), Some("5.250"));
        assert_eq!(read("5,250", DecimalSign::Comma).as_deref(), Some("5.250"));
        assert_eq!(read("5,250", DecimalSign::Point), None);
        assert_eq!(read("5.250", DecimalSign::Comma), None);
        assert_eq!(read(" \u{2212}0.5 ", DecimalSign::Point).as_deref(), Some("-0.5"));
        assert_eq!(read("1.2e4", DecimalSign::Point).as_deref(), Some("12000"));
        let either = |text: &str| TypedNumber::read_either(text).value.map(|value| value.to_string());
        assert_eq!(either(" 5,62 ").as_deref(), Some("5.62"));
        assert_eq!(either("5.62").as_deref(), Some("5.62"));
        assert_eq!(either("1.234,5"), None);
        assert_eq!(either("1,234,5"), None);
        assert_eq!(TypedNumber::read_either("< 10").typed, "< 10");
        for text in ["", "< 10", "n.d.", "1_000", "--1", "1.2.3", "5,2,5", "e5", "NaN", "\u{0665}"] {
            assert_eq!(read(text, DecimalSign::Point), None, "{text}");
            assert_eq!(read(text, DecimalSign::Comma), None, "{text}");
        }
    }
}

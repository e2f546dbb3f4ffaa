//! Reading numbers and masses that a person typed, without guessing and without losing a digit.
//!
//! Two doors: [`parse_typed`] for the fields of a page, where a decimal comma, a point and Arabic-Indic digits are all
//! welcome, and [`parse_strict`] for files, where only `0.5` is a number. Neither ever takes a separator for a
//! thousands mark: `1,000` in a field is one with three measured decimals, and [`reads_like_grouping`] lets the page ask.

use rust_decimal::Decimal;
use std::str::FromStr;
use thiserror::Error;

/// Digits a number may have: more than any balance shows, and few enough for exact arithmetic on top.
const MOST_DIGITS: usize = 18;

/// Why a text is not a number or a mass.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum DecimalError {
    /// Nothing was typed.
    #[error("nothing is written")]
    Empty,
    /// A decimal separator stands twice, or a point and a comma stand together.
    #[error("“{text}” has two separators")]
    TwoSeparators {
        /// As typed.
        text: String,
    },
    /// A space or apostrophe stands between digits.
    #[error("“{text}” has a gap between its digits")]
    Grouped {
        /// As typed.
        text: String,
    },
    /// A comma in a place where only a point is a decimal sign.
    #[error("“{text}” has a decimal comma")]
    Comma {
        /// As typed.
        text: String,
    },
    /// Written with an exponent.
    #[error("“{text}” is written with an exponent")]
    Exponent {
        /// As typed.
        text: String,
    },
    /// More digits than are kept exactly.
    #[error("“{text}” has more than {most} digits")]
    TooLong {
        /// As typed, shortened.
        text: String,
        /// Most digits kept.
        most: usize,
    },
    /// Something that is no digit, sign or separator.
    #[error("“{text}” is not a number: “{found}” is in the way")]
    NotANumber {
        /// As typed, shortened.
        text: String,
        /// First character that does not belong.
        found: char,
    },
    /// Only signs or separators.
    #[error("“{text}” has no digits where a number needs them")]
    NoDigits {
        /// As typed, shortened.
        text: String,
    },
    /// A mass without a unit.
    #[error("“{text}” has no unit")]
    NoUnit {
        /// As typed.
        text: String,
    },
    /// A unit of volume where a mass is needed.
    #[error("“{unit}” is a unit of volume; a batch is weighed")]
    Volume {
        /// The unit.
        unit: String,
    },
    /// A unit nobody knows here.
    #[error("“{unit}” is not a unit of mass known here")]
    UnknownUnit {
        /// The unit.
        unit: String,
    },
    /// A mass that is zero or below.
    #[error("a mass of {grams} g cannot be weighed")]
    NotPositive {
        /// What was understood.
        grams: Decimal,
    },
}

impl DecimalError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Empty => "type a number, such as 0.5",
            Self::TwoSeparators { .. } | Self::Grouped { .. } => {
                "write the number without thousands marks: 1000 or 1000.5"
            }
            Self::Comma { .. } => {
                "write a point: 0.5, not 0,5 (fields on a page take both, files only the point)"
            }
            Self::Exponent { .. } => "write it out: 0.001, not 1e-3",
            Self::TooLong { .. } => "keep the digits that were measured; no balance shows more than nine",
            Self::NotANumber { .. } => {
                "write digits and at most one decimal sign; the unit stands beside the field"
            }
            Self::NoDigits { .. } => "write a digit before and after the decimal sign: 0.5",
            Self::NoUnit { .. } => "write the unit: 200g, 1.5 kg or 500 mg",
            Self::Volume { .. } => {
                "give the mass: volume times density; 200 mL of a serum of 1.02 g/mL are 204 g"
            }
            Self::UnknownUnit { .. } => "use mg, g, kg, oz (ounce of weight) or lb",
            Self::NotPositive { .. } => "give a mass above zero, such as 200g",
        }
    }
}

/// Reads what a person typed into a field: point or comma, Western, Arabic-Indic or Persian digits. Digits are kept
/// (`0.50` stays two measured decimals).
///
/// # Errors
/// Anything that is not one plain number, with the reason; [`DecimalError::hint`] says what to do.
///
/// ```
/// use levigate_measure::decimal::parse_typed;
/// assert_eq!(parse_typed("0,50").map(|n| n.to_string()).as_deref(), Ok("0.50"));
/// assert!(parse_typed("1.000,5").is_err());
/// ```
pub fn parse_typed(text: &str) -> Result<Decimal, DecimalError> {
    let trimmed = text.trim();
    if trimmed.is_empty() {
        return Err(DecimalError::Empty);
    }
    let (negative, body) = split_sign(trimmed, &['-', '\u{2212}', '+']);
    let mut plain = String::with_capacity(body.len() + 2);
    let mut separators = 0usize;
    for (at, character) in body.char_indices() {
        match character {
            '.' | ',' | '\u{066B}' => {
                separators += 1;
                plain.push('.');
            }
            ' ' | '\u{00A0}' | '\u{202F}' | '\u{2009}' | '\'' | '\u{2019}' | '\u{066C}' | '_' => {
                let after = &body[at + character.len_utf8()..];
                if after.trim_start().starts_with(is_digit) {
                    return Err(DecimalError::Grouped { text: shorten(text) });
                }
                return Err(DecimalError::NotANumber {
                    text: shorten(text),
                    found: after.trim_start().chars().next().unwrap_or(character),
                });
            }
            'e' | 'E' if plain.ends_with(|c: char| c.is_ascii_digit() || c == '.') => {
                return Err(DecimalError::Exponent { text: shorten(text) });
            }
            _ => match digit_value(character) {
                Some(digit) => plain.push(digit),
                None => return Err(DecimalError::NotANumber { text: shorten(text), found: character }),
            },
        }
    }
    if separators > 1 {
        return Err(DecimalError::TwoSeparators { text: shorten(text) });
    }
    // `.5` and `5,` are finished numbers to the person who typed them.
    if plain.starts_with('.') {
        plain.insert(0, '0');
        if plain == "0." {
            return Err(DecimalError::NoDigits { text: shorten(text) });
        }
    }
    if plain.ends_with('.') {
        plain.pop();
    }
    finish(negative, &plain, text)
}

/// Whether a typed number could have been meant with a thousands mark: one separator, one to three digits before it that
/// do not begin with zero, exactly three after it (`1,000`). The value taken is still the decimal one; a page shows it back.
#[must_use]
pub fn reads_like_grouping(text: &str) -> bool {
    let body = text.trim().trim_start_matches(['-', '\u{2212}', '+']);
    let mut parts = body.split(['.', ',', '\u{066B}']);
    let (Some(whole), Some(rest), None) = (parts.next(), parts.next(), parts.next()) else {
        return false;
    };
    let digits = |part: &str| part.chars().map(digit_value).collect::<Option<Vec<char>>>();
    match (digits(whole), digits(rest)) {
        (Some(whole), Some(rest)) => {
            (1..=3).contains(&whole.len()) && whole.first() != Some(&'0') && rest.len() == 3
        }
        _ => false,
    }
}

/// Reads a number from a file: Western digits, a point, an optional minus; nothing else.
///
/// # Errors
/// Anything else, with the reason; [`DecimalError::hint`] says what to do.
pub fn parse_strict(text: &str) -> Result<Decimal, DecimalError> {
    if text.trim().is_empty() {
        return Err(DecimalError::Empty);
    }
    let (negative, body) = split_sign(text, &['-']);
    let mut separators = 0usize;
    for character in body.chars() {
        match character {
            '.' => separators += 1,
            ',' if body.contains('.') => return Err(DecimalError::TwoSeparators { text: shorten(text) }),
            ',' => return Err(DecimalError::Comma { text: shorten(text) }),
            'e' | 'E' if body.starts_with(|c: char| c.is_ascii_digit()) => {
                return Err(DecimalError::Exponent { text: shorten(text) });
            }
            _ if character.is_ascii_digit() => {}
            found => return Err(DecimalError::NotANumber { text: shorten(text), found }),
        }
    }
    if separators > 1 {
        return Err(DecimalError::TwoSeparators { text: shorten(text) });
    }
    if body.is_empty() || body.starts_with('.') || body.ends_with('.') {
        return Err(DecimalError::NoDigits { text: shorten(text) });
    }
    finish(negative, body, text)
}

/// Reads a mass with its unit from a command line or a file (`200g`, `1.5 kg`, `0.01g`) and gives grams, exactly.
///
/// # Errors
/// No number, no unit, a unit of volume, or nothing above zero; [`DecimalError::hint`] says what to do.
pub fn parse_size(text: &str) -> Result<Decimal, DecimalError> {
    size(text, parse_strict)
}

/// The same for a field of a page: a decimal comma is welcome too.
///
/// # Errors
/// As [`parse_size`].
pub fn parse_typed_size(text: &str) -> Result<Decimal, DecimalError> {
    size(text, parse_typed)
}

fn size(text: &str, number: fn(&str) -> Result<Decimal, DecimalError>) -> Result<Decimal, DecimalError> {
    let trimmed = text.trim();
    if trimmed.is_empty() {
        return Err(DecimalError::Empty);
    }
    let unit_at = trimmed
        .char_indices()
        .find(|(_, c)| c.is_alphabetic() || *c == '%')
        .map_or(trimmed.len(), |(at, _)| at);
    let (figures, unit) = trimmed.split_at(unit_at);
    let value = number(figures.trim())?;
    let unit = unit.trim();
    if unit.is_empty() {
        return Err(DecimalError::NoUnit { text: shorten(trimmed) });
    }
    let grams_per_unit = grams_per_unit(unit)?;
    let grams = value
        .checked_mul(grams_per_unit)
        .ok_or_else(|| DecimalError::TooLong { text: shorten(trimmed), most: MOST_DIGITS })?;
    if grams <= Decimal::ZERO {
        return Err(DecimalError::NotPositive { grams });
    }
    Ok(grams)
}

/// Grams in one unit of mass. The ounce and the pound are the international avoirdupois ones, exact by definition (1959).
fn grams_per_unit(unit: &str) -> Result<Decimal, DecimalError> {
    match unit.to_ascii_lowercase().as_str() {
        "mg" => Ok(Decimal::new(1, 3)),
        "g" | "gram" | "grams" => Ok(Decimal::ONE),
        "kg" => Ok(Decimal::new(1000, 0)),
        "oz" | "oz weight" => Ok(Decimal::new(28_349_523_125, 9)),
        "lb" => Ok(Decimal::new(45_359_237, 5)),
        "ml" | "l" | "cl" | "dl" | "fl oz" | "floz" | "fl oz us" | "fl oz uk" | "gal" => {
            Err(DecimalError::Volume { unit: shorten(unit) })
        }
        _ => Err(DecimalError::UnknownUnit { unit: shorten(unit) }),
    }
}

fn finish(negative: bool, plain: &str, typed: &str) -> Result<Decimal, DecimalError> {
    let digits = plain.trim_start_matches('0').chars().filter(char::is_ascii_digit).count();
    let decimals = plain.split_once('.').map_or(0, |(_, decimals)| decimals.len());
    if digits > MOST_DIGITS || decimals > MOST_DIGITS {
        return Err(DecimalError::TooLong { text: shorten(typed), most: MOST_DIGITS });
    }
    if !plain.contains(|c: char| c.is_ascii_digit()) {
        return Err(DecimalError::NoDigits { text: shorten(typed) });
    }
    let mut value = Decimal::from_str(plain).map_err(|_| DecimalError::NoDigits { text: shorten(typed) })?;
    value.set_sign_negative(negative && !value.is_zero());
    Ok(value)
}

fn split_sign<'a>(text: &'a str, signs: &[char]) -> (bool, &'a str) {
    match text.chars().next() {
        Some(sign) if signs.contains(&sign) => (sign != '+', &text[sign.len_utf8()..]),
        _ => (false, text),
    }
}

fn is_digit(character: char) -> bool {
    digit_value(character).is_some()
}

/// The Western digit for a Western, Arabic-Indic or extended Arabic-Indic (Persian, Urdu) digit.
fn digit_value(character: char) -> Option<char> {
    let value = match character {
        '0'..='9' => return Some(character),
        '\u{0660}'..='\u{0669}' => u32::from(character) - 0x0660,
        '\u{06F0}'..='\u{06F9}' => u32::from(character) - 0x06F0,
        _ => return None,
    };
    char::from_digit(value, 10)
}

/// Errors quote what was typed, but not a novel of it.
fn shorten(text: &str) -> String {
    const MOST: usize = 40;
    if text.chars().count() <= MOST {
        return text.to_owned();
    }
    let mut short: String = text.chars().take(MOST).collect();
    short.push('…');
    short
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_field_takes_point_comma_and_arabic_digits_and_keeps_the_digits() {
        for (typed, read) in [
            ("0.50", "0.50"),
            ("0,50", "0.50"),
            (" 12 ", "12"),
            (".5", "0.5"),
            ("5,", "5"),
            ("٠٫٢٥", "0.25"),
            ("۱۲,۵", "12.5"),
            ("\u{2212}0.3", "-0.3"),
            ("1,000", "1.000"),
        ] {
            assert_eq!(parse_typed(typed).unwrap().to_string(), read, "{typed}");
        }
    }

    #[test]
    fn a_field_guesses_nothing() {
        for typed in [
            "1,000.5",
            "1.000,5",
            "1.000.000",
            "1 000",
            "1'000",
            "1e-3",
            "5 %",
            "abc",
            "",
            ".",
            ",",
            "--1",
            "٬",
        ] {
            let error = parse_typed(typed).unwrap_err();
            assert!(!error.hint().is_empty(), "{typed}");
        }
        assert!(matches!(parse_typed("1 000"), Err(DecimalError::Grouped { .. })));
        assert!(matches!(parse_typed("5 %"), Err(DecimalError::NotANumber { found: '%', .. })));
        assert!(matches!(parse_typed("1,0.5"), Err(DecimalError::TwoSeparators { .. })));
    }

    #[test]
    fn a_page_can_ask_about_a_number_that_reads_like_grouping() {
        assert!(reads_like_grouping("1,000"));
        assert!(reads_like_grouping("12.345"));
        assert!(!reads_like_grouping("0,125"));
        assert!(!reads_like_grouping("1,00"));
        assert!(!reads_like_grouping("1000"));
        assert!(!reads_like_grouping("1,000.0"));
    }

    #[test]
    fn a_file_takes_the_point_only() {
        assert_eq!(parse_strict("0.50").unwrap().to_string(), "0.50");
        assert_eq!(parse_strict("-3").unwrap().to_string(), "-3");
        assert!(matches!(parse_strict("0,5"), Err(DecimalError::Comma { .. })));
        assert!(matches!(parse_strict("1,000.5"), Err(DecimalError::TwoSeparators { .. })));
        for text in [".5", "5.", "٥", " 5", "+5", "1e3", "", "-", "\u{2212}1"] {
            assert!(parse_strict(text).is_err(), "{text}");
        }
    }

    #[test]
    fn a_size_has_a_unit_of_mass() {
        for (text, grams) in [
            ("200g", "200"),
            ("1.5 kg", "1500.0"),
            ("0.01g", "0.01"),
            ("500 mg", "0.500"),
            ("1 lb", "453.59237"),
        ] {
            assert_eq!(parse_size(text).unwrap(), Decimal::from_str(grams).unwrap(), "{text}");
        }
        assert!(matches!(parse_size("200"), Err(DecimalError::NoUnit { .. })));
        assert!(matches!(parse_size("200 mL"), Err(DecimalError::Volume { .. })));
        assert!(matches!(parse_size("1 fl oz"), Err(DecimalError::Volume { .. })));
        assert!(matches!(parse_size("3 stone"), Err(DecimalError::UnknownUnit { .. })));
        assert!(matches!(parse_size("0g"), Err(DecimalError::NotPositive { .. })));
        assert!(matches!(parse_size("0,5 kg"), Err(DecimalError::Comma { .. })));
        assert_eq!(parse_typed_size("0,5 kg").unwrap(), Decimal::new(500, 0));
    }

    proptest! {
        #[test]
        fn no_text_makes_it_panic(text in "\\PC{0,60}") {
            let _ = (parse_typed(&text), parse_strict(&text), parse_size(&text), parse_typed_size(&text));
            let _ = reads_like_grouping(&text);
        }

        #[test]
        fn digits_survive_the_round_trip(mantissa in 0i64..1_000_000_000, scale in 0u32..9) {
            let number = Decimal::new(mantissa, scale);
            prop_assert_eq!(parse_strict(&number.to_string()).unwrap().to_string(), number.to_string());
            let comma = number.to_string().replace('.', ",");
            prop_assert_eq!(parse_typed(&comma).unwrap().to_string(), number.to_string());
        }
    }
}

//! What a line says.

use super::Reads;
use crate::records::DecimalSign;
use regex::{Regex, RegexBuilder};
use serde::Serialize;
use thiserror::Error;

/// Longest pattern, in letters.
const LONGEST_PATTERN: usize = 200;
/// A number with its sign; balances set the sign apart.
const NUMBER: &str = r"[+\-\x{2212}]?\s*(?:\d+(?:[.,]\d*)?|[.,]\d+)";
/// A unit or a mark: letters and the signs that stand for a unit.
const WORD: &str = r"[\p{L}\x{B0}%*?]*";

/// A line that was understood. Digits are kept as shown, with the sign drawn to them and a point for the decimal comma.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Line {
    /// Digits.
    pub digits: String,
    /// Unit: g, mg, kg; pH; C.
    pub unit: &'static str,
    /// Temperature in the same line, C.
    pub temperature: Option<String>,
    /// Whether the instrument says that it has settled; nothing where the pattern has no mark for it.
    pub settled: Option<bool>,
}

/// Why a line says nothing.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum Unread {
    /// It does not look like the pattern.
    #[error("the line \"{0}\" does not look like the pattern")]
    NotAsInPattern(String),
    /// No number.
    #[error("the line \"{0}\" has no number")]
    NoNumber(String),
    /// More than one number, and no pattern that says which.
    #[error("the line \"{0}\" has more than one number")]
    WhichNumber(String),
    /// A unit that is not one of this quantity.
    #[error("the line \"{line}\" gives the number in {unit}")]
    Unit {
        /// The line.
        line: String,
        /// The unit.
        unit: String,
    },
}

impl Unread {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::NotAsInPattern(_) => "write in line how the instrument's lines look",
            Self::NoNumber(_) => {
                "look at speed, bits and parity of the port; they must be those of the instrument"
            }
            Self::WhichNumber(_) => "say in line which one it is, such as line = \"{any},{number} {unit}\"",
            Self::Unit { .. } => "set the instrument to g, mg or kg, to pH, or to degrees Celsius",
        }
    }
}

/// Why a pattern is none.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum PatternError {
    /// Too long.
    #[error("the pattern is longer than {LONGEST_PATTERN} letters")]
    TooLong,
    /// No number in it, or more than one.
    #[error("the pattern has {0} places for {{number}}, one is needed")]
    Numbers(usize),
    /// A piece that is not known, or stands twice.
    #[error("{{{0}}} is not a piece of a pattern, or stands in it twice")]
    Piece(String),
    /// A brace without its other half.
    #[error("a brace of the pattern is not closed")]
    Open,
    /// Marks without a place for them.
    #[error("settled is given, and the pattern has no {{mark}}")]
    NoMark,
}

impl PatternError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        "a pattern is the line as the instrument writes it with {number}, {unit}, {mark}, {temperature} and {any} in the place of what changes; a space stands for any gap or none"
    }
}

/// Where number, unit and mark stand in a line.
#[derive(Clone, Debug)]
pub struct LinePattern {
    reads: Reads,
    pattern: Option<Regex>,
    lone: Regex,
    settled: Vec<String>,
    unit: Option<&'static str>,
}

impl LinePattern {
    /// A pattern of pieces, or the lines with one number in them where there is none. `settled` are the marks that say it; `unit` is that of lines
    /// that name none.
    ///
    /// # Errors
    /// [`PatternError`].
    pub fn new(
        reads: Reads,
        pieces: Option<&str>,
        settled: &[String],
        unit: Option<&'static str>,
    ) -> Result<Self, PatternError> {
        let pattern = pieces.map(|pieces| compiled(&translated(pieces)?)).transpose()?;
        if !settled.is_empty()
            && pattern
                .as_ref()
                .is_some_and(|pattern| pattern.capture_names().flatten().all(|name| name != "mark"))
        {
            return Err(PatternError::NoMark);
        }
        let settled = settled.iter().map(|mark| mark.trim().to_lowercase()).collect();
        let lone = compiled(&format!(r"(?P<number>{NUMBER})\s*(?P<unit>{WORD})"))?;
        Ok(Self { reads, pattern, lone, settled, unit })
    }

    /// Reads a line.
    ///
    /// # Errors
    /// [`Unread`].
    pub fn read(&self, line: &str) -> Result<Line, Unread> {
        let line = line.trim();
        let found = match &self.pattern {
            Some(pattern) => pattern.captures(line).ok_or_else(|| Unread::NotAsInPattern(short(line)))?,
            None => {
                let mut all = self.lone.captures_iter(line);
                let first = all.next().ok_or_else(|| Unread::NoNumber(short(line)))?;
                if all.next().is_some() {
                    return Err(Unread::WhichNumber(short(line)));
                }
                first
            }
        };
        let piece = |name: &str| {
            found.name(name).map(|piece| piece.as_str().trim()).filter(|piece| !piece.is_empty())
        };
        let digits =
            digits(piece("number").unwrap_or_default()).ok_or_else(|| Unread::NoNumber(short(line)))?;
        let unit = self.unit(piece("unit")).ok_or_else(|| Unread::Unit {
            line: short(line),
            unit: piece("unit").unwrap_or_default().to_owned(),
        })?;
        let marks = match (&self.pattern, piece("mark")) {
            (Some(_), mark) => mark.unwrap_or_default(),
            (None, _) => line,
        };
        let settled = || {
            marks
                .split(|sign: char| !sign.is_alphanumeric() && !"%*?".contains(sign))
                .any(|word| self.settled.contains(&word.to_lowercase()))
        };
        Ok(Line {
            digits,
            unit,
            temperature: piece("temperature").and_then(self::digits),
            settled: (!self.settled.is_empty()).then(settled),
        })
    }

    fn unit(&self, written: Option<&str>) -> Option<&'static str> {
        let Some(written) = written else {
            return Some(self.unit.unwrap_or(match self.reads {
                Reads::Mass => "g",
                Reads::Ph => "pH",
                Reads::Temperature => "C",
            }));
        };
        match (self.reads, written.to_lowercase().as_str()) {
            (Reads::Mass, "g") => Some("g"),
            (Reads::Mass, "mg") => Some("mg"),
            (Reads::Mass, "kg") => Some("kg"),
            (Reads::Ph, "ph") => Some("pH"),
            (Reads::Temperature, "c" | "\u{B0}c" | "degc") => Some("C"),
            _ => None,
        }
    }
}

/// Digits without gaps, with a point.
fn digits(number: &str) -> Option<String> {
    let plain: String = number.chars().filter(|sign| !sign.is_whitespace() && *sign != '+').collect();
    let plain = plain.replace(',', ".").replace('\u{2212}', "-");
    DecimalSign::Point.read(&plain).map(|_| plain)
}

fn short(line: &str) -> String {
    line.chars().filter(|sign| !sign.is_control()).take(60).collect()
}

fn compiled(pattern: &str) -> Result<Regex, PatternError> {
    RegexBuilder::new(pattern).size_limit(1 << 20).build().map_err(|_| PatternError::TooLong)
}

/// A pattern of pieces as a regular expression over the whole line.
fn translated(pieces: &str) -> Result<String, PatternError> {
    if pieces.chars().count() > LONGEST_PATTERN {
        return Err(PatternError::TooLong);
    }
    let mut out = String::from("^");
    let mut named: Vec<&str> = Vec::new();
    let mut rest = pieces.trim();
    while let Some(open) = rest.find(['{', '}']) {
        out.push_str(&literal(&rest[..open]));
        let inside = rest[open..].strip_prefix('{').ok_or(PatternError::Open)?;
        let close = inside.find('}').ok_or(PatternError::Open)?;
        let name = &inside[..close];
        let expression = match name {
            "any" => ".*?".to_owned(),
            "number" | "temperature" => format!("(?P<{name}>{NUMBER})"),
            "unit" | "mark" => format!("(?P<{name}>{WORD})"),
            other => return Err(PatternError::Piece(other.to_owned())),
        };
        if name != "any" && named.contains(&name) {
            return Err(if name == "number" {
                PatternError::Numbers(2)
            } else {
                PatternError::Piece(name.to_owned())
            });
        }
        named.push(name);
        out.push_str(&expression);
        rest = &inside[close + 1..];
    }
    if !named.contains(&"number") {
        return Err(PatternError::Numbers(0));
    }
    out.push_str(&literal(rest));
    out.push('$');
    Ok(out)
}

/// What stands in a line as it is; a gap may be any gap or none.
fn literal(text: &str) -> String {
    let mut out = String::new();
    let mut gap = false;
    for sign in text.chars() {
        if sign.is_whitespace() {
            gap = true;
            continue;
        }
        if std::mem::take(&mut gap) {
            out.push_str(r"\s*");
        }
        out.push_str(&regex::escape(sign.encode_utf8(&mut [0; 4])));
    }
    if gap {
        out.push_str(r"\s*");
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn of(reads: Reads, pieces: Option<&str>, settled: &[&str]) -> LinePattern {
        let settled: Vec<String> = settled.iter().map(|mark| (*mark).to_owned()).collect();
        LinePattern::new(reads, pieces, &settled, None).expect("a pattern")
    }

    fn line(digits: &str, unit: &'static str, settled: Option<bool>) -> Line {
        Line { digits: digits.to_owned(), unit, temperature: None, settled }
    }

    #[test]
    fn a_line_with_one_number_needs_no_pattern() {
        let balance = of(Reads::Mass, None, &[]);
        for (text, digits, unit) in [
            ("  12.340 g \r", "12.340", "g"),
            ("+   12.340 g", "12.340", "g"),
            ("-    0,020 kg", "-0.020", "kg"),
            ("N  \u{2212} 3.1mg", "-3.1", "mg"),
            ("ok,nett,+0001.20 g", "0001.20", "g"),
            ("120.5", "120.5", "g"),
        ] {
            assert_eq!(balance.read(text), Ok(line(digits, unit, None)), "{text}");
        }
        assert_eq!(of(Reads::Ph, None, &[]).read("pH 5.48"), Ok(line("5.48", "pH", None)));
        assert_eq!(of(Reads::Temperature, None, &[]).read("24.9 \u{B0}C"), Ok(line("24.9", "C", None)));
    }

    #[test]
    fn what_is_not_understood_is_never_guessed() {
        let balance = of(Reads::Mass, None, &[]);
        assert_eq!(balance.read("Err"), Err(Unread::NoNumber("Err".to_owned())));
        assert_eq!(balance.read(""), Err(Unread::NoNumber(String::new())));
        assert!(matches!(balance.read("2 pcs 1.25 g"), Err(Unread::WhichNumber(_))));
        assert!(matches!(balance.read("1.250 lb"), Err(Unread::Unit { .. })));
        assert!(balance.read("1.2.3 g").is_err());
        assert!(matches!(of(Reads::Ph, None, &[]).read("412 mV"), Err(Unread::Unit { .. })));
    }

    #[test]
    fn a_pattern_says_where_number_unit_and_mark_stand() {
        let balance = of(Reads::Mass, Some("{mark} {any} {number} {unit}"), &["still", "Ok"]);
        assert_eq!(balance.read("OK pan     12.340 g"), Ok(line("12.340", "g", Some(true))));
        assert_eq!(balance.read("moves pan     12.338 g"), Ok(line("12.338", "g", Some(false))));
        let balance = of(Reads::Mass, Some("{mark};gross; {number} {unit}"), &["still"]);
        assert_eq!(balance.read("still;gross;+   0.520 g"), Ok(line("0.520", "g", Some(true))));
        assert_eq!(balance.read("moves;gross;+   0.511 g"), Ok(line("0.511", "g", Some(false))));
        assert!(matches!(balance.read("still;nett;+   0.520 g"), Err(Unread::NotAsInPattern(_))));
        let any = of(Reads::Mass, None, &["still"]);
        assert_eq!(any.read("pan;still; 0.520 g"), Ok(line("0.520", "g", Some(true))));
        assert_eq!(any.read("pan;moves; 0.520 g"), Ok(line("0.520", "g", Some(false))));
        let meter = of(Reads::Ph, Some("{any};{number} {unit};{temperature} C"), &[]);
        let read = meter.read("2026-11-27 09:30;5.482 pH;24.9 C").expect("a line");
        assert_eq!((read.digits.as_str(), read.temperature.as_deref()), ("5.482", Some("24.9")));
    }

    #[test]
    fn a_pattern_that_is_none_is_told() {
        let error = |pieces: &str, settled: &[String]| {
            LinePattern::new(Reads::Mass, Some(pieces), settled, None).map(drop).unwrap_err()
        };
        assert_eq!(error("{unit}", &[]), PatternError::Numbers(0));
        assert_eq!(error("{number} {number}", &[]), PatternError::Numbers(2));
        assert_eq!(error("{number} {colour}", &[]), PatternError::Piece("colour".to_owned()));
        assert_eq!(error("{number", &[]), PatternError::Open);
        assert_eq!(error("number}", &[]), PatternError::Open);
        assert_eq!(error("{number}", &["S".to_owned()]), PatternError::NoMark);
        assert_eq!(error(&"x".repeat(300), &[]), PatternError::TooLong);
    }

    proptest! {
        #[test]
        fn any_line_and_any_pattern_are_borne(text in "\\PC{0,80}", pieces in "[\\PC{}]{0,40}") {
            let _ = of(Reads::Mass, None, &[]).read(&text);
            if let Ok(pattern) = LinePattern::new(Reads::Mass, Some(&pieces), &[], None) {
                let _ = pattern.read(&text);
            }
        }

        #[test]
        fn digits_are_kept_as_shown(whole in 0..100_000_u32, part in "[0-9]{0,4}", negative in any::<bool>(), gap in 0..6_usize) {
            let digits = if part.is_empty() { whole.to_string() } else { format!("{whole}.{part}") };
            let sign = if negative { "-" } else { "" };
            let text = format!("  {sign}{}{digits} g", " ".repeat(gap));
            let read = of(Reads::Mass, None, &[]).read(&text).expect("a line");
            prop_assert_eq!(read.digits, format!("{sign}{digits}"));
        }
    }
}

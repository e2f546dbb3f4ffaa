//! One cell as a number, with the decimal sign of the file; never guessed.

use crate::records::DecimalSign;

/// Longest text that is looked at as a number, bytes.
const LONGEST: usize = 40;

/// The number of a cell. A text with both signs, or grouped digits, is none.
pub(super) fn number(cell: &str, sign: DecimalSign) -> Option<f64> {
    let cell = cell.trim_matches(|sign: char| sign.is_whitespace() || sign == '\u{FEFF}');
    if cell.is_empty() || cell.len() > LONGEST {
        return None;
    }
    // Most cells of a long file are read here, so nothing is put on the heap.
    let mut plain = [0_u8; LONGEST];
    let (mut length, mut commas, mut points) = (0, 0, 0);
    for sign in cell.chars() {
        let byte = match sign {
            ',' => b',',
            '\u{2212}' => b'-',
            '0'..='9' | '.' | 'e' | 'E' | '+' | '-' => sign as u8,
            _ => return None,
        };
        commas += u8::from(byte == b',');
        points += u8::from(byte == b'.');
        plain[length] = if byte == b',' { b'.' } else { byte };
        length += 1;
    }
    // A second sign, or the other one, may part thousands.
    let (own, other) = if sign == DecimalSign::Comma { (commas, points) } else { (points, commas) };
    if own > 1 || other > 0 {
        return None;
    }
    let text = std::str::from_utf8(&plain[..length]).ok()?;
    text.parse::<f64>().ok().filter(|value| value.is_finite())
}

/// Whether a cell is a number with either sign.
pub(super) fn looks_numeric(cell: &str) -> bool {
    number(cell, DecimalSign::Point).is_some() || number(cell, DecimalSign::Comma).is_some()
}

/// `1:30` or `00:01:30` in seconds.
pub(super) fn clock(text: &str) -> Option<f64> {
    let parts: Vec<&str> = text.trim().split(':').collect();
    if !(2..=3).contains(&parts.len()) {
        return None;
    }
    parts.iter().try_fold(0.0, |sum, part| {
        let digits = !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.');
        let value: f64 = part.parse().ok().filter(|_| digits)?;
        Some(60.0 * sum + value)
    })
}

/// Why a cell is no number, in words.
pub(super) fn why_not(cell: &str, sign: DecimalSign) -> String {
    let cell = cell.trim();
    let lower = cell.to_lowercase();
    let (other, name) = match sign {
        DecimalSign::Point => (',', "point"),
        DecimalSign::Comma => ('.', "comma"),
    };
    if cell.is_empty() {
        "the cell is empty".to_owned()
    } else if cell.starts_with('=') {
        "a formula, not its value; save the values".to_owned()
    } else if cell.starts_with('#') {
        "an error of the spreadsheet".to_owned()
    } else if cell.starts_with(['<', '>']) {
        "a limit, not a value".to_owned()
    } else if ["nan", "inf", "-inf", "infinity", "-infinity", "n/a", "na", "-", "--", "---", "–", "***"]
        .contains(&lower.as_str())
    {
        "the instrument gave no number".to_owned()
    } else if cell.contains(other) && cell.bytes().any(|byte| byte.is_ascii_digit()) {
        format!(
            "the decimal sign of this file is the {name}; whether \"{other}\" parts thousands is never guessed"
        )
    } else {
        "text, not a number".to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signs_are_kept_apart() {
        let (point, comma) = (DecimalSign::Point, DecimalSign::Comma);
        assert_eq!(number(" 1.5E+01 ", point), Some(15.0));
        assert_eq!(number("\u{2212}0,25", comma), Some(-0.25));
        assert_eq!(number("7", comma), Some(7.0));
        for text in ["1,5", "1,234.5", "1 234", "nan", "inf", "1e999", "", "0x10", "1.5 Pa"] {
            assert_eq!(number(text, point), None, "{text}");
        }
        assert_eq!((clock("1:30"), clock("01:00:05.5")), (Some(90.0), Some(3605.5)));
        for text in ["90", "1:", "1:2:3:4", "a:b", "-1:30", ":"] {
            assert_eq!(clock(text), None, "{text}");
        }
        for text in ["1.5", "1.234,5", "1,2,3"] {
            assert_eq!(number(text, comma), None, "{text}");
        }
    }
}

//! What is wrong with an input, for people: which file, line, column and field, what is wrong, what to do.

use serde::{Deserialize, Serialize};
use std::ops::Range;

/// One thing wrong with an input.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Diagnostic {
    /// Stable code, kebab-case.
    pub code: String,
    /// File name as given, `-` for standard input, empty when there is none.
    pub file: String,
    /// Line, from 1; 0 when the whole input is meant.
    pub line: usize,
    /// Column in characters, from 1; 0 when the whole line is meant.
    pub column: usize,
    /// Field, as a path (`phase 2, line 3, percent`).
    pub field: String,
    /// What is wrong.
    pub what: String,
    /// What to do.
    pub what_now: String,
    /// Line of the formula it concerns, from 0.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sheet_line: Option<usize>,
}

impl std::fmt::Display for Diagnostic {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.line > 0 {
            write!(f, "{}:{}:{}: ", self.file, self.line, self.column)?;
        }
        if !self.field.is_empty() {
            write!(f, "{}: ", self.field)?;
        }
        write!(f, "{}; {}", self.what, self.what_now)
    }
}

/// Line and column (both from 1, columns in characters) of a byte offset.
#[must_use]
pub fn place(text: &str, offset: usize) -> (usize, usize) {
    let mut end = offset.min(text.len());
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    let before = &text[..end];
    let line = before.matches('\n').count() + 1;
    let start = before.rfind('\n').map_or(0, |at| at + 1);
    (line, before[start..].chars().count() + 1)
}

/// A diagnostic for a piece of a text.
#[must_use]
pub fn at(
    (file, text): (&str, &str),
    span: &Range<usize>,
    code: &str,
    field: impl Into<String>,
    what: impl Into<String>,
    what_now: impl Into<String>,
) -> Diagnostic {
    let (line, column) = place(text, span.start);
    Diagnostic {
        code: code.to_owned(),
        file: file.to_owned(),
        line,
        column,
        field: field.into(),
        what: what.into(),
        what_now: what_now.into(),
        sheet_line: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_count_characters_not_bytes() {
        assert_eq!(place("a\nµx = 1", 4), (2, 2));
        assert_eq!(place("", 7), (1, 1));
    }
}

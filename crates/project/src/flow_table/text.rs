//! Text into rows and cells: what parts the columns and which decimal sign is written is told from the rows that hold numbers.

use super::grid::Grid;
use super::number::{clock, looks_numeric, number};
use super::{Fault, MOST_COLUMNS, MOST_ROWS};
use crate::records::DecimalSign;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// Lines looked at to tell what parts the columns.
const LOOKED_AT: usize = 400;

/// Rows looked at, spread over the table, to tell the decimal sign.
const ROWS_OF_SIGNS: usize = 20_000;

/// What parts the columns.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Separator {
    /// Tab.
    Tab,
    /// Semicolon.
    Semicolon,
    /// Upright bar.
    Bar,
    /// Comma.
    Comma,
    /// Two or more spaces.
    WideSpaces,
    /// Any spaces.
    Spaces,
}

impl Separator {
    const ALL: [Self; 6] =
        [Self::Tab, Self::Semicolon, Self::Bar, Self::Comma, Self::WideSpaces, Self::Spaces];

    fn sign(self) -> Option<char> {
        match self {
            Self::Tab => Some('\t'),
            Self::Semicolon => Some(';'),
            Self::Bar => Some('|'),
            Self::Comma => Some(','),
            Self::WideSpaces | Self::Spaces => None,
        }
    }

    /// Its name.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Tab => "tabs",
            Self::Semicolon => "semicolons",
            Self::Bar => "upright bars",
            Self::Comma => "commas",
            Self::WideSpaces | Self::Spaces => "spaces",
        }
    }
}

/// Lines that a quoted cell may run over.
const LONGEST_CELL_LINES: usize = 8;

/// Lines with their numbers from 1. A quote that is open at the end of a line takes the next lines in until it closes.
fn lines(text: &str) -> impl Iterator<Item = (usize, &str)> {
    let end = if text.contains('\n') { '\n' } else { '\r' };
    let (mut rest, mut number) = (Some(text), 0);
    std::iter::from_fn(move || {
        let text = rest?;
        let mut ends = text.match_indices(end).map(|(at, _)| at).chain(std::iter::once(text.len()));
        let mut line_end = ends.next()?;
        let mut taken = 1;
        if open(&text[..line_end]) {
            let closes = ends.take(LONGEST_CELL_LINES).enumerate().find(|(_, at)| !open(&text[..*at]));
            if let Some((more, at)) = closes {
                (line_end, taken) = (at, more + 2);
            }
        }
        rest = text.get(line_end + 1..);
        let first = number + 1;
        number += taken;
        let line = &text[..line_end];
        Some((first, line.strip_suffix('\r').unwrap_or(line)))
    })
}

fn open(line: &str) -> bool {
    line.bytes().filter(|byte| *byte == b'"').count() % 2 == 1
}

/// Splits a line. Quotes hold a cell together; two quotes inside are one.
fn split<'l>(line: &'l str, separator: Separator, mut add: impl FnMut(Cow<'l, str>)) {
    let Some(sign) = separator.sign() else {
        let least = if separator == Separator::Spaces { 1 } else { 2 };
        return split_at_spaces(line, least, add);
    };
    if !line.contains('"') {
        line.split(sign).for_each(|cell| add(Cow::Borrowed(cell.trim())));
        return;
    }
    let mut rest = line;
    loop {
        let start = rest.trim_start_matches([' ', '\u{A0}']);
        let (cell, after) = match start.strip_prefix('"').and_then(quoted) {
            Some((cell, after)) => (cell, after.trim_start_matches([' ', '\u{A0}'])),
            None => {
                let end = rest.find(sign).unwrap_or(rest.len());
                (Cow::Borrowed(rest[..end].trim()), &rest[end..])
            }
        };
        // What stands between a closing quote and the separator is no cell of its own.
        let end = after.find(sign);
        add(cell);
        match end {
            Some(end) => rest = &after[end + sign.len_utf8()..],
            None => return,
        }
    }
}

/// What stands before the closing quote, and the rest.
fn quoted(text: &str) -> Option<(Cow<'_, str>, &str)> {
    let mut from = 0;
    loop {
        let end = from + text[from..].find('"')?;
        if text[end + 1..].starts_with('"') {
            from = end + 2;
            continue;
        }
        let inner = text[..end].trim();
        let cell = if inner.contains("\"\"") {
            Cow::Owned(inner.replace("\"\"", "\""))
        } else {
            Cow::Borrowed(inner)
        };
        return Some((cell, &text[end + 1..]));
    }
}

fn split_at_spaces<'l>(line: &'l str, least: usize, mut add: impl FnMut(Cow<'l, str>)) {
    let line = line.trim();
    let mut start = 0;
    let mut gap: Option<(usize, usize)> = None;
    for (at, sign) in line.char_indices() {
        if sign.is_whitespace() {
            gap = Some(gap.map_or((at, 1), |(from, count)| (from, count + 1)));
        } else if let Some((from, count)) = gap.take()
            && count >= least
        {
            add(Cow::Borrowed(&line[start..from]));
            start = at;
        }
    }
    add(Cow::Borrowed(&line[start..]));
}

/// How well a separator fits: share of numbers in the cells of rows with two numbers or more.
fn fit(rows: &[&str], separator: Separator, sign: DecimalSign) -> f64 {
    let mut sum = 0.0;
    for line in rows {
        let (mut cells, mut numbers) = (0_u32, 0_u32);
        split(line, separator, |cell| {
            if !cell.is_empty() {
                cells += 1;
                numbers += u32::from(number(&cell, sign).is_some() || clock(&cell).is_some());
            }
        });
        if numbers >= 2 {
            sum += f64::from(numbers) / f64::from(cells);
        }
    }
    sum
}

/// What parts the columns; `None` where no line holds two numbers.
fn separator(text: &str) -> Option<Separator> {
    let all = lines(text).map(|(_, line)| line);
    let with_digits = all.filter(|line| line.bytes().any(|byte| byte.is_ascii_digit()));
    let rows: Vec<&str> = with_digits.take(LOOKED_AT).collect();
    let mut best = (0.0, None);
    for separator in Separator::ALL {
        for sign in [DecimalSign::Point, DecimalSign::Comma] {
            let fit = fit(&rows, separator, sign);
            if fit > best.0 + 1e-9 {
                best = (fit, Some(separator));
            }
        }
    }
    best.1
}

/// The decimal sign of the cells: the one that makes more of them numbers; whether it is sure.
pub(super) fn decimal_sign(grid: &Grid<'_>) -> (DecimalSign, Result<(), String>) {
    let (mut points, mut commas, mut threes) = (0_u64, 0_u64, 0_u64);
    for row in (0..grid.len()).step_by(grid.len() / ROWS_OF_SIGNS + 1) {
        for cell in grid.row(row) {
            let (point, comma) = (cell.contains('.'), cell.contains(','));
            if point != comma && looks_numeric(cell) {
                points += u64::from(point);
                commas += u64::from(comma);
                if comma {
                    let (whole, part) = cell.split_once(',').unwrap_or((cell, ""));
                    let grouped =
                        part.len() == 3 && (1..=3).contains(&whole.len()) && !whole.starts_with('0');
                    threes += u64::from(grouped);
                }
            }
        }
    }
    if commas <= points {
        return (DecimalSign::Point, Ok(()));
    }
    let sure = if threes == commas {
        Err("every comma stands before three digits: it was read as the decimal sign, not as one of thousands".to_owned())
    } else {
        Ok(())
    };
    (DecimalSign::Comma, sure)
}

/// The text as a grid.
pub(super) fn grid(text: &str) -> Result<(Grid<'_>, Separator), Fault> {
    let Some(separator) = separator(text) else {
        return Err(Fault::new(
            "no-points",
            "no line of this text holds two numbers",
            "a flow curve has a shear rate and a stress or viscosity in every row",
        ));
    };
    let mut grid = Grid::default();
    for (line, row) in lines(text) {
        if row.trim().is_empty() {
            continue;
        }
        if grid.len() >= MOST_ROWS {
            return Err(Fault::new(
                "too-many-rows",
                format!("there are more than {MOST_ROWS} rows"),
                "thin the file out or split it; a flow curve needs some tens of points",
            )
            .on(line));
        }
        grid.begin(line);
        split(row, separator, |cell| grid.add(cell));
        if grid.width() > MOST_COLUMNS {
            return Err(super::too_many_columns(line));
        }
    }
    Ok((grid, separator))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cells(line: &str, separator: Separator) -> Vec<String> {
        let mut cells = Vec::new();
        split(line, separator, |cell| cells.push(cell.into_owned()));
        cells
    }

    #[test]
    fn quotes_hold_a_cell_together() {
        assert_eq!(cells(r#""0,1", "a ""b""" ,3"#, Separator::Comma), ["0,1", r#"a "b""#, "3"]);
        assert_eq!(cells("\"open,1", Separator::Comma), ["\"open", "1"]);
        assert_eq!(cells("a;;b;", Separator::Semicolon), ["a", "", "b", ""]);
        assert_eq!(cells("  1  shear rate   2 ", Separator::WideSpaces), ["1", "shear rate", "2"]);
    }

    #[test]
    fn the_separator_is_told_from_the_numbers() {
        for (text, wanted) in [
            ("1,2\n3,4", Separator::Comma),
            ("1,5;2,5\n3,5;4,5", Separator::Semicolon),
            ("1.5\t2,5\t7", Separator::Tab),
            ("a b\n1.5  2.5\n3  4", Separator::WideSpaces),
            ("1 2\n3 4", Separator::Spaces),
            ("1|2\n3|4", Separator::Bar),
        ] {
            assert_eq!(separator(text), Some(wanted), "{text}");
        }
        assert_eq!(separator("words only"), None);
    }

    #[test]
    fn every_end_of_line_ends_a_line() {
        let found: Vec<_> = lines("a\r\nb\nc").collect();
        assert_eq!(found, [(1, "a"), (2, "b"), (3, "c")]);
        let found: Vec<_> = lines("a\rb").collect();
        assert_eq!(found, [(1, "a"), (2, "b")]);
        let found: Vec<_> = lines("\"rate\n[1/s]\",b\n1,2\n\"3\n4").collect();
        assert_eq!(found, [(1, "\"rate\n[1/s]\",b"), (3, "1,2"), (4, "\"3"), (5, "4")]);
    }
}

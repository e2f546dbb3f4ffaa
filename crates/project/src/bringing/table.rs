//! Bytes into a table of cells that still know what they were: a text, a number, a percentage, a day.
//!
//! A spreadsheet keeps `5 %` as 0.05 with a form of showing it, and a day as a number of days. The form is read too, so that neither is
//! mistaken for a plain number.

use super::{MOST_CELL, NOT_COMPUTED};
use crate::flow_table::bytes::{Content, content};
use crate::flow_table::ledger::Fault;
use crate::flow_table::workbook::within_bounds;
use calamine::{DataRef, Dimensions, Reader as _, Xlsx};
use jiff::civil::Date;
use rust_decimal::Decimal;
use std::collections::BTreeMap;
use std::io::Cursor;

/// Most rows of a table: a laboratory's whole list with room to spare.
const MOST_ROWS: usize = 20_000;
/// Most columns.
const MOST_COLUMNS: usize = 200;
/// Most worksheets.
const MOST_SHEETS: usize = 64;
/// Rows looked at to tell what parts the columns.
const LOOKED_AT: usize = 200;
/// Lines a quoted cell may run over; more, and a quotation mark was never closed.
const MOST_LINES_OF_CELL: usize = 40;
/// Days a spreadsheet can show: to the end of the year 9999.
const LAST_SERIAL: f64 = 2_958_465.0;

/// What a cell was.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) enum Stored {
    /// A text, or nothing.
    #[default]
    Text,
    /// A number.
    Number(Decimal),
    /// A number shown as a percentage; the percent.
    Percent(Decimal),
    /// A day.
    Day(Date),
    /// An error of the spreadsheet.
    Error,
}

/// A cell.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Cell {
    /// As it is shown.
    pub(crate) text: String,
    /// What it was.
    pub(crate) stored: Stored,
    /// A formula stands behind it; the value is the one computed last.
    pub(crate) formula: bool,
}

/// A row.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Row {
    /// Line of the file, from 1.
    pub(crate) line: usize,
    /// Cells from the first column.
    pub(crate) cells: Vec<Cell>,
}

impl Row {
    /// The text of a cell.
    pub(crate) fn text(&self, column: usize) -> &str {
        self.cells.get(column).map_or("", |cell| cell.text.as_str())
    }

    /// Cells with something in them.
    pub(super) fn filled(&self) -> impl Iterator<Item = (usize, &Cell)> {
        self.cells.iter().enumerate().filter(|(_, cell)| !cell.text.is_empty())
    }
}

/// A table and how it was read.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Table {
    /// `text` or `workbook`.
    pub(super) kind: &'static str,
    /// Encoding of a text.
    pub(super) encoding: Option<&'static str>,
    /// What parts the columns of a text.
    pub(super) separator: Option<&'static str>,
    /// The sheet it stands on; empty for a text.
    pub(super) sheet: String,
    /// All sheets with the number of their rows.
    pub(super) sheets: Vec<(String, usize)>,
    /// Rows with something in them.
    pub(crate) rows: Vec<Row>,
    /// Number of columns.
    pub(super) width: usize,
    /// What is worth knowing.
    pub(super) remarks: Vec<String>,
}

/// Reads a table. `sheet`: the one asked for; empty, the first with anything on it.
pub(crate) fn read(bytes: &[u8], sheet: &str) -> Result<Table, Fault> {
    let table = match content(bytes).map_err(worded)? {
        Content::Workbook => workbook(bytes, sheet)?,
        Content::Text(text, encoding) => text_table(&text, encoding)?,
    };
    if table.rows.is_empty() {
        return Err(Fault::new(
            "empty-file",
            "there is nothing in this table",
            "choose the sheet with the rows, or paste them",
        ));
    }
    Ok(table)
}

/// The faults of the shared reader, with what to do in the words of a list.
fn worded(fault: Fault) -> Fault {
    let what_now = match fault.code {
        "too-large" => "save the sheet with the list alone, without pictures, or as CSV",
        "empty-file" => "choose the file with the list, or paste its rows",
        "not-a-table" => "open it in a spreadsheet and save it as .xlsx or CSV, or paste its rows",
        _ => return fault,
    };
    Fault { what_now: what_now.to_owned(), ..fault }
}

fn broken(error: &dyn std::fmt::Display) -> Fault {
    Fault::new(
        "broken-workbook",
        format!("this workbook cannot be read: {error}"),
        "open it in a spreadsheet and save it again as .xlsx, or save the sheet as CSV",
    )
}

fn too_many(what: &str, most: usize) -> Fault {
    Fault::new(
        "too-large",
        format!("there are more than {most} {what}"),
        "split the table, or save the part with the list alone",
    )
}

fn text_table(text: &str, encoding: &'static str) -> Result<Table, Fault> {
    let Some((sign, separator)) = separator(text) else {
        return Err(Fault::new(
            "no-columns",
            "no tab, semicolon, comma or bar parts the cells of this text",
            "copy the cells out of the spreadsheet and paste them, or save the sheet as CSV",
        ));
    };
    let mut rows = Vec::new();
    let mut width = 0;
    for record in reader(text, sign).records() {
        let record = record.map_err(|error| {
            Fault::new("not-a-table", error.to_string(), "save the table once more as CSV")
        })?;
        // The place of a record is where the one before ended; empty lines between the two are passed over.
        let line = record.position().map_or(0, |place| {
            let start = usize::try_from(place.byte()).unwrap_or(0);
            let blank = text.as_bytes().iter().skip(start).take_while(|byte| matches!(byte, b'\n' | b'\r'));
            let passed = blank.filter(|byte| **byte == b'\n').count();
            usize::try_from(place.line()).unwrap_or(0) + passed
        });
        let mut cells = Vec::new();
        for cell in record.iter() {
            if cell.matches('\n').count() > MOST_LINES_OF_CELL {
                return Err(Fault::new(
                    "open-quote",
                    "a quotation mark is opened and not closed",
                    "look at the first quotation mark of this row; write it twice where it belongs to the text",
                )
                .on(line));
            }
            cells.push(Cell { text: tidy(cell), ..Cell::default() });
        }
        if cells.iter().all(|cell| cell.text.is_empty()) {
            continue;
        }
        if cells.len() > MOST_COLUMNS {
            return Err(too_many("columns", MOST_COLUMNS).on(line));
        }
        if rows.len() >= MOST_ROWS {
            return Err(too_many("rows", MOST_ROWS));
        }
        width = width.max(cells.len());
        rows.push(Row { line, cells });
    }
    let mut remarks = Vec::new();
    if encoding == "Windows-1252" && !text.is_ascii() {
        remarks.push("The text is no UTF-8; it was read as Windows-1252 (Latin-1).".to_owned());
    }
    Ok(Table {
        kind: "text",
        encoding: Some(encoding),
        separator: Some(separator),
        sheet: String::new(),
        sheets: Vec::new(),
        rows,
        width,
        remarks,
    })
}

fn reader(text: &str, sign: u8) -> csv::Reader<&[u8]> {
    csv::ReaderBuilder::new().delimiter(sign).has_headers(false).flexible(true).from_reader(text.as_bytes())
}

/// What parts the columns: the sign by which most rows have the same number of cells.
fn separator(text: &str) -> Option<(u8, &'static str)> {
    let signs = [(b'\t', "tabs"), (b';', "semicolons"), (b'|', "upright bars"), (b',', "commas")];
    let mut best = (0, None);
    for (sign, words) in signs {
        let mut widths: BTreeMap<usize, usize> = BTreeMap::new();
        for record in reader(text, sign).records().take(LOOKED_AT).filter_map(Result::ok) {
            if record.len() > 1 {
                *widths.entry(record.len()).or_default() += 1;
            }
        }
        let most = widths.values().copied().max().unwrap_or_default();
        if most > best.0 {
            best = (most, Some((sign, words)));
        }
    }
    best.1
}

/// A text without blanks around it, one blank for every gap, no longer than is kept.
fn tidy(text: &str) -> String {
    let words = text.trim_matches('\u{FEFF}').split(char::is_whitespace).filter(|word| !word.is_empty());
    words.collect::<Vec<_>>().join(" ").chars().filter(|sign| !sign.is_control()).take(MOST_CELL).collect()
}

fn workbook(bytes: &[u8], asked: &str) -> Result<Table, Fault> {
    within_bounds(bytes).map_err(worded)?;
    let mut book = Xlsx::new(Cursor::new(bytes)).map_err(|error| broken(&error))?;
    let names: Vec<String> = book.sheet_names().into_iter().take(MOST_SHEETS).collect();
    if !asked.is_empty() && !names.iter().any(|name| name == asked) {
        let there = names.join(", ");
        return Err(Fault::new(
            "no-such-sheet",
            format!("no sheet is called \"{asked}\""),
            format!("the sheets are {there}"),
        ));
    }
    let mut sheets = Vec::new();
    let mut taken: Option<Table> = None;
    for name in names {
        let (rows, width, mut remarks) = match worksheet(&mut book, &name) {
            Ok(Some(read)) => read,
            Ok(None) => continue,
            // Another sheet than the one asked for may be as large as it likes.
            Err(_) if !asked.is_empty() && name != asked => {
                sheets.push((name, 0));
                continue;
            }
            Err(fault) => return Err(fault),
        };
        sheets.push((name.clone(), rows.len()));
        let wanted = if asked.is_empty() { taken.is_none() && !rows.is_empty() } else { name == asked };
        if wanted {
            let formulas = rows.iter().flat_map(|row| &row.cells).filter(|cell| cell.formula).count();
            if formulas > 0 {
                let cells = if formulas == 1 {
                    "One cell holds a formula".to_owned()
                } else {
                    format!("{formulas} cells hold formulas")
                };
                remarks.push(format!("{cells}; what the spreadsheet computed last was read."));
            }
            taken = Some(Table {
                kind: "workbook",
                encoding: None,
                separator: None,
                sheet: name,
                sheets: Vec::new(),
                rows,
                width,
                remarks,
            });
        }
    }
    let nothing = Fault::new("empty-file", "no sheet holds anything", "save the sheet with the list");
    taken.map(|table| Table { sheets, ..table }).ok_or(nothing)
}

type Sheet = (Vec<Row>, usize, Vec<String>);

fn worksheet(book: &mut Xlsx<Cursor<&[u8]>>, name: &str) -> Result<Option<Sheet>, Fault> {
    let formulas = match formulas(book, name) {
        Err(calamine::XlsxError::WorksheetNotFound(_) | calamine::XlsxError::NotAWorksheet(_)) => {
            return Ok(None);
        }
        found => found.map_err(|error| broken(&error))?,
    };
    let merged = book.merge_cells_by_sheet_name(name).unwrap_or_default();
    let epoch_1904 = book.has_1904_epoch();
    let mut cells = book.worksheet_cells_reader(name).map_err(|error| broken(&error))?;
    let shown: Vec<String> = cells
        .styles()
        .iter()
        .map(|style| style.number_format.as_ref().map(|form| form.format_code.clone()).unwrap_or_default())
        .collect();
    let mut rows: Vec<Row> = Vec::new();
    let mut width = 0;
    while let Some((cell, style)) = cells.next_cell_with_style_id().map_err(|error| broken(&error))? {
        let (row, column) = cell.get_position();
        let at = usize::try_from(column).unwrap_or(usize::MAX);
        let behind = formulas.contains(&(row, column));
        let mut read = read_cell(cell.get_value(), shown.get(style).map_or("", String::as_str), epoch_1904);
        if behind && matches!(cell.get_value(), DataRef::Empty) {
            read = Cell { text: NOT_COMPUTED.to_owned(), stored: Stored::Error, formula: false };
        }
        if read.text.is_empty() {
            continue;
        }
        let line = row as usize + 1;
        if at >= MOST_COLUMNS {
            return Err(too_many("columns", MOST_COLUMNS).on(line));
        }
        read.formula = behind;
        if rows.last().is_none_or(|last| last.line != line) {
            if rows.last().is_some_and(|last| last.line > line) {
                return Err(broken(&"its rows are out of order"));
            }
            if rows.len() >= MOST_ROWS {
                return Err(too_many("rows", MOST_ROWS));
            }
            rows.push(Row { line, cells: Vec::new() });
        }
        if let Some(last) = rows.last_mut() {
            if last.cells.len() <= at {
                last.cells.resize(at + 1, Cell::default());
            }
            last.cells[at] = read;
        }
        width = width.max(at + 1);
    }
    let mut remarks = Vec::new();
    let filled = fill_merged(&mut rows, &merged);
    if filled > 0 {
        remarks.push("Cells merged downwards were read as saying the same in every row.".to_owned());
    }
    Ok(Some((rows, width, remarks)))
}

/// Cells with a formula behind them.
fn formulas(
    book: &mut Xlsx<Cursor<&[u8]>>,
    name: &str,
) -> Result<std::collections::BTreeSet<(u32, u32)>, calamine::XlsxError> {
    let mut cells = book.worksheet_cells_reader(name)?;
    let mut found = std::collections::BTreeSet::new();
    while let Some(cell) = cells.next_cell_with_formula_metadata()? {
        if cell.formula.is_some() {
            found.insert(cell.pos);
        }
        if found.len() > MOST_ROWS * MOST_COLUMNS {
            break;
        }
    }
    Ok(found)
}

/// Gives the cells that are merged with one above them its content; only where a row stands there already.
fn fill_merged(rows: &mut [Row], merged: &[Dimensions]) -> usize {
    let mut filled = 0;
    for area in merged.iter().filter(|area| area.start.1 == area.end.1 && area.start.0 < area.end.0) {
        let column = area.start.1 as usize;
        let (from, to) = (area.start.0 as usize + 1, area.end.0 as usize + 1);
        let Some(first) = rows.iter().find(|row| row.line == from) else { continue };
        let Some(content) = first.cells.get(column).filter(|cell| !cell.text.is_empty()).cloned() else {
            continue;
        };
        for row in rows.iter_mut().filter(|row| row.line > from && row.line <= to) {
            if row.cells.len() <= column {
                row.cells.resize(column + 1, Cell::default());
            }
            if row.cells[column].text.is_empty() {
                row.cells[column] = content.clone();
                filled += 1;
            }
        }
    }
    filled
}

fn read_cell(value: &DataRef<'_>, shown: &str, epoch_1904: bool) -> Cell {
    let text = |text: &str| Cell { text: tidy(text), ..Cell::default() };
    match value {
        DataRef::Empty => Cell::default(),
        DataRef::Int(value) => number(Decimal::from(*value), shown),
        DataRef::Float(value) => match decimal(*value) {
            Some(value) => number(value, shown),
            None => text(&value.to_string()),
        },
        DataRef::String(value) => text(value),
        DataRef::SharedString(value) => text(value),
        DataRef::Bool(value) => text(if *value { "yes" } else { "no" }),
        DataRef::DateTime(moment) => match day_of(moment.as_f64(), epoch_1904) {
            Some(day) => Cell { text: day.to_string(), stored: Stored::Day(day), formula: false },
            None => text(&moment.as_f64().to_string()),
        },
        DataRef::DateTimeIso(value) => match value.get(..10).and_then(|begin| begin.parse::<Date>().ok()) {
            Some(day) => Cell { text: day.to_string(), stored: Stored::Day(day), formula: false },
            None => text(value),
        },
        DataRef::DurationIso(value) => text(value),
        DataRef::Error(error) => Cell { text: format!("#{error}"), stored: Stored::Error, formula: false },
    }
}

fn number(value: Decimal, shown: &str) -> Cell {
    let percent = shown.split(';').next().is_some_and(|form| form.contains('%'));
    let factor = if percent { Decimal::ONE_HUNDRED } else { Decimal::ONE };
    let Some(value) = value.checked_mul(factor).map(|value| with_places(value, shown)) else {
        return Cell { text: value.to_string(), ..Cell::default() };
    };
    let (text, stored) = if percent {
        (format!("{value} %"), Stored::Percent(value))
    } else {
        (value.to_string(), Stored::Number(value))
    };
    Cell { text, stored, formula: false }
}

/// The number with the noughts that the form shows behind it: 0.5 under `0.00` was typed as 0.50.
fn with_places(value: Decimal, shown: &str) -> Decimal {
    let value = value.normalize();
    let form = shown.split(';').next().unwrap_or_default().trim_end_matches(['%', ' ']);
    let Some((whole, places)) = form.split_once('.') else { return value };
    let plain = !whole.is_empty() && whole.chars().all(|sign| matches!(sign, '0' | '#' | ','));
    let places = if plain && places.bytes().all(|byte| byte == b'0') { places.len() } else { 0 };
    let mut longer = value;
    if let Ok(places) = u32::try_from(places)
        && places > value.scale()
        && places <= 6
    {
        longer.rescale(places);
    }
    if longer == value { longer } else { value }
}

/// A number of the spreadsheet as a decimal: it keeps fifteen digits and shows no more.
fn decimal(value: f64) -> Option<Decimal> {
    let text = format!("{value:.14e}");
    Decimal::from_scientific(&text).ok().map(|value| value.normalize())
}

/// The day of a spreadsheet's day number.
pub(super) fn day_of(serial: f64, epoch_1904: bool) -> Option<Date> {
    if !(1.0..=LAST_SERIAL).contains(&serial) {
        return None;
    }
    // The calendar from 1900 has a 29 February 1900 that never was: before it, days count from one day later.
    let epoch = if epoch_1904 {
        jiff::civil::date(1904, 1, 1)
    } else if serial < 60.0 {
        jiff::civil::date(1899, 12, 31)
    } else {
        jiff::civil::date(1899, 12, 30)
    };
    let days = jiff::Span::new().try_days(serial.floor() as i64).ok()?;
    epoch.checked_add(days).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_counted_as_spreadsheets_count_them() {
        // Known pairs of the calendar from 1900 (ISO/IEC 29500-1, 18.17.4.1): 1 is 1900-01-01, 36526 is 2000-01-01; from 1904: 0-based.
        assert_eq!(day_of(1.0, false).map(|day| day.to_string()).as_deref(), Some("1900-01-01"));
        assert_eq!(day_of(36_526.0, false).map(|day| day.to_string()).as_deref(), Some("2000-01-01"));
        assert_eq!(day_of(35_064.75, true).map(|day| day.to_string()).as_deref(), Some("2000-01-01"));
        for serial in [f64::NAN, f64::INFINITY, -1.0, 0.0, 1e12] {
            assert_eq!(day_of(serial, false), None);
        }
    }

    #[test]
    fn a_number_keeps_the_digits_that_are_shown() {
        let shown = |value: f64, form: &str| number(decimal(value).unwrap(), form).text;
        assert_eq!(shown(0.05, "0%"), "5 %");
        assert_eq!(shown(0.05, "0.00%"), "5.00 %");
        assert_eq!(shown(0.5, "0.00"), "0.50");
        assert_eq!(shown(0.1 + 0.2, "General"), "0.3");
        assert_eq!(shown(1234.5, "#,##0.00"), "1234.50");
        // What is shown shorter than it is stays whole.
        assert_eq!(shown(1.0 / 3.0, "0.00"), "0.333333333333333");
    }

    #[test]
    fn the_separator_is_the_one_most_rows_agree_on() {
        for (text, wanted) in [
            ("a;b\n1,5;2\n2,5;3", "semicolons"),
            ("a,b\n1,2\n3,4", "commas"),
            ("a\tb, c\n1,5\t2\n", "tabs"),
            ("a|b\n1|2", "upright bars"),
            ("Title\n\na,b,c\n\"x, y\",1,2\n\"z\",3,4\n", "commas"),
        ] {
            assert_eq!(separator(text).map(|found| found.1), Some(wanted), "{text}");
        }
        assert_eq!(separator("only words"), None);
    }

    #[test]
    fn rows_keep_their_lines_and_a_quote_that_never_closes_is_told() {
        let table = read(b"Head\n\nmaterial;amount\n\"Aqua\ndemin\";1\n\nGlycerin;2\n", "").unwrap();
        let lines: Vec<usize> = table.rows.iter().map(|row| row.line).collect();
        assert_eq!(lines, [1, 3, 4, 7]);
        assert_eq!(table.rows[2].text(0), "Aqua demin");
        let open = format!("a;b\nx;\"never\n{}", "row;1\n".repeat(60));
        assert_eq!(read(open.as_bytes(), "").unwrap_err().code, "open-quote");
        assert_eq!(read(b"", "").unwrap_err().code, "empty-file");
        assert_eq!(read(b"%PDF-1.7", "").unwrap_err().code, "not-a-table");
    }

    proptest::proptest! {
        #[test]
        fn no_bytes_ever_panic(bytes in proptest::collection::vec(proptest::prelude::any::<u8>(), 0..400)) {
            let _ = read(&bytes, "");
            let _ = read(&[b"PK\x03\x04".as_slice(), &bytes].concat(), "");
        }
    }
}

//! Worksheets of a workbook (Office Open XML) as grids. Sizes are bounded before anything is unpacked for good: a small file can
//! hold an endless one.

use super::grid::Grid;
use super::{Fault, MOST_COLUMNS, MOST_ROWS};
use calamine::{DataRef, Reader as _, Xlsx};
use std::io::{Cursor, Read as _};

/// Most bytes of all parts of a workbook, unpacked.
const MOST_UNPACKED: u64 = 200_000_000;
/// Most parts of a workbook.
const MOST_PARTS: usize = 2_000;
/// Most characters kept of a text in a cell.
const LONGEST_TEXT: usize = 300;
/// Most worksheets read.
const MOST_SHEETS: usize = 64;

/// A worksheet.
#[derive(Debug)]
pub(super) struct Worksheet {
    /// Name.
    pub(super) name: String,
    /// Its cells.
    pub(super) grid: Grid<'static>,
    /// Cells that hold a formula; what the spreadsheet computed last was read.
    pub(super) formulas: usize,
}

/// The worksheets of a workbook, or the one asked for.
pub(super) fn worksheets(bytes: &[u8], asked: &str) -> Result<Vec<Worksheet>, Fault> {
    within_bounds(bytes)?;
    let mut book = Xlsx::new(Cursor::new(bytes)).map_err(|error| broken(&error))?;
    let names = book.sheet_names();
    if !asked.is_empty() && !names.iter().any(|name| name == asked) {
        return Err(Fault::new(
            "no-such-sheet",
            format!("no worksheet is called \"{asked}\""),
            format!("the worksheets are {}", names.join(", ")),
        ));
    }
    let mut sheets = Vec::new();
    for name in names.into_iter().filter(|name| asked.is_empty() || name == asked).take(MOST_SHEETS) {
        // A sheet of charts alone has no cells.
        if let Some(sheet) = worksheet(&mut book, name)? {
            sheets.push(sheet);
        }
    }
    Ok(sheets)
}

fn broken(error: &dyn std::fmt::Display) -> Fault {
    Fault::new(
        "broken-workbook",
        format!("this workbook cannot be read: {error}"),
        "open it in a spreadsheet and save it again as .xlsx, or save the sheet as CSV",
    )
}

pub(crate) fn within_bounds(bytes: &[u8]) -> Result<(), Fault> {
    let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).map_err(|error| broken(&error))?;
    if archive.len() > MOST_PARTS {
        return Err(too_large(format!("this workbook has {} parts", archive.len())));
    }
    let mut left = MOST_UNPACKED;
    let mut room = vec![0_u8; 64 * 1024];
    for at in 0..archive.len() {
        let mut part = archive.by_index(at).map_err(|error| broken(&error))?;
        loop {
            let read = part.read(&mut room).map_err(|error| broken(&error))?;
            if read == 0 {
                break;
            }
            left = left.checked_sub(read as u64).ok_or_else(|| {
                too_large(format!("this workbook unpacks to more than {} MB", MOST_UNPACKED / 1_000_000))
            })?;
        }
    }
    Ok(())
}

fn too_large(what: String) -> Fault {
    Fault::new("too-large", what, "save the sheet with the curve alone, or as CSV")
}

fn worksheet(book: &mut Xlsx<Cursor<&[u8]>>, name: String) -> Result<Option<Worksheet>, Fault> {
    let mut cells = match book.worksheet_cells_reader(&name) {
        Ok(cells) => cells,
        Err(calamine::XlsxError::WorksheetNotFound(_) | calamine::XlsxError::NotAWorksheet(_)) => {
            return Ok(None);
        }
        Err(error) => return Err(broken(&error)),
    };
    let (mut grid, mut formulas) = (Grid::default(), 0);
    let mut line: Option<u32> = None;
    while let Some(cell) = cells.next_cell_with_formula_metadata().map_err(|error| broken(&error))? {
        let (row, column) = cell.pos;
        formulas += usize::from(cell.formula.is_some());
        let text = match cell.value {
            DataRef::Empty => continue,
            DataRef::Int(value) => value.to_string(),
            DataRef::Float(value) => written(value),
            DataRef::String(text) => cut(&text),
            DataRef::SharedString(text) => cut(text),
            DataRef::Bool(value) => value.to_string(),
            DataRef::DateTime(value) => written(value.as_f64()),
            DataRef::DateTimeIso(text) | DataRef::DurationIso(text) => cut(&text),
            DataRef::Error(error) => format!("#{error}"),
        };
        let column = usize::try_from(column).unwrap_or(usize::MAX);
        if column >= MOST_COLUMNS {
            return Err(super::too_many_columns(row as usize + 1));
        }
        if line != Some(row) {
            if line.is_some_and(|before| row < before) {
                return Err(broken(&"its rows are out of order"));
            }
            if grid.len() >= MOST_ROWS {
                return Err(Fault::new(
                    "too-many-rows",
                    format!("there are more than {MOST_ROWS} rows"),
                    "thin the sheet out or split it; a flow curve needs some tens of points",
                ));
            }
            grid.begin(row as usize + 1);
            line = Some(row);
        }
        while grid.width() < column {
            grid.add("");
        }
        if grid.width() == column {
            grid.add(text.trim().to_owned());
        }
    }
    Ok(Some(Worksheet { name, grid, formulas }))
}

/// A number as a spreadsheet shows it: the shortest text that is the same number.
fn written(value: f64) -> String {
    let size = value.abs();
    if value == 0.0 || (1e-5..1e15).contains(&size) { format!("{value}") } else { format!("{value:e}") }
}

fn cut(text: &str) -> String {
    text.chars().take(LONGEST_TEXT).collect()
}

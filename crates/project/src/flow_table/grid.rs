//! A table as rows of cells, whatever file it came from.

use std::borrow::Cow;

/// Rows of cells with the line each stands on.
#[derive(Debug, Default)]
pub(super) struct Grid<'t> {
    cells: Vec<Cow<'t, str>>,
    rows: Vec<Row>,
}

#[derive(Clone, Copy, Debug)]
struct Row {
    line: usize,
    start: usize,
}

impl<'t> Grid<'t> {
    /// Begins a row on a line of the file, from 1.
    pub(super) fn begin(&mut self, line: usize) {
        self.rows.push(Row { line, start: self.cells.len() });
    }

    /// Adds a cell to the row begun last.
    pub(super) fn add(&mut self, cell: impl Into<Cow<'t, str>>) {
        self.cells.push(cell.into());
    }

    /// Cells of the row begun last.
    pub(super) fn width(&self) -> usize {
        self.rows.last().map_or(0, |row| self.cells.len() - row.start)
    }

    /// Number of rows.
    pub(super) fn len(&self) -> usize {
        self.rows.len()
    }

    /// Cells of a row.
    pub(super) fn row(&self, at: usize) -> &[Cow<'t, str>] {
        let end = self.rows.get(at + 1).map_or(self.cells.len(), |next| next.start);
        self.rows.get(at).map_or(&[], |row| &self.cells[row.start..end])
    }

    /// The text of a cell; empty where there is none.
    pub(super) fn cell(&self, row: usize, column: usize) -> &str {
        self.row(row).get(column).map_or("", |cell| cell.as_ref())
    }

    /// Line of a row, from 1.
    pub(super) fn line(&self, at: usize) -> usize {
        self.rows.get(at).map_or(0, |row| row.line)
    }
}

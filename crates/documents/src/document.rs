//! A document as data: what stands in it, before it becomes pages or a workbook.
//!
//! The same document is set as PDF ([`document_pdf`]) and written as a workbook ([`document_xlsx`]), so that neither says what the
//! other does not.

#[cfg(feature = "pdf")]
mod pdf;
mod workbook;

#[cfg(feature = "pdf")]
pub use pdf::document_pdf;
pub use workbook::document_xlsx;

use rust_decimal::Decimal;
use serde::Serialize;

/// A document.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Document {
    /// What it is: `Batch record`.
    pub kind: String,
    /// Of what: the name of the product.
    pub title: String,
    /// The day it stands for, ISO; also the time stamp of the file, so that the same record gives the same bytes.
    pub date: String,
    /// Line that stands on every page.
    pub running: String,
    /// Identifier of the document, [`levigate_project::paper_code`]; the page is put behind it.
    pub code: String,
    /// Label and value, in reading order; the first one is set large.
    pub particulars: Vec<(String, String)>,
    /// What it says.
    pub sections: Vec<Section>,
}

/// A part of a document under a name; a sheet of its own in a workbook.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Section {
    /// Its name.
    pub name: String,
    /// What stands in it.
    pub blocks: Vec<Block>,
}

/// Something in a section.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "is", rename_all = "snake_case")]
pub enum Block {
    /// A paragraph.
    Words {
        /// The words.
        text: String,
    },
    /// A paragraph that must not be passed over.
    Heed {
        /// The words.
        text: String,
    },
    /// Names with their values.
    Pairs {
        /// Name and value.
        pairs: Vec<(String, String)>,
    },
    /// A table.
    Table(Table),
    /// Boxes to write in.
    Blanks {
        /// What is written into each.
        labels: Vec<String>,
        /// How many stand beside each other.
        across: usize,
    },
    /// A step of the making with boxes to write in.
    Step(Box<StepBlock>),
}

/// A table.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Table {
    /// Columns.
    pub columns: Vec<Column>,
    /// Rows.
    pub rows: Vec<Row>,
}

/// A column.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Column {
    /// Its head, with the unit.
    pub head: String,
    /// Width in millimetres; none takes what is left.
    pub width_mm: Option<f64>,
    /// Numbers lean right.
    pub right: bool,
}

/// A row.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Row {
    /// Cells, one for each column.
    pub cells: Vec<Cell>,
    /// What was typed here no longer counts; it stays readable.
    pub struck: bool,
    /// What must not be passed over about the row; it stands under it.
    pub heed: Vec<String>,
    /// Further remarks under the row.
    pub below: Vec<String>,
}

/// A cell.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Cell {
    /// As it is printed.
    pub text: String,
    /// The number it is, where it is one.
    #[serde(skip)]
    pub number: Option<Decimal>,
    /// Stands out.
    pub strong: bool,
}

/// A step with what is written in by hand.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct StepBlock {
    /// Number.
    pub number: String,
    /// Phase; empty for none.
    pub phase: String,
    /// What is done.
    pub text: String,
    /// Temperature, speed and time as planned.
    pub how: String,
    /// Cautions.
    pub cautions: Vec<String>,
    /// What to look at.
    pub checks: Vec<String>,
    /// The line to weigh.
    pub line: Option<StepLine>,
    /// Boxes, row by row.
    pub boxes: Vec<Vec<WriteIn>>,
}

/// A line to weigh.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct StepLine {
    /// Number on the sheet: what is written in is typed back by it.
    pub number: String,
    /// Raw material.
    pub name: String,
    /// Grams to weigh.
    pub grams: Cell,
    /// Tolerance with its sign.
    pub tolerance: String,
    /// Percent, or the pH it is added to.
    pub share: String,
}

/// A box to write in.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct WriteIn {
    /// What is written into it.
    pub label: String,
    /// What stands in it already.
    pub filled: String,
    /// Share of the width.
    pub share: f64,
}

impl Block {
    /// A paragraph.
    #[must_use]
    pub fn words(text: impl Into<String>) -> Self {
        Self::Words { text: text.into() }
    }

    /// A paragraph that must not be passed over.
    #[must_use]
    pub fn heed(text: impl Into<String>) -> Self {
        Self::Heed { text: text.into() }
    }

    /// Boxes to write in.
    #[must_use]
    pub fn blanks(labels: &[&str], across: usize) -> Self {
        Self::Blanks { labels: labels.iter().map(|label| (*label).to_owned()).collect(), across }
    }
}

impl Column {
    /// A column of words.
    #[must_use]
    pub fn words(head: &str, width_mm: impl Into<Option<f64>>) -> Self {
        Self { head: head.to_owned(), width_mm: width_mm.into(), right: false }
    }

    /// A column of numbers.
    #[must_use]
    pub fn numbers(head: &str, width_mm: f64) -> Self {
        Self { head: head.to_owned(), width_mm: Some(width_mm), right: true }
    }
}

impl Row {
    /// A row that counts.
    #[must_use]
    pub fn of(cells: Vec<Cell>) -> Self {
        Self { cells, ..Self::default() }
    }
}

impl Cell {
    /// Words.
    #[must_use]
    pub fn words(text: impl Into<String>) -> Self {
        Self { text: text.into(), ..Self::default() }
    }

    /// A number with the digits it has.
    #[must_use]
    pub fn number(number: Decimal) -> Self {
        Self { text: number.to_string().replace('-', "\u{2212}"), number: Some(number), strong: false }
    }

    /// A number, or nothing.
    #[must_use]
    pub fn maybe(number: Option<Decimal>) -> Self {
        number.map(Self::number).unwrap_or_default()
    }

    /// The same, standing out.
    #[must_use]
    pub fn strongly(self) -> Self {
        Self { strong: true, ..self }
    }
}

impl WriteIn {
    /// An empty box.
    #[must_use]
    pub fn empty(label: &str, share: f64) -> Self {
        Self { label: label.to_owned(), filled: String::new(), share }
    }
}

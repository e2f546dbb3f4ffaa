//! Paper: what is known about a batch or a formula, arranged as HTML, PDF, workbook, CSV and SVG.
//!
//! Nothing is computed here that a chemist would argue about; figures arrive ready and are only set. Every text that a
//! person typed is escaped (HTML, SVG), quoted (CSV) or passed as data (PDF, workbook), never as markup.

mod batch;
pub mod document;
mod escape;
pub mod figure;
mod papers;
#[cfg(feature = "pdf")]
mod qr;
#[cfg(feature = "pdf")]
mod setting;
mod sheet;
pub mod sight;

pub use batch::batch_csv;
#[cfg(feature = "pdf")]
pub use document::document_pdf;
pub use document::{Document, document_xlsx};
pub use papers::{
    blank_record, deviation_list, filled_record, label_text, sheet_document, specification_paper,
    submission_paper, two_trials,
};
pub use sheet::{Paper, SHEET_CONTENT_SECURITY_POLICY, sheet_csv, sheet_html};
#[cfg(feature = "pdf")]
pub use sheet::{sheet_pdf, sheet_pdf_on};

use thiserror::Error;

/// Why a document cannot be made.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum DocumentError {
    /// The page layout refused the page.
    #[error("the page could not be laid out: {why}")]
    Layout {
        /// What the layout said.
        why: String,
    },
    /// The laid-out pages could not be written.
    #[error("the document could not be written: {why}")]
    Writing {
        /// What the writer said.
        why: String,
    },
    /// The date is not one.
    #[error("`{date}` is not a date")]
    Date {
        /// As given.
        date: String,
    },
}

impl DocumentError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Layout { .. } | Self::Writing { .. } => {
                "print the HTML page from a browser instead, and report what the message says"
            }
            Self::Date { .. } => "write the date as year-month-day, such as 2026-11-24",
        }
    }
}

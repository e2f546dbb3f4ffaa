//! The batch sheet on paper: one arrangement of words, set as HTML, as PDF and as CSV.

mod columns;
mod html;
#[cfg(feature = "pdf")]
mod pdf;
mod words;

pub(crate) use columns::harmless;
pub use columns::sheet_csv;
pub use html::{SHEET_CONTENT_SECURITY_POLICY, sheet_html};
#[cfg(feature = "pdf")]
pub use pdf::{sheet_pdf, sheet_pdf_on};

/// Paper size.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// 210 x 297 mm.
    #[default]
    A4,
    /// 8.5 x 11 in.
    Letter,
}

//! A document as PDF: archival, tagged, the same bytes for the same document.

use super::Document;
use crate::setting::Setting;
use crate::{DocumentError, Paper};
use serde_json::Value;

const TEMPLATE: &str = include_str!("paper.typ");

/// The document as PDF. Two calls with the same document give the same bytes.
///
/// # Errors
/// A date that is none, or a page the layout refuses.
pub fn document_pdf(document: &Document, paper: Paper) -> Result<Vec<u8>, DocumentError> {
    let data = data(document)?;
    setting(document, &data, paper).pdf()
}

fn data(document: &Document) -> Result<Value, DocumentError> {
    serde_json::to_value(document).map_err(|error| DocumentError::Layout { why: error.to_string() })
}

fn setting<'a>(document: &'a Document, data: &'a Value, paper: Paper) -> Setting<'a> {
    Setting { template: TEMPLATE, data, paper, date: &document.date, code: &document.code }
}

//! Documents as files: made whole before the first is written, so that a failure leaves none behind.

use crate::answer::{Answer, Failure};
use crate::arguments::{Files, OnPaper, Written};
use crate::writing::write_whole;
use levigate_documents::{Document, DocumentError, Paper, document_xlsx};
use serde::Serialize;
use std::path::Path;

/// The size of the paper.
pub(super) fn size(paper: OnPaper) -> Paper {
    match paper {
        OnPaper::A4 => Paper::A4,
        OnPaper::Letter => Paper::Letter,
    }
}

/// A document could not be made.
pub(super) fn unmade(error: &DocumentError) -> Failure {
    Failure::could_not("document-not-made", error.to_string(), error.hint())
}

/// A program built without the page layout.
#[cfg(not(feature = "pdf"))]
pub(super) fn without_pdf() -> Failure {
    Failure::could_not(
        "no-pdf",
        "this program was built without PDF",
        "write a workbook, or for the batch sheet the page with --html, and print that",
    )
}

/// Pages and workbooks are no text.
pub(super) fn needs_a_file() -> Failure {
    Failure::bad_option(
        "no-file",
        "--out",
        "a PDF or a workbook is written into a file",
        "name one with --out FILE, or ask for --format json",
    )
}

#[cfg(feature = "pdf")]
fn pdf(document: &Document, paper: Paper) -> Result<Vec<u8>, Failure> {
    levigate_documents::document_pdf(document, paper).map_err(|error| unmade(&error))
}

#[cfg(not(feature = "pdf"))]
fn pdf(_: &Document, _: Paper) -> Result<Vec<u8>, Failure> {
    Err(without_pdf())
}

/// A document as pages or as a workbook.
pub(super) fn bytes(document: &Document, written: Written, paper: OnPaper) -> Result<Vec<u8>, Failure> {
    match written {
        Written::Xlsx => document_xlsx(document, size(paper)).map_err(|error| unmade(&error)),
        _ => pdf(document, size(paper)),
    }
}

/// What is known, as data or on paper.
pub(super) fn as_asked(
    known: &impl Serialize,
    document: &Document,
    written: Written,
    paper: OnPaper,
) -> Result<Vec<u8>, Failure> {
    match written {
        Written::Json => Ok(Answer::json(known)?.text.into_bytes()),
        _ => bytes(document, written, paper),
    }
}

/// The files asked for.
pub(super) fn files<'f>(document: &Document, asked: &'f Files) -> Result<Vec<(&'f Path, Vec<u8>)>, Failure> {
    let mut files: Vec<(&Path, Vec<u8>)> = Vec::new();
    for (out, written) in [(&asked.pdf, Written::Pdf), (&asked.xlsx, Written::Xlsx)] {
        if let Some(out) = out {
            files.push((out, bytes(document, written, asked.paper)?));
        }
    }
    Ok(files)
}

/// Writes the files and says so behind the answer.
pub(super) fn write(files: Vec<(&Path, Vec<u8>)>, mut answer: Answer) -> Result<Answer, Failure> {
    for (out, bytes) in files {
        write_whole(out, &bytes)?;
        answer.remarks.push(format!("{} is written.", out.display()));
    }
    Ok(answer)
}

/// Bytes of a text for standard output, or of anything for a file.
pub(super) fn told(bytes: Vec<u8>, out: Option<&Path>) -> Result<Answer, Failure> {
    let Some(out) = out else { return Ok(Answer::text(String::from_utf8_lossy(&bytes))) };
    write_whole(out, &bytes)?;
    let mut answer = Answer::text("");
    answer.remarks.push(format!("Wrote {}.", out.display()));
    Ok(answer)
}

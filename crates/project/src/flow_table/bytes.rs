//! What the bytes of a measured file are: a workbook, text in some encoding, or neither.

use super::{Fault, MOST_CHARACTERS};
use encoding_rs::{UTF_16BE, UTF_16LE, WINDOWS_1252};
use std::borrow::Cow;

/// Bytes looked at to tell text from something else.
const LOOKED_AT: usize = 8192;

/// What the bytes are.
#[derive(Debug)]
pub(crate) enum Content<'b> {
    /// A workbook (Office Open XML).
    Workbook,
    /// Text, and the encoding it was read in.
    Text(Cow<'b, str>, &'static str),
}

/// Files that begin like this are no table, and what they are.
const OTHERS: [(&[u8], &str, &str); 6] = [
    (b"\xD0\xCF\x11\xE0", "an old workbook (.xls)", "open it in a spreadsheet and save it as .xlsx or CSV"),
    (b"%PDF", "a PDF", "export the table from the instrument as CSV or .xlsx, or paste its rows"),
    (b"\x89PNG", "a picture", "type the numbers of the picture into a table"),
    (b"\xFF\xD8\xFF", "a picture", "type the numbers of the picture into a table"),
    (b"GIF8", "a picture", "type the numbers of the picture into a table"),
    (b"\x1F\x8B", "a compressed file", "unpack it first"),
];

/// Tells what the bytes are and decodes text.
pub(crate) fn content(bytes: &[u8]) -> Result<Content<'_>, Fault> {
    if bytes.starts_with(b"PK\x03\x04") {
        return Ok(Content::Workbook);
    }
    if let Some((_, what, what_now)) = OTHERS.iter().find(|(head, _, _)| bytes.starts_with(head)) {
        return Err(Fault::new("not-a-table", format!("this is {what}, not a table"), *what_now));
    }
    let (text, encoding) = decoded(bytes)?;
    if text.chars().all(|sign| sign.is_whitespace() || sign == '\0') {
        return Err(Fault::new(
            "empty-file",
            "there is nothing in this file",
            "export the measurement again; a flow curve has shear rates and stresses or viscosities",
        ));
    }
    let controls = text
        .chars()
        .take(LOOKED_AT)
        .filter(|sign| sign.is_control() && !matches!(sign, '\t' | '\r' | '\n' | '\x0C' | '\x1A'))
        .count();
    if controls * 50 > text.chars().take(LOOKED_AT).count() {
        return Err(Fault::new(
            "not-a-table",
            "this is not text, nor a workbook",
            "export the measurement as CSV or .xlsx, or paste its rows",
        ));
    }
    Ok(Content::Text(text, encoding))
}

fn decoded(bytes: &[u8]) -> Result<(Cow<'_, str>, &'static str), Fault> {
    if bytes.len() > MOST_CHARACTERS {
        return Err(Fault::new(
            "too-large",
            format!("this is more than {} MB", MOST_CHARACTERS / 1_000_000),
            "split the file, or leave out what is no flow curve",
        ));
    }
    if let Some(rest) = bytes.strip_prefix(b"\xEF\xBB\xBF") {
        return Ok(match std::str::from_utf8(rest) {
            Ok(text) => (Cow::Borrowed(text), "UTF-8"),
            Err(_) => (WINDOWS_1252.decode_without_bom_handling(rest).0, "Windows-1252"),
        });
    }
    let sixteen = match bytes {
        [0xFF, 0xFE, ..] => Some((UTF_16LE, &bytes[2..], "UTF-16 little-endian")),
        [0xFE, 0xFF, ..] => Some((UTF_16BE, &bytes[2..], "UTF-16 big-endian")),
        _ => without_mark(bytes),
    };
    if let Some((encoding, rest, name)) = sixteen {
        let (text, broken) = encoding.decode_without_bom_handling(rest);
        if broken {
            return Err(Fault::new(
                "wrong-encoding",
                format!("this begins as {name} and breaks off as such"),
                "save the file as UTF-8",
            ));
        }
        return Ok((text, name));
    }
    Ok(match std::str::from_utf8(bytes) {
        Ok(text) => (Cow::Borrowed(text), "UTF-8"),
        // Every byte is a sign there; the signs that matter (micro, degree, square) are the same in Latin-1.
        Err(_) => (WINDOWS_1252.decode_without_bom_handling(bytes).0, "Windows-1252"),
    })
}

/// Text of two bytes a sign without a mark: every other byte of plain text is zero.
fn without_mark(bytes: &[u8]) -> Option<(&'static encoding_rs::Encoding, &[u8], &'static str)> {
    let looked_at = &bytes[..bytes.len().min(LOOKED_AT) & !1];
    if looked_at.len() < 8 {
        return None;
    }
    let zeros = |at: usize| looked_at.iter().skip(at).step_by(2).filter(|byte| **byte == 0).count();
    let (even, odd, half) = (zeros(0), zeros(1), looked_at.len() / 2);
    if odd * 10 > half * 8 && even * 10 < half {
        Some((UTF_16LE, bytes, "UTF-16 little-endian"))
    } else if even * 10 > half * 8 && odd * 10 < half {
        Some((UTF_16BE, bytes, "UTF-16 big-endian"))
    } else {
        None
    }
}

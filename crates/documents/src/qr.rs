//! A QR code as a drawing: black squares on white, in a square view box, with nothing but the identifier in it.

use crate::DocumentError;
use qrcode::{Color, EcLevel, QrCode};
use std::fmt::Write as _;

/// Empty modules around the code; the standard asks for four.
const QUIET: usize = 4;

/// The code of a text as SVG.
///
/// # Errors
/// The text is too long for a code.
pub(crate) fn qr_svg(text: &str) -> Result<String, DocumentError> {
    let code = QrCode::with_error_correction_level(text.as_bytes(), EcLevel::M)
        .map_err(|error| DocumentError::Layout { why: format!("no QR code holds it: {error}") })?;
    let width = code.width();
    let side = width + 2 * QUIET;
    let mut path = String::new();
    for (row, modules) in code.to_colors().chunks(width).enumerate() {
        let mut column = 0;
        while column < width {
            let run = modules[column..].iter().take_while(|module| **module == Color::Dark).count();
            if run > 0 {
                // Runs are drawn in one piece, so that no hair line shows between modules.
                let _ = write!(path, "M{} {}h{run}v1h-{run}z", column + QUIET, row + QUIET);
            }
            column += run.max(1);
        }
    }
    Ok(format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {side} {side}\" width=\"{side}\" height=\"{side}\" \
         shape-rendering=\"crispEdges\"><path fill=\"#000\" d=\"{path}\"/></svg>"
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_finder_pattern_stands_in_the_corner_and_the_margin_is_empty() {
        let svg = qr_svg("LEVIGATE/RECORD/QL-2611-04/7F3A20C1D2E3/1").unwrap();
        assert!(svg.contains("viewBox=\"0 0 37 37\""), "29 modules and a margin: {}", &svg[..120]);
        assert!(svg.contains("d=\"M4 4h7v1h-7z"), "seven dark modules begin the code");
        assert!(qr_svg(&"x".repeat(4000)).is_err());
    }
}

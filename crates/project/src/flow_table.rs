//! Reads measured tables into flow curves.

use crate::diagnostic::Diagnostic;
use serde::Serialize;

/// A measured table as understood.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FlowTable {
    /// The curves in it.
    pub curves: Vec<MeasuredCurve>,
}

/// A measured curve.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MeasuredCurve {
    /// Name.
    pub name: String,
    /// Points in the order of the file.
    pub points: Vec<MeasuredPoint>,
}

/// A point.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MeasuredPoint {
    /// Line of the file, from 1.
    pub line: usize,
    /// Shear rate, 1/s.
    pub shear_rate: f64,
    /// Stress, Pa.
    pub stress: f64,
}

/// Reads a table of sample, shear rate (1/s) and stress (Pa) with a header line.
///
/// # Errors
/// What is wrong with it.
pub fn read(file: &str, bytes: &[u8]) -> Result<FlowTable, Vec<Diagnostic>> {
    let text = String::from_utf8_lossy(bytes);
    let mut curves: Vec<MeasuredCurve> = Vec::new();
    for (at, line) in text.lines().enumerate().skip(1) {
        let cells: Vec<&str> = line.split(',').map(str::trim).collect();
        let number = |at: usize| cells.get(at).and_then(|cell| cell.parse::<f64>().ok());
        let (Some(shear_rate), Some(stress)) = (number(1), number(2)) else { continue };
        let point = MeasuredPoint { line: at + 1, shear_rate, stress };
        match curves.iter_mut().find(|curve| curve.name == cells[0]) {
            Some(curve) => curve.points.push(point),
            None => curves.push(MeasuredCurve { name: cells[0].to_owned(), points: vec![point] }),
        }
    }
    if curves.is_empty() {
        let what_now = "give columns of sample, shear rate in 1/s and stress in Pa under a header line";
        return Err(vec![complaint(file, "no-points", "", "no measured point was found", what_now)]);
    }
    Ok(FlowTable { curves })
}

/// A complaint about a file as a whole.
pub(crate) fn complaint(
    file: &str,
    code: &str,
    field: &str,
    what: impl Into<String>,
    what_now: impl Into<String>,
) -> Diagnostic {
    Diagnostic {
        code: code.to_owned(),
        file: file.to_owned(),
        line: 0,
        column: 0,
        field: field.to_owned(),
        what: what.into(),
        what_now: what_now.into(),
        sheet_line: None,
    }
}

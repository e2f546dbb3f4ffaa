//! The file of `calibrate`, and the same table in the file of `adjust`.
//!
//! ```toml
//! [calibration]
//! temperature_c = 25
//! uncertainty_mv = 0.5           # of one reading
//! points = [
//!   { buffer = "standard-phthalate", mv = 174.3 },
//!   { ph = 6.865, mv = 6.8 },    # a buffer by its own certificate
//! ]
//! check = { buffer = "technical-7-00", ph_read = 7.02 }
//! window = [4.5, 5.5]            # what is to be read
//! [[sample]]
//! mv = 100.0
//! temperature_c = 25
//! ```

use super::finished;
use crate::diagnostic::Diagnostic;
use crate::flow_file::number;
use crate::toml_reader::{Reader, parsed};
use levigate_facts::PhBench;
use levigate_measure::ph_meter::Buffer;
use std::ops::Range;
use toml::de::{DeTable, DeValue};

/// `levigate schema calibrate`.
pub const SCHEMA: &str = include_str!("calibration.schema.json");

/// Standard uncertainty of a reading where nobody says it, mV: the last digit of a usual display and some unrest.
pub(crate) const USUAL_MV: f64 = 0.5;
/// Standard uncertainty of a buffer given by its pH alone.
pub(crate) const USUAL_PH: f64 = 0.01;

/// A buffer that was read.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// Key of the buffer; empty where its pH was typed.
    pub key: String,
    /// Name.
    pub name: String,
    /// Family; empty where its pH was typed.
    pub family: String,
    /// pH at the temperature.
    pub ph: f64,
    /// Standard uncertainty of that.
    pub uncertainty: f64,
    /// Reading, mV.
    pub millivolt: f64,
}

/// A buffer read as a check.
#[derive(Clone, Debug, PartialEq)]
pub struct Check {
    /// Name.
    pub name: String,
    /// pH of the buffer at the temperature.
    pub ph: f64,
    /// Standard uncertainty of that.
    pub uncertainty: f64,
    /// pH the meter showed.
    pub shown: f64,
}

/// A calibration as typed.
#[derive(Clone, Debug, PartialEq)]
pub struct CalibrationFile {
    /// Temperature of the buffers, C.
    pub temperature_c: f64,
    /// Standard uncertainty of a reading, mV.
    pub uncertainty_mv: f64,
    /// Buffers.
    pub points: Vec<Point>,
    /// Check.
    pub check: Option<Check>,
    /// What is to be read.
    pub window: Option<[f64; 2]>,
    /// Where the points stand in the text.
    pub(crate) place: Range<usize>,
}

/// A sample read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// Reading, mV.
    pub millivolt: f64,
    /// Temperature, C.
    pub temperature_c: f64,
}

/// Reads the file of `calibrate`.
///
/// # Errors
/// All that is wrong with the text, each with its place.
pub fn read(
    file: &str,
    text: &str,
    known: &PhBench,
) -> Result<(CalibrationFile, Vec<Sample>), Vec<Diagnostic>> {
    let table = parsed(file, text)?;
    let top = table.get_ref();
    let mut reader = Reader::new(file, text);
    reader.known_fields(top, "", &["title", "calibration", "sample"]);
    reader.string(top, "", "title");
    if !top.contains_key("calibration") {
        reader.missing(&(0..0), "", "calibration", "write [calibration] with temperature_c and points");
    }
    let found = read_calibration(&mut reader, top, known);
    let mut samples = Vec::new();
    for (at, (sample, span)) in reader.tables(top, "", "sample").into_iter().enumerate() {
        let path = format!("sample {}", at + 1);
        reader.known_fields(sample, &path, &["mv", "temperature_c", "note"]);
        reader.string(sample, &path, "note");
        if !sample.contains_key("mv") {
            reader.missing(&span, &path, "mv", "give the reading in millivolts");
        }
        let millivolt = number(&mut reader, sample, &path, "mv", [-1000.0, 1000.0]);
        let usual = found.as_ref().map_or(25.0, |found| found.temperature_c);
        let temperature_c =
            number(&mut reader, sample, &path, "temperature_c", [-5.0, 100.0]).unwrap_or(usual);
        samples.extend(millivolt.map(|millivolt| Sample { millivolt, temperature_c }));
    }
    finished(reader, found.map(|found| (found, samples)))
}

/// `[calibration]`; nothing where there is no such table, or where it is wrong.
pub(crate) fn read_calibration(
    reader: &mut Reader<'_>,
    top: &DeTable<'_>,
    known: &PhBench,
) -> Option<CalibrationFile> {
    let (table, span) = reader.table(top, "", "calibration")?;
    let path = "calibration";
    reader.known_fields(
        table,
        path,
        &["temperature_c", "uncertainty_mv", "points", "check", "window", "note"],
    );
    reader.string(table, path, "note");
    for key in ["temperature_c", "points"] {
        if !table.contains_key(key) {
            reader.missing(&span, path, key, "a calibration has a temperature and at least two points");
        }
    }
    let temperature_c = number(reader, table, path, "temperature_c", [-5.0, 100.0])?;
    let uncertainty_mv = number(reader, table, path, "uncertainty_mv", [0.01, 50.0]).unwrap_or(USUAL_MV);
    let window = reader.window(table, path, "window").and_then(|[low, high]| {
        use rust_decimal::prelude::ToPrimitive as _;
        Some([low.to_f64()?, high.to_f64()?])
    });
    let mut points = Vec::new();
    let rows = reader.tables(table, path, "points");
    let wanted = rows.len();
    for (at, (row, span)) in rows.into_iter().enumerate() {
        let path = format!("calibration, point {}", at + 1);
        reader.known_fields(row, &path, &["buffer", "ph", "uncertainty", "mv"]);
        if !row.contains_key("mv") {
            reader.missing(&span, &path, "mv", "give the reading in millivolts");
        }
        let millivolt = number(reader, row, &path, "mv", [-1000.0, 1000.0]);
        let buffer = read_buffer(reader, row, &path, &span, temperature_c, known);
        if let (Some(millivolt), Some((key, name, family, ph, uncertainty))) = (millivolt, buffer) {
            points.push(Point { key, name, family, ph, uncertainty, millivolt });
        }
    }
    let check = reader.table(table, path, "check").and_then(|(row, span)| {
        let path = "calibration, check";
        reader.known_fields(row, path, &["buffer", "ph", "uncertainty", "ph_read"]);
        if !row.contains_key("ph_read") {
            reader.missing(&span, path, "ph_read", "give the pH the meter showed in the check buffer");
        }
        let shown = number(reader, row, path, "ph_read", [-1.0, 15.0]);
        let (_, name, _, ph, uncertainty) = read_buffer(reader, row, path, &span, temperature_c, known)?;
        Some(Check { name, ph, uncertainty, shown: shown? })
    });
    let place = reader.span(table, "points").unwrap_or(span);
    (points.len() == wanted).then_some(CalibrationFile {
        temperature_c,
        uncertainty_mv,
        points,
        check,
        window,
        place,
    })
}

type Named = (String, String, String, f64, f64);

/// A buffer by key, or by its pH.
fn read_buffer(
    reader: &mut Reader<'_>,
    row: &DeTable<'_>,
    path: &str,
    span: &Range<usize>,
    temperature_c: f64,
    known: &PhBench,
) -> Option<Named> {
    let stated = number(reader, row, path, "uncertainty", [0.0, 1.0]);
    if row.contains_key("ph") && row.contains_key("buffer") {
        reader.wrong(row, path, "ph", "a buffer is named and given by its pH".to_owned(), "keep one of them");
        return None;
    }
    if row.contains_key("ph") {
        let ph = number(reader, row, path, "ph", [0.0, 14.0])?;
        return Some((
            String::new(),
            format!("buffer of pH {ph}"),
            String::new(),
            ph,
            stated.unwrap_or(USUAL_PH),
        ));
    }
    let Some(key) = reader.string(row, path, "buffer") else {
        if !matches!(row.get("buffer").map(toml::Spanned::get_ref), Some(DeValue::String(_))) {
            reader.missing(span, path, "buffer", "name a buffer of the facts, or give ph");
        }
        return None;
    };
    let Some(buffer) = known.buffers.get(&key) else {
        let names: Vec<&str> = known.buffers.keys().map(String::as_str).collect();
        let what_now = format!("known are {}", names.join(", "));
        reader.wrong(row, path, "buffer", format!("no buffer is called \"{key}\""), &what_now);
        return None;
    };
    named(reader, row, path, buffer, temperature_c, stated)
}

fn named(
    reader: &mut Reader<'_>,
    row: &DeTable<'_>,
    path: &str,
    buffer: &Buffer,
    temperature_c: f64,
    stated: Option<f64>,
) -> Option<Named> {
    let Some(ph) = buffer.ph_at(temperature_c) else {
        let (first, last) = (buffer.at.first()?[0], buffer.at.last()?[0]);
        let what = format!("{} is known from {first} to {last} C, not at {temperature_c} C", buffer.name);
        reader.wrong(row, path, "buffer", what, "calibrate within these temperatures, or give its pH");
        return None;
    };
    let uncertainty = stated.unwrap_or(buffer.uncertainty);
    Some((buffer.key.clone(), buffer.name.clone(), buffer.family.clone(), ph, uncertainty))
}

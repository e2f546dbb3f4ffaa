//! The files of questions about making, one module each: `levigate schema VERB` describes them.

pub mod adjust;
pub mod calibration;
pub mod evaporate;
pub mod heat;
pub mod heated;
pub mod lethality;
pub mod mix;
mod place;
pub mod scale;
pub mod uncertainty;
mod vessel;

use crate::diagnostic::{Diagnostic, at};
use crate::toml_reader::Reader;
use levigate_process::heat::TemperatureRecord;
use rust_decimal::prelude::ToPrimitive;
use toml::de::DeTable;

/// What was found, when nothing was complained of.
pub(crate) fn finished<T>(reader: Reader<'_>, found: Option<T>) -> Result<T, Vec<Diagnostic>> {
    let problems = reader.finish();
    match found {
        Some(found) if problems.is_empty() => Ok(found),
        _ => Err(problems),
    }
}

/// Units of time of a record by their words, with their seconds.
const TIME_UNITS: [(&str, f64); 3] = [("s", 1.0), ("min", 60.0), ("h", 3600.0)];

/// `[record]`: `points` of time and temperature, `unit` of the time (minutes, where it is left out). Nothing where there is no such table.
pub(crate) fn read_record(
    reader: &mut Reader<'_>,
    top: &DeTable<'_>,
    text: (&str, &str),
) -> Option<TemperatureRecord> {
    let (table, span) = reader.table(top, "", "record")?;
    reader.known_fields(table, "record", &["points", "unit"]);
    let words = TIME_UNITS.map(|unit| unit.0);
    let unit = reader.choice(table, "record", "unit", &words);
    let seconds =
        TIME_UNITS.iter().find(|(word, _)| unit.as_deref() == Some(*word)).map_or(60.0, |unit| unit.1);
    if !table.contains_key("points") {
        reader.missing(
            &span,
            "record",
            "points",
            "write points = [[0, 25], [50, 75]]: time and temperature in C",
        );
        return None;
    }
    let pairs = reader.pairs(table, "record", "points")?;
    let points: Option<Vec<(f64, f64)>> = pairs
        .iter()
        .map(|[time, temperature]| Some((seconds * time.to_f64()?, temperature.to_f64()?)))
        .collect();
    match TemperatureRecord::new(points?) {
        Ok(record) => Some(record),
        Err(error) => {
            let span = reader.span(table, "points").unwrap_or(span);
            reader.say(at(text, &span, "no-record", "record, points", error.to_string(), error.hint()));
            None
        }
    }
}

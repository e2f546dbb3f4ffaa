//! The file of `arrhenius`.
//!
//! ```toml
//! attribute = "ascorbic acid"
//! unit = "% of label"
//! time_unit = "weeks"            # days, weeks, months (usual)
//! order = "first"                # zero, second; all three side by side, where it is left out
//! lower = 90                     # least content that may be left
//! store_c = [5, 25, 30]          # temperatures of storage
//! seasons_c = [15, 18, 22, 26]   # temperatures that each last equally long
//! confidence_percent = 95
//! [[condition]]
//! temperature_c = 40
//! readings = [[0, 101.3], [4, 97.8], [8, 94.9], [12, 91.6]]
//! ```
//!
//! A table of readings may stand in the place of the conditions (`over_time`), with the other fields beside it.

use super::over_time::{Belongs, read as read_table};
use super::{OPTIONS, as_a_whole, confidence, readings, temperatures, time_unit};
use crate::diagnostic::Diagnostic;
use crate::flow_file::number;
use crate::making_file::finished;
use crate::toml_reader::{Reader, parsed};
use levigate_process::stability::decay::Asked;
use levigate_process::stability::kinetics::KineticsError;
use levigate_process::stability::{Loss, Order};
use toml::de::DeTable;

/// `levigate schema arrhenius`.
pub const SCHEMA: &str = include_str!("arrhenius.schema.json");

const FIELDS: [&str; 9] = [
    "attribute",
    "unit",
    "time_unit",
    "order",
    "lower",
    "store_c",
    "seasons_c",
    "confidence_percent",
    "condition",
];
const ORDERS: [(&str, Order); 3] =
    [("zero", Order::Zero), ("first", Order::First), ("second", Order::Second)];
/// Where products are usually kept, C.
const USUAL_STORE_C: f64 = 25.0;

/// Reads a question.
///
/// # Errors
/// All that is wrong with the text, each with its place.
pub fn read(file: &str, text: &str) -> Result<Asked, Vec<Diagnostic>> {
    let table = parsed(file, text)?;
    let top = table.get_ref();
    let mut reader = Reader::new(file, text);
    reader.known_fields(top, "", &FIELDS);
    let (mut asked, months) = beside(&mut reader, top);
    asked.readings = conditions(&mut reader, top, months.unwrap_or(1.0));
    finished(reader, Some(asked))
}

/// Reads a table of readings; `options` hold the other fields of a file.
///
/// # Errors
/// All that is wrong with either, each with its place.
pub fn read_readings((file, bytes): (&str, &[u8]), options: &str) -> Result<Asked, Vec<Diagnostic>> {
    let parsed = parsed(OPTIONS, options)?;
    let top = parsed.get_ref();
    let mut reader = Reader::new(OPTIONS, options);
    let fields: Vec<&str> = FIELDS.into_iter().filter(|field| *field != "condition").collect();
    reader.known_fields(top, "", &fields);
    let (mut asked, months) = beside(&mut reader, top);
    let found = read_table((file, bytes), Belongs::Temperature, months)?;
    let mut problems = reader.finish();
    for group in found.groups {
        match temperature_of(&group.name) {
            Some(temperature_c) => {
                asked.readings.extend(group.readings.into_iter().map(|(time, content)| Loss {
                    temperature_c,
                    time,
                    content,
                }))
            }
            None => problems.push(no_temperature(file, group.line, &group.name)),
        }
    }
    if !top.contains_key("attribute") && !found.attribute.is_empty() {
        asked.attribute = found.attribute;
    }
    if !top.contains_key("unit") {
        asked.unit = found.unit;
    }
    if problems.is_empty() { Ok(asked) } else { Err(problems) }
}

/// The temperature a condition begins with: `40`, `40 °C`, `25 °C, 60 % r.h.`, `40/75`.
fn temperature_of(name: &str) -> Option<f64> {
    let name = name.trim().replace('\u{2212}', "-").replace(',', ".");
    let end =
        name.find(|sign: char| !(sign.is_ascii_digit() || matches!(sign, '.' | '-'))).unwrap_or(name.len());
    let digits = name[..end].trim_end_matches('.');
    digits.parse().ok().filter(|c| (-30.0..=100.0).contains(c))
}

fn no_temperature(file: &str, line: usize, name: &str) -> Diagnostic {
    let name: String = name.chars().take(40).collect();
    Diagnostic {
        code: "not-a-temperature".to_owned(),
        file: file.to_owned(),
        line,
        column: 0,
        field: "temperature".to_owned(),
        what: if name.is_empty() {
            "no column says at which temperature these were kept".to_owned()
        } else {
            format!("\"{name}\" is no temperature between -30 and 100 C")
        },
        what_now: "head a column with temperature and write it there in C; keep rows of light and of freezing and thawing out".to_owned(),
        sheet_line: None,
    }
}

/// Everything but the readings, and months of one unit of time where it is said.
fn beside(reader: &mut Reader<'_>, top: &DeTable<'_>) -> (Asked, Option<f64>) {
    let attribute = reader.string(top, "", "attribute").unwrap_or_else(|| "what was measured".to_owned());
    let unit = reader.string(top, "", "unit").unwrap_or_default();
    let months = top.contains_key("time_unit").then(|| time_unit(reader, top));
    let word = reader.choice(top, "", "order", &ORDERS.map(|(word, _)| word));
    let order = ORDERS.iter().find(|(known, _)| word.as_deref() == Some(*known)).map(|(_, order)| *order);
    let lower = number(reader, top, "", "lower", [1e-9, 1e9]);
    let mut store_c = temperatures(reader, top, "store_c");
    if store_c.is_empty() {
        store_c.push(USUAL_STORE_C);
    }
    let seasons_c = temperatures(reader, top, "seasons_c");
    let confidence = confidence(reader, top);
    let readings = Vec::new();
    (Asked { attribute, unit, readings, order, lower, store_c, seasons_c, confidence }, months)
}

fn conditions(reader: &mut Reader<'_>, top: &DeTable<'_>, months: f64) -> Vec<Loss> {
    let mut found = Vec::new();
    for (place, (table, span)) in reader.tables(top, "", "condition").into_iter().enumerate() {
        let path = format!("condition {}", place + 1);
        reader.known_fields(table, &path, &["temperature_c", "readings"]);
        for (key, what_now) in [
            ("temperature_c", "write temperature_c = 40"),
            ("readings", "write readings = [[0, 101.3], [4, 97.8]]: time and content"),
        ] {
            if !table.contains_key(key) {
                reader.missing(&span, &path, key, what_now);
            }
        }
        let temperature_c = number(reader, table, &path, "temperature_c", [-30.0, 100.0]);
        let read = readings(reader, table, &path, months);
        if let (Some(temperature_c), Some(read)) = (temperature_c, read) {
            found.extend(read.into_iter().map(|(time, content)| Loss { temperature_c, time, content }));
        }
    }
    if !top.contains_key("condition") {
        reader.missing(
            &(0..0),
            "",
            "condition",
            "write [[condition]] with temperature_c and readings, at two temperatures or more",
        );
    }
    found
}

/// What the readings cannot carry, said of the file.
#[must_use]
pub fn refused(file: &str, text: &str, error: &KineticsError) -> Vec<Diagnostic> {
    as_a_whole((file, text), "condition", error.to_string(), error.hint())
}

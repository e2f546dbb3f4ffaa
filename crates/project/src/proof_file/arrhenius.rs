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

use super::{as_a_whole, confidence, readings, temperatures, time_unit};
use crate::diagnostic::Diagnostic;
use crate::flow_file::number;
use crate::making_file::finished;
use crate::toml_reader::{Reader, parsed};
use levigate_process::stability::decay::Asked;
use levigate_process::stability::kinetics::KineticsError;
use levigate_process::stability::{Loss, Order};

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
    let attribute = reader.string(top, "", "attribute").unwrap_or_else(|| "what was measured".to_owned());
    let unit = reader.string(top, "", "unit").unwrap_or_default();
    let months = time_unit(&mut reader, top);
    let word = reader.choice(top, "", "order", &ORDERS.map(|(word, _)| word));
    let order = ORDERS.iter().find(|(known, _)| word.as_deref() == Some(*known)).map(|(_, order)| *order);
    let lower = number(&mut reader, top, "", "lower", [1e-9, 1e9]);
    let mut store_c = temperatures(&mut reader, top, "store_c");
    if store_c.is_empty() {
        store_c.push(USUAL_STORE_C);
    }
    let seasons_c = temperatures(&mut reader, top, "seasons_c");
    let confidence = confidence(&mut reader, top);
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
        let temperature_c = number(&mut reader, table, &path, "temperature_c", [-30.0, 100.0]);
        let read = readings(&mut reader, table, &path, months);
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
    finished(
        reader,
        Some(Asked { attribute, unit, readings: found, order, lower, store_c, seasons_c, confidence }),
    )
}

/// What the readings cannot carry, said of the file.
#[must_use]
pub fn refused(file: &str, text: &str, error: &KineticsError) -> Vec<Diagnostic> {
    as_a_whole((file, text), "condition", error.to_string(), error.hint())
}

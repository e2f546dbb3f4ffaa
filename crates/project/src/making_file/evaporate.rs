//! The file of `evaporate`.
//!
//! ```toml
//! batch_g = 200                  # or batch_kg
//! water_percent = 92
//! water_activity = 0.98
//! vessel = "beaker-250-ml"       # or [vessel] with its sizes; or surface_cm2
//! open_percent = 100
//! skin = false
//! [air]
//! temperature_c = 22             # humidity_percent, speed_m_s, altitude_m or pressure_kpa
//! [record]
//! points = [[0, 25], [15, 75], [45, 75]]
//! [balance]
//! tare_g = 182.46
//! gross_g = 375.62
//! samples_g = 2.10
//! [[content]]
//! name = "Hypromellose"
//! percent = 1.2
//! ```

use super::place::{read_batch_kg, read_room, size};
use super::vessel::{read_vessel, say};
use super::{finished, read_record};
use crate::diagnostic::Diagnostic;
use crate::toml_reader::{Reader, parsed};
use levigate_facts::Mixing;
use levigate_process::heat::TemperatureRecord;
use levigate_process::heat::evaporation::{Asked, Content, Surface, Weighed};
use levigate_process::heat::settings::RoomSizes;
use levigate_process::properties::BatchLiquid;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use toml::de::DeTable;

/// `levigate schema evaporate`.
pub const SCHEMA: &str = include_str!("evaporate.schema.json");

const FIELDS: [&str; 13] = [
    "title",
    "batch_g",
    "batch_kg",
    "water_percent",
    "water_activity",
    "vessel",
    "surface_cm2",
    "open_percent",
    "skin",
    "air",
    "record",
    "balance",
    "content",
];

/// Reads a question; `logged` is a record from elsewhere that stands for `[record]`.
///
/// # Errors
/// All that is wrong with the text, each with its place.
pub fn read(
    file: &str,
    text: &str,
    known: &Mixing,
    usual: &RoomSizes,
    logged: Option<TemperatureRecord>,
) -> Result<Asked, Vec<Diagnostic>> {
    let table = parsed(file, text)?;
    let top = table.get_ref();
    let mut reader = Reader::new(file, text);
    reader.known_fields(top, "", &FIELDS);
    reader.string(top, "", "title");
    let batch_kg = read_batch_kg(&mut reader, top);
    let water = size(&mut reader, top, "", "water_percent").map_or(1.0, |percent| 0.01 * percent);
    let water_activity = size(&mut reader, top, "", "water_activity").unwrap_or(1.0);
    let open = size(&mut reader, top, "", "open_percent").map_or(1.0, |percent| 0.01 * percent);
    let skin = reader.bool(top, "", "skin").unwrap_or(false);
    let room = read_room(&mut reader, (top, ""), usual);
    let area = read_area(&mut reader, top, (file, text), known, batch_kg.unwrap_or(1.0), water);
    let record = logged.or(read_record(&mut reader, top, (file, text)));
    let weighed = read_balance(&mut reader, top, batch_kg);
    if weighed.is_none() && !top.contains_key("balance") && (record.is_none() || area.is_none()) {
        let what_now = "give [record] with the vessel (or surface_cm2) for the model, or [balance] for what was weighed, or both";
        let field = if record.is_none() { "record" } else { "vessel" };
        if !top.contains_key(field) {
            reader.missing(&(0..0), "", field, what_now);
        }
    }
    let contents = read_contents(&mut reader, top);
    let found = batch_kg.map(|batch_kg| Asked {
        batch_kg,
        water,
        record,
        surface: area.map(|area_m2| Surface { area_m2, open, water_activity }),
        room: room.room(),
        skin,
        weighed,
        contents,
    });
    finished(reader, found)
}

/// The free surface, m2: as typed, or of the batch in its vessel.
fn read_area(
    reader: &mut Reader<'_>,
    top: &DeTable<'_>,
    text: (&str, &str),
    known: &Mixing,
    batch_kg: f64,
    water: f64,
) -> Option<f64> {
    let typed = size(reader, top, "", "surface_cm2").map(|cm2| 1e-4 * cm2);
    if typed.is_some() || !top.contains_key("vessel") {
        return typed;
    }
    let vessel = read_vessel(reader, (top, ""), text, known)?;
    let density = BatchLiquid { water, ..BatchLiquid::WATER }.density_at(25.0);
    match vessel.filled(batch_kg / density) {
        Ok(filling) => Some(filling.surface_m2),
        Err(error) => {
            let span = reader.span(top, "vessel").unwrap_or(0..0);
            say(reader, text, &span, "vessel", &error);
            None
        }
    }
}

/// `[balance]`; what is missing is worked out with the decimals as typed.
fn read_balance(reader: &mut Reader<'_>, top: &DeTable<'_>, batch_kg: Option<f64>) -> Option<Weighed> {
    let (table, span) = reader.table(top, "", "balance")?;
    reader.known_fields(table, "balance", &["tare_g", "gross_g", "samples_g"]);
    for (key, what_now) in [
        ("tare_g", "give what vessel and stirrer weigh alone"),
        ("gross_g", "give what all of it weighs afterwards"),
    ] {
        if !table.contains_key(key) {
            reader.missing(&span, "balance", key, what_now);
        }
    }
    let mut grams = |key: &str| {
        let value = reader.decimal(table, "balance", key)?;
        if value < Decimal::ZERO {
            reader.wrong(table, "balance", key, format!("{key} is {value}"), "a mass is not below zero");
            return None;
        }
        Some(value)
    };
    let (tare, gross) = (grams("tare_g"), grams("gross_g"));
    let samples = if table.contains_key("samples_g") { grams("samples_g") } else { Some(Decimal::ZERO) };
    let batch = match reader.decimal(top, "", "batch_g") {
        Some(grams) => Some(grams),
        None => {
            batch_kg.and_then(|_| reader.decimal(top, "", "batch_kg")?.checked_mul(Decimal::ONE_THOUSAND))
        }
    };
    let (tare, gross, samples) = (tare?, gross?, samples?);
    let missing = tare.checked_add(batch?)?.checked_sub(gross)?.checked_sub(samples)?;
    Some(Weighed {
        tare_g: tare.to_f64()?,
        gross_g: gross.to_f64()?,
        samples_g: samples.to_f64()?,
        missing_g: missing.to_f64()?,
    })
}

fn read_contents(reader: &mut Reader<'_>, top: &DeTable<'_>) -> Vec<Content> {
    let mut contents = Vec::new();
    for (at, (table, span)) in reader.tables(top, "", "content").into_iter().enumerate() {
        let path = format!("content {}", at + 1);
        reader.known_fields(table, &path, &["name", "percent"]);
        let name = reader.required_string(table, &path, "name", &span, "say what it is");
        if !table.contains_key("percent") {
            reader.missing(&span, &path, "percent", "give its percent in the formula");
        }
        let percent = size(reader, table, &path, "percent");
        contents.extend(name.zip(percent).map(|(name, percent)| Content { name, percent }));
    }
    contents
}

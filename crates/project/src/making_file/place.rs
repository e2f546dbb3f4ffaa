//! Where a batch is made: its vessel, its mass, the air around it.

use crate::diagnostic::at;
use crate::flow_file::number;
use crate::toml_reader::Reader;
use levigate_facts::Mixing;
use levigate_process::heat::settings::{RoomSizes, limits};
use levigate_process::vessel::{Vessel, VesselSize};
use serde::Deserialize;
use toml::Value;
use toml::de::{DeTable, DeValue};

/// A number by its name, within the limits of that name.
pub(crate) fn size(reader: &mut Reader<'_>, table: &DeTable<'_>, path: &str, key: &str) -> Option<f64> {
    number(reader, table, path, key, limits(key))
}

/// `batch_g` or `batch_kg`, in kg.
pub(crate) fn read_batch_kg(reader: &mut Reader<'_>, top: &DeTable<'_>) -> Option<f64> {
    let grams = size(reader, top, "", "batch_g");
    let kilograms = size(reader, top, "", "batch_kg");
    if top.contains_key("batch_g") && top.contains_key("batch_kg") {
        let what = "the batch is given twice".to_owned();
        reader.wrong(top, "", "batch_kg", what, "leave out batch_g or batch_kg");
        return None;
    }
    if !top.contains_key("batch_g") && !top.contains_key("batch_kg") {
        reader.missing(&(0..0), "", "batch_g", "write batch_g = 200 or batch_kg = 1000");
    }
    kilograms.or(grams.map(|grams| grams / 1000.0))
}

/// `[air]`: what differs from the usual room.
pub(crate) fn read_room(reader: &mut Reader<'_>, top: &DeTable<'_>, usual: &RoomSizes) -> RoomSizes {
    let mut room = usual.clone();
    let Some((table, _)) = reader.table(top, "", "air") else { return room };
    let fields = ["temperature_c", "humidity_percent", "speed_m_s", "altitude_m", "pressure_kpa"];
    reader.known_fields(table, "air", &fields);
    let mut lay = |key: &str, usual: &mut f64| {
        if let Some(given) = size(reader, table, "air", key) {
            *usual = given;
        }
    };
    lay("temperature_c", &mut room.temperature_c);
    lay("humidity_percent", &mut room.humidity_percent);
    lay("speed_m_s", &mut room.speed_m_s);
    lay("altitude_m", &mut room.altitude_m);
    if table.contains_key("altitude_m") {
        room.pressure_kpa = None;
    }
    if let Some(kpa) = size(reader, table, "air", "pressure_kpa") {
        room.pressure_kpa = Some(kpa);
        if table.contains_key("altitude_m") {
            let what = "the pressure follows from the height, or is given itself".to_owned();
            reader.wrong(table, "air", "pressure_kpa", what, "leave out altitude_m or pressure_kpa");
        }
    }
    room
}

/// `vessel = "key"`, or `[vessel]` with sizes of its own, or with `like = "key"` and what differs. Nothing where there is none.
pub(crate) fn read_vessel(
    reader: &mut Reader<'_>,
    top: &DeTable<'_>,
    (file, text): (&str, &str),
    known: &Mixing,
) -> Option<Vessel> {
    let given = top.get("vessel")?;
    let made = match given.get_ref() {
        DeValue::String(key) => known.vessel(key),
        _ => {
            let (table, span) = reader.table(top, "", "vessel")?;
            let like = if table.contains_key("like") {
                let keys: Vec<&str> = known.vessels.keys().map(String::as_str).collect();
                let key = reader.choice(table, "vessel", "like", &keys)?;
                known.vessels.get(&key)
            } else {
                None
            };
            match own_size(text, like) {
                Ok(size) => known.made(&size),
                Err(what) => {
                    let what_now =
                        "give diameter_mm, height_mm and bottom, or like = \"key\" and what differs from it";
                    reader.say(at((file, text), &span, "wrong-value", "vessel", what, what_now));
                    return None;
                }
            }
        }
    };
    match made {
        Ok(vessel) => Some(vessel),
        Err(error) => {
            let field = match error.field() {
                Some(field) if given.get_ref().is_table() => format!("vessel, {field}"),
                _ => "vessel".to_owned(),
            };
            let span = given.span();
            reader.say(at((file, text), &span, "no-vessel", field, error.to_string(), error.hint()));
            None
        }
    }
}

/// The sizes of a file laid over those of a known vessel.
fn own_size(text: &str, like: Option<&VesselSize>) -> Result<VesselSize, String> {
    let whole: toml::Table = toml::from_str(text).map_err(|error| error.message().to_owned())?;
    let given = whole.get("vessel").and_then(Value::as_table).cloned().unwrap_or_default();
    let mut sizes = match like {
        Some(like) => Value::try_from(like).map_err(|error| error.to_string())?.as_table().cloned(),
        None => None,
    }
    .unwrap_or_default();
    for (key, value) in given.into_iter().filter(|(key, _)| key != "like") {
        sizes.insert(key, value);
    }
    for (key, value) in [
        ("key", Value::String("own".to_owned())),
        ("words", Value::String("own vessel".to_owned())),
        ("nominal_l", Value::Float(0.0)),
        ("source", Value::String("typed".to_owned())),
    ] {
        sizes.entry(key).or_insert(value);
    }
    VesselSize::deserialize(Value::Table(sizes)).map_err(|error| error.message().to_owned())
}

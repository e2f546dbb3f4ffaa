//! Where a batch is made: its mass, the air around it.

use crate::flow_file::number;
use crate::toml_reader::Reader;
use levigate_process::heat::settings::{RoomSizes, limits};
use toml::de::DeTable;

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

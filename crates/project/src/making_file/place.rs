//! Where a batch is made: its mass, the air around it.

use crate::flow_file::number;
use crate::toml_reader::Reader;
use levigate_process::heat::settings::{RoomSizes, limits};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use toml::de::DeTable;

/// A number by its name, within the limits of that name.
pub(crate) fn size(reader: &mut Reader<'_>, table: &DeTable<'_>, path: &str, key: &str) -> Option<f64> {
    number(reader, table, path, key, limits(key))
}

/// A batch in kg.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Mass {
    /// To compute with.
    pub(crate) kg: f64,
    /// As typed.
    pub(crate) typed_kg: Decimal,
}

/// `batch_g` or `batch_kg` of a table.
pub(crate) fn read_mass(reader: &mut Reader<'_>, table: &DeTable<'_>, path: &str) -> Option<Mass> {
    let (grams, kilograms) = (table.contains_key("batch_g"), table.contains_key("batch_kg"));
    if grams && kilograms {
        let what = "the batch is given twice".to_owned();
        reader.wrong(table, path, "batch_kg", what, "leave out batch_g or batch_kg");
        return None;
    }
    if !grams && !kilograms {
        reader.missing(&(0..0), path, "batch_g", "write batch_g = 200 or batch_kg = 1000");
        return None;
    }
    let (key, kg_each) = if grams { ("batch_g", Decimal::new(1, 3)) } else { ("batch_kg", Decimal::ONE) };
    let value = size(reader, table, path, key)?;
    let typed_kg = reader.decimal(table, path, key)?.checked_mul(kg_each)?;
    Some(Mass { kg: value * kg_each.to_f64()?, typed_kg })
}

/// `batch_g` or `batch_kg` of a file, in kg.
pub(crate) fn read_batch_kg(reader: &mut Reader<'_>, top: &DeTable<'_>) -> Option<f64> {
    read_mass(reader, top, "").map(|mass| mass.kg)
}

/// `[air]`: what differs from the usual room.
pub(crate) fn read_room(
    reader: &mut Reader<'_>,
    (parent, path): (&DeTable<'_>, &str),
    usual: &RoomSizes,
) -> RoomSizes {
    let mut room = usual.clone();
    let Some((table, _)) = reader.table(parent, path, "air") else { return room };
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

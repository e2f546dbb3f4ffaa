//! Warming, holding and cooling asked of more than one vessel: `[heat]` says the course, each scale what heats and cools it.
//!
//! ```toml
//! [heat]                             # what is left out is as the steps of the formula say
//! to_c = 75
//! hold_min = 20
//! down_to_c = 40
//! [plant.jacket]                     # a vessel without a jacket stands on a plate: [bench.plate]
//! heat_c = 95
//! cool_c = 15
//! ```

use super::heat::{At, JacketFile, read_jacket, read_losses, read_plate};
use super::place::{read_room, size};
use crate::toml_reader::{Reader, join};
use levigate_facts::Facts;
use levigate_process::heat::settings::{HeatLoss, HotPlate, JacketSide, RoomSizes};
use toml::de::DeTable;

const FIELDS: [&str; 9] = [
    "from_c",
    "to_c",
    "hold_min",
    "down_to_c",
    "water_percent",
    "activation_kj_mol",
    "liquid_at_c",
    "air",
    "losses",
];

/// The course of temperature and what is the same at every scale, as typed over the usual values.
#[derive(Clone, Debug, PartialEq)]
pub struct HeatedFile {
    /// Whether there was such a table.
    pub asked: bool,
    /// Temperature at the start, C.
    pub from_c: Option<f64>,
    /// To be reached, C.
    pub to_c: Option<f64>,
    /// To be held, min.
    pub hold_min: Option<f64>,
    /// To be cooled to, C.
    pub down_to_c: Option<f64>,
    /// Water, percent.
    pub water_percent: Option<f64>,
    /// Activation energy of the viscosity, kJ/mol.
    pub activation_kj_mol: Option<f64>,
    /// Temperature of the flow curve, C.
    pub liquid_at_c: Option<f64>,
    /// The room.
    pub room: RoomSizes,
    /// Losses.
    pub losses: HeatLoss,
    /// What a jacket usually is.
    pub side: JacketSide,
}

/// What heats and cools at one scale.
#[derive(Clone, Debug, PartialEq)]
pub struct WarmedBy {
    /// The plate, for a vessel without a jacket.
    pub plate: HotPlate,
    /// The jacket.
    pub jacket: Option<JacketFile>,
    /// Open part of the surface.
    pub open: f64,
}

/// Reads `[heat]`; nothing where the facts have no usual room, losses and jacket.
pub(crate) fn read_heated(reader: &mut Reader<'_>, top: &DeTable<'_>, facts: &Facts) -> Option<HeatedFile> {
    const PATH: &str = "heat";
    let making = &facts.making;
    let (room, losses, side) =
        (making.room.as_ref()?, making.heat_loss.as_ref()?, making.jacket_side.as_ref()?);
    let empty = DeTable::new();
    let found = reader.table(top, "", PATH);
    let asked = found.is_some();
    let table = found.map_or(&empty, |(table, _)| table);
    reader.known_fields(table, PATH, &FIELDS);
    let [from_c, to_c, hold_min, down_to_c, water_percent, activation_kj_mol, liquid_at_c] =
        ["from_c", "to_c", "hold_min", "down_to_c", "water_percent", "activation_kj_mol", "liquid_at_c"]
            .map(|field| size(reader, table, PATH, field));
    if from_c.zip(to_c).is_some_and(|(from_c, to_c)| from_c > to_c) {
        let what = "the batch starts above the temperature to be reached".to_owned();
        reader.wrong(table, PATH, "to_c", what, "give a to_c above from_c");
    }
    Some(HeatedFile {
        asked,
        from_c,
        to_c,
        hold_min,
        down_to_c,
        water_percent,
        activation_kj_mol,
        liquid_at_c,
        room: read_room(reader, (table, PATH), room),
        losses: read_losses(reader, (table, PATH), losses),
        side: side.clone(),
    })
}

/// Fields of a scale that say what heats and cools it.
pub(crate) const WARMED_BY: [&str; 3] = ["plate", "jacket", "open_percent"];

/// Reads what heats and cools one scale; nothing where the facts have no usual plate.
pub(crate) fn read_warmed_by(
    reader: &mut Reader<'_>,
    (table, path): At<'_, '_>,
    facts: &Facts,
) -> Option<WarmedBy> {
    let usual = facts.making.hot_plate.as_ref()?;
    let jacket = read_jacket(reader, (table, path));
    if jacket.is_some() && table.contains_key("plate") {
        let what = "a batch stands on a plate or in a jacket".to_owned();
        reader.wrong(table, path, "plate", what, "leave out the plate or the jacket");
    }
    if jacket.as_ref().is_some_and(|jacket| jacket.heat_c.is_none()) {
        let path = join(path, "jacket");
        reader.missing(&(0..0), &path, "heat_c", "give the temperature of what the jacket is fed with");
    }
    Some(WarmedBy {
        plate: read_plate(reader, (table, path), usual),
        jacket,
        open: size(reader, table, path, "open_percent").map_or(1.0, |percent| 0.01 * percent),
    })
}

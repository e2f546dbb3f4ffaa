//! The file of `heat`.
//!
//! ```toml
//! batch_kg = 1000
//! water_percent = 85
//! vessel = "vessel-1200-l"
//! from_c = 20
//! to_c = 75
//! hold_min = 20
//! down_to_c = 40
//! rpm = 60
//! liquid_at_c = 25
//! activation_kj_mol = 18
//! [jacket]                       # or [plate]; without either the usual plate
//! heat_c = 95                    # heat_flow_kg_h, steam = true
//! cool_c = 15                    # cool_flow_kg_h
//! [liquid]                       # as in the files of flow
//! model = "power-law"
//! K = 3.0
//! n = 0.4
//! ```

use super::finished;
use super::place::{read_batch_kg, read_room, size};
use super::vessel::{read_vessel, say};
use crate::diagnostic::Diagnostic;
use crate::flow_file::{TypedLiquid, read_liquid};
use crate::toml_reader::{Reader, join, parsed};
use levigate_facts::Facts;
use levigate_process::heat::settings::{HeatLoss, HotPlate, JacketSide, RoomSizes};
use levigate_process::heat::warming::Goal;
use levigate_process::properties::BatchLiquid;
use levigate_process::vessel::{Filling, Vessel};
use toml::de::DeTable;

/// `levigate schema heat`.
pub const SCHEMA: &str = include_str!("heat.schema.json");

const FIELDS: [&str; 23] = [
    "title",
    "batch_g",
    "batch_kg",
    "water_percent",
    "water_activity",
    "density_kg_m3",
    "heat_capacity_j_kg_k",
    "conductivity_w_m_k",
    "vessel",
    "open_percent",
    "from_c",
    "to_c",
    "hold_min",
    "down_to_c",
    "rpm",
    "stirrer_w",
    "liquid_at_c",
    "activation_kj_mol",
    "air",
    "losses",
    "plate",
    "jacket",
    "liquid",
];

/// A jacket as typed.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct JacketFile {
    /// Temperature of what heats, C.
    pub heat_c: Option<f64>,
    /// Its flow, kg/h.
    pub heat_flow_kg_h: Option<f64>,
    /// It is steam.
    pub steam: bool,
    /// Temperature of what cools, C.
    pub cool_c: Option<f64>,
    /// Its flow, kg/h.
    pub cool_flow_kg_h: Option<f64>,
    /// Heat capacity of what flows, J/(kg K).
    pub flow_heat_capacity_j_kg_k: Option<f64>,
    /// Overall coefficient, W/(m2 K).
    pub u_w_m2_k: Option<f64>,
    /// Film of the jacket, W/(m2 K).
    pub outside_w_m2_k: Option<f64>,
    /// Fouling, m2 K/W.
    pub fouling_m2_k_w: Option<f64>,
    /// Lining, m2 K/W.
    pub lining_m2_k_w: f64,
    /// Area, m2.
    pub area_m2: Option<f64>,
}

/// A question as typed, with the usual values laid under.
#[derive(Clone, Debug)]
pub struct HeatFile {
    /// Mass, kg.
    pub batch_kg: f64,
    /// Liquid.
    pub liquid: BatchLiquid,
    /// Water activity; none where it was not typed.
    pub water_activity: Option<f64>,
    /// Open part of the surface.
    pub open: f64,
    /// Vessel.
    pub vessel: Vessel,
    /// How the batch stands in it.
    pub filling: Filling,
    /// What is to be reached.
    pub goal: Goal,
    /// Speed of the stirrer, rpm.
    pub rpm: Option<f64>,
    /// Its power, W.
    pub stirrer_w: f64,
    /// The flow curve.
    pub flow: Option<TypedLiquid>,
    /// Its temperature, C.
    pub liquid_at_c: Option<f64>,
    /// Activation energy of the viscosity, kJ/mol.
    pub activation_kj_mol: Option<f64>,
    /// The room.
    pub room: RoomSizes,
    /// Losses.
    pub losses: HeatLoss,
    /// The plate.
    pub plate: HotPlate,
    /// The jacket, where one is asked.
    pub jacket: Option<JacketFile>,
    /// What the jacket usually is.
    pub side: JacketSide,
}

/// The usual values.
#[derive(Clone, Copy)]
pub struct Usual<'f> {
    /// Room.
    pub room: &'f RoomSizes,
    /// Losses.
    pub losses: &'f HeatLoss,
    /// Plate.
    pub plate: &'f HotPlate,
    /// Jacket.
    pub side: &'f JacketSide,
}

/// Reads a question.
///
/// # Errors
/// All that is wrong with the text, each with its place.
pub fn read(file: &str, text: &str, facts: &Facts, usual: &Usual<'_>) -> Result<HeatFile, Vec<Diagnostic>> {
    let table = parsed(file, text)?;
    let top = table.get_ref();
    let mut reader = Reader::new(file, text);
    reader.known_fields(top, "", &FIELDS);
    reader.string(top, "", "title");
    let batch_kg = read_batch_kg(&mut reader, top);
    let liquid = BatchLiquid {
        water: size(&mut reader, top, "", "water_percent").map_or(1.0, |percent| 0.01 * percent),
        density_kg_m3: size(&mut reader, top, "", "density_kg_m3"),
        heat_capacity_j_kg_k: size(&mut reader, top, "", "heat_capacity_j_kg_k"),
        conductivity_w_m_k: size(&mut reader, top, "", "conductivity_w_m_k"),
    };
    let goal = read_goal(&mut reader, top, usual.room.temperature_c);
    let vessel = read_vessel(&mut reader, (top, ""), (file, text), &facts.mixing);
    let filling = vessel.as_ref().zip(batch_kg).and_then(|(vessel, batch_kg)| {
        match vessel.filled(batch_kg / liquid.density_at(25.0)) {
            Ok(filling) => Some(filling),
            Err(error) => {
                let span = reader.span(top, "vessel").unwrap_or(0..0);
                say(&mut reader, (file, text), &span, "vessel", &error);
                None
            }
        }
    });
    let room = read_room(&mut reader, (top, ""), usual.room);
    let losses = read_losses(&mut reader, (top, ""), usual.losses);
    let plate = read_plate(&mut reader, (top, ""), usual.plate);
    let jacket = read_jacket(&mut reader, (top, ""));
    if let Some(jacket) = &jacket {
        if top.contains_key("plate") {
            let what = "a batch stands on a plate or in a jacket".to_owned();
            reader.wrong(top, "", "plate", what, "leave out [plate] or [jacket]");
        }
        if jacket.heat_c.is_none() && goal.is_some_and(|goal| goal.to_c > goal.from_c) {
            reader.wrong(
                top,
                "",
                "jacket",
                "nothing heats".to_owned(),
                "give heat_c, what the jacket is fed with",
            );
        }
    }
    let flow = match reader.table(top, "", "liquid") {
        Some((table, span)) => read_liquid(&mut reader, table, &span, (file, text)),
        None => None,
    };
    let rest = (
        size(&mut reader, top, "", "rpm"),
        size(&mut reader, top, "", "stirrer_w").unwrap_or(0.0),
        size(&mut reader, top, "", "liquid_at_c"),
        size(&mut reader, top, "", "activation_kj_mol"),
        size(&mut reader, top, "", "water_activity"),
        size(&mut reader, top, "", "open_percent").map_or(1.0, |percent| 0.01 * percent),
    );
    let (rpm, stirrer_w, liquid_at_c, activation_kj_mol, water_activity, open) = rest;
    let found = (|| {
        Some(HeatFile {
            batch_kg: batch_kg?,
            liquid,
            water_activity,
            open,
            vessel: vessel?,
            filling: filling?,
            goal: goal?,
            rpm,
            stirrer_w,
            flow,
            liquid_at_c,
            activation_kj_mol,
            room,
            losses,
            plate,
            jacket,
            side: usual.side.clone(),
        })
    })();
    finished(reader, found)
}

fn read_goal(reader: &mut Reader<'_>, top: &DeTable<'_>, room_c: f64) -> Option<Goal> {
    if !top.contains_key("to_c") {
        reader.missing(&(0..0), "", "to_c", "give the temperature to be reached, to_c = 75");
        return None;
    }
    let from_c = size(reader, top, "", "from_c").unwrap_or(room_c);
    let to_c = size(reader, top, "", "to_c")?;
    if from_c > to_c {
        // It would be held and cooled from a temperature it has not come down to.
        let what = format!("the batch starts at {from_c} C, above the temperature to be reached");
        let what_now = "to cool only, write to_c as warm as from_c and the end as down_to_c";
        reader.wrong(top, "", "to_c", what, what_now);
        return None;
    }
    Some(Goal {
        from_c,
        to_c,
        hold_s: 60.0 * size(reader, top, "", "hold_min").unwrap_or(0.0),
        down_to_c: size(reader, top, "", "down_to_c"),
    })
}

/// A table and its path.
pub(crate) type At<'t, 'd> = (&'t DeTable<'d>, &'t str);

/// Lays what a table gives over usual values.
fn lay_over(reader: &mut Reader<'_>, (parent, path): At<'_, '_>, key: &str, usual: &mut [(&str, &mut f64)]) {
    let Some((table, _)) = reader.table(parent, path, key) else { return };
    let path = join(path, key);
    let fields: Vec<&str> = usual.iter().map(|(field, _)| *field).collect();
    reader.known_fields(table, &path, &fields);
    for (field, value) in usual {
        if let Some(given) = size(reader, table, &path, field) {
            **value = given;
        }
    }
}

pub(crate) fn read_losses(reader: &mut Reader<'_>, parent: At<'_, '_>, usual: &HeatLoss) -> HeatLoss {
    let mut losses = usual.clone();
    lay_over(
        reader,
        parent,
        "losses",
        &mut [
            ("wall_w_m2_k", &mut losses.wall_w_m2_k),
            ("surface_w_m2_k", &mut losses.surface_w_m2_k),
            ("emissivity", &mut losses.emissivity),
            ("doubt_percent", &mut losses.doubt_percent),
        ],
    );
    losses
}

pub(crate) fn read_plate(reader: &mut Reader<'_>, parent: At<'_, '_>, usual: &HotPlate) -> HotPlate {
    let mut plate = usual.clone();
    lay_over(
        reader,
        parent,
        "plate",
        &mut [
            ("power_w", &mut plate.power_w),
            ("heat_capacity_j_k", &mut plate.heat_capacity_j_k),
            ("contact_w_m2_k", &mut plate.contact_w_m2_k),
            ("loss_w_k", &mut plate.loss_w_k),
            ("most_c", &mut plate.most_c),
            ("doubt_percent", &mut plate.doubt_percent),
        ],
    );
    plate
}

/// `[jacket]`, where there is one.
pub(crate) fn read_jacket(reader: &mut Reader<'_>, (parent, path): At<'_, '_>) -> Option<JacketFile> {
    const FIELDS: [&str; 12] = [
        "heat_c",
        "heat_flow_kg_h",
        "steam",
        "cool_c",
        "cool_flow_kg_h",
        "flow_heat_capacity_j_kg_k",
        "u_w_m2_k",
        "outside_w_m2_k",
        "fouling_m2_k_w",
        "lining_mm",
        "lining_w_m_k",
        "area_m2",
    ];
    let (table, _) = reader.table(parent, path, "jacket")?;
    let path = join(path, "jacket");
    reader.known_fields(table, &path, &FIELDS);
    let steam = reader.bool(table, &path, "steam").unwrap_or(false);
    let mut of = |field: &str| size(reader, table, &path, field);
    let jacket = JacketFile {
        heat_c: of("heat_c"),
        heat_flow_kg_h: of("heat_flow_kg_h"),
        steam,
        cool_c: of("cool_c"),
        cool_flow_kg_h: of("cool_flow_kg_h"),
        flow_heat_capacity_j_kg_k: of("flow_heat_capacity_j_kg_k"),
        u_w_m2_k: of("u_w_m2_k"),
        outside_w_m2_k: of("outside_w_m2_k"),
        fouling_m2_k_w: of("fouling_m2_k_w"),
        lining_m2_k_w: 0.0,
        area_m2: of("area_m2"),
    };
    let (lining_mm, lining_w_m_k) = (of("lining_mm"), of("lining_w_m_k"));
    Some(match (lining_mm, lining_w_m_k) {
        (Some(mm), Some(conductivity)) => JacketFile { lining_m2_k_w: 1e-3 * mm / conductivity, ..jacket },
        (None, None) => jacket,
        _ => {
            let present = if lining_mm.is_some() { "lining_mm" } else { "lining_w_m_k" };
            let what = "a lining has a thickness and a conductivity".to_owned();
            reader.wrong(
                table,
                &path,
                present,
                what,
                "give lining_mm and lining_w_m_k; glass has 0.9 W/(m K)",
            );
            jacket
        }
    })
}

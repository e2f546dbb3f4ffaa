//! The file of `mix`.
//!
//! ```toml
//! speed_rpm = 600
//! batch_kg = 0.2
//! vessel = "beaker-250-ml"
//! [liquid]                       # or --formula FILE
//! model = "power-law"
//! K = 3.0
//! n = 0.4
//! [start]                        # before it thickens
//! viscosity_mpa_s = 1.0
//! [grains]
//! diameter_um = 100
//! density_kg_m3 = 1500
//! percent = 1
//! [gum]
//! kind = "xanthan"
//! gum_g = 1.0
//! polyol_g = 6.0
//! readings = [[5, 800], [20, 2100], [60, 2900], [1440, 3000]]   # minutes and mPa s
//! ```

use super::finished;
use super::place::read_batch_kg;
use super::vessel::read_vessel;
use crate::diagnostic::Diagnostic;
use crate::flow_file::{TypedLiquid, number, read_liquid};
use crate::toml_reader::{Reader, parsed};
use levigate_facts::Mixing;
use levigate_process::mixing::suspend::Grains;
use levigate_process::vessel::Vessel;
use rust_decimal::prelude::ToPrimitive;
use toml::de::DeTable;

/// `levigate schema mix`.
pub const SCHEMA: &str = include_str!("mix.schema.json");

/// Speeds, rpm, that can be typed.
pub(crate) const SPEEDS: [f64; 2] = [0.01, 30_000.0];

/// A gum as typed.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TypedGum {
    /// Key of its family; none where the formula says it.
    pub kind: Option<String>,
    /// Grain, um.
    pub grain_um: Option<f64>,
    /// Temperature, deg C.
    pub temperature_c: Option<f64>,
    /// Gum, g.
    pub gum_g: Option<f64>,
    /// Polyol, g.
    pub polyol_g: Option<f64>,
    /// Minutes and mPa s.
    pub readings: Vec<(f64, f64)>,
}

/// A question of `mix`.
#[derive(Clone, Debug)]
pub struct MixFile {
    /// Speed, rpm.
    pub speed_rpm: f64,
    /// Batch, kg.
    pub batch_kg: f64,
    /// Vessel.
    pub vessel: Vessel,
    /// Liquid; none where a formula says it.
    pub liquid: Option<Box<TypedLiquid>>,
    /// Viscosity before it thickens, Pa s.
    pub start_pa_s: Option<f64>,
    /// Grains.
    pub grains: Option<Grains>,
    /// Gum.
    pub gum: Option<TypedGum>,
}

/// Reads a question. `formula` says that a formula gives the liquid.
///
/// # Errors
/// All that is wrong with the text, each with its place.
pub fn read(file: &str, text: &str, facts: &Mixing, formula: bool) -> Result<MixFile, Vec<Diagnostic>> {
    let table = parsed(file, text)?;
    let top = table.get_ref();
    let mut reader = Reader::new(file, text);
    let fields = ["title", "speed_rpm", "batch_g", "batch_kg", "vessel", "liquid", "start", "grains", "gum"];
    reader.known_fields(top, "", &fields);
    reader.string(top, "", "title");
    let speed = required(&mut reader, top, "", "speed_rpm", SPEEDS, "the speed of the impeller, in rpm");
    let batch = read_batch_kg(&mut reader, top);
    let vessel = read_vessel(&mut reader, (top, ""), (file, text), facts);
    if let Some(vessel) = &vessel
        && vessel.impeller().is_none()
    {
        reader.missing(
            &(0..0),
            "vessel",
            "impeller",
            "write impeller = { kind = \"anchor\", diameter_mm = 300 }",
        );
    }
    let liquid = liquid(&mut reader, top, (file, text), formula);
    let start_pa_s = reader.table(top, "", "start").and_then(|(start, _)| {
        reader.known_fields(start, "start", &["viscosity_mpa_s"]);
        let what = "the viscosity before it thickens: 1 for water";
        required(&mut reader, start, "start", "viscosity_mpa_s", [0.1, 1e7], what).map(|mpa_s| 1e-3 * mpa_s)
    });
    let grains = grains(&mut reader, top);
    let gum = gum(&mut reader, top, facts, formula);
    let found = speed.zip(batch).zip(vessel).filter(|_| liquid.is_some() || formula);
    let found = found.map(|((speed_rpm, batch_kg), vessel)| MixFile {
        speed_rpm,
        batch_kg,
        vessel,
        liquid,
        start_pa_s,
        grains,
        gum,
    });
    finished(reader, found)
}

/// A number that must be there.
pub(crate) fn required(
    reader: &mut Reader<'_>,
    table: &DeTable<'_>,
    path: &str,
    key: &str,
    limits: [f64; 2],
    what_now: &str,
) -> Option<f64> {
    if !table.contains_key(key) {
        reader.missing(&(0..0), path, key, what_now);
        return None;
    }
    number(reader, table, path, key, limits)
}

/// `[liquid]`, where no formula gives it.
pub(crate) fn liquid(
    reader: &mut Reader<'_>,
    top: &DeTable<'_>,
    text: (&str, &str),
    formula: bool,
) -> Option<Box<TypedLiquid>> {
    let found = reader.table(top, "", "liquid");
    match (found, formula) {
        (Some((_, span)), true) => {
            let what_now = "leave [liquid] out, or the formula";
            let what = "the liquid is given by a formula and by [liquid]";
            reader.say(crate::diagnostic::at(text, &span, "twice", "liquid", what, what_now));
            None
        }
        (Some((table, span)), false) => read_liquid(reader, table, &span, text).map(Box::new),
        (None, false) if !top.contains_key("liquid") => {
            let what_now =
                "write [liquid] with a model and its parameters, or points; or name a formula with --formula";
            reader.missing(&(0..0), "", "liquid", what_now);
            None
        }
        (None, _) => None,
    }
}

/// `[grains]`.
pub(crate) fn grains(reader: &mut Reader<'_>, top: &DeTable<'_>) -> Option<Grains> {
    let (table, _) = reader.table(top, "", "grains")?;
    reader.known_fields(table, "grains", &["diameter_um", "density_kg_m3", "percent"]);
    let diameter =
        required(reader, table, "grains", "diameter_um", [0.1, 1e5], "the diameter of a grain, in um");
    let density =
        required(reader, table, "grains", "density_kg_m3", [100.0, 25_000.0], "their density, in kg/m3");
    let percent = number(reader, table, "grains", "percent", [1e-4, 100.0]);
    Some(Grains { diameter_m: 1e-6 * diameter?, density_kg_m3: density?, percent: percent.unwrap_or(1.0) })
}

fn gum(reader: &mut Reader<'_>, top: &DeTable<'_>, facts: &Mixing, formula: bool) -> Option<TypedGum> {
    let (table, span) = reader.table(top, "", "gum")?;
    let fields = ["kind", "grain_um", "temperature_c", "gum_g", "polyol_g", "readings"];
    reader.known_fields(table, "gum", &fields);
    let keys: Vec<&str> = facts.hydration.keys().map(String::as_str).collect();
    let kind = reader.choice(table, "gum", "kind", &keys);
    if !table.contains_key("kind") && !formula {
        reader.missing(&span, "gum", "kind", &format!("use one of {}", keys.join(", ")));
    }
    let grain_um = number(reader, table, "gum", "grain_um", [0.1, 1e4]);
    let temperature_c = number(reader, table, "gum", "temperature_c", [0.0, 100.0]);
    let gum_g = number(reader, table, "gum", "gum_g", [1e-6, 1e9]);
    let polyol_g = number(reader, table, "gum", "polyol_g", [0.0, 1e9]);
    let mut readings = Vec::new();
    for [minutes, mpa_s] in reader.pairs(table, "gum", "readings").unwrap_or_default() {
        let pair = (minutes.to_f64().unwrap_or(f64::NAN), mpa_s.to_f64().unwrap_or(f64::NAN));
        if pair.0 > 0.0 && pair.1 > 0.0 {
            readings.push(pair);
        } else {
            let what = format!("[{minutes}, {mpa_s}] cannot be a reading");
            reader.wrong(table, "gum", "readings", what, "minutes and mPa s lie above zero");
        }
    }
    Some(TypedGum { kind, grain_um, temperature_c, gum_g, polyol_g, readings })
}

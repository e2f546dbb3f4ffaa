//! Bench readings as viscosities and points of a flow curve: cups, timed runs on a plate, coaxial cylinders, cone, plates, disc spindles.
//!
//! ```toml
//! [[disc]]
//! name = "gel, lot 4"
//! spindle = "disc, 27 mm"
//! full_scale_un_m = 718.7
//! speed_rpm = [5, 10, 20]
//! reading_percent = [32.6, 41.5, 52.9]     # or dial_viscosity_mpa_s
//! temperature_c = 25.0
//! age_h = 24
//! error_percent = 1.0                      # of each torque or time, 95 %; leave out where it is not known
//! ```
//!
//! The answer ([`FlowRead`]): `entries` in the order of the file, each with its points, its statements (a viscosity with spindle, speed,
//! temperature and age) and what must be known of them; one that gives nothing says why in `trouble` and spoils no other. `laws` are power
//! laws through cups or runs of one name, temperature and age. `beside` lays entries side by side and says which conditions keep them from
//! being compared. `curve` holds what makes three points or more in the form that `flow fit` takes.

mod bench_file;
mod beside;
mod together;
mod turned;

pub use super::flow_fit::Trouble;
pub use beside::Compared;
pub use together::Law;

use crate::diagnostic::{Diagnostic, at};
use bench_file::Entry;
use levigate_facts::Facts;
use levigate_measure::{Grade, Note, Outcome};
use levigate_process::flow::stated::StatedViscosity;
use serde::Serialize;
use std::fmt::Write as _;

/// The form of the file, as JSON Schema.
pub const SCHEMA: &str = include_str!("flow_read/form.schema.json");

/// Headings of the file.
const TABLES: [&str; 6] = ["cup", "run", "coaxial", "cone", "plates", "disc"];
/// Fields every table may have.
const FIELDS_OF_ALL: [&str; 5] = ["name", "temperature_c", "age_h", "density_kg_m3", "error_percent"];
/// Points from which a curve is worth fitting.
const CURVE: usize = 3;
/// Grade of what follows from a reading by the geometry alone.
const BY_GEOMETRY: Grade = Grade::Computed;
/// Coverage of an error as typed.
const COVERAGE: f64 = 0.95;

/// Bench readings, read.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FlowRead {
    /// File the readings came from; `-` for standard input.
    pub file: String,
    /// One for every table, in the order of the file.
    pub entries: Vec<EntryReading>,
    /// Power laws through cups or runs of one sample.
    pub laws: Vec<Law>,
    /// Entries side by side.
    pub beside: Vec<Compared>,
    /// TOML with a `[[curve]]` for each sample of three points or more; absent where there is none.
    pub curve: Option<String>,
}

/// A table of the file.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EntryReading {
    /// `cup 1`.
    pub entry: String,
    /// Name, as typed.
    pub name: String,
    /// The instrument in words.
    pub with: String,
    /// Temperature, C, as typed.
    pub temperature_c: Option<f64>,
    /// Age, h, as typed.
    pub age_h: Option<f64>,
    /// Points of a flow curve.
    pub points: Vec<PointRead>,
    /// Viscosities with their conditions.
    pub statements: Vec<Statement>,
    /// What must be known of all of it.
    pub notes: Vec<Note>,
    /// Why it gives no point.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trouble: Option<Trouble>,
}

impl EntryReading {
    /// Name where there is one, else place in the file.
    #[must_use]
    pub fn title(&self) -> &str {
        if self.name.is_empty() { &self.entry } else { &self.name }
    }
}

/// A point of a flow curve.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PointRead {
    /// Representative shear rate.
    pub shear_rate: Outcome,
    /// Stress.
    pub stress: Outcome,
    /// Viscosity.
    pub viscosity: Outcome,
}

/// A viscosity with its conditions.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Statement {
    /// As shown by the instrument, or of the point.
    pub viscosity: Outcome,
    /// Viscosity, instrument, speed, temperature and age in one line.
    pub words: String,
    /// The same in parts.
    #[serde(skip)]
    pub stated: StatedViscosity,
}

/// Answers a file of bench readings. `file` is only used in messages.
///
/// # Errors
/// All that is wrong with the text, each with its place; that no entry gives anything.
pub fn flow_read(facts: &Facts, (file, text): (&str, &str)) -> Result<FlowRead, Vec<Diagnostic>> {
    let entries = bench_file::read(facts, file, text)?;
    let readings: Vec<EntryReading> = entries.iter().map(turned::entry_reading).collect();
    if readings.iter().all(|reading| reading.points.is_empty() && reading.statements.is_empty()) {
        let place = |(entry, reading): (&Entry, &EntryReading)| {
            let trouble = reading.trouble.clone()?;
            let (code, field) = ("no-viscosity", entry.field.clone());
            Some(at((file, text), &entry.place, code, field, trouble.what, trouble.what_now))
        };
        return Err(entries.iter().zip(&readings).filter_map(place).collect());
    }
    let (laws, mut curves) = together::laws(&entries, &readings);
    curves.extend(entries.iter().zip(&readings).filter_map(|(entry, reading)| {
        let points: Option<Vec<(f64, f64)>> =
            reading.points.iter().map(|point| Some((point.shear_rate.value?, point.stress.value?))).collect();
        let points = points.filter(|points| points.len() >= CURVE)?;
        Some(CurveRead { name: reading.title().to_owned(), temperature_c: entry.temperature_c, points })
    }));
    Ok(FlowRead {
        file: file.to_owned(),
        laws,
        beside: beside::compared(&readings),
        curve: written(&curves),
        entries: readings,
    })
}

/// Points of a sample.
struct CurveRead {
    name: String,
    temperature_c: Option<f64>,
    /// Shear rate (1/s) and stress (Pa).
    points: Vec<(f64, f64)>,
}

/// Curves as the TOML that `flow fit` takes.
fn written(curves: &[CurveRead]) -> Option<String> {
    let mut text = String::new();
    for curve in curves {
        let list = |of: fn(&(f64, f64)) -> f64| {
            curve.points.iter().map(|point| format!("{:e}", of(point))).collect::<Vec<_>>().join(", ")
        };
        let name = toml::Value::String(curve.name.clone());
        // Writing into a text cannot fail.
        let _ = writeln!(text, "[[curve]]\nname = {name}");
        if let Some(temperature) = curve.temperature_c {
            let _ = writeln!(text, "temperature_c = {}", toml::Value::Float(temperature));
        }
        let _ = writeln!(text, "shear_rate_1_s = [{}]", list(|point| point.0));
        let _ = writeln!(text, "stress_pa = [{}]", list(|point| point.1));
    }
    (!text.is_empty()).then_some(text)
}

#[cfg(test)]
mod tests;

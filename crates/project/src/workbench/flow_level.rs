//! How much of a thickener gives the viscosity wanted.

use super::assess::{Bench, diagnose, facts_for, known};
use super::complaint::{Complaint, complaints};
use crate::diagnostic::Diagnostic;
use crate::formula_file::{self, FormulaFile};
use jiff::civil::Date;
use levigate_assess::flow::level::{self, LevelAsk};
pub use levigate_assess::flow::level::{Level, Rung};
use levigate_facts::Facts;
use levigate_formula::sheet::{Sheet, ViscosityTarget};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

/// What is wanted of a thickener; what is left out is taken from the brief of the formula.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LevelWanted {
    /// Raw material whose level is sought; the only thickener of the formula where it is left out.
    pub material: Option<String>,
    /// Viscosity wanted, mPa s; the middle of the brief's window on a logarithmic scale where it is left out.
    pub mpa_s: Option<f64>,
    /// Spindle, in words.
    pub spindle: Option<String>,
    /// Speed, rpm.
    pub speed_rpm: Option<Decimal>,
    /// Shear rate instead of spindle and speed, 1/s.
    pub shear_rate: Option<f64>,
    /// Temperature, C.
    pub temperature_c: Option<Decimal>,
}

/// Seeks the level of a thickener in a formula.
///
/// # Errors
/// What is wrong with the formula, a raw material that is not in it, a viscosity that is not said. A viscosity that is not reached is a
/// refusal in the result.
pub fn flow_level(
    facts: &Facts,
    (day, market): (Date, &str),
    (file, text): (&str, &str),
    wanted: &LevelWanted,
    bench: Option<Bench<'_>>,
) -> Result<Level, Vec<Diagnostic>> {
    let formula = formula_file::read(file, text)?;
    let facts = facts_for(facts, file, &formula)?;
    let line = line_of(&facts, &formula, wanted.material.as_deref())?;
    let brief = formula.sheet.target.viscosity.as_ref();
    let mpa_s = match (wanted.mpa_s, brief) {
        (Some(mpa_s), _) if mpa_s > 0.0 && mpa_s.is_finite() => mpa_s,
        (None, Some(brief)) => middle(brief),
        (given, _) => {
            let what = match given {
                Some(given) => format!("a viscosity of {given} mPa.s cannot be wanted"),
                None => "no viscosity is wanted".to_owned(),
            };
            let what_now =
                "name one above zero, or give the formula [target.viscosity] with mpa_s".to_owned();
            return Err(vec![formula.diagnose_line(None, "no-viscosity-wanted", what, what_now)]);
        }
    };
    let conditions = ViscosityTarget {
        mpa_s: brief.map(|brief| brief.mpa_s).unwrap_or_default(),
        spindle: wanted.spindle.clone().or_else(|| brief.and_then(|brief| brief.spindle.clone())),
        speed_rpm: wanted.speed_rpm.or(brief.and_then(|brief| brief.speed_rpm)),
        temperature_c: wanted.temperature_c.or(brief.and_then(|brief| brief.temperature_c)),
        age_h: brief.and_then(|brief| brief.age_h),
    };
    let mut known = known(&facts);
    known.flow.bench = bench;
    let ask = LevelAsk {
        sheet: &formula.sheet,
        line,
        conditions: Some(&conditions),
        shear_rate: wanted.shear_rate,
        mpa_s,
        known,
        day,
        market,
    };
    level::level(&ask).map_err(|error| diagnose(&formula, &error))
}

/// Seeks the level of the thickener in a line (from 0) of a sheet for a viscosity (mPa s) at the conditions of its brief.
///
/// # Errors
/// Everything that is wrong with the sheet.
pub fn sheet_level(
    facts: &Facts,
    (day, market): (Date, &str),
    sheet: &Sheet,
    bench: Option<Bench<'_>>,
    line: usize,
    mpa_s: f64,
) -> Result<Level, Vec<Complaint>> {
    let mut known = known(facts);
    known.flow.bench = bench;
    let conditions = sheet.target.viscosity.as_ref();
    let ask = LevelAsk { sheet, line, conditions, shear_rate: None, mpa_s, known, day, market };
    level::level(&ask).map_err(|error| complaints(&error))
}

/// Middle of a window on a logarithmic scale, mPa s.
fn middle(brief: &ViscosityTarget) -> f64 {
    let [low, high] = brief.mpa_s.map(|end| end.to_f64().unwrap_or(0.0));
    if low > 0.0 { (low * high).sqrt() } else { high }
}

/// The line a raw material stands in, or that of the only thickener.
fn line_of(facts: &Facts, formula: &FormulaFile, material: Option<&str>) -> Result<usize, Vec<Diagnostic>> {
    let key = |typed: &str| facts.names.resolve_material(typed).ok();
    let lines = || formula.sheet.lines().enumerate();
    let named = |list: Vec<&str>| if list.is_empty() { "none".to_owned() } else { list.join(", ") };
    let Some(material) = material else {
        let thickeners: Vec<(usize, &str)> = lines()
            .filter(|(_, (_, line))| {
                key(&line.material).is_some_and(|key| facts.flow.thickeners.contains_key(key))
            })
            .map(|(at, (_, line))| (at, line.material.as_str()))
            .collect();
        if let [(only, _)] = thickeners.as_slice() {
            return Ok(*only);
        }
        let names = named(thickeners.into_iter().map(|(_, name)| name).collect());
        let what = format!("the formula has not one thickener whose law is known, but {names}");
        let what_now = "name the raw material whose level is sought".to_owned();
        return Err(vec![formula.diagnose_line(None, "which-thickener", what, what_now)]);
    };
    let wanted = key(material);
    let found = lines().find(|(_, (_, line))| {
        line.material == material || (wanted.is_some() && key(&line.material) == wanted)
    });
    found.map(|(at, _)| at).ok_or_else(|| {
        let what = format!("\"{material}\" is in no line of the formula");
        let names = named(lines().map(|(_, (_, line))| line.material.as_str()).collect());
        vec![formula.diagnose_line(None, "not-in-formula", what, format!("its lines are: {names}"))]
    })
}

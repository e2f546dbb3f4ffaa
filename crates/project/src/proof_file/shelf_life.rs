//! The file of `shelf-life`.
//!
//! ```toml
//! attribute = "ascorbic acid"
//! unit = "% of label"
//! condition = "25 C, 60 % r.h."
//! time_unit = "weeks"            # days, weeks, months (usual)
//! lower = 90                     # or upper, or both
//! either_way = false             # true: the attribute may drift up or down, both confidence limits count
//! scale = "plain"                # logarithm, square-root: in which it moves along a line
//! confidence_percent = 95
//! level = 0.25                   # at which a difference between batches stands
//! kept = "room"                  # cold
//! accelerated = "unchanged"      # changed, not-tested (usual)
//! intermediate = "not-tested"
//! wanted_months = 24
//! [[batch]]
//! name = "QL-2611-03"
//! readings = [[0, 101.3], [4, 100.2], [8, 99.6]]
//! ```
//!
//! A table of readings may stand in the place of the batches (`over_time`), with the other fields beside it.

use super::over_time::{Belongs, read as read_table};
use super::{OPTIONS, as_a_whole, confidence, readings, time_unit};
use crate::diagnostic::Diagnostic;
use crate::flow_file::number;
use crate::making_file::finished;
use crate::toml_reader::{Reader, parsed};
use levigate_assess::shelf_life::{Scale, Study};
use levigate_process::stability::pooling::CUSTOMARY_LEVEL;
use levigate_process::stability::{Limits, PoolingError};
use levigate_rules::extrapolation::{Harsher, Kept, Seen};
use std::collections::BTreeSet;
use toml::de::DeTable;

/// `levigate schema shelf-life`.
pub const SCHEMA: &str = include_str!("shelf_life.schema.json");

const FIELDS: [&str; 15] = [
    "attribute",
    "unit",
    "condition",
    "time_unit",
    "lower",
    "upper",
    "either_way",
    "scale",
    "confidence_percent",
    "level",
    "kept",
    "accelerated",
    "intermediate",
    "wanted_months",
    "batch",
];
const SEEN: [(&str, Seen); 3] =
    [("unchanged", Seen::Unchanged), ("changed", Seen::Changed), ("not-tested", Seen::NotTested)];

/// Reads a study.
///
/// # Errors
/// All that is wrong with the text, each with its place.
pub fn read(file: &str, text: &str) -> Result<Study, Vec<Diagnostic>> {
    let table = parsed(file, text)?;
    let top = table.get_ref();
    let mut reader = Reader::new(file, text);
    reader.known_fields(top, "", &FIELDS);
    let (mut study, months) = beside(&mut reader, top);
    study.batches = batches(&mut reader, top, months.unwrap_or(1.0), study.scale);
    finished(reader, Some(study))
}

/// Reads a table of readings; `options` hold the other fields of a file.
///
/// # Errors
/// All that is wrong with either, each with its place.
pub fn read_readings(table: (&str, &[u8]), options: &str) -> Result<Study, Vec<Diagnostic>> {
    let parsed = parsed(OPTIONS, options)?;
    let top = parsed.get_ref();
    let mut reader = Reader::new(OPTIONS, options);
    let fields: Vec<&str> = FIELDS.into_iter().filter(|field| *field != "batch").collect();
    reader.known_fields(top, "", &fields);
    let (mut study, months) = beside(&mut reader, top);
    let found = read_table(table, Belongs::Batch, months)?;
    for (place, group) in found.groups.into_iter().enumerate() {
        if let Some((_, value)) = group.readings.iter().find(|(_, value)| !fits(study.scale, *value)) {
            let what = format!("{value} in {} has no place in this scale", named(&group.name, place));
            reader.wrong(top, "", "scale", what, "take scale = \"plain\", or look at the reading");
        }
        study.batches.push((named(&group.name, place), group.readings));
    }
    if !top.contains_key("attribute") && !found.attribute.is_empty() {
        study.attribute = found.attribute;
    }
    if !top.contains_key("unit") {
        study.unit = found.unit;
    }
    finished(reader, Some(study))
}

fn named(name: &str, place: usize) -> String {
    if name.is_empty() { format!("batch {}", place + 1) } else { name.to_owned() }
}

/// Everything but the batches, and months of one unit of time where it is said.
fn beside(reader: &mut Reader<'_>, top: &DeTable<'_>) -> (Study, Option<f64>) {
    let attribute = reader.string(top, "", "attribute").unwrap_or_else(|| "what was measured".to_owned());
    let unit = reader.string(top, "", "unit").unwrap_or_default();
    let condition = reader.string(top, "", "condition").unwrap_or_default();
    let months = top.contains_key("time_unit").then(|| time_unit(reader, top));
    let scale =
        reader.choice(top, "", "scale", &Scale::WORDS).and_then(|word| Scale::of(&word)).unwrap_or_default();
    let limits = limits(reader, top, scale);
    let either_way = reader.bool(top, "", "either_way").unwrap_or(false);
    let confidence = confidence(reader, top);
    let level = number(reader, top, "", "level", [0.001, 0.999]).unwrap_or(CUSTOMARY_LEVEL);
    let kept = match reader.choice(top, "", "kept", &["room", "cold"]).as_deref() {
        Some("cold") => Kept::Cold,
        _ => Kept::Room,
    };
    let [accelerated, intermediate] = ["accelerated", "intermediate"].map(|key| {
        let word = reader.choice(top, "", key, &SEEN.map(|(word, _)| word));
        SEEN.iter()
            .find(|(known, _)| word.as_deref() == Some(*known))
            .map_or(Seen::NotTested, |(_, seen)| *seen)
    });
    let wanted_months = number(reader, top, "", "wanted_months", [0.1, 240.0]);
    let study = Study {
        attribute,
        unit,
        condition,
        batches: Vec::new(),
        limits,
        scale,
        either_way,
        confidence,
        level,
        harsher: Harsher { kept, accelerated, intermediate },
        wanted_months,
    };
    (study, months)
}

fn limits(reader: &mut Reader<'_>, top: &DeTable<'_>, scale: Scale) -> Limits {
    const ANY: [f64; 2] = [-1e9, 1e9];
    let limits =
        Limits { lower: number(reader, top, "", "lower", ANY), upper: number(reader, top, "", "upper", ANY) };
    if !top.contains_key("lower") && !top.contains_key("upper") {
        reader.missing(
            &(0..0),
            "",
            "lower",
            "write lower = 90, or upper, or both: without a limit nothing is ever left",
        );
    }
    if let (Some(lower), Some(upper)) = (limits.lower, limits.upper)
        && lower >= upper
    {
        reader.wrong(
            top,
            "",
            "upper",
            format!("{upper} is not above the lower limit of {lower}"),
            "exchange the two",
        );
    }
    for (key, limit) in [("lower", limits.lower), ("upper", limits.upper)] {
        if limit.is_some_and(|limit| !fits(scale, limit)) {
            reader.wrong(
                top,
                "",
                key,
                format!("{key} has no place in this scale"),
                "a logarithm wants numbers above zero; take scale = \"plain\"",
            );
        }
    }
    limits
}

/// Whether a number has a place in a scale.
fn fits(scale: Scale, value: f64) -> bool {
    match scale {
        Scale::Plain => true,
        Scale::Logarithm => value > 0.0,
        Scale::SquareRoot => value >= 0.0,
    }
}

fn batches(
    reader: &mut Reader<'_>,
    top: &DeTable<'_>,
    months: f64,
    scale: Scale,
) -> Vec<(String, Vec<(f64, f64)>)> {
    let mut names = BTreeSet::new();
    let mut found = Vec::new();
    for (place, (table, span)) in reader.tables(top, "", "batch").into_iter().enumerate() {
        let path = format!("batch {}", place + 1);
        reader.known_fields(table, &path, &["name", "readings"]);
        let name = reader.string(table, &path, "name").unwrap_or_else(|| format!("batch {}", place + 1));
        if !names.insert(name.clone()) {
            reader.wrong(
                table,
                &path,
                "name",
                format!("{name} stands here twice"),
                "put all readings of a batch under one heading",
            );
        }
        if !table.contains_key("readings") {
            reader.missing(
                &span,
                &path,
                "readings",
                "write readings = [[0, 101.3], [3, 99.8]]: time and value",
            );
        }
        let Some(readings) = readings(reader, table, &path, months) else { continue };
        if let Some((_, value)) = readings.iter().find(|(_, value)| !fits(scale, *value)) {
            reader.wrong(
                table,
                &path,
                "readings",
                format!("{value} has no place in this scale"),
                "take scale = \"plain\", or look at the reading",
            );
        }
        found.push((name, readings));
    }
    if !top.contains_key("batch") {
        reader.missing(
            &(0..0),
            "",
            "batch",
            "write [[batch]] with readings = [[0, 101.3], [3, 99.8]]: time and value",
        );
    }
    found
}

/// What the batches cannot carry, said of the file.
#[must_use]
pub fn refused(file: &str, text: &str, study: &Study, error: &PoolingError) -> Vec<Diagnostic> {
    let of = |place: usize| {
        study.batches.get(place.saturating_sub(1)).map(|(name, _)| format!(" ({name})")).unwrap_or_default()
    };
    let what = match error {
        PoolingError::OneTime { batch, .. } | PoolingError::NotAReading { batch, .. } => {
            format!("{error}{}", of(*batch))
        }
        _ => error.to_string(),
    };
    as_a_whole((file, text), "batch", what, error.hint())
}

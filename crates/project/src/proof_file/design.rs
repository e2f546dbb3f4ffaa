//! The file of `design`.
//!
//! ```toml
//! title = "three thickeners"
//! total_percent = 1.4             # what the parts make together; 100, where it is left out
//! model = "quadratic"             # linear, special-cubic, full-cubic
//! runs = 10                       # three more than the model has terms, where it is left out
//! step_percent = 0.1              # of the grid that is chosen from; a twentieth of the total, where it is left out
//! starts = 10
//! seed = 1
//! [[part]]
//! name = "Xanthan gum"
//! low_percent = 0.1
//! high_percent = 0.8
//! [[condition]]                   # the sum of factors times percent is at least so much
//! factors = [1, 0, -2]
//! least_percent = 0
//! ```

use super::as_a_whole;
use crate::diagnostic::Diagnostic;
use crate::flow_file::number;
use crate::making_file::finished;
use crate::toml_reader::{Reader, parsed};
use levigate_assess::blends::{Asked, BlendsError};
use levigate_measure::experiment::{Condition, Model};
use rust_decimal::prelude::ToPrimitive;
use std::collections::BTreeSet;
use toml::de::DeTable;

/// `levigate schema design`.
pub const SCHEMA: &str = include_str!("design.schema.json");

const FIELDS: [&str; 9] =
    ["title", "total_percent", "model", "runs", "step_percent", "starts", "seed", "part", "condition"];
pub(super) const MODELS: [(&str, Model); 4] = [
    ("linear", Model::Linear),
    ("quadratic", Model::Quadratic),
    ("special-cubic", Model::SpecialCubic),
    ("full-cubic", Model::FullCubic),
];
/// Starts where nobody says how many.
pub(super) const USUAL_STARTS: usize = 10;

/// Reads a question.
///
/// # Errors
/// All that is wrong with the text, each with its place.
pub fn read(file: &str, text: &str) -> Result<Asked, Vec<Diagnostic>> {
    let table = parsed(file, text)?;
    let top = table.get_ref();
    let mut reader = Reader::new(file, text);
    reader.known_fields(top, "", &FIELDS);
    let title = reader.string(top, "", "title").unwrap_or_default();
    let total_percent = number(&mut reader, top, "", "total_percent", [0.001, 100.0]).unwrap_or(100.0);
    let word = reader.choice(top, "", "model", &MODELS.map(|(word, _)| word));
    let model = MODELS
        .iter()
        .find(|(known, _)| word.as_deref() == Some(*known))
        .map_or(Model::Quadratic, |(_, model)| *model);
    let runs = count(&mut reader, top, "runs", 500.0);
    let step_percent =
        number(&mut reader, top, "", "step_percent", [0.000_1, 100.0]).unwrap_or(0.05 * total_percent);
    let starts = count(&mut reader, top, "starts", 1000.0).unwrap_or(USUAL_STARTS);
    let seed = number(&mut reader, top, "", "seed", [0.0, 9e15]).and_then(|seed| seed.to_u64()).unwrap_or(1);
    let parts = parts(&mut reader, top, total_percent);
    let conditions = conditions(&mut reader, top, parts.len(), total_percent);
    finished(
        reader,
        Some(Asked { title, parts, total_percent, conditions, model, runs, step_percent, starts, seed }),
    )
}

pub(super) fn count(reader: &mut Reader<'_>, top: &DeTable<'_>, key: &str, most: f64) -> Option<usize> {
    let found = number(reader, top, "", key, [1.0, most])?;
    if found.fract() != 0.0 {
        reader.wrong(top, "", key, format!("{key} is {found}"), "write a whole number");
    }
    found.to_usize()
}

fn parts(reader: &mut Reader<'_>, top: &DeTable<'_>, total: f64) -> Vec<(String, [f64; 2])> {
    let mut names = BTreeSet::new();
    let mut found = Vec::new();
    for (place, (table, span)) in reader.tables(top, "", "part").into_iter().enumerate() {
        let path = format!("part {}", place + 1);
        reader.known_fields(table, &path, &["name", "low_percent", "high_percent"]);
        let name = reader.required_string(table, &path, "name", &span, "write its name").unwrap_or_default();
        if !name.is_empty() && !names.insert(name.clone()) {
            reader.wrong(table, &path, "name", format!("{name} stands here twice"), "name every part once");
        }
        let low = number(reader, table, &path, "low_percent", [0.0, 100.0]).unwrap_or(0.0);
        let high = number(reader, table, &path, "high_percent", [0.0, 100.0]).unwrap_or(total);
        if low > high {
            reader.wrong(
                table,
                &path,
                "high_percent",
                format!("{high} is below the least of {low}"),
                "exchange the two",
            );
        }
        found.push((name, [low, high.min(total)]));
    }
    if found.len() < 2 {
        reader.missing(
            &(0..0),
            "",
            "part",
            "write [[part]] with name, low_percent and high_percent, two of them at least",
        );
    }
    found
}

pub(super) fn conditions(
    reader: &mut Reader<'_>,
    top: &DeTable<'_>,
    parts: usize,
    total: f64,
) -> Vec<Condition> {
    let mut found = Vec::new();
    for (place, (table, span)) in reader.tables(top, "", "condition").into_iter().enumerate() {
        let path = format!("condition {}", place + 1);
        reader.known_fields(table, &path, &["factors", "least_percent"]);
        if !table.contains_key("factors") {
            reader.missing(&span, &path, "factors", "write factors = [1, 0, -2]: one for every part");
        }
        let factors: Vec<f64> = reader
            .numbers(table, &path, "factors")
            .unwrap_or_default()
            .iter()
            .filter_map(ToPrimitive::to_f64)
            .collect();
        if table.contains_key("factors") && factors.len() != parts {
            reader.wrong(
                table,
                &path,
                "factors",
                format!("{} factors for {parts} parts", factors.len()),
                "write one for every part, in their order",
            );
            continue;
        }
        let least = number(reader, table, &path, "least_percent", [-1e4, 1e4]).unwrap_or(0.0);
        found.push(Condition { factors, least: least / total });
    }
    found
}

/// Why there is no plan, said of the file.
#[must_use]
pub fn refused(file: &str, text: &str, error: &BlendsError) -> Vec<Diagnostic> {
    let (what, hint) = match error {
        BlendsError::Region(error) => (error.to_string(), error.hint()),
        BlendsError::Choice(error) => (error.to_string(), error.hint()),
    };
    as_a_whole((file, text), "part", what, hint)
}

//! The batch sheet as a table for spreadsheets: one row per line, figures without units, a point as the decimal sign.

use crate::DocumentError;
use levigate_project::batch_sheet::{BatchSheet, Part};

const HEAD: [&str; 17] = [
    "line",
    "phase",
    "material",
    "name",
    "lot",
    "percent",
    "kind",
    "target_g",
    "first_addition_g",
    "tolerance_percent",
    "tolerance_g",
    "known_within_percent",
    "minimum_weight_g",
    "verdict",
    "remedy",
    "actual_g",
    "version",
];

/// The sheet as CSV (UTF-8, comma, CRLF, quoted where needed). Text that a spreadsheet would take for a formula is
/// given an apostrophe in front.
///
/// # Errors
/// Only if the writer fails, which memory does not.
pub fn sheet_csv(sheet: &BatchSheet) -> Result<Vec<u8>, DocumentError> {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    let failed = |error: csv::Error| DocumentError::Writing { why: error.to_string() };
    writer.write_record(HEAD).map_err(failed)?;
    for step in &sheet.steps {
        for line in &step.lines {
            let (kind, first) = match &line.part {
                Part::Fixed => ("fixed", String::new()),
                Part::Remainder => ("q.s.", String::new()),
                Part::ToPh { first_g, .. } => ("to pH", first_g.to_string()),
            };
            let figure = |value: Option<f64>| value.map(|value| format!("{value:.4}")).unwrap_or_default();
            writer
                .write_record([
                    line.number.to_string(),
                    harmless(&step.phase),
                    harmless(&line.material),
                    harmless(&line.name),
                    harmless(line.lot.as_deref().unwrap_or_default()),
                    line.percent.to_string(),
                    kind.to_owned(),
                    line.grams.to_string(),
                    first,
                    line.tolerance_percent.to_string(),
                    line.tolerance_g.to_string(),
                    figure(line.expanded.value),
                    figure(line.minimum_weight.value),
                    line.verdict.clone(),
                    harmless(line.remedies.first().map_or("", |remedy| remedy.text.as_str())),
                    String::new(),
                    harmless(&sheet.version_code),
                ])
                .map_err(failed)?;
        }
    }
    writer.into_inner().map_err(|error| DocumentError::Writing { why: error.to_string() })
}

/// A spreadsheet runs a cell that begins like a formula; an apostrophe keeps it a text.
pub(crate) fn harmless(text: &str) -> String {
    let kept: String = text.chars().filter(|character| !character.is_control()).collect();
    if kept.starts_with(['=', '+', '-', '@']) { format!("'{kept}") } else { kept }
}

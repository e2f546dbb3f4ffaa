//! Settings that the engine reads: how lines are weighed, out of the settings of the batch sheet.

use levigate_assess::weighability::{Tolerances, WeighingPractice};
use serde::Deserialize;

use crate::text::Place;
use crate::{FactsError, Fault, shipped_text};

const BATCH_SHEET: &str = "methods/batch_sheet.toml";

/// What concerns the engine; the rest of the text is the batch sheet's own.
#[derive(Deserialize)]
struct BatchSheetSettings {
    tolerance: Tolerances,
    stock: StockSettings,
}

#[derive(Deserialize)]
struct StockSettings {
    strongest_percent: f64,
}

/// The shipped practice of weighing.
///
/// # Errors
/// Only when the shipped file itself is broken, which a test rules out.
pub(crate) fn weighing() -> Result<WeighingPractice, FactsError> {
    let text = shipped_text(BATCH_SHEET).unwrap_or_default();
    let settings: BatchSheetSettings = toml::from_str(text).map_err(|error| {
        let place = Place { file: BATCH_SHEET.into(), line: 1, column: 1 };
        FactsError { faults: vec![Fault::Syntax { place, message: error.message().to_owned() }] }
    })?;
    Ok(WeighingPractice {
        tolerance: settings.tolerance,
        strongest_stock_percent: settings.stock.strongest_percent,
    })
}

//! How sure a batch is.

use crate::diagnostic::Diagnostic;
use crate::formula_file;
pub use crate::making_file::uncertainty::UncertaintyFile;
use crate::workbench::assess::{diagnose, facts_for, known};
use jiff::civil::Date;
use levigate_assess::Inquiry;
use levigate_assess::uncertainty::{Ask, Assigned, BatchError, LotSpread, batch};
pub use levigate_assess::uncertainty::{
    BatchUncertainty, Help, LineUncertainty, Remedy, ResultUncertainty, ShareOfVariance,
};
use levigate_facts::Facts;
use levigate_formula::sheet::{Product, Sheet};
use levigate_measure::weighing::{Balance, BalanceRecord};
use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;

/// The answer with the product it speaks of.
#[derive(Clone, Debug, Serialize)]
pub struct UncertaintyReading {
    /// The product.
    pub product: Product,
    /// How sure its batch is.
    #[serde(flatten)]
    pub batch: BatchUncertainty,
}

/// Tells how sure the batch of a formula is.
///
/// # Errors
/// Everything that is wrong with the formula or with what was asked, each with its place as far as it has one.
pub fn uncertainty(
    facts: &Facts,
    (day, market): (Date, &str),
    (file, text): (&str, &str),
    asked: &UncertaintyFile,
) -> Result<UncertaintyReading, Vec<Diagnostic>> {
    let formula = formula_file::read(file, text)?;
    let facts = facts_for(facts, file, &formula)?;
    let mut sheet = formula.sheet.clone();
    for lot in &asked.lots {
        if let (Some(line), Some(assay)) =
            (sheet.phases.iter_mut().flat_map(|phase| &mut phase.lines).nth(lot.line), lot.assay_percent)
        {
            line.assay_percent = Some(assay);
        }
    }
    let wrong =
        |code: &str, what: String, what_now: String| vec![formula.diagnose_line(None, code, what, what_now)];
    let usual = asked.balances.iter().find(|balance| balance.lines.is_empty());
    let balance = match usual {
        Some(named) => named.balance.clone(),
        None => of_sheet(&sheet)
            .map_err(|error| wrong("no-balance", error.to_string(), error.hint().to_owned()))?,
    };
    let others = asked.balances.iter().filter(|balance| !balance.lines.is_empty());
    let ask = Ask {
        inquiry: Inquiry { sheet: &sheet, known: known(&facts), day, market },
        batch_g: asked.batch_g.or(sheet.batch.size_g.to_f64()).unwrap_or(f64::NAN),
        balance,
        others: others
            .map(|named| Assigned { balance: named.balance.clone(), lines: named.lines.clone() })
            .collect(),
        lots: asked.lots.iter().map(|lot| LotSpread { line: lot.line, spread: lot.spread }).collect(),
        price_half_width_percent: asked.price_half_width_percent,
        meter_ph: asked.meter_ph,
        coverage: asked.coverage,
        draws: asked.draws,
        seed: asked.seed,
    };
    let batch = batch(&ask).map_err(|error| match error {
        BatchError::Assess(error) => diagnose(&formula, &error),
        BatchError::Given(error) => wrong("cannot-be", error.to_string(), error.hint().to_owned()),
        BatchError::NoSuchLine { line, count } => wrong(
            "no-such-line",
            format!("a balance or a lot is named for line {}, and the formula has {count}", line + 1),
            "count the lines of the formula from 1, phase after phase".to_owned(),
        ),
        BatchError::NoActive { line, material } => vec![formula.diagnose_line(
            Some(line),
            "no-active",
            format!("the record of \"{material}\" names no active substance, so the assay of a lot means nothing"),
            "leave the lot out, or name the active in the record".to_owned(),
        )],
        BatchError::Draws { failed, made } => wrong(
            "no-equilibrium",
            format!("the equilibrium has no answer in {failed} of {made} draws"),
            "look for a line so small that its weighing may leave nothing of it, or for a spread that is too wide"
                .to_owned(),
        ),
    })?;
    Ok(UncertaintyReading { product: formula.sheet.product.clone(), batch })
}

/// The balance named on the sheet.
fn of_sheet(sheet: &Sheet) -> Result<Balance, levigate_measure::weighing::WeighingError> {
    Balance::try_from(BalanceRecord {
        name: None,
        readability_g: sheet.batch.balance_g,
        repeatability_g: sheet.batch.repeatability_g.and_then(|grams| grams.to_f64()),
        capacity_g: None,
        certificate: None,
    })
}

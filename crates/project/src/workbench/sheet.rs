//! The batch sheet of a formula for a size and a balance.

use super::assess::{known, with_assessed};
use super::procedure::of_assessed;
use crate::batch_sheet::{BatchOrder, BatchSheet, Practice};
use crate::diagnostic::Diagnostic;
use jiff::civil::Date;
use levigate_facts::Facts;
pub use levigate_measure::weighing::Balance;
use rust_decimal::Decimal;
use rust_decimal::prelude::FromPrimitive;
use sha2::{Digest, Sha256};

/// What is weighed on.
#[derive(Clone, Debug)]
pub struct Bench {
    /// Batch, g; the formula's own when not given.
    pub size_g: Option<Decimal>,
    /// Balance; the formula's own readability when not given.
    pub balance: Option<Balance>,
}

/// Makes the sheet.
///
/// # Errors
/// What is wrong with the formula, the size or the balance.
pub fn batch_sheet(
    facts: &Facts,
    day: Date,
    bench: &Bench,
    file: &str,
    text: &str,
) -> Result<BatchSheet, Vec<Diagnostic>> {
    with_assessed(facts, (day, "eu"), file, text, |formula, facts, assessed| {
        let complain = |code: &str, what: String, what_now: String| {
            vec![formula.diagnose_line(None, code, what, what_now)]
        };
        let batch = &formula.sheet.batch;
        let balance = match &bench.balance {
            Some(balance) => balance.clone(),
            None => Balance::with_readability(batch.balance_g)
                .map_err(|error| complain("balance", error.to_string(), error.hint().to_owned()))?,
        };
        let practice = Practice::shipped().map_err(|error| {
            complain("practice", error.to_string(), "mend the bench practice on file".to_owned())
        })?;
        // A sheet is made even where no procedure follows; the formula page says why.
        // What goes in before the pH is read hangs on the size and on the balance.
        let mut weighed = formula.sheet.clone();
        weighed.batch.size_g = bench.size_g.unwrap_or(batch.size_g);
        weighed.batch.balance_g = balance.readability();
        weighed.batch.repeatability_g = Decimal::from_f64(balance.repeatability_g());
        let procedure = of_assessed(facts, &known(facts), &weighed, assessed).ok();
        let code = version_code(text);
        BatchSheet::build(&BatchOrder {
            sheet: &formula.sheet,
            composition: &assessed.composition,
            library: &facts.library,
            size_g: weighed.batch.size_g,
            balance: &balance,
            practice: &practice,
            procedure: procedure.as_ref(),
            version_code: &code,
            date: &day.to_string(),
        })
        .map_err(|error| complain("batch-sheet", error.to_string(), error.hint().to_owned()))
    })
}

/// Short code of a formula text: the first twelve digits of its SHA-256.
#[must_use]
pub fn version_code(text: &str) -> String {
    let hash = Sha256::digest(text.as_bytes());
    hash.iter().take(6).map(|byte| format!("{byte:02x}")).collect()
}

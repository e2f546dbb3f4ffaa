//! The lines of an assessed sheet on its balance: grams that it can show and that add up to the batch.

use super::complaint::{Complaint, sentence};
use levigate_assess::Assessment;
use levigate_formula::sheet::Sheet;
use levigate_measure::rounding::{self, Absorbed};
use levigate_measure::{Grade, Outcome};
use rust_decimal::Decimal;
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};

/// One line on the balance.
#[derive(Clone, Debug, PartialEq)]
pub struct LineOnBalance {
    /// Grams, with the decimals of the balance.
    pub grams: Decimal,
    /// The same with what it came from.
    pub reading: Outcome,
    /// Expanded uncertainty of its share in the batch, percent of it.
    pub uncertainty_percent: Option<Outcome>,
}

/// Weighs the batch named on the sheet, line by line in the order of the assessment.
///
/// # Errors
/// A batch that is not a whole number of divisions of the balance, or leaves nothing for the q.s. line.
pub fn weigh(sheet: &Sheet, assessment: &Assessment) -> Result<Vec<LineOnBalance>, Box<Complaint>> {
    let (size, balance) = (sheet.batch.size_g, sheet.batch.balance_g);
    let targets: Vec<Decimal> = assessment
        .lines
        .iter()
        .map(|line| {
            let exact = line.exact.as_deref().and_then(|text| text.parse::<Decimal>().ok());
            let percent =
                exact.or_else(|| line.percent.value.and_then(Decimal::from_f64)).unwrap_or_default();
            (size.saturating_mul(percent) / Decimal::ONE_HUNDRED).round_dp(10)
        })
        .collect();
    let remainder = assessment.lines.iter().position(|line| line.basis == "remainder");
    let rounded = rounding::apportion(&targets, size, balance, remainder).map_err(|error| {
        Box::new(Complaint {
            line: None,
            field: "bench.size_g",
            what: sentence(&error.to_string()),
            why: "What is weighed must be a number that the balance can show.".to_owned(),
            what_now: sentence(error.hint()),
            offers: Vec::new(),
        })
    })?;
    Ok(rounded
        .grams
        .iter()
        .zip(&assessment.lines)
        .enumerate()
        .map(|(at, (grams, line))| {
            let expanded = assessment
                .weighing
                .as_ref()
                .and_then(|weighing| weighing.lines.get(at))
                .map(|line| line.expanded_percent.clone());
            let absorbs = rounded.absorbed == Absorbed::Remainder { line: at };
            LineOnBalance {
                grams: *grams,
                reading: reading(sheet, *grams, line.percent.value, expanded.as_ref(), absorbs),
                uncertainty_percent: expanded,
            }
        })
        .collect())
}

fn reading(
    sheet: &Sheet,
    grams: Decimal,
    percent: Option<f64>,
    expanded: Option<&Outcome>,
    absorbs: bool,
) -> Outcome {
    let number = |decimal: Decimal| decimal.to_f64().unwrap_or(f64::NAN);
    let value = number(grams);
    let mut reading =
        Outcome::new(value, "g", Grade::Computed, "share of the batch, rounded to what the balance shows")
            .by("m = p·M/100")
            .proved_by("exact decimal")
            .input("percent", percent.unwrap_or(f64::NAN), "% w/w", None)
            .input("batch", number(sheet.batch.size_g), "g", None)
            .input("balance reads to", number(sheet.batch.balance_g), "g", None);
    if let Some(expanded) = expanded.and_then(|expanded| expanded.value) {
        let half = value * expanded / 100.0;
        reading = reading.within((value - half).max(0.0), value + half, Some(0.95));
    }
    if absorbs {
        reading = reading
            .note("rounding", "This line takes up the rounding of all others, so that the batch adds up.");
    }
    reading
}

//! Colonies on plates turned into a count per gram, with what counting alone leaves open.
//!
//! ```text
//! n = C / (V sum d)        C colonies on the plates that count, V what each holds, d product in it
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | `n` | count of the product | CFU/g |
//! | `C` | colonies on all plates that count | 1 |
//! | `V` | volume on a plate | mL |
//! | `d` | product in what was plated: 0.1 for one gram in ten millilitres | g/mL |
//!
//! Plates count where their colonies lie within a range; of plates at two dilutions all that count are taken together, each with its
//! dilution. With fewer colonies than the range the count is an estimate; without any it lies below one colony on the plate with most
//! product; with more on every plate it is at least what the end of the range gives on the most dilute one. Limits are those of a number of
//! independent events (Poisson), so that they leave out clumps, dilution errors and the operator. Plates that
//! scatter more than such events do are told, by chi-square. Sources: the ranges are data (`data/rules/microbial.toml`); the sum over dilutions as
//! standards of plate counting have it, from memory. Case: `tests/cross/plates.toml`, `tests/published/plates.toml`.

use levigate_measure::distribution::fisher_beyond;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::root::bracketed;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::book::Status;

/// Coverage of the limits of a count.
pub const COVERAGE: f64 = 0.95;
/// Plates scatter more than chance where so little lies beyond their chi-square.
const MORE_THAN_CHANCE: f64 = 0.01;
/// Degrees of freedom from which Fisher's F is a chi-square over its degrees.
const ENDLESS: f64 = 1e9;

/// Which plates count, for a kind of microbes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Plating {
    /// Key.
    pub key: String,
    /// What is counted, in words.
    pub words: String,
    /// Fewest and most colonies of a plate that counts.
    pub countable: [u32; 2],
    /// Source key.
    pub source: String,
    /// How well the row was read.
    pub status: Status,
}

/// One plate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plate {
    /// Product in what was plated, g/mL.
    pub product_g_ml: f64,
    /// Colonies.
    pub colonies: u32,
}

/// What a count is worth.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Worth {
    /// Plates within the range.
    Counted,
    /// Fewer colonies than the range.
    Estimated,
    /// No colony: it lies below this.
    Below,
    /// More colonies than the range on every plate: it is this at least.
    AtLeast,
}

/// A count.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlateCount {
    /// CFU/g: the count, its floor, or the least it can be.
    pub cfu_per_g: f64,
    /// Limits by counting alone.
    pub within: Option<(f64, f64)>,
    /// What it is worth.
    pub worth: Worth,
    /// Colonies it rests on.
    pub colonies: u32,
    /// Plates it rests on.
    pub plates: usize,
    /// The plates scatter more than chance.
    pub scattered: bool,
}

/// Why there is no count.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum PlateError {
    /// No plate.
    #[error("no plate was counted")]
    NoPlate,
    /// A dilution or volume that is none.
    #[error("a plate holds product and volume above zero")]
    NothingPlated,
}

/// The count of plates that each hold `plated_ml`.
///
/// # Errors
/// [`PlateError`].
pub fn plate_count(
    plates: &[Plate],
    plated_ml: f64,
    [least, most]: [u32; 2],
) -> Result<PlateCount, PlateError> {
    if plates.is_empty() {
        return Err(PlateError::NoPlate);
    }
    let real = |value: f64| value.is_finite() && value > 0.0;
    if !real(plated_ml) || plates.iter().any(|plate| !real(plate.product_g_ml)) {
        return Err(PlateError::NothingPlated);
    }
    let within: Vec<Plate> =
        plates.iter().copied().filter(|plate| (least..=most).contains(&plate.colonies)).collect();
    if !within.is_empty() {
        return Ok(summed(&within, plated_ml, Worth::Counted));
    }
    let fewer: Vec<Plate> = plates.iter().copied().filter(|plate| plate.colonies < least).collect();
    if fewer.is_empty() {
        let dilute = plates.iter().map(|plate| plate.product_g_ml).fold(f64::INFINITY, f64::min);
        return Ok(PlateCount {
            cfu_per_g: f64::from(most) / (plated_ml * dilute),
            within: None,
            worth: Worth::AtLeast,
            colonies: most,
            plates: plates.len(),
            scattered: false,
        });
    }
    let most_product = fewer.iter().map(|plate| plate.product_g_ml).fold(0.0, f64::max);
    if fewer.iter().all(|plate| plate.colonies == 0) {
        return Ok(PlateCount {
            cfu_per_g: 1.0 / (plated_ml * most_product),
            within: None,
            worth: Worth::Below,
            colonies: 0,
            plates: fewer.len(),
            scattered: false,
        });
    }
    // The plates with most product say most; where they hold none and weaker ones do, all speak together.
    let strongest: Vec<Plate> =
        fewer.iter().copied().filter(|plate| plate.product_g_ml >= most_product).collect();
    let speaking = if strongest.iter().any(|plate| plate.colonies > 0) { strongest } else { fewer };
    Ok(summed(&speaking, plated_ml, Worth::Estimated))
}

fn summed(plates: &[Plate], plated_ml: f64, worth: Worth) -> PlateCount {
    let colonies: u32 = plates.iter().map(|plate| plate.colonies).fold(0, u32::saturating_add);
    let product_g: f64 = plated_ml * plates.iter().map(|plate| plate.product_g_ml).sum::<f64>();
    let per_g = f64::from(colonies) / product_g;
    let chi_square: f64 = plates
        .iter()
        .map(|plate| {
            let expected = per_g * plated_ml * plate.product_g_ml;
            (f64::from(plate.colonies) - expected) * (f64::from(plate.colonies) - expected) / expected
        })
        .sum();
    #[expect(clippy::cast_precision_loss, reason = "a handful of plates")]
    let degrees = plates.len() as f64 - 1.0;
    let (low, high) = limits(colonies);
    PlateCount {
        cfu_per_g: per_g,
        within: Some((low / product_g, high / product_g)),
        worth,
        colonies,
        plates: plates.len(),
        scattered: degrees > 0.0 && fisher_beyond(chi_square / degrees, degrees, ENDLESS) < MORE_THAN_CHANCE,
    }
}

/// Limits of the mean of a number of independent events: the means that make so many, or more, and so many, or fewer, just unlikely.
fn limits(events: u32) -> (f64, f64) {
    let tail = (0.5 * (1.0 - COVERAGE)).log_e();
    let count = f64::from(events);
    let ln_factorial: f64 = (1..=events).map(|one| f64::from(one).log_e()).sum();
    let at = |ln_mean: f64| (count * ln_mean - ln_mean.exp_e() - ln_factorial).exp_e();
    // Sums of the terms of Poisson's distribution, from the largest on.
    let or_more = |ln_mean: f64| {
        let (mut term, mut sum, mut next) = (1.0, 1.0, count + 1.0);
        while term > 1e-17 * sum {
            term *= ln_mean.exp_e() / next;
            sum += term;
            next += 1.0;
        }
        (at(ln_mean) * sum).max(1e-300).log_e() - tail
    };
    let or_fewer = |ln_mean: f64| {
        let (mut term, mut sum) = (1.0, 1.0);
        for one in (1..=events).rev() {
            term *= f64::from(one) / ln_mean.exp_e();
            sum += term;
        }
        (at(ln_mean) * sum).max(1e-300).log_e() - tail
    };
    let solved = |ln_low: f64, ln_high: f64, miss: &dyn Fn(f64) -> f64| {
        bracketed(miss, ln_low, ln_high, 1e-13, 200).map_or(f64::NAN, f64::exp_e)
    };
    let low = if events == 0 { 0.0 } else { solved(count.log_e() - 30.0, count.log_e(), &or_more) };
    let most = (count + 10.0 * (count + 1.0).sqrt() + 20.0).log_e();
    (low, solved(count.max(1e-9).log_e(), most, &or_fewer))
}

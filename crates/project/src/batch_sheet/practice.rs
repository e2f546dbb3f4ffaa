//! Bench practice as data: tolerances, vessel sizes, strengths of stocks, words of caution. Shipped in
//! `data/methods/batch_sheet.toml`; a laboratory may bring its own.

use levigate_assess::weighability::Tolerances;
use levigate_measure::weighing::{Balance, BalanceRecord, Certificate};
use rust_decimal::Decimal;
use serde::Deserialize;
use thiserror::Error;

const SHIPPED: &str = include_str!("../../../../data/methods/batch_sheet.toml");
const BALANCES: &str = include_str!("../../../../data/methods/balances.toml");

/// Settings and words of the batch sheet.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Practice {
    /// Weighing tolerances.
    pub tolerance: Tolerances,
    /// Vessels.
    pub vessel: VesselPractice,
    /// Stocks and premixes.
    pub stock: StockPractice,
    /// Flammable liquids.
    pub flammable: FlammablePractice,
    /// Hot steps.
    pub hot: HotPractice,
    /// Words by hazard.
    #[serde(rename = "hazard")]
    pub hazards: Vec<HazardWords>,
}

/// Vessels.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct VesselPractice {
    /// Share of the vessel that is filled at most, percent.
    pub fill_percent: f64,
    /// Sizes, mL, ascending.
    pub sizes_ml: Vec<f64>,
    /// Density of what has none on file, kg/m3.
    pub density_assumed_kg_m3: f64,
    /// Source key.
    pub source: String,
}

/// Stocks and premixes.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StockPractice {
    /// Strongest in water, percent.
    pub strongest_percent: f64,
    /// Strongest with another line, percent.
    pub strongest_premix_percent: f64,
    /// Strongest of a polymer, percent.
    pub strongest_polymer_percent: f64,
    /// Share of a published solubility that a stock may reach.
    pub share_of_solubility: f64,
    /// Source key.
    pub source: String,
}

/// Flammable liquids.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FlammablePractice {
    /// A liquid counts as flammable up to this flash point, C.
    pub flash_point_c: f64,
    /// Distance to a flash point that calls for the stronger caution, C.
    pub margin_c: f64,
    /// Temperature from which a flammable liquid without a flash point on file gets it too, C.
    pub warm_c: f64,
    /// Source key.
    pub source: String,
}

/// Hot steps.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HotPractice {
    /// From here on a spill scalds, C.
    pub temperature_c: f64,
    /// Source key.
    pub source: String,
}

/// What a hazard means at the bench.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HazardWords {
    /// Hazard as in the facts.
    pub key: String,
    /// Plain words.
    pub text: String,
    /// Source key.
    pub source: String,
}

/// A balance to start from, as written in `data/methods/balances.toml`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ListedBalance {
    name: String,
    readability_g: Decimal,
    repeatability_g: Option<f64>,
    capacity_g: Option<f64>,
    certificate: Option<Certificate>,
    #[serde(rename = "source")]
    _source: String,
}

/// The list; its rules only name what the weighing model rests on.
#[derive(Deserialize)]
struct BalanceList {
    #[serde(rename = "balance")]
    balances: Vec<ListedBalance>,
}

/// The shipped balances to start from.
///
/// # Errors
/// Only when the shipped file itself is broken, which a test rules out.
pub fn shipped_balances() -> Result<Vec<Balance>, PracticeError> {
    let list: BalanceList =
        toml::from_str(BALANCES).map_err(|error| PracticeError { why: error.to_string() })?;
    list.balances
        .into_iter()
        .map(|listed| {
            let record = BalanceRecord {
                name: Some(listed.name),
                readability_g: listed.readability_g,
                repeatability_g: listed.repeatability_g,
                capacity_g: listed.capacity_g,
                certificate: listed.certificate,
            };
            Balance::try_from(record).map_err(|error| PracticeError { why: error.to_string() })
        })
        .collect()
}

/// The settings cannot be read.
#[derive(Clone, Debug, PartialEq, Error)]
#[error("the bench settings cannot be read: {why}")]
pub struct PracticeError {
    /// What the reader said, with the place.
    pub why: String,
}

impl PracticeError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        "compare your file with the shipped data/methods/batch_sheet.toml: same tables, same keys"
    }
}

impl Practice {
    /// The shipped settings.
    ///
    /// # Errors
    /// Only when the shipped file itself is broken, which a test rules out.
    pub fn shipped() -> Result<Self, PracticeError> {
        Self::from_toml(SHIPPED)
    }

    /// A laboratory's own settings.
    ///
    /// # Errors
    /// What the reader could not make sense of.
    pub fn from_toml(text: &str) -> Result<Self, PracticeError> {
        toml::from_str(text).map_err(|error| PracticeError { why: error.to_string() })
    }

    pub(super) fn words(&self, hazard: &str) -> Option<&HazardWords> {
        self.hazards.iter().find(|words| words.key == hazard)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shipped_settings_make_sense() {
        let practice = Practice::shipped().unwrap();
        assert!(practice.tolerance.sensitive_percent < practice.tolerance.other_percent);
        assert!(practice.vessel.sizes_ml.is_sorted());
        assert!(practice.hazards.iter().all(|words| !words.text.is_empty() && !words.source.is_empty()));
    }

    #[test]
    fn the_shipped_balances_are_balances() {
        let balances = shipped_balances().unwrap();
        assert!(balances.len() >= 4);
        // A certificate of an analytical balance must leave it better than the bench balances.
        let least = |at: usize| balances[at].minimum_weight_g(0.02);
        assert!(least(1) < least(0));
        assert!(balances.iter().all(|balance| balance.record().name.is_some()));
    }

    #[test]
    fn settings_with_an_unknown_key_are_refused() {
        let error = Practice::from_toml("[tolerance]\nsensitiv_percent = \"2\"").unwrap_err();
        assert!(error.to_string().contains("sensitiv_percent"), "{error}");
        assert!(!error.hint().is_empty());
    }
}

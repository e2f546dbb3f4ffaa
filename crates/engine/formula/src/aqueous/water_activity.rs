//! Water activity and osmolality of a product: ions by the sum of molalities, non-electrolytes by Norrish, joined by Ross.
//!
//! ```text
//! a_w = (1 - 0.017 sum m_ion) prod_s x_s,w exp(-K_s x_s^2)
//! x_s = m_s / (m_s + 1/M_w),  x_s,w = 1 - x_s
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | m_ion | molality of the species of the equilibrium model | mol/kg water |
//! | m_s | molality of a non-electrolyte at its own ratio to water | mol/kg water |
//! | K_s | Norrish constant, 0 (Raoult) where none is known | - |
//! | M_w | molar mass of water | kg/mol |
//!
//! Sources: Norrish, J. Food Technol. 1 (1966) 25; Ross, Food Technol. 29 (1975) 26; 0.017 sum m after Garrels and Christ (1965), also the
//! reference program's equation. Range: non-electrolytes to about 40 % w/w (glycerol within 0.005 there), ions to about 1 mol/kg (NaCl
//! at 1 mol/kg: 0.966 against 0.967 measured, at 4 mol/kg 0.864 against 0.851). Osmolality is the sum of the molalities, osmotic
//! coefficients taken as one. Proof: `tests/published/aqueous_water.toml`.

use super::chemistry::Chemistry;
use super::water::WATER_KG_PER_MOL;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::{Grade, Outcome};
use std::collections::BTreeMap;

/// Equation shown with a product's water activity.
pub const EQUATION: &str = "a_w = (1 - 0.017 sum m_ion) prod x_w exp(-K x_s^2)";

/// Water activity of one non-electrolyte in water (Norrish).
#[must_use]
pub fn norrish(molality: f64, k: f64) -> f64 {
    let x = molality / (molality + 1.0 / WATER_KG_PER_MOL);
    (1.0 - x) * (-k * x * x).exp_e()
}

/// Water activity of a product from the sum over its ionic part and its non-electrolytes by substance key, mol/kg water.
#[must_use]
pub fn of_product(chemistry: &Chemistry, ionic_sum: f64, neutral: &BTreeMap<String, f64>) -> Outcome {
    let mut activity = super::solve::water_activity(ionic_sum.max(0.0));
    let mut outcome_sources: Vec<&str> = Vec::new();
    let mut without = Vec::new();
    let mut most: f64 = 0.0;
    for (key, &molality) in neutral {
        let row = chemistry.norrish.iter().find(|row| &row.substance == key);
        activity *= norrish(molality.max(0.0), row.map_or(0.0, |row| row.k));
        most = most.max(molality);
        match row {
            Some(row) => outcome_sources.push(&row.source),
            None if molality > 0.1 => without.push(key.clone()),
            None => {}
        }
    }
    // Our convention: 0.002, and a tenth of the lowering where a strong part stands outside its range or without a constant.
    let doubt = 0.002
        + if without.is_empty() && ionic_sum < 1.0 && most < 7.0 { 0.03 } else { 0.1 } * (1.0 - activity);
    let mut outcome =
        Outcome::new(activity, "", Grade::Correlated, "Norrish and Ross over the dissolved amounts")
            .within((activity - 2.0 * doubt).max(0.0), (activity + 2.0 * doubt).min(1.0), Some(0.95))
            .by(EQUATION)
            .valid_for("non-electrolytes to 40 % w/w, ions to 1 mol/kg water")
            .proved_by("tests/published/aqueous_water.toml")
            .source("parkhurst-2013")
            .input("sum of ions", ionic_sum, "mol/kg water", None)
            .input("sum of non-electrolytes", neutral.values().sum(), "mol/kg water", None);
    for source in outcome_sources {
        outcome = outcome.source(source);
    }
    if !without.is_empty() {
        outcome = outcome.note(
            "raoult",
            format!("no Norrish constant for {}: counted by Raoult's law", without.join(", ")),
        );
    }
    outcome
}

//! The ingredient list of a formula for a market and a day.

use super::assess::assess;
use crate::diagnostic::Diagnostic;
use jiff::civil::Date;
use levigate_facts::Facts;
use levigate_rules::allergens::AllergenReading;
use levigate_rules::label::IngredientList;
use serde::Serialize;

/// The list with what stands behind it.
#[derive(Clone, Debug, Serialize)]
pub struct LabelReading {
    /// Product.
    pub product: String,
    /// Market.
    pub market: String,
    /// Day, ISO.
    pub as_of: String,
    /// The list; absent when no label rules for the market are on file.
    pub label: Option<IngredientList>,
    /// Allergens read, named or not.
    pub allergens: Vec<AllergenReading>,
    /// Why there is no list.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub refused: Option<String>,
}

/// Writes the list.
///
/// # Errors
/// What is wrong with the formula.
pub fn label(
    facts: &Facts,
    day: Date,
    market: &str,
    file: &str,
    text: &str,
) -> Result<LabelReading, Vec<Diagnostic>> {
    let assessed = assess(facts, day, market, file, text)?;
    let rules = assessed.assessment.rules;
    let refused =
        rules.label.is_none().then(|| format!("no label rules for the market \"{market}\" are on file"));
    Ok(LabelReading {
        product: assessed.formula.sheet.product.name,
        market: market.to_owned(),
        as_of: day.to_string(),
        label: rules.label,
        allergens: rules.allergens,
        refused,
    })
}

//! Titrate a formula on paper with one acid or base.

use super::assess::{diagnose, facts_for, known};
use crate::diagnostic::Diagnostic;
use crate::formula_file;
use levigate_assess::titration::{self, Titration};
use levigate_facts::Facts;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

/// Titrates the formula without its adjusters with a raw material to a pH.
///
/// # Errors
/// What is wrong with the formula, an unknown raw material, a pH that cannot be. A pH that is not reached is a refusal in the result.
pub fn titrate(
    facts: &Facts,
    file: &str,
    text: &str,
    with: &str,
    to_ph: Decimal,
) -> Result<Titration, Vec<Diagnostic>> {
    let formula = formula_file::read(file, text)?;
    let facts = facts_for(facts, file, &formula)?;
    let material = match facts.names.resolve_material(with) {
        Ok(key) => facts.library.materials.get(key),
        Err(nearest) => {
            let what_now = if nearest.is_empty() {
                "search the raw materials for an acid or base".to_owned()
            } else {
                format!("did you mean {}?", nearest.join(", "))
            };
            let what = format!("no raw material is called \"{with}\"");
            return Err(vec![formula.diagnose_line(None, "unknown-material", what, what_now)]);
        }
    };
    let ph = to_ph.to_f64().filter(|ph| (0.0..=14.0).contains(ph));
    match (material, ph) {
        (Some(material), Some(ph)) => titration::titrate(&formula.sheet, &known(&facts), material, None, ph)
            .map_err(|error| diagnose(&formula, &error)),
        _ => Err(vec![formula.diagnose_line(
            None,
            "ph-out-of-range",
            format!("pH {to_ph} is outside 0 to 14"),
            "give a pH between 0 and 14".to_owned(),
        )]),
    }
}

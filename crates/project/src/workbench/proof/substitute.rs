//! What could stand in the place of a raw material.

use crate::diagnostic::Diagnostic;
use crate::formula_file;
use crate::workbench::assess::{diagnose, facts_for, known};
use jiff::civil::Date;
pub use levigate_assess::substitution::{
    CandidateReading, ChangeReading, ConsequenceReading, PropertyReading, SubstitutionReading,
};
use levigate_assess::substitution::{Wanted, substitution};
use levigate_facts::Facts;

/// What is to be substituted, as typed.
#[derive(Clone, Debug, PartialEq)]
pub struct Substituted {
    /// Raw material that is gone.
    pub material: String,
    /// Raw materials to put in its place; the nearest ones where there are none.
    pub with: Vec<String>,
    /// How many of the nearest.
    pub most: usize,
}

/// Finds candidates and puts them into the formulas. Facts that a formula brings along count for all of them.
///
/// # Errors
/// What is wrong with a formula, with its place; a raw material that is not known, with the nearest names.
pub fn substitute(
    facts: &Facts,
    (day, market): (Date, &str),
    formulas: &[(&str, &str)],
    asked: &Substituted,
) -> Result<SubstitutionReading, Vec<Diagnostic>> {
    let mut facts = std::borrow::Cow::Borrowed(facts);
    let mut files = Vec::new();
    for (file, text) in formulas {
        let formula = formula_file::read(file, text)?;
        if formula.own_facts.is_some() {
            facts = std::borrow::Cow::Owned(facts_for(&facts, file, &formula)?.into_owned());
        }
        files.push(formula);
    }
    let Some(first) = files.first() else { return Err(Vec::new()) };
    let key = |typed: &str| {
        facts.names.resolve_material(typed).map(ToOwned::to_owned).map_err(|nearest| {
            let what = format!("\"{typed}\" is no raw material known here");
            let what_now = if nearest.is_empty() {
                "write its name, INCI name, CAS number or key".to_owned()
            } else {
                format!("did you mean {}?", nearest.join(", "))
            };
            vec![first.diagnose_line(None, "unknown-material", what, what_now)]
        })
    };
    let gone = key(&asked.material)?;
    let with = asked.with.iter().map(|typed| key(typed)).collect::<Result<Vec<_>, _>>()?;
    let wanted = Wanted { known: known(&facts), day, market, material: &gone, with: &with, most: asked.most };
    let Some(material) = facts.library.materials.get(&gone) else { return Err(Vec::new()) };
    let sheets: Vec<_> = files.iter().map(|formula| &formula.sheet).collect();
    substitution(&wanted, material, &sheets).map_err(|(place, error)| diagnose(&files[place], &error))
}

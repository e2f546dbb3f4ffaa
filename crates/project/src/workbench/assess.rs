//! Assess a formula: the verb behind the page, the command and the tests.

use crate::diagnostic::Diagnostic;
use crate::facts::diagnose as diagnose_fault;
use crate::formula_file::{self, FACT_TABLES, FormulaFile};
use jiff::civil::Date;
pub use levigate_assess::flow::Bench;
use levigate_assess::flow::KnownFlow;
use levigate_assess::{AssessError, Assessed, Assessment, Inquiry, Known};
use levigate_facts::Facts;
use levigate_formula::library::Layer;
use std::borrow::Cow;

/// A formula read and assessed.
#[derive(Clone, Debug)]
pub struct FormulaAssessed {
    /// The formula as read.
    pub formula: FormulaFile,
    /// What follows from it.
    pub assessment: Assessment,
}

/// What the engine may know, out of the facts.
#[must_use]
pub fn known(facts: &Facts) -> Known<'_> {
    Known {
        library: &facts.library,
        names: &facts.names,
        chemistry: &facts.chemistry,
        preservation: &facts.preservation,
        rules: &facts.rules,
        flow: KnownFlow {
            facts: &facts.flow,
            spindles: &facts.instruments.spindles,
            torque_n_m: facts.instruments.medium_torque_n_m(),
            bench: None,
        },
        weighing: &facts.weighing,
    }
}

/// The facts with what a formula file brings along laid over them.
///
/// # Errors
/// What is wrong with the facts in the file.
pub fn facts_for<'f>(
    facts: &'f Facts,
    file: &str,
    formula: &FormulaFile,
) -> Result<Cow<'f, Facts>, Vec<Diagnostic>> {
    if formula.own_facts.is_none() {
        return Ok(Cow::Borrowed(facts));
    }
    let mut laid = facts.clone();
    match laid.overlay_part((file, formula.text()), FACT_TABLES, Layer::Formula) {
        Ok(_) => Ok(Cow::Owned(laid)),
        Err(error) => Err(error.faults.iter().map(diagnose_fault).collect()),
    }
}

/// Reads and assesses a formula. `file` names it in messages.
///
/// # Errors
/// Everything that is wrong with the text, each with its place.
pub fn assess(
    facts: &Facts,
    day: Date,
    market: &str,
    file: &str,
    text: &str,
) -> Result<FormulaAssessed, Vec<Diagnostic>> {
    let formula = formula_file::read(file, text)?;
    let facts = facts_for(facts, file, &formula)?;
    let inquiry = Inquiry { sheet: &formula.sheet, known: known(&facts), day, market };
    let assessment = match levigate_assess::assess(&inquiry) {
        Ok(assessed) => assessed.assessment,
        Err(error) => return Err(diagnose(&formula, &error)),
    };
    Ok(FormulaAssessed { formula, assessment })
}

/// Runs something on the assessed formula with its intermediate results.
///
/// # Errors
/// Everything that is wrong with the text, or what the work itself reports.
pub fn with_assessed<T>(
    facts: &Facts,
    (day, market): (Date, &str),
    file: &str,
    text: &str,
    work: impl FnOnce(&FormulaFile, &Facts, &Assessed<'_>) -> Result<T, Vec<Diagnostic>>,
) -> Result<T, Vec<Diagnostic>> {
    let formula = formula_file::read(file, text)?;
    let facts = facts_for(facts, file, &formula)?;
    let inquiry = Inquiry { sheet: &formula.sheet, known: known(&facts), day, market };
    match levigate_assess::assess(&inquiry) {
        Ok(assessed) => work(&formula, &facts, &assessed),
        Err(error) => Err(diagnose(&formula, &error)),
    }
}

/// Places what the engine complains about in the file.
#[must_use]
pub fn diagnose(formula: &FormulaFile, error: &AssessError) -> Vec<Diagnostic> {
    match error {
        AssessError::Settle(errors) => errors.iter().map(|error| formula.diagnose(error)).collect(),
        AssessError::Mixture(error) => {
            vec![formula.diagnose_line(error.line(), "no-equilibrium", error.to_string(), error.hint())]
        }
    }
}

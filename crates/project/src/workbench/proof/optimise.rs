//! The better formula.

use crate::diagnostic::Diagnostic;
use crate::formula_file::{self, FormulaFile};
use crate::proof_file::optimise::read;
use crate::workbench::assess::{Bench, diagnose, facts_for, known};
use jiff::civil::Date;
use levigate_assess::Inquiry;
pub use levigate_assess::better::Asked;
pub use levigate_assess::better::{
    AnswerLine, AnswerReading, BetterReading, BindingReading, ConflictReading, FindingBrief, FrontReading,
    Step, WORDS, WishReading,
};
use levigate_assess::better::{BetterError, better};
use levigate_facts::Facts;

/// An answer with the best formula as a file.
pub struct Optimised {
    /// What was found.
    pub reading: BetterReading,
    /// The first answer as a formula file, with the facts the formula brought along.
    pub formula: Option<String>,
}

/// Finds the better formula for a question. `watch` is told how many formulas were read and how good the best is so far, and ends the
/// search by answering false.
///
/// # Errors
/// All that is wrong with the formula or the question, each with its place.
pub fn optimise(
    facts: &Facts,
    (day, market): (Date, &str),
    formula: (&str, &str),
    question: (&str, &str),
    watch: &mut dyn FnMut(usize, Option<f64>) -> bool,
) -> Result<Optimised, Vec<Diagnostic>> {
    let formula_file = formula_file::read(formula.0, formula.1)?;
    let facts = facts_for(facts, formula.0, &formula_file)?;
    let asked = read(question.0, question.1, &formula_file, &facts)?;
    optimise_file((&facts, None), (day, market), &formula_file, &asked, watch)
}

/// Finds the better formula for a question that is read, with what the bench of the workspace has taught where there is one. The facts are
/// those with what the formula brings along laid over them.
///
/// # Errors
/// All that is wrong with the formula or the question, each with its place.
pub fn optimise_file(
    (facts, bench): (&Facts, Option<Bench<'_>>),
    (day, market): (Date, &str),
    formula: &FormulaFile,
    asked: &Asked,
    watch: &mut dyn FnMut(usize, Option<f64>) -> bool,
) -> Result<Optimised, Vec<Diagnostic>> {
    let mut known = known(facts);
    known.flow.bench = bench;
    let inquiry = Inquiry { sheet: &formula.sheet, known, day, market };
    let reading = better(&inquiry, asked, watch).map_err(|error| match &error {
        BetterError::Assess(error) => diagnose(formula, error),
        BetterError::Line { line, .. } => vec![formula.diagnose_line(
            Some(*line),
            "cannot-move",
            error.to_string(),
            error.hint().to_owned(),
        )],
        _ => vec![formula.diagnose_line(None, "no-answer", error.to_string(), error.hint().to_owned())],
    })?;
    let best = reading
        .sheets
        .first()
        .and_then(|sheet| formula_file::write(sheet, formula.own_facts.as_deref()).ok());
    Ok(Optimised { reading, formula: best })
}

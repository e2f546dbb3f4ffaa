//! What runs say: a model of blends, or an equation somebody typed.

use crate::diagnostic::Diagnostic;
pub use crate::proof_file::analyse::{EQUATION, Said};
use crate::proof_file::analyse::{Question, read, refused_equation, refused_runs};
pub use levigate_assess::analysis::{AnalysisReading, BestReading, Named, Prediction, ResponseReading};
pub use levigate_assess::equation::EquationReading;
use serde::Serialize;

/// An answer.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Analysed {
    /// Of runs of a designed experiment.
    Runs(Box<AnalysisReading>),
    /// Of an equation.
    Equation(Box<EquationReading>),
}

/// Answers; `bytes` hold TOML or a table, `said` what stands beside it.
///
/// # Errors
/// All that is wrong with the text, or why these runs carry no answer.
pub fn analyse((file, bytes): (&str, &[u8]), said: &Said) -> Result<Analysed, Vec<Diagnostic>> {
    match read((file, bytes), said)? {
        Question::Runs(asked) => levigate_assess::analysis::analysis(&asked)
            .map(|reading| Analysed::Runs(Box::new(reading)))
            .map_err(|error| refused_runs(file, &error)),
        Question::Equation(asked) => levigate_assess::equation::equation(&asked)
            .map(|reading| Analysed::Equation(Box::new(reading)))
            .map_err(|error| refused_equation(file, &asked, &error)),
    }
}

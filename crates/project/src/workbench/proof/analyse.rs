//! What runs say: a model of blends, or an equation somebody typed.

use crate::diagnostic::Diagnostic;
pub use crate::proof_file::analyse::{EQUATION, Said, wish_of};
use crate::proof_file::analyse::{Question, read, refused_equation, refused_runs};
use crate::workbench::experiments::{Looking, SeenSurface, surface};
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

/// What the runs say across three parts or two axes, for a figure; see [`analyse`].
///
/// # Errors
/// See [`analyse`]; also where nothing can be seen.
pub fn analyse_seen(
    (file, bytes): (&str, &[u8]),
    said: &Said,
    looking: &Looking,
) -> Result<SeenSurface, Vec<Diagnostic>> {
    let refused = |what: String, what_now: String| {
        vec![Diagnostic {
            code: "nothing-seen".to_owned(),
            file: file.to_owned(),
            line: 0,
            column: 0,
            field: String::new(),
            what,
            what_now,
            sheet_line: None,
        }]
    };
    let Question::Runs(asked) = read((file, bytes), said)? else {
        let what_now = "give runs of blends or settings; an equation has no such plane";
        return Err(refused("an equation is not drawn".to_owned(), what_now.to_owned()));
    };
    let parts = asked.parts.iter().map(|name| (name.clone(), asked.unit.clone()));
    let labels = parts.chain(asked.settings.iter().map(|(name, _)| (name.clone(), String::new()))).collect();
    let runs: Vec<String> = (1..=asked.runs.len()).map(|number| number.to_string()).collect();
    surface(&asked, labels, &runs, looking).map_err(|one| refused(one.what, one.what_now))
}

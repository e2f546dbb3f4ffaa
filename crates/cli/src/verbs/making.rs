//! The verbs of making, one module each.

mod adjust;
mod calibrate;
mod evaporate;
mod lethality;
mod mix;
mod scale;
mod uncertainty;

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, MakingFile, MakingOfFormula, MakingVerb};
use crate::input::{self, FactsUsed, Input};
use crate::paper::{Look, Paper};
use levigate_facts::Facts;
use levigate_project::diagnostic::Diagnostic;
use serde::Serialize;

/// Answers a question about making.
pub(crate) fn making(common: &Common, asked: &MakingVerb, look: Look) -> Result<Answer, Failure> {
    match asked {
        MakingVerb::Evaporate(asked) => evaporate::evaporate(common, asked, look),
        MakingVerb::Lethality(asked) => lethality::lethality(common, asked, look),
        MakingVerb::Mix(asked) => mix::mix(common, asked, look),
        MakingVerb::Scale(asked) => scale::scale(common, asked, look),
        MakingVerb::Calibrate(asked) => calibrate::calibrate(common, asked, look),
        MakingVerb::Adjust(asked) => adjust::adjust(common, asked, look),
        MakingVerb::Uncertainty(asked) => uncertainty::uncertainty(common, asked, look),
    }
}

/// An answer with the facts it rests on.
#[derive(Serialize)]
struct Written<'a, R> {
    #[serde(flatten)]
    reading: &'a R,
    facts: &'a FactsUsed,
}

/// Reads the file, asks, and writes the answer as JSON or as a page.
fn answer<R: Serialize>(
    common: &Common,
    asked: &MakingFile,
    look: Look,
    ask: impl Fn(&Facts, &Input) -> Result<R, Vec<Diagnostic>>,
    page: impl Fn(&mut Paper, &R),
) -> Result<Answer, Failure> {
    let (facts, used) = input::facts(&common.facts)?;
    let input = Input::read(&asked.file)?;
    let reading = ask(&facts, &input).map_err(|problems| input.refused(problems))?;
    if common.json {
        return Answer::json(&Written { reading: &reading, facts: &used });
    }
    let mut paper = Paper::new(look);
    page(&mut paper, &reading);
    if let Some(remark) = used.remark() {
        paper.heading("", &remark);
    }
    Ok(Answer::text(paper.finish()))
}

/// A question and the formula it is asked of.
struct Texts {
    question: Input,
    formula: Option<Input>,
}

impl Texts {
    fn read(asked: &MakingOfFormula) -> Result<Self, Failure> {
        let question = Input::read(&asked.file)?;
        let formula = asked.formula.as_deref().map(Input::read).transpose()?;
        Ok(Self { question, formula })
    }

    fn formula(&self) -> Option<(&str, &str)> {
        self.formula.as_ref().map(Input::pair)
    }

    /// Complaints are about one of the two texts.
    fn refused(&self, problems: Vec<Diagnostic>) -> Failure {
        let about = self
            .formula
            .as_ref()
            .filter(|formula| problems.iter().any(|problem| problem.file == formula.name));
        about.unwrap_or(&self.question).refused(problems)
    }
}

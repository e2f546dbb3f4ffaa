//! The verbs of making, one module each.

pub(crate) mod adjust;
mod calibrate;
mod evaporate;
mod heat;
mod instruments;
pub(crate) mod lethality;
mod mix;
mod procedure;
mod scale;
mod uncertainty;

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, MakingFile, MakingOfFormula, MakingVerb, RecordedFile};
use crate::input::{self, FactsUsed, Input, InputBytes};
use crate::paper::{Look, Paper};
use levigate_facts::Facts;
use levigate_project::diagnostic::Diagnostic;
use levigate_project::flow_table::{LoggedTemperature, temperature_log};
use serde::Serialize;

/// Answers a question about making.
pub(crate) fn making(common: &Common, asked: &MakingVerb, look: Look) -> Result<Answer, Failure> {
    match asked {
        MakingVerb::Evaporate(asked) => evaporate::evaporate(common, asked, look),
        MakingVerb::Heat(asked) => heat::heat(common, asked, look),
        MakingVerb::Lethality(asked) => lethality::lethality(common, asked, look),
        MakingVerb::Mix(asked) => mix::mix(common, asked, look),
        MakingVerb::Scale(asked) => scale::scale(common, asked, look),
        MakingVerb::Calibrate(asked) => calibrate::calibrate(common, asked, look),
        MakingVerb::Adjust(asked) => adjust::adjust(common, asked, look),
        MakingVerb::Uncertainty(asked) => uncertainty::uncertainty(common, asked, look),
        MakingVerb::Procedure(asked) => procedure::procedure(common, asked, look),
        MakingVerb::Instruments(asked) => instruments::instruments(common, asked, look),
    }
}

/// An answer with the facts it rests on.
#[derive(Serialize)]
pub(crate) struct Written<'a, R> {
    /// The answer.
    #[serde(flatten)]
    pub(crate) reading: &'a R,
    /// The facts.
    pub(crate) facts: &'a FactsUsed,
}

/// The record of a logger, where one is named.
fn logged(asked: &RecordedFile) -> Result<Option<LoggedTemperature>, Failure> {
    let Some(path) = &asked.record else { return Ok(None) };
    let input = InputBytes::measured(path)?;
    temperature_log(&input.name, &input.bytes).map(Some).map_err(|problems| {
        Failure::bad_input(
            problems,
            std::str::from_utf8(&input.bytes).ok().map(|text| (input.name.as_str(), text)),
        )
    })
}

/// Reads the file, asks, and writes the answer as JSON or as a page.
pub(crate) fn answer<R: Serialize>(
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

//! The verbs of the command line, one module each: read, ask the workbench, arrange what comes back.

mod assess;
mod batch_sheet;
mod bringing;
mod data;
mod enter;
mod flow;
mod label;
mod lots;
mod making;
mod materials;
mod papers;
mod people;
mod predictions;
mod proof;
mod records;
mod reference;
mod speciate;
mod specification;
mod submission;
mod tables;
mod titrate;
mod trials;

use crate::answer::{Answer, Failure};
use crate::arguments::{Arguments, DataVerb, Verb};
use crate::paper::Look;
use crate::serve;
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::Offset;

/// The market when neither the command line nor the formula names one.
pub(crate) const USUAL_MARKET: &str = "eu";

/// The day asked for, else today in universal time.
pub(crate) fn day(asked: Option<Date>) -> Date {
    asked.unwrap_or_else(|| Offset::UTC.to_datetime(Timestamp::now()).date())
}

/// Runs what was typed.
pub(crate) fn run(arguments: Arguments, look: Look) -> Result<Answer, Failure> {
    let common = arguments.common;
    match arguments.verb {
        None => serve::serve(&common, &crate::arguments::Serve::default()),
        Some(Verb::Serve(serve)) => serve::serve(&common, &serve),
        Some(Verb::Assess(asked)) => assess::assess(&common, &asked, look),
        Some(Verb::Sheet(asked)) => batch_sheet::sheet(&common, &asked, look),
        Some(Verb::Speciate(asked)) => speciate::speciate(&common, &asked, look),
        Some(Verb::Titrate(asked)) => titrate::titrate(&common, &asked, look),
        Some(Verb::Label(asked)) => label::label(&common, &asked, look),
        Some(Verb::Materials(asked)) => materials::materials(&common, &asked, look),
        Some(Verb::Trials(asked)) => trials::trials(&common, &asked, look),
        Some(Verb::Predictions(asked)) => predictions::predictions(&common, &asked, look),
        Some(Verb::Lots(asked)) => lots::lots(&common, &asked, look),
        Some(Verb::Enter(asked)) => enter::enter(&common, &asked),
        Some(Verb::Import(asked)) => bringing::import(&common, &asked, look),
        Some(Verb::People(asked)) => people::people(&common, &asked, look),
        Some(Verb::Flow(asked)) => flow::flow(&common, &asked, look),
        Some(Verb::Making(asked)) => making::making(&common, &asked, look),
        Some(Verb::Proof(asked)) => proof::proof(&common, &asked, look),
        Some(Verb::Records(asked)) => records::records(&common, &asked, look),
        Some(Verb::Data(asked)) => match asked.what {
            DataVerb::Check => data::check_data(&common, look),
        },
        Some(Verb::Schema(asked)) => Ok(reference::schema(asked.what)),
        Some(Verb::Completions(asked)) => Ok(reference::completions(asked.shell)),
        Some(Verb::Manual) => reference::manual(),
    }
}

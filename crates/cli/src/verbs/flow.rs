//! `flow`: how it flows, one module per question.

pub(crate) mod fit;
mod in_use;
mod level;
mod predict;
mod read;
mod recovery;
mod taught;

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, Flow, FlowVerb};
use crate::paper::Look;

/// Answers a question about the flow.
pub(crate) fn flow(common: &Common, asked: &Flow, look: Look) -> Result<Answer, Failure> {
    match &asked.what {
        FlowVerb::Fit(asked) => fit::fit(common, asked, look),
        FlowVerb::Dispense(asked) => in_use::dispense(common, asked, look),
        FlowVerb::Drain(asked) => in_use::drain(common, asked, look),
        FlowVerb::Cream(asked) => in_use::cream(common, asked, look),
        FlowVerb::Life(asked) => in_use::life(common, asked, look),
        FlowVerb::Level(asked) => level::level(common, asked, look),
        FlowVerb::Predict(asked) => predict::predict(common, asked, look),
        FlowVerb::Read(asked) => read::read(common, asked, look),
    }
}

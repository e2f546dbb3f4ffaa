//! `flow`: how it flows, one module per question.

mod fit;

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, Flow, FlowVerb};
use crate::paper::Look;

/// Answers a question about the flow.
pub(crate) fn flow(common: &Common, asked: &Flow, look: Look) -> Result<Answer, Failure> {
    match &asked.what {
        FlowVerb::Fit(asked) => fit::fit(common, asked, look),
    }
}

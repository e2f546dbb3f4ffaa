//! The verbs of making, one module each.

mod lethality;

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, MakingVerb};
use crate::input::FactsUsed;
use crate::paper::Look;
use serde::Serialize;

/// Answers a question about making.
pub(crate) fn making(common: &Common, asked: &MakingVerb, look: Look) -> Result<Answer, Failure> {
    match asked {
        MakingVerb::Lethality(asked) => lethality::lethality(common, asked, look),
    }
}

/// An answer with the facts it rests on.
#[derive(Serialize)]
struct Written<'a, R> {
    #[serde(flatten)]
    reading: &'a R,
    facts: &'a FactsUsed,
}

//! The verbs of proof, one module each.

mod analyse;
mod arrhenius;
mod challenge;
mod design;
mod microbes;
mod optimise;
mod pack;
mod shelf_life;
mod substitute;

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, ProofVerb};
use crate::paper::Look;

/// Answers a question about proof.
pub(crate) fn proof(common: &Common, asked: &ProofVerb, look: Look) -> Result<Answer, Failure> {
    match asked {
        ProofVerb::ShelfLife(asked) => shelf_life::shelf_life(common, asked, look),
        ProofVerb::Challenge(asked) => challenge::challenge(common, asked, look),
        ProofVerb::Microbes(asked) => microbes::microbes(common, asked, look),
        ProofVerb::Design(asked) => design::design(common, asked, look),
        ProofVerb::Optimise(asked) => optimise::optimise(common, asked, look),
        ProofVerb::Pack(asked) => pack::pack(common, asked, look),
        ProofVerb::Substitute(asked) => substitute::substitute(common, asked, look),
        ProofVerb::Analyse(asked) => analyse::analyse(common, asked, look),
        ProofVerb::Arrhenius(asked) => arrhenius::arrhenius(common, asked, look),
    }
}

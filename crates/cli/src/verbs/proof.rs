//! The verbs of proof, one module each.

mod analyse;
pub(crate) mod arrhenius;
mod challenge;
mod design;
mod microbes;
mod optimise;
mod pack;
pub(crate) mod shelf_life;
mod substitute;

pub(super) use analyse::{looking, runs as of_runs};

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, ProofVerb};
use crate::input::{self, InputBytes};
use crate::paper::{Look, Paper};
use crate::verbs::making::Written;
use levigate_facts::Facts;
use levigate_project::diagnostic::Diagnostic;
use serde::Serialize;
use std::path::Path;

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

/// Reads a file or a table with what stands beside it, asks, and writes the answer as JSON or as a page.
fn answer_of<R: Serialize>(
    common: &Common,
    (path, with): (&Path, &[String]),
    look: Look,
    ask: impl Fn(&Facts, (&str, &[u8]), &[String]) -> Result<R, Vec<Diagnostic>>,
    page: impl Fn(&mut Paper, &R),
) -> Result<Answer, Failure> {
    let (facts, used) = input::facts(&common.facts)?;
    let input = InputBytes::measured(path)?;
    let reading = ask(&facts, (&input.name, &input.bytes), with).map_err(|problems| {
        // A complaint about what stands beside the table shows none of it.
        let of_file = problems.iter().all(|problem| problem.file == input.name);
        let text = std::str::from_utf8(&input.bytes).ok().filter(|_| of_file);
        Failure::bad_input(problems, text.map(|text| (input.name.as_str(), text)))
    })?;
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

//! The better formula: levels of lines that may move, so that an aim is met best and every wish is kept, by the engine itself.
//!
//! Every point of the search ([`levigate_measure::search`]) is a sheet that is settled and solved with its pH, and read by the same
//! functions as an assessment; the answers are assessed as a whole. A wish speaks of the value of a reading, not of the ends of its
//! interval; where the interval reaches beyond the limit, the answer says so. Cases: `tests/tests/better.rs`.

mod asked;
mod pot;
mod quantity;
mod telling;

pub use asked::{AimAsked, Asked, BetterError, Move, WishAsked, WishOn};
pub(crate) use quantity::Solved;
pub use quantity::{Quantity, WORDS};
pub use telling::{
    AnswerLine, AnswerReading, BetterReading, BindingReading, ConflictReading, FindingBrief, FrontReading,
    Step, WishReading,
};
pub(crate) use telling::{beside, findings as weighty};

use crate::assess::Inquiry;
use asked::laid;
use levigate_measure::search::{Effort, Watch, answers, conflict::conflict, front, relax::bindings};
use pot::Pot;
use telling::Teller;

/// Limits held between the ends of a front of two aims; fewer of each where there are three.
const RUNGS: [usize; 2] = [7, 3];

/// Finds the better formula. `watch` is told how many formulas were read and how good the best is, and ends the search by answering false.
///
/// # Errors
/// [`BetterError`]; wishes that cannot be had are an answer, not an error.
pub fn better(
    inquiry: &Inquiry<'_>,
    asked: &Asked,
    watch: &mut Watch<'_>,
) -> Result<BetterReading, BetterError> {
    let laid = laid(inquiry, asked)?;
    let pot = Pot::new(inquiry, asked, &laid);
    let teller = Teller { inquiry, asked, laid: &laid, pot: &pot };
    let effort = Effort {
        others: asked.others,
        near: 0.01 * asked.near_percent,
        seed: asked.seed,
        ..Effort::default()
    };
    let ended = |error| BetterError::Search(error);
    // One count over all that is sought: each search counts for itself.
    let mut counted = |_: usize, best: Option<f64>| watch(pot.count(), best);
    let watch: &mut Watch<'_> = &mut counted;
    if asked.aims.len() > 1 {
        let rungs = asked.rungs.unwrap_or(RUNGS[usize::from(asked.aims.len() > 2)]);
        let effort = Effort { choices: 4, starts: 1, ..effort };
        let found =
            front(&laid.problem, &laid.aims, rungs, &pot, &laid.start, &effort, watch).map_err(ended)?;
        if !found.points.is_empty() || found.ended {
            return teller.front(found);
        }
        let against = conflict(&laid.problem, &pot, &laid.start, &effort, watch).map_err(ended)?;
        return teller.no_front(against);
    }
    let found = answers(&laid.problem, &pot, &laid.start, &effort, watch).map_err(ended)?;
    if found.best.keeps() {
        let (binds, _) = bindings(&laid.problem, &pot, &found.best, &effort, watch).map_err(ended)?;
        return teller.answers(found, binds);
    }
    let effort = Effort { choices: 4, starts: 1, ..effort };
    let against = conflict(&laid.problem, &pot, &found.best.at, &effort, watch).map_err(ended)?;
    teller.against(found, against)
}

//! The better formula: levels of lines that may move, so that an aim is met best and every wish is kept, by the engine itself.
//!
//! Every point of the search ([`levigate_measure::search`]) is a sheet that is settled and solved with its pH, and read by the same
//! functions as an assessment; the answers are assessed as a whole. A wish speaks of the value of a reading, not of the ends of its
//! interval; where the interval reaches beyond the limit, the answer says so. Cases: `tests/tests/better.rs`.

mod asked;
mod pot;
mod quantity;
mod telling;
mod usual;

pub use asked::{AimAsked, Asked, BetterError, Move, WishAsked, WishOn};
pub(crate) use quantity::Solved;
pub use quantity::{Quantity, WORDS};
pub use telling::{
    AnswerLine, AnswerReading, BetterReading, BindingReading, ConflictReading, FindingBrief, FrontReading,
    Step, WishReading,
};
pub(crate) use telling::{beside, findings as weighty};
pub use usual::NamedReading;
pub(crate) use usual::usual;

use crate::assess::{Inquiry, solved};
use asked::laid;
use levigate_measure::search::{Aim, Effort, Watch, answers, conflict::conflict, front, relax::bindings};
use pot::Pot;
use std::cell::Cell;
use telling::Teller;

/// Limits held between the ends of a front of two aims; fewer of each where there are three.
const RUNGS: [usize; 2] = [7, 3];

/// Finds the better formula. `watch` is told how many formulas were read and, of one aim, the best value so far that keeps all wishes; it
/// ends the search by answering false.
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
    // What a limit gives way for is no answer to what was asked: the best stands once it is found.
    let stands: Cell<Option<f64>> = Cell::new(None);
    let valued = |aim: f64| match &laid.problem.aim {
        Aim::Reading { most, scale, .. } if laid.aims.len() == 1 => {
            Some(asked.aims[0].of.outer(if *most { -aim * scale } else { aim * scale }))
        }
        _ => None,
    };
    // One count over all that is sought: each search counts for itself.
    let mut counted =
        |_: usize, best: Option<f64>| watch(pot.count(), stands.get().or(best).and_then(valued));
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
        stands.set(Some(found.best.aim));
        let (binds, _) = bindings(&laid.problem, &pot, &found.best, &effort, watch).map_err(ended)?;
        return teller.answers(found, binds);
    }
    let effort = Effort { choices: 4, starts: 1, ..effort };
    let against = conflict(&laid.problem, &pot, &found.best.at, &effort, watch).map_err(ended)?;
    teller.against(found, against)
}

/// The values of quantities in a formula as it is typed, in their order; nothing where it cannot be solved. A quantity that only a whole
/// assessment tells has none.
#[must_use]
pub fn values(inquiry: &Inquiry<'_>, quantities: &[Quantity]) -> Option<Vec<Option<f64>>> {
    let (settled, composition, mixture) = solved(inquiry.sheet, &inquiry.known).ok()?;
    let lines: Vec<usize> = (0..settled.lines.len()).collect();
    let own = Solved::new(inquiry.sheet, (&settled, &composition, &mixture), &lines);
    Some(quantities.iter().map(|of| of.of(inquiry, &own)).collect())
}

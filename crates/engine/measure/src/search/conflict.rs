//! Wishes that cannot be had together: the nearest point, and the fewest wishes that contradict each other.
//!
//! Wishes are left out one after the other; one that may be left out without the rest becoming possible is left out for good. What stays
//! is a set of which none may be left out: without any one of them the others can be had (deletion filter, Chinneck and Dravnieks, ORSA J.
//! Comput. 3 (1991) 157, from memory). There may be other such sets.

use super::answers::Effort;
use super::climb::Search;
use super::space::{Aim, Oracle, Point, Problem, SearchError, Watch};

/// Wishes that contradict each other.
#[derive(Clone, Debug, PartialEq)]
pub struct Conflict {
    /// The point that misses least.
    pub nearest: Point,
    /// Places of the wishes that contradict each other; with one alone, it is the ranges of the parts that it contradicts.
    pub wishes: Vec<usize>,
    /// Every reading was straight: it is proved.
    pub straight: bool,
    /// Points that were read.
    pub read: usize,
}

/// Finds what contradicts; nothing where all wishes can be had after all.
///
/// # Errors
/// [`SearchError`].
pub fn conflict<'s>(
    problem: &Problem,
    oracle: &'s dyn Oracle,
    start: &[f64],
    effort: &Effort,
    watch: &'s mut Watch<'s>,
) -> Result<Option<Conflict>, SearchError> {
    let mut search = Search { oracle, watch, read: 0, best: None, ended: false };
    let effort = Effort { others: 0, ..*effort };
    let mut of = |kept: &[usize], from: &[f64]| {
        let wishes = kept.iter().map(|place| problem.wishes[*place]).collect();
        let only = Problem { space: problem.space.clone(), aim: Aim::Nothing, wishes };
        search.answers(&only, from, &effort)
    };
    let mut kept: Vec<usize> = (0..problem.wishes.len()).collect();
    let all = of(&kept, start)?;
    if all.best.keeps() {
        return Ok(None);
    }
    let nearest = problem.judged(all.best.at.clone(), all.best.readings.clone());
    let mut place = 0;
    while place < kept.len() {
        if all.ended {
            break;
        }
        let mut without = kept.clone();
        without.remove(place);
        if of(&without, &nearest.at)?.best.keeps() {
            place += 1;
        } else {
            kept = without;
        }
    }
    Ok(Some(Conflict { nearest, wishes: kept, straight: all.straight, read: search.read }))
}

//! Wishes that cannot be had together: the nearest point, and the fewest wishes that contradict each other.
//!
//! Wishes are left out one after the other; one that may be left out without the rest becoming possible is left out for good. What stays
//! is a set of which none may be left out: without any one of them the others can be had (deletion filter, Chinneck and Dravnieks, ORSA J.
//! Comput. 3 (1991) 157, from memory). That need not be the smallest one. So sets are then taken up by their size: of every set that can be
//! had, whatever contradicts must hold a wish it leaves out, and the smallest set that holds one of each is asked next; where it cannot be
//! had, no smaller one contradicts (Ignatiev, Previti, Liffiton and Marques-Silva, CP 2015, LNCS 9255, 173, from memory).

use super::answers::{Answers, Effort};
use super::climb::Search;
use super::space::{Aim, Oracle, Point, Problem, SearchError, Watch};
use microlp::{ComparisonOp, OptimizationDirection, Problem as Linear};

/// Sets that are asked after the first contradiction was found.
const MOST_SETS: usize = 60;

/// Wishes that contradict each other.
#[derive(Clone, Debug, PartialEq)]
pub struct Conflict {
    /// The point that misses least.
    pub nearest: Point,
    /// Places of the wishes that contradict each other; with one alone, it is the ranges of the parts that it contradicts.
    pub wishes: Vec<usize>,
    /// No smaller set was left that could contradict. As sure as `straight` says.
    pub smallest: bool,
    /// Every reading was straight: it is proved.
    pub straight: bool,
    /// It was looked at to the end: none of these may be left out.
    pub whole: bool,
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
    let mut whole = !all.ended;
    let mut straight = all.straight;
    // Wishes that were missed where all others were kept: whatever contradicts holds one of each such set.
    let mut missed: Vec<Vec<usize>> = vec![missed_at(problem, &all)];
    let mut place = 0;
    while place < kept.len() && whole {
        let mut without = kept.clone();
        without.remove(place);
        let found = of(&without, &nearest.at)?;
        straight &= found.straight;
        whole = !found.ended;
        if found.best.keeps() {
            missed.push(missed_at(problem, &found));
            place += 1;
        } else if whole {
            kept = without;
        }
    }
    let mut smallest = whole && kept.len() <= 1;
    for _ in 0..MOST_SETS {
        if smallest || !whole {
            break;
        }
        let Some(next) = one_of_each(&missed, problem.wishes.len()) else { break };
        if next.len() >= kept.len() {
            smallest = true;
            break;
        }
        let found = of(&next, &nearest.at)?;
        straight &= found.straight;
        if found.ended {
            break;
        }
        if found.best.keeps() {
            missed.push(missed_at(problem, &found));
        } else {
            // What holds one of each and cannot be had is the smallest that contradicts.
            kept = next;
            smallest = true;
        }
    }
    Ok(Some(Conflict { nearest, wishes: kept, smallest, straight, whole, read: search.read }))
}

/// Places of the wishes that the point misses.
fn missed_at(problem: &Problem, found: &Answers) -> Vec<usize> {
    let readings = &found.best.readings;
    let missed = |place: &usize| {
        let wish = &problem.wishes[*place];
        wish.missed(readings[wish.reading]) > super::KEPT
    };
    (0..problem.wishes.len()).filter(missed).collect()
}

/// The fewest wishes of which every set holds one.
fn one_of_each(sets: &[Vec<usize>], count: usize) -> Option<Vec<usize>> {
    let mut linear = Linear::new(OptimizationDirection::Minimize);
    let taken: Vec<_> = (0..count).map(|_| linear.add_binary_var(1.0)).collect();
    for set in sets {
        let sum: Vec<_> = set.iter().map(|place| (taken[*place], 1.0)).collect();
        linear.add_constraint(sum, ComparisonOp::Ge, 1.0);
    }
    let solution = linear.solve().ok()?.into_solution().ok()?;
    Some((0..count).filter(|place| solution.var_value(taken[*place]) > 0.5).collect())
}

//! What binds an answer, and what giving way there would buy: the limit is moved and the answer sought again.

use super::answers::Effort;
use super::climb::Search;
use super::space::{Oracle, Point, Problem, SearchError, Side, Watch};

/// What may give way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bound {
    /// A wish.
    Wish(usize, Side),
    /// The range of a part.
    Part(usize, Side),
}

/// A bound that holds the aim back.
#[derive(Clone, Debug, PartialEq)]
pub struct Binding {
    /// The bound.
    pub bound: Bound,
    /// By how much it was moved.
    pub moved: f64,
    /// What the aim gains, in its scale.
    pub gain: f64,
    /// The answer then.
    pub then: Point,
}

/// A wish is looked at where the answer stands within so many times what its limit is moved: on steps it rarely stands at the limit itself.
const NEAR: f64 = 2.0;
/// Share of its most by which the range of a part is moved.
const GIVE: f64 = 0.05;
/// A gain below this share of the aim is none.
const WORTH: f64 = 1e-6;

/// Moves every bound near which the answer stands and seeks again; most gain first.
///
/// # Errors
/// [`SearchError`].
pub fn bindings<'s>(
    problem: &Problem,
    oracle: &'s dyn Oracle,
    best: &Point,
    effort: &Effort,
    watch: &'s mut Watch<'s>,
) -> Result<(Vec<Binding>, usize), SearchError> {
    let mut search = Search { oracle, watch, read: 0, best: Some(best.aim), ended: false };
    let effort = Effort { others: 0, starts: 1, choices: effort.choices.min(3), ..*effort };
    let mut found = Vec::new();
    for (bound, moved) in near(problem, best) {
        if search.ended {
            break;
        }
        let mut given = problem.clone();
        match bound {
            Bound::Wish(place, side) => given.wishes[place] = given.wishes[place].relaxed(side, moved),
            Bound::Part(place, side) => {
                given.space.parts[place] = given.space.parts[place].relaxed(side, moved)
            }
        }
        let Ok(answers) = search.answers(&given, &best.at, &effort) else { continue };
        let gain = best.aim - answers.best.aim;
        if answers.best.keeps() && gain > WORTH * best.aim.abs().max(1e-9) {
            found.push(Binding { bound, moved, gain, then: answers.best });
        }
    }
    found.sort_by(|a, b| b.gain.total_cmp(&a.gain));
    Ok((found, search.read))
}

/// Bounds near the point, each with how far it is moved.
fn near(problem: &Problem, best: &Point) -> Vec<(Bound, f64)> {
    let mut found = Vec::new();
    for (place, wish) in problem.wishes.iter().enumerate() {
        let value = best.readings[wish.reading];
        if wish.low.is_some_and(|low| value - low <= NEAR * wish.give) {
            found.push((Bound::Wish(place, Side::Low), wish.give));
        }
        if wish.high.is_some_and(|high| high - value <= NEAR * wish.give) {
            found.push((Bound::Wish(place, Side::High), wish.give));
        }
    }
    for (place, part) in problem.space.parts.iter().enumerate() {
        let value = best.at[place];
        if value == 0.0 && part.may_be_off {
            continue;
        }
        let [low, high] = part.ends();
        let step = part.step.unwrap_or(1e-6 * part.range());
        let moved = match part.step {
            Some(step) => (GIVE * part.high / step).ceil().max(1.0) * step,
            None => GIVE * part.high,
        };
        if value - low < 0.5 * step && low > 0.0 {
            found.push((Bound::Part(place, Side::Low), moved.min(low)));
        }
        if high - value < 0.5 * step {
            found.push((Bound::Part(place, Side::High), moved));
        }
    }
    found
}

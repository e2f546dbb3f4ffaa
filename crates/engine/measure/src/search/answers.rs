//! The best point, and others that are nearly as good and different.

use super::climb::Search;
use super::grid::is_straight;
use super::model::{Within, straight};
use super::space::{Aim, Oracle, Part, Point, Problem, SearchError, Space, Watch, Wish};
use crate::uncertainty::stream::{Stream, source};

/// How much is tried.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Effort {
    /// Choices of parts that are tried.
    pub choices: usize,
    /// Starts for each, where readings are not straight.
    pub starts: usize,
    /// Other answers that are sought.
    pub others: usize,
    /// By how much of the best aim another answer may be worse.
    pub near: f64,
    /// Share of its range by which some part must differ for an answer to be another one.
    pub apart: f64,
    /// Seed.
    pub seed: u64,
}

impl Default for Effort {
    fn default() -> Self {
        Self { choices: 8, starts: 2, others: 2, near: 0.1, apart: 0.2, seed: 1 }
    }
}

/// What was found.
#[derive(Clone, Debug, PartialEq)]
pub struct Answers {
    /// The best; keeps all wishes unless none was found that does, then it is the nearest.
    pub best: Point,
    /// Others that keep all wishes, best first.
    pub others: Vec<Point>,
    /// Points that were read.
    pub read: usize,
    /// Every reading was straight: the best is the best of all.
    pub straight: bool,
    /// Choices of parts that were tried, and whether those were all.
    pub choices: (usize, bool),
    /// It was ended before its time.
    pub ended: bool,
}

/// Finds the best point from a start, and others.
///
/// # Errors
/// [`SearchError`].
pub fn answers<'s>(
    problem: &Problem,
    oracle: &'s dyn Oracle,
    start: &[f64],
    effort: &Effort,
    watch: &'s mut Watch<'s>,
) -> Result<Answers, SearchError> {
    let mut search = Search { oracle, watch, read: 0, best: None, ended: false };
    search.answers(problem, start, effort)
}

impl Search<'_> {
    pub(super) fn answers(
        &mut self,
        problem: &Problem,
        start: &[f64],
        effort: &Effort,
    ) -> Result<Answers, SearchError> {
        check(&problem.space)?;
        let first = self.first(problem, start, effort)?;
        let mut base = self.about(problem, &first);
        let mut tried: Vec<Vec<bool>> = Vec::new();
        let mut found: Vec<Point> = Vec::new();
        let mut all_straight = true;
        let mut exhausted = false;
        while tried.len() < effort.choices.max(1) && !self.ended {
            let within = Within { not: &tried, ..Within::default() };
            let Some(at) = straight(problem, &base, 1e3, &within) else {
                exhausted = true;
                break;
            };
            let on: Vec<bool> = Space::on(&at)
                .iter()
                .zip(&problem.space.parts)
                .map(|(on, part)| *on || !part.may_be_off)
                .collect();
            let mut starts = vec![at];
            // The start is a good one where it has the same parts.
            if Space::on(&first.at) == Space::on(&starts[0]) {
                starts.push(first.at.clone());
            }
            let mut of_choice: Option<Point> = None;
            let mut round = 0;
            while round < starts.len() && !self.ended {
                let place = starts[round].clone();
                round += 1;
                let Some(begun) = self.read_one(problem, &place) else {
                    if starts.len() < effort.starts + 2 {
                        starts.push(drawn(&problem.space, &on, effort.seed, starts.len(), tried.len()));
                    }
                    continue;
                };
                let before = self.about(problem, &begun);
                let after = self.climb(problem, begun);
                let straight_here =
                    is_straight(problem, &before, &after) && is_straight(problem, &base, &after);
                all_straight &= straight_here;
                // Off the steps it is hardly worse than on them: what loses there is not brought onto them.
                let loses = |point: &Point, by: f64| {
                    after.point.keeps() && point.keeps() && after.point.aim > point.aim + by * point.aim.abs()
                };
                let lost = of_choice.as_ref().is_some_and(|best| loses(best, 0.0))
                    || found.first().is_some_and(|best| loses(best, effort.near));
                if !lost && let Some(point) = self.onto_steps(problem, &after, straight_here) {
                    self.found(&point, matches!(problem.aim, Aim::Reading { .. }));
                    if of_choice.as_ref().is_none_or(|best| point.better_than(best)) {
                        of_choice = Some(point);
                    }
                }
                let enough = problem.aim == Aim::Nothing && of_choice.as_ref().is_some_and(Point::keeps);
                if straight_here || enough {
                    break;
                }
                if starts.len() < effort.starts + 1 {
                    starts.push(drawn(&problem.space, &on, effort.seed, starts.len(), tried.len()));
                }
            }
            tried.push(on);
            if let Some(point) = of_choice {
                if found.first().is_none_or(|best| point.better_than(best)) {
                    base = self.about(problem, &point);
                    found.insert(0, point);
                } else {
                    found.push(point);
                }
            }
            if !problem.space.has_choices() {
                exhausted = true;
                break;
            }
            if problem.aim == Aim::Nothing && found.first().is_some_and(Point::keeps) {
                break;
            }
        }
        if found.is_empty() {
            // No choice could be read beyond the start itself.
            if self.ended {
                return Err(SearchError::Ended);
            }
            if tried.is_empty() && exhausted {
                return Err(SearchError::NoChoice);
            }
            return Err(SearchError::Unreadable { tried: self.read });
        }
        let best = found.remove(0);
        let mut others: Vec<Point> = Vec::new();
        found.sort_by(|a, b| a.aim.total_cmp(&b.aim));
        let worst = best.aim + effort.near * best.aim.abs().max(1e-12);
        for point in found.into_iter().filter(|point| point.keeps() && point.aim <= worst) {
            if others.len() < effort.others {
                others.push(point);
            }
        }
        if best.keeps() && matches!(problem.aim, Aim::Reading { .. }) {
            while others.len() < effort.others && !self.ended {
                match self.another(problem, &best, &others, worst, effort) {
                    Some(point) => others.push(point),
                    None => break,
                }
            }
        }
        others.sort_by(|a, b| a.aim.total_cmp(&b.aim));
        Ok(Answers {
            best,
            others,
            read: self.read,
            straight: all_straight,
            choices: (tried.len(), exhausted),
            ended: self.ended,
        })
    }

    /// A point within what is near enough that has least of what the answers so far have most of.
    fn another(
        &mut self,
        problem: &Problem,
        best: &Point,
        others: &[Point],
        worst: f64,
        effort: &Effort,
    ) -> Option<Point> {
        let Aim::Reading { reading, most, scale } = problem.aim else { return None };
        let parts = &problem.space.parts;
        let known: Vec<&Point> = std::iter::once(best).chain(others).collect();
        #[expect(clippy::cast_precision_loss, reason = "a few answers")]
        let count = known.len() as f64;
        let factors = (0..parts.len())
            .map(|place| {
                let part = &parts[place];
                let mean = known.iter().map(|point| (point.at[place] - part.low) / part.range()).sum::<f64>()
                    / count;
                (2.0 * mean - 1.0) / part.range()
            })
            .collect();
        let limit = worst * scale;
        let budget =
            Wish { reading, low: most.then_some(-limit), high: (!most).then_some(limit), scale, give: scale };
        let mut wishes = problem.wishes.clone();
        wishes.push(budget);
        let away = Problem { space: problem.space.clone(), aim: Aim::Parts(factors), wishes };
        let begun = away.judged(best.at.clone(), best.readings.clone());
        let end = self.climb(&away, begun);
        let point = self.onto_steps(&away, &end, false)?;
        let point = problem.judged(point.at, point.readings);
        let apart = |other: &Point| {
            let widest = point.at.iter().zip(&other.at).zip(parts);
            widest.map(|((a, b), part)| (a - b).abs() / part.range()).fold(0.0, f64::max)
        };
        let differs = known.iter().all(|other| apart(other) >= effort.apart);
        (point.keeps() && point.aim <= worst + 1e-12 && differs).then_some(point)
    }

    /// The start, or another place that can be read.
    fn first(&mut self, problem: &Problem, start: &[f64], effort: &Effort) -> Result<Point, SearchError> {
        let space = &problem.space;
        let put: Vec<f64> = start
            .iter()
            .zip(&space.parts)
            .map(
                |(value, part)| {
                    if *value <= 0.0 && part.may_be_off { 0.0 } else { value.clamp(part.low, part.high) }
                },
            )
            .collect();
        if let Some(point) = self.read_one(problem, &put) {
            return Ok(point);
        }
        let open = vec![true; space.parts.len()];
        for round in 0..8 {
            let at = if round == 0 {
                space.parts.iter().map(|part| part.low).collect()
            } else {
                drawn(space, &open, effort.seed, round, 0)
            };
            if let Some(point) = self.read_one(problem, &at) {
                return Ok(point);
            }
            if self.ended {
                return Err(SearchError::Ended);
            }
        }
        Err(SearchError::Unreadable { tried: self.read })
    }
}

fn check(space: &Space) -> Result<(), SearchError> {
    let no_place = |part: &Part| {
        let [low, high] = part.ends();
        low > high + 1e-12
    };
    match space.parts.iter().position(no_place) {
        Some(part) => Err(SearchError::NoPlace { part }),
        None => Ok(()),
    }
}

/// A place drawn from the seed, with these parts in; brought back into the room there is.
fn drawn(space: &Space, on: &[bool], seed: u64, round: usize, choice: usize) -> Vec<f64> {
    let mut stream = Stream::of(seed, source("start of a search"), ((choice as u64) << 16) | round as u64);
    let mut at: Vec<f64> = space
        .parts
        .iter()
        .zip(on)
        .map(|(part, on)| {
            let share = stream.unit();
            if *on { part.low + share * (part.high - part.low) } else { 0.0 }
        })
        .collect();
    if let Some((factors, most)) = &space.room {
        let sum = |at: &[f64]| factors.iter().zip(at).map(|(factor, value)| factor * value).sum::<f64>();
        for _ in 0..20 {
            if sum(&at) <= *most {
                break;
            }
            for (value, part) in at.iter_mut().zip(&space.parts).filter(|(value, _)| **value > 0.0) {
                *value = part.low + 0.5 * (*value - part.low);
            }
        }
    }
    at
}

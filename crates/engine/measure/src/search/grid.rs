//! Onto the steps, and better there: first by the straight problem in whole steps, then by trying neighbours.

use super::climb::Search;
use super::model::{Local, Within, straight};
use super::space::{Point, Problem, Space};

/// Steps around the point in which the straight problem is asked again in whole steps.
const AROUND: f64 = 3.0;
/// What a missed wish costs there.
const PENALTY: f64 = 1e4;
/// Neighbours that are read in one round.
const TRIED: usize = 16;
/// Rounds at most.
const ROUNDS: usize = 40;
/// Slopes that differ by no more than this are those of a straight reading.
const STRAIGHT: f64 = 1e-6;

/// Whether the readings that matter are straight between two points.
pub(super) fn is_straight(problem: &Problem, one: &Local, other: &Local) -> bool {
    let matter = problem.wishes.iter().map(|wish| (wish.reading, wish.scale)).chain(match &problem.aim {
        super::Aim::Reading { reading, scale, .. } => vec![(*reading, *scale)],
        super::Aim::Readings(factors) => {
            factors.iter().map(|(reading, factor)| (*reading, 1.0 / factor.abs().max(1e-12))).collect()
        }
        _ => Vec::new(),
    });
    matter.into_iter().all(|(reading, scale)| {
        let slopes = one.slopes[reading].iter().zip(&other.slopes[reading]).zip(&problem.space.parts);
        let same = slopes.fold(true, |same, ((a, b), part)| {
            same && ((a - b) * part.high).abs() <= STRAIGHT * scale.max((a * part.high).abs())
        });
        let expected = one.expected(problem, &other.point.at).readings[reading];
        same && (expected - other.point.readings[reading]).abs() <= STRAIGHT * scale.max(expected.abs())
    })
}

impl Search<'_> {
    /// Brings a point onto the steps and betters it there. `straight_all` lets the straight problem reach over the whole range.
    pub(super) fn onto_steps(
        &mut self,
        problem: &Problem,
        local: &Local,
        straight_all: bool,
    ) -> Option<Point> {
        let parts = &problem.space.parts;
        if parts.iter().all(|part| part.step.is_none()) {
            return Some(local.point.clone());
        }
        let on: Vec<bool> =
            Space::on(&local.point.at).iter().zip(parts).map(|(on, part)| *on || !part.may_be_off).collect();
        let widths = if straight_all { vec![1e9] } else { vec![AROUND, 4.0 * AROUND] };
        let mut starts: Vec<Vec<f64>> = widths
            .into_iter()
            .filter_map(|width| {
                straight(
                    problem,
                    local,
                    PENALTY,
                    &Within { steps: Some(width), on: Some(&on), ..Within::default() },
                )
            })
            .collect();
        starts.push(rounded(problem, &local.point.at));
        starts.dedup();
        let read = self.read(problem, &starts);
        let mut best: Option<Point> = None;
        for point in read.into_iter().flatten() {
            if inside(problem, &point.at) && best.as_ref().is_none_or(|best| point.better_than(best)) {
                best = Some(point);
            }
        }
        let best = best?;
        if straight_all && best.keeps() {
            return Some(best);
        }
        Some(self.among_neighbours(problem, local, best))
    }

    /// Goes to the best neighbour until none is better.
    fn among_neighbours(&mut self, problem: &Problem, local: &Local, start: Point) -> Point {
        let mut here = start;
        let mut slopes = local.clone();
        for round in 0..ROUNDS {
            if self.ended {
                break;
            }
            if round % 3 == 0 {
                slopes = self.about(problem, &here);
            }
            slopes.point = here.clone();
            let mut neighbours: Vec<(f64, Vec<f64>)> = neighbours(problem, &here.at)
                .into_iter()
                .map(|at| (slopes.expected(problem, &at).merit(PENALTY), at))
                .collect();
            neighbours.sort_by(|a, b| a.0.total_cmp(&b.0));
            neighbours.truncate(TRIED);
            let mut points: Vec<Vec<f64>> = neighbours.into_iter().map(|(_, at)| at).collect();
            let on = |place: usize| here.at[place] > 0.0 || !problem.space.parts[place].may_be_off;
            let on: Vec<bool> = (0..here.at.len()).map(on).collect();
            let within = Within { steps: Some(AROUND), on: Some(&on), ..Within::default() };
            points.extend(straight(problem, &slopes, PENALTY, &within));
            let mut next: Option<Point> = None;
            for point in self.read(problem, &points).into_iter().flatten() {
                if point.better_than(next.as_ref().unwrap_or(&here)) {
                    next = Some(point);
                }
            }
            let Some(next) = next else { break };
            self.found(&next, matches!(problem.aim, super::Aim::Reading { .. }));
            here = next;
        }
        here
    }
}

/// The nearest steps.
fn rounded(problem: &Problem, at: &[f64]) -> Vec<f64> {
    at.iter()
        .zip(&problem.space.parts)
        .map(|(value, part)| match part.step {
            Some(step) if *value > 0.0 => {
                let [low, high] = part.ends();
                ((value / step).round() * step).clamp(low, high)
            }
            _ => *value,
        })
        .collect()
}

/// Whether a point keeps the room there is.
fn inside(problem: &Problem, at: &[f64]) -> bool {
    problem.space.room.as_ref().is_none_or(|(factors, most)| {
        factors.iter().zip(at).map(|(factor, value)| factor * value).sum::<f64>() <= most + 1e-9
    })
}

/// One step or two of one part, and of one part with another.
fn neighbours(problem: &Problem, at: &[f64]) -> Vec<Vec<f64>> {
    let mut moves: Vec<(usize, f64)> = Vec::new();
    for (place, part) in problem.space.parts.iter().enumerate() {
        let Some(step) = part.step else { continue };
        if at[place] == 0.0 && part.may_be_off {
            continue;
        }
        let [low, high] = part.ends();
        for steps in [-2.0, -1.0, 1.0, 2.0] {
            let to = ((at[place] / step).round() + steps) * step;
            if to >= low - 1e-9 && to <= high + 1e-9 {
                moves.push((place, to));
            }
        }
    }
    let mut found = Vec::new();
    for (first, (place, to)) in moves.iter().enumerate() {
        let mut one = at.to_vec();
        one[*place] = *to;
        for (other, value) in moves.iter().skip(first + 1).filter(|(other, _)| other != place) {
            let mut two = one.clone();
            two[*other] = *value;
            found.push(two);
        }
        found.push(one);
    }
    found.retain(|at| inside(problem, at));
    found
}

//! From a point downhill, with the parts that are in it: straight problems within a trust region.

use super::model::{Local, Within, straight};
use super::space::{Oracle, Point, Problem, Space, Watch};
use rayon::prelude::*;

/// Straight problems at most.
const ROUNDS: usize = 200;
/// Gain expected below this is none.
const NO_GAIN: f64 = 1e-10;
/// Share of the range, or of the trust region where that is narrower, over which slopes are read; never below the second.
const STRIDE: [f64; 2] = [1e-3, 1e-6];
/// Smallest trust region where a part has no step.
const LEAST_RADIUS: f64 = 1e-8;
/// What a missed wish costs at first, and by how much that rises while a wish stays missed.
const PENALTIES: [f64; 3] = [10.0, 300.0, 1e4];

/// A search under way.
pub(super) struct Search<'s> {
    pub(super) oracle: &'s dyn Oracle,
    pub(super) watch: &'s mut Watch<'s>,
    pub(super) read: usize,
    pub(super) best: Option<f64>,
    pub(super) ended: bool,
}

impl Search<'_> {
    /// Reads points side by side.
    pub(super) fn read(&mut self, problem: &Problem, points: &[Vec<f64>]) -> Vec<Option<Point>> {
        if self.ended {
            return vec![None; points.len()];
        }
        self.read += points.len();
        let read = |at: &Vec<f64>| {
            let readings = self.oracle.readings(at)?;
            readings.iter().all(|value| value.is_finite()).then(|| problem.judged(at.clone(), readings))
        };
        let found: Vec<Option<Point>> = if points.len() > 1 {
            points.par_iter().map(read).collect()
        } else {
            points.iter().map(read).collect()
        };
        self.ended = !(self.watch)(self.read, self.best);
        found
    }

    pub(super) fn read_one(&mut self, problem: &Problem, at: &[f64]) -> Option<Point> {
        self.read(problem, std::slice::from_ref(&at.to_vec())).pop().flatten()
    }

    /// Tells how good the best so far is.
    pub(super) fn found(&mut self, point: &Point, of_aim: bool) {
        if of_aim && point.keeps() && self.best.is_none_or(|best| point.aim < best) {
            self.best = Some(point.aim);
        }
    }

    /// The readings about a point, as straight.
    pub(super) fn about(&mut self, problem: &Problem, point: &Point) -> Local {
        self.about_within(problem, point, 1.0)
    }

    fn about_within(&mut self, problem: &Problem, point: &Point, radius: f64) -> Local {
        let share = (STRIDE[0] * radius).max(STRIDE[1]);
        let parts = &problem.space.parts;
        let moved: Vec<[Vec<f64>; 2]> = (0..parts.len())
            .map(|place| {
                let (part, here) = (&parts[place], point.at[place]);
                let stride = share * part.range();
                let ends = if here == 0.0 && part.may_be_off {
                    [part.low.max(stride), 2.0 * part.low.max(stride)]
                } else if part.high - part.low <= 1e-9 {
                    // All or nothing: the other place it has is out.
                    [if part.may_be_off { 0.0 } else { here + stride }, here]
                } else if here + stride <= part.high {
                    [here + stride, (here - stride).max(0.0)]
                } else {
                    [here - stride, here + stride]
                };
                ends.map(|end| {
                    let mut at = point.at.clone();
                    at[place] = end;
                    at
                })
            })
            .collect();
        let first: Vec<Vec<f64>> = moved.iter().map(|[first, _]| first.clone()).collect();
        let mut read = self.read(problem, &first);
        // Where the first side cannot be read, the other may.
        for place in 0..parts.len() {
            if read[place].is_none() && moved[place][1][place] != point.at[place] {
                read[place] = self.read_one(problem, &moved[place][1]);
            }
        }
        let slopes = (0..point.readings.len())
            .map(|reading| {
                (0..parts.len())
                    .map(|place| match &read[place] {
                        Some(_) if problem.space.counted == Some(reading) => 0.0,
                        Some(other) => {
                            (other.readings[reading] - point.readings[reading])
                                / (other.at[place] - point.at[place])
                        }
                        None => 0.0,
                    })
                    .collect()
            })
            .collect();
        Local { point: point.clone(), slopes }
    }

    /// Goes downhill with the parts that are in.
    pub(super) fn climb(&mut self, problem: &Problem, start: Point) -> Local {
        let on = Space::on(&start.at);
        // A part without a switch may stand at zero and rise from there.
        let on: Vec<bool> =
            on.iter().zip(&problem.space.parts).map(|(on, part)| *on || !part.may_be_off).collect();
        let least = least_radius(&problem.space);
        let mut local = self.about(problem, &start);
        let mut penalties = PENALTIES.into_iter();
        let mut penalty = penalties.next().unwrap_or(1.0);
        let mut radius = 1.0_f64;
        for _ in 0..ROUNDS {
            if self.ended || (problem.aim == super::Aim::Nothing && local.point.keeps()) {
                break;
            }
            let within = Within { radius: Some(radius), on: Some(&on), ..Within::default() };
            let here = local.point.merit(penalty);
            let next = straight(problem, &local, penalty, &within);
            let expected = next.as_ref().map_or(0.0, |at| here - local.expected(problem, at).merit(penalty));
            let still = expected <= NO_GAIN * (1.0 + here.abs());
            if still || radius < least {
                // Where nothing is aimed at, a higher penalty changes nothing.
                let more =
                    penalties.next().filter(|_| !local.point.keeps() && problem.aim != super::Aim::Nothing);
                match more {
                    Some(more) => (penalty, radius) = (more, radius.max(0.1)),
                    None => break,
                }
                continue;
            }
            let Some(at) = next else { break };
            let width = at
                .iter()
                .zip(&local.point.at)
                .zip(&problem.space.parts)
                .map(|((to, from), part)| (to - from).abs() / part.range())
                .fold(0.0, f64::max);
            let tried = self.read_one(problem, &at);
            let gain = tried.as_ref().map_or(f64::NEG_INFINITY, |point| here - point.merit(penalty));
            if gain >= 0.7 * expected && width > 0.9 * radius {
                radius = (2.0 * radius).min(1.0);
            } else if gain < 0.3 * expected {
                radius = 0.3 * width.min(radius);
            }
            if let (true, Some(point)) = (gain >= 0.1 * expected, tried) {
                self.found(&point, !matches!(problem.aim, super::Aim::Nothing | super::Aim::Parts(_)));
                local = self.about_within(problem, &point, radius);
            }
        }
        local
    }
}

/// A trust region below a quarter of the finest step finds nothing that can be weighed.
fn least_radius(space: &Space) -> f64 {
    let of = |part: &super::Part| part.step.map_or(LEAST_RADIUS, |step| 0.25 * step / part.range());
    space.parts.iter().map(of).fold(f64::INFINITY, f64::min).clamp(LEAST_RADIUS, 0.25)
}

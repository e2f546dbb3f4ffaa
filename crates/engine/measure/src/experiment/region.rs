//! A region of blends and settings, and where in it a number is largest.
//!
//! From the middle and from blends of the corners the search goes along straight lines - a share from one part to another, towards a corner,
//! along the line between two corners, one setting, and some at random, so that an edge of what is searched does not hold it - with ever
//! shorter steps. Many starts make it likely, not certain, that the largest is found; the same seed gives the same blend.
//!
//! Source: the method is a compass search (Hooke and Jeeves, J. ACM 8 (1961) 212, from memory). Cases: `tests/published/mixtures.toml`
//! (published optima, a fine grid).

use super::mixture::{Bounds, Condition, MixtureError, vertices};
use crate::uncertainty::stream::{Stream, source};

/// Corners that lend their directions, and the start of a search.
const MOST_CORNERS: usize = 40;
/// Corners whose lines to each other are followed.
const MOST_JOINED: usize = 12;
/// Directions at random in every step.
const RANDOM: usize = 16;
/// How often the search goes on from the best with long steps again.
const AGAIN: u64 = 3;
/// Where steps end.
const SHORTEST: f64 = 1e-7;
/// How much shorter steps become where none gains.
const SHRINK: f64 = 0.6;
/// Over how many steps it looks back to go on the way it came.
const LOOKED_BACK: [usize; 4] = [1, 2, 5, 12];
/// Steps of one search at most.
const MOST_STEPS: usize = 3000;
/// How far a number must rise to count.
const RISE: f64 = 1e-13;

/// Blends within bounds and conditions, and settings within theirs.
#[derive(Clone, Debug, PartialEq)]
pub struct Region {
    bounds: Bounds,
    conditions: Vec<Condition>,
    settings: Vec<[f64; 2]>,
    corners: Vec<Vec<f64>>,
}

impl Region {
    /// A region; without parts, of settings alone.
    ///
    /// # Errors
    /// Bounds that no blend keeps.
    pub fn of(
        bounds: Bounds,
        conditions: Vec<Condition>,
        settings: Vec<[f64; 2]>,
    ) -> Result<Self, MixtureError> {
        let corners = if bounds.0.is_empty() { vec![Vec::new()] } else { vertices(&bounds, &conditions)? };
        if corners.is_empty() {
            let [low, high] = bounds.0[0];
            return Err(MixtureError::NoRoom { part: 1, low, high });
        }
        Ok(Self { bounds, conditions, settings, corners })
    }

    /// Corners of the blends.
    #[must_use]
    pub fn corners(&self) -> &[Vec<f64>] {
        &self.corners
    }

    /// Whether a blend with its settings lies within.
    #[must_use]
    pub fn holds(&self, run: &[f64]) -> bool {
        let (blend, settings) = run.split_at(self.bounds.0.len());
        self.bounds.hold(blend)
            && self.conditions.iter().all(|condition| condition.holds(blend))
            && settings
                .iter()
                .zip(&self.settings)
                .all(|(z, [low, high])| (low - 1e-9..=high + 1e-9).contains(z))
    }

    /// Where `worth` is largest: the run and its worth.
    pub fn best(&self, starts: usize, seed: u64, worth: impl Fn(&[f64]) -> f64) -> (Vec<f64>, f64) {
        let mut best: Option<(Vec<f64>, f64)> = None;
        for start in 0..starts.max(1) as u64 {
            let mut stream = Stream::of(seed, source("start of a search"), start);
            let first = if start == 0 { self.middle() } else { self.any(&mut stream) };
            let found = self.climb(first, &mut stream, &worth);
            if best.as_ref().is_none_or(|(_, worth)| found.1 > *worth) {
                best = Some(found);
            }
        }
        let mut best = best.unwrap_or_default();
        for again in 0..AGAIN {
            let mut stream = Stream::of(seed, source("search goes on"), again);
            let found = self.climb(best.0.clone(), &mut stream, &worth);
            if found.1 > best.1 {
                best = found;
            }
        }
        best
    }

    fn middle(&self) -> Vec<f64> {
        let middle = self.settings.iter().map(|[low, high]| 0.5 * (low + high));
        self.mixed(&vec![1.0; self.corners.len()]).into_iter().chain(middle).collect()
    }

    /// Corners mixed at random: few of them with most of the weight, so that faces are met too.
    fn any(&self, stream: &mut Stream) -> Vec<f64> {
        let weights: Vec<f64> = self.corners.iter().map(|_| (stream.unit() + 1e-6).powi(4)).collect();
        let mut run = self.mixed(&weights);
        run.extend(self.settings.iter().map(|[low, high]| low + stream.unit() * (high - low)));
        run
    }

    fn mixed(&self, weights: &[f64]) -> Vec<f64> {
        let all: f64 = weights.iter().sum();
        let share = |part: usize| {
            self.corners.iter().zip(weights).map(|(corner, weight)| corner[part] * weight).sum::<f64>() / all
        };
        (0..self.bounds.0.len()).map(share).collect()
    }

    fn climb(
        &self,
        mut run: Vec<f64>,
        stream: &mut Stream,
        worth: &impl Fn(&[f64]) -> f64,
    ) -> (Vec<f64>, f64) {
        let mut own = worth(&run);
        let fixed = self.directions();
        let mut step = 0.25;
        let mut trail = vec![run.clone()];
        for _ in 0..MOST_STEPS {
            let between = |to: &[f64], from: &[f64]| -> Vec<f64> {
                let mut direction: Vec<f64> = to.iter().zip(from).map(|(to, from)| to - from).collect();
                direction.resize(run.len(), 0.0);
                direction
            };
            let towards = self.corners.iter().take(MOST_CORNERS).map(|corner| between(corner, &run));
            let random = (0..RANDOM).map(|_| between(&self.any(stream), &self.any(stream)));
            // Where it came from says how an edge runs that single steps fall off.
            let onward = LOOKED_BACK.iter().filter_map(|back| {
                let from = trail.len().checked_sub(1 + back).and_then(|at| trail.get(at))?;
                let direction = between(&run, from);
                let longest = direction.iter().fold(0.0, |most: f64, d| most.max(d.abs()));
                (longest > 0.0).then(|| direction.iter().map(|d| d / longest).collect())
            });
            let mut best: Option<(Vec<f64>, f64)> = None;
            for direction in fixed.iter().cloned().chain(towards.chain(random)).chain(onward) {
                for stride in [step, 0.1 * step] {
                    let reach = self.reach(&run, &direction).min(stride);
                    if reach <= 0.0 {
                        continue;
                    }
                    let trial: Vec<f64> = run.iter().zip(&direction).map(|(x, d)| x + reach * d).collect();
                    let found = worth(&trial);
                    if found > best.as_ref().map_or(own, |(_, worth)| *worth) {
                        best = Some((trial, found));
                    }
                }
            }
            match best.filter(|(_, found)| *found > own + RISE * own.abs()) {
                Some((trial, found)) => {
                    (run, own) = (trial, found);
                    trail.push(run.clone());
                }
                None if step <= SHORTEST => break,
                None => step *= SHRINK,
            }
        }
        (run, own)
    }

    /// Directions that do not change from step to step, each both ways.
    fn directions(&self) -> Vec<Vec<f64>> {
        let (parts, all) = (self.bounds.0.len(), self.bounds.0.len() + self.settings.len());
        let mut found = Vec::new();
        for one in 0..parts {
            for other in (0..parts).filter(|other| *other != one) {
                let mut direction = vec![0.0; all];
                (direction[one], direction[other]) = (1.0, -1.0);
                found.push(direction);
            }
        }
        if self.corners.len() <= MOST_JOINED {
            for one in &self.corners {
                for other in self.corners.iter().filter(|other| *other != one) {
                    let mut direction: Vec<f64> = other.iter().zip(one).map(|(to, from)| to - from).collect();
                    direction.resize(all, 0.0);
                    found.push(direction);
                }
            }
        }
        for (place, [low, high]) in self.settings.iter().enumerate() {
            for sign in [1.0, -1.0] {
                let mut direction = vec![0.0; all];
                direction[parts + place] = sign * (high - low);
                found.push(direction);
            }
        }
        found
    }

    /// How far along a direction the region goes.
    fn reach(&self, run: &[f64], direction: &[f64]) -> f64 {
        let ends = self.bounds.0.iter().chain(&self.settings);
        let of_bounds = run.iter().zip(direction).zip(ends).map(|((x, d), [low, high])| {
            if *d > 0.0 {
                (high - x) / d
            } else if *d < 0.0 {
                (low - x) / d
            } else {
                f64::INFINITY
            }
        });
        let of_conditions = self.conditions.iter().map(|condition| {
            let along: f64 = condition.factors.iter().zip(direction).map(|(f, d)| f * d).sum();
            let own: f64 = condition.factors.iter().zip(run).map(|(f, x)| f * x).sum();
            if along < 0.0 { (own - condition.least) / -along } else { f64::INFINITY }
        });
        of_bounds.chain(of_conditions).fold(f64::INFINITY, f64::min).max(0.0)
    }
}

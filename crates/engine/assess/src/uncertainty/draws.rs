//! The batch followed by the law of propagation and drawn at random.

use super::BatchError;
use super::pot::{Pot, Room};
use levigate_measure::uncertainty::coverage::last_digit_tolerance;
use levigate_measure::uncertainty::monte_carlo::{is_steady, mean_and_deviation, sequence};
use levigate_measure::uncertainty::stream::{CHUNK, Normals, Stream, source};
use levigate_measure::uncertainty::{Coverage, Scatter, UncertaintyError};
use rayon::prelude::*;
use std::ops::Range;

/// Share of the standard uncertainty over which differences are taken: small against the curvature, large against the solver's 1e-11.
const STRIDE: f64 = 0.2;
/// Most draws in a thousand that may be without an answer.
const MOST_FAILED: usize = 1;

/// An output by the law of propagation.
#[derive(Clone, Debug)]
pub(super) struct Followed {
    pub(super) value: f64,
    /// `c u` of every source.
    pub(super) contributions: Vec<f64>,
}

impl Followed {
    /// Standard uncertainty from the sources that are counted.
    pub(super) fn standard(&self, counts: impl Fn(usize) -> bool) -> f64 {
        let parts = self.contributions.iter().enumerate().filter(|(place, _)| counts(*place));
        parts.map(|(_, part)| part * part).sum::<f64>().sqrt()
    }
}

/// Follows every output to first order, by central differences of the equilibrium solved anew.
pub(super) fn follow(pot: &Pot<'_>) -> Result<Vec<Followed>, BatchError> {
    let mut room = pot.room();
    let count = pot.outputs.len();
    let mut off = vec![0.0; pot.sources.len()];
    let mut at = |off: &[f64]| -> Result<Vec<f64>, BatchError> {
        let mut values = vec![f64::NAN; count];
        if pot.at(off, &mut room, &mut values) {
            Ok(values)
        } else {
            Err(BatchError::Draws { failed: 1, made: 1 })
        }
    };
    let middle = at(&off)?;
    let mut followed: Vec<Followed> = middle
        .iter()
        .map(|value| Followed { value: *value, contributions: Vec::with_capacity(pot.sources.len()) })
        .collect();
    for place in 0..pot.sources.len() {
        let step = STRIDE * pot.sources[place].scatter.standard_deviation();
        off[place] = step;
        let up = at(&off)?;
        off[place] = -step;
        let down = at(&off)?;
        off[place] = 0.0;
        for (followed, (up, down)) in followed.iter_mut().zip(up.iter().zip(&down)) {
            followed.contributions.push((up - down) / (2.0 * STRIDE));
        }
    }
    Ok(followed)
}

/// An output over all draws.
#[derive(Clone, Debug)]
pub(super) struct Drawn {
    pub(super) mean: f64,
    pub(super) standard: f64,
    pub(super) interval: Coverage,
    /// The draws.
    values: Vec<f64>,
    /// Whether its mean, its deviation and its ends stood still.
    pub(super) steady: bool,
}

impl Drawn {
    /// Share of the draws within, 0 to 1.
    pub(super) fn within(&self, low: f64, high: f64) -> f64 {
        let inside = self.values.iter().filter(|value| (low..=high).contains(*value)).count();
        #[expect(clippy::cast_precision_loss, reason = "far below 2^53")]
        let share = inside as f64 / self.values.len() as f64;
        share
    }

    /// Draws with an answer.
    pub(super) fn made(&self) -> usize {
        self.values.len()
    }
}

/// How it is drawn.
#[derive(Clone, Copy)]
pub(super) struct Manner {
    /// Draws; the most where it is drawn until steady.
    pub(super) draws: usize,
    /// Digits that must stand still; nothing: all draws are made.
    pub(super) steady_digits: Option<i32>,
    pub(super) coverage: f64,
    pub(super) seed: u64,
}

/// Draws the batch with every source that has a scatter here; the others stand at their values.
pub(super) fn draw(
    pot: &Pot<'_>,
    manner: Manner,
    scatters: &[Option<Scatter>],
) -> Result<Vec<Drawn>, BatchError> {
    let Manner { draws, steady_digits, coverage, .. } = manner;
    let mut all: Vec<Vec<f64>> = vec![Vec::new(); pot.outputs.len()];
    let mut figures: Vec<Vec<[f64; 4]>> = vec![Vec::new(); pot.outputs.len()];
    let (mut made, mut failed, mut steady) = (0, 0, vec![false; pot.outputs.len()]);
    while made < draws && !steady.iter().all(|steady| *steady) {
        let next = if steady_digits.is_some() { draws.min(made + sequence(coverage)) } else { draws };
        let (part, missed) = part(pot, made..next, manner.seed, scatters);
        (made, failed) = (next, failed + missed);
        if failed * 1000 > made * MOST_FAILED || failed == made {
            return Err(BatchError::Draws { failed, made });
        }
        if part.iter().flatten().any(|value| !value.is_finite()) {
            return Err(UncertaintyError::NotANumber { name: "the batch".to_owned(), value: f64::NAN }.into());
        }
        for ((all, figures), mut column) in all.iter_mut().zip(&mut figures).zip(part) {
            all.extend_from_slice(&column);
            if steady_digits.is_some() {
                let (mean, deviation) = mean_and_deviation(&column);
                let ends = Coverage::equal_tails(&mut column, coverage);
                figures.push([mean, deviation, ends.low, ends.high]);
            }
        }
        if let Some(digits) = steady_digits {
            for ((steady, all), figures) in steady.iter_mut().zip(&all).zip(&figures) {
                let (mean, deviation) = mean_and_deviation(all);
                // What does not scatter but for the rounding of the solver stands still.
                *steady = deviation <= 1e-9 * mean.abs()
                    || is_steady(figures, last_digit_tolerance(deviation, digits));
            }
        }
    }
    let read = |(mut values, steady): (Vec<f64>, bool)| {
        let (mean, standard) = mean_and_deviation(&values);
        let interval = Coverage::equal_tails(&mut values, coverage);
        Drawn { mean, standard, interval, values, steady }
    };
    Ok(all.into_par_iter().zip(steady).map(read).collect())
}

/// Some of the draws: the outputs, and how many have no answer. `draws` begins with a chunk.
fn part(
    pot: &Pot<'_>,
    draws: Range<usize>,
    seed: u64,
    scatters: &[Option<Scatter>],
) -> (Vec<Vec<f64>>, usize) {
    let normals = Normals::default();
    let outputs = pot.outputs.len();
    let chunks: Vec<(Vec<Vec<f64>>, usize)> = (draws.start / CHUNK..draws.end.div_ceil(CHUNK))
        .into_par_iter()
        .map_init(
            || vec![vec![0.0; CHUNK]; pot.sources.len()],
            |columns, chunk| {
                for ((source_of, scatter), column) in pot.sources.iter().zip(scatters).zip(&mut *columns) {
                    if let Some(scatter) = scatter {
                        let mut stream = Stream::of(seed, source(&source_of.name), chunk as u64);
                        scatter.fill(0.0, &mut stream, &normals, column);
                    } else {
                        column.fill(0.0);
                    }
                }
                let count = (draws.end - chunk * CHUNK).min(CHUNK);
                // Every chunk begins at the batch as it was meant, so that its bits do not depend on who computed what before.
                compute(pot, columns, count, outputs, &mut pot.room())
            },
        )
        .collect();
    let failed = chunks.iter().map(|(_, failed)| failed).sum();
    let mut all: Vec<Vec<f64>> = vec![Vec::with_capacity(draws.len()); outputs];
    for (made, _) in chunks {
        for (all, made) in all.iter_mut().zip(made) {
            all.extend(made);
        }
    }
    (all, failed)
}

fn compute<'a>(
    pot: &Pot<'a>,
    columns: &[Vec<f64>],
    count: usize,
    outputs: usize,
    room: &mut Room<'a>,
) -> (Vec<Vec<f64>>, usize) {
    let mut made = vec![Vec::with_capacity(count); outputs];
    let mut off = vec![0.0; columns.len()];
    let mut values = vec![f64::NAN; outputs];
    let mut failed = 0;
    for draw in 0..count {
        for (off, column) in off.iter_mut().zip(columns) {
            *off = column[draw];
        }
        if pot.at(&off, room, &mut values) {
            for (made, value) in made.iter_mut().zip(&values) {
                made.push(*value);
            }
        } else {
            failed += 1;
        }
    }
    (made, failed)
}

//! Which of the blends that could be made to make, so that a model is settled best by so many runs.
//!
//! ```text
//! D = det(X'X/n)^(1/p)        exchange of x_i for x_j:  det' / det = (1 + d_j)(1 - d_i) + d_ij^2,   d_ij = x_i' (X'X)^-1 x_j
//! ```
//!
//! From several random starts one run after the other is exchanged for the candidate that raises the determinant most, until none does
//! (Cook and Nachtsheim); then a few runs are drawn anew, it climbs again, and what is better is kept. Variances of all candidates are kept up to date by changes of rank one. A candidate may be made more than once. The
//! same seed gives the same runs, whatever the number of threads. It finds a good design, not surely the best one.
//!
//! Source: Fedorov, Theory of Optimal Experiments (1972); Cook and Nachtsheim, Technometrics 22 (1980) 315, both from memory. Cases:
//! `tests/published/mixtures.toml`.

use crate::elementary::Elementary as _;
use crate::uncertainty::stream::{Stream, source};
use rayon::prelude::*;
use thiserror::Error;

/// An exchange must raise the determinant by this share at least.
const WORTH: f64 = 1e-9;
/// Rounds over all runs at most.
const ROUNDS: usize = 100;
/// Times a design is shaken after it has climbed.
const SHAKES: usize = 6;
/// One in so many runs is then drawn anew.
const SHAKEN: usize = 5;
/// What is put on the diagonal of a start that settles nothing, against its mean.
const RIDGE: f64 = 1e-6;

/// Why nothing can be chosen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum ExchangeError {
    /// Fewer runs than terms.
    #[error("{runs} runs cannot settle {terms} terms")]
    TooFewRuns {
        /// Runs.
        runs: usize,
        /// Terms.
        terms: usize,
    },
    /// The candidates do not tell the terms apart.
    #[error("the {candidates} blends to choose from do not tell the {terms} terms apart")]
    NotTold {
        /// Candidates.
        candidates: usize,
        /// Terms.
        terms: usize,
    },
}

impl ExchangeError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::TooFewRuns { .. } => "make more runs, or take a model with fewer terms",
            Self::NotTold { .. } => "widen the bounds, lay a finer grid, or take a model with fewer terms",
        }
    }
}

/// Runs that were chosen.
#[derive(Clone, Debug, PartialEq)]
pub struct Chosen {
    /// Places of the candidates, rising; one may stand more than once.
    pub runs: Vec<usize>,
    /// `det(X'X/n)^(1/p)`.
    pub d: f64,
    /// Mean of the variances of the coefficients, times the runs: `n trace((X'X)^-1)/p`.
    pub a: f64,
    /// Largest variance of the model at a candidate, times the runs.
    pub largest_variance: f64,
}

/// Chooses `runs` of the candidates, each given by its terms; the best of so many starts.
///
/// # Errors
/// [`ExchangeError`].
pub fn choose(
    candidates: &[Vec<f64>],
    runs: usize,
    starts: usize,
    seed: u64,
) -> Result<Chosen, ExchangeError> {
    let terms = candidates.first().map_or(0, Vec::len);
    if runs < terms || terms == 0 {
        return Err(ExchangeError::TooFewRuns { runs, terms });
    }
    let columns: Vec<Vec<f64>> =
        (0..terms).map(|term| candidates.iter().map(|row| row[term]).collect()).collect();
    let found: Vec<Option<Chosen>> = (0..starts.max(1) as u64)
        .into_par_iter()
        .map(|start| from(&columns, candidates, runs, (seed, start)))
        .collect();
    let best = found.into_iter().flatten().reduce(|best, one| if one.d > best.d { one } else { best });
    best.ok_or(ExchangeError::NotTold { candidates: candidates.len(), terms })
}

fn from(
    columns: &[Vec<f64>],
    candidates: &[Vec<f64>],
    runs: usize,
    (seed, start): (u64, u64),
) -> Option<Chosen> {
    let mut stream = Stream::of(seed, source("choice of runs"), start);
    let count = candidates.len();
    let mut any = |below: usize| {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            clippy::cast_precision_loss,
            reason = "places of candidates"
        )]
        let place = (stream.unit() * below as f64) as usize;
        place.min(below - 1)
    };
    let mut best = climb(columns, candidates, (0..runs).map(|_| any(count)).collect())?;
    for _ in 0..SHAKES {
        let mut shaken = best.0.clone();
        for _ in 0..runs.div_ceil(SHAKEN) {
            let run = any(runs);
            shaken[run] = any(count);
        }
        let other = climb(columns, candidates, shaken)?;
        if !other.1.ridged && (best.1.ridged || other.1.ln_determinant > best.1.ln_determinant) {
            best = other;
        }
    }
    let (chosen, state) = best;
    state.judged(chosen, runs)
}

/// Exchanges runs until no exchange is worth it.
fn climb<'c>(
    columns: &'c [Vec<f64>],
    candidates: &[Vec<f64>],
    mut chosen: Vec<usize>,
) -> Option<(Vec<usize>, State<'c>)> {
    let mut state = State::of(columns, candidates, &chosen)?;
    let mut cross = vec![0.0; candidates.len()];
    for _ in 0..ROUNDS {
        let mut exchanged = false;
        for run in &mut chosen {
            let out = &candidates[*run];
            let own = state.variances[*run];
            let along = state.times(out);
            state.across(&along, &mut cross);
            let (mut best, mut gain) = (*run, 1.0 + WORTH);
            for (place, (variance, cross)) in state.variances.iter().zip(&cross).enumerate() {
                let ratio = (1.0 + variance) * (1.0 - own) + cross * cross;
                if ratio > gain {
                    (best, gain) = (place, ratio);
                }
            }
            if best != *run {
                state.change(&candidates[best], 1.0, &mut cross);
                state.change(out, -1.0, &mut cross);
                *run = best;
                exchanged = true;
            }
        }
        // What rounding adds up over the changes, and the ridge of the start, are taken off.
        state = State::of(columns, candidates, &chosen)?;
        if !exchanged {
            break;
        }
    }
    Some((chosen, state))
}

/// `(X'X)^-1` of the runs, and `x' (X'X)^-1 x` of every candidate.
struct State<'c> {
    columns: &'c [Vec<f64>],
    inverse: Vec<Vec<f64>>,
    ln_determinant: f64,
    variances: Vec<f64>,
    /// Whether a ridge had to be put under the runs.
    ridged: bool,
}

impl<'c> State<'c> {
    fn of(columns: &'c [Vec<f64>], candidates: &[Vec<f64>], chosen: &[usize]) -> Option<Self> {
        let terms = columns.len();
        let mut product = vec![vec![0.0; terms]; terms];
        for run in chosen {
            let row = &candidates[*run];
            for (line, one) in product.iter_mut().zip(row) {
                for (cell, other) in line.iter_mut().zip(row) {
                    *cell += one * other;
                }
            }
        }
        #[expect(clippy::cast_precision_loss, reason = "a few terms")]
        let mean = (0..terms).map(|term| product[term][term]).sum::<f64>() / terms as f64;
        let plain = inverted(&product);
        let ridged = plain.is_none();
        let (inverse, ln_determinant) = match plain {
            Some(found) => found,
            None => {
                for (term, line) in product.iter_mut().enumerate() {
                    line[term] += RIDGE * mean;
                }
                inverted(&product)?
            }
        };
        let mut this = Self { columns, inverse, ln_determinant, variances: Vec::new(), ridged };
        this.variances = candidates
            .iter()
            .map(|row| this.times(row).iter().zip(row).map(|(one, other)| one * other).sum())
            .collect();
        Some(this)
    }

    fn times(&self, row: &[f64]) -> Vec<f64> {
        self.inverse.iter().map(|line| line.iter().zip(row).map(|(one, other)| one * other).sum()).collect()
    }

    /// `w' x` of every candidate.
    fn across(&self, along: &[f64], cross: &mut [f64]) {
        cross.fill(0.0);
        for (weight, column) in along.iter().zip(self.columns) {
            for (sum, x) in cross.iter_mut().zip(column) {
                *sum += weight * x;
            }
        }
    }

    /// Takes a run in (`sign` one) or out (minus one).
    fn change(&mut self, row: &[f64], sign: f64, cross: &mut [f64]) {
        let along = self.times(row);
        let own: f64 = along.iter().zip(row).map(|(one, other)| one * other).sum();
        let scale = sign / (1.0 + sign * own);
        self.across(&along, cross);
        for (variance, cross) in self.variances.iter_mut().zip(cross.iter()) {
            *variance -= scale * cross * cross;
        }
        for (line, one) in self.inverse.iter_mut().zip(&along) {
            for (cell, other) in line.iter_mut().zip(&along) {
                *cell -= scale * one * other;
            }
        }
    }

    fn judged(&self, mut runs: Vec<usize>, count: usize) -> Option<Chosen> {
        if self.ridged {
            return None;
        }
        runs.sort_unstable();
        #[expect(clippy::cast_precision_loss, reason = "a few terms and runs")]
        let (terms, made) = (self.columns.len() as f64, count as f64);
        let trace: f64 = self.inverse.iter().enumerate().map(|(term, line)| line[term]).sum();
        Some(Chosen {
            runs,
            d: (self.ln_determinant / terms).exp_e() / made,
            a: made * trace / terms,
            largest_variance: made * self.variances.iter().copied().fold(0.0, f64::max),
        })
    }
}

/// Inverse and logarithm of the determinant of a positive matrix, by its Cholesky factor; `None` where it is not positive to the last digits.
fn inverted(matrix: &[Vec<f64>]) -> Option<(Vec<Vec<f64>>, f64)> {
    let size = matrix.len();
    let mut lower = vec![vec![0.0; size]; size];
    for row in 0..size {
        for column in 0..=row {
            let known: f64 = (0..column).map(|k| lower[row][k] * lower[column][k]).sum();
            let rest = matrix[row][column] - known;
            if row == column {
                if rest <= 1e-12 * matrix[row][row] || rest.is_nan() {
                    return None;
                }
                lower[row][row] = rest.sqrt();
            } else {
                lower[row][column] = rest / lower[column][column];
            }
        }
    }
    let ln_determinant = 2.0 * (0..size).map(|row| lower[row][row].log_e()).sum::<f64>();
    // Columns of the inverse of the factor, then their products.
    let columns: Vec<Vec<f64>> = (0..size)
        .map(|column| {
            let mut x = vec![0.0; size];
            for row in column..size {
                let known: f64 = (column..row).map(|k| lower[row][k] * x[k]).sum();
                let unit = if row == column { 1.0 } else { 0.0 };
                x[row] = (unit - known) / lower[row][row];
            }
            x
        })
        .collect();
    let product = |one: &[f64], other: &[f64]| one.iter().zip(other).map(|(a, b)| a * b).sum::<f64>();
    let inverse =
        columns.iter().map(|one| columns.iter().map(|other| product(one, other)).collect()).collect();
    Some((inverse, ln_determinant))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::experiment::{Bounds, Model, lattice, within};

    fn terms(model: Model, blends: &[Vec<f64>]) -> Vec<Vec<f64>> {
        blends.iter().map(|blend| model.terms(blend)).collect()
    }

    #[test]
    fn the_lattice_is_the_best_choice_of_the_lattice() {
        // Kiefer 1961: the {q, 2} lattice in equal shares; 1/24 for three parts.
        for (parts, d) in [(3, 1.0 / 24.0), (4, 0.018_946_5), (5, 0.010_499_3)] {
            let blends = lattice(parts, 2).expect("a lattice");
            let chosen = choose(&terms(Model::Quadratic, &blends), blends.len(), 5, 1).expect("runs");
            assert!((chosen.d / d - 1.0).abs() < 1e-5, "{parts}: {chosen:?}");
            assert_eq!(chosen.runs, (0..blends.len()).collect::<Vec<_>>());
        }
    }

    #[test]
    fn a_published_choice_of_eight_of_ten_is_found() {
        // AlgDesign vignette 4.2.3.3: D 0.03623366, A 98.34085 for eight of the {3, 3} lattice, confirmed as the best by enumeration.
        let blends = lattice(3, 3).expect("a lattice");
        let chosen = choose(&terms(Model::Quadratic, &blends), 8, 20, 1).expect("runs");
        assert!((chosen.d - 0.036_233_66).abs() < 5e-8, "{chosen:?}");
        assert!((6.0 / chosen.largest_variance - 0.62).abs() < 0.02, "{chosen:?}");
    }

    #[test]
    fn a_constrained_region_is_chosen_from_better_than_by_general_programs() {
        // Another program's exchange from 200 starts: median 5.250e-5, largest 5.3358e-5; general ones reach 4.0076e-5.
        let bounds = Bounds(vec![[0.5, 0.9], [0.02, 0.2], [0.02, 0.2], [0.0, 0.1], [0.0, 0.06]]);
        let blends = within(&bounds, 0.02).expect("a grid");
        assert_eq!(blends.len(), 2370);
        let candidates = terms(Model::Quadratic, &blends);
        let chosen = choose(&candidates, 20, 10, 1).expect("runs");
        assert!(chosen.d >= 5.30e-5, "{chosen:?}");
        assert_eq!(choose(&candidates, 20, 10, 1), Ok(chosen));
    }

    #[test]
    fn what_cannot_be_settled_is_refused() {
        let blends = lattice(3, 1).expect("three parts alone");
        let alone = terms(Model::Quadratic, &blends);
        assert_eq!(choose(&alone, 4, 1, 1), Err(ExchangeError::TooFewRuns { runs: 4, terms: 6 }));
        assert_eq!(choose(&alone, 8, 3, 1), Err(ExchangeError::NotTold { candidates: 3, terms: 6 }));
    }
}

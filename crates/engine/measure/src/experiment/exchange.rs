//! Which of the blends that could be made to make, so that a model is settled best by so many runs.
//!
//! ```text
//! D = det(X'X/n)^(1/p)        exchange of x_i for x_j:  det' / det = (1 + d_j)(1 - d_i) + d_ij^2,   d_ij = x_i' (X'X)^-1 x_j
//! ```
//!
//! From several random starts one run after the other is exchanged for the candidate that raises the determinant most, until none does
//! (Cook and Nachtsheim); then a few runs are drawn anew, it climbs again, and what is better is kept. Variances of all candidates are kept
//! up to date by changes of rank one. A candidate may be made more than once. The same seed gives the same runs, whatever the number of
//! threads. It finds a good design, not surely the best one.
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

/// What runs are chosen for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Goal {
    /// The terms, all together (D).
    #[default]
    Terms,
    /// What the model says over the region, on the mean of the candidates (I).
    Predictions,
}

/// How to choose.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    /// Runs, kept ones among them.
    pub runs: usize,
    /// Places of candidates that are made whatever else is chosen.
    pub kept: Vec<usize>,
    /// What for.
    pub goal: Goal,
    /// Starts.
    pub starts: usize,
    /// Seed.
    pub seed: u64,
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
    /// Mean variance of the model over the candidates, times the runs.
    pub mean_variance: f64,
}

/// Chooses `runs` of the candidates, each given by its terms, so that the terms are settled best; the best of so many starts.
///
/// # Errors
/// [`ExchangeError`].
pub fn choose(
    candidates: &[Vec<f64>],
    runs: usize,
    starts: usize,
    seed: u64,
) -> Result<Chosen, ExchangeError> {
    choose_by(candidates, &Choice { runs, kept: Vec::new(), goal: Goal::Terms, starts, seed })
}

/// Chooses.
///
/// # Errors
/// [`ExchangeError`].
pub fn choose_by(candidates: &[Vec<f64>], choice: &Choice) -> Result<Chosen, ExchangeError> {
    let (terms, runs) = (candidates.first().map_or(0, Vec::len), choice.runs.max(choice.kept.len()));
    if runs < terms || terms == 0 {
        return Err(ExchangeError::TooFewRuns { runs, terms });
    }
    let columns = columns(candidates);
    let found: Vec<Option<Chosen>> = (0..choice.starts.max(1) as u64)
        .into_par_iter()
        .map(|start| from(&columns, candidates, choice, runs, start))
        .collect();
    let better = |best: Chosen, one: Chosen| {
        let gains = match choice.goal {
            Goal::Terms => one.d > best.d,
            Goal::Predictions => one.mean_variance < best.mean_variance,
        };
        if gains { one } else { best }
    };
    let best = found.into_iter().flatten().reduce(better);
    best.ok_or(ExchangeError::NotTold { candidates: candidates.len(), terms })
}

/// How well given runs settle a model; `None` where they do not settle it.
#[must_use]
pub fn judge(candidates: &[Vec<f64>], runs: &[usize]) -> Option<Chosen> {
    let columns = columns(candidates);
    State::of(&columns, candidates, runs)?.judged(runs.to_vec())
}

/// Variance of the model at every candidate over that of a run; `None` where the runs do not settle the model.
#[must_use]
pub fn variances(candidates: &[Vec<f64>], runs: &[usize]) -> Option<Vec<f64>> {
    let columns = columns(candidates);
    State::of(&columns, candidates, runs).filter(|state| !state.ridged).map(|state| state.variances)
}

fn columns(candidates: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let terms = candidates.first().map_or(0, Vec::len);
    (0..terms).map(|term| candidates.iter().map(|row| row[term]).collect()).collect()
}

fn from(
    columns: &[Vec<f64>],
    candidates: &[Vec<f64>],
    choice: &Choice,
    runs: usize,
    start: u64,
) -> Option<Chosen> {
    let mut stream = Stream::of(choice.seed, source("choice of runs"), start);
    let (count, kept) = (candidates.len(), choice.kept.len());
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
    let climb = |chosen: Vec<usize>| match choice.goal {
        Goal::Terms => climb(columns, candidates, kept, chosen),
        Goal::Predictions => climb_for_predictions(columns, candidates, kept, chosen),
    };
    let worth = |state: &State<'_>| match choice.goal {
        Goal::Terms => state.ln_determinant,
        Goal::Predictions => -state.trace(),
    };
    let first = choice.kept.iter().copied().chain((kept..runs).map(|_| any(count))).collect();
    let mut best = climb(first)?;
    let shakes = if kept < runs { SHAKES } else { 0 };
    for _ in 0..shakes {
        let mut shaken = best.0.clone();
        for _ in 0..(runs - kept).div_ceil(SHAKEN) {
            let run = kept + any(runs - kept);
            shaken[run] = any(count);
        }
        let other = climb(shaken)?;
        if !other.1.ridged && (best.1.ridged || worth(&other.1) > worth(&best.1)) {
            best = other;
        }
    }
    let (chosen, state) = best;
    state.judged(chosen)
}

/// Exchanges runs until no exchange is worth it.
fn climb<'c>(
    columns: &'c [Vec<f64>],
    candidates: &[Vec<f64>],
    kept: usize,
    mut chosen: Vec<usize>,
) -> Option<(Vec<usize>, State<'c>)> {
    let mut state = State::of(columns, candidates, &chosen)?;
    for _ in 0..ROUNDS {
        let mut exchanged = false;
        for run in &mut chosen[kept..] {
            let out = &candidates[*run];
            let own = state.variances[*run];
            let along = state.times(out);
            let (mut best, mut gain) = (*run, 1.0 + WORTH);
            for (place, variance) in state.variances.iter().enumerate() {
                // d_ij^2 is at most the product of both variances, so that the ratio is at most 1 + d_j - d_i: most candidates
                // are passed over by that alone.
                if 1.0 + variance - own <= gain {
                    continue;
                }
                let cross = product(&along, &candidates[place]);
                let ratio = (1.0 + variance) * (1.0 - own) + cross * cross;
                if ratio > gain {
                    (best, gain) = (place, ratio);
                }
            }
            if best != *run {
                state.exchange(out, &candidates[best]);
                *run = best;
                exchanged = true;
            }
        }
        // The ridge of the start is taken off as soon as the runs settle everything.
        if state.ridged {
            state = State::of(columns, candidates, &chosen)?;
        }
        if !exchanged {
            break;
        }
    }
    // What rounding added up over the changes is taken off.
    let state = State::of(columns, candidates, &chosen)?;
    Some((chosen, state))
}

/// The same for the mean variance of what the model says: exchanging x_i for x_j takes from the trace of `(X'X)^-1 M`
///
/// ```text
/// ((1 - d_i) f_j + 2 d_ij f_ij - (1 + d_j) f_i) / ((1 + d_j)(1 - d_i) + d_ij^2),      f_ij = x_i' (X'X)^-1 M (X'X)^-1 x_j
/// ```
///
/// with M the mean of `x x'` over the candidates (Fedorov; from memory).
fn climb_for_predictions<'c>(
    columns: &'c [Vec<f64>],
    candidates: &[Vec<f64>],
    kept: usize,
    mut chosen: Vec<usize>,
) -> Option<(Vec<usize>, State<'c>)> {
    let mut state = State::of(columns, candidates, &chosen)?;
    let moments = moments(columns, candidates.len());
    let mut spread = state.spread(&moments);
    let mut f = forms(columns, &spread, candidates.len());
    for _ in 0..ROUNDS {
        let mut exchanged = false;
        for run in &mut chosen[kept..] {
            let out = &candidates[*run];
            let (own, own_f) = (state.variances[*run], f[*run]);
            let along = state.times(out);
            let spread_along: Vec<f64> = spread.iter().map(|line| product(line, out)).collect();
            let (mut best, mut gain) = (*run, WORTH * state.trace());
            for (place, row) in candidates.iter().enumerate() {
                let (cross, cross_f) = (product(&along, row), product(&spread_along, row));
                let one_more = 1.0 + state.variances[place];
                let ratio = one_more * (1.0 - own) + cross * cross;
                let less = ((1.0 - own) * f[place] + 2.0 * cross * cross_f - one_more * own_f) / ratio;
                if ratio > 1e-9 && less > gain {
                    (best, gain) = (place, less);
                }
            }
            if best != *run {
                state.exchange(out, &candidates[best]);
                spread = state.spread(&moments);
                f = forms(columns, &spread, candidates.len());
                *run = best;
                exchanged = true;
            }
        }
        if state.ridged {
            state = State::of(columns, candidates, &chosen)?;
            spread = state.spread(&moments);
            f = forms(columns, &spread, candidates.len());
        }
        if !exchanged {
            break;
        }
    }
    let state = State::of(columns, candidates, &chosen)?;
    Some((chosen, state))
}

/// Mean of `x x'` over the candidates.
fn moments(columns: &[Vec<f64>], candidates: usize) -> Vec<Vec<f64>> {
    #[expect(clippy::cast_precision_loss, reason = "a count of candidates")]
    let count = candidates as f64;
    columns.iter().map(|one| columns.iter().map(|other| product(one, other) / count).collect()).collect()
}

fn product(one: &[f64], other: &[f64]) -> f64 {
    one.iter().zip(other).map(|(one, other)| one * other).sum()
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
        this.variances = forms(columns, &this.inverse, candidates.len());
        Some(this)
    }

    fn times(&self, row: &[f64]) -> Vec<f64> {
        self.inverse.iter().map(|line| product(line, row)).collect()
    }

    /// Takes one run in and another out: two changes of rank one of the inverse, and both of the variances in one pass over the candidates.
    fn exchange(&mut self, out: &[f64], within: &[f64]) {
        let [first, second] = [(within, 1.0), (out, -1.0)].map(|(row, sign)| {
            let along = self.times(row);
            let scale = sign / (1.0 + sign * product(&along, row));
            for (line, one) in self.inverse.iter_mut().zip(&along) {
                for (cell, other) in line.iter_mut().zip(&along) {
                    *cell -= scale * one * other;
                }
            }
            (along, scale)
        });
        let mut sums = [[0.0; BLOCK]; 2];
        for from in (0..self.variances.len()).step_by(BLOCK) {
            let to = (from + BLOCK).min(self.variances.len());
            let [one, other] = &mut sums;
            let (one, other) = (&mut one[..to - from], &mut other[..to - from]);
            one.fill(0.0);
            other.fill(0.0);
            for ((a, b), column) in first.0.iter().zip(&second.0).zip(self.columns) {
                for ((one, other), x) in one.iter_mut().zip(other.iter_mut()).zip(&column[from..to]) {
                    *one += a * x;
                    *other += b * x;
                }
            }
            let sums = one.iter().zip(other.iter());
            for (variance, (one, other)) in self.variances[from..to].iter_mut().zip(sums) {
                *variance -= first.1 * one * one + second.1 * other * other;
            }
        }
    }

    /// Mean variance of the model over the candidates.
    fn trace(&self) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "a count of candidates")]
        let count = self.variances.len() as f64;
        self.variances.iter().sum::<f64>() / count
    }

    /// `(X'X)^-1 M (X'X)^-1`.
    fn spread(&self, moments: &[Vec<f64>]) -> Vec<Vec<f64>> {
        let half: Vec<Vec<f64>> = self
            .inverse
            .iter()
            .map(|line| moments.iter().map(|column| product(line, column)).collect())
            .collect();
        half.iter().map(|line| self.inverse.iter().map(|column| product(line, column)).collect()).collect()
    }

    fn judged(&self, mut runs: Vec<usize>) -> Option<Chosen> {
        if self.ridged {
            return None;
        }
        runs.sort_unstable();
        #[expect(clippy::cast_precision_loss, reason = "a few terms and runs")]
        let (terms, made) = (self.columns.len() as f64, runs.len() as f64);
        let trace: f64 = self.inverse.iter().enumerate().map(|(term, line)| line[term]).sum();
        Some(Chosen {
            runs,
            d: (self.ln_determinant / terms).exp_e() / made,
            a: made * trace / terms,
            largest_variance: made * self.variances.iter().copied().fold(0.0, f64::max),
            mean_variance: made * self.trace(),
        })
    }
}

/// Candidates that are worked on side by side.
const BLOCK: usize = 256;

/// `x' A x` of every candidate, for a symmetric matrix: blocks of candidates that stay near, columns side by side.
fn forms(columns: &[Vec<f64>], matrix: &[Vec<f64>], candidates: usize) -> Vec<f64> {
    let mut found = vec![0.0; candidates];
    let mut sums = [0.0; BLOCK];
    for from in (0..candidates).step_by(BLOCK) {
        let to = (from + BLOCK).min(candidates);
        let sums = &mut sums[..to - from];
        for (term, (line, own)) in matrix.iter().zip(columns).enumerate() {
            sums.fill(0.0);
            for (place, (weight, column)) in line.iter().zip(columns).enumerate().take(term + 1) {
                // Below the diagonal every entry stands for two.
                let weight = if place == term { *weight } else { 2.0 * weight };
                for (sum, x) in sums.iter_mut().zip(&column[from..to]) {
                    *sum += weight * x;
                }
            }
            for ((found, sum), x) in found[from..to].iter_mut().zip(sums.iter()).zip(&own[from..to]) {
                *found += sum * x;
            }
        }
    }
    found
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

    /// By enumeration with numpy 2.4.6: tests/cross/choices.py.
    const LEAST_OF_ALL: f64 = 4.866_566_051_136_364;
    const BEST_OF_ALL: f64 = 0.040_087_930_296_763_33;

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
        assert_eq!(choose(&candidates, 20, 10, 1), Ok(chosen.clone()));
        // Kept runs stay, and the rest is chosen around them.
        let middle = 1200;
        let choice = Choice { runs: 20, kept: vec![middle; 3], goal: Goal::Terms, starts: 4, seed: 1 };
        let around = choose_by(&candidates, &choice).expect("runs");
        assert!(around.runs.iter().filter(|run| **run == middle).count() >= 3 && around.d < chosen.d);
        // What is chosen for its predictions foretells better on the mean, and settles the terms less well.
        let choice = Choice { kept: Vec::new(), goal: Goal::Predictions, starts: 2, ..choice };
        let foretelling = choose_by(&candidates, &choice).expect("runs");
        assert!(foretelling.mean_variance < chosen.mean_variance && foretelling.d < chosen.d);
    }

    #[test]
    fn predictions_come_out_as_well_as_of_all_choices() {
        // Every set of seven of these candidates, repeats allowed: tests/cross/choices.py.
        let mut blends = lattice(3, 4).expect("a lattice");
        blends.push(vec![1.0 / 3.0; 3]);
        let candidates = terms(Model::Quadratic, &blends);
        let choice = Choice { runs: 7, kept: Vec::new(), goal: Goal::Predictions, starts: 20, seed: 1 };
        let found = choose_by(&candidates, &choice).expect("runs");
        assert!((found.mean_variance / LEAST_OF_ALL - 1.0).abs() < 1e-9, "{found:?}");
        let best = choose(&candidates, 7, 20, 1).expect("runs");
        assert!((best.d / BEST_OF_ALL - 1.0).abs() < 1e-9, "{best:?}");
        assert_eq!(judge(&candidates, &best.runs), Some(best));
    }

    #[test]
    fn what_cannot_be_settled_is_refused() {
        let blends = lattice(3, 1).expect("three parts alone");
        let alone = terms(Model::Quadratic, &blends);
        assert_eq!(choose(&alone, 4, 1, 1), Err(ExchangeError::TooFewRuns { runs: 4, terms: 6 }));
        assert_eq!(choose(&alone, 8, 3, 1), Err(ExchangeError::NotTold { candidates: 3, terms: 6 }));
    }
}

//! Runs parted into blocks (days, batches of a raw material) so that what a block does is not taken for what a term does.
//!
//! ```text
//! clear = (det(Z' P Z)/det(Z' C Z))^(1/(b - 1))      P = I - X (X'X)^-1 X',   C: means taken off
//! ```
//!
//! | symbol | meaning |
//! |---|---|
//! | Z | one column for every block but the last, 1 for its runs |
//! | clear | 1: blocks stand square on all terms; 0: a block cannot be told from a term |
//!
//! Runs change places in pairs until none gains, from several starts; blocks differ by one run at most. Source: the criterion is the determinant
//! of terms and blocks together (Cook and Nachtsheim, Technometrics 31 (1989) 339, from memory). Case: a lattice made twice, in the tests here.

use crate::elementary::Elementary as _;
use crate::regression::{Regression, RegressionError};
use crate::uncertainty::stream::{Stream, source};

/// Starts of the search.
const STARTS: u64 = 8;
/// Rounds of one search at most.
const ROUNDS: usize = 50;
/// How much an exchange must gain.
const WORTH: f64 = 1e-9;

/// Parts runs into blocks: the block of every run, and how clear of the terms the blocks stand.
///
/// # Errors
/// Runs that do not settle the terms.
pub fn blocks(rows: &[Vec<f64>], blocks: usize, seed: u64) -> Result<(Vec<usize>, f64), RegressionError> {
    let runs = rows.len();
    let left: Vec<Vec<f64>> = (0..runs)
        .map(|run| {
            let unit: Vec<f64> = (0..runs).map(|other| if other == run { 1.0 } else { 0.0 }).collect();
            Regression::fit(rows, &unit).map(|fit| fit.residuals)
        })
        .collect::<Result<_, _>>()?;
    #[expect(clippy::cast_precision_loss, reason = "a few runs")]
    let mean = 1.0 / runs as f64;
    let whole: Vec<Vec<f64>> = (0..runs)
        .map(|run| (0..runs).map(|other| if other == run { 1.0 - mean } else { -mean }).collect())
        .collect();
    let clear = |of: &[usize]| {
        let [own, most] = [&left, &whole].map(|matrix| determinant(&between(matrix, of, blocks)));
        #[expect(clippy::cast_precision_loss, reason = "a few blocks")]
        let power = 1.0 / (blocks - 1) as f64;
        if most > 0.0 && own > 0.0 { (own / most).to_the(power) } else { 0.0 }
    };
    if blocks < 2 {
        return Ok((vec![0; runs], 1.0));
    }
    let mut best: Option<(Vec<usize>, f64)> = None;
    for start in 0..STARTS {
        let mut stream = Stream::of(seed, source("blocks of runs"), start);
        let mut of: Vec<usize> = (0..runs).map(|run| run % blocks).collect();
        for last in (1..runs).rev() {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                clippy::cast_precision_loss,
                reason = "a few runs"
            )]
            let other = ((stream.unit() * (last + 1) as f64) as usize).min(last);
            of.swap(last, other);
        }
        let mut own = clear(&of);
        for _ in 0..ROUNDS {
            let mut gained = false;
            for one in 0..runs {
                for other in one + 1..runs {
                    if of[one] == of[other] {
                        continue;
                    }
                    of.swap(one, other);
                    let found = clear(&of);
                    if found > own + WORTH {
                        own = found;
                        gained = true;
                    } else {
                        of.swap(one, other);
                    }
                }
            }
            if !gained {
                break;
            }
        }
        if best.as_ref().is_none_or(|(_, clear)| own > *clear + WORTH) {
            best = Some((of, own));
        }
    }
    Ok(best.unwrap_or_default())
}

/// `Z' A Z`.
fn between(matrix: &[Vec<f64>], of: &[usize], blocks: usize) -> Vec<Vec<f64>> {
    let mut found = vec![vec![0.0; blocks - 1]; blocks - 1];
    for (line, one) in matrix.iter().zip(of).filter(|(_, block)| **block < blocks - 1) {
        for (cell, other) in line.iter().zip(of).filter(|(_, block)| **block < blocks - 1) {
            found[*one][*other] += cell;
        }
    }
    found
}

/// Determinant by elimination; nothing for a matrix that is not positive.
fn determinant(matrix: &[Vec<f64>]) -> f64 {
    let (mut rest, mut found) = (matrix.to_vec(), 1.0);
    for pivot in 0..rest.len() {
        let (above, below) = rest.split_at_mut(pivot + 1);
        let own = &above[pivot];
        if own[pivot] <= 1e-12 {
            return 0.0;
        }
        found *= own[pivot];
        for line in below {
            let factor = line[pivot] / own[pivot];
            for (cell, above) in line.iter_mut().zip(own).skip(pivot) {
                *cell -= factor * above;
            }
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::experiment::{Model, lattice};

    #[test]
    fn a_lattice_made_twice_is_parted_into_two_lattices() {
        // Each block a whole lattice: every term is settled within it, and the blocks stand square on all terms.
        let lattice = lattice(3, 2).unwrap();
        let rows: Vec<Vec<f64>> =
            lattice.iter().chain(&lattice).map(|blend| Model::Quadratic.terms(blend)).collect();
        let (of, clear) = blocks(&rows, 2, 1).unwrap();
        assert!((clear - 1.0).abs() < 1e-9, "{of:?} {clear}");
        for run in 0..6 {
            assert_ne!(of[run], of[run + 6], "{of:?}");
        }
        // As many runs as terms leave nothing to tell a block by.
        assert_eq!(blocks(&rows[..6], 2, 1).unwrap().1, 0.0);
        assert_eq!(blocks(&rows, 1, 1).unwrap(), (vec![0; 12], 1.0));
    }
}

//! The small linear algebra of the solver: a symmetric positive matrix shaped like an arrow.
//!
//! ```text
//! [ D   B^T ]     D dense, the first `dense` unknowns (lower triangle, row by row)
//! [ B    E  ]     E diagonal, the others: each meets the first ones only
//! ```
//!
//! The others are eliminated one by one, `S = D - sum_e b_e b_e^T / e`, and `S` is factored as L D L^T. Stored as one slice: the rows of
//! the dense block, room for the least pivots, then for each of the others its row of `B` and its diagonal.

use levigate_measure::fast_exp::ln;

/// Shape of the matrix.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Arrow {
    /// Unknowns.
    pub(crate) slots: usize,
    /// Unknowns of the dense block.
    pub(crate) dense: usize,
}

/// A pivot below this share of its diagonal is rounding.
const LOST_PIVOT: f64 = 1e-15;

/// Compiles the same code for every small size by itself, so that its loops are unrolled.
macro_rules! for_size {
    ($given:expr, $size:ident => $body:expr) => {
        for_size!(@ $given, $size, $body, 1 2 3 4 5 6 7 8)
    };
    (@ $given:expr, $size:ident, $body:expr, $($number:literal)*) => {
        match $given {
            $($number => { let $size = $number; $body })*
            other => { let $size = other; $body }
        }
    };
}

impl Arrow {
    /// Numbers stored.
    pub(crate) fn len(self) -> usize {
        self.slots * (self.dense + 1)
    }

    /// Where the entry of two unknowns that meet stands.
    pub(crate) fn place(self, one: usize, other: usize) -> usize {
        let (row, column) = if one > other { (one, other) } else { (other, one) };
        if row < self.dense {
            row * self.dense + column
        } else {
            let start = row * (self.dense + 1);
            start + if column == row { self.dense } else { column }
        }
    }

    /// Lifts the diagonal by a share of itself.
    pub(crate) fn ridge(self, matrix: &mut [f64], share: f64) {
        for slot in 0..self.slots {
            matrix[self.place(slot, slot)] *= 1.0 + share;
        }
    }

    /// Factors in place: the diagonal of the others becomes its inverse, the dense block L (strict lower triangle) and the inverse of
    /// D. A pivot lost to rounding is lifted.
    pub(crate) fn factor(self, matrix: &mut [f64]) {
        for_size!(self.dense, size => factor(size, matrix));
    }

    /// Solves with the factors for `N` right sides at once.
    pub(crate) fn solve<const N: usize>(self, matrix: &[f64], columns: &mut [[f64; N]]) {
        for_size!(self.dense, size => solve(size, matrix, columns));
    }
}

#[inline(always)]
fn factor(size: usize, matrix: &mut [f64]) {
    let (block, rest) = matrix.split_at_mut(size * size);
    let (floors, others) = rest.split_at_mut(size);
    for (index, (row, floor)) in block.chunks_exact(size).zip(floors.iter_mut()).enumerate() {
        *floor = LOST_PIVOT * row[index].abs() + 1e-300;
    }
    for other in others.chunks_exact_mut(size + 1) {
        let (coupling, diagonal) = other.split_at_mut(size);
        diagonal[0] = 1.0 / diagonal[0].max(1e-300);
        for (index, row) in block.chunks_exact_mut(size).enumerate() {
            let scaled = coupling[index] * diagonal[0];
            for (entry, other) in row[..=index].iter_mut().zip(coupling.iter()) {
                *entry -= scaled * other;
            }
        }
    }
    for index in 0..size {
        let (above, row) = block.split_at_mut(index * size);
        let row = &mut row[..size];
        // Entries hold L D until they are divided by D below.
        for (column, upper) in above.chunks_exact(size).enumerate() {
            let mut value = row[column];
            for k in 0..column {
                value -= row[k] * upper[k];
            }
            row[column] = value;
        }
        let mut pivot = row[index];
        for (column, upper) in above.chunks_exact(size).enumerate() {
            let value = row[column];
            row[column] = value * upper[column];
            pivot -= value * row[column];
        }
        row[index] = 1.0 / pivot.max(floors[index]);
    }
}

#[inline(always)]
fn solve<const N: usize>(size: usize, matrix: &[f64], columns: &mut [[f64; N]]) {
    let (block, others) = matrix.split_at(size * size);
    let others = &others[size..];
    let (dense, rest) = columns.split_at_mut(size);
    for (other, value) in others.chunks_exact(size + 1).zip(rest.iter()) {
        let (coupling, inverse) = other.split_at(size);
        let scaled = value.map(|value| value * inverse[0]);
        for (entry, coupling) in dense.iter_mut().zip(coupling) {
            subtract(entry, *coupling, &scaled);
        }
    }
    for (index, row) in block.chunks_exact(size).enumerate() {
        let mut value = dense[index];
        for (other, factor) in dense[..index].iter().zip(row) {
            subtract(&mut value, *factor, other);
        }
        dense[index] = value;
    }
    for (index, row) in block.chunks_exact(size).enumerate() {
        dense[index] = dense[index].map(|value| value * row[index]);
    }
    for (index, row) in block.chunks_exact(size).enumerate().rev() {
        let value = dense[index];
        for (other, factor) in dense[..index].iter_mut().zip(row) {
            subtract(other, *factor, &value);
        }
    }
    for (other, value) in others.chunks_exact(size + 1).zip(rest.iter_mut()) {
        let (coupling, inverse) = other.split_at(size);
        let mut left = *value;
        for (entry, coupling) in dense.iter().zip(coupling) {
            subtract(&mut left, *coupling, entry);
        }
        *value = left.map(|value| value * inverse[0]);
    }
}

#[inline(always)]
fn subtract<const N: usize>(from: &mut [f64; N], factor: f64, what: &[f64; N]) {
    for (value, other) in from.iter_mut().zip(what) {
        *value -= factor * other;
    }
}

pub(crate) fn largest(values: &[f64]) -> f64 {
    values.iter().fold(0.0, |most, value| larger(most, value.abs()))
}

/// The larger of two; the first where the second is not a number. Plainer than `f64::max`, which must look at both for that.
#[inline(always)]
pub(crate) fn larger(a: f64, b: f64) -> f64 {
    if b > a { b } else { a }
}

pub(crate) fn slope_along(gradient: &[f64], direction: &[f64]) -> f64 {
    gradient.iter().zip(direction).map(|(g, d)| g * d).sum()
}

/// `(a - b) / (a + b)` up to which the series of the logarithm of `a / b` is used.
pub(crate) const NEAR_RATIO: f64 = 0.02;

/// `ln(a / b)` by its series in `(a - b) / (a + b)`.
#[inline(always)]
pub(crate) fn log_near(ratio: f64) -> f64 {
    let squared = ratio * ratio;
    2.0 * ratio * (1.0 + squared * (1.0 / 3.0 + squared * (0.2 + squared / 7.0)))
}

/// `ln(a / b)` of two amounts that are not negative; zero for two that are nothing.
#[inline]
pub(crate) fn log_ratio(a: f64, b: f64) -> f64 {
    let ratio = (a - b) / (a + b).max(1e-300);
    if ratio.abs() < NEAR_RATIO { log_near(ratio) } else { ln(a) - ln(b) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_arrow_is_solved() {
        // Three dense, two others; a diagonally dominant matrix and a solution chosen beforehand.
        let arrow = Arrow { slots: 5, dense: 3 };
        let full = [
            [9.0, 1.0, -2.0, 0.5, 1.5],
            [1.0, 8.0, 0.3, -1.0, 0.0],
            [-2.0, 0.3, 7.0, 2.0, 0.7],
            [0.5, -1.0, 2.0, 6.0, 0.0],
            [1.5, 0.0, 0.7, 0.0, 5.0],
        ];
        let mut matrix = vec![0.0; arrow.len()];
        for (row, values) in full.iter().enumerate() {
            for (column, value) in values.iter().enumerate() {
                if row < 3 || column < 3 || row == column {
                    matrix[arrow.place(row, column)] = *value;
                }
            }
        }
        let wanted = [[1.0, -1.0], [2.0, 0.5], [-3.0, 0.0], [0.25, 4.0], [5.0, -2.0]];
        let mut columns: [[f64; 2]; 5] = full.map(|row| {
            core::array::from_fn(|k| {
                row.iter().zip(&wanted).map(|(a, x): (&f64, &[f64; 2])| a * x[k]).sum::<f64>()
            })
        });
        arrow.factor(&mut matrix);
        arrow.solve(&matrix, &mut columns);
        for (found, wanted) in columns.iter().flatten().zip(wanted.iter().flatten()) {
            assert!((found - wanted).abs() < 1e-13, "{found} {wanted}");
        }
    }
}

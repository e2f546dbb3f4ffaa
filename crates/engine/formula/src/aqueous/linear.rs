//! The small linear algebra of the solver: a symmetric matrix kept as its lower triangle, row by row.

/// Lifts the diagonal by a share of itself.
pub(crate) fn ridge(matrix: &mut [f64], size: usize, share: f64) {
    for row in 0..size {
        matrix[row * size + row] *= 1.0 + share;
    }
}

pub(crate) fn largest(values: &[f64]) -> f64 {
    values.iter().fold(0.0_f64, |most, value| most.max(value.abs()))
}

pub(crate) fn slope_along(gradient: &[f64], direction: &[f64]) -> f64 {
    gradient.iter().zip(direction).map(|(g, d)| g * d).sum()
}

/// `ln(a / b)`, by its series where the two are close.
#[inline]
pub(crate) fn log_ratio(a: f64, b: f64) -> f64 {
    let r = (a - b) / (a + b);
    if r.abs() < 0.02 {
        let r2 = r * r;
        2.0 * r * (1.0 + r2 * (1.0 / 3.0 + r2 * (0.2 + r2 / 7.0)))
    } else {
        (a / b).ln()
    }
}

/// Factors a symmetric positive matrix (lower triangle, row by row) as L D L^T in place; a pivot lost to rounding is lifted.
pub(crate) fn factor(matrix: &mut [f64], size: usize) {
    for row in 0..size {
        let diagonal = matrix[row * size + row];
        for column in 0..row {
            let mut value = matrix[row * size + column];
            for k in 0..column {
                value -= matrix[row * size + k] * matrix[column * size + k];
            }
            matrix[row * size + column] = value;
        }
        let mut pivot = diagonal;
        for column in 0..row {
            // Entries hold L D until here; the division by D is done now.
            let value = matrix[row * size + column];
            let scaled = value * matrix[column * size + column];
            pivot -= value * scaled;
            matrix[row * size + column] = scaled;
        }
        let floor = 1e-15 * diagonal.abs() + 1e-300;
        matrix[row * size + row] = 1.0 / pivot.max(floor);
    }
}

/// Solves with the factors of [`factor`]: the strict lower triangle is L, the diagonal 1/D.
pub(crate) fn solve_factored(matrix: &[f64], right: &mut [f64], size: usize) {
    for row in 1..size {
        let mut value = right[row];
        for k in 0..row {
            value -= matrix[row * size + k] * right[k];
        }
        right[row] = value;
    }
    for row in 0..size {
        right[row] *= matrix[row * size + row];
    }
    for row in (0..size).rev() {
        let value = right[row];
        for k in 0..row {
            right[k] -= matrix[row * size + k] * value;
        }
    }
}

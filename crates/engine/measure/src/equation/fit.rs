//! An equation fitted to data.
//!
//! Where the equation is a sum of parameters times numbers it is solved at once by [`Regression`], with the digits that nearly dependent
//! columns leave; else by [`least_squares`] from starting values, with exact derivatives.

use super::{Equation, Worked};
use crate::exact::sum_of_squares;
use crate::least_squares::{Fit, FitError, Room, Stop, least_squares};
use crate::regression::{Regression, RegressionError, mean, number};
use thiserror::Error;

/// Most parameters of an equation.
pub const MOST_PARAMETERS: usize = 12;
/// The search for the end of an interval gives up this many times as far out as the plain interval reaches.
const FARTHEST: f64 = 4096.0;
/// Halvings of a bracket.
const HALVINGS: usize = 60;

/// Why there is no fit.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum Refused {
    /// The observed side is no number.
    #[error("what stands to the left is no number for row {row}")]
    Observed {
        /// Row, from one.
        row: usize,
    },
    /// The model is no number at the start.
    #[error("at the starting values the equation gives no number for row {row}")]
    Start {
        /// Row, from one.
        row: usize,
    },
    /// Too many parameters, or none.
    #[error("{0} parameters cannot be fitted here")]
    Parameters(usize),
    /// The search.
    #[error(transparent)]
    Search(#[from] FitError),
    /// The solution.
    #[error(transparent)]
    Solution(#[from] RegressionError),
}

impl Refused {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Observed { .. } => "correct or leave out the row: a logarithm wants a number above zero",
            Self::Start { .. } => "choose other starting values, near what the data suggest",
            Self::Parameters(_) => "write an equation with one parameter to twelve",
            Self::Search(error) => error.hint(),
            Self::Solution(error) => error.hint(),
        }
    }
}

/// A fitted equation.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// Parameters.
    pub parameters: Vec<f64>,
    /// Observed side of every row.
    pub observed: Vec<f64>,
    /// Observed less what the equation says.
    pub residuals: Vec<f64>,
    /// Leverage of every row, of the equation made straight at the solution.
    pub leverages: Vec<f64>,
    /// Sum of the squared residuals.
    pub residual_sum: f64,
    /// Sum of the squared observations about their mean.
    pub total_sum: f64,
    /// Rows less parameters.
    pub degrees: usize,
    /// Covariance of the parameters over the variance of a row; absent where the data do not settle them all.
    weights: Option<Vec<Vec<f64>>>,
    /// Condition of the derivatives, every column brought to length one; absent where a parameter has no effect or the equation was solved at once.
    pub condition: Option<f64>,
    /// Evaluations of the search; none where it was solved at once.
    pub evaluations: Option<usize>,
}

impl Found {
    /// Variance of a row about the equation; `None` where nothing is left to judge it by.
    #[must_use]
    pub fn variance(&self) -> Option<f64> {
        (self.degrees > 0).then(|| self.residual_sum / number(self.degrees))
    }

    /// Standard error of a parameter.
    #[must_use]
    pub fn error(&self, parameter: usize) -> Option<f64> {
        let weight = self.weights.as_ref()?.get(parameter)?.get(parameter)?;
        Some((self.variance()? * weight).sqrt())
    }

    /// How far two parameters move together, -1 to 1.
    #[must_use]
    pub fn together(&self, one: usize, other: usize) -> Option<f64> {
        let weights = self.weights.as_ref()?;
        Some(weights[one][other] / (weights[one][one] * weights[other][other]).sqrt())
    }
}

/// Fits. `rows`: all columns; `start`: one value for every parameter, not looked at where the equation is solved at once.
///
/// # Errors
/// [`Refused`].
pub fn fit(equation: &Equation, rows: &[Vec<f64>], start: &[f64]) -> Result<Found, Refused> {
    if start.is_empty() || start.len() > MOST_PARAMETERS {
        return Err(Refused::Parameters(start.len()));
    }
    let observed = observed(equation, rows)?;
    if equation.model.is_linear() {
        return solved(equation, rows, &observed, start.len());
    }
    let bounds = vec![[f64::NEG_INFINITY, f64::INFINITY]; start.len()];
    searched(equation, rows, &observed, start, &bounds)
}

fn observed(equation: &Equation, rows: &[Vec<f64>]) -> Result<Vec<f64>, Refused> {
    let mut room = Worked::default();
    let found: Vec<f64> = rows.iter().map(|row| equation.observed.value(row, &[], &mut room)).collect();
    match found.iter().position(|value| !value.is_finite()) {
        Some(row) => Err(Refused::Observed { row: row + 1 }),
        None => Ok(found),
    }
}

fn solved(
    equation: &Equation,
    rows: &[Vec<f64>],
    observed: &[f64],
    parameters: usize,
) -> Result<Found, Refused> {
    let mut room = Worked::default();
    let nothing = vec![0.0; parameters];
    let mut terms = vec![vec![0.0; parameters]; rows.len()];
    let mut rest = Vec::with_capacity(rows.len());
    for ((row, terms), y) in rows.iter().zip(&mut terms).zip(observed) {
        // A product of a parameter that is nothing here and what is not finite is not a number: the derivative tells it.
        rest.push(y - equation.model.slopes(row, &nothing, terms, &mut room));
    }
    if let Some(row) = rest.iter().position(|y| !y.is_finite()) {
        return Err(Refused::Start { row: row + 1 });
    }
    let fit = Regression::fit(&terms, &rest)?;
    let weights = (0..parameters)
        .map(|i| (0..parameters).map(|j| fit.weight(i, j).unwrap_or(f64::NAN)).collect())
        .collect();
    let middle = mean(observed);
    Ok(Found {
        leverages: terms.iter().map(|row| fit.leverage(row).min(1.0)).collect(),
        residual_sum: fit.residual_sum,
        total_sum: sum_of_squares(observed.iter().map(|y| y - middle)),
        degrees: fit.degrees,
        weights: Some(weights),
        condition: None,
        evaluations: None,
        observed: observed.to_vec(),
        parameters: fit.coefficients,
        residuals: fit.residuals,
    })
}

/// One length of an array for every number of parameters.
macro_rules! with_length {
    ($count:expr, $call:ident, $arguments:tt, [$($length:literal)*]) => {
        match $count {
            $($length => $call::<$length> $arguments,)*
            other => Err(Refused::Parameters(other)),
        }
    };
}

fn searched(
    equation: &Equation,
    rows: &[Vec<f64>],
    observed: &[f64],
    start: &[f64],
    bounds: &[[f64; 2]],
) -> Result<Found, Refused> {
    with_length!(
        start.len(),
        search,
        (equation, rows, observed, start, bounds),
        [1 2 3 4 5 6 7 8 9 10 11 12]
    )
}

fn search<const P: usize>(
    equation: &Equation,
    rows: &[Vec<f64>],
    observed: &[f64],
    start: &[f64],
    bounds: &[[f64; 2]],
) -> Result<Found, Refused> {
    let start: [f64; P] = core::array::from_fn(|j| start[j]);
    let bounds: [[f64; 2]; P] = core::array::from_fn(|j| bounds[j]);
    let mut worked = Worked::default();
    let no_number = rows.iter().position(|row| !equation.model.value(row, &start, &mut worked).is_finite());
    if let Some(row) = no_number {
        return Err(Refused::Start { row: row + 1 });
    }
    let stop = Stop { relative_step: 1e-12, relative_gain: 1e-26, most: 5000 };
    let mut model = |p: &[f64; P], residuals: &mut [f64], slopes: &mut [[f64; P]]| {
        for (((row, y), residual), slopes) in rows.iter().zip(observed).zip(residuals).zip(slopes) {
            *residual = equation.model.slopes(row, p, slopes, &mut worked) - y;
            if !residual.is_finite() || slopes.iter().any(|slope| !slope.is_finite()) {
                return false;
            }
        }
        true
    };
    let fit = least_squares(rows.len(), start, &bounds, &stop, &mut Room::new(), &mut model)?;
    let mut residuals = vec![0.0; rows.len()];
    let mut slopes = vec![[0.0; P]; rows.len()];
    model(&fit.parameters, &mut residuals, &mut slopes);
    let inverse = inverse_of_triangle(&fit);
    let leverages = slopes
        .iter()
        .map(|row| {
            let inverse = inverse.as_ref()?;
            let along = |k: usize| (0..=k).map(|i| row[i] * inverse[i][k]).sum::<f64>();
            Some((0..P).map(|k| along(k) * along(k)).sum::<f64>().min(1.0))
        })
        .map(|leverage| leverage.unwrap_or(f64::NAN))
        .collect();
    let weights = inverse.map(|inverse| {
        let product = |i: usize, j: usize| (0..P).map(|k| inverse[i][k] * inverse[j][k]).sum();
        (0..P).map(|i| (0..P).map(|j| product(i, j)).collect()).collect::<Vec<Vec<f64>>>()
    });
    let middle = mean(observed);
    Ok(Found {
        parameters: fit.parameters.to_vec(),
        observed: observed.to_vec(),
        residuals: residuals.iter().map(|residual| -residual).collect(),
        leverages,
        residual_sum: sum_of_squares(residuals.iter().copied()),
        total_sum: sum_of_squares(observed.iter().map(|y| y - middle)),
        degrees: rows.len() - P,
        weights: weights.filter(|weights| weights.iter().flatten().all(|weight| weight.is_finite())),
        condition: fit.condition(),
        evaluations: Some(fit.evaluations),
    })
}

/// Columns below this share of their own length after those before them are taken off tell nothing.
const TELLS_NOTHING: f64 = 1e-14;

/// Inverse of the triangle of a fit; `None` where a parameter is not settled.
fn inverse_of_triangle<const P: usize>(fit: &Fit<P>) -> Option<[[f64; P]; P]> {
    let mut inverse = [[0.0; P]; P];
    for column in 0..P {
        let mut x = [0.0; P];
        let length = (0..=column).map(|row| fit.triangle[row][column].powi(2)).sum::<f64>().sqrt();
        let pivot = fit.triangle[column][column].abs();
        if pivot <= TELLS_NOTHING * length || pivot.is_nan() || length == 0.0 {
            return None;
        }
        for row in (0..=column).rev() {
            let known: f64 = (row + 1..=column).map(|k| fit.triangle[row][k] * x[k]).sum();
            let unit = if row == column { 1.0 } else { 0.0 };
            x[row] = (unit - known) / fit.triangle[row][row];
        }
        for (line, x) in inverse.iter_mut().zip(x) {
            line[column] = x;
        }
    }
    Some(inverse)
}

/// Ends of the interval of a parameter by its profile: where the best sum of squares with the parameter held has risen by `factor^2` variances
/// of a row. An end that is not met within four thousand plain intervals is open.
///
/// Source: Bates and Watts, Nonlinear Regression Analysis (1988), from memory.
#[must_use]
pub fn profile(
    equation: &Equation,
    rows: &[Vec<f64>],
    found: &Found,
    parameter: usize,
    factor: f64,
) -> [Option<f64>; 2] {
    let (Some(variance), Some(error)) = (found.variance(), found.error(parameter)) else { return [None; 2] };
    let wanted = factor * factor * variance;
    // How much the sum of squares still may rise with the parameter held.
    let spare = |value: f64, from: &mut Vec<f64>| -> Option<f64> {
        let mut bounds = vec![[f64::NEG_INFINITY, f64::INFINITY]; from.len()];
        bounds[parameter] = [value, value];
        from[parameter] = value;
        let held = searched(equation, rows, &found.observed, from, &bounds).ok()?;
        *from = held.parameters;
        Some(wanted - (held.residual_sum - found.residual_sum))
    };
    [-1.0, 1.0].map(|side| {
        let centre = found.parameters[parameter];
        let mut from = found.parameters.clone();
        let (mut inside, mut step) = (centre, factor * error);
        let mut outside = loop {
            if step > FARTHEST * factor * error {
                return None;
            }
            let trial = centre + side * step;
            match spare(trial, &mut from) {
                Some(left) if left > 0.0 => (inside, step) = (trial, 2.0 * step),
                Some(_) => break trial,
                None => return None,
            }
        };
        for _ in 0..HALVINGS {
            let middle = 0.5 * (inside + outside);
            if middle == inside || middle == outside || (outside - inside).abs() < 1e-10 * (1e-300 + error) {
                break;
            }
            let mut near = from.clone();
            if spare(middle, &mut near)? > 0.0 {
                (inside, from) = (middle, near);
            } else {
                outside = middle;
            }
        }
        Some(0.5 * (inside + outside))
    })
}

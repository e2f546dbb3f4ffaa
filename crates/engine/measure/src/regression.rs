//! Linear least squares with any number of terms, and the analysis of variance that follows.
//!
//! ```text
//! y = X b + e         b minimises |y - X b|^2          X = Q R (Householder)
//! s^2 = |y - X b|^2/(n - p)        cov(b) = s^2 (X'X)^-1        h_k = x_k' (X'X)^-1 x_k
//! ```
//!
//! The equations are solved by orthogonal triangularisation and then refined together with their residuals, whose sums are taken with
//! twice the digits, so that columns that nearly depend on each other cost no digits that the numbers themselves have. A column that depends
//! on those before it to the last digits is refused by its place, never dropped in silence.
//!
//! Source: Bjorck, BIT 7 (1967) 257 and 8 (1968) 8 (refinement), from memory; Draper and Smith, Applied Regression Analysis (analysis of
//! variance, leverage), from memory. Cases: `tests/published/nist_linear.toml`, the linear reference sets of NIST.

use crate::exact::{Wide, sum, sum_of_squares};
use thiserror::Error;

/// A column counts as dependent where, after those before it are taken off, less than this share of its length is left.
const DEPENDENT: f64 = 1e-13;
/// Most rounds of refinement; each leaves about the condition of the columns times the rounding of the last.
const ROUNDS: usize = 6;

/// Why there is no fit.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum RegressionError {
    /// The rows and the observations differ in number, or a row has another number of terms.
    #[error("{rows} rows of {terms} terms do not go with {observations} observations")]
    Shape {
        /// Rows.
        rows: usize,
        /// Terms of a row.
        terms: usize,
        /// Observations.
        observations: usize,
    },
    /// Fewer observations than terms.
    #[error("{observations} observations cannot settle {terms} terms")]
    TooFew {
        /// Observations.
        observations: usize,
        /// Terms.
        terms: usize,
    },
    /// A number that is not one.
    #[error("row {row} holds a number that is not finite")]
    NotANumber {
        /// Row, from one.
        row: usize,
    },
    /// A column that the others already tell.
    #[error("term {term} depends on the terms before it: the observations do not tell them apart")]
    Dependent {
        /// Term, from one.
        term: usize,
    },
}

impl RegressionError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Shape { .. } => "give every observation one row with a number for every term",
            Self::TooFew { .. } => "observe more, or take a model with fewer terms",
            Self::NotANumber { .. } => "correct or leave out the row",
            Self::Dependent { .. } => "leave the term out, or observe at settings that tell the terms apart",
        }
    }
}

/// A fitted linear model.
#[derive(Clone, Debug, PartialEq)]
pub struct Regression {
    /// One coefficient per term.
    pub coefficients: Vec<f64>,
    /// Observation less what the model says.
    pub residuals: Vec<f64>,
    /// Sum of the squared residuals.
    pub residual_sum: f64,
    /// Sum of the squared observations about their mean.
    pub total_sum: f64,
    /// Sum of the squared observations about zero.
    pub total_about_zero: f64,
    /// Observations less terms.
    pub degrees: usize,
    /// `(X'X)^-1`, row after row.
    inverse: Vec<f64>,
}

impl Regression {
    /// Fits `y = X b` with `rows` of equally many terms, one row per observation.
    ///
    /// # Errors
    /// Rows and observations that do not go together, fewer observations than terms, numbers that are not finite, a term that depends on
    /// those before it.
    pub fn fit<R: AsRef<[f64]>>(rows: &[R], observed: &[f64]) -> Result<Self, RegressionError> {
        let (count, terms) = (rows.len(), rows.first().map_or(0, |row| row.as_ref().len()));
        let shape = RegressionError::Shape { rows: count, terms, observations: observed.len() };
        if count != observed.len() || terms == 0 || rows.iter().any(|row| row.as_ref().len() != terms) {
            return Err(shape);
        }
        if count < terms {
            return Err(RegressionError::TooFew { observations: count, terms });
        }
        let finite = |(row, y): (&R, &f64)| row.as_ref().iter().all(|x| x.is_finite()) && y.is_finite();
        if let Some(row) = rows.iter().zip(observed).position(|pair| !finite(pair)) {
            return Err(RegressionError::NotANumber { row: row + 1 });
        }
        let columns: Vec<Vec<f64>> =
            (0..terms).map(|term| rows.iter().map(|row| row.as_ref()[term]).collect()).collect();
        let triangle = Triangle::of(&columns)?;
        let (coefficients, residuals) = refined(&columns, observed, &triangle);
        let mean = mean(observed);
        Ok(Self {
            residual_sum: sum_of_squares(residuals.iter().copied()),
            total_sum: sum_of_squares(observed.iter().map(|y| y - mean)),
            total_about_zero: sum_of_squares(observed.iter().copied()),
            degrees: count - terms,
            inverse: triangle.inverse_of_product(),
            coefficients,
            residuals,
        })
    }

    /// Variance of one observation, `None` where nothing is left to judge it by.
    #[must_use]
    pub fn variance(&self) -> Option<f64> {
        (self.degrees > 0).then(|| self.residual_sum / number(self.degrees))
    }

    /// Standard deviation of one observation about the model.
    #[must_use]
    pub fn scatter(&self) -> Option<f64> {
        self.variance().map(f64::sqrt)
    }

    /// Standard error of a coefficient.
    #[must_use]
    pub fn standard_error(&self, term: usize) -> Option<f64> {
        Some((self.variance()? * self.weight(term, term)?).sqrt())
    }

    /// `(X'X)^-1` at two terms: times the variance it is their covariance.
    #[must_use]
    pub fn weight(&self, one: usize, other: usize) -> Option<f64> {
        let terms = self.coefficients.len();
        (one < terms && other < terms).then(|| self.inverse[one * terms + other])
    }

    /// What the model says of a row of terms.
    #[must_use]
    pub fn predicted(&self, row: &[f64]) -> f64 {
        row.iter()
            .zip(&self.coefficients)
            .fold(Wide::default(), |sum, (x, b)| sum.and_product(*x, *b))
            .value()
    }

    /// `x' (X'X)^-1 x`: times the variance it is that of the model at a row; of an observation's own row it is its leverage.
    #[must_use]
    pub fn leverage(&self, row: &[f64]) -> f64 {
        let terms = self.coefficients.len();
        let along = |one: usize| -> f64 {
            (0..terms).map(|other| self.inverse[one * terms + other] * row[other]).sum()
        };
        (0..terms.min(row.len())).map(|one| row[one] * along(one)).sum::<f64>().max(0.0)
    }

    /// Share of the spread about the mean (about zero where the model has no constant) that the model explains.
    #[must_use]
    pub fn explained(&self, has_constant: bool) -> f64 {
        let total = if has_constant { self.total_sum } else { self.total_about_zero };
        if total > 0.0 { 1.0 - self.residual_sum / total } else { f64::NAN }
    }
}

/// Mean of numbers, by sums with twice the digits: of numbers that agree in many digits it keeps all that they have.
#[must_use]
pub fn mean(values: &[f64]) -> f64 {
    let Some(first) = values.first() else { return f64::NAN };
    first + sum(values.iter().map(|value| value - first)) / number(values.len())
}

pub(crate) fn number(count: usize) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "counts of observations are far below 2^53")]
    let value = count as f64;
    value
}

/// The triangular factor of the columns, with the reflections that make it.
struct Triangle {
    /// Reflections below the diagonal, column after column.
    reflections: Vec<Vec<f64>>,
    /// Twice over the square of each reflection.
    strengths: Vec<f64>,
    /// Upper triangle: `upper[column][row]`, `row <= column`.
    upper: Vec<Vec<f64>>,
}

impl Triangle {
    fn of(columns: &[Vec<f64>]) -> Result<Self, RegressionError> {
        let mut this =
            Self { reflections: Vec::new(), strengths: Vec::new(), upper: Vec::with_capacity(columns.len()) };
        for (place, column) in columns.iter().enumerate() {
            let mut rest = column.clone();
            let whole = sum_of_squares(rest.iter().copied()).sqrt();
            this.reflect(&mut rest);
            let length = sum_of_squares(rest[place..].iter().copied()).sqrt();
            if length.is_nan() || length <= DEPENDENT * whole {
                return Err(RegressionError::Dependent { term: place + 1 });
            }
            let diagonal = if rest[place] > 0.0 { -length } else { length };
            let mut upper = rest[..=place].to_vec();
            upper[place] = diagonal;
            let mut reflection = rest.split_off(place);
            reflection[0] -= diagonal;
            this.strengths.push(2.0 / sum_of_squares(reflection.iter().copied()));
            this.reflections.push(reflection);
            this.upper.push(upper);
        }
        Ok(this)
    }

    /// Applies all reflections so far, in order: `Q' v`.
    fn reflect(&self, values: &mut [f64]) {
        for place in 0..self.reflections.len() {
            self.one(place, values);
        }
    }

    /// Applies them in the other order: `Q v`.
    fn reflect_back(&self, values: &mut [f64]) {
        for place in (0..self.reflections.len()).rev() {
            self.one(place, values);
        }
    }

    fn one(&self, place: usize, values: &mut [f64]) {
        let reflection = &self.reflections[place];
        let rest = &mut values[place..];
        let along: f64 = reflection.iter().zip(rest.iter()).map(|(v, x)| v * x).sum();
        let by = along * self.strengths[place];
        for (x, v) in rest.iter_mut().zip(reflection) {
            *x -= by * v;
        }
    }

    /// Solves `R b = v`.
    fn solve(&self, values: &[f64]) -> Vec<f64> {
        let mut b = values.to_vec();
        for row in (0..b.len()).rev() {
            b[row] /= self.upper[row][row];
            for above in 0..row {
                b[above] -= b[row] * self.upper[row][above];
            }
        }
        b
    }

    /// Solves `R' b = v`.
    fn solve_transposed(&self, values: &[f64]) -> Vec<f64> {
        let mut b: Vec<f64> = Vec::with_capacity(values.len());
        for (row, value) in values.iter().enumerate() {
            let known: f64 = b.iter().zip(&self.upper[row]).map(|(b, r)| b * r).sum();
            b.push((value - known) / self.upper[row][row]);
        }
        b
    }

    /// `(X'X)^-1 = R^-1 R^-T`, row after row.
    fn inverse_of_product(&self) -> Vec<f64> {
        let terms = self.upper.len();
        let mut inverse = vec![0.0; terms * terms];
        for column in 0..terms {
            let mut unit = vec![0.0; terms];
            unit[column] = 1.0;
            let solved = self.solve(&self.solve_transposed(&unit));
            for (row, value) in solved.iter().enumerate() {
                inverse[row * terms + column] = *value;
            }
        }
        inverse
    }
}

/// Coefficients and residuals, refined together: each round solves for the corrections by the factors at hand, from misses summed with twice
/// the digits, and is kept as long as it makes the step smaller.
fn refined(columns: &[Vec<f64>], observed: &[f64], triangle: &Triangle) -> (Vec<f64>, Vec<f64>) {
    let (count, terms) = (observed.len(), columns.len());
    let mut coefficients = vec![0.0; terms];
    let mut residuals = vec![0.0; count];
    let mut last: Option<f64> = None;
    for round in 0..ROUNDS {
        // Misses of the two sets of equations: r + X b = y and X' r = 0.
        let mut miss: Vec<f64> = (0..count)
            .map(|row| {
                let start = Wide::from(observed[row]).and(-residuals[row]);
                columns
                    .iter()
                    .zip(&coefficients)
                    .fold(start, |sum, (column, b)| sum.and_product(-column[row], *b))
                    .value()
            })
            .collect();
        let slant: Vec<f64> = columns
            .iter()
            .map(|column| {
                -column
                    .iter()
                    .zip(&residuals)
                    .fold(Wide::default(), |sum, (x, r)| sum.and_product(*x, *r))
                    .value()
            })
            .collect();
        let head = triangle.solve_transposed(&slant);
        triangle.reflect(&mut miss);
        let told: Vec<f64> = miss.iter().zip(&head).map(|(d, h)| d - h).collect();
        let step = triangle.solve(&told);
        // Length of the step against the coefficients it corrects; the first round begins from nothing and is the plain solution.
        let size = step
            .iter()
            .zip(&coefficients)
            .map(|(s, b)| if *s == 0.0 { 0.0 } else { (s / b).abs() })
            .fold(0.0, f64::max);
        if size.is_nan() || last.is_some_and(|last| size >= last) {
            break;
        }
        let mut change = miss;
        change[..terms].copy_from_slice(&head);
        triangle.reflect_back(&mut change);
        for (r, d) in residuals.iter_mut().zip(&change) {
            *r += d;
        }
        for (b, s) in coefficients.iter_mut().zip(&step) {
            *b += s;
        }
        if round > 0 && size < f64::EPSILON {
            break;
        }
        last = (round > 0).then_some(size);
    }
    (coefficients, residuals)
}

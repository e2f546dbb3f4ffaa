//! Nonlinear least squares within bounds, after Levenberg and Marquardt.
//!
//! ```text
//! minimise S(p) = sum r_i(p)^2,   low_j <= p_j <= high_j
//! step s:  min |J s + r|^2 + lambda sum (D_j s_j)^2
//! ```
//!
//! | symbol | meaning |
//! |---|---|
//! | r, J | residuals and their derivatives with respect to the parameters |
//! | D_j | largest norm seen of column j of J, so that the units of a parameter do not matter |
//! | lambda | damping: small where the step kept its promise, larger where it did not |
//!
//! The step is solved by orthogonal triangularisation (Householder), never by forming J'J, so that nearly dependent columns cost digits
//! once and not twice. A parameter that stands at a bound and is pushed against it is held there for the step.
//! Sources: Levenberg, Quart. Appl. Math. 2 (1944) 164; Marquardt, J. SIAM 11 (1963) 431; scaling after More (1978); damping rule
//! after Nielsen (1999), all from memory. Cases: `tests/published/nist_strd.toml`, the nonlinear reference sets from both starts.

use crate::elementary::Elementary as _;
use thiserror::Error;

/// When to stop.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stop {
    /// A step below this share of every parameter ends the search.
    pub relative_step: f64,
    /// A promised gain below this share of the sum of squares ends the search.
    pub relative_gain: f64,
    /// Most evaluations.
    pub most: usize,
}

/// Below this share of the sum of squares a gain drowns in rounding: the step is taken on its promise.
const ROUNDING: f64 = 1e-13;
/// The first step is at most this many times the parameters, in the scale of their columns.
const FIRST_REACH: f64 = 10.0;

impl Default for Stop {
    fn default() -> Self {
        Self { relative_step: 1e-10, relative_gain: 1e-20, most: 1000 }
    }
}

/// Why there is no fit.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum FitError {
    /// Fewer points than parameters.
    #[error("{points} points cannot settle {parameters} parameters")]
    TooFewPoints {
        /// Points.
        points: usize,
        /// Parameters.
        parameters: usize,
    },
    /// The model is not a number at the start.
    #[error("the model gives no number at the starting values")]
    NoStart,
    /// The bound on evaluations was reached.
    #[error("not converged within {evaluations} evaluations; sum of squares {sum}")]
    NotConverged {
        /// Evaluations.
        evaluations: usize,
        /// Sum of squares reached.
        sum: f64,
    },
}

impl FitError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::TooFewPoints { .. } => "measure more points, or take a model with fewer parameters",
            Self::NoStart => "choose other starting values",
            Self::NotConverged { .. } => "start nearer, or take a model with fewer parameters",
        }
    }
}

/// Room to compute in, kept from fit to fit.
#[derive(Clone, Debug, Default)]
pub struct Room<const P: usize> {
    residuals: Vec<f64>,
    rows: Vec<[f64; P]>,
    trial_residuals: Vec<f64>,
    trial_rows: Vec<[f64; P]>,
    work: Vec<[f64; P]>,
    right: Vec<f64>,
}

/// A fit.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit<const P: usize> {
    /// Parameters.
    pub parameters: [f64; P],
    /// Sum of squared residuals.
    pub sum: f64,
    /// Points.
    pub points: usize,
    /// Evaluations of the model over all points.
    pub evaluations: usize,
    /// Parameters that stand at a bound and want to go further.
    pub at_bound: [bool; P],
    /// Upper triangle of the derivatives at the solution; columns of parameters at a bound are zero.
    pub triangle: [[f64; P]; P],
}

impl<const P: usize> Fit<P> {
    /// Parameters that are free, not held at a bound.
    #[must_use]
    pub fn free(&self) -> usize {
        self.at_bound.iter().filter(|held| !**held).count()
    }

    /// Variance of a residual: sum of squares over the points that the free parameters leave; `None` when they leave none.
    #[must_use]
    pub fn variance(&self) -> Option<f64> {
        let left = self.points.checked_sub(self.free()).filter(|left| *left > 0)?;
        Some(self.sum / left as f64)
    }

    /// Covariance of the parameters; rows of parameters at a bound are zero, `None` where the derivatives do not settle them.
    #[must_use]
    pub fn covariance(&self) -> Option<[[f64; P]; P]> {
        let variance = self.variance()?;
        let mut inverse = [[0.0; P]; P];
        for column in (0..P).filter(|column| !self.at_bound[*column]) {
            // R x = e: back substitution gives one column of the inverse triangle.
            let mut x = [0.0; P];
            for row in (0..=column).rev() {
                if self.at_bound[row] {
                    continue;
                }
                let known: f64 = (row + 1..=column).map(|k| self.triangle[row][k] * x[k]).sum();
                let value = if row == column { 1.0 } else { 0.0 } - known;
                let pivot = self.triangle[row][row];
                if pivot == 0.0 {
                    return None;
                }
                x[row] = value / pivot;
            }
            for row in 0..P {
                inverse[row][column] = x[row];
            }
        }
        let mut covariance = [[0.0; P]; P];
        for i in 0..P {
            for j in 0..P {
                covariance[i][j] = variance * (0..P).map(|k| inverse[i][k] * inverse[j][k]).sum::<f64>();
            }
        }
        covariance.iter().flatten().all(|value| value.is_finite()).then_some(covariance)
    }

    /// Condition of the derivatives at the solution, every column brought to length one so that the units of a parameter do not matter: largest
    /// over smallest singular value, free parameters only; `None` where a parameter has no effect at all.
    #[must_use]
    pub fn condition(&self) -> Option<f64> {
        // One-sided Jacobi: columns are turned in pairs until they stand square on each other; their lengths are the singular values.
        let mut columns: [[f64; P]; P] =
            core::array::from_fn(|j| core::array::from_fn(|i| self.triangle[i][j]));
        let dot = |a: &[f64; P], b: &[f64; P]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
        for column in &mut columns {
            let length = dot(column, column).sqrt();
            if length > 0.0 {
                *column = column.map(|entry| entry / length);
            }
        }
        for _ in 0..60 {
            let mut askew = 0.0_f64;
            for i in 0..P {
                for j in i + 1..P {
                    let (a, b) = (columns[i], columns[j]);
                    let (aa, bb, ab) = (dot(&a, &a), dot(&b, &b), dot(&a, &b));
                    if aa == 0.0 || bb == 0.0 || ab == 0.0 {
                        continue;
                    }
                    askew = askew.max(ab.abs() / (aa * bb).sqrt());
                    let ratio = (bb - aa) / (2.0 * ab);
                    let tangent = ratio.signum() / (ratio.abs() + (1.0 + ratio * ratio).sqrt());
                    let cosine = (1.0 + tangent * tangent).sqrt().recip();
                    let sine = cosine * tangent;
                    columns[i] = core::array::from_fn(|k| cosine * a[k] - sine * b[k]);
                    columns[j] = core::array::from_fn(|k| sine * a[k] + cosine * b[k]);
                }
            }
            if askew < 1e-12 {
                break;
            }
        }
        // A held parameter has a column of zeros; so many zeros may stand at the end.
        let mut lengths = columns.map(|column| dot(&column, &column).sqrt());
        lengths.sort_by(|a, b| b.total_cmp(a));
        let free = self.free();
        let (largest, smallest) = (lengths.first()?, lengths.get(free.checked_sub(1)?)?);
        (*smallest > 0.0).then(|| largest / smallest)
    }
}

/// Fits. `model` fills residuals and their derivatives for the parameters given and says whether they are numbers.
///
/// # Errors
/// [`FitError`] for too few points, a start without value, or a search that does not end.
pub fn least_squares<const P: usize>(
    points: usize,
    start: [f64; P],
    bounds: &[[f64; 2]; P],
    stop: &Stop,
    room: &mut Room<P>,
    mut model: impl FnMut(&[f64; P], &mut [f64], &mut [[f64; P]]) -> bool,
) -> Result<Fit<P>, FitError> {
    if points < P {
        return Err(FitError::TooFewPoints { points, parameters: P });
    }
    room.fit_to(points);
    let mut parameters = clamped(start, bounds);
    if !model(&parameters, &mut room.residuals, &mut room.rows) {
        return Err(FitError::NoStart);
    }
    let mut sum = squares(&room.residuals);
    let mut scale = [0.0_f64; P];
    let (mut damping, mut growth) = (1e-3, 2.0);
    let mut evaluations = 1;
    loop {
        let (triangle, rotated, at_bound) = room.triangularise(&parameters, bounds, &mut scale);
        loop {
            if evaluations >= stop.most {
                return Err(FitError::NotConverged { evaluations, sum });
            }
            let step = damped_step(&triangle, &rotated, &scale, damping);
            let trial = clamped(core::array::from_fn(|j| parameters[j] + step[j]), bounds);
            let step: [f64; P] = core::array::from_fn(|j| trial[j] - parameters[j]);
            let promised = promise(&triangle, &rotated, &step);
            if evaluations == 1
                && damping < 1e6
                && length(&scale, &step) > FIRST_REACH * length(&scale, &parameters)
            {
                let reach = length(&scale, &parameters);
                if reach > 0.0 {
                    damping *= 4.0;
                    continue;
                }
            }
            let small = (0..P).all(|j| step[j].abs() <= stop.relative_step * (parameters[j].abs() + 1e-300));
            let done = Fit { parameters, sum, points, evaluations, at_bound, triangle };
            if sum == 0.0 || small || promised <= stop.relative_gain * sum {
                return Ok(done);
            }
            evaluations += 1;
            let found = if model(&trial, &mut room.trial_residuals, &mut room.trial_rows) {
                squares(&room.trial_residuals)
            } else {
                f64::INFINITY
            };
            let gain = sum - found;
            let on_promise = promised <= ROUNDING * sum && gain.abs() <= ROUNDING * sum;
            if gain > 1e-4 * promised || on_promise {
                let kept = if on_promise { 1.0 } else { gain / promised };
                damping *= (1.0 - (2.0 * kept - 1.0).powi(3)).clamp(0.1, 10.0);
                damping = damping.max(1e-15);
                growth = 2.0;
                parameters = trial;
                sum = found;
                core::mem::swap(&mut room.residuals, &mut room.trial_residuals);
                core::mem::swap(&mut room.rows, &mut room.trial_rows);
                break;
            }
            damping *= growth;
            growth *= 2.0;
            if damping > 1e20 {
                // No step however short helps: the sum of squares is at its floor in this arithmetic.
                return Ok(done);
            }
        }
    }
}

impl<const P: usize> Room<P> {
    /// Empty room; it fits itself to the points.
    #[must_use]
    pub fn new() -> Self {
        Self {
            residuals: Vec::new(),
            rows: Vec::new(),
            trial_residuals: Vec::new(),
            trial_rows: Vec::new(),
            work: Vec::new(),
            right: Vec::new(),
        }
    }

    fn fit_to(&mut self, points: usize) {
        self.residuals.resize(points, 0.0);
        self.trial_residuals.resize(points, 0.0);
        self.right.resize(points, 0.0);
        self.rows.resize(points, [0.0; P]);
        self.trial_rows.resize(points, [0.0; P]);
        self.work.resize(points, [0.0; P]);
    }

    /// Upper triangle and rotated residuals of the derivatives at the parameters, with what is pushed against a bound left out.
    fn triangularise(
        &mut self,
        parameters: &[f64; P],
        bounds: &[[f64; 2]; P],
        scale: &mut [f64; P],
    ) -> ([[f64; P]; P], [f64; P], [bool; P]) {
        let mut gradient = [0.0; P];
        let mut norms = [0.0; P];
        for (row, residual) in self.rows.iter().zip(&self.residuals) {
            for j in 0..P {
                gradient[j] += row[j] * residual;
                norms[j] += row[j] * row[j];
            }
        }
        let at_bound: [bool; P] = core::array::from_fn(|j| {
            (parameters[j] <= bounds[j][0] && gradient[j] > 0.0)
                || (parameters[j] >= bounds[j][1] && gradient[j] < 0.0)
        });
        for j in 0..P {
            scale[j] = scale[j].max(norms[j].sqrt());
        }
        self.work.copy_from_slice(&self.rows);
        self.right.copy_from_slice(&self.residuals);
        if at_bound.contains(&true) {
            for row in &mut self.work {
                for j in 0..P {
                    if at_bound[j] {
                        row[j] = 0.0;
                    }
                }
            }
        }
        householder(&mut self.work, &mut self.right);
        let triangle =
            core::array::from_fn(|i| core::array::from_fn(|j| if j >= i { self.work[i][j] } else { 0.0 }));
        (triangle, core::array::from_fn(|i| self.right[i]), at_bound)
    }
}

fn clamped<const P: usize>(mut parameters: [f64; P], bounds: &[[f64; 2]; P]) -> [f64; P] {
    for (parameter, [low, high]) in parameters.iter_mut().zip(bounds) {
        *parameter = parameter.max(*low).min(*high);
    }
    parameters
}

fn squares(residuals: &[f64]) -> f64 {
    let sum: f64 = residuals.iter().map(|r| r * r).sum();
    if sum.is_nan() { f64::INFINITY } else { sum }
}

/// Turns the rows into an upper triangle by reflections and takes the right side along.
///
/// All columns of a row are worked on at once, those left of the reflection with a factor of zero: loops of a fixed length that the
/// compiler runs side by side.
fn householder<const P: usize>(rows: &mut [[f64; P]], right: &mut [f64]) {
    for column in 0..P.min(rows.len()) {
        let (rows, right) = (&mut rows[column..], &mut right[column..]);
        let norm: f64 = rows.iter().map(|row| row[column] * row[column]).sum::<f64>().sqrt();
        if norm == 0.0 {
            continue;
        }
        let pivot = rows[0][column];
        let turned = -norm.copysign(pivot);
        // v = x - turned e; H = I - v v' / (v'v / 2)
        let first = pivot - turned;
        let half = -turned * first;
        rows[0][column] = first;
        let mut products = [0.0; P];
        let mut product_right = 0.0;
        for (row, value) in rows.iter().zip(right.iter()) {
            let v = row[column];
            for (product, entry) in products.iter_mut().zip(row) {
                *product += v * entry;
            }
            product_right += v * value;
        }
        for (j, product) in products.iter_mut().enumerate() {
            *product = if j > column { *product / half } else { 0.0 };
        }
        product_right /= half;
        for (row, value) in rows.iter_mut().zip(right.iter_mut()) {
            let v = row[column];
            for (entry, product) in row.iter_mut().zip(&products) {
                *entry -= v * product;
            }
            *value -= v * product_right;
            row[column] = 0.0;
        }
        rows[0][column] = turned;
    }
}

/// The damped step: the triangle with the rows of the damping rotated into it, solved from below.
fn damped_step<const P: usize>(
    triangle: &[[f64; P]; P],
    rotated: &[f64; P],
    scale: &[f64; P],
    damping: f64,
) -> [f64; P] {
    let (mut r, mut q) = (*triangle, *rotated);
    let root = damping.sqrt();
    for start in 0..P {
        let mut row = [0.0; P];
        row[start] = root * scale[start];
        let mut value = 0.0;
        for k in start..P {
            if row[k] == 0.0 {
                continue;
            }
            let length = r[k][k].root_sum_square(row[k]);
            let (c, s) = (r[k][k] / length, row[k] / length);
            for j in k..P {
                let above = r[k][j];
                r[k][j] = c * above + s * row[j];
                row[j] = c * row[j] - s * above;
            }
            let above = q[k];
            q[k] = c * above + s * value;
            value = c * value - s * above;
        }
    }
    let mut step = [0.0; P];
    for i in (0..P).rev() {
        let mut value = -q[i];
        for j in i + 1..P {
            value -= r[i][j] * step[j];
        }
        step[i] = if r[i][i] == 0.0 { 0.0 } else { value / r[i][i] };
    }
    step
}

/// Length in the scale of the columns.
fn length<const P: usize>(scale: &[f64; P], vector: &[f64; P]) -> f64 {
    scale.iter().zip(vector).map(|(scale, value)| (scale * value).powi(2)).sum::<f64>().sqrt()
}

/// How much the linear model says the step takes off the sum of squares.
fn promise<const P: usize>(triangle: &[[f64; P]; P], rotated: &[f64; P], step: &[f64; P]) -> f64 {
    let mut promised = 0.0;
    for i in 0..P {
        let moved: f64 = (i..P).map(|j| triangle[i][j] * step[j]).sum();
        // q^2 - (q + m)^2, without cancellation
        promised -= moved * (2.0 * rotated[i] + moved);
    }
    promised
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_line_is_found_in_one_step_with_its_covariance() {
        // Points on y = 2 + 3 x with errors +1, -1, -1, +1: textbook sums, x = 0..3, Sxx = 5, slope 3, intercept 2.
        let (x, y) = ([0.0, 1.0, 2.0, 3.0], [3.0, 4.0, 7.0, 12.0]);
        let fit = least_squares(
            4,
            [0.0, 0.0],
            &[[-1e9, 1e9]; 2],
            &Stop::default(),
            &mut Room::new(),
            |p, r, rows| {
                for i in 0..4 {
                    r[i] = p[0] + p[1] * x[i] - y[i];
                    rows[i] = [1.0, x[i]];
                }
                true
            },
        )
        .unwrap();
        assert!((fit.parameters[0] - 2.0).abs() < 1e-9 && (fit.parameters[1] - 3.0).abs() < 1e-9);
        assert!((fit.sum - 4.0).abs() < 1e-9);
        let covariance = fit.covariance().unwrap();
        // s^2 = 4 / 2; var(slope) = s^2 / Sxx = 0.4, var(intercept) = s^2 (1/4 + 1.5^2 / 5) = 1.4.
        assert!((covariance[1][1] - 0.4).abs() < 1e-9 && (covariance[0][0] - 1.4).abs() < 1e-9);
    }

    #[test]
    fn the_condition_is_the_ratio_of_the_singular_values() {
        // Two columns of length 1 at an angle with the cosine c have the singular values sqrt(1 + c) and sqrt(1 - c).
        let cosine = 0.999_999_f64;
        let sine = (1.0 - cosine * cosine).sqrt();
        let fit = Fit {
            parameters: [0.0; 3],
            sum: 1.0,
            points: 5,
            evaluations: 1,
            at_bound: [false, false, true],
            triangle: [[1.0, cosine, 0.0], [0.0, sine, 0.0], [0.0; 3]],
        };
        let wanted = ((1.0 + cosine) / (1.0 - cosine)).sqrt();
        assert!((fit.condition().unwrap() / wanted - 1.0).abs() < 1e-9);
        let none = Fit { at_bound: [false; 3], ..fit };
        assert_eq!(none.condition(), None);
    }

    #[test]
    fn a_bound_holds_and_is_told() {
        let fit = least_squares(3, [0.5], &[[0.0, 1.0]], &Stop::default(), &mut Room::new(), |p, r, rows| {
            for i in 0..3 {
                r[i] = p[0] - 2.0;
                rows[i] = [1.0];
            }
            true
        })
        .unwrap();
        assert_eq!((fit.parameters[0], fit.at_bound[0], fit.free()), (1.0, true, 0));
    }

    #[test]
    fn fewer_points_than_parameters_are_refused() {
        let refused =
            least_squares(1, [0.0; 2], &[[-1.0, 1.0]; 2], &Stop::default(), &mut Room::new(), |_, _, _| true);
        assert_eq!(refused, Err(FitError::TooFewPoints { points: 1, parameters: 2 }));
    }
}

//! How fast microbes die in a product: the time for one tenth to survive, from counts of which some lie below their floor.
//!
//! ```text
//! log10 N = a - t/D + e,  e normal with one deviation s
//! ln L = sum found ln f((y - m)/s)/s + sum below ln F((c - m)/s)        y a count found, c the floor of one that was not, m = a - t/D
//! ```
//!
//! A count below its floor says only that it lies below: it enters with the probability of that, not as a number (maximum likelihood,
//! found by Dempster's expectations; the covariance is the curvature of ln L at the top). Where none lies below it is the plain straight line.
//! Two counts found give D without an interval, fewer give none. Range: dying by one mechanism; where the curve bends (a tail, a shoulder)
//! the line misleads, and the largest distance from it is told. Source: Orth, J. Soc. Cosmet. Chem. 44 (1993) 333 (use), from memory for the
//! likelihood of censored numbers (Tobin, Econometrica 26 (1958) 24). Case: `tests/cross/killing.toml`.

use levigate_measure::elementary::Elementary as _;
use levigate_measure::regression::{Regression, RegressionError};
use levigate_measure::uncertainty::student;
use thiserror::Error;

/// A count at a time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Survivors {
    /// Hours since the start.
    pub hours: f64,
    /// Decimal logarithm of the count, or of its floor.
    pub log: f64,
    /// Whether the count lies below its floor.
    pub below: bool,
}

/// Why there is no line.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum KillingError {
    /// Fewer than two counts were found.
    #[error("{found} counts were found above their floors: a line needs two")]
    TooFewFound {
        /// Counts found.
        found: usize,
    },
    /// All counts are of one time.
    #[error("all counts that were found are of one time")]
    OneTime,
    /// The number of survivors does not fall.
    #[error("the survivors do not fall: {per_hour} decades per hour")]
    NotFalling {
        /// Slope found.
        per_hour: f64,
    },
    /// A number that is none.
    #[error("a count or a time is not a number")]
    NotANumber,
}

impl KillingError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::TooFewFound { .. } => {
                "count earlier, while something is left, or plate less dilute: a lower floor finds more"
            }
            Self::OneTime => "count at a second time",
            Self::NotFalling { .. } => "there is no time for one tenth to survive where nothing dies",
            Self::NotANumber => "correct the count or leave it out",
        }
    }
}

/// A line through survivors.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Killing {
    /// Decimal logarithm at the start.
    pub start: f64,
    /// Hours for one tenth to survive.
    pub d_hours: f64,
    /// Lower and upper limit of it; `None` with two counts found, and an upper limit of `None` where dying is not told from living on.
    pub within: Option<(f64, Option<f64>)>,
    /// Deviation of one logarithm about the line; zero with two counts found.
    pub scatter: f64,
    /// Largest distance of a count found from the line, in decades.
    pub largest: f64,
    /// Counts found.
    pub found: usize,
    /// Counts below their floors.
    pub below: usize,
}

/// Rounds of expectation and fit at most.
const ROUNDS: usize = 20_000;

/// The line, with limits that cover a share.
///
/// # Errors
/// [`KillingError`].
pub fn killing(points: &[Survivors], coverage: f64) -> Result<Killing, KillingError> {
    if points.iter().any(|point| !(point.hours.is_finite() && point.log.is_finite())) {
        return Err(KillingError::NotANumber);
    }
    let found: Vec<Survivors> = points.iter().copied().filter(|point| !point.below).collect();
    if found.len() < 2 {
        return Err(KillingError::TooFewFound { found: found.len() });
    }
    let line = |points: &[Survivors]| -> Result<Regression, KillingError> {
        let rows: Vec<[f64; 2]> = points.iter().map(|point| [1.0, point.hours]).collect();
        let logs: Vec<f64> = points.iter().map(|point| point.log).collect();
        Regression::fit(&rows, &logs).map_err(|error| match error {
            RegressionError::NotANumber { .. } => KillingError::NotANumber,
            _ => KillingError::OneTime,
        })
    };
    let alone = line(&found)?;
    let [start, slope] = [alone.coefficients[0], alone.coefficients[1]];
    let free = found.len() - 2;
    if free == 0 {
        return finished(points, (start, slope), 0.0, None);
    }
    if found.len() == points.len() {
        let error = alone.standard_error(1).unwrap_or(f64::NAN);
        let half = student::factor(coverage, number(free)) * error;
        return finished(points, (start, slope), alone.scatter().unwrap_or(0.0), Some(half));
    }
    let mut now = (start, slope, (alone.residual_sum / number(found.len())).sqrt().max(1e-6));
    for _ in 0..ROUNDS {
        let (a, b, s) = now;
        let mut spread = 0.0;
        let expected: Vec<Survivors> = points
            .iter()
            .map(|point| {
                if !point.below {
                    return *point;
                }
                let middle = a + b * point.hours;
                let z = (point.log - middle) / s;
                let ratio = hazard(z);
                spread += s * s * (1.0 - z * ratio - ratio * ratio);
                Survivors { log: middle - s * ratio, ..*point }
            })
            .collect();
        let fit = line(&expected)?;
        let next = (
            fit.coefficients[0],
            fit.coefficients[1],
            ((fit.residual_sum + spread) / number(points.len())).sqrt(),
        );
        let moved = [(next.0, a), (next.1, b), (next.2, s)]
            .iter()
            .map(|(new, old)| (new - old).abs() / new.abs().max(1e-12))
            .fold(0.0, f64::max);
        now = next;
        if moved < 1e-13 {
            break;
        }
    }
    let (a, b, s) = now;
    // Likelihood takes the deviation a little small where the line was fitted to the same counts: as many degrees as were found, less two.
    let inflated = (number(found.len()) / number(free)).sqrt();
    let half =
        curvature(points, (a, b, s)).map(|error| student::factor(coverage, number(free)) * error * inflated);
    finished(points, (a, b), s * inflated, half)
}

fn finished(
    points: &[Survivors],
    (start, slope): (f64, f64),
    scatter: f64,
    half: Option<f64>,
) -> Result<Killing, KillingError> {
    if slope >= 0.0 || slope.is_nan() {
        return Err(KillingError::NotFalling { per_hour: slope });
    }
    let found = points.iter().filter(|point| !point.below);
    Ok(Killing {
        start,
        d_hours: -1.0 / slope,
        within: half
            .map(|half| (-1.0 / (slope - half), Some(-1.0 / (slope + half)).filter(|_| slope + half < 0.0))),
        scatter,
        largest: found
            .clone()
            .map(|point| (point.log - start - slope * point.hours).abs())
            .fold(0.0, f64::max),
        found: found.count(),
        below: points.iter().filter(|point| point.below).count(),
    })
}

/// Density over share below of the standard normal distribution.
fn hazard(z: f64) -> f64 {
    if z < -30.0 {
        // Mills' ratio far out.
        return -z + 1.0 / -z;
    }
    (-0.5 * z * z).exp_e() / (2.0 * core::f64::consts::PI).sqrt() / z.normal_below()
}

/// Standard error of the slope from the curvature of the likelihood.
fn curvature(points: &[Survivors], (a, b, s): (f64, f64, f64)) -> Option<f64> {
    // Observed information of (a, b, ln s), by the derivatives of each term.
    let mut information = [[0.0; 3]; 3];
    for point in points {
        let z = (point.log - a - b * point.hours) / s;
        // Of a term g(z): first and second derivative by z.
        let (first, second) = if point.below {
            let ratio = hazard(z);
            (ratio, -ratio * (z + ratio))
        } else {
            (-z, -1.0)
        };
        let by = [-1.0 / s, -point.hours / s, -z];
        for i in 0..3 {
            for j in 0..3 {
                // d2z/di dj: of ln s with anything it is minus the derivative once more.
                let bend = match (i, j) {
                    (2, 2) => z,
                    (2, k) | (k, 2) => -by[k],
                    _ => 0.0,
                };
                information[i][j] -= second * by[i] * by[j] + first * bend;
            }
        }
    }
    // The inverse at (1, 1), by cofactors.
    let m = information;
    let cofactor = m[0][0] * m[2][2] - m[0][2] * m[2][0];
    let determinant = m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1])
        - m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0])
        + m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0]);
    let variance = cofactor / determinant;
    (variance > 0.0 && variance.is_finite()).then(|| variance.sqrt())
}

fn number(count: usize) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "a handful of counts")]
    let value = count as f64;
    value
}

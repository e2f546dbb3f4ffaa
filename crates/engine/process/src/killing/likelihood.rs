//! The likelihood of counts of which some lie below their floor: the line at its top, and how far its parameters are known there.
//!
//! With `h = 1/s`, `g = (a, b)/s` the logarithm of the likelihood has one top only, and Newton's steps find it from anywhere. Source: from
//! memory (Olsen, Econometrica 46 (1978) 1211). Case: `tests/cross/killing.toml`.

use levigate_measure::elementary::Elementary as _;
use levigate_measure::regression::{Regression, RegressionError};

use super::{KillingError, Survivors, number};

/// A line along any abscissa, at the top of its likelihood.
#[derive(Clone, Copy, Debug)]
pub(super) struct Censored {
    /// Logarithm at the abscissa of zero.
    pub start: f64,
    /// Per unit of the abscissa.
    pub slope: f64,
    /// Deviation of one logarithm, as likelihood has it.
    pub scatter: f64,
    /// Logarithm of the likelihood.
    pub likelihood: f64,
}

/// What a model says of a time, with its first and second derivatives.
pub(super) struct Mean<const P: usize> {
    pub value: f64,
    pub by: [f64; P],
    pub bend: [[f64; P]; P],
}

/// Newton's steps at most.
const STEPS: usize = 200;
/// A deviation below this is none: counts that lie on the line to the last digit.
const EXACT: f64 = 1e-9;

/// The line along `abscissa`.
pub(super) fn line(
    points: &[Survivors],
    abscissa: impl Fn(&Survivors) -> f64,
) -> Result<Censored, KillingError> {
    let found: Vec<&Survivors> = points.iter().filter(|point| !point.below).collect();
    let rows: Vec<[f64; 2]> = found.iter().map(|point| [1.0, abscissa(point)]).collect();
    let logs: Vec<f64> = found.iter().map(|point| point.log).collect();
    let alone = Regression::fit(&rows, &logs).map_err(|error| match error {
        RegressionError::NotANumber { .. } => KillingError::NotANumber,
        _ => KillingError::OneTime,
    })?;
    let (start, slope) = (alone.coefficients[0], alone.coefficients[1]);
    let scatter = (alone.residual_sum / number(found.len())).sqrt().max(EXACT);
    let told = |start: f64, slope: f64, scatter: f64| {
        let mean = |point: &Survivors| start + slope * abscissa(point);
        Censored { start, slope, scatter, likelihood: likelihood(points, mean, scatter) }
    };
    if found.len() == points.len() {
        return Ok(told(start, slope, scatter));
    }
    let mut now = [start / scatter, slope / scatter, 1.0 / scatter];
    let value = |[a, b, h]: [f64; 3]| told(a / h, b / h, 1.0 / h).likelihood;
    let mut here = value(now);
    for _ in 0..STEPS {
        let (gradient, curvature) = slope_and_curvature(points, &abscissa, now);
        let Some(step) = solved(curvature, gradient) else { break };
        let mut share = 1.0;
        let next = loop {
            let next = [0, 1, 2].map(|i| now[i] + share * step[i]);
            if next[2] > 0.0 && value(next) >= here {
                break Some(next);
            }
            share *= 0.5;
            if share < 1e-10 {
                break None;
            }
        };
        let Some(next) = next else { break };
        let moved = (0..3).map(|i| (next[i] - now[i]).abs() / next[i].abs().max(1e-12)).fold(0.0, f64::max);
        now = next;
        here = value(now);
        if moved < 1e-14 || now[2] > 1.0 / EXACT {
            break;
        }
    }
    Ok(told(now[0] / now[2], now[1] / now[2], 1.0 / now[2]))
}

/// Gradient and negative curvature of the logarithm of the likelihood by `(a/s, b/s, 1/s)`.
fn slope_and_curvature(
    points: &[Survivors],
    abscissa: &impl Fn(&Survivors) -> f64,
    [a, b, h]: [f64; 3],
) -> ([f64; 3], [[f64; 3]; 3]) {
    let (mut gradient, mut curvature) = ([0.0; 3], [[0.0; 3]; 3]);
    for point in points {
        let by = [-1.0, -abscissa(point), point.log];
        let z = h * point.log - a + b * by[1];
        let (first, second) = term(z, point.below);
        for i in 0..3 {
            gradient[i] += first * by[i];
            for j in 0..3 {
                curvature[i][j] -= second * by[i] * by[j];
            }
        }
        if !point.below {
            gradient[2] += 1.0 / h;
            curvature[2][2] += 1.0 / (h * h);
        }
    }
    (gradient, curvature)
}

/// Logarithm of the likelihood.
pub(super) fn likelihood(points: &[Survivors], mean: impl Fn(&Survivors) -> f64, scatter: f64) -> f64 {
    points
        .iter()
        .map(|point| {
            let z = (point.log - mean(point)) / scatter;
            match point.below {
                // Far out the share below has no digits left; Mills' ratio has.
                true if z < -30.0 => {
                    -0.5 * z * z - (hazard(z) * (2.0 * core::f64::consts::PI).sqrt()).log_e()
                }
                true => z.normal_below().log_e(),
                false => -0.5 * z * z - scatter.log_e() - 0.5 * (2.0 * core::f64::consts::PI).log_e(),
            }
        })
        .sum()
}

/// First and second derivative of a term by its standardised distance.
fn term(z: f64, below: bool) -> (f64, f64) {
    if below {
        let ratio = hazard(z);
        (ratio, -ratio * (z + ratio))
    } else {
        (-z, -1.0)
    }
}

/// Density over share below of the standard normal distribution.
fn hazard(z: f64) -> f64 {
    if z < -30.0 {
        // Mills' ratio far out.
        return -z + 1.0 / -z;
    }
    (-0.5 * z * z).exp_e() / (2.0 * core::f64::consts::PI).sqrt() / z.normal_below()
}

/// Gradient of the logarithm of the likelihood by the `P` parameters of the mean and the logarithm of the deviation, and the observed
/// information (minus its second derivatives); `N` is `P + 1`.
pub(super) fn information<const P: usize, const N: usize>(
    points: &[Survivors],
    mean: impl Fn(f64) -> Mean<P>,
    scatter: f64,
) -> ([f64; N], [[f64; N]; N]) {
    let (mut gradient, mut information) = ([0.0; N], [[0.0; N]; N]);
    for point in points {
        let of = mean(point.hours);
        let z = (point.log - of.value) / scatter;
        let (first, second) = term(z, point.below);
        let by: [f64; N] = core::array::from_fn(|i| if i < P { -of.by[i] / scatter } else { -z });
        for i in 0..N {
            gradient[i] += first * by[i];
            for j in 0..N {
                // d2z/di dj: of ln s with anything it is minus the derivative once more.
                let bend = match (i < P, j < P) {
                    (true, true) => -of.bend[i][j] / scatter,
                    (true, false) => -by[i],
                    (false, true) => -by[j],
                    (false, false) => z,
                };
                information[i][j] -= second * by[i] * by[j] + first * bend;
            }
        }
        if !point.below {
            gradient[N - 1] -= 1.0;
        }
    }
    (gradient, information)
}

/// Standard errors at the top; `None` where it is no top.
pub(super) fn deviations<const P: usize, const N: usize>(
    points: &[Survivors],
    mean: impl Fn(f64) -> Mean<P>,
    scatter: f64,
) -> Option<[f64; N]> {
    let (_, information) = information::<P, N>(points, mean, scatter);
    let mut errors = [0.0; N];
    for (place, error) in errors.iter_mut().enumerate() {
        let unit: [f64; N] = core::array::from_fn(|i| if i == place { 1.0 } else { 0.0 });
        *error = solved(information, unit)?[place].sqrt();
    }
    errors.iter().all(|error| error.is_finite()).then_some(errors)
}

/// Solution of symmetric positive definite equations after Cholesky; `None` where they are not.
pub(super) fn solved<const N: usize>(matrix: [[f64; N]; N], right: [f64; N]) -> Option<[f64; N]> {
    // Each unknown in its own measure, so that units do not cost digits.
    let measure: [f64; N] = core::array::from_fn(|i| matrix[i][i].sqrt());
    let mut lower = [[0.0; N]; N];
    for i in 0..N {
        for j in 0..=i {
            let known: f64 = (0..j).map(|k| lower[i][k] * lower[j][k]).sum();
            let left = matrix[i][j] / (measure[i] * measure[j]) - known;
            lower[i][j] = if i == j { left.sqrt() } else { left / lower[j][j] };
        }
        if !(lower[i][i] > 0.0 && lower[i][i].is_finite()) {
            return None;
        }
    }
    let mut answer: [f64; N] = core::array::from_fn(|i| right[i] / measure[i]);
    for i in 0..N {
        let known: f64 = (0..i).map(|k| lower[i][k] * answer[k]).sum();
        answer[i] = (answer[i] - known) / lower[i][i];
    }
    for i in (0..N).rev() {
        let known: f64 = (i + 1..N).map(|k| lower[k][i] * answer[k]).sum();
        answer[i] = (answer[i] - known) / lower[i][i];
    }
    for i in 0..N {
        answer[i] /= measure[i];
    }
    Some(answer)
}

//! The law of propagation of uncertainty.
//!
//! ```text
//! u(y)^2 = sum_i sum_j c_i c_j u_i u_j r_ij                                          c_i = df/dx_i            first order
//!        + sum_i sum_j (1/2 (d2f/dx_i dx_j)^2 + df/dx_i d3f/dx_i dx_j^2) u_i^2 u_j^2                         second order
//! nu_eff = u(y)^4 / sum_i (c_i u_i)^4 / nu_i
//! U      = k u(y)                                            k of Student's t for nu_eff, cut to a whole number
//! ```
//!
//! | symbol | meaning |
//! |---|---|
//! | x_i, u_i, nu_i | estimate, its standard uncertainty, the degrees of freedom of that |
//! | r_ij | coefficient of correlation |
//! | y, U | value of the model, its expanded uncertainty |
//!
//! Derivatives are central differences over a tenth and a twentieth of the standard uncertainty, joined so that the cubic error falls out
//! (Richardson); those of second and third order over a tenth. Their relative error is about 1e-9 for models of moderate curvature over
//! `u`, and the rounding of the model over `c_i u_i`. An input of no uncertainty is not moved.
//!
//! Range: models that are smooth over a few standard uncertainties; the second-order terms hold for inputs that are independent and normal
//! and are refused with correlations. Sources: JCGM 100:2008, 5.1.2 with its note, 5.2.2, G.4; several outputs together, JCGM 102:2011,
//! 6.2. Cases: `tests/published/uncertainty.toml`.

use super::UncertaintyError;
use super::inputs::{Correlation, Estimate};
use super::student::factor;

/// How far the model is followed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Order {
    /// First derivatives only.
    #[default]
    First,
    /// With the terms of second order.
    Second,
}

/// Share of the standard uncertainty over which differences are taken.
const STRIDE: f64 = 0.1;

/// What the law of propagation gives for one output.
#[derive(Clone, Debug, PartialEq)]
pub struct Propagation {
    /// Value of the model at the estimates.
    pub value: f64,
    /// Standard uncertainty.
    pub standard_uncertainty: f64,
    /// `c_i u_i` of every input, with its sign.
    pub contributions: Vec<f64>,
    /// What the terms of second order add to the variance.
    pub second_order_variance: f64,
    /// Effective degrees of freedom; infinite where every uncertainty is taken as known.
    pub effective_degrees: f64,
}

impl Propagation {
    /// Coverage factor by Student's t for the effective degrees of freedom cut to a whole number.
    #[must_use]
    pub fn coverage_factor(&self, coverage: f64) -> f64 {
        let degrees = if self.effective_degrees.is_finite() {
            self.effective_degrees.floor().max(1.0)
        } else {
            f64::INFINITY
        };
        factor(coverage, degrees)
    }

    /// Expanded uncertainty.
    #[must_use]
    pub fn expanded(&self, coverage: f64) -> f64 {
        self.coverage_factor(coverage) * self.standard_uncertainty
    }

    /// Share of every input in the variance of first order without correlations, 0 to 1; nothing where there is no variance.
    #[must_use]
    pub fn shares(&self) -> Vec<f64> {
        let all: f64 = self.contributions.iter().map(|part| part * part).sum();
        let share = |part: &f64| if all > 0.0 { part * part / all } else { 0.0 };
        self.contributions.iter().map(share).collect()
    }
}

/// What the law of propagation gives for several outputs of one model.
#[derive(Clone, Debug, PartialEq)]
pub struct Together {
    /// Every output by itself.
    pub outputs: Vec<Propagation>,
    /// Coefficient of correlation between every two outputs, row by row; 0 where one has no uncertainty.
    pub correlation: Vec<f64>,
}

/// Propagates through a model with one output.
///
/// # Errors
/// [`UncertaintyError`] where an uncertainty is not one, a correlation cannot be, or the model gives no number nearby.
pub fn propagate(
    names: &[String],
    estimates: &[Estimate],
    correlation: &Correlation,
    order: Order,
    model: impl Fn(&[f64]) -> f64,
) -> Result<Propagation, UncertaintyError> {
    let wide = |x: &[f64], y: &mut [f64]| y[0] = model(x);
    let mut together = propagate_together(names, estimates, correlation, order, 1, wide)?;
    Ok(together.outputs.remove(0))
}

/// Propagates through a model with several outputs, which it writes into its second argument.
///
/// # Errors
/// As [`propagate`].
pub fn propagate_together(
    names: &[String],
    estimates: &[Estimate],
    correlation: &Correlation,
    order: Order,
    outputs: usize,
    model: impl Fn(&[f64], &mut [f64]),
) -> Result<Together, UncertaintyError> {
    for estimate in estimates {
        check(estimate)?;
    }
    correlation.check(estimates.len())?;
    if order == Order::Second
        && let Some((_, _, coefficient)) = correlation.pairs().iter().find(|(_, _, r)| *r != 0.0)
    {
        return Err(UncertaintyError::Parameter {
            what: "coefficient of correlation beside terms of second order",
            value: *coefficient,
        });
    }
    let around = Around { names, estimates, outputs, model };
    let value = around.at(&[])?;
    // Per input, per output.
    let mut contributions = Vec::with_capacity(estimates.len());
    for place in 0..estimates.len() {
        contributions.push(around.contribution(place)?);
    }
    let mut covariance = vec![0.0; outputs * outputs];
    for one in 0..outputs {
        for other in 0..outputs {
            let own: f64 = contributions.iter().map(|part| part[one] * part[other]).sum();
            let pairs = correlation.pairs().iter();
            let joint: f64 = pairs
                .map(|(i, j, r)| {
                    r * (contributions[*i][one] * contributions[*j][other]
                        + contributions[*j][one] * contributions[*i][other])
                })
                .sum();
            covariance[one * outputs + other] = own + joint;
        }
    }
    let beyond = match order {
        Order::First => vec![0.0; outputs],
        Order::Second => around.second_order(&contributions)?,
    };
    let mut read = Vec::with_capacity(outputs);
    for output in 0..outputs {
        let first = covariance[output * outputs + output].max(0.0);
        let fourth: f64 = contributions
            .iter()
            .zip(estimates)
            .filter(|(_, estimate)| estimate.degrees.is_finite())
            .map(|(part, estimate)| part[output].powi(4) / estimate.degrees)
            .sum();
        let variance = (first + beyond[output]).max(0.0);
        read.push(Propagation {
            value: value[output],
            standard_uncertainty: variance.sqrt(),
            contributions: contributions.iter().map(|part| part[output]).collect(),
            second_order_variance: beyond[output],
            effective_degrees: if fourth > 0.0 { first * first / fourth } else { f64::INFINITY },
        });
    }
    let mut coefficients = covariance.clone();
    for one in 0..outputs {
        for other in 0..outputs {
            let scale = (covariance[one * outputs + one] * covariance[other * outputs + other]).sqrt();
            let place = one * outputs + other;
            coefficients[place] = if scale > 0.0 { covariance[place] / scale } else { 0.0 };
        }
    }
    Ok(Together { outputs: read, correlation: coefficients })
}

fn check(estimate: &Estimate) -> Result<(), UncertaintyError> {
    let Estimate { value, standard_uncertainty, degrees } = *estimate;
    if !value.is_finite() {
        return Err(UncertaintyError::Parameter { what: "estimate", value });
    }
    if !(standard_uncertainty.is_finite() && standard_uncertainty >= 0.0) {
        return Err(UncertaintyError::Parameter {
            what: "standard uncertainty",
            value: standard_uncertainty,
        });
    }
    if degrees > 0.0 {
        Ok(())
    } else {
        Err(UncertaintyError::Parameter { what: "degrees of freedom", value: degrees })
    }
}

/// A model around its estimates.
struct Around<'a, M> {
    names: &'a [String],
    estimates: &'a [Estimate],
    outputs: usize,
    model: M,
}

impl<M: Fn(&[f64], &mut [f64])> Around<'_, M> {
    /// The outputs with some inputs moved by so many standard uncertainties.
    fn at(&self, moved: &[(usize, f64)]) -> Result<Vec<f64>, UncertaintyError> {
        let mut x: Vec<f64> = self.estimates.iter().map(|estimate| estimate.value).collect();
        for &(place, by) in moved {
            x[place] += by * self.estimates[place].standard_uncertainty;
        }
        let mut y = vec![f64::NAN; self.outputs];
        (self.model)(&x, &mut y);
        if y.iter().all(|value| value.is_finite()) {
            return Ok(y);
        }
        let place = moved.first().map_or(0, |(place, _)| *place);
        let name = self.names.get(place).cloned().unwrap_or_default();
        Err(UncertaintyError::NotANumber { name, value: x.get(place).copied().unwrap_or(f64::NAN) })
    }

    fn still(&self, place: usize) -> bool {
        self.estimates[place].standard_uncertainty == 0.0
    }

    /// `c u` of an input, per output.
    fn contribution(&self, place: usize) -> Result<Vec<f64>, UncertaintyError> {
        if self.still(place) {
            return Ok(vec![0.0; self.outputs]);
        }
        let slope = |by: f64| -> Result<Vec<f64>, UncertaintyError> {
            let (up, down) = (self.at(&[(place, by)])?, self.at(&[(place, -by)])?);
            Ok(up.iter().zip(down).map(|(up, down)| (up - down) / (2.0 * by)).collect())
        };
        let (wide, narrow) = (slope(STRIDE)?, slope(0.5 * STRIDE)?);
        Ok(narrow.iter().zip(wide).map(|(narrow, wide)| (4.0 * narrow - wide) / 3.0).collect())
    }

    /// What the terms of second order add to the variance of every output. All derivatives are in standard uncertainties.
    fn second_order(&self, first: &[Vec<f64>]) -> Result<Vec<f64>, UncertaintyError> {
        let h = STRIDE;
        let mut beyond = vec![0.0; self.outputs];
        let middle = self.at(&[])?;
        let count = self.estimates.len();
        for i in (0..count).filter(|place| !self.still(*place)) {
            let (up, down) = (self.at(&[(i, h)])?, self.at(&[(i, -h)])?);
            let (far_up, far_down) = (self.at(&[(i, 2.0 * h)])?, self.at(&[(i, -2.0 * h)])?);
            for output in 0..self.outputs {
                let curvature = (up[output] - 2.0 * middle[output] + down[output]) / (h * h);
                let third = (far_up[output] - 2.0 * up[output] + 2.0 * down[output] - far_down[output])
                    / (2.0 * h * h * h);
                beyond[output] += 0.5 * curvature * curvature + first[i][output] * third;
            }
            for j in (0..count).filter(|place| *place != i && !self.still(*place)) {
                let corner = |a: f64, b: f64| self.at(&[(i, a * h), (j, b * h)]);
                let (pp, pm, mp, mm) =
                    (corner(1.0, 1.0)?, corner(1.0, -1.0)?, corner(-1.0, 1.0)?, corner(-1.0, -1.0)?);
                for output in 0..self.outputs {
                    let cross = (pp[output] - pm[output] - mp[output] + mm[output]) / (4.0 * h * h);
                    // d3f/dx_i dx_j^2: how the curvature along j changes along i.
                    let bent = |p: f64, middle: f64, m: f64| (p - 2.0 * middle + m) / (h * h);
                    let third = (bent(pp[output], up[output], pm[output])
                        - bent(mp[output], down[output], mm[output]))
                        / (2.0 * h);
                    beyond[output] += 0.5 * cross * cross + first[i][output] * third;
                }
            }
        }
        Ok(beyond)
    }
}

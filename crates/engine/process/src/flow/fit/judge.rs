//! What a fitted flow model may say: limits, and no plateau or yield stress that the measured shear rates do not reach.

use super::{ModelFit, Ranking, TIE, Weights, bounds, plain, search, sought};
use crate::flow::curve::Curve;
use crate::flow::estimate::{Fitted, ProfileLimits, aicc, fitted, outliers};
use crate::flow::model::{FlowModel, MOST_PARAMETERS};
use crate::flow::profile::Minimum;
use levigate_measure::least_squares::{Fit, Room, Stop};

pub(super) fn judged<const P: usize>(
    curve: &Curve,
    model: FlowModel,
    weights: Weights,
    fit: &Fit<P>,
) -> ModelFit {
    let mut p = [0.0; MOST_PARAMETERS];
    p[..P].copy_from_slice(&fit.parameters);
    let laid = model.with(&p);
    let mut residuals: Vec<f64> = curve
        .rates
        .iter()
        .zip(&curve.ln_rates)
        .map(|(rate, ln_rate)| laid.at(*rate, *ln_rate).stress)
        .collect();
    weights.weigh::<P>(curve, &mut residuals, &mut []);
    let mut parameters = fitted(model.parameters(), fit);
    for parameter in &mut parameters {
        if parameter.not_settled.is_none() {
            parameter.not_settled = out_of_reach(curve, parameter);
        }
    }
    ModelFit {
        model,
        parameters,
        weights,
        outliers: outliers(&residuals),
        residuals,
        root_mean_square: (fit.sum / curve.len() as f64).sqrt(),
        aicc: aicc(curve.len(), P, fit.sum),
        window: curve.window(),
        temperature_c: curve.temperature_c(),
    }
}

/// Why a plateau or yield stress lies outside what the shear rates reach.
fn out_of_reach(curve: &Curve, parameter: &Fitted) -> Option<String> {
    let value = parameter.value;
    let [low, high] = curve.window();
    match parameter.symbol {
        "tau0" => {
            let least = curve.stresses.iter().copied().fold(f64::INFINITY, f64::min);
            (least > 2.0 * value).then(|| {
                format!(
                    "the lowest stress measured, {least:.3} Pa, is more than twice it; measure below {low:.3} 1/s to name a yield stress"
                )
            })
        }
        "eta0" => {
            let within: Vec<f64> = curve
                .points()
                .take_while(|(rate, _)| *rate <= 10.0 * low)
                .map(|(rate, stress)| stress / rate)
                .collect();
            let highest = within.iter().copied().fold(0.0, f64::max);
            let lowest = within.iter().copied().fold(f64::INFINITY, f64::min);
            (within.len() < 2 || highest > 1.1 * lowest).then(|| {
                format!(
                    "the viscosity still rises by more than a tenth over the lowest decade measured; measure below {low:.3} 1/s to name a \
                     viscosity at rest"
                )
            })
        }
        "eta_inf" => {
            let lowest = curve.lowest_viscosity();
            (lowest > 2.0 * value).then(|| {
                format!(
                    "the lowest viscosity measured, {lowest:.4} Pa s, is more than twice it; measure above {high:.3} 1/s to name a \
                     viscosity at high shear"
                )
            })
        }
        _ => None,
    }
}

/// A yield stress is not named where a model that flows at rest describes the points as well: the data do not tell a yield stress from a
/// very high viscosity at rest.
pub(super) fn doubt_yield_stresses(ranking: &mut Ranking) {
    let flowing = ranking
        .fits
        .iter()
        .filter(|fit| fit.parameters[0].symbol == "eta0")
        .filter_map(|fit| Some((fit.aicc?, fit.model, fit.parameters[0].value)))
        .min_by(|a, b| a.0.total_cmp(&b.0));
    let Some((best, model, at_rest)) = flowing else { return };
    for fit in ranking.fits.iter_mut().filter(|fit| fit.model.yields()) {
        let tied = fit.aicc.is_none_or(|aicc| best < aicc + TIE);
        let yield_stress = &mut fit.parameters[0];
        if tied && yield_stress.not_settled.is_none() {
            yield_stress.not_settled = Some(format!(
                "{} without a yield stress describes the points as well, with {at_rest:.3} Pa s at rest; measure at lower shear rates to \
                 tell them apart",
                model.words()
            ));
        }
    }
}

/// Adds the limits by the profile to the parameters of a fit of this curve.
pub(super) fn profiled<const P: usize>(curve: &Curve, fit: &mut ModelFit) {
    let (model, weights) = (fit.model, fit.weights);
    let Ok(values) = <[f64; P]>::try_from(fit.values()) else { return };
    let bounds = bounds::<P>(curve, model);
    let held = |j: usize, value: f64| value <= bounds[j][0] || value >= bounds[j][1];
    let parameters = sought(model, values);
    let free = (0..P).filter(|j| !held(*j, parameters[*j])).count();
    let minimum = Minimum {
        parameters,
        sum: fit.residuals.iter().map(|r| r * r).sum(),
        degrees: curve.len().saturating_sub(free),
        deviations: core::array::from_fn(|j| {
            let error = fit.parameters[j].standard_error?;
            Some(if model.parameters()[j].by_logarithm { error / values[j] } else { error })
        }),
        bounds,
    };
    let mut room = Room::new();
    let limits = minimum.limits(|start, bounds| {
        search(curve, model, weights, start, bounds, &Stop::default(), &mut room)
            .ok()
            .map(|found| (found.parameters, found.sum))
    });
    let end = |j: usize, which: fn(&ProfileLimits) -> Option<f64>| {
        which(&limits[j]).map(|value| {
            let mut all = parameters;
            all[j] = value;
            plain(model, all)[j]
        })
    };
    for (j, parameter) in fit.parameters.iter_mut().enumerate() {
        parameter.profile =
            Some(ProfileLimits { low: end(j, |limits| limits.low), high: end(j, |limits| limits.high) });
    }
}

/// A point of the residual plot.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct ResidualPoint {
    /// Shear rate, 1/s.
    pub shear_rate: f64,
    /// Stress measured, Pa.
    pub stress: f64,
    /// Stress of the model, Pa.
    pub fitted: f64,
    /// Residual as weighed.
    pub residual: f64,
    /// Residual in units of the standard deviation of a residual; absent where the points do not give one.
    pub standardised: Option<f64>,
    /// Stands apart from the others.
    pub outlier: bool,
}

/// How often the residuals change their sign, against chance (Wald and Wolfowitz, from memory).
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Runs {
    /// Stretches of one sign found.
    pub found: usize,
    /// Stretches that chance would give.
    pub expected: f64,
    /// So few that chance alone would hardly give them (one in forty): the model misses the shape of the curve.
    pub systematic: bool,
}

impl ModelFit {
    /// The residual plot: the points in the order of rising shear rate. The curve is the one fitted.
    #[must_use]
    pub fn residual_points(&self, curve: &Curve) -> Vec<ResidualPoint> {
        let left = self.residuals.len().saturating_sub(self.parameters.len());
        let deviation = (left > 0)
            .then(|| (self.residuals.iter().map(|r| r * r).sum::<f64>() / left as f64).sqrt())
            .filter(|deviation| *deviation > 0.0);
        curve
            .points()
            .zip(&self.residuals)
            .enumerate()
            .map(|(i, ((shear_rate, stress), residual))| ResidualPoint {
                shear_rate,
                stress,
                fitted: self.stress(shear_rate),
                residual: *residual,
                standardised: deviation.map(|deviation| residual / deviation),
                outlier: self.outliers.contains(&i),
            })
            .collect()
    }

    /// Whether the residuals scatter by chance; `None` for fewer than ten points or residuals of one sign.
    #[must_use]
    pub fn runs(&self) -> Option<Runs> {
        let signs: Vec<bool> = self.residuals.iter().filter(|r| **r != 0.0).map(|r| *r > 0.0).collect();
        let above = signs.iter().filter(|sign| **sign).count() as f64;
        let (all, below) = (signs.len() as f64, signs.len() as f64 - above);
        if signs.len() < 10 || above == 0.0 || below == 0.0 {
            return None;
        }
        let found = 1 + signs.windows(2).filter(|pair| pair[0] != pair[1]).count();
        let expected = 2.0 * above * below / all + 1.0;
        let deviation = ((expected - 1.0) * (expected - 2.0) / (all - 1.0)).sqrt();
        Some(Runs { found, expected, systematic: (found as f64 - expected) < -1.96 * deviation })
    }
}

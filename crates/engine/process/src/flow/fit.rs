//! Fits flow models to a measured curve, ranks them, and says what the data do not settle.
//!
//! ```text
//! log       r_i = ln(tau_model / tau_i)          every decade weighs the same (default)
//! relative  r_i = tau_model / tau_i - 1
//! linear    r_i = (tau_model - tau_i) / tau_max    the top decade decides
//! ```
//!
//! Parameters that span decades are searched by their logarithm, exponents as they are, all within the bounds of the model; the viscosity at
//! high shear never above the lowest one measured. Several starts are tried and the best polished. Two models within 2 of AICc are a
//! tie: the one with fewer parameters is taken. Standard errors are those of the linearised problem at the solution (covariance), with
//! the residual variance; limits by the profile on request, see [`super::estimate`]. A plateau or yield stress that the shear rates do not
//! reach, or that another model as good does without, carries the reason why it is not to be named.
//! Range: at least three points more than parameters for a ranking; one curve, one temperature. Cases: `tests/cross/flow_fits.csv`, fits of open data
//! sets by another program.

mod judge;
mod starts;

pub use super::curve::{Curve, CurveError};
pub use super::estimate::{Fitted, ProfileLimits};
pub use judge::{ResidualPoint, Runs};

use super::model::{FlowModel, MOST_PARAMETERS};
use judge::{doubt_yield_stresses, judged, profiled};
use levigate_measure::elementary::Elementary as _;
use levigate_measure::fast_exp::{exp_in_place, ln_in_place};
use levigate_measure::least_squares::{Fit, FitError, Room, Stop, least_squares};
use serde::{Deserialize, Serialize};
use starts::starts;

/// How residuals are weighed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Weights {
    /// Logarithm of model over measured.
    #[default]
    Log,
    /// Model over measured, less one.
    Relative,
    /// Difference of the stresses.
    Linear,
}

impl Weights {
    /// Stresses to residuals, in place, and the logarithmic slopes of as many points as there are rows to slopes of the residuals.
    pub(crate) fn weigh<const P: usize>(self, curve: &Curve, values: &mut [f64], rows: &mut [[f64; P]]) {
        if self == Self::Log {
            ln_in_place(values);
            for (value, measured) in values.iter_mut().zip(&curve.ln_stresses) {
                *value -= measured;
            }
            return;
        }
        let unit = |measured: f64| if self == Self::Relative { measured } else { curve.most_stress };
        for ((row, stress), measured) in rows.iter_mut().zip(values.iter()).zip(&curve.stresses) {
            for slope in row {
                *slope *= stress / unit(*measured);
            }
        }
        for (value, measured) in values.iter_mut().zip(&curve.stresses) {
            *value = (*value - measured) / unit(*measured);
        }
    }
}

/// A model fitted to a curve.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ModelFit {
    /// Model.
    pub model: FlowModel,
    /// Its parameters.
    pub parameters: Vec<Fitted>,
    /// How residuals were weighed.
    pub weights: Weights,
    /// Residuals in the order of rising shear rate.
    pub residuals: Vec<f64>,
    /// Root of their mean square.
    pub root_mean_square: f64,
    /// Akaike's criterion corrected for few points; absent where the points do not suffice.
    pub aicc: Option<f64>,
    /// Shear rates it was fitted on, 1/s.
    pub window: [f64; 2],
    /// Temperature of the curve, C, where said.
    pub temperature_c: Option<f64>,
    /// Points whose residual lies beyond 3.5 robust deviations, in the order of rising shear rate.
    pub outliers: Vec<usize>,
}

impl ModelFit {
    /// The values of the parameters in the order of the model, SI.
    #[must_use]
    pub fn values(&self) -> Vec<f64> {
        self.parameters.iter().map(|parameter| parameter.value).collect()
    }

    /// The same fit with limits by the profile of the sum of squares beside those by the covariance. The curve is the one fitted.
    #[must_use]
    pub fn with_profiles(mut self, curve: &Curve) -> Self {
        match self.parameters.len() {
            1 => profiled::<1>(curve, &mut self),
            2 => profiled::<2>(curve, &mut self),
            3 => profiled::<3>(curve, &mut self),
            4 => profiled::<4>(curve, &mut self),
            _ => profiled::<5>(curve, &mut self),
        }
        self
    }

    /// Stress at a shear rate, Pa.
    #[must_use]
    pub fn stress(&self, shear_rate: f64) -> f64 {
        self.model.stress(&self.values(), shear_rate)
    }
}

/// All models on one curve.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Ranking {
    /// Fits, best AICc first; models the points do not suffice for last.
    pub fits: Vec<ModelFit>,
    /// Models without a fit, and why.
    pub without: Vec<(FlowModel, String)>,
    /// Place of the model to take in `fits`: the fewest parameters among those within 2 of the best.
    pub taken: Option<usize>,
}

/// Starts, loosely searched, before the best are polished.
const LOOSE: Stop = Stop { relative_step: 1e-4, relative_gain: 1e-6, most: 60 };
const POLISHED: usize = 4;
/// Two models this near in AICc are a tie.
const TIE: f64 = 2.0;

/// Fits one model.
///
/// # Errors
/// [`FitError`] where the points are fewer than the parameters or no start converges.
pub fn fit_model(curve: &Curve, model: FlowModel, weights: Weights) -> Result<ModelFit, FitError> {
    match model.parameters().len() {
        1 => whole::<1>(curve, model, weights),
        2 => whole::<2>(curve, model, weights),
        3 => whole::<3>(curve, model, weights),
        4 => whole::<4>(curve, model, weights),
        _ => whole::<5>(curve, model, weights),
    }
}

/// Fits all models and ranks them.
#[must_use]
pub fn fit_all(curve: &Curve, weights: Weights) -> Ranking {
    let (mut fits, mut without) = (Vec::new(), Vec::new());
    for model in FlowModel::ALL {
        match fit_model(curve, model, weights) {
            Ok(fit) => fits.push(fit),
            Err(error) => without.push((model, error.to_string())),
        }
    }
    fits.sort_by(|a, b| a.aicc.unwrap_or(f64::INFINITY).total_cmp(&b.aicc.unwrap_or(f64::INFINITY)));
    let best = fits.first().and_then(|fit| fit.aicc);
    let taken = best.and_then(|best| {
        let near = |fit: &&(usize, &ModelFit)| fit.1.aicc.is_some_and(|aicc| aicc - best < TIE);
        fits.iter()
            .enumerate()
            .collect::<Vec<_>>()
            .iter()
            .filter(near)
            .min_by_key(|fit| fit.1.parameters.len())
            .map(|fit| fit.0)
    });
    let mut ranking = Ranking { fits, without, taken };
    doubt_yield_stresses(&mut ranking);
    ranking
}

/// One start, no intervals: the bare search, for whoever fits thousands of curves. Values in SI, in and out.
///
/// # Errors
/// As [`fit_model`].
pub fn fit_from<const P: usize>(
    curve: &Curve,
    model: FlowModel,
    weights: Weights,
    start: [f64; P],
    stop: &Stop,
    room: &mut Room<P>,
) -> Result<[f64; P], FitError> {
    let bounds = bounds::<P>(curve, model);
    let fit = search(curve, model, weights, sought(model, start), &bounds, stop, room)?;
    Ok(plain(model, fit.parameters))
}

fn sought<const P: usize>(model: FlowModel, mut values: [f64; P]) -> [f64; P] {
    for (value, parameter) in values.iter_mut().zip(model.parameters()) {
        if parameter.by_logarithm {
            *value = value.max(1e-300).log_e();
        }
    }
    values
}

fn plain<const P: usize>(model: FlowModel, mut values: [f64; P]) -> [f64; P] {
    for (value, parameter) in values.iter_mut().zip(model.parameters()) {
        if parameter.by_logarithm {
            *value = value.exp_e();
        }
    }
    values
}

/// Bounds of the search. Those of parameters of many decades count from the middle of the curve, so that units do not matter.
fn bounds<const P: usize>(curve: &Curve, model: FlowModel) -> [[f64; 2]; P] {
    let middle = |logarithms: &[f64]| 0.5 * (logarithms[0] + logarithms[logarithms.len() - 1]);
    let (ln_rate, ln_stress) = (middle(&curve.ln_rates), middle(&curve.ln_stresses));
    let mut bounds = [[0.0; 2]; P];
    for (bound, parameter) in bounds.iter_mut().zip(model.parameters()) {
        *bound = parameter.bounds;
        if parameter.by_logarithm {
            let scale = match parameter.unit {
                "Pa" | "Pa s^n" => ln_stress,
                "Pa s" => ln_stress - ln_rate,
                "1/s" => ln_rate,
                _ => -ln_rate,
            };
            *bound = parameter.bounds.map(|end| end.log_e() + scale);
        }
        if parameter.symbol == "eta_inf" {
            bound[1] = bound[1].min(curve.lowest_viscosity().log_e());
        }
    }
    bounds
}

fn search<const P: usize>(
    curve: &Curve,
    model: FlowModel,
    weights: Weights,
    start: [f64; P],
    bounds: &[[f64; 2]; P],
    stop: &Stop,
    room: &mut Room<P>,
) -> Result<Fit<P>, FitError> {
    let mut p = [0.0; MOST_PARAMETERS];
    least_squares(curve.len(), start, bounds, stop, room, |parameters, residuals, rows| {
        p[..P].copy_from_slice(parameters);
        let laid = model.with(&p);
        // The residuals hold the exponents, then the stresses on the way: what takes long is taken of all points at once.
        for (exponent, ln_rate) in residuals.iter_mut().zip(&curve.ln_rates) {
            *exponent = laid.exponent(*ln_rate);
        }
        exp_in_place(residuals);
        let points = curve.rates.iter().zip(&curve.ln_rates);
        for ((value, row), (rate, ln_rate)) in residuals.iter_mut().zip(rows.iter_mut()).zip(points) {
            let at = laid.at_power(*rate, *ln_rate, *value);
            *value = at.stress;
            row.copy_from_slice(&at.slopes[..P]);
        }
        weights.weigh(curve, residuals, rows);
        let all: f64 = residuals.iter().sum();
        all.is_finite()
    })
}

fn whole<const P: usize>(curve: &Curve, model: FlowModel, weights: Weights) -> Result<ModelFit, FitError> {
    let bounds = bounds::<P>(curve, model);
    let mut room = Room::new();
    let mut found: Vec<(f64, [f64; P])> = Vec::new();
    let mut trouble = FitError::NoStart;
    for start in starts::<P>(curve, model) {
        match search(curve, model, weights, start, &bounds, &LOOSE, &mut room) {
            Ok(fit) => found.push((fit.sum, fit.parameters)),
            // Loosely searched, far is far enough to be polished.
            Err(FitError::NotConverged { .. }) => found.push((f64::MAX, start)),
            Err(error) => trouble = error,
        }
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut best: Option<Fit<P>> = None;
    for (_, start) in found.into_iter().take(POLISHED) {
        match search(curve, model, weights, start, &bounds, &Stop::default(), &mut room) {
            Ok(fit) if best.as_ref().is_none_or(|best| fit.sum < best.sum) => best = Some(fit),
            Ok(_) => {}
            Err(error) => trouble = error,
        }
    }
    Ok(judged(curve, model, weights, &best.ok_or(trouble)?))
}

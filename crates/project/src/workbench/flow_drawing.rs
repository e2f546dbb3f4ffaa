//! What the figures of a measured flow curve show: a model through the points, what it leaves over, what it settles.

use super::flow_fit::{CurveFit, ModelReading, ParameterReading, model_word};
use levigate_measure::elementary::Elementary as _;
use levigate_process::flow::liquid::{Liquid as _, Modelled};

/// Points of a drawn curve for each decade.
const PER_DECADE: f64 = 12.0;
/// How far a curve is drawn beyond the points it was fitted to, as a factor.
const BEYOND: f64 = 10.0;

/// A model laid through measured points.
#[derive(Clone, Debug, PartialEq)]
pub struct DrawnFit {
    /// Shear rate (1/s) and viscosity (Pa s) along the model.
    pub curve: Vec<[f64; 2]>,
    /// Lowest and highest shear rate fitted, 1/s.
    pub window: [f64; 2],
    /// Shear rate (1/s) and ln(model / measured) of the points fitted, shear rates rising, and whether a point stands apart.
    pub left: Vec<(f64, f64, bool)>,
    /// Yield stress, Pa, where the points settle one.
    pub yield_stress: Option<f64>,
    /// Viscosity at rest, Pa s, where the points settle one.
    pub at_rest: Option<f64>,
}

/// One of the models of a curve by its word; without a word the one taken.
#[must_use]
pub fn model_of<'c>(curve: &'c CurveFit, word: &str) -> Option<&'c ModelReading> {
    let taken = curve.taken.as_ref().map(|taken| taken.model);
    curve
        .models
        .iter()
        .find(|one| if word.is_empty() { Some(one.model) == taken } else { model_word(one.model) == word })
}

/// Lays a model through the points of its curve.
#[must_use]
pub fn drawn(curve: &CurveFit, fit: &ModelReading) -> Option<DrawnFit> {
    let parameters: Vec<f64> = fit.parameters.iter().filter_map(|one| one.estimate.value).collect();
    if parameters.len() != fit.model.parameters().len() {
        return None;
    }
    let liquid = Modelled { model: fit.model, parameters };
    let window = curve.window.as_ref().map(|window| [window.from, window.to])?;
    let [low, high] = [window[0] / BEYOND, window[1] * BEYOND];
    let steps = ((high / low).log_10() * PER_DECADE).ceil().clamp(1.0, 400.0);
    let along = (0..=steps as u32).map(|step| low * (high / low).to_the(f64::from(step) / steps));
    let left = curve.points.iter().zip(&fit.fitted_stress).enumerate().map(|(at, (point, fitted))| {
        (point.shear_rate, (fitted / point.stress).log_e(), fit.outliers.contains(&at))
    });
    let settled = |symbol: &str| {
        let found = fit.parameters.iter().find(|one| one.symbol == symbol && one.not_settled.is_none());
        found.and_then(|one: &ParameterReading| one.estimate.value).filter(|value| *value > 0.0)
    };
    Some(DrawnFit {
        curve: along.map(|rate| [rate, liquid.viscosity(rate)]).collect(),
        window,
        left: left.collect(),
        yield_stress: settled("tau0"),
        at_rest: settled("eta0").or_else(|| settled("eta")),
    })
}

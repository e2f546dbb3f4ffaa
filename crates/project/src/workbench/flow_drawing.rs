//! What the figures of a measured flow curve or recovery show: a model through the points, what it leaves over, what it settles.

use super::flow_fit::{
    CurveFit, LawReading, ModelReading, ParameterReading, RecoveryFit, law_word, model_word,
};
use levigate_measure::elementary::Elementary as _;
use levigate_process::flow::liquid::{Liquid as _, Modelled};
use levigate_process::flow::thixotropy::RecoveryLaw;

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

/// Pieces of a drawn recovery.
const PIECES: u32 = 120;
/// How far a recovery is drawn beyond its last reading, as a factor.
const LATER: f64 = 1.25;

/// A law laid through readings over time.
#[derive(Clone, Debug, PartialEq)]
pub struct DrawnRecovery {
    /// Time (s) and viscosity (Pa s) along the law, times rising.
    pub curve: Vec<(f64, f64)>,
    /// Time (s) and ln(law / measured) of the readings, times rising, and whether a reading stands apart.
    pub left: Vec<(f64, f64, bool)>,
    /// Viscosity in the end, Pa s, where the readings settle it.
    pub in_the_end: Option<f64>,
}

/// One of the laws of a recovery by its word; without a word the one taken.
#[must_use]
pub fn law_of<'r>(recovery: &'r RecoveryFit, word: &str) -> Option<&'r LawReading> {
    let taken = recovery.taken.as_ref().map(|taken| taken.law);
    recovery
        .laws
        .iter()
        .find(|one| if word.is_empty() { Some(one.law) == taken } else { law_word(one.law) == word })
}

/// Lays a law through the readings of its recovery.
#[must_use]
pub fn drawn_recovery(recovery: &RecoveryFit, law: &LawReading) -> DrawnRecovery {
    let constants: Vec<f64> = law.parameters.iter().filter_map(|one| one.estimate.value).collect();
    let last = recovery.points.last().map_or(0.0, |point| point.time_s);
    // Close together at the beginning, where it bends most; the last reading is one of them.
    let along = (0..=PIECES).map(|step| f64::from(step) / f64::from(PIECES));
    let before = along.map(|share| last * share * share);
    let after = (1..=10).map(|step| last * (1.0 + (LATER - 1.0) * f64::from(step) / 10.0));
    let curve = before.chain(after).map(|time| (time, RecoveryLaw::viscosity(&constants, time))).collect();
    let left = recovery.points.iter().zip(&law.fitted_viscosity).enumerate().map(|(at, (point, fitted))| {
        (point.time_s, (fitted / point.viscosity).log_e(), law.outliers.contains(&at))
    });
    let end = law.parameters.get(1).filter(|end| end.not_settled.is_none());
    DrawnRecovery { curve, left: left.collect(), in_the_end: end.and_then(|end| end.estimate.value) }
}

//! Fits flow models to a measured curve, ranks them, and says what the data do not settle.
//!
//! ```text
//! log       r_i = ln(tau_model / tau_i)          every decade weighs the same (default)
//! relative  r_i = tau_model / tau_i - 1
//! linear    r_i = (tau_model - tau_i) / tau_max    the top decade decides
//! AICc = N ln(S / N) + 2 k + 2 k (k + 1) / (N - k - 1),   k = parameters + 1
//! ```
//!
//! Parameters that span decades are searched by their logarithm, exponents as they are, all within the bounds of the model; the viscosity at
//! high shear never above the lowest one measured. Several starts are tried and the best polished. Two models within 2 of AICc are a
//! tie: the one with fewer parameters is taken. Standard errors are those of the linearised problem at the solution (covariance), with
//! the residual variance; 95 % limits by Student's t, in the logarithm where the parameter was searched by it.
//! Range: at least three points more than parameters for a ranking; one curve, one temperature. Sources: Hurvich and Tsai, Biometrika 76 (1989) 297
//! (AICc, from memory). Cases: `tests/cross/flow_fits.csv`, fits of open data sets by another program.

use super::model::{FlowModel, MOST_PARAMETERS};
use levigate_measure::elementary::Elementary as _;
use levigate_measure::fast_exp::{exp_in_place, ln_in_place};
use levigate_measure::least_squares::{Fit, FitError, Room, Stop, least_squares};
use serde::{Deserialize, Serialize};
use thiserror::Error;

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
    fn weigh<const P: usize>(self, curve: &Curve, values: &mut [f64], rows: &mut [[f64; P]]) {
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

/// Why points are no curve.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum CurveError {
    /// Rates and stresses do not pair up.
    #[error("{rates} shear rates and {stresses} stresses do not pair up")]
    Unpaired {
        /// Rates.
        rates: usize,
        /// Stresses.
        stresses: usize,
    },
    /// A value that cannot be.
    #[error("point {point}: shear rate {shear_rate} 1/s with stress {stress} Pa cannot be fitted")]
    NotPositive {
        /// Point, from 0.
        point: usize,
        /// Shear rate, 1/s.
        shear_rate: f64,
        /// Stress, Pa.
        stress: f64,
    },
    /// Too few different shear rates.
    #[error("{different} different shear rates are no curve")]
    OneRate {
        /// Different shear rates.
        different: usize,
    },
}

impl CurveError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Unpaired { .. } => "give one stress or viscosity for every shear rate",
            Self::NotPositive { .. } => {
                "leave out points at rest and readings below zero; a sign means the direction, not the amount"
            }
            Self::OneRate { .. } => "measure at three or more speeds",
        }
    }
}

/// A measured flow curve.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    rates: Vec<f64>,
    stresses: Vec<f64>,
    ln_rates: Vec<f64>,
    ln_stresses: Vec<f64>,
    most_stress: f64,
}

impl Curve {
    /// A curve of shear rates (1/s) and stresses (Pa), in any order, repeats allowed.
    ///
    /// # Errors
    /// [`CurveError`] for points that are no positive numbers, or fewer than two different shear rates.
    pub fn new(rates: &[f64], stresses: &[f64]) -> Result<Self, CurveError> {
        if rates.len() != stresses.len() {
            return Err(CurveError::Unpaired { rates: rates.len(), stresses: stresses.len() });
        }
        let mut points: Vec<(f64, f64)> = Vec::with_capacity(rates.len());
        for (point, (&shear_rate, &stress)) in rates.iter().zip(stresses).enumerate() {
            let usable = |value: f64| value.is_finite() && value > 0.0;
            if !(usable(shear_rate) && usable(stress)) {
                return Err(CurveError::NotPositive { point, shear_rate, stress });
            }
            points.push((shear_rate, stress));
        }
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut different: Vec<f64> = points.iter().map(|point| point.0).collect();
        different.dedup();
        if different.len() < 2 {
            return Err(CurveError::OneRate { different: different.len() });
        }
        Ok(Self {
            ln_rates: points.iter().map(|point| point.0.log_e()).collect(),
            ln_stresses: points.iter().map(|point| point.1.log_e()).collect(),
            most_stress: points.iter().map(|point| point.1).fold(0.0, f64::max),
            rates: points.iter().map(|point| point.0).collect(),
            stresses: points.iter().map(|point| point.1).collect(),
        })
    }

    /// Number of points.
    #[must_use]
    pub fn len(&self) -> usize {
        self.rates.len()
    }

    /// Never: a curve has at least two points.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.rates.is_empty()
    }

    /// Lowest and highest shear rate, 1/s.
    #[must_use]
    pub fn window(&self) -> [f64; 2] {
        [self.rates[0], self.rates[self.rates.len() - 1]]
    }

    /// Shear rates (rising) and stresses.
    pub fn points(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.rates.iter().copied().zip(self.stresses.iter().copied())
    }

    fn lowest_viscosity(&self) -> f64 {
        self.points().map(|(rate, stress)| stress / rate).fold(f64::INFINITY, f64::min)
    }
}

/// A parameter of a fit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Fitted {
    /// Symbol.
    pub symbol: &'static str,
    /// Meaning in words.
    pub words: &'static str,
    /// Unit.
    pub unit: &'static str,
    /// Value, SI.
    pub value: f64,
    /// Standard error, SI; absent where the data do not settle it.
    pub standard_error: Option<f64>,
    /// 95 % limits by the covariance.
    pub limits: Option<[f64; 2]>,
    /// Why the value is not to be named, where it is not.
    pub not_settled: Option<String>,
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
    /// Points whose residual lies beyond 3.5 robust deviations, in the order of rising shear rate.
    pub outliers: Vec<usize>,
}

impl ModelFit {
    /// The values of the parameters in the order of the model, SI.
    #[must_use]
    pub fn values(&self) -> Vec<f64> {
        self.parameters.iter().map(|parameter| parameter.value).collect()
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
    Ranking { fits, without, taken }
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

fn bounds<const P: usize>(curve: &Curve, model: FlowModel) -> [[f64; 2]; P] {
    let mut bounds = [[0.0; 2]; P];
    for (bound, parameter) in bounds.iter_mut().zip(model.parameters()) {
        let [low, mut high] = parameter.bounds;
        if parameter.symbol == "eta_inf" {
            high = high.min(curve.lowest_viscosity());
        }
        *bound = if parameter.by_logarithm { [low.log_e(), high.log_e()] } else { [low, high] };
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

/// Starting values, in the parameters of the search: what the shape of the curve suggests, and variations of it.
fn starts<const P: usize>(curve: &Curve, model: FlowModel) -> Vec<[f64; P]> {
    let last = curve.len() - 1;
    let (low, high) = (curve.rates[0], curve.rates[last]);
    let (stress_low, stress_high) = (curve.stresses[0], curve.stresses[last]);
    let (at_rest, at_high) = (stress_low / low, curve.lowest_viscosity());
    let index = ((stress_high / stress_low).log_e() / (high / low).log_e()).clamp(0.05, 1.0);
    let least = curve.stresses.iter().copied().fold(f64::INFINITY, f64::min);
    // Time constants from one over the highest to one over the lowest shear rate.
    let times: Vec<f64> = (0..6).map(|k| (high * (low / high).to_the(f64::from(k) / 5.0)).recip()).collect();
    let mut plain: Vec<Vec<f64>> = Vec::new();
    let consistency =
        |above: f64, index: f64| (stress_high - above).max(0.1 * stress_high) / high.to_the(index);
    match model {
        FlowModel::Newton => plain.push(vec![at_high]),
        FlowModel::PowerLaw => plain.push(vec![stress_high / high.to_the(index), index]),
        FlowModel::Bingham | FlowModel::Casson => {
            for share in [0.2, 0.9] {
                plain.push(vec![share * least, at_high]);
            }
        }
        FlowModel::HerschelBulkley => {
            for share in [1e-3, 0.3, 0.9] {
                for index in [0.3, 0.5, 0.8] {
                    plain.push(vec![share * least, consistency(share * least, index), index]);
                }
            }
        }
        FlowModel::ThreeComponent => {
            for share in [0.1, 0.9] {
                for time in &times {
                    plain.push(vec![share * least, time.recip(), 0.3 * at_high]);
                }
            }
        }
        FlowModel::Ellis => {
            for stress in [stress_low, (stress_low * stress_high).sqrt(), stress_high] {
                for alpha in [1.5, 2.5, 5.0] {
                    plain.push(vec![1.2 * at_rest, stress, alpha]);
                }
            }
        }
        FlowModel::Cross | FlowModel::Carreau | FlowModel::CrossThinning | FlowModel::CarreauThinning => {
            for time in &times {
                for exponent in [0.4, 0.8] {
                    let both = matches!(model, FlowModel::Cross | FlowModel::Carreau);
                    let mut one = vec![1.2 * at_rest];
                    if both {
                        one.push(0.3 * at_high);
                    }
                    one.push(*time);
                    one.push(exponent);
                    plain.push(one);
                }
            }
        }
        FlowModel::CarreauYasuda | FlowModel::CarreauYasudaThinning => {
            for time in &times {
                for width in [0.5, 1.0, 2.0] {
                    for index in [0.2, 0.6] {
                        let mut one = vec![1.2 * at_rest];
                        if model == FlowModel::CarreauYasuda {
                            one.push(0.3 * at_high);
                        }
                        one.extend([*time, width, index]);
                        plain.push(one);
                    }
                }
            }
        }
    }
    plain
        .iter()
        .filter_map(|one| <[f64; P]>::try_from(one.as_slice()).ok())
        .map(|one| sought(model, one))
        .collect()
}

fn judged<const P: usize>(curve: &Curve, model: FlowModel, weights: Weights, fit: &Fit<P>) -> ModelFit {
    let values = plain(model, fit.parameters);
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
    let covariance = fit.covariance();
    let factor = student_95(curve.len().saturating_sub(fit.free()));
    let parameters = model
        .parameters()
        .iter()
        .enumerate()
        .map(|(j, parameter)| {
            let deviation = covariance
                .filter(|_| !fit.at_bound[j])
                .map(|covariance| covariance[j][j].sqrt())
                .filter(|deviation| deviation.is_finite() && *deviation > 0.0);
            let value = values[j];
            let limits = deviation.map(|deviation| {
                [-1.0, 1.0].map(|side| {
                    let moved = fit.parameters[j] + side * factor * deviation;
                    if parameter.by_logarithm { moved.exp_e() } else { moved }
                })
            });
            Fitted {
                symbol: parameter.symbol,
                words: parameter.words,
                unit: parameter.unit,
                value,
                standard_error: deviation
                    .map(|deviation| if parameter.by_logarithm { value * deviation } else { deviation }),
                limits,
                not_settled: not_settled(
                    curve,
                    parameter.symbol,
                    value,
                    fit.at_bound[j],
                    deviation,
                    parameter.by_logarithm,
                ),
            }
        })
        .collect();
    let points = curve.len() as f64;
    let k = (P + 1) as f64;
    let left = points - k - 1.0;
    let mean_square = fit.sum / points;
    ModelFit {
        model,
        parameters,
        weights,
        outliers: outliers(&residuals),
        residuals,
        root_mean_square: mean_square.sqrt(),
        aicc: (left > 0.0)
            .then(|| points * mean_square.max(1e-300).log_e() + 2.0 * k + 2.0 * k * (k + 1.0) / left),
        window: curve.window(),
    }
}

/// Why a parameter is not to be named: at a bound, drowned in its error, or outside what the shear rates reach.
fn not_settled(
    curve: &Curve,
    symbol: &str,
    value: f64,
    at_bound: bool,
    deviation: Option<f64>,
    by_logarithm: bool,
) -> Option<String> {
    if at_bound {
        return Some("it stands at the bound of what is allowed; the data do not ask for it".to_owned());
    }
    let Some(deviation) = deviation else {
        return Some("the data do not settle it beside the other parameters".to_owned());
    };
    let relative = if by_logarithm { deviation } else { deviation / value.abs() };
    if relative > 1.0 {
        return Some("its standard error is larger than itself".to_owned());
    }
    let least = curve.stresses.iter().copied().fold(f64::INFINITY, f64::min);
    if symbol == "tau0" && least > 2.0 * value {
        return Some(format!(
            "the lowest stress measured, {least:.3} Pa, is more than twice it; measure at lower shear rates to name a yield stress"
        ));
    }
    if symbol == "eta0" {
        let lowest = curve.rates[0];
        let within: Vec<f64> = curve
            .points()
            .take_while(|(rate, _)| *rate <= 10.0 * lowest)
            .map(|(rate, stress)| stress / rate)
            .collect();
        let rise =
            within.iter().copied().fold(0.0, f64::max) / within.iter().copied().fold(f64::INFINITY, f64::min);
        if within.len() < 2 || rise > 1.1 {
            return Some(
                "the viscosity still rises by more than a tenth over the lowest decade measured; measure at lower shear rates to name \
                 a viscosity at rest"
                    .to_owned(),
            );
        }
    }
    None
}

/// Points beyond 3.5 robust deviations (median of the absolute deviations times 1.4826).
fn outliers(residuals: &[f64]) -> Vec<usize> {
    if residuals.len() < 5 {
        return Vec::new();
    }
    let median = |values: &mut Vec<f64>| {
        values.sort_by(f64::total_cmp);
        let half = values.len() / 2;
        if values.len() % 2 == 1 { values[half] } else { 0.5 * (values[half - 1] + values[half]) }
    };
    let centre = median(&mut residuals.to_vec());
    let spread = 1.4826 * median(&mut residuals.iter().map(|r| (r - centre).abs()).collect());
    if spread <= 0.0 {
        return Vec::new();
    }
    (0..residuals.len()).filter(|i| (residuals[*i] - centre).abs() > 3.5 * spread).collect()
}

/// Two-sided 95 % factor of Student's t: Cornish-Fisher expansion (Abramowitz and Stegun 26.7.5), tabled below seven degrees.
fn student_95(degrees: usize) -> f64 {
    const FEW: [f64; 6] = [12.706, 4.303, 3.182, 2.776, 2.571, 2.447];
    if degrees == 0 {
        return f64::INFINITY;
    }
    if degrees <= FEW.len() {
        return FEW[degrees - 1];
    }
    let (z, n) = (1.959_964_f64, degrees as f64);
    let (z3, z5, z7) = (z.powi(3), z.powi(5), z.powi(7));
    z + (z3 + z) / (4.0 * n)
        + (5.0 * z5 + 16.0 * z3 + 3.0 * z) / (96.0 * n * n)
        + (3.0 * z7 + 19.0 * z5 + 17.0 * z3 - 15.0 * z) / (384.0 * n.powi(3))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn students_t_has_its_published_values() {
        for (degrees, value) in [(1, 12.706), (5, 2.571), (10, 2.228), (30, 2.042), (120, 1.980)] {
            assert!((student_95(degrees) - value).abs() < 0.003, "{degrees}: {}", student_95(degrees));
        }
    }

    #[test]
    fn points_that_cannot_be_are_refused_with_their_place() {
        assert_eq!(
            Curve::new(&[1.0, 2.0], &[3.0, f64::NAN]).map_err(|error| error.to_string().contains("point 1")),
            Err(true)
        );
        assert_eq!(Curve::new(&[1.0, 1.0], &[3.0, 3.0]), Err(CurveError::OneRate { different: 1 }));
    }
}

//! How flow follows temperature: one law through values at several temperatures, or through several whole curves at once.
//!
//! ```text
//! Arrhenius                    ln a(T) = Ea/R (1/T - 1/Tr)
//! Vogel, Fulcher, Tammann      ln a(T) = B/(T - T0) - B/(Tr - T0)
//! shift                        tau(g, T) = tau_r(a g)          every curve the one at Tr, pushed along the shear rate
//! one parameter                p(T) = p_r a(T)                 that parameter moves, the others are shared
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | T, Tr | temperature, temperature of reference | K |
//! | Ea | activation energy | J/mol |
//! | B, T0 | coefficient and temperature at which flow would stop | K |
//! | a | factor: viscosity at T over that at Tr when the shear rate is low | - |
//!
//! Two temperatures fit any activation energy and prove none, so three are asked for, and four for the three constants of VFT. Whole curves are held
//! against fits of every curve on its own: where those have the lower AICc by more than 2, the curves do not share what the law says they
//! share. Range: the temperatures measured; no gel point, cloud point or chain breaking between them. Sources: Vogel (1921), Fulcher (1925),
//! Tammann and Hesse (1926), from memory. Cases: `tests/cross/flow_temperature.toml`.

use super::curve::Curve;
use super::estimate::{Fitted, aicc, fitted};
use super::fit::{Weights, fit_model};
use super::model::{FlowModel, MOST_PARAMETERS, Parameter};
use levigate_measure::elementary::Elementary as _;
use levigate_measure::least_squares::{Fit, FitError, Room, Stop, least_squares};
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Gas constant, J/(mol K).
const GAS_J_MOL_K: f64 = 8.314_462_618;
/// Zero of the Celsius scale, K.
const ZERO_C: f64 = 273.15;
/// Temperatures nearer than this count as one, K.
const SAME_K: f64 = 0.2;
/// AICc apart by less is a tie, as between models.
const TIE: f64 = 2.0;

/// A law of temperature.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TemperatureLaw {
    /// Arrhenius: one constant.
    Arrhenius,
    /// Vogel, Fulcher and Tammann: two constants.
    Vft,
}

/// What the temperature moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Moved {
    /// The whole curve, along the shear rate.
    ShearRate,
    /// One parameter that spans decades, by its place in the model.
    Parameter(usize),
}

/// Why temperatures give no law.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum TemperatureError {
    /// Too few different temperatures.
    #[error("{different} different temperatures cannot test a law that needs {needed}")]
    TooFew {
        /// Different temperatures.
        different: usize,
        /// Least number.
        needed: usize,
    },
    /// A curve without temperature, or one that cannot be.
    #[error("curve {curve}: {} is no temperature of a liquid", temperature_c.map_or_else(|| "nothing said".to_owned(), |it| format!("{it} C")))]
    NoTemperature {
        /// Curve or value, from 0.
        curve: usize,
        /// Temperature, C.
        temperature_c: Option<f64>,
    },
    /// A value that cannot be.
    #[error("value {value}: {found} cannot follow a law of logarithms")]
    NotPositive {
        /// Value, from 0.
        value: usize,
        /// As given.
        found: f64,
    },
    /// A parameter that the model does not have, or that does not span decades.
    #[error("{} has no parameter {place} that a temperature moves by a factor", model.words())]
    NoSuchParameter {
        /// Model.
        model: FlowModel,
        /// Place.
        place: usize,
    },
    /// The search did not end.
    #[error("no fit: {0}")]
    Fit(#[from] FitError),
}

impl TemperatureError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::TooFew { .. } => {
                "measure at one more temperature, between the others; two temperatures fit any activation energy and prove none"
            }
            Self::NoTemperature { .. } => "state the temperature of every curve, in degrees Celsius",
            Self::NotPositive { .. } => "give viscosities or other parameters above zero",
            Self::NoSuchParameter { .. } => {
                "choose a viscosity, stress, consistency or time constant, or shift the whole curve"
            }
            Self::Fit(error) => error.hint(),
        }
    }
}

/// A factor at a temperature.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Factor {
    /// Temperature, C.
    pub temperature_c: f64,
    /// Factor against the temperature of reference.
    pub factor: f64,
}

/// A law through values.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LawFit {
    /// Law.
    pub law: TemperatureLaw,
    /// Temperature of reference, C.
    pub reference_c: f64,
    /// The value at the temperature of reference, then the constants of the law.
    pub parameters: Vec<Fitted>,
    /// Factors at the temperatures given.
    pub factors: Vec<Factor>,
    /// Residuals ln(law / value).
    pub residuals: Vec<f64>,
    /// Akaike's criterion corrected for few points; absent where the points do not suffice.
    pub aicc: Option<f64>,
    /// Lowest and highest temperature, C.
    pub window_c: [f64; 2],
}

/// One model through curves at several temperatures.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct JointFit {
    /// Model.
    pub model: FlowModel,
    /// What the temperature moves.
    pub moved: Moved,
    /// Law.
    pub law: TemperatureLaw,
    /// How residuals were weighed.
    pub weights: Weights,
    /// Temperature of reference, C.
    pub reference_c: f64,
    /// Parameters of the model at the temperature of reference, then the constants of the law.
    pub parameters: Vec<Fitted>,
    /// Factors at the temperatures measured.
    pub factors: Vec<Factor>,
    /// Residuals of every curve in the order of rising shear rate.
    pub residuals: Vec<Vec<f64>>,
    /// Root of the mean square of all residuals.
    pub root_mean_square: f64,
    /// Akaike's criterion corrected for few points, of the joint fit.
    pub aicc: Option<f64>,
    /// The same of all curves fitted on their own, together.
    pub aicc_apart: Option<f64>,
    /// Why the curves do not share one law, where they do not.
    pub not_shared: Option<String>,
    /// Lowest and highest temperature, C.
    pub window_c: [f64; 2],
    /// Lowest and highest shear rate, 1/s.
    pub window: [f64; 2],
}

const ACTIVATION: Parameter = Parameter {
    symbol: "Ea",
    words: "activation energy of flow",
    unit: "J/mol",
    by_logarithm: false,
    bounds: [-1e6, 1e6],
};
const COEFFICIENT: Parameter =
    Parameter { symbol: "B", words: "coefficient of VFT", unit: "K", by_logarithm: true, bounds: [1.0, 1e6] };
const STANDSTILL: Parameter = Parameter {
    symbol: "T0",
    words: "temperature at which flow would stop",
    unit: "K",
    by_logarithm: false,
    bounds: [0.0, 1e4],
};
const VALUE: Parameter = Parameter {
    symbol: "value",
    words: "value at the temperature of reference",
    unit: "",
    by_logarithm: true,
    bounds: [1e-300, 1e300],
};

impl TemperatureLaw {
    /// Its constants in the order everything here takes them.
    #[must_use]
    pub fn constants(self) -> &'static [Parameter] {
        match self {
            Self::Arrhenius => &[ACTIVATION],
            Self::Vft => &[COEFFICIENT, STANDSTILL],
        }
    }

    /// Least number of different temperatures that test it.
    #[must_use]
    pub fn needs(self) -> usize {
        self.constants().len() + 2
    }

    /// ln a and its slopes by the constants as a search moves them (kJ/mol; ln B and T0 in K).
    fn factor(self, constants: &[f64], kelvin: f64, reference: f64) -> (f64, [f64; 2]) {
        match self {
            Self::Arrhenius => {
                let per = (kelvin.recip() - reference.recip()) / GAS_J_MOL_K;
                (constants[0] * per, [per, 0.0])
            }
            Self::Vft => {
                let (coefficient, standstill) = (constants[0].exp_e(), constants[1]);
                let (here, there) = ((kelvin - standstill).recip(), (reference - standstill).recip());
                let value = coefficient * (here - there);
                (value, [value, coefficient * (here * here - there * there)])
            }
        }
    }

    fn bounds(self, lowest_k: f64) -> Vec<[f64; 2]> {
        match self {
            Self::Arrhenius => vec![ACTIVATION.bounds],
            Self::Vft => vec![COEFFICIENT.bounds.map(f64::log_e), [0.0, lowest_k - 1.0]],
        }
    }

    /// Constants to start from, in the parameters of the search, by the Arrhenius slope d ln a / d (1/T).
    fn starts(self, slope_k: f64, middle_k: f64, lowest_k: f64) -> Vec<Vec<f64>> {
        match self {
            Self::Arrhenius => vec![vec![slope_k * GAS_J_MOL_K]],
            Self::Vft => [0.2, 0.5, 0.8, 0.95]
                .map(|share| {
                    let standstill = share * (lowest_k - 1.0);
                    // The slope of B / (T - T0) by 1/T is B T^2 / (T - T0)^2.
                    let coefficient = slope_k * ((middle_k - standstill) / middle_k).powi(2);
                    vec![coefficient.max(1.0).log_e(), standstill]
                })
                .to_vec(),
        }
    }
}

/// Temperatures in kelvin, checked against what the law needs.
fn kelvins(
    temperatures: impl Iterator<Item = Option<f64>>,
    law: TemperatureLaw,
) -> Result<Vec<f64>, TemperatureError> {
    let mut kelvins = Vec::new();
    for (curve, temperature_c) in temperatures.enumerate() {
        match temperature_c {
            Some(known) if (-80.0..=400.0).contains(&known) => kelvins.push(known + ZERO_C),
            _ => return Err(TemperatureError::NoTemperature { curve, temperature_c }),
        }
    }
    let mut sorted = kelvins.clone();
    sorted.sort_by(f64::total_cmp);
    sorted.dedup_by(|a, b| (*a - *b).abs() < SAME_K);
    if sorted.len() < law.needs() {
        return Err(TemperatureError::TooFew { different: sorted.len(), needed: law.needs() });
    }
    Ok(kelvins)
}

fn ends(kelvins: &[f64]) -> [f64; 2] {
    [
        kelvins.iter().copied().fold(f64::INFINITY, f64::min),
        kelvins.iter().copied().fold(f64::NEG_INFINITY, f64::max),
    ]
}

/// Slope of some logarithms over 1/T, by least squares.
fn slope(kelvins: &[f64], logarithms: &[f64]) -> f64 {
    let count = kelvins.len() as f64;
    let mean_x = kelvins.iter().map(|kelvin| kelvin.recip()).sum::<f64>() / count;
    let mean_y = logarithms.iter().sum::<f64>() / count;
    let (mut xy, mut xx) = (0.0, 0.0);
    for (kelvin, logarithm) in kelvins.iter().zip(logarithms) {
        let x = kelvin.recip() - mean_x;
        xy += x * (logarithm - mean_y);
        xx += x * x;
    }
    xy / xx
}

/// Fits a law to values (a viscosity, a consistency, a yield stress ...) at temperatures, C.
///
/// # Errors
/// [`TemperatureError`] for too few temperatures, values that are not positive, or a search that does not end.
pub fn law_through(
    values: &[(f64, f64)],
    law: TemperatureLaw,
    reference_c: f64,
) -> Result<LawFit, TemperatureError> {
    let kelvins = kelvins(values.iter().map(|value| Some(value.0)), law)?;
    if let Some((value, found)) =
        values.iter().map(|value| value.1).enumerate().find(|(_, v)| !(*v > 0.0 && v.is_finite()))
    {
        return Err(TemperatureError::NotPositive { value, found });
    }
    let logarithms: Vec<f64> = values.iter().map(|value| value.1.log_e()).collect();
    match law {
        TemperatureLaw::Arrhenius => through::<2>(&kelvins, &logarithms, law, reference_c),
        TemperatureLaw::Vft => through::<3>(&kelvins, &logarithms, law, reference_c),
    }
}

fn through<const Q: usize>(
    kelvins: &[f64],
    logarithms: &[f64],
    law: TemperatureLaw,
    reference_c: f64,
) -> Result<LawFit, TemperatureError> {
    let reference = reference_c + ZERO_C;
    let [lowest, highest] = ends(kelvins);
    let mut bounds = [[-690.0, 690.0]; Q];
    bounds[1..].copy_from_slice(&law.bounds(lowest));
    let middle = 0.5 * (lowest + highest);
    let slope = slope(kelvins, logarithms);
    let mut best: Option<Fit<Q>> = None;
    let mut trouble = FitError::NoStart;
    let mut room = Room::new();
    for constants in law.starts(slope, middle, lowest) {
        let mut start = [0.0; Q];
        start[0] = logarithms.iter().sum::<f64>() / logarithms.len() as f64;
        start[1..].copy_from_slice(&constants);
        let found = least_squares(
            kelvins.len(),
            start,
            &bounds,
            &Stop::default(),
            &mut room,
            |p, residuals, rows| {
                for (i, (kelvin, logarithm)) in kelvins.iter().zip(logarithms).enumerate() {
                    let (factor, slopes) = law.factor(&p[1..], *kelvin, reference);
                    residuals[i] = p[0] + factor - logarithm;
                    rows[i][0] = 1.0;
                    rows[i][1..].copy_from_slice(&slopes[..Q - 1]);
                }
                residuals.iter().all(|value| value.is_finite())
            },
        );
        match found {
            Ok(fit) if best.as_ref().is_none_or(|best| fit.sum < best.sum) => best = Some(fit),
            Ok(_) => {}
            Err(error) => trouble = error,
        }
    }
    let fit = best.ok_or(trouble)?;
    let meant: Vec<Parameter> = core::iter::once(VALUE).chain(law.constants().iter().copied()).collect();
    let factors: Vec<Factor> = kelvins
        .iter()
        .map(|kelvin| Factor {
            temperature_c: kelvin - ZERO_C,
            factor: law.factor(&fit.parameters[1..], *kelvin, reference).0.exp_e(),
        })
        .collect();
    let residuals =
        factors.iter().zip(logarithms).map(|(it, log)| fit.parameters[0] + it.factor.log_e() - log).collect();
    Ok(LawFit {
        law,
        reference_c,
        parameters: fitted(&meant, &fit),
        factors,
        residuals,
        aicc: aicc(kelvins.len(), Q, fit.sum),
        window_c: [lowest - ZERO_C, highest - ZERO_C],
    })
}

/// Fits one model with one law through curves at several temperatures.
///
/// # Errors
/// [`TemperatureError`] for curves without temperature, too few temperatures, a parameter that no temperature moves by a factor, or a
/// search that does not end.
pub fn joint(
    curves: &[Curve],
    model: FlowModel,
    moved: Moved,
    law: TemperatureLaw,
    reference_c: f64,
    weights: Weights,
) -> Result<JointFit, TemperatureError> {
    let kelvins = kelvins(curves.iter().map(Curve::temperature_c), law)?;
    if let Moved::Parameter(place) = moved
        && !model.parameters().get(place).is_some_and(|parameter| parameter.by_logarithm)
    {
        return Err(TemperatureError::NoSuchParameter { model, place });
    }
    let series = Series { curves, kelvins, model, moved, law, reference: reference_c + ZERO_C, weights };
    match model.parameters().len() + law.constants().len() {
        2 => series.fit::<2>(),
        3 => series.fit::<3>(),
        4 => series.fit::<4>(),
        5 => series.fit::<5>(),
        6 => series.fit::<6>(),
        _ => series.fit::<7>(),
    }
}

/// Curves at several temperatures, and what is asked of them.
struct Series<'c> {
    curves: &'c [Curve],
    kelvins: Vec<f64>,
    model: FlowModel,
    moved: Moved,
    law: TemperatureLaw,
    reference: f64,
    weights: Weights,
}

impl Series<'_> {
    fn own(&self) -> usize {
        self.model.parameters().len()
    }

    fn points(&self) -> usize {
        self.curves.iter().map(Curve::len).sum()
    }

    /// Fills residuals and slopes of all curves, one after the other.
    fn fill<const Q: usize>(&self, p: &[f64; Q], residuals: &mut [f64], rows: &mut [[f64; Q]]) {
        let own = self.own();
        let mut from = 0;
        for (curve, kelvin) in self.curves.iter().zip(&self.kelvins) {
            let (shift, by_constant) = self.law.factor(&p[own..], *kelvin, self.reference);
            let mut sought = [0.0; MOST_PARAMETERS];
            sought[..own].copy_from_slice(&p[..own]);
            let along = match self.moved {
                Moved::ShearRate => shift,
                Moved::Parameter(place) => {
                    sought[place] += shift;
                    0.0
                }
            };
            let laid = self.model.with(&sought);
            let to = from + curve.len();
            let (residuals, rows) = (&mut residuals[from..to], &mut rows[from..to]);
            for (i, ln_rate) in curve.ln_rates.iter().enumerate() {
                let ln_rate = ln_rate + along;
                let at = laid.at(ln_rate.exp_e(), ln_rate);
                let by_shift = match self.moved {
                    Moved::Parameter(place) => at.slopes[place],
                    Moved::ShearRate => {
                        // d ln tau / d ln g, by a difference: no model has it in closed form for all others.
                        let stress =
                            |step: f64| laid.at((ln_rate + step).exp_e(), ln_rate + step).stress.log_e();
                        (stress(1e-5) - stress(-1e-5)) / 2e-5
                    }
                };
                residuals[i] = at.stress;
                rows[i][..own].copy_from_slice(&at.slopes[..own]);
                for (slope, by) in rows[i][own..].iter_mut().zip(&by_constant) {
                    *slope = by_shift * by;
                }
            }
            self.weights.weigh(curve, residuals, rows);
            from = to;
        }
    }

    fn fit<const Q: usize>(&self) -> Result<JointFit, TemperatureError> {
        let own = self.own();
        let [lowest, highest] = ends(&self.kelvins);
        // The curve nearest to the reference gives the start of the model; all curves on their own what they say without a law.
        let mut apart = 0.0;
        let mut singles = Vec::new();
        for curve in self.curves {
            let single = fit_model(curve, self.model, self.weights)?;
            apart += single.residuals.iter().map(|r| r * r).sum::<f64>();
            singles.push(single);
        }
        let away = |i: &usize| (self.kelvins[*i] - self.reference).abs();
        let nearest = (0..singles.len()).min_by(|a, b| away(a).total_cmp(&away(b))).unwrap_or_default();
        let mut bounds = [[0.0; 2]; Q];
        let mut start = [0.0; Q];
        for (j, parameter) in self.model.parameters().iter().enumerate() {
            let value = singles[nearest].parameters[j].value;
            let ends = parameter.bounds;
            (start[j], bounds[j]) =
                if parameter.by_logarithm { (value.log_e(), ends.map(f64::log_e)) } else { (value, ends) };
        }
        bounds[own..].copy_from_slice(&self.law.bounds(lowest));
        let logarithms: Vec<f64> = match self.moved {
            Moved::Parameter(place) => {
                singles.iter().map(|fit| fit.parameters[place].value.log_e()).collect()
            }
            Moved::ShearRate => {
                // Stresses at the middle of all windows stand for the viscosity.
                let middle = self.curves.iter().map(|c| c.window()[0] * c.window()[1]).product::<f64>();
                let middle = middle.to_the(0.5 / self.curves.len() as f64);
                singles.iter().map(|fit| fit.stress(middle).log_e()).collect()
            }
        };
        let slope = slope(&self.kelvins, &logarithms);
        let points = self.points();
        let mut best: Option<Fit<Q>> = None;
        let mut trouble = FitError::NoStart;
        let mut room = Room::new();
        for constants in self.law.starts(slope, 0.5 * (lowest + highest), lowest) {
            start[own..].copy_from_slice(&constants);
            let found =
                least_squares(points, start, &bounds, &Stop::default(), &mut room, |p, residuals, rows| {
                    self.fill(p, residuals, rows);
                    residuals.iter().all(|value| value.is_finite())
                });
            match found {
                Ok(fit) if best.as_ref().is_none_or(|best| fit.sum < best.sum) => best = Some(fit),
                Ok(_) => {}
                Err(error) => trouble = error,
            }
        }
        Ok(self.judged(&best.ok_or(trouble)?, apart, [lowest, highest]))
    }

    fn judged<const Q: usize>(&self, fit: &Fit<Q>, apart: f64, [lowest, highest]: [f64; 2]) -> JointFit {
        let own = self.own();
        let points = self.points();
        let meant: Vec<Parameter> =
            self.model.parameters().iter().chain(self.law.constants()).copied().collect();
        let (mut flat, mut rows) = (vec![0.0; points], vec![[0.0; Q]; points]);
        self.fill(&fit.parameters, &mut flat, &mut rows);
        let mut residuals = Vec::new();
        for curve in self.curves {
            let rest = flat.split_off(curve.len());
            residuals.push(flat);
            flat = rest;
        }
        let aicc_apart = aicc(points, own * self.curves.len(), apart);
        let aicc_joint = aicc(points, Q, fit.sum);
        let not_shared = match (aicc_joint, aicc_apart) {
            (Some(joint), Some(apart)) if joint > apart + TIE => Some(format!(
                "the curves on their own are described better (AICc {apart:.1} against {joint:.1}): more moves with the temperature than \
                 this law lets move"
            )),
            _ => None,
        };
        JointFit {
            model: self.model,
            moved: self.moved,
            law: self.law,
            weights: self.weights,
            reference_c: self.reference - ZERO_C,
            parameters: fitted(&meant, fit),
            factors: self
                .kelvins
                .iter()
                .map(|kelvin| Factor {
                    temperature_c: kelvin - ZERO_C,
                    factor: self.law.factor(&fit.parameters[own..], *kelvin, self.reference).0.exp_e(),
                })
                .collect(),
            residuals,
            root_mean_square: (fit.sum / points as f64).sqrt(),
            aicc: aicc_joint,
            aicc_apart,
            not_shared,
            window_c: [lowest - ZERO_C, highest - ZERO_C],
            window: [
                self.curves.iter().map(|curve| curve.window()[0]).fold(f64::INFINITY, f64::min),
                self.curves.iter().map(|curve| curve.window()[1]).fold(0.0, f64::max),
            ],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Curves of a Cross liquid shifted by Arrhenius' law, made here.
    fn made(temperatures_c: &[f64], activation: f64) -> Vec<Curve> {
        let cross = [10.0, 2.0, 0.7];
        let rates: Vec<f64> = (0..15).map(|k| 10f64.to_the(f64::from(k) * 0.3 - 2.0)).collect();
        temperatures_c
            .iter()
            .map(|celsius| {
                let shift = (activation / GAS_J_MOL_K
                    * ((celsius + ZERO_C).recip() - (25.0 + ZERO_C).recip()))
                .exp_e();
                let stresses: Vec<f64> =
                    rates.iter().map(|rate| FlowModel::CrossThinning.stress(&cross, rate * shift)).collect();
                Curve::new(&rates, &stresses).unwrap().at_temperature(*celsius)
            })
            .collect()
    }

    fn fit(curves: &[Curve], law: TemperatureLaw) -> Result<JointFit, TemperatureError> {
        joint(curves, FlowModel::CrossThinning, Moved::ShearRate, law, 25.0, Weights::Log)
    }

    #[test]
    fn made_curves_give_their_activation_energy_back() {
        let found = fit(&made(&[10.0, 25.0, 40.0], 31_000.0), TemperatureLaw::Arrhenius).unwrap();
        for (parameter, wanted) in found.parameters.iter().zip([10.0, 2.0, 0.7, 31_000.0]) {
            assert!((parameter.value / wanted - 1.0).abs() < 1e-7, "{parameter:?}");
        }
        assert_eq!(found.not_shared, None);
        assert_eq!(found.window_c, [10.0, 40.0]);
    }

    #[test]
    fn too_few_temperatures_are_refused() {
        assert_eq!(
            fit(&made(&[10.0, 25.0, 25.1], 31_000.0), TemperatureLaw::Arrhenius),
            Err(TemperatureError::TooFew { different: 2, needed: 3 })
        );
        assert_eq!(
            fit(&made(&[10.0, 25.0, 40.0], 31_000.0), TemperatureLaw::Vft),
            Err(TemperatureError::TooFew { different: 3, needed: 4 })
        );
        let values = [(20.0, 1.0), (30.0, 0.5), (40.0, -1.0)];
        assert_eq!(
            law_through(&values, TemperatureLaw::Arrhenius, 25.0),
            Err(TemperatureError::NotPositive { value: 2, found: -1.0 })
        );
    }

    #[test]
    fn a_parameter_without_decades_is_refused() {
        let curves = made(&[10.0, 25.0, 40.0], 31_000.0);
        for place in [2, 7] {
            assert_eq!(
                joint(
                    &curves,
                    FlowModel::CrossThinning,
                    Moved::Parameter(place),
                    TemperatureLaw::Arrhenius,
                    25.0,
                    Weights::Log
                ),
                Err(TemperatureError::NoSuchParameter { model: FlowModel::CrossThinning, place })
            );
        }
    }

    #[test]
    fn curves_that_share_no_law_say_so() {
        // Moving only the viscosity at rest cannot follow curves that move along the shear rate.
        let curves = made(&[10.0, 25.0, 40.0], 31_000.0);
        let found = joint(
            &curves,
            FlowModel::CrossThinning,
            Moved::Parameter(0),
            TemperatureLaw::Arrhenius,
            25.0,
            Weights::Log,
        );
        assert!(found.unwrap().not_shared.is_some());
    }
}

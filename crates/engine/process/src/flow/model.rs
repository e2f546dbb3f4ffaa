//! What stress a material answers a shear rate with.
//!
//! ```text
//! Newton                tau = eta g
//! power law             tau = K g^n
//! Bingham               tau = tau0 + mu g
//! Casson                sqrt(tau) = sqrt(tau0) + sqrt(mu g)
//! Herschel-Bulkley      tau = tau0 + K g^n
//! three components      tau = tau0 + tau0 sqrt(g / gc) + eta_bg g
//! Cross                 eta = eta_inf + (eta0 - eta_inf) / (1 + (L g)^m)
//! Carreau               eta = eta_inf + (eta0 - eta_inf) (1 + (L g)^2)^((n-1)/2)
//! Carreau-Yasuda        eta = eta_inf + (eta0 - eta_inf) (1 + (L g)^a)^((n-1)/a)
//! Ellis                 eta = eta0 / (1 + (tau / tau_half)^(alpha-1))
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | tau, g, eta | stress, shear rate, viscosity tau/g | Pa, 1/s, Pa s |
//! | tau0 | yield stress | Pa |
//! | K, n | consistency and flow index | Pa s^n, - |
//! | eta0, eta_inf | viscosity at rest and at high shear | Pa s |
//! | L, m, a | time constant, exponents | s, -, - |
//! | gc, eta_bg | critical shear rate, background viscosity | 1/s, Pa s |
//! | tau_half, alpha | stress at half the viscosity at rest, exponent | Pa, - |
//!
//! Cross, Carreau and Carreau-Yasuda also stand without `eta_inf`, for curves that show no second plateau. A yield stress and a plateau
//! are what a model says below the measured shear rates; whether the data reach that far is judged by the fit, not here.
//! Sources: Herschel and Bulkley, Kolloid-Z. 39 (1926) 291; Casson (1959); Cross, J. Colloid Sci. 20 (1965) 417; Carreau, Trans. Soc. Rheol. 16
//! (1972) 99; Yasuda and others, Rheol. Acta 20 (1981) 163; Caggioni, Trappe, Spicer, J. Rheol. 64 (2020) 413 (three components); all but the last from memory. Cases:
//! `tests/cross/flow_fits.csv`, fits of open data by another program.

use levigate_measure::elementary::Elementary as _;
use levigate_measure::fast_exp::{exp, ln};
use serde::{Deserialize, Serialize};

/// Most parameters any model has.
pub const MOST_PARAMETERS: usize = 5;

/// A flow model.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FlowModel {
    /// One viscosity.
    Newton,
    /// Power law.
    PowerLaw,
    /// Yield stress and one viscosity above it.
    Bingham,
    /// Casson.
    Casson,
    /// Yield stress and power law.
    HerschelBulkley,
    /// Yield stress, a square-root term and a background viscosity.
    ThreeComponent,
    /// Cross with both plateaus.
    Cross,
    /// Cross without the second plateau.
    CrossThinning,
    /// Carreau with both plateaus.
    Carreau,
    /// Carreau without the second plateau.
    CarreauThinning,
    /// Carreau-Yasuda with both plateaus.
    CarreauYasuda,
    /// Carreau-Yasuda without the second plateau.
    CarreauYasudaThinning,
    /// Ellis.
    Ellis,
}

/// A parameter of a model: its symbol, unit, and whether it spans decades and is searched by its logarithm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Parameter {
    /// Symbol.
    pub symbol: &'static str,
    /// Meaning in words.
    pub words: &'static str,
    /// Unit.
    pub unit: &'static str,
    /// Searched by its logarithm.
    pub by_logarithm: bool,
    /// Bounds a fit keeps it in; by logarithm, as multiples of what the middle of the curve has in its unit.
    pub bounds: [f64; 2],
}

const fn scale(symbol: &'static str, words: &'static str, unit: &'static str) -> Parameter {
    Parameter { symbol, words, unit, by_logarithm: true, bounds: [1e-12, 1e12] }
}

const fn exponent(symbol: &'static str, words: &'static str, bounds: [f64; 2]) -> Parameter {
    Parameter { symbol, words, unit: "", by_logarithm: false, bounds }
}

const YIELD: Parameter = scale("tau0", "yield stress", "Pa");
const CONSISTENCY: Parameter = scale("K", "consistency", "Pa s^n");
const INDEX: Parameter = exponent("n", "flow index", [0.02, 1.5]);
const AT_REST: Parameter = scale("eta0", "viscosity at rest", "Pa s");
const AT_HIGH_SHEAR: Parameter = scale("eta_inf", "viscosity at high shear", "Pa s");
const TIME: Parameter = scale("lambda", "time constant", "s");
const CROSS_EXPONENT: Parameter = exponent("m", "exponent", [0.05, 1.5]);
const CARREAU_INDEX: Parameter = exponent("n", "flow index", [0.02, 1.0]);
const YASUDA: Parameter = exponent("a", "width of the bend", [0.1, 6.0]);

impl FlowModel {
    /// All models, those with fewer parameters first.
    pub const ALL: [Self; 13] = [
        Self::Newton,
        Self::PowerLaw,
        Self::Bingham,
        Self::Casson,
        Self::HerschelBulkley,
        Self::ThreeComponent,
        Self::CrossThinning,
        Self::CarreauThinning,
        Self::Ellis,
        Self::Cross,
        Self::Carreau,
        Self::CarreauYasudaThinning,
        Self::CarreauYasuda,
    ];

    /// The name shown to people.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Newton => "Newton",
            Self::PowerLaw => "power law",
            Self::Bingham => "Bingham",
            Self::Casson => "Casson",
            Self::HerschelBulkley => "Herschel-Bulkley",
            Self::ThreeComponent => "three components",
            Self::Cross => "Cross",
            Self::CrossThinning => "Cross, no second plateau",
            Self::Carreau => "Carreau",
            Self::CarreauThinning => "Carreau, no second plateau",
            Self::CarreauYasuda => "Carreau-Yasuda",
            Self::CarreauYasudaThinning => "Carreau-Yasuda, no second plateau",
            Self::Ellis => "Ellis",
        }
    }

    /// Its parameters in the order everything here takes them.
    #[must_use]
    pub fn parameters(self) -> &'static [Parameter] {
        const NEWTON: &[Parameter] = &[scale("eta", "viscosity", "Pa s")];
        const POWER_LAW: &[Parameter] = &[CONSISTENCY, INDEX];
        const BINGHAM: &[Parameter] = &[YIELD, scale("mu_p", "plastic viscosity", "Pa s")];
        const CASSON: &[Parameter] = &[YIELD, scale("mu_inf", "Casson viscosity", "Pa s")];
        const HERSCHEL_BULKLEY: &[Parameter] = &[YIELD, CONSISTENCY, INDEX];
        const THREE: &[Parameter] = &[
            YIELD,
            scale("gamma_c", "critical shear rate", "1/s"),
            scale("eta_bg", "background viscosity", "Pa s"),
        ];
        const CROSS: &[Parameter] = &[AT_REST, AT_HIGH_SHEAR, TIME, CROSS_EXPONENT];
        const CROSS_THINNING: &[Parameter] = &[AT_REST, TIME, CROSS_EXPONENT];
        const CARREAU: &[Parameter] = &[AT_REST, AT_HIGH_SHEAR, TIME, CARREAU_INDEX];
        const CARREAU_THINNING: &[Parameter] = &[AT_REST, TIME, CARREAU_INDEX];
        const YASUDA_BOTH: &[Parameter] = &[AT_REST, AT_HIGH_SHEAR, TIME, YASUDA, CARREAU_INDEX];
        const YASUDA_THINNING: &[Parameter] = &[AT_REST, TIME, YASUDA, CARREAU_INDEX];
        const ELLIS: &[Parameter] = &[
            AT_REST,
            scale("tau_half", "stress at half the viscosity at rest", "Pa"),
            exponent("alpha", "exponent", [1.0, 20.0]),
        ];
        match self {
            Self::Newton => NEWTON,
            Self::PowerLaw => POWER_LAW,
            Self::Bingham => BINGHAM,
            Self::Casson => CASSON,
            Self::HerschelBulkley => HERSCHEL_BULKLEY,
            Self::ThreeComponent => THREE,
            Self::Cross => CROSS,
            Self::CrossThinning => CROSS_THINNING,
            Self::Carreau => CARREAU,
            Self::CarreauThinning => CARREAU_THINNING,
            Self::CarreauYasuda => YASUDA_BOTH,
            Self::CarreauYasudaThinning => YASUDA_THINNING,
            Self::Ellis => ELLIS,
        }
    }

    /// Whether the model has a yield stress.
    #[must_use]
    pub fn yields(self) -> bool {
        self.parameters()[0].symbol == "tau0"
    }

    /// Stress at a shear rate, Pa; zero parameters where none is given are not allowed: `parameters` has the length of
    /// [`FlowModel::parameters`], in SI units.
    #[must_use]
    pub fn stress(self, parameters: &[f64], shear_rate: f64) -> f64 {
        if shear_rate <= 0.0 {
            return if self.yields() { parameters[0] } else { 0.0 };
        }
        let mut sought = [0.0; MOST_PARAMETERS];
        for ((sought, value), parameter) in sought.iter_mut().zip(parameters).zip(self.parameters()) {
            *sought = if parameter.by_logarithm { value.log_e() } else { *value };
        }
        self.with(&sought).at(shear_rate, shear_rate.log_e()).stress
    }

    /// Viscosity at a shear rate above zero, Pa s.
    #[must_use]
    pub fn viscosity(self, parameters: &[f64], shear_rate: f64) -> f64 {
        self.stress(parameters, shear_rate) / shear_rate
    }

    /// The model with parameters as a fit moves them: logarithms where the parameter spans decades. What depends on them alone is
    /// computed once.
    pub(crate) fn with(self, sought: &[f64; MOST_PARAMETERS]) -> Laid {
        let mut plain = *sought;
        for (value, parameter) in plain.iter_mut().zip(self.parameters()) {
            if parameter.by_logarithm {
                *value = exp(*value);
            }
        }
        Laid { model: self, sought: *sought, plain }
    }
}

/// A model with its parameters.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Laid {
    model: FlowModel,
    sought: [f64; MOST_PARAMETERS],
    plain: [f64; MOST_PARAMETERS],
}

impl Laid {
    /// Stress and its logarithmic slopes `d ln tau / d p` in the parameters a fit moves.
    pub(crate) fn at(&self, rate: f64, ln_rate: f64) -> At {
        self.at_power(rate, ln_rate, exp(self.exponent(ln_rate)))
    }

    /// Exponent of the exponential that the model needs at a shear rate, apart so that those of many points are taken at once.
    #[inline]
    pub(crate) fn exponent(&self, ln_rate: f64) -> f64 {
        let p = &self.sought;
        match self.model {
            FlowModel::Newton
            | FlowModel::Bingham
            | FlowModel::Casson
            | FlowModel::ThreeComponent
            | FlowModel::Ellis => 0.0,
            FlowModel::PowerLaw => p[0] + p[1] * ln_rate,
            FlowModel::HerschelBulkley => p[1] + p[2] * ln_rate,
            FlowModel::Cross => p[3] * (p[2] + ln_rate),
            FlowModel::CrossThinning => p[2] * (p[1] + ln_rate),
            FlowModel::Carreau => -(2.0 * (p[2] + ln_rate)).abs(),
            FlowModel::CarreauThinning => -(2.0 * (p[1] + ln_rate)).abs(),
            FlowModel::CarreauYasuda => -(p[3] * (p[2] + ln_rate)).abs(),
            FlowModel::CarreauYasudaThinning => -(p[2] * (p[1] + ln_rate)).abs(),
        }
    }

    /// As [`Laid::at`], with the exponential of [`Laid::exponent`].
    #[inline]
    pub(crate) fn at_power(&self, rate: f64, ln_rate: f64, power: f64) -> At {
        let (p, e) = (&self.sought, &self.plain);
        match self.model {
            FlowModel::Newton => At { stress: e[0] * rate, slopes: [1.0, 0.0, 0.0, 0.0, 0.0] },
            FlowModel::PowerLaw => At { stress: power, slopes: [1.0, ln_rate, 0.0, 0.0, 0.0] },
            FlowModel::Bingham => {
                let (rest, flow) = (e[0], e[1] * rate);
                let stress = rest + flow;
                At { stress, slopes: [rest / stress, flow / stress, 0.0, 0.0, 0.0] }
            }
            FlowModel::Casson => {
                let (rest, flow) = (e[0].sqrt(), (e[1] * rate).sqrt());
                let sum = rest + flow;
                At { stress: sum * sum, slopes: [rest / sum, flow / sum, 0.0, 0.0, 0.0] }
            }
            FlowModel::HerschelBulkley => {
                let (rest, flow) = (e[0], power);
                let stress = rest + flow;
                At { stress, slopes: [rest / stress, flow / stress, flow * ln_rate / stress, 0.0, 0.0] }
            }
            FlowModel::ThreeComponent => {
                let rest = e[0];
                let root = rest * (rate / e[1]).sqrt();
                let flow = e[2] * rate;
                let stress = rest + root + flow;
                At { stress, slopes: [(rest + root) / stress, -0.5 * root / stress, flow / stress, 0.0, 0.0] }
            }
            FlowModel::Cross => {
                let x = p[2] + ln_rate;
                let fall = fall_of_cross(power);
                let between = Plateaus::at(e[0], e[1], fall.share);
                let turned = -between.part * fall.rest;
                between.with(rate, [turned * p[3], turned * x, 0.0])
            }
            FlowModel::CrossThinning => {
                let x = p[1] + ln_rate;
                let fall = fall_of_cross(power);
                At {
                    stress: e[0] * fall.share * rate,
                    slopes: [1.0, -fall.rest * p[2], -fall.rest * x, 0.0, 0.0],
                }
            }
            FlowModel::Carreau => {
                let fall = fall_of_carreau(2.0, p[3], p[2] + ln_rate, power);
                let between = Plateaus::at(e[0], e[1], fall.share);
                between.with(rate, [between.part * fall.by_time, between.part * fall.by_index, 0.0])
            }
            FlowModel::CarreauThinning => {
                let fall = fall_of_carreau(2.0, p[2], p[1] + ln_rate, power);
                At { stress: e[0] * fall.share * rate, slopes: [1.0, fall.by_time, fall.by_index, 0.0, 0.0] }
            }
            FlowModel::CarreauYasuda => {
                let fall = fall_of_carreau(p[3], p[4], p[2] + ln_rate, power);
                let between = Plateaus::at(e[0], e[1], fall.share);
                between.with(
                    rate,
                    [fall.by_time, fall.by_width, fall.by_index].map(|slope| between.part * slope),
                )
            }
            FlowModel::CarreauYasudaThinning => {
                let fall = fall_of_carreau(p[2], p[3], p[1] + ln_rate, power);
                At {
                    stress: e[0] * fall.share * rate,
                    slopes: [1.0, fall.by_time, fall.by_width, fall.by_index, 0.0],
                }
            }
            FlowModel::Ellis => ellis(p, ln_rate),
        }
    }
}

/// Stress and its logarithmic slopes.
#[derive(Clone, Copy, Debug)]
pub(crate) struct At {
    pub(crate) stress: f64,
    pub(crate) slopes: [f64; MOST_PARAMETERS],
}

struct CrossFall {
    /// `1 / (1 + (L g)^m)`.
    share: f64,
    /// One less it.
    rest: f64,
}

#[inline]
fn fall_of_cross(power: f64) -> CrossFall {
    // At most e^690: its share of one is one to the last bit.
    let share = 1.0 / (1.0 + power);
    CrossFall { share, rest: power * share }
}

struct CarreauFall {
    share: f64,
    by_time: f64,
    by_width: f64,
    by_index: f64,
}

/// `(1 + (L g)^a)^((n-1)/a)` with the slopes of its logarithm by ln L, a and n.
#[inline]
fn fall_of_carreau(width: f64, index: f64, ln_time_rate: f64, less: f64) -> CarreauFall {
    let t = width * ln_time_rate;
    // ln(1 + e^t) and the share e^t / (1 + e^t) without overflow, `less` = e^-|t|.
    let bend = t.max(0.0) + ln(1.0 + less);
    let share_of_power = if t > 0.0 { 1.0 } else { less } / (1.0 + less);
    let power = (index - 1.0) / width;
    CarreauFall {
        share: exp(power * bend),
        by_time: (index - 1.0) * share_of_power,
        by_width: power * (share_of_power * ln_time_rate - bend / width),
        by_index: bend / width,
    }
}

/// A viscosity between two plateaus.
struct Plateaus {
    viscosity: f64,
    /// Share of the viscosity that falls with the shear rate.
    part: f64,
    by_rest: f64,
    by_high: f64,
}

impl Plateaus {
    #[inline]
    fn at(at_rest: f64, high: f64, share: f64) -> Self {
        let falling = (at_rest - high) * share;
        let viscosity = high + falling;
        let per = 1.0 / viscosity;
        Self {
            viscosity,
            part: falling * per,
            by_rest: at_rest * share * per,
            by_high: high * (1.0 - share) * per,
        }
    }

    #[inline]
    fn with(&self, rate: f64, [third, fourth, fifth]: [f64; 3]) -> At {
        At { stress: self.viscosity * rate, slopes: [self.by_rest, self.by_high, third, fourth, fifth] }
    }
}

/// Ellis gives the shear rate for a stress; the stress is found by Newton's method in y = ln(tau / tau_half), where the equation
/// `y + ln(1 + e^((alpha-1) y)) = ln(eta0 g / tau_half)` is convex and rising, so that it cannot miss.
fn ellis(p: &[f64; MOST_PARAMETERS], ln_rate: f64) -> At {
    let (ln_half, excess) = (p[1], p[2] - 1.0);
    let wanted = p[0] + ln_rate - ln_half;
    let mut y = if wanted > 0.0 { wanted / p[2] } else { wanted };
    let mut share = 0.5;
    for _ in 0..60 {
        let t = excess * y;
        share = 1.0 / (1.0 + exp(-t));
        let bend = if t > 0.0 { t + ln(1.0 + exp(-t)) } else { ln(1.0 + exp(t)) };
        let step = (y + bend - wanted) / (1.0 + excess * share);
        y -= step;
        if step.abs() <= 1e-15 * (1.0 + y.abs()) {
            break;
        }
    }
    let rise = 1.0 + excess * share;
    At { stress: exp(y + ln_half), slopes: [1.0 / rise, 1.0 - 1.0 / rise, -share * y / rise, 0.0, 0.0] }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SOME: [(FlowModel, &[f64]); 13] = [
        (FlowModel::Newton, &[0.7]),
        (FlowModel::PowerLaw, &[3.0, 0.4]),
        (FlowModel::Bingham, &[5.0, 0.3]),
        (FlowModel::Casson, &[5.0, 0.3]),
        (FlowModel::HerschelBulkley, &[5.0, 3.0, 0.45]),
        (FlowModel::ThreeComponent, &[7.5, 0.00565, 2.168]),
        (FlowModel::Cross, &[10.0, 0.01, 2.0, 0.7]),
        (FlowModel::CrossThinning, &[10.0, 2.0, 0.7]),
        (FlowModel::Carreau, &[10.0, 0.01, 2.0, 0.4]),
        (FlowModel::CarreauThinning, &[10.0, 2.0, 0.4]),
        (FlowModel::CarreauYasuda, &[10.0, 0.01, 2.0, 0.8, 0.4]),
        (FlowModel::CarreauYasudaThinning, &[10.0, 2.0, 0.8, 0.4]),
        (FlowModel::Ellis, &[10.0, 4.0, 2.6]),
    ];

    #[test]
    fn slopes_agree_with_differences() {
        for (model, parameters) in SOME {
            let mut p = [0.0; MOST_PARAMETERS];
            for ((p, value), parameter) in p.iter_mut().zip(parameters).zip(model.parameters()) {
                *p = if parameter.by_logarithm { value.log_e() } else { *value };
            }
            for rate in [1e-3_f64, 0.1, 1.0, 20.0, 1e3] {
                let here = model.with(&p).at(rate, rate.log_e());
                for j in 0..parameters.len() {
                    let (mut low, mut high) = (p, p);
                    low[j] -= 1e-6;
                    high[j] += 1e-6;
                    let by_difference = (model.with(&high).at(rate, rate.log_e()).stress
                        / model.with(&low).at(rate, rate.log_e()).stress)
                        .log_e()
                        / 2e-6;
                    let miss = (here.slopes[j] - by_difference).abs();
                    assert!(miss < 1e-7 * (1.0 + by_difference.abs()), "{model:?} {j} at {rate}: {miss}");
                }
            }
        }
    }

    #[test]
    fn ellis_gives_back_the_rate_of_its_stress() {
        for rate in [1e-4, 0.3, 50.0, 1e4] {
            let stress = FlowModel::Ellis.stress(&[10.0, 4.0, 2.6], rate);
            let back = stress / 10.0 * (1.0 + (stress / 4.0).to_the(1.6));
            assert!((back / rate - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn models_fall_together_in_their_limits() {
        let close = |a: f64, b: f64| assert!((a / b - 1.0).abs() < 1e-6, "{a} {b}");
        for rate in [0.01, 1.0, 300.0] {
            close(
                FlowModel::HerschelBulkley.stress(&[5.0, 0.3, 1.0], rate),
                FlowModel::Bingham.stress(&[5.0, 0.3], rate),
            );
            close(
                FlowModel::HerschelBulkley.stress(&[1e-12, 3.0, 0.4], rate),
                FlowModel::PowerLaw.stress(&[3.0, 0.4], rate),
            );
            close(
                FlowModel::CarreauYasuda.stress(&[10.0, 0.01, 2.0, 2.0, 0.4], rate),
                FlowModel::Carreau.stress(&[10.0, 0.01, 2.0, 0.4], rate),
            );
        }
        // Far beyond the bend: K = (eta0 - eta_inf) L^-m, n = 1 - m.
        let far = 1e9;
        close(
            FlowModel::CrossThinning.stress(&[10.0, 2.0, 0.7], far),
            10.0 * 2.0_f64.to_the(-0.7) * far.to_the(0.3),
        );
    }
}

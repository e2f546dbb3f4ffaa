//! Loss over time at several temperatures: one law of decay, one activation energy, fitted to all readings together.
//!
//! ```text
//! zero order    C = C0 - k t              first order    C = C0 exp(-k t)             second order    C = C0/(1 + k C0 t)
//! k(T) = k(Tm) exp(-E/R (1/T - 1/Tm))     Tm middle of the temperatures measured
//! ```
//!
//! All readings share one start `C0` (the batch was the same before it was put away), so that they are fitted with three numbers: `C0`,
//! `ln k(Tm)` and `E`. Whether Arrhenius' law bends is asked of rates of their own at every temperature: with two temperatures there is
//! nothing to ask, and that is said. The two-step way (a rate per temperature, then a line through `ln k` over `1/T`) is given beside it; it
//! weighs a rate from a short run as much as one from a long run. Intervals are from the covariance of the fit, `ln k` being what is close
//! to normal. Range: a loss, two temperatures or more, one mechanism; no temperature near a phase change of the product.
//!
//! Source: the joint fit after Davies and Hudson, J. Pharm. Sci. 70 (1981) 1036 (first part from memory); laws of decay: any physical
//! chemistry text. Cases: `tests/published/kinetics.toml`, `tests/cross/kinetics.toml`.

use levigate_measure::distribution::{Confidence, fisher_beyond};
use levigate_measure::elementary::Elementary as _;
use levigate_measure::least_squares::{FitError, Room, Stop, least_squares};
use levigate_measure::regression::{Regression, RegressionError};
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Gas constant, J/(mol K) (CODATA 2018).
pub const GAS_J_MOL_K: f64 = 8.314_462_618;
/// Kelvin at 0 C.
const ZERO_C: f64 = 273.15;
/// Two readings belong to one temperature when they agree to this many kelvin.
const SAME_C: f64 = 1e-6;

/// How the rate depends on what is left.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Order {
    /// The same amount is lost in the same time.
    Zero,
    /// The same share is lost in the same time.
    First,
    /// The rate goes with the square of what is left.
    Second,
}

impl Order {
    /// Content after a time at a rate.
    #[must_use]
    pub fn content(self, start: f64, rate: f64, time: f64) -> f64 {
        match self {
            Self::Zero => start - rate * time,
            Self::First => start * (-rate * time).exp_e(),
            Self::Second => start / (1.0 + rate * start * time),
        }
    }

    /// Derivatives of the content by the start and by the logarithm of the rate.
    fn slopes(self, start: f64, rate: f64, time: f64) -> (f64, f64) {
        match self {
            Self::Zero => (1.0, -rate * time),
            Self::First => {
                let left = (-rate * time).exp_e();
                (left, -start * left * rate * time)
            }
            Self::Second => {
                let below = 1.0 + rate * start * time;
                (1.0 / (below * below), -start * start * rate * time / (below * below))
            }
        }
    }

    /// Rate that takes a content to another in a time.
    #[must_use]
    pub fn rate(self, start: f64, end: f64, time: f64) -> f64 {
        match self {
            Self::Zero => (start - end) / time,
            Self::First => (start / end).log_e() / time,
            Self::Second => (1.0 / end - 1.0 / start) / time,
        }
    }

    /// Time until the content has fallen to a level.
    #[must_use]
    pub fn time(self, start: f64, level: f64, rate: f64) -> f64 {
        self.rate(start, level, 1.0) / rate
    }
}

/// One reading of the content: temperature in C, time (any unit, the same throughout), content.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Loss {
    /// Temperature, C.
    pub temperature_c: f64,
    /// Time since the start.
    pub time: f64,
    /// Content.
    pub content: f64,
}

/// Why there is no law of decay.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum KineticsError {
    /// Readings that are not contents over time at a temperature.
    #[error("reading {place}: {what} {value} cannot be")]
    Reading {
        /// Reading, from one.
        place: usize,
        /// What is wrong.
        what: &'static str,
        /// The number.
        value: f64,
    },
    /// A confidence no limit can have.
    #[error("a confidence of {share} is not between one half and one")]
    Confidence {
        /// The share.
        share: f64,
    },
    /// Too few readings.
    #[error("{readings} readings cannot settle {parameters} numbers and their scatter")]
    TooFew {
        /// Readings.
        readings: usize,
        /// Numbers to be found.
        parameters: usize,
    },
    /// All at one temperature.
    #[error(
        "all readings were taken at {temperature_c} C: how the rate changes with temperature is not in them"
    )]
    OneTemperature {
        /// The temperature.
        temperature_c: f64,
    },
    /// At one temperature nothing was read after the start.
    #[error("at {temperature_c} C nothing was read after the start")]
    StartOnly {
        /// The temperature.
        temperature_c: f64,
    },
    /// The content does not fall.
    #[error("at {temperature_c} C the content rises or stays: {rate} per unit of time by the readings alone")]
    NoLoss {
        /// The temperature.
        temperature_c: f64,
        /// Slope that was found as a rate of loss.
        rate: f64,
    },
    /// The search did not end.
    #[error("the fit did not end: {0}")]
    Fit(#[from] FitError),
    /// A line could not be laid.
    #[error("no line: {0}")]
    Line(#[from] RegressionError),
}

impl KineticsError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Reading { .. } => "correct the reading or leave it out",
            Self::Confidence { .. } => "take 0.95",
            Self::TooFew { .. } => {
                "go on measuring; three times at each temperature are the least that tells anything"
            }
            Self::OneTemperature { .. } => "put part of the batch at a second and a third temperature",
            Self::StartOnly { .. } => "wait for the next reading at this temperature, or leave it out",
            Self::NoLoss { .. } => {
                "leave the temperature out or measure longer: a rate cannot be had from a content that does not fall"
            }
            Self::Fit(error) => error.hint(),
            Self::Line(error) => error.hint(),
        }
    }
}

/// A rate at one temperature, fitted by itself with the start that all share.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RateAt {
    /// Temperature, C.
    pub temperature_c: f64,
    /// Rate.
    pub rate: f64,
    /// Readings at this temperature.
    pub readings: usize,
}

/// A line through `ln k` over `1/T`.
#[derive(Clone, Debug, PartialEq)]
pub struct TwoStep {
    /// Rate per temperature, each with a start of its own.
    pub rates: Vec<RateAt>,
    /// Activation energy, J/mol.
    pub energy_j_mol: f64,
    /// Its standard error; `None` with two temperatures.
    pub energy_error: Option<f64>,
    /// Logarithm of the factor before the exponential.
    pub ln_factor: f64,
}

/// Whether one activation energy does for all temperatures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bend {
    /// Mean square of what rates of their own explain beyond the law, over the mean square that is left.
    pub ratio: f64,
    /// Degrees of freedom of the difference.
    pub above: usize,
    /// Degrees of freedom of what is left.
    pub below: usize,
    /// Probability of such a ratio or a larger one where the law holds.
    pub beyond: f64,
}

/// A law of decay over temperature.
#[derive(Clone, Debug, PartialEq)]
pub struct Kinetics {
    /// Order.
    pub order: Order,
    /// Content at the start.
    pub start: f64,
    /// Natural logarithm of the rate at the middle temperature.
    pub ln_rate: f64,
    /// Activation energy, J/mol.
    pub energy_j_mol: f64,
    /// Middle of the temperatures (of `1/T`), K.
    pub middle_k: f64,
    /// Covariance of start, `ln_rate` and `energy_j_mol`.
    pub covariance: [[f64; 3]; 3],
    /// Standard deviation of one reading.
    pub scatter: f64,
    /// Degrees of freedom.
    pub degrees: usize,
    /// Rates by themselves, with the start that all share.
    pub rates: Vec<RateAt>,
    /// Does the law bend; `None` with two temperatures, where it cannot be asked.
    pub bend: Option<Bend>,
}

/// Temperatures, each once, rising.
fn temperatures(readings: &[Loss]) -> Vec<f64> {
    let mut all: Vec<f64> = readings.iter().map(|one| one.temperature_c).collect();
    all.sort_by(f64::total_cmp);
    all.dedup_by(|one, other| (*one - *other).abs() < SAME_C);
    all
}

fn checked(readings: &[Loss]) -> Result<(), KineticsError> {
    for (place, one) in readings.iter().enumerate() {
        let wrong = |what, value| Err(KineticsError::Reading { place: place + 1, what, value });
        if !(one.temperature_c > -ZERO_C && one.temperature_c.is_finite()) {
            return wrong("a temperature of", one.temperature_c);
        }
        if !(one.time >= 0.0 && one.time.is_finite()) {
            return wrong("a time of", one.time);
        }
        if !(one.content > 0.0 && one.content.is_finite()) {
            return wrong("a content of", one.content);
        }
    }
    Ok(())
}

/// The coordinate in which the loss is a straight line through time.
fn straight(order: Order, content: f64) -> f64 {
    match order {
        Order::Zero => content,
        Order::First => content.log_e(),
        Order::Second => -1.0 / content,
    }
}

impl Kinetics {
    /// Fits all readings together.
    ///
    /// # Errors
    /// Readings that cannot be, fewer than four, one temperature, a temperature read at the start only or where nothing is lost.
    pub fn fit(order: Order, readings: &[Loss]) -> Result<Self, KineticsError> {
        checked(readings)?;
        let places = temperatures(readings);
        if readings.len() <= 3 {
            return Err(KineticsError::TooFew { readings: readings.len(), parameters: 3 });
        }
        if places.len() < 2 {
            let temperature_c = places.first().copied().unwrap_or(0.0);
            return Err(KineticsError::OneTemperature { temperature_c });
        }
        let (rates, own_sum) = own_rates(order, readings, &places)?;
        let middle_k = number(places.len()) / places.iter().map(|c| 1.0 / (c + ZERO_C)).sum::<f64>();
        let along = |c: f64| (1.0 / (c + ZERO_C) - 1.0 / middle_k) / GAS_J_MOL_K;
        let line: Vec<[f64; 2]> = places.iter().map(|c| [1.0, -along(*c)]).collect();
        let logs: Vec<f64> = rates.iter().map(|one| one.rate.log_e()).collect();
        let first = Regression::fit(&line, &logs)?.coefficients;
        let top = readings.iter().map(|one| one.content).fold(0.0, f64::max);
        // The energy is sought in units of 100 kJ/mol, so that the three numbers are of like size.
        const UNIT: f64 = 1e5;
        let bounds =
            [[0.0, f64::INFINITY], [f64::NEG_INFINITY, f64::INFINITY], [f64::NEG_INFINITY, f64::INFINITY]];
        let model = |p: &[f64; 3], residuals: &mut [f64], rows: &mut [[f64; 3]]| {
            for ((one, residual), row) in readings.iter().zip(residuals.iter_mut()).zip(rows.iter_mut()) {
                let away = along(one.temperature_c) * UNIT;
                let rate = (p[1] - p[2] * away).exp_e();
                let (by_start, by_rate) = order.slopes(p[0], rate, one.time);
                *residual = order.content(p[0], rate, one.time) - one.content;
                *row = [by_start, by_rate, -away * by_rate];
            }
            residuals.iter().all(|value| value.is_finite())
        };
        let start = [top, first[0], first[1] / UNIT];
        let fit = least_squares(readings.len(), start, &bounds, &Stop::default(), &mut Room::new(), model)?;
        let degrees = readings.len() - 3;
        let covariance =
            fit.covariance().ok_or(KineticsError::TooFew { readings: readings.len(), parameters: 3 })?;
        let units = [1.0, 1.0, UNIT];
        Ok(Self {
            order,
            start: fit.parameters[0],
            ln_rate: fit.parameters[1],
            energy_j_mol: fit.parameters[2] * UNIT,
            middle_k,
            covariance: core::array::from_fn(|i| {
                core::array::from_fn(|j| covariance[i][j] * units[i] * units[j])
            }),
            scatter: (fit.sum / number(degrees)).sqrt(),
            degrees,
            bend: bend(fit.sum, own_sum, readings.len(), places.len()),
            rates,
        })
    }

    /// Derivatives of `ln k` at a temperature by `ln_rate` and the energy.
    fn along(&self, temperature_c: f64) -> f64 {
        -(1.0 / (temperature_c + ZERO_C) - 1.0 / self.middle_k) / GAS_J_MOL_K
    }

    /// Rate at a temperature.
    #[must_use]
    pub fn rate(&self, temperature_c: f64) -> f64 {
        (self.ln_rate + self.energy_j_mol * self.along(temperature_c)).exp_e()
    }

    /// Standard error of the logarithm of the rate at a temperature.
    #[must_use]
    pub fn ln_rate_error(&self, temperature_c: f64) -> f64 {
        let by = [0.0, 1.0, self.along(temperature_c)];
        self.error(by)
    }

    fn error(&self, by: [f64; 3]) -> f64 {
        let along = |i: usize| (0..3).map(|j| self.covariance[i][j] * by[j]).sum::<f64>();
        (0..3).map(|i| by[i] * along(i)).sum::<f64>().max(0.0).sqrt()
    }

    /// Lower and upper limit of the rate at a temperature.
    #[must_use]
    pub fn rate_within(&self, temperature_c: f64, confidence: &Confidence) -> (f64, f64) {
        let half = confidence.factor(self.degrees) * self.ln_rate_error(temperature_c);
        let middle = self.rate(temperature_c).log_e();
        ((middle - half).exp_e(), (middle + half).exp_e())
    }

    /// Content after a time at a temperature, with lower and upper confidence limit of the mean.
    #[must_use]
    pub fn content(&self, temperature_c: f64, time: f64, confidence: &Confidence) -> (f64, f64, f64) {
        let rate = self.rate(temperature_c);
        let (by_start, by_rate) = self.order.slopes(self.start, rate, time);
        let middle = self.order.content(self.start, rate, time);
        let half = confidence.factor(self.degrees)
            * self.error([by_start, by_rate, by_rate * self.along(temperature_c)]);
        (middle, middle - half, middle + half)
    }

    /// Time until the content falls to a level at a temperature: by the law, and earliest and latest by the limits of the logarithm of that
    /// time. `None` where the level is not below the start.
    #[must_use]
    pub fn time_to(
        &self,
        level: f64,
        temperature_c: f64,
        confidence: &Confidence,
    ) -> Option<(f64, f64, f64)> {
        if !(level > 0.0 && level < self.start) {
            return None;
        }
        let rate = self.rate(temperature_c);
        let time = self.order.time(self.start, level, rate);
        // d ln t = (d t/d C0) dC0/t - d ln k; of the three laws d t/d C0 = (slope by the start)/(rate of loss at the level).
        let (by_start, by_rate) = self.order.slopes(self.start, rate, time);
        let log_by_start = by_start / (-by_rate);
        let half =
            confidence.factor(self.degrees) * self.error([log_by_start, -1.0, -self.along(temperature_c)]);
        Some((time, time * (-half).exp_e(), time * half.exp_e()))
    }

    /// How many times faster at ten kelvin more.
    #[must_use]
    pub fn ten_kelvin_factor(&self, temperature_c: f64) -> f64 {
        acceleration(self.energy_j_mol, temperature_c + 10.0, temperature_c)
    }
}

/// How many times faster at one temperature than at another, both in C, by the activation energy in J/mol.
#[must_use]
pub fn acceleration(energy_j_mol: f64, at_c: f64, over_c: f64) -> f64 {
    (energy_j_mol / GAS_J_MOL_K * (1.0 / (over_c + ZERO_C) - 1.0 / (at_c + ZERO_C))).exp_e()
}

/// Activation energy, J/mol, that makes one temperature so many times faster than another, both in C.
#[must_use]
pub fn energy_of(acceleration: f64, at_c: f64, over_c: f64) -> f64 {
    acceleration.log_e() * GAS_J_MOL_K / (1.0 / (over_c + ZERO_C) - 1.0 / (at_c + ZERO_C))
}

/// The steady temperature, C, at which as much would be lost as at temperatures that each lasted equally long.
///
/// `T = (E/R)/(-ln mean exp(-E/(R T_i)))`. Range: temperatures above absolute zero; `None` without any. Source: USP <1160> with 83.144 kJ/mol by
/// custom. Case: `tests/published/kinetics.toml`.
#[must_use]
pub fn mean_kinetic_temperature_c(temperatures_c: &[f64], energy_j_mol: f64) -> Option<f64> {
    let coldest = temperatures_c.iter().copied().fold(f64::INFINITY, f64::min) + ZERO_C;
    if temperatures_c.iter().any(|t| !t.is_finite())
        || !(coldest > 0.0 && coldest.is_finite())
        || energy_j_mol <= 0.0
    {
        return None;
    }
    let over_r = energy_j_mol / GAS_J_MOL_K;
    // Against the coldest, so that no exponential vanishes.
    let mean =
        temperatures_c.iter().map(|t| (over_r * (1.0 / coldest - 1.0 / (t + ZERO_C))).exp_e()).sum::<f64>()
            / number(temperatures_c.len());
    Some(over_r / (over_r / coldest - mean.log_e()) - ZERO_C)
}

/// Rates of their own at every temperature with one start for all, and the sum of squares they leave.
fn own_rates(order: Order, readings: &[Loss], places: &[f64]) -> Result<(Vec<RateAt>, f64), KineticsError> {
    let slot = |c: f64| places.iter().position(|place| (place - c).abs() < SAME_C).unwrap_or(0);
    for (place, temperature_c) in places.iter().copied().enumerate() {
        if !readings.iter().any(|one| slot(one.temperature_c) == place && one.time > 0.0) {
            return Err(KineticsError::StartOnly { temperature_c });
        }
    }
    // In the straight coordinate each rate is a slope; weights bring the errors back to those of the content. Repeated with the contents the
    // fit gives, this is Gauss and Newton's method for the curved one.
    let mut contents: Vec<f64> = readings.iter().map(|one| one.content).collect();
    let mut coefficients: Vec<f64> = Vec::new();
    for _ in 0..60 {
        let weight = |content: f64| match order {
            Order::Zero => 1.0,
            Order::First => content,
            Order::Second => content * content,
        };
        let rows: Vec<Vec<f64>> = readings
            .iter()
            .zip(&contents)
            .map(|(one, content)| {
                let mut row = vec![0.0; places.len() + 1];
                row[0] = weight(*content);
                row[slot(one.temperature_c) + 1] = -one.time * weight(*content);
                row
            })
            .collect();
        let right: Vec<f64> = readings
            .iter()
            .zip(&contents)
            .map(|(one, content)| weight(*content) * straight(order, *content) + (one.content - content))
            .collect();
        let fit = Regression::fit(&rows, &right)?;
        let settled = coefficients
            .iter()
            .zip(&fit.coefficients)
            .all(|(was, now)| (was - now).abs() <= 1e-13 * now.abs());
        let begun = !coefficients.is_empty();
        coefficients = fit.coefficients;
        let next: Vec<f64> = readings
            .iter()
            .map(|one| {
                let line = coefficients[0] - coefficients[slot(one.temperature_c) + 1] * one.time;
                match order {
                    Order::Zero => line,
                    Order::First => line.exp_e(),
                    Order::Second => -1.0 / line,
                }
            })
            .collect();
        if next.iter().any(|content| !(content.is_finite() && (order == Order::Zero || *content > 0.0))) {
            break;
        }
        contents = next;
        if begun && settled {
            break;
        }
    }
    let rates: Vec<RateAt> = places
        .iter()
        .enumerate()
        .map(|(place, temperature_c)| RateAt {
            temperature_c: *temperature_c,
            rate: coefficients[place + 1],
            readings: readings.iter().filter(|one| slot(one.temperature_c) == place).count(),
        })
        .collect();
    if let Some(still) = rates.iter().find(|one| one.rate <= 0.0 || one.rate.is_nan()) {
        return Err(KineticsError::NoLoss { temperature_c: still.temperature_c, rate: still.rate });
    }
    let sum = readings
        .iter()
        .zip(&contents)
        .map(|(one, content)| (one.content - content) * (one.content - content))
        .sum();
    Ok((rates, sum))
}

/// Whether rates of their own say more than the law.
fn bend(law: f64, own: f64, readings: usize, places: usize) -> Option<Bend> {
    let above = places.checked_sub(2).filter(|above| *above > 0)?;
    let below = readings.checked_sub(places + 1).filter(|below| *below > 0)?;
    let ratio = ((law - own).max(0.0) / number(above)) / (own / number(below));
    Some(Bend { ratio, above, below, beyond: fisher_beyond(ratio, number(above), number(below)) })
}

/// The two-step way: a rate per temperature in the straight coordinate, each with a start of its own, then a line through their logarithms.
///
/// # Errors
/// As [`Kinetics::fit`].
pub fn two_step(order: Order, readings: &[Loss]) -> Result<TwoStep, KineticsError> {
    checked(readings)?;
    let mut rates = Vec::new();
    for temperature_c in temperatures(readings) {
        let here: Vec<&Loss> =
            readings.iter().filter(|one| (one.temperature_c - temperature_c).abs() < SAME_C).collect();
        let rows: Vec<[f64; 2]> = here.iter().map(|one| [1.0, -one.time]).collect();
        let right: Vec<f64> = here.iter().map(|one| straight(order, one.content)).collect();
        let rate = Regression::fit(&rows, &right)
            .map_err(|_| KineticsError::StartOnly { temperature_c })?
            .coefficients[1];
        if rate <= 0.0 {
            return Err(KineticsError::NoLoss { temperature_c, rate });
        }
        rates.push(RateAt { temperature_c, rate, readings: here.len() });
    }
    through_rates(rates)
}

/// A line through the logarithms of rates that are known, over `1/T`.
///
/// # Errors
/// Fewer than two temperatures.
pub fn through_rates(rates: Vec<RateAt>) -> Result<TwoStep, KineticsError> {
    if rates.len() < 2 {
        let temperature_c = rates.first().map_or(0.0, |one| one.temperature_c);
        return Err(KineticsError::OneTemperature { temperature_c });
    }
    let rows: Vec<[f64; 2]> =
        rates.iter().map(|one| [1.0, -1.0 / (GAS_J_MOL_K * (one.temperature_c + ZERO_C))]).collect();
    let logs: Vec<f64> = rates.iter().map(|one| one.rate.log_e()).collect();
    let line = Regression::fit(&rows, &logs)?;
    Ok(TwoStep {
        rates,
        ln_factor: line.coefficients[0],
        energy_j_mol: line.coefficients[1],
        energy_error: line.standard_error(1),
    })
}

fn number(count: usize) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "counts of readings are far below 2^53")]
    let value = count as f64;
    value
}

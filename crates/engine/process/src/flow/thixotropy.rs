//! What shearing breaks down and rest builds up again: the loop between a rising and a falling ramp, and the recovery after high shear.
//!
//! ```text
//! area      A  = integral (tau_up - tau_down) dg                           Pa/s: work per volume and time of the loop
//! in logs   L  = integral ln(tau_up / tau_down) d ln g / ln(g2 / g1)          mean logarithm; e^L - 1: how far up lies above down
//! recovery  eta(t) = eta_e - (eta_e - eta_s) exp(-(t / tau)^b)               b = 1: first order; else stretched
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | g1, g2 | shear rates both ramps reach | 1/s |
//! | eta_s, eta_e | viscosity right after the shear, and in the end | Pa s |
//! | tau, b | time of recovery, exponent | s, - |
//!
//! The area in Pa/s is ruled by the highest decade; the one in logarithms weighs every decade alike. Both depend on how fast the ramps ran and how
//! long the top was held, so only loops of one protocol compare. An end that the last reading has not come near is not named. Sources: Green
//! and Weltmann, Ind. Eng. Chem. Anal. Ed. 15 (1943) 201 (loop area, from memory); the stretched exponential after Kohlrausch (1854), from
//! memory. Cases: `tests/cross/flow_recovery.toml`; areas in closed form below.

use super::curve::Curve;
use super::estimate::{Fitted, ProfileLimits, aicc, fitted, outliers};
use super::model::Parameter;
use super::profile::Minimum;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::least_squares::{Fit, FitError, Room, Stop, least_squares};
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Why ramps make no loop, or readings no recovery.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum ThixotropyError {
    /// The ramps share no shear rates.
    #[error(
        "the ramps share no shear rates: up {up_low} to {up_high} 1/s, down {down_low} to {down_high} 1/s"
    )]
    NothingShared {
        /// Lowest shear rate upwards.
        up_low: f64,
        /// Highest upwards.
        up_high: f64,
        /// Lowest downwards.
        down_low: f64,
        /// Highest downwards.
        down_high: f64,
    },
    /// A reading that cannot be.
    #[error("reading {reading}: {viscosity} Pa s after {time} s cannot be fitted")]
    NotAReading {
        /// Reading, from 0.
        reading: usize,
        /// Time, s.
        time: f64,
        /// Viscosity, Pa s.
        viscosity: f64,
    },
    /// The search did not end.
    #[error("no fit: {0}")]
    Fit(#[from] FitError),
}

impl ThixotropyError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::NothingShared { .. } => "run both ramps over the same shear rates",
            Self::NotAReading { .. } => {
                "give times from the end of the shear, at or above zero, and viscosities above zero"
            }
            Self::Fit(error) => error.hint(),
        }
    }
}

/// The loop between two ramps.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Loop {
    /// Area between the ramps over the shear rate, Pa/s; below zero where the falling ramp lies above.
    pub area_pa_s: f64,
    /// Area over that under the rising ramp.
    pub share: f64,
    /// Mean logarithm of rising over falling stress, every decade alike.
    pub mean_logarithm: f64,
    /// Standard error of the mean logarithm from a relative scatter of the stresses, where one was given.
    pub logarithm_error: Option<f64>,
    /// Shear rates both ramps reach, 1/s.
    pub window: [f64; 2],
    /// Temperature, C, where both ramps say the same.
    pub temperature_c: Option<f64>,
}

impl Loop {
    /// The falling ramp lies above the rising one: it built up, dried, or had not started at rest.
    #[must_use]
    pub fn builds_up(&self) -> bool {
        self.mean_logarithm < -2.0 * self.logarithm_error.unwrap_or(0.0)
    }
}

/// The loop between a rising and a falling ramp. `scatter` is the relative standard deviation of a stress, where it is known.
///
/// # Errors
/// [`ThixotropyError::NothingShared`] where the ramps do not overlap.
pub fn loop_between(up: &Curve, down: &Curve, scatter: Option<f64>) -> Result<Loop, ThixotropyError> {
    let ([up_low, up_high], [down_low, down_high]) = (up.window(), down.window());
    let window = [up_low.max(down_low), up_high.min(down_high)];
    if window[0] >= window[1] {
        return Err(ThixotropyError::NothingShared { up_low, up_high, down_low, down_high });
    }
    let plain = |curve: &Curve| -> (Vec<f64>, Vec<f64>) { (curve.rates.clone(), curve.stresses.clone()) };
    let logs =
        |curve: &Curve| -> (Vec<f64>, Vec<f64>) { (curve.ln_rates.clone(), curve.ln_stresses.clone()) };
    let ends = window.map(f64::log_e);
    let over = |curve: (Vec<f64>, Vec<f64>), ends| Broken::of(curve).integral(ends);
    let (above, below) = (over(plain(up), window), over(plain(down), window));
    let span = ends[1] - ends[0];
    let mean_logarithm = (over(logs(up), ends) - over(logs(down), ends)) / span;
    let logarithm_error = scatter.map(|scatter| {
        let squares =
            Broken::of(logs(up)).squared_weights(ends) + Broken::of(logs(down)).squared_weights(ends);
        scatter * squares.sqrt() / span
    });
    Ok(Loop {
        area_pa_s: above - below,
        share: (above - below) / above,
        mean_logarithm,
        logarithm_error,
        window,
        temperature_c: up.temperature_c().filter(|it| down.temperature_c() == Some(*it)),
    })
}

/// Straight lines between points, repeats at one place averaged.
struct Broken {
    x: Vec<f64>,
    y: Vec<f64>,
}

impl Broken {
    fn of((x, y): (Vec<f64>, Vec<f64>)) -> Self {
        let mut lines = Self { x: Vec::new(), y: Vec::new() };
        let mut count = 0.0;
        for (x, y) in x.into_iter().zip(y) {
            match (lines.x.last(), lines.y.last_mut()) {
                (Some(last), Some(mean)) if *last == x => {
                    count += 1.0;
                    *mean += (y - *mean) / count;
                }
                _ => {
                    lines.x.push(x);
                    lines.y.push(y);
                    count = 1.0;
                }
            }
        }
        lines
    }

    /// Pieces between two places that the points reach: index, and where on the piece it starts and ends (0 to 1).
    fn pieces(&self, [from, to]: [f64; 2]) -> impl Iterator<Item = (usize, f64, f64, f64)> + '_ {
        self.x.windows(2).enumerate().filter_map(move |(i, ends)| {
            let width = ends[1] - ends[0];
            let (start, end) = (ends[0].max(from), ends[1].min(to));
            (end > start).then(|| (i, width, (start - ends[0]) / width, (end - ends[0]) / width))
        })
    }

    /// Weights of the two points of a piece in the integral over its part from `a` to `b`.
    fn weights(width: f64, a: f64, b: f64) -> [f64; 2] {
        let second = 0.5 * (b * b - a * a) * width;
        [(b - a) * width - second, second]
    }

    fn integral(&self, ends: [f64; 2]) -> f64 {
        self.pieces(ends)
            .map(|(i, width, a, b)| {
                let [first, second] = Self::weights(width, a, b);
                first * self.y[i] + second * self.y[i + 1]
            })
            .sum()
    }

    /// Sum of the squares of the points' weights in the integral.
    fn squared_weights(&self, ends: [f64; 2]) -> f64 {
        let mut weights = vec![0.0; self.x.len()];
        for (i, width, a, b) in self.pieces(ends) {
            let [first, second] = Self::weights(width, a, b);
            weights[i] += first;
            weights[i + 1] += second;
        }
        weights.iter().map(|weight| weight * weight).sum()
    }
}

/// A law of recovery.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RecoveryLaw {
    /// First order.
    FirstOrder,
    /// Stretched exponential.
    Stretched,
}

/// A recovery as fitted.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Recovery {
    /// Law.
    pub law: RecoveryLaw,
    /// Viscosity after the shear and in the end, time of recovery, exponent where stretched.
    pub parameters: Vec<Fitted>,
    /// Share of the way back covered at the last reading.
    pub reached: f64,
    /// Residuals ln(law / reading) in the order of rising time.
    pub residuals: Vec<f64>,
    /// Root of their mean square.
    pub root_mean_square: f64,
    /// Akaike's criterion corrected for few points; absent where the points do not suffice.
    pub aicc: Option<f64>,
    /// First and last time, s.
    pub window_s: [f64; 2],
    /// Readings that stand apart, in the order of rising time.
    pub outliers: Vec<usize>,
}

impl Recovery {
    /// Viscosity after a time, Pa s.
    #[must_use]
    pub fn viscosity(&self, time_s: f64) -> f64 {
        let value = |place: usize| self.parameters.get(place).map_or(1.0, |parameter| parameter.value);
        let left = (-(time_s / value(2)).to_the(value(3))).exp_e();
        value(1) - (value(1) - value(0)) * left
    }

    /// Time to a share of the way back (0 to below 1), s.
    #[must_use]
    pub fn time_to(&self, share: f64) -> f64 {
        let value = |place: usize| self.parameters.get(place).map_or(1.0, |parameter| parameter.value);
        value(2) * (-(1.0 - share).log_e()).to_the(1.0 / value(3))
    }
}

/// An end is named only when the last reading has covered this share of the way.
const NEAR_THE_END: f64 = 0.8;

const fn scale(symbol: &'static str, words: &'static str, unit: &'static str) -> Parameter {
    Parameter { symbol, words, unit, by_logarithm: true, bounds: [1e-12, 1e12] }
}
const MEANT: [Parameter; 4] = [
    scale("eta_start", "viscosity right after the shear", "Pa s"),
    scale("eta_end", "viscosity in the end", "Pa s"),
    scale("tau", "time of recovery", "s"),
    Parameter { symbol: "b", words: "exponent", unit: "", by_logarithm: false, bounds: [0.1, 3.0] },
];

/// Fits the recovery after high shear: times from the end of the shear (s) and viscosities (Pa s), with limits by covariance and by profile.
///
/// # Errors
/// [`ThixotropyError`] for readings that cannot be, fewer than constants, or a search that does not end.
pub fn recovery(readings: &[(f64, f64)], law: RecoveryLaw) -> Result<Recovery, ThixotropyError> {
    for (reading, (time, viscosity)) in readings.iter().copied().enumerate() {
        if !(time >= 0.0 && time.is_finite() && viscosity > 0.0 && viscosity.is_finite()) {
            return Err(ThixotropyError::NotAReading { reading, time, viscosity });
        }
    }
    let mut readings = readings.to_vec();
    readings.sort_by(|a, b| a.0.total_cmp(&b.0));
    match law {
        RecoveryLaw::FirstOrder => recovered::<3>(&readings, law),
        RecoveryLaw::Stretched => recovered::<4>(&readings, law),
    }
}

/// Both laws, the better first: first order unless the stretched one has an AICc lower by 2.
///
/// # Errors
/// As [`recovery`], where neither law can be fitted.
pub fn recoveries(readings: &[(f64, f64)]) -> Result<Vec<Recovery>, ThixotropyError> {
    let first = recovery(readings, RecoveryLaw::FirstOrder)?;
    let Ok(stretched) = recovery(readings, RecoveryLaw::Stretched) else { return Ok(vec![first]) };
    let better = matches!((stretched.aicc, first.aicc), (Some(s), Some(f)) if s < f - 2.0);
    Ok(if better { vec![stretched, first] } else { vec![first, stretched] })
}

fn recovered<const P: usize>(readings: &[(f64, f64)], law: RecoveryLaw) -> Result<Recovery, ThixotropyError> {
    let logarithms: Vec<f64> = readings.iter().map(|reading| reading.1.log_e()).collect();
    let bounds: [[f64; 2]; P] = core::array::from_fn(|j| {
        if MEANT[j].by_logarithm { MEANT[j].bounds.map(f64::log_e) } else { MEANT[j].bounds }
    });
    let fill = |p: &[f64; P], residuals: &mut [f64], rows: &mut [[f64; P]]| {
        let (start, end, exponent) = (p[0].exp_e(), p[1].exp_e(), if P > 3 { p[3] } else { 1.0 });
        for (i, (time, _)) in readings.iter().enumerate() {
            // At time zero nothing has come back, whatever the exponent.
            let ln_ratio = if *time > 0.0 { time.log_e() - p[2] } else { -690.0 };
            let power = (exponent * ln_ratio).exp_e();
            let left = (-power).exp_e();
            let viscosity = end - (end - start) * left;
            residuals[i] = viscosity.log_e() - logarithms[i];
            let by_power = (end - start) * left * power / viscosity;
            rows[i][0] = start * left / viscosity;
            rows[i][1] = end * (1.0 - left) / viscosity;
            rows[i][2] = -by_power * exponent;
            if let Some(slope) = rows[i].get_mut(3) {
                *slope = by_power * ln_ratio;
            }
        }
        residuals.iter().all(|value| value.is_finite())
    };
    let mut room = Room::new();
    let mut best: Option<Fit<P>> = None;
    let mut trouble = FitError::TooFewPoints { points: readings.len(), parameters: P };
    for start in beginnings::<P>(readings) {
        match least_squares(readings.len(), start, &bounds, &Stop::default(), &mut room, fill) {
            Ok(fit) if best.as_ref().is_none_or(|best| fit.sum < best.sum) => best = Some(fit),
            Ok(_) => {}
            Err(error) => trouble = error,
        }
    }
    let fit = best.ok_or(trouble)?;
    let mut parameters = fitted(&MEANT[..P], &fit);
    let covariance = fit.covariance();
    let minimum = Minimum {
        parameters: fit.parameters,
        sum: fit.sum,
        degrees: readings.len().saturating_sub(fit.free()),
        deviations: core::array::from_fn(|j| covariance.map(|covariance| covariance[j][j].sqrt())),
        bounds,
    };
    let limits = minimum.limits(|start, bounds| {
        least_squares(readings.len(), start, bounds, &Stop::default(), &mut room, fill)
            .ok()
            .map(|fit| (fit.parameters, fit.sum))
    });
    for ((parameter, meant), limits) in parameters.iter_mut().zip(&MEANT).zip(limits) {
        let back = |value: f64| if meant.by_logarithm { value.exp_e() } else { value };
        parameter.profile = Some(ProfileLimits { low: limits.low.map(back), high: limits.high.map(back) });
    }
    let (mut residuals, mut rows) = (vec![0.0; readings.len()], vec![[0.0; P]; readings.len()]);
    fill(&fit.parameters, &mut residuals, &mut rows);
    let mut found = Recovery {
        law,
        parameters,
        reached: 0.0,
        outliers: outliers(&residuals),
        residuals,
        root_mean_square: (fit.sum / readings.len() as f64).sqrt(),
        aicc: aicc(readings.len(), P, fit.sum),
        window_s: [readings[0].0, readings[readings.len() - 1].0],
    };
    found.judge();
    Ok(found)
}

/// Starting values: the first and last reading, and times over the window.
fn beginnings<const P: usize>(readings: &[(f64, f64)]) -> Vec<[f64; P]> {
    let (Some(first), Some(last)) = (readings.first(), readings.last()) else { return Vec::new() };
    let shortest = readings.iter().map(|reading| reading.0).find(|time| *time > 0.0).unwrap_or(1.0);
    let mut starts = Vec::new();
    for share in [0.1, 0.4, 0.7, 1.0] {
        for exponent in [0.5, 1.0] {
            let time = shortest * (last.0.max(2.0 * shortest) / shortest).to_the(share);
            let all = [first.1.log_e(), (1.05 * last.1).log_e(), time.log_e(), exponent];
            starts.push(core::array::from_fn(|j| all[j]));
        }
    }
    starts
}

impl Recovery {
    /// What lies outside the times read: an end hardly neared, a start long past at the first reading.
    fn judge(&mut self) {
        let [first, last] = self.window_s;
        let value = |place: usize| self.parameters.get(place).map_or(1.0, |parameter| parameter.value);
        let covered = |time: f64| 1.0 - (-(time / value(2)).to_the(value(3))).exp_e();
        self.reached = covered(last);
        let missed = covered(first);
        let mut doubt = |place: usize, why: String| {
            if let Some(parameter) = self.parameters.get_mut(place)
                && parameter.not_settled.is_none()
            {
                parameter.not_settled = Some(why);
            }
        };
        if self.reached < NEAR_THE_END {
            let why = format!(
                "the last reading, after {last:.0} s, has come {:.0} % of the way; read longer to name it",
                100.0 * self.reached
            );
            doubt(1, why.clone());
            doubt(2, why);
        }
        if missed > 1.0 - NEAR_THE_END {
            let why = format!(
                "at the first reading, after {first:.1} s, {:.0} % had already come back; read earlier to name it",
                100.0 * missed
            );
            doubt(0, why);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn power(consistency: f64, index: f64, rates: &[f64]) -> Curve {
        let stresses: Vec<f64> = rates.iter().map(|rate| consistency * rate.to_the(index)).collect();
        Curve::new(rates, &stresses).unwrap()
    }

    #[test]
    fn a_loop_between_two_straight_ramps_has_the_area_of_the_trapezium() {
        // Up 5 + 0.2 g, down 2 + 0.2 g from 10 to 100: 3 Pa times 90 1/s.
        let rates = [10.0, 30.0, 60.0, 100.0];
        let line = |rest: f64| {
            Curve::new(&rates, &rates.map(|rate| rest + 0.2 * rate)).unwrap().at_temperature(25.0)
        };
        let found = loop_between(&line(5.0), &line(2.0), None).unwrap();
        assert!((found.area_pa_s - 270.0).abs() < 1e-9);
        // Under the rising ramp: 5 * 90 + 0.1 (100^2 - 10^2).
        assert!((found.share - 270.0 / (450.0 + 990.0)).abs() < 1e-12);
        assert_eq!(found.temperature_c, Some(25.0));
    }

    #[test]
    fn a_loop_between_power_laws_is_their_ratio_in_logarithms() {
        // Up lies a fifth above down at every shear rate; the ramps were read at different places.
        let up = power(6.0, 0.4, &[0.1, 1.0, 7.0, 50.0]);
        let down = power(5.0, 0.4, &[0.3, 2.0, 20.0, 100.0]);
        let found = loop_between(&up, &down, Some(0.02)).unwrap();
        assert!((found.mean_logarithm - 1.2_f64.log_e()).abs() < 1e-12);
        assert_eq!(found.window, [0.3, 50.0]);
        // Two or three points of each ramp share the weight: less than one reading's scatter times the root of two.
        let error = found.logarithm_error.unwrap();
        assert!(error > 0.01 && error < 0.03, "{error}");
        assert!(!found.builds_up() && loop_between(&down, &up, Some(0.02)).unwrap().builds_up());
    }

    #[test]
    fn ramps_that_do_not_meet_are_refused() {
        let (low, high) = (power(1.0, 0.5, &[0.1, 1.0]), power(1.0, 0.5, &[2.0, 20.0]));
        assert!(matches!(loop_between(&low, &high, None), Err(ThixotropyError::NothingShared { .. })));
    }

    #[test]
    fn a_made_recovery_gives_its_constants_back() {
        let of = |exponent: f64| -> Vec<(f64, f64)> {
            (0..25)
                .map(|k| f64::from(k * k) * 0.5)
                .map(|time| (time, 12.0 - 9.0 * (-(time / 40.0).to_the(exponent)).exp_e()))
                .collect()
        };
        let first = recovery(&of(1.0), RecoveryLaw::FirstOrder).unwrap();
        let stretched = recovery(&of(0.6), RecoveryLaw::Stretched).unwrap();
        for (found, wanted) in [(&first, &[3.0, 12.0, 40.0][..]), (&stretched, &[3.0, 12.0, 40.0, 0.6])] {
            for (parameter, wanted) in found.parameters.iter().zip(wanted) {
                assert!((parameter.value / wanted - 1.0).abs() < 1e-6, "{parameter:?}");
            }
        }
        assert!((first.time_to(0.9) / (40.0 * 10.0_f64.log_e()) - 1.0).abs() < 1e-6);
        assert!((stretched.viscosity(40.0) - (12.0 - 9.0 * (-1.0_f64).exp_e())).abs() < 1e-4);
        assert_eq!(recoveries(&of(0.6)).unwrap()[0].law, RecoveryLaw::Stretched);
    }

    #[test]
    fn an_end_that_was_not_waited_for_is_not_named() {
        let short: Vec<(f64, f64)> = (0..20)
            .map(f64::from)
            .map(|time| (time, (12.0 - 9.0 * (-time / 40.0).exp_e()) * (1.0 + 0.002 * (time * 7.0).sine())))
            .collect();
        let found = recovery(&short, RecoveryLaw::FirstOrder).unwrap();
        assert!(found.reached < NEAR_THE_END);
        assert!(found.parameters[1].not_settled.is_some() && found.parameters[0].not_settled.is_none());
    }

    #[test]
    fn readings_that_cannot_be_are_refused() {
        assert!(matches!(
            recovery(&[(0.0, 1.0), (-1.0, 2.0)], RecoveryLaw::FirstOrder),
            Err(ThixotropyError::NotAReading { reading: 1, .. })
        ));
        assert!(matches!(
            recovery(&[(0.0, 1.0), (1.0, 2.0)], RecoveryLaw::FirstOrder),
            Err(ThixotropyError::Fit(FitError::TooFewPoints { .. }))
        ));
    }
}

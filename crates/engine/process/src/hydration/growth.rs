//! What readings of viscosity over time say: the forms, fitted and ranked.

use super::Form;
use crate::flow::estimate::{aicc, student_95};
use levigate_measure::elementary::Elementary as _;
use thiserror::Error;

/// A form fitted to readings.
#[derive(Clone, Debug, PartialEq)]
pub struct Growth {
    /// Form.
    pub form: Form,
    /// Viscosity in the end, in the unit of the readings; for the logarithm that of the time unit one.
    pub scale: f64,
    /// Time constant, or the rise for each e-fold of time over the viscosity at time one.
    pub rate: f64,
    /// Limits of the time constant at 95 %, open where readings do not bound it.
    pub rate_limits: [Option<f64>; 2],
    /// Wait; zero but for the delayed form.
    pub wait: f64,
    /// Root mean square of the relative residuals.
    pub root_mean_square: f64,
    /// Akaike's criterion; none where the readings do not suffice.
    pub aicc: Option<f64>,
    /// Share of the way that the last reading has come; none for the logarithm.
    pub reached: Option<f64>,
}

/// Why readings say nothing.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum GrowthError {
    /// Too few.
    #[error("{readings} readings do not show how the viscosity grows")]
    TooFew {
        /// As given.
        readings: usize,
    },
    /// A reading that cannot be.
    #[error("{viscosity} at {time} cannot be a reading")]
    NotAReading {
        /// Time.
        time: f64,
        /// Viscosity.
        viscosity: f64,
    },
}

impl GrowthError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::TooFew { .. } => {
                "read at four times at least, such as 10, 30, 60 minutes and 24 hours, with one spindle, speed and temperature"
            }
            Self::NotAReading { .. } => "times and viscosities lie above zero",
        }
    }
}

/// Two forms this near in AICc are a tie.
const TIE: f64 = 2.0;

/// All forms, the one to take first: that of the lowest AICc, within a tie the one with fewer constants.
///
/// # Errors
/// [`GrowthError`] for fewer than four readings or one that cannot be.
pub fn growths(readings: &[(f64, f64)]) -> Result<Vec<Growth>, GrowthError> {
    for (time, viscosity) in readings.iter().copied() {
        if !(time > 0.0 && time.is_finite() && viscosity > 0.0 && viscosity.is_finite()) {
            return Err(GrowthError::NotAReading { time, viscosity });
        }
    }
    if readings.len() < 4 {
        return Err(GrowthError::TooFew { readings: readings.len() });
    }
    let mut readings = readings.to_vec();
    readings.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let mut all = vec![first_order(&readings), logarithm(&readings), delayed(&readings)];
    let of = |growth: &Growth| growth.aicc.unwrap_or(f64::INFINITY);
    let best = all.iter().map(of).fold(f64::INFINITY, f64::min);
    let chosen = all.iter().position(|growth| of(growth) <= best + TIE).unwrap_or(0);
    let first = all.remove(chosen);
    all.sort_by(|a, b| of(a).total_cmp(&of(b)));
    all.insert(0, first);
    Ok(all)
}

/// Log of the end and sum of squares of the log residuals for a time constant and a wait.
fn with_constant(readings: &[(f64, f64)], tau: f64, wait: f64) -> (f64, f64) {
    let logs = readings.iter().map(|(time, viscosity)| {
        let risen = 1.0 - (-(time - wait) / tau).exp_e();
        viscosity.log_e() - risen.log_e()
    });
    let ends: Vec<f64> = logs.collect();
    let mean = ends.iter().sum::<f64>() / ends.len() as f64;
    (mean, ends.iter().map(|end| (end - mean).powi(2)).sum())
}

/// The least of a function with one valley between two ends, by the golden section.
fn valley(function: impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> f64 {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let (mut a, mut b) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
    let (mut at_a, mut at_b) = (function(a), function(b));
    for _ in 0..60 {
        if at_a <= at_b {
            (high, b, at_b) = (b, a, at_a);
            a = high - GOLDEN * (high - low);
            at_a = function(a);
        } else {
            (low, a, at_a) = (a, b, at_b);
            b = low + GOLDEN * (high - low);
            at_b = function(b);
        }
    }
    0.5 * (low + high)
}

/// The least over a grid, narrowed by the golden section about it.
fn searched(function: impl Fn(f64) -> f64, [low, high]: [f64; 2]) -> f64 {
    const STEPS: u32 = 60;
    let at = |step: u32| low + (high - low) * f64::from(step) / f64::from(STEPS);
    let best = (0..=STEPS).min_by(|a, b| function(at(*a)).total_cmp(&function(at(*b)))).unwrap_or(0);
    valley(&function, at(best.saturating_sub(1)), at((best + 1).min(STEPS)))
}

/// Logs of time constants looked through: from a tenth of the first time to a thousand times the last.
fn constants(readings: &[(f64, f64)]) -> [f64; 2] {
    let first = readings.first().map_or(1.0, |reading| reading.0);
    let last = readings.last().map_or(1.0, |reading| reading.0);
    [(0.1 * first).log_e(), (1000.0 * last).log_e()]
}

fn of_wait(readings: &[(f64, f64)], wait: f64) -> (f64, f64, f64) {
    let log_tau = searched(|log| with_constant(readings, log.exp_e(), wait).1, constants(readings));
    let (end, sum) = with_constant(readings, log_tau.exp_e(), wait);
    (log_tau, end, sum)
}

fn first_order(readings: &[(f64, f64)]) -> Growth {
    grown(readings, Form::FirstOrder, 0.0, 2)
}

fn delayed(readings: &[(f64, f64)]) -> Growth {
    let most = 0.999 * readings.first().map_or(0.0, |reading| reading.0);
    let wait = searched(|wait| of_wait(readings, wait).2, [0.0, most]);
    grown(readings, Form::Delayed, wait, 3)
}

fn grown(readings: &[(f64, f64)], form: Form, wait: f64, constants_fitted: usize) -> Growth {
    let (log_tau, end, sum) = of_wait(readings, wait);
    let count = readings.len();
    let tau = log_tau.exp_e();
    let degrees = count.saturating_sub(constants_fitted);
    let limits = if degrees == 0 {
        [None, None]
    } else {
        // Where the sum has risen by what one constant explains by chance in one case of twenty.
        let most = sum * (1.0 + student_95(degrees).powi(2) / degrees as f64);
        let miss = |log: f64| with_constant(readings, log.exp_e(), wait).1 - most;
        let [low, high] = constants(readings);
        [crossing(&miss, log_tau, low), crossing(&miss, log_tau, high)]
    };
    let last = readings.last().map_or(0.0, |reading| reading.0);
    Growth {
        form,
        scale: end.exp_e(),
        rate: tau,
        rate_limits: limits.map(|limit| limit.map(f64::exp_e)),
        wait,
        root_mean_square: (sum / count as f64).sqrt(),
        aicc: aicc(count, constants_fitted, sum),
        reached: Some(1.0 - (-(last - wait) / tau).exp_e()),
    }
}

/// Where a function that is below zero inside first crosses zero on the way to an end; none where it does not.
fn crossing(function: &impl Fn(f64) -> f64, inside: f64, end: f64) -> Option<f64> {
    const STEPS: u32 = 200;
    let at = |step: u32| inside + (end - inside) * f64::from(step) / f64::from(STEPS);
    let out = (1..=STEPS).find(|step| function(at(*step)) > 0.0)?;
    let (mut low, mut high) = (at(out - 1), at(out));
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if function(middle) > 0.0 {
            high = middle;
        } else {
            low = middle;
        }
    }
    Some(0.5 * (low + high))
}

/// `eta = eta_1 (1 + B ln t)`, relative residuals: one constant searched, the scale by its mean.
fn logarithm(readings: &[(f64, f64)]) -> Growth {
    let of = |slope: f64| {
        let ends: Vec<f64> = readings
            .iter()
            .map(|(time, viscosity)| viscosity.log_e() - (1.0 + slope * time.log_e()).max(1e-9).log_e())
            .collect();
        let mean = ends.iter().sum::<f64>() / ends.len() as f64;
        (mean, ends.iter().map(|end| (end - mean).powi(2)).sum::<f64>())
    };
    let first = readings.first().map_or(1.0, |reading| reading.0).log_e();
    // The line stays above zero at the first reading.
    let most = if first < 0.0 { (0.999 / -first).min(50.0) } else { 50.0 };
    let slope = searched(|root| of(root * root).1, [0.0, most.sqrt()]).powi(2);
    let (scale, sum) = of(slope);
    Growth {
        form: Form::Logarithm,
        scale: scale.exp_e(),
        rate: slope,
        rate_limits: [None, None],
        wait: 0.0,
        root_mean_square: (sum / readings.len() as f64).sqrt(),
        aicc: aicc(readings.len(), 2, sum),
        reached: None,
    }
}

impl Growth {
    /// Viscosity at a time, in the units of the readings.
    #[must_use]
    pub fn at(&self, time: f64) -> f64 {
        match self.form {
            Form::Logarithm => self.scale * (1.0 + self.rate * time.log_e()),
            Form::FirstOrder | Form::Delayed => {
                self.scale * (1.0 - (-(time - self.wait) / self.rate).exp_e())
            }
        }
    }

    /// Time to a share of the end, with its limits; none for the logarithm, which has no end.
    #[must_use]
    pub fn time_to(&self, degree: f64) -> Option<(f64, [Option<f64>; 2])> {
        let constants = super::constants_to(degree);
        (self.form != Form::Logarithm).then(|| {
            let of = |tau: f64| self.wait + tau * constants;
            (of(self.rate), self.rate_limits.map(|limit| limit.map(of)))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const TIMES: [f64; 8] = [2.0, 5.0, 10.0, 20.0, 40.0, 60.0, 120.0, 1440.0];

    fn noisy(of: impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
        let noise = [1.01, 0.99, 1.005, 0.99, 1.01, 0.995, 1.0, 1.005];
        TIMES.iter().zip(noise).map(|(time, noise)| (*time, of(*time) * noise)).collect()
    }

    #[test]
    fn each_form_is_known_again() {
        let first = growths(&noisy(|t| 5000.0 * (1.0 - (-t / 15.0).exp_e()))).unwrap();
        assert_eq!(first[0].form, Form::FirstOrder);
        assert!((first[0].rate / 15.0 - 1.0).abs() < 0.05, "{:?}", first[0]);
        let (t95, [low, high]) = first[0].time_to(0.95).unwrap();
        assert!(low.unwrap() < t95 && t95 < high.unwrap());
        let log = growths(&noisy(|t| 2000.0 * (1.0 + 0.3 * t.log_e()))).unwrap();
        assert_eq!(log[0].form, Form::Logarithm);
        assert!((log[0].rate / 0.3 - 1.0).abs() < 0.1);
    }

    #[test]
    fn too_few_readings_are_refused() {
        assert!(matches!(growths(&[(1.0, 1.0); 3]), Err(GrowthError::TooFew { .. })));
        assert!(matches!(growths(&[(0.0, 1.0)]), Err(GrowthError::NotAReading { .. })));
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(32))]
        #[test]
        fn order_and_unit_of_viscosity_change_nothing(tau in 3.0..60.0_f64, factor in 1e-3..1e3_f64) {
            let readings = noisy(|t| 5000.0 * (1.0 - (-t / tau).exp_e()));
            let mut turned: Vec<_> = readings.iter().map(|(t, eta)| (*t, eta * factor)).collect();
            turned.reverse();
            let (one, other) = (growths(&readings).unwrap(), growths(&turned).unwrap());
            prop_assert_eq!(one[0].form, other[0].form);
            prop_assert!((one[0].rate / other[0].rate - 1.0).abs() < 1e-6);
        }
    }
}

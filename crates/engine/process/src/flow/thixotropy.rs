//! What shearing breaks down and rest builds up again: the loop between a rising and a falling ramp, and the recovery after high shear.
//!
//! ```text
//! area      A  = integral (tau_up - tau_down) dg                           Pa/s: work per volume and time of the loop
//! in logs   L  = integral ln(tau_up / tau_down) d ln g / ln(g2 / g1)          mean logarithm; e^L - 1: how far up lies above down
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | g1, g2 | shear rates both ramps reach | 1/s |
//!
//! The area in Pa/s is ruled by the highest decade; the one in logarithms weighs every decade alike. Both depend on how fast the ramps ran and how
//! long the top was held, so only loops of one protocol compare. Source: Green and Weltmann, Ind. Eng. Chem. Anal. Ed. 15 (1943) 201, from
//! memory. Areas in closed form below; the recovery has a file of its own.

mod recovery;

pub use recovery::{Before, Followed, Recovery, RecoveryLaw, recoveries, recovery};

use super::curve::Curve;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::least_squares::FitError;
use serde::Serialize;
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
    /// So few readings tell no law from another.
    #[error("{readings} readings after the strong shear; a recovery needs {least}")]
    TooFewReadings {
        /// How many there are.
        readings: usize,
        /// How many it takes.
        least: usize,
    },
    /// Chance alone brings as much change.
    #[error(
        "the viscosity stays at {} Pa s within its scatter of {scatter_percent:.1} %: nothing comes back over these readings",
        three(*.viscosity)
    )]
    Steady {
        /// Viscosity, Pa s.
        viscosity: f64,
        /// Root of the mean square around it, percent.
        scatter_percent: f64,
    },
    /// The viscosity falls.
    #[error("the viscosity falls from {} to {} Pa s: this is no recovery", three(*.from), three(*.to))]
    Falls {
        /// By the law at the first reading, Pa s.
        from: f64,
        /// By the law at the last, Pa s.
        to: f64,
    },
    /// The search did not end.
    #[error("no fit: {0}")]
    Fit(#[from] FitError),
}

/// A number rounded to three figures.
fn three(value: f64) -> f64 {
    format!("{value:.2e}").parse().unwrap_or(value)
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
            Self::TooFewReadings { .. } => "read more often after the strong shear, and longer",
            Self::Steady { .. } => {
                "it was back before the first reading, or the shear broke nothing down: shear harder before, or read sooner"
            }
            Self::Falls { .. } => {
                "look whether these are the readings after the strong shear; a viscosity that falls at one shear rate is still being broken down"
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
}

//! The rotational viscometer with a disc spindle: readings at several speeds to a flow curve, and a flow curve to the reading.
//!
//! ```text
//! tau = k_a A M / M_ref                stress, A the reading in percent of the full torque M of the instrument
//! g   = k_N(n) N                       shear rate, n = d ln tau / d ln N the local slope, N the speed in rpm
//! dial viscosity = A / 100 * F M / M_ref / N
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | k_a, k_N(n) | constants of the spindle, for the torque of reference | Pa per percent, 1/s per rpm |
//! | F | full-scale range of the spindle at the torque of reference | Pa s rpm |
//! | M, M_ref | full-scale torque of the instrument and of the table | N m |
//!
//! The dial viscosity is what the instrument shows; for a shear-thinning product it is not the viscosity at any shear rate of a flow curve but
//! by chance (a factor of about two). Range: discs in a vessel wide against them, 0.1 <= n <= 1; the table agrees with the
//! full-scale ranges within 3.5 % for Newtonian liquids, which is taken as its accuracy. Sources: Mitschka, Rheol. Acta 21 (1982) 207 (table
//! from memory, that test done); Briggs and Steffe, J. Texture Studies 28 (1997) 517 (one line for all discs, from memory): against the
//! table within 7 % for discs of 21 to 35 mm, 10 % for 47 mm, 14 % for 15 mm, 26 % for the largest and the rod. Cases: below, a worked example of
//! another program; `tests/tests/flow_instruments.rs`, the shipped table against its own full-scale ranges and dimensions.

mod choice;

pub use choice::{Choice, chosen};

use super::curve::local_slopes;
use super::liquid::Liquid;
use levigate_measure::elementary::Elementary as _;
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Accuracy of the conversion, relative: agreement of the table with the full-scale ranges.
pub const ACCURACY: f64 = 0.035;

/// A disc spindle.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DiscSpindle {
    /// Key.
    pub key: String,
    /// Place in the set of seven, the largest first; none for a spindle that belongs to no set.
    #[serde(default)]
    pub number: Option<u8>,
    /// Diameter of the disc, mm.
    pub diameter_mm: f64,
    /// Thickness of the disc, or length of the rod in the liquid, mm.
    pub thickness_mm: f64,
    /// Source key of the dimensions.
    pub dimensions_source: String,
    /// Stress for each percent of the reference torque, Pa.
    pub stress_pa_per_percent: f64,
    /// Shear rate for each rpm at a flow index of 0.1, 0.2, ... 1.0, 1/s.
    pub rate_per_rpm: [f64; 10],
    /// Full-scale range at the reference torque, Pa s rpm.
    pub full_scale_pa_s_rpm: f64,
    /// Full-scale torque the constants are for, N m.
    pub reference_torque_n_m: f64,
    /// Source key.
    pub source: String,
}

/// A reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DialReading {
    /// Speed, rpm.
    pub rpm: f64,
    /// Percent of full torque.
    pub percent: f64,
}

/// Why readings give no curve.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum SpindleError {
    /// Fewer than two speeds.
    #[error("{speeds} speeds do not show how the stress changes with the speed")]
    TooFewSpeeds {
        /// Different speeds.
        speeds: usize,
    },
    /// A reading that cannot be.
    #[error("{percent} % at {rpm} rpm cannot be a reading")]
    NotAReading {
        /// Speed, rpm.
        rpm: f64,
        /// Percent.
        percent: f64,
    },
}

impl SpindleError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::TooFewSpeeds { .. } => "read at two speeds at least, better at five over two decades",
            Self::NotAReading { .. } => {
                "a reading lies above 0 and at most at 100 % of full torque, at a speed above zero"
            }
        }
    }
}

/// A reading turned into a point of a flow curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SpindlePoint {
    /// Shear rate, 1/s.
    pub shear_rate: f64,
    /// Stress, Pa.
    pub stress_pa: f64,
    /// Local flow index used.
    pub index: f64,
    /// The slope lay outside the table and was held at its end.
    pub held: bool,
}

impl DiscSpindle {
    /// What people call it: shape and diameter.
    #[must_use]
    pub fn words(&self) -> String {
        let shape = if self.thickness_mm > self.diameter_mm { "rod" } else { "disc" };
        format!("{shape}, {:.0} mm", self.diameter_mm)
    }

    /// Highest viscosity it shows at a speed with an instrument, Pa s.
    #[must_use]
    pub fn full_scale(&self, rpm: f64, torque_n_m: f64) -> f64 {
        self.full_scale_pa_s_rpm * torque_n_m / self.reference_torque_n_m / rpm
    }

    /// Shear rate per rpm by the one line for all discs, 1/s: a cross check, not used for conversions.
    #[must_use]
    pub fn rate_factor_of_all(index: f64) -> f64 {
        0.263 * index.to_the(-0.771)
    }

    fn stress(&self, percent: f64, torque_n_m: f64) -> f64 {
        self.stress_pa_per_percent * percent * torque_n_m / self.reference_torque_n_m
    }

    /// Shear rate per rpm at a flow index, by straight lines between the columns of the table.
    #[must_use]
    pub fn rate_factor(&self, index: f64) -> f64 {
        let place = index.clamp(0.1, 1.0) * 10.0 - 1.0;
        let below = (place.max(0.0).floor() as usize).min(8);
        let share = place - below as f64;
        self.rate_per_rpm[below] * (1.0 - share) + self.rate_per_rpm[below + 1] * share
    }

    /// Viscosity the instrument shows, Pa s.
    #[must_use]
    pub fn dial_viscosity(&self, reading: DialReading, torque_n_m: f64) -> f64 {
        reading.percent / 100.0 * self.full_scale(reading.rpm, torque_n_m)
    }

    /// Readings at several speeds to points of a flow curve, in the order of rising speed.
    ///
    /// # Errors
    /// [`SpindleError`] for fewer than two speeds or a reading that cannot be.
    pub fn flow_points(
        &self,
        readings: &[DialReading],
        torque_n_m: f64,
    ) -> Result<Vec<SpindlePoint>, SpindleError> {
        for reading in readings {
            let DialReading { rpm, percent } = *reading;
            if !(rpm > 0.0 && rpm.is_finite() && percent > 0.0 && percent <= 100.0) {
                return Err(SpindleError::NotAReading { rpm, percent });
            }
        }
        let mut sorted = readings.to_vec();
        sorted.sort_by(|a, b| a.rpm.total_cmp(&b.rpm));
        sorted.dedup_by(|a, b| a.rpm == b.rpm);
        if sorted.len() < 2 {
            return Err(SpindleError::TooFewSpeeds { speeds: sorted.len() });
        }
        let logs: Vec<(f64, f64)> = sorted
            .iter()
            .map(|reading| (reading.rpm.log_e(), self.stress(reading.percent, torque_n_m).log_e()))
            .collect();
        Ok(sorted
            .iter()
            .zip(&logs)
            .zip(local_slopes(&logs))
            .map(|((reading, log), slope)| SpindlePoint {
                shear_rate: self.rate_factor(slope) * reading.rpm,
                stress_pa: log.1.exp_e(),
                index: slope.clamp(0.1, 1.0),
                held: !(0.1..=1.0).contains(&slope),
            })
            .collect())
    }

    /// The reading a liquid gives at a speed; above 100 % the torque does not suffice.
    #[must_use]
    pub fn reading(&self, liquid: &dyn Liquid, rpm: f64, torque_n_m: f64) -> DialReading {
        let slope = |rate: f64| {
            let step = 1.01;
            (liquid.stress(rate * step) / liquid.stress(rate / step)).log_e() / (2.0 * step.log_e())
        };
        // The index depends on the shear rate and the shear rate on the index: they settle within a few turns, since the factor
        // changes slowly.
        let mut rate = self.rate_factor(0.5) * rpm;
        for _ in 0..50 {
            let next = (0.5 * (rate.log_e() + (self.rate_factor(slope(rate)) * rpm).log_e())).exp_e();
            if (next / rate - 1.0).abs() < 1e-12 {
                break;
            }
            rate = next;
        }
        let percent =
            liquid.stress(rate) * self.reference_torque_n_m / (self.stress_pa_per_percent * torque_n_m);
        DialReading { rpm, percent }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow::pipe::HerschelBulkley;

    fn power(consistency: f64, index: f64) -> HerschelBulkley {
        HerschelBulkley { yield_pa: 0.0, consistency, index }
    }

    const TORQUE: f64 = 7.187e-4;

    fn disc() -> DiscSpindle {
        DiscSpindle {
            key: "disc-27".to_owned(),
            number: Some(4),
            diameter_mm: 27.3,
            thickness_mm: 1.65,
            dimensions_source: "from-memory".to_owned(),
            stress_pa_per_percent: 0.539,
            rate_per_rpm: [1.492, 0.892, 0.658, 0.529, 0.445, 0.387, 0.343, 0.310, 0.283, 0.262],
            full_scale_pa_s_rpm: 200.0,
            reference_torque_n_m: TORQUE,
            source: "mitschka-1982".to_owned(),
        }
    }

    #[test]
    fn the_worked_example_goes_both_ways() {
        // K = 12 Pa.s^0.35, n = 0.35: rpm, percent, dial viscosity in mPa.s.
        let table = [
            (0.5, 14.55, 58_209.0),
            (1.0, 18.55, 37_095.0),
            (2.5, 25.56, 20_448.0),
            (5.0, 32.58, 13_031.0),
            (10.0, 41.52, 8_305.0),
            (20.0, 52.92, 5_292.0),
            (50.0, 72.93, 2_917.0),
            (100.0, 92.96, 1_859.0),
        ];
        let spindle = disc();
        for (rpm, percent, dial) in table {
            let reading = spindle.reading(&power(12.0, 0.35), rpm, TORQUE);
            assert!((reading.percent / percent - 1.0).abs() < 5e-3, "{} at {rpm}", reading.percent);
            assert!((spindle.dial_viscosity(reading, TORQUE) * 1e3 / dial - 1.0).abs() < 5e-3);
        }
        let readings: Vec<DialReading> =
            table.iter().map(|(rpm, percent, _)| DialReading { rpm: *rpm, percent: *percent }).collect();
        for point in spindle.flow_points(&readings, TORQUE).unwrap() {
            assert!((point.index - 0.35).abs() < 2e-3);
            assert!((point.stress_pa / (12.0 * point.shear_rate.to_the(0.35)) - 1.0).abs() < 5e-3);
        }
    }

    #[test]
    fn a_newtonian_liquid_shows_its_viscosity_within_the_accuracy_stated() {
        let spindle = disc();
        let reading = spindle.reading(&power(2.0, 1.0), 20.0, TORQUE);
        assert!((spindle.dial_viscosity(reading, TORQUE) / 2.0 - 1.0).abs() < 0.035);
    }

    #[test]
    fn one_speed_is_no_curve() {
        let one = [DialReading { rpm: 10.0, percent: 40.0 }];
        assert_eq!(disc().flow_points(&one, TORQUE), Err(SpindleError::TooFewSpeeds { speeds: 1 }));
    }
}

//! From speed and torque to points of a flow curve: coaxial cylinders, cone and plate, parallel plates.
//!
//! ```text
//! coaxial cylinders, d = Ra/Ri:
//!   representative  tau = (1 + d^2)/(2 d^2) M/(2 pi L Ri^2 cL),   g = w (1 + d^2)/(d^2 - 1)
//!   at the bob      tau = M/(2 pi L Ri^2 cL),                     g = (2 w/n)/(1 - d^(-2/n)),  n = d ln M / d ln w
//!   forward         w = 1/2 integral from tau/d^2 to tau of g(t) dt/t
//!   Taylor number   Ta = rho^2 w^2 (Ra - Ri)^3 Ri / eta^2
//! cone and plate    tau = 3 M/(2 pi R^3),                         g = w/alpha
//! parallel plates   tau = M/(2 pi R^3) (3 + d ln M / d ln w),     g = w R/h             at the rim
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | Ri, Ra, L | radius of the inner and the outer cylinder, length in the liquid | m |
//! | cL | end effect: torque of the ends with the wall over that of the wall | - |
//! | M, w | torque, angular speed | N m, rad/s |
//! | R, alpha, h | radius of cone or plate, angle of the cone, gap | m, rad, m |
//! | eta, rho | viscosity, density | Pa s, kg/m3 |
//!
//! The representative values are meant for narrow gaps (d up to 1.2): there they lie on the flow curve of a power-law liquid within 1 % from n =
//! 0.3 up, without its index. The end effect is that of the geometry, 1.10 for d = 1.0847, L = 3 Ri, a bob with a cone of 120 degrees; measured
//! with a Newtonian liquid it changes a little with shear thinning. Where the inner cylinder turns and Ta exceeds about 1700, vortices
//! add to the torque. Sources: ISO 3219:1993 (from memory); Couette (1890); Taylor, Phil. Trans. A 223 (1923) 289 (from memory). Cases:
//! `tests/published/flow_instruments.toml`.

use super::curve::local_slopes;
use super::integral::over;
use super::liquid::Liquid;
use core::f64::consts::TAU;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::root::bracketed;
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// End effect of the standard coaxial geometry.
pub const STANDARD_END_EFFECT: f64 = 1.10;
/// Taylor number from which vortices are to be expected where the inner cylinder turns.
pub const TAYLOR_LIMIT: f64 = 1700.0;
/// Beyond this ratio of the radii the representative values are not meant.
const WIDE: f64 = 1.2;
/// Beyond this angle (4 degrees) the shear rate in a cone is not the same everywhere.
const STEEP_DEG: f64 = 4.0;

/// Angular speed of a speed in rpm, rad/s.
#[must_use]
pub fn angular_speed(rpm: f64) -> f64 {
    rpm * TAU / 60.0
}

/// A reading: how fast it turns and what torque that takes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Turn {
    /// Angular speed, rad/s.
    pub rad_per_s: f64,
    /// Torque, N m.
    pub torque_n_m: f64,
}

/// A point of the flow curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct RotorPoint {
    /// Shear rate, 1/s.
    pub shear_rate: f64,
    /// Stress, Pa.
    pub stress_pa: f64,
    /// Local slope d ln M / d ln w used; none where none is needed.
    pub index: Option<f64>,
}

/// Why readings give no points.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum RotorError {
    /// A dimension that cannot be.
    #[error("{what} of {value} cannot be")]
    Dimension {
        /// Dimension.
        what: &'static str,
        /// As given, SI.
        value: f64,
    },
    /// A reading that cannot be.
    #[error("reading {reading}: {torque_n_m} N m at {rad_per_s} rad/s cannot be used")]
    NotAReading {
        /// Reading, from 0.
        reading: usize,
        /// Angular speed, rad/s.
        rad_per_s: f64,
        /// Torque, N m.
        torque_n_m: f64,
    },
    /// Fewer than two speeds where the slope is needed.
    #[error("{speeds} speeds do not show how the torque changes with the speed")]
    TooFewSpeeds {
        /// Different speeds.
        speeds: usize,
    },
}

impl RotorError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Dimension { .. } => {
                "check the dimension and its unit; radii in metres, the outer one larger"
            }
            Self::NotAReading { .. } => {
                "leave out speeds and torques of zero or below; a sign means the direction"
            }
            Self::TooFewSpeeds { .. } => "read at two speeds at least, better at five over two decades",
        }
    }
}

/// Coaxial cylinders.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CoaxialCylinders {
    /// Radius of the inner cylinder, m.
    pub inner_radius_m: f64,
    /// Radius of the outer cylinder, m.
    pub outer_radius_m: f64,
    /// Length of the inner cylinder in the liquid, m.
    pub length_m: f64,
    /// End effect, at least 1; [`STANDARD_END_EFFECT`] for the standard geometry.
    pub end_effect: f64,
}

impl CoaxialCylinders {
    /// Ratio of the radii.
    #[must_use]
    pub fn ratio(&self) -> f64 {
        self.outer_radius_m / self.inner_radius_m
    }

    /// The gap is wider than the representative values are meant for.
    #[must_use]
    pub fn wide(&self) -> bool {
        self.ratio() > WIDE
    }

    fn check(&self) -> Result<(), RotorError> {
        positive("an inner radius", self.inner_radius_m)?;
        positive("a length", self.length_m)?;
        if !(self.outer_radius_m > self.inner_radius_m && self.outer_radius_m.is_finite()) {
            return Err(RotorError::Dimension { what: "an outer radius", value: self.outer_radius_m });
        }
        if !(1.0..=3.0).contains(&self.end_effect) {
            return Err(RotorError::Dimension { what: "an end effect", value: self.end_effect });
        }
        Ok(())
    }

    /// Stress at the wall of the inner cylinder for a torque, Pa.
    #[must_use]
    pub fn inner_stress(&self, torque_n_m: f64) -> f64 {
        torque_n_m / (TAU * self.length_m * self.inner_radius_m.powi(2) * self.end_effect)
    }

    /// Torque for a stress at the wall of the inner cylinder, N m.
    #[must_use]
    pub fn torque(&self, inner_stress_pa: f64) -> f64 {
        inner_stress_pa * TAU * self.length_m * self.inner_radius_m.powi(2) * self.end_effect
    }

    /// Shear rate at the inner wall for each rad/s, at a flow index.
    #[must_use]
    pub fn inner_rate_per_speed(&self, index: f64) -> f64 {
        2.0 / index / (1.0 - self.ratio().to_the(-2.0 / index))
    }

    /// Representative points: no index needed, one reading is enough.
    ///
    /// # Errors
    /// [`RotorError`] for dimensions or readings that cannot be.
    pub fn representative_points(&self, turns: &[Turn]) -> Result<Vec<RotorPoint>, RotorError> {
        self.check()?;
        usable(turns)?;
        let squared = self.ratio().powi(2);
        Ok(turns
            .iter()
            .map(|turn| RotorPoint {
                shear_rate: turn.rad_per_s * (1.0 + squared) / (squared - 1.0),
                stress_pa: self.inner_stress(turn.torque_n_m) * (1.0 + squared) / (2.0 * squared),
                index: None,
            })
            .collect())
    }

    /// Points at the inner wall, the shear rate by the local slope, in the order of rising speed.
    ///
    /// # Errors
    /// [`RotorError`] for dimensions or readings that cannot be, or fewer than two speeds.
    pub fn inner_points(&self, turns: &[Turn]) -> Result<Vec<RotorPoint>, RotorError> {
        self.check()?;
        Ok(sloped(turns)?
            .into_iter()
            .map(|(turn, slope)| RotorPoint {
                shear_rate: self.inner_rate_per_speed(slope.clamp(0.05, 2.0)) * turn.rad_per_s,
                stress_pa: self.inner_stress(turn.torque_n_m),
                index: Some(slope),
            })
            .collect())
    }

    /// Angular speed of a liquid for a stress at the inner wall, rad/s; where the stress falls below the yield stress on the way out, the
    /// liquid turns or stands as a ring.
    #[must_use]
    pub fn speed(&self, liquid: &dyn Liquid, inner_stress_pa: f64) -> f64 {
        let outer = inner_stress_pa / self.ratio().powi(2);
        let from = outer.max(liquid.yield_stress()).log_e();
        let to = inner_stress_pa.log_e();
        if to <= from {
            return 0.0;
        }
        0.5 * over(from, to, 16, |ln_stress| liquid.rate(ln_stress.exp_e()))
    }

    /// Torque a liquid takes at an angular speed, N m; `None` where no torque turns it that fast.
    #[must_use]
    pub fn torque_of(&self, liquid: &dyn Liquid, rad_per_s: f64) -> Option<f64> {
        let miss = |ln_stress: f64| (self.speed(liquid, ln_stress.exp_e()) / rad_per_s).max(1e-300).log_e();
        // The stress at the mean rate of a Newtonian liquid, and decades around it.
        let middle = liquid.stress(self.inner_rate_per_speed(1.0) * rad_per_s).log_e();
        let (mut low, mut high) = (middle, middle);
        for _ in 0..60 {
            if miss(low) < 0.0 {
                break;
            }
            low -= 0.5;
        }
        for _ in 0..60 {
            if miss(high) > 0.0 {
                break;
            }
            high += 0.5;
        }
        bracketed(miss, low, high, 1e-12, 200).ok().map(|ln_stress| self.torque(ln_stress.exp_e()))
    }

    /// Taylor number of a liquid of one viscosity (of a thinning one: that at the speed's shear rate), where the inner cylinder turns.
    #[must_use]
    pub fn taylor_number(&self, rad_per_s: f64, density_kg_m3: f64, viscosity_pa_s: f64) -> f64 {
        (density_kg_m3 * rad_per_s / viscosity_pa_s).powi(2)
            * (self.outer_radius_m - self.inner_radius_m).powi(3)
            * self.inner_radius_m
    }

    /// A warning where vortices add to the torque; `None` where none are to be expected.
    #[must_use]
    pub fn vortices(&self, rad_per_s: f64, density_kg_m3: f64, viscosity_pa_s: f64) -> Option<String> {
        let number = self.taylor_number(rad_per_s, density_kg_m3, viscosity_pa_s);
        (number > TAYLOR_LIMIT).then(|| {
            format!(
                "Taylor number {number:.0}, above about {TAYLOR_LIMIT:.0}: vortices add to the torque where the inner cylinder turns; read at \
                 lower speeds or take a narrower gap"
            )
        })
    }
}

/// Cone and plate.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ConePlate {
    /// Radius, m.
    pub radius_m: f64,
    /// Angle between cone and plate, degrees; up to 4.
    pub angle_deg: f64,
}

impl ConePlate {
    /// Points: no index needed.
    ///
    /// # Errors
    /// [`RotorError`] for dimensions or readings that cannot be.
    pub fn points(&self, turns: &[Turn]) -> Result<Vec<RotorPoint>, RotorError> {
        positive("a radius", self.radius_m)?;
        if !(self.angle_deg > 0.0 && self.angle_deg <= STEEP_DEG) {
            return Err(RotorError::Dimension { what: "an angle in degrees", value: self.angle_deg });
        }
        usable(turns)?;
        Ok(turns
            .iter()
            .map(|turn| RotorPoint {
                shear_rate: turn.rad_per_s / self.angle_deg.to_radians(),
                stress_pa: 3.0 * turn.torque_n_m / (TAU * self.radius_m.powi(3)),
                index: None,
            })
            .collect())
    }
}

/// Parallel plates.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ParallelPlates {
    /// Radius, m.
    pub radius_m: f64,
    /// Gap, m.
    pub gap_m: f64,
}

impl ParallelPlates {
    /// Points at the rim, the stress by the local slope, in the order of rising speed.
    ///
    /// # Errors
    /// [`RotorError`] for dimensions or readings that cannot be, or fewer than two speeds.
    pub fn rim_points(&self, turns: &[Turn]) -> Result<Vec<RotorPoint>, RotorError> {
        positive("a radius", self.radius_m)?;
        positive("a gap", self.gap_m)?;
        Ok(sloped(turns)?
            .into_iter()
            .map(|(turn, slope)| RotorPoint {
                shear_rate: turn.rad_per_s * self.radius_m / self.gap_m,
                stress_pa: turn.torque_n_m * (3.0 + slope) / (TAU * self.radius_m.powi(3)),
                index: Some(slope),
            })
            .collect())
    }

    /// Torque a liquid takes at an angular speed, N m: the stress over the plate, `2 pi integral tau r^2 dr`.
    #[must_use]
    pub fn torque_of(&self, liquid: &dyn Liquid, rad_per_s: f64) -> f64 {
        // In ln r, four decades down from the rim: what lies further in is a millionth of a millionth of the torque.
        let rim = rad_per_s * self.radius_m / self.gap_m;
        let sum = over(-4.0 * core::f64::consts::LN_10, 0.0, 24, |ln_share| {
            let share = ln_share.exp_e();
            liquid.stress(rim * share) * share.powi(3)
        });
        TAU * self.radius_m.powi(3) * sum
    }
}

fn positive(what: &'static str, value: f64) -> Result<(), RotorError> {
    if value > 0.0 && value.is_finite() { Ok(()) } else { Err(RotorError::Dimension { what, value }) }
}

fn usable(turns: &[Turn]) -> Result<(), RotorError> {
    for (reading, turn) in turns.iter().enumerate() {
        let Turn { rad_per_s, torque_n_m } = *turn;
        let good = |value: f64| value > 0.0 && value.is_finite();
        if !(good(rad_per_s) && good(torque_n_m)) {
            return Err(RotorError::NotAReading { reading, rad_per_s, torque_n_m });
        }
    }
    Ok(())
}

/// Readings in the order of rising speed with their local slopes.
fn sloped(turns: &[Turn]) -> Result<Vec<(Turn, f64)>, RotorError> {
    usable(turns)?;
    let mut sorted = turns.to_vec();
    sorted.sort_by(|a, b| a.rad_per_s.total_cmp(&b.rad_per_s));
    sorted.dedup_by(|a, b| a.rad_per_s == b.rad_per_s);
    if sorted.len() < 2 {
        return Err(RotorError::TooFewSpeeds { speeds: sorted.len() });
    }
    let logs: Vec<(f64, f64)> =
        sorted.iter().map(|turn| (turn.rad_per_s.log_e(), turn.torque_n_m.log_e())).collect();
    Ok(sorted.into_iter().zip(local_slopes(&logs)).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow::pipe::HerschelBulkley;

    const STANDARD: CoaxialCylinders = CoaxialCylinders {
        inner_radius_m: 0.0125,
        outer_radius_m: 0.0125 * 1.0847,
        length_m: 0.0375,
        end_effect: STANDARD_END_EFFECT,
    };

    fn power(consistency: f64, index: f64) -> HerschelBulkley {
        HerschelBulkley { yield_pa: 0.0, consistency, index }
    }

    /// Closed form of a power-law liquid: `w = n/2 (tau/K)^(1/n) (1 - d^(-2/n))`.
    fn closed(liquid: &HerschelBulkley, cylinders: &CoaxialCylinders, stress: f64) -> f64 {
        let n = liquid.index;
        0.5 * n * (stress / liquid.consistency).to_the(1.0 / n) * (1.0 - cylinders.ratio().to_the(-2.0 / n))
    }

    #[test]
    fn speeds_of_power_law_liquids_have_their_closed_form() {
        for index in [0.2, 0.5, 1.0] {
            let liquid = power(3.0, index);
            for cylinders in [STANDARD, CoaxialCylinders { outer_radius_m: 0.03, ..STANDARD }] {
                let ours = cylinders.speed(&liquid, 20.0);
                assert!((ours / closed(&liquid, &cylinders, 20.0) - 1.0).abs() < 2e-6, "{index} {ours}");
                let torque = cylinders.torque_of(&liquid, ours).unwrap();
                assert!((cylinders.inner_stress(torque) / 20.0 - 1.0).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn representative_points_lie_on_the_curve_within_one_percent() {
        for index in [0.3, 0.5, 0.8, 1.0] {
            let liquid = power(3.0, index);
            let turn = |stress: f64| Turn {
                rad_per_s: closed(&liquid, &STANDARD, stress),
                torque_n_m: STANDARD.torque(stress),
            };
            for point in STANDARD.representative_points(&[turn(5.0), turn(50.0)]).unwrap() {
                assert!(
                    (point.stress_pa / liquid.stress(point.shear_rate) - 1.0).abs() < 0.01,
                    "{index} {point:?}"
                );
            }
        }
    }

    #[test]
    fn inner_points_of_power_law_liquids_are_exact_in_any_gap() {
        let wide = CoaxialCylinders { outer_radius_m: 0.03, ..STANDARD };
        let liquid = power(3.0, 0.4);
        let turns: Vec<Turn> = [2.0, 5.0, 20.0, 60.0]
            .map(|stress| Turn { rad_per_s: closed(&liquid, &wide, stress), torque_n_m: wide.torque(stress) })
            .to_vec();
        assert!(wide.wide());
        for point in wide.inner_points(&turns).unwrap() {
            assert!((point.stress_pa / liquid.stress(point.shear_rate) - 1.0).abs() < 1e-9);
        }
    }

    #[test]
    fn plates_and_cone_read_the_same_liquid() {
        let liquid = power(3.0, 0.4);
        let plates = ParallelPlates { radius_m: 0.02, gap_m: 0.5e-3 };
        let turns: Vec<Turn> = [0.1, 1.0, 10.0]
            .map(|rad_per_s| Turn { rad_per_s, torque_n_m: plates.torque_of(&liquid, rad_per_s) })
            .to_vec();
        // Closed form of the torque: 2 pi R^3 tau_rim / (n + 3).
        let closed = TAU * 0.02_f64.powi(3) * liquid.stress(1.0 * 0.02 / 0.5e-3) / 3.4;
        assert!((turns[1].torque_n_m / closed - 1.0).abs() < 1e-7);
        for point in plates.rim_points(&turns).unwrap() {
            assert!((point.stress_pa / liquid.stress(point.shear_rate) - 1.0).abs() < 1e-6);
        }
        let cone = ConePlate { radius_m: 0.02, angle_deg: 1.0 };
        let torque = liquid.stress(1.0 / 1.0_f64.to_radians()) * TAU * 0.02_f64.powi(3) / 3.0;
        let point = cone.points(&[Turn { rad_per_s: 1.0, torque_n_m: torque }]).unwrap()[0];
        assert!((point.stress_pa / liquid.stress(point.shear_rate) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn dimensions_and_readings_that_cannot_be_are_refused() {
        let turned = CoaxialCylinders { outer_radius_m: 0.01, ..STANDARD };
        assert!(matches!(
            turned.inner_points(&[]),
            Err(RotorError::Dimension { what: "an outer radius", .. })
        ));
        let still = Turn { rad_per_s: 0.0, torque_n_m: 1e-5 };
        assert!(matches!(
            STANDARD.representative_points(&[still]),
            Err(RotorError::NotAReading { reading: 0, .. })
        ));
        let one = Turn { rad_per_s: 1.0, torque_n_m: 1e-5 };
        assert_eq!(STANDARD.inner_points(&[one, one]), Err(RotorError::TooFewSpeeds { speeds: 1 }));
        assert!(ConePlate { radius_m: 0.02, angle_deg: 12.0 }.points(&[one]).is_err());
    }

    #[test]
    fn water_in_a_wide_gap_makes_vortices_and_a_gel_does_not() {
        let speed = angular_speed(200.0);
        let wide = CoaxialCylinders { outer_radius_m: 0.0145, ..STANDARD };
        assert!(wide.vortices(speed, 998.0, 1e-3).is_some());
        assert!(wide.vortices(speed, 998.0, 0.5).is_none());
    }
}

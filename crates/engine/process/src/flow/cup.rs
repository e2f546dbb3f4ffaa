//! The flow cup as a rheometer: how long a cup takes to empty says how viscous a liquid is, once its density is known.
//!
//! ```text
//! nu = a t - b/t                      cups with a nozzle: weight against friction, less what the jet takes with it (Hagenbach)
//! nu = k (t - c)                       cups with an orifice, the same as a straight line
//! a = pi R^4 g H/(8 L V),  b = m V/(8 pi L)      from the dimensions, m about 1.12
//! g_w = 4 V/(pi R^3 t) (3n + 1)/(4n),  tau_w = rho g H R/(2 L)      at the wall of the nozzle
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | nu, t | kinematic viscosity, time to run out | m2/s, s |
//! | R, L | radius and length of the nozzle | m |
//! | H, V | mean height of the liquid above the outlet, volume | m, m3 |
//! | n | flow index | - |
//!
//! A cup is made for Newtonian liquids. For one that thins with the shear rate the number is the viscosity at about the shear rate stated, which falls
//! while the cup empties: never a viscosity at rest, and comparable only with the same cup, temperature and density. Two cups with different
//! nozzles give two points. A liquid with a yield stress above a small part of the wall stress stops in the cup. Times outside the range of
//! the cup are refused, since jet or dripping rule there. Sources: ISO 2431, DIN 53211, ASTM D1200 as collected in secondary sources (see
//! `data/methods/flow_cups.toml`); Hagenbach, Ann. Phys. 185 (1860) 385 (from memory). Cases: `tests/tests/flow_instruments.rs`.

use super::film::GRAVITY_M_S2;
use core::f64::consts::PI;
use levigate_measure::elementary::Elementary as _;
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// What the jet takes with it, in the kinetic energy of its mean speed squared (Boussinesq's value).
const JET: f64 = 1.12;
/// Flow indices between which the true shear rate of a liquid of unknown index is given.
const LEAST_INDEX: f64 = 0.3;

/// How time becomes viscosity.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(untagged, deny_unknown_fields)]
pub enum CupEquation {
    /// `nu = a t - b/t`.
    Nozzle {
        /// mm2/s2.
        a_mm2_s2: f64,
        /// mm2.
        b_mm2: f64,
    },
    /// `nu = k (t - c)`.
    Line {
        /// mm2/s2.
        k_mm2_s2: f64,
        /// s.
        c_s: f64,
    },
}

impl CupEquation {
    /// Kinematic viscosity for a time, mm2/s.
    #[must_use]
    pub fn viscosity_mm2_s(&self, time_s: f64) -> f64 {
        match *self {
            Self::Nozzle { a_mm2_s2, b_mm2 } => a_mm2_s2 * time_s - b_mm2 / time_s,
            Self::Line { k_mm2_s2, c_s } => k_mm2_s2 * (time_s - c_s),
        }
    }

    /// Time for a kinematic viscosity, s.
    #[must_use]
    pub fn time_s(&self, viscosity_mm2_s: f64) -> f64 {
        match *self {
            Self::Nozzle { a_mm2_s2, b_mm2 } => {
                let half = 0.5 * viscosity_mm2_s;
                (half + (half * half + a_mm2_s2 * b_mm2).sqrt()) / a_mm2_s2
            }
            Self::Line { k_mm2_s2, c_s } => viscosity_mm2_s / k_mm2_s2 + c_s,
        }
    }
}

/// A flow cup.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FlowCup {
    /// Key.
    pub key: String,
    /// What people call it.
    pub name: String,
    /// Diameter of the nozzle or orifice, mm.
    pub orifice_mm: f64,
    /// Length of the nozzle, mm, where known.
    #[serde(default)]
    pub nozzle_mm: Option<f64>,
    /// Volume, ml.
    pub volume_ml: f64,
    /// Source key of length and volume.
    pub dimensions_source: String,
    /// How time becomes viscosity.
    pub equation: CupEquation,
    /// Shortest and longest time it is made for, s.
    pub range_s: [f64; 2],
    /// Source key of the equation.
    pub source: String,
}

/// Why a time gives no viscosity.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum CupError {
    /// A time that cannot be, or outside what the cup is made for.
    #[error("{time_s} s lies outside {low} to {high} s, for which {cup} is made")]
    OutOfRange {
        /// Cup.
        cup: String,
        /// Time, s.
        time_s: f64,
        /// Shortest, s.
        low: f64,
        /// Longest, s.
        high: f64,
    },
    /// A dimension or density that cannot be.
    #[error("{what} of {value} cannot be")]
    NotPositive {
        /// What.
        what: &'static str,
        /// As given.
        value: f64,
    },
    /// Readings that do not show an index.
    #[error(
        "wall stresses {first} and {second} Pa, apart by less than a fifth, do not show how the liquid thins"
    )]
    TooAlike {
        /// First wall stress, Pa.
        first: f64,
        /// Second, Pa.
        second: f64,
    },
}

impl CupError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::OutOfRange { .. } => {
                "take a cup with a larger nozzle for long times, a smaller one for short times"
            }
            Self::NotPositive { .. } => "give it above zero, in the unit named",
            Self::TooAlike { .. } => "take two cups whose nozzles differ more",
        }
    }
}

/// What a cup says.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CupReading {
    /// Kinematic viscosity, m2/s.
    pub kinematic_m2_s: f64,
    /// Viscosity, Pa s: that of a Newtonian liquid, else the apparent one at the shear rates below.
    pub viscosity_pa_s: f64,
    /// Share of the weight that the jet took, 0 to 1; large means that the number hangs on the correction.
    pub jet_share: f64,
    /// Mean shear rate at the wall of the nozzle of a Newtonian liquid, 1/s.
    pub shear_rate: f64,
    /// The same for a flow index from 1 down to 0.3.
    pub shear_rates: [f64; 2],
    /// Mean stress at the wall of the nozzle, Pa, by the viscosity and shear rate above.
    pub wall_stress_pa: f64,
    /// What the number is not, in one sentence.
    pub statement: String,
}

impl FlowCup {
    /// A cup of one's own by its dimensions: radius and length of the nozzle, mean height of the liquid above the outlet, volume. The range is where the
    /// jet takes at most half of the weight, up to ten minutes.
    ///
    /// # Errors
    /// [`CupError::NotPositive`] for dimensions that cannot be.
    pub fn of_dimensions(
        radius_m: f64,
        length_m: f64,
        mean_height_m: f64,
        volume_m3: f64,
    ) -> Result<Self, CupError> {
        for (what, value) in [
            ("a radius", radius_m),
            ("a length", length_m),
            ("a height", mean_height_m),
            ("a volume", volume_m3),
        ] {
            positive(what, value)?;
        }
        let a = PI * radius_m.powi(4) * GRAVITY_M_S2 * mean_height_m / (8.0 * length_m * volume_m3) * 1e6;
        let b = JET * volume_m3 / (8.0 * PI * length_m) * 1e6;
        Ok(Self {
            key: "own-cup".to_owned(),
            name: "cup of one's own".to_owned(),
            orifice_mm: 2e3 * radius_m,
            nozzle_mm: Some(1e3 * length_m),
            volume_ml: volume_m3 * 1e6,
            dimensions_source: "measured".to_owned(),
            equation: CupEquation::Nozzle { a_mm2_s2: a, b_mm2: b },
            range_s: [(2.0 * b / a).sqrt(), 600.0_f64.max((2.0 * b / a).sqrt() * 10.0)],
            source: "measured".to_owned(),
        })
    }

    /// What a time says of a liquid.
    ///
    /// # Errors
    /// [`CupError`] for a time outside the range of the cup or a density that cannot be.
    pub fn reading(&self, time_s: f64, density_kg_m3: f64) -> Result<CupReading, CupError> {
        let [low, high] = self.range_s;
        if !(low..=high).contains(&time_s) {
            return Err(CupError::OutOfRange { cup: self.name.clone(), time_s, low, high });
        }
        positive("a density", density_kg_m3)?;
        let kinematic_m2_s = self.equation.viscosity_mm2_s(time_s) * 1e-6;
        let jet_share = match self.equation {
            CupEquation::Nozzle { a_mm2_s2, b_mm2 } => b_mm2 / (a_mm2_s2 * time_s * time_s),
            CupEquation::Line { c_s, .. } => c_s / time_s,
        };
        let viscosity_pa_s = kinematic_m2_s * density_kg_m3;
        let shear_rate = self.apparent_rate(time_s);
        let thinnest = shear_rate * (3.0 * LEAST_INDEX + 1.0) / (4.0 * LEAST_INDEX);
        Ok(CupReading {
            kinematic_m2_s,
            viscosity_pa_s,
            jet_share,
            shear_rate,
            shear_rates: [shear_rate, thinnest],
            wall_stress_pa: viscosity_pa_s * shear_rate,
            statement: format!(
                "exact for a liquid of one viscosity; for one that thins it is the viscosity at about {shear_rate:.0} to {thinnest:.0} 1/s at \
                 the wall of the nozzle, falling to nothing as the cup empties, and compares only with the same cup"
            ),
        })
    }

    /// Mean shear rate of a Newtonian liquid at the wall of the nozzle, 1/s.
    fn apparent_rate(&self, time_s: f64) -> f64 {
        4.0 * self.volume_ml * 1e-6 / (PI * (self.orifice_mm * 5e-4).powi(3) * time_s)
    }

    /// Time a Newtonian liquid takes, s, whether or not the cup is made for it.
    #[must_use]
    pub fn time(&self, viscosity_pa_s: f64, density_kg_m3: f64) -> f64 {
        self.equation.time_s(viscosity_pa_s / density_kg_m3 * 1e6)
    }
}

/// Consistency and index of a power law through the readings of two cups.
///
/// # Errors
/// [`CupError::TooAlike`] where the wall stresses lie within a fifth of each other.
pub fn power_law_of_two(first: &CupReading, second: &CupReading) -> Result<(f64, f64), CupError> {
    let stresses = [first.wall_stress_pa, second.wall_stress_pa];
    let ratio = (stresses[0] / stresses[1]).log_e();
    if ratio.abs() < 1.2_f64.log_e() {
        return Err(CupError::TooAlike { first: stresses[0], second: stresses[1] });
    }
    let index = ratio / (first.shear_rate / second.shear_rate).log_e();
    let true_rate = first.shear_rate * (3.0 * index + 1.0) / (4.0 * index);
    Ok((stresses[0] / true_rate.to_the(index), index))
}

fn positive(what: &'static str, value: f64) -> Result<(), CupError> {
    if value > 0.0 && value.is_finite() { Ok(()) } else { Err(CupError::NotPositive { what, value }) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn four() -> FlowCup {
        FlowCup {
            key: "iso-4".to_owned(),
            name: "cup, 4 mm".to_owned(),
            orifice_mm: 4.0,
            nozzle_mm: Some(20.0),
            volume_ml: 100.0,
            dimensions_source: "from-memory".to_owned(),
            equation: CupEquation::Nozzle { a_mm2_s2: 1.37, b_mm2: 200.0 },
            range_s: [30.0, 100.0],
            source: "from-memory".to_owned(),
        }
    }

    #[test]
    fn time_and_viscosity_go_both_ways() {
        for equation in [
            CupEquation::Nozzle { a_mm2_s2: 1.37, b_mm2: 200.0 },
            CupEquation::Line { k_mm2_s2: 3.85, c_s: 4.49 },
        ] {
            for time in [31.0, 55.0, 99.0] {
                assert!((equation.time_s(equation.viscosity_mm2_s(time)) / time - 1.0).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn a_cup_of_one_s_own_with_the_dimensions_of_a_standard_one_has_its_constants() {
        // 4 mm nozzle, 20 mm long, 100 ml; a mean height of 45 mm is between that of the full cup and of the last drop.
        let CupEquation::Nozzle { a_mm2_s2, b_mm2 } =
            FlowCup::of_dimensions(2e-3, 20e-3, 45e-3, 100e-6).unwrap().equation
        else {
            panic!("no nozzle");
        };
        assert!((a_mm2_s2 / 1.37 - 1.0).abs() < 0.06, "{a_mm2_s2}");
        assert!((b_mm2 / 200.0 - 1.0).abs() < 0.15, "{b_mm2}");
    }

    #[test]
    fn what_the_cup_is_not_made_for_is_refused() {
        assert!(matches!(four().reading(12.0, 1000.0), Err(CupError::OutOfRange { .. })));
        assert!(matches!(four().reading(f64::NAN, 1000.0), Err(CupError::OutOfRange { .. })));
        assert!(matches!(four().reading(50.0, 0.0), Err(CupError::NotPositive { .. })));
        assert!(FlowCup::of_dimensions(2e-3, -1.0, 0.05, 1e-4).is_err());
    }

    #[test]
    fn two_cups_show_a_power_law() {
        // Stress and apparent rate of a power law in tubes: tau = K ((3n+1)/(4n) g_a)^n.
        let (consistency, index) = (2.0, 0.5);
        let read = |apparent: f64| {
            let wall = consistency * ((3.0 * index + 1.0) / (4.0 * index) * apparent).to_the(index);
            let mut reading = four().reading(50.0, 1000.0).unwrap();
            reading.shear_rate = apparent;
            reading.wall_stress_pa = wall;
            reading
        };
        let (k, n) = power_law_of_two(&read(50.0), &read(200.0)).unwrap();
        assert!((k / consistency - 1.0).abs() < 1e-12 && (n / index - 1.0).abs() < 1e-12);
        assert!(power_law_of_two(&read(50.0), &read(51.0)).is_err());
    }
}

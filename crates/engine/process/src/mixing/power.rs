//! The power number of an impeller from slow to turbulent flow.
//!
//! For upright and tilted blades, from the geometry (Kamei and Hiraoka, collected by Furukawa and others):
//! ```text
//! beta = 2 ln(D/d) / (D/d - d/D)
//! eta  = 0.711 (0.157 + (n ln(D/d))^0.611) / (n^0.52 (1 - (d/D)^2))
//! gamma = (eta ln(D/d) / (beta D/d)^5)^(1/3)
//! X    = gamma n^0.7 b sin^1.6(a) / H
//! Re_G = pi eta ln(D/d) / (4 d / (beta D)) Re
//! C_L  = 0.215 eta n (d/H) (1 - (d/D)^2) + 1.83 (b sin(a) / H) (n/2)^(1/3)
//! C_t  = ((1.96 X^1.19)^-7.8 + 0.25^-7.8)^(-1/7.8)
//! m    = ((0.71 X^0.373)^-7.8 + 0.333^-7.8)^(-1/7.8)
//! C_tr = 23.8 (d/D)^-3.24 (b sin(a)/D)^-1.18 X^-0.74
//! f_inf = 0.0151 (d/D) C_t^0.308
//! f    = C_L/Re_G + C_t ((C_tr/Re_G + Re_G)^-1 + (f_inf/C_t)^(1/m))^m
//! N_P0 = 1.2 pi^4 beta^2 / (8 d^3 / (D^2 H)) f                     without baffles
//! N_Pmax = 10 y^1.3 (y <= 0.54), 8.3 y (to 1.6), 10 y^0.6, y = n^0.7 b/d     upright; 8.3 (2a/pi)^0.9 n^0.7 b sin^1.6(a)/d   tilted
//! x    = 4.5 (B/D) n_B^0.8 / ((2a/pi)^0.72 N_Pmax^0.2) + N_P0/N_Pmax
//! N_P  = N_Pmax (1 + x^-3)^(-1/3), at least N_P0                    with baffles
//! ```
//! For every other kind, between its two numbers: `N_P = K_P / Re + N_t`.
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | D, H, d | vessel, depth of the liquid as in a cylinder, impeller | m |
//! | b, n, a | height of a blade, blades, tilt | m, -, rad |
//! | B, n_B | width and number of baffles | m, - |
//! | Re | Reynolds number `rho N d^2 / mu` | - |
//! | K_P, N_t | `N_P Re` in slow flow, power number in turbulent flow | - |
//!
//! Range: one impeller in a round vessel filled about as deep as wide, d/D 0.3 to 0.9; several on a shaft are added up as if they stood a diameter
//! apart. Between slow and turbulent flow published curves lie 10 to 30 % apart. Sources: Furukawa and others, Int. J. Chem. Eng. 2012, 106496
//! (the abstract read; the coefficients from memory, those without baffles agree with an open program by others that cites the paper; that
//! program has sin(a) inside the last bracket of C_L, worth at most 6 % of K_P at 30 degrees). Simulations of thick blades on a thick hub by the same
//! others lie 50 to 60 % above it in slow flow and 70 to 90 % above at Re of 30 to 100. The interval, 15 % at the ends and 30 % between, is that of thin
//! blades and does not cover these: it is not widened for one set of simulations, but results from blades below Re of [`HUB_MATTERS_BELOW`] say so.
//! Cases: `tests/cross/mixing.toml`.

use crate::flow::band::Spread;
use crate::impeller::{Family, ImpellerKind, Number};
use crate::vessel::{Filling, Impeller, Vessel};
use core::f64::consts::PI;
use levigate_measure::elementary::Elementary as _;

/// Below this Reynolds number thick blades on a thick hub may take far more than the blades say: simulations show it up to 100, above is judgement.
pub const HUB_MATTERS_BELOW: f64 = 1000.0;
/// Diameters over that of the vessel that the geometry of blades holds for.
pub const DIAMETER_RATIOS: [f64; 2] = [0.3, 0.9];
/// How far published curves lie apart in slow and in turbulent flow, relative.
const APART_AT_ENDS: f64 = 0.15;
/// The same between.
const APART_BETWEEN: f64 = 0.30;
/// Between: Reynolds numbers.
const BETWEEN: [f64; 2] = [10.0, 10_000.0];

/// Power number against Reynolds number of what stands in a vessel.
#[derive(Clone, Debug, PartialEq)]
pub enum PowerCurve {
    /// From the geometry of the blades.
    Blades(Blades),
    /// Between two numbers of the kind.
    TwoNumbers {
        /// Power number times Reynolds number in slow flow.
        laminar: Spread,
        /// Power number in turbulent flow.
        turbulent: Spread,
    },
    /// Slow flow from the geometry, turbulent flow as somebody stated it.
    Stated {
        /// The blades.
        blades: Option<Blades>,
        /// Power number times Reynolds number in slow flow, where the blades do not say.
        laminar: Spread,
        /// Power number in turbulent flow.
        turbulent: f64,
    },
}

/// Blades in a vessel: lengths in m, the tilt in radians.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Blades {
    /// Diameter of the impeller.
    pub impeller: f64,
    /// Diameter of the vessel.
    pub vessel: f64,
    /// Depth of the liquid.
    pub depth: f64,
    /// Height of a blade.
    pub height: f64,
    /// Blades.
    pub count: f64,
    /// Tilt.
    pub tilt: f64,
    /// Width and number of baffles.
    pub baffles: Option<(f64, f64)>,
}

/// What only the geometry decides.
struct Shape {
    per_reynolds: f64,
    slow: f64,
    turbulent: f64,
    passing: f64,
    rest: f64,
    power: f64,
    to_number: f64,
}

impl Blades {
    fn shape(&self) -> Shape {
        let (ratio, n) = (self.impeller / self.vessel, self.count);
        let log = (1.0 / ratio).log_e();
        let tilt = self.tilt.sine();
        let beta = 2.0 * log / (1.0 / ratio - ratio);
        let eta = 0.711 * (0.157 + (n * log).to_the(0.611)) / (n.to_the(0.52) * (1.0 - ratio.powi(2)));
        let gamma = (eta * log / (beta / ratio).powi(5)).to_the(1.0 / 3.0);
        let x = gamma * n.to_the(0.7) * self.height * tilt.to_the(1.6) / self.depth;
        let lesser = |a: f64, b: f64| (a.to_the(-7.8) + b.to_the(-7.8)).to_the(-1.0 / 7.8);
        let turbulent = lesser(1.96 * x.to_the(1.19), 0.25);
        Shape {
            per_reynolds: PI * eta * log / (4.0 * ratio / beta),
            slow: 0.215 * eta * n * (self.impeller / self.depth) * (1.0 - ratio.powi(2))
                + 1.83 * (self.height * tilt / self.depth) * (0.5 * n).to_the(1.0 / 3.0),
            turbulent,
            passing: 23.8
                * ratio.to_the(-3.24)
                * (self.height * tilt / self.vessel).to_the(-1.18)
                * x.to_the(-0.74),
            rest: 0.0151 * ratio * turbulent.to_the(0.308),
            power: lesser(0.71 * x.to_the(0.373), 0.333),
            to_number: 1.2 * PI.powi(4) * beta.powi(2)
                / (8.0 * self.impeller.powi(3) / (self.vessel.powi(2) * self.depth)),
        }
    }

    /// Power number without baffles.
    #[must_use]
    pub fn unbaffled(&self, reynolds: f64) -> f64 {
        let shape = self.shape();
        let re = shape.per_reynolds * reynolds;
        let flow = 1.0 / (shape.passing / re + re) + (shape.rest / shape.turbulent).to_the(1.0 / shape.power);
        shape.to_number * (shape.slow / re + shape.turbulent * flow.to_the(shape.power))
    }

    /// Power number of turbulent flow with baffles that hold the liquid fully.
    #[must_use]
    pub fn fully_baffled(&self) -> f64 {
        let blades = self.count.to_the(0.7) * self.height / self.impeller;
        let share = 2.0 * self.tilt / PI;
        if share >= 0.999 {
            return if blades <= 0.54 {
                10.0 * blades.to_the(1.3)
            } else if blades <= 1.6 {
                8.3 * blades
            } else {
                10.0 * blades.to_the(0.6)
            };
        }
        8.3 * share.to_the(0.9) * blades * self.tilt.sine().to_the(1.6)
    }

    /// Power number with the baffles there are.
    #[must_use]
    pub fn number(&self, reynolds: f64) -> f64 {
        let bare = self.unbaffled(reynolds);
        let Some((width, count)) = self.baffles else { return bare };
        let most = self.fully_baffled();
        let share = 2.0 * self.tilt / PI;
        let x = 4.5 * (width / self.vessel) * count.to_the(0.8) / (share.to_the(0.72) * most.to_the(0.2))
            + bare / most;
        (most * (1.0 + x.powi(-3)).to_the(-1.0 / 3.0)).max(bare)
    }

    /// Power number times Reynolds number in slow flow.
    #[must_use]
    pub fn laminar(&self) -> f64 {
        let slow = 1e-6;
        self.unbaffled(slow) * slow
    }
}

fn spread(number: &Number) -> Spread {
    Spread { value: number.value, low: number.low, high: number.high }
}

/// What nobody states: the widest of open impellers.
const ANY_LAMINAR: Spread = Spread { value: 50.0, low: 30.0, high: 100.0 };
const ANY_TURBULENT: Spread = Spread { value: 1.0, low: 0.3, high: 5.0 };

impl PowerCurve {
    /// Of an impeller in a filled vessel.
    #[must_use]
    pub fn of(vessel: &Vessel, impeller: &Impeller, filling: &Filling) -> Self {
        let kind: &ImpellerKind = &impeller.kind;
        let by_blades = matches!(
            kind.family,
            Family::DiscTurbine | Family::FlatBlade | Family::PitchedBlade | Family::MagneticBar
        );
        // An impeller off the middle breaks the swirl about as two narrow baffles do.
        let off_centre = impeller.off_centre.then_some((0.05 * vessel.diameter_m(), 2.0));
        let blades = by_blades.then(|| Blades {
            impeller: impeller.diameter_m,
            vessel: vessel.diameter_m(),
            depth: filling.cylinder_m,
            height: impeller.blade_m,
            count: f64::from(impeller.blades),
            tilt: impeller.angle_deg * PI / 180.0,
            baffles: vessel
                .baffles()
                .map(|baffles| (baffles.width_m, f64::from(baffles.count)))
                .or(off_centre),
        });
        let laminar = kind.laminar.as_ref().map_or(ANY_LAMINAR, spread);
        match (impeller.power_number, blades) {
            (Some(turbulent), blades) => Self::Stated { blades, laminar, turbulent },
            (None, Some(blades)) => Self::Blades(blades),
            (None, None) => {
                let mut turbulent = kind.turbulent.as_ref().map_or(ANY_TURBULENT, spread);
                if !vessel.swirl_is_broken() && !kind.family.sweeps_the_wall() {
                    // The liquid turns with the impeller and takes less.
                    turbulent.low *= 0.5;
                }
                Self::TwoNumbers { laminar, turbulent }
            }
        }
    }

    /// Whether it rests on the geometry of blades of a diameter that it does not hold for.
    #[must_use]
    pub fn is_outside(&self) -> bool {
        let [low, high] = DIAMETER_RATIOS;
        matches!(self, Self::Blades(blades) if !(low..=high).contains(&(blades.impeller / blades.vessel)))
    }

    /// Whether it rests on the geometry of thin blades at a Reynolds number where thick ones on a thick hub take far more.
    #[must_use]
    pub fn leaves_out_the_hub(&self, reynolds: f64) -> bool {
        let by_blades = matches!(self, Self::Blades(_) | Self::Stated { blades: Some(_), .. });
        by_blades && reynolds < HUB_MATTERS_BELOW
    }

    /// Power number of one impeller at a Reynolds number above zero, within what published curves of thin blades allow.
    #[must_use]
    pub fn number(&self, reynolds: f64) -> Spread {
        let between = reynolds > BETWEEN[0] && reynolds < BETWEEN[1];
        let apart = if between { APART_BETWEEN } else { APART_AT_ENDS };
        let about = |value: f64| Spread { value, low: value / (1.0 + apart), high: value * (1.0 + apart) };
        match self {
            Self::Blades(blades) => about(blades.number(reynolds)),
            Self::TwoNumbers { laminar, turbulent } => {
                let sum = |pick: fn(&Spread) -> f64| pick(laminar) / reynolds + pick(turbulent);
                let spread =
                    Spread { value: sum(|of| of.value), low: sum(|of| of.low), high: sum(|of| of.high) };
                if between {
                    let wide = about(spread.value);
                    Spread { low: spread.low.min(wide.low), high: spread.high.max(wide.high), ..spread }
                } else {
                    spread
                }
            }
            Self::Stated { blades, laminar, turbulent } => {
                let slow = blades.map_or(laminar.value, |blades| blades.laminar());
                // The number is stated for turbulent flow and holds there as it is.
                let value = slow * (1.0 / reynolds - 1.0 / BETWEEN[1]).max(0.0) + turbulent;
                if reynolds >= BETWEEN[1] { Spread { value, low: value, high: value } } else { about(value) }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn standard(count: f64, tilt: f64, baffled: bool) -> Blades {
        Blades {
            impeller: 1.0 / 3.0,
            vessel: 1.0,
            depth: 1.0,
            height: 0.2 / 3.0,
            count,
            tilt,
            baffles: baffled.then_some((0.1, 4.0)),
        }
    }

    #[test]
    fn standard_turbines_have_the_numbers_of_the_tables() {
        let near = |ours: f64, theirs: f64| assert!((ours / theirs - 1.0).abs() < 5e-3, "{ours} {theirs}");
        let disc = standard(6.0, 0.5 * PI, true);
        near(disc.laminar(), 69.1);
        near(disc.number(1e4), 5.03);
        near(disc.unbaffled(1e4), 1.53);
        near(disc.unbaffled(1e5), 0.91);
        let four = standard(4.0, 0.25 * PI, true);
        near(four.laminar(), 45.4);
        near(four.number(1e5), 1.33);
        let six = standard(6.0, 0.25 * PI, true);
        near(six.laminar(), 62.9);
        near(six.number(1e5), 1.76);
    }

    proptest! {
        #[test]
        fn the_number_falls_and_the_power_rises_with_speed(
            // Below the least diameter the law holds for, its number rises by a fraction of a percent before it falls.
            ratio in DIAMETER_RATIOS[0]..0.8_f64, height in 0.05..0.4_f64, count in 2..7_u32, tilt in 0.3..1.57_f64,
            log in -1.0..5.5_f64, baffled in any::<bool>(),
        ) {
            let blades = Blades {
                impeller: ratio, vessel: 1.0, depth: 1.0, height: height * ratio, count: f64::from(count), tilt,
                baffles: baffled.then_some((0.1, 4.0)),
            };
            let re = 10f64.to_the(log);
            let (here, faster) = (blades.number(re), blades.number(1.1 * re));
            prop_assert!(here.is_finite() && here > 0.0);
            prop_assert!(blades.unbaffled(1.1 * re) <= blades.unbaffled(re) * (1.0 + 1e-9));
            prop_assert!(faster * 1.1f64.powi(3) > here);
            prop_assert!(blades.number(re) >= blades.unbaffled(re) - 1e-12);
        }
    }
}

//! A batch turned in a vessel: everything that follows from one speed.
//!
//! ```text
//! g   = k_s N                    mean shear rate (Metzner and Otto)
//! Re  = rho N d^2 / mu(g)
//! P   = N_P rho N^3 d^5 z,  M = P / (2 pi N)
//! Q   = N_Q N d^3,  v = pi N d,  Fr = N^2 d / g
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | N, d, z | speed, diameter, impellers on the shaft | 1/s, m, - |
//! | k_s | constant of the kind of impeller | - |
//! | mu(g) | viscosity of the batch at a shear rate | Pa s |
//! | P, M, Q, v | power, torque, flow, speed of the tip | W, N m, m3/s, m/s |
//!
//! Range: the mean shear rate holds for slow flow and is used throughout; in turbulent flow the viscosity hardly matters. The flow number is that of
//! turbulent flow; it falls below Re of about 1000, taken here as `Re/1000` to the power 0.4 (from memory). Source: Metzner and Otto, AIChE J. 3 (1957) 3, from
//! memory. Cases: `tests/published/mixing.toml`, `tests/cross/mixing.toml`.

use super::blend;
use super::cavern;
use super::power::PowerCurve;
use super::surface::{Vortex, onset_doubt, speed_of_surface_air, vortex_at, vortex_in};
use crate::flow::Liquid;
use crate::flow::film::GRAVITY_M_S2;
use crate::vessel::{Filling, Impeller, Vessel};
use core::f64::consts::PI;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::root::bracketed;
use serde::Serialize;

/// How the liquid flows at the impeller.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Regime {
    /// Slow: Re below 10.
    Laminar,
    /// Between.
    Transitional,
    /// Re from 10 000.
    Turbulent,
}

impl Regime {
    /// By its Reynolds number.
    #[must_use]
    pub fn at(reynolds: f64) -> Self {
        if reynolds < 10.0 {
            Self::Laminar
        } else if reynolds < 1e4 {
            Self::Transitional
        } else {
            Self::Turbulent
        }
    }

    /// The word shown to people.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Laminar => "laminar",
            Self::Transitional => "transitional",
            Self::Turbulent => "turbulent",
        }
    }
}

/// A vessel with its batch, ready to turn.
#[derive(Clone, Debug)]
pub struct Pot<'a> {
    /// The vessel.
    pub vessel: &'a Vessel,
    /// The impeller.
    pub impeller: &'a Impeller,
    /// How the batch stands in it.
    pub filling: Filling,
    /// Density, kg/m3.
    pub density_kg_m3: f64,
    curve: PowerCurve,
}

/// Numbers that a kind of impeller leaves open between a least and a most: which of them is taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Edge {
    /// The least.
    Low,
    /// The usual.
    Usual,
    /// The most.
    High,
}

/// What follows from one speed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stirred {
    /// Speed, 1/s.
    pub speed: f64,
    /// Mean shear rate, 1/s.
    pub shear_rate: f64,
    /// Viscosity there, Pa s.
    pub viscosity_pa_s: f64,
    /// Reynolds number.
    pub reynolds: f64,
    /// Froude number.
    pub froude: f64,
    /// Power number of one impeller.
    pub power_number: f64,
    /// Power, W.
    pub power_w: f64,
    /// Power over the volume, W/m3.
    pub power_per_volume: f64,
    /// Torque, N m.
    pub torque_n_m: f64,
    /// Speed of the tip, m/s.
    pub tip_m_s: f64,
    /// `N_P^(1/3) Re`.
    pub blend_number: f64,
    /// Time to 95 % blended, s; none where it does not blend.
    pub blend_s: Option<f64>,
    /// What the impeller pumps, m3/s; none where its kind has no such number.
    pub pumped_m3_s: Option<f64>,
    /// The vortex.
    pub vortex: Vortex,
    /// The same with its core at its least and at its most.
    pub vortex_ends: [Vortex; 2],
    /// Diameter of the cave in a batch with a yield stress, m; endless without one.
    pub cave_m: f64,
}

impl<'a> Pot<'a> {
    /// A vessel with an impeller and a batch; none where there is no impeller.
    #[must_use]
    pub fn new(vessel: &'a Vessel, filling: Filling, density_kg_m3: f64) -> Option<Self> {
        let impeller = vessel.impeller()?;
        let curve = PowerCurve::of(vessel, impeller, &filling);
        Some(Self { vessel, impeller, filling, density_kg_m3, curve })
    }

    /// Whether its power rests on blades narrower or wider than their geometry holds for.
    #[must_use]
    pub fn is_outside(&self) -> bool {
        self.curve.is_outside()
    }

    /// Whether its power rests on thin blades where a thick hub would take far more.
    #[must_use]
    pub fn leaves_out_the_hub(&self, reynolds: f64) -> bool {
        self.curve.leaves_out_the_hub(reynolds)
    }

    /// Reynolds number at a speed, with the viscosity that belongs to it.
    fn reynolds(&self, liquid: &dyn Liquid, speed: f64, shear: f64) -> (f64, f64, f64) {
        let rate = shear * speed;
        let viscosity = liquid.viscosity(rate);
        (self.density_kg_m3 * speed * self.impeller.diameter_m.powi(2) / viscosity, rate, viscosity)
    }

    /// Everything at a speed in 1/s above zero. `edge` takes the power number low or high.
    #[must_use]
    pub fn at(&self, liquid: &dyn Liquid, speed: f64, edge: Edge) -> Stirred {
        let kind = &self.impeller.kind;
        let (d, rho) = (self.impeller.diameter_m, self.density_kg_m3);
        let (reynolds, shear_rate, viscosity_pa_s) = self.reynolds(liquid, speed, kind.shear.value);
        let number = self.curve.number(reynolds);
        let power_number = match edge {
            Edge::Low => number.low,
            Edge::Usual => number.value,
            Edge::High => number.high,
        };
        let power_w = power_number * rho * speed.powi(3) * d.powi(5) * f64::from(self.impeller.count);
        let blend_number = blend::number(power_number, reynolds);
        let size = [self.vessel.diameter_m(), self.filling.cylinder_m];
        Stirred {
            speed,
            shear_rate,
            viscosity_pa_s,
            reynolds,
            froude: speed.powi(2) * d / GRAVITY_M_S2,
            power_number,
            power_w,
            power_per_volume: power_w / self.filling.volume_m3,
            torque_n_m: power_w / (2.0 * PI * speed),
            tip_m_s: PI * speed * d,
            blend_number,
            blend_s: if kind.family.sweeps_the_wall() {
                let [few, many] = blend::TURNS_OF_SWEEPER;
                Some(
                    match edge {
                        // More power goes with fewer turns, as with open impellers.
                        Edge::Low => many,
                        Edge::Usual => (few * many).sqrt(),
                        Edge::High => few,
                    } / speed,
                )
            } else {
                blend::time_of_open(blend_number, viscosity_pa_s, rho, size)
            },
            pumped_m3_s: kind.pumping.as_ref().map(|pumping| {
                let falls = (reynolds / 1000.0).min(1.0).to_the(0.4);
                pumping.value * falls * speed * d.powi(3) * f64::from(self.impeller.count)
            }),
            vortex: vortex_in(self.vessel, self.impeller, speed, reynolds),
            vortex_ends: [-1.0, 1.0].map(|end| vortex_at(self.vessel, self.impeller, (speed, reynolds), end)),
            cave_m: cavern::diameter(power_number, rho, speed, d, liquid.yield_stress()),
        }
    }

    /// Liquid above the middle of the impeller at rest, less half a blade, m; below zero where the impeller stands out.
    #[must_use]
    pub fn cover_m(&self) -> f64 {
        let half = 0.5 * self.impeller.blade_m * (self.impeller.angle_deg * PI / 180.0).sine();
        self.filling.depth_m - self.impeller.clearance_m - half
    }

    /// Speed from which the batch is blended everywhere, 1/s; zero for what sweeps the wall, endless where no speed does it.
    #[must_use]
    pub fn speed_that_blends(&self, liquid: &dyn Liquid) -> f64 {
        if self.impeller.kind.family.sweeps_the_wall() {
            return 0.0;
        }
        let miss =
            |log: f64| self.at(liquid, log.exp_e(), Edge::Usual).blend_number.log_e() - blend::LEAST.log_e();
        bracketed(miss, 1e-6_f64.log_e(), 1e4_f64.log_e(), 1e-12, 200).map_or(f64::INFINITY, f64::exp_e)
    }

    /// Speed from which air is drawn in, 1/s: the vortex down at the impeller, or through the surface with baffles; none for anchors, ribbons and a batch
    /// too thick for it.
    #[must_use]
    pub fn speed_of_air(&self, liquid: &dyn Liquid) -> Option<f64> {
        self.speed_of_air_at(liquid, 0.0)
    }

    /// The same at the least (1) or the most (-1) that the correlation leaves open: a wider core reaches down sooner.
    #[must_use]
    pub fn speed_of_air_at(&self, liquid: &dyn Liquid, end: f64) -> Option<f64> {
        if self.impeller.kind.family.sweeps_the_wall() {
            return None;
        }
        if self.vessel.swirl_is_broken() {
            let speed = speed_of_surface_air(self.vessel.diameter_m(), self.impeller.diameter_m);
            let viscosity = liquid.viscosity(self.impeller.kind.shear.value * speed);
            let (doubt, _) = onset_doubt(self.vessel, self.impeller, viscosity);
            return Some(speed * doubt.to_the(-end));
        }
        let cover = self.cover_m();
        let reaches = |speed: f64| {
            let (reynolds, ..) = self.reynolds(liquid, speed, self.impeller.kind.shear.value);
            vortex_at(self.vessel, self.impeller, (speed, reynolds), end).below_rest_m >= cover
        };
        let (mut low, mut high) = (1e-3_f64.log_e(), 300.0_f64.log_e());
        if !reaches(high.exp_e()) {
            return None;
        }
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if reaches(middle.exp_e()) {
                high = middle;
            } else {
                low = middle;
            }
        }
        Some(high.exp_e())
    }
}

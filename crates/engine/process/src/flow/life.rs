//! The life of a product as shear rates: standing, levelling, running off, pouring, dip tube and nozzle, the finger, the stirrer.
//!
//! ```text
//! g = U / h                        between a finger and the skin
//! g = 4 V / (t pi R^3)               at the wall of a tube, apparent
//! g = ks N                         mean in a stirred vessel (Metzner and Otto)
//! g = g(tau)                       where weight or surface tension pulls: the liquid answers the stress
//!     tau = rho g h sin(theta) film;  drho g d / 6 drop;  h k a (sigma k^2 + rho g) marks (see `levelling`)
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | U, h | speed, thickness of the film | m/s, m |
//! | V, t, R | volume, time, radius of the tube | m3, s, m |
//! | ks, N | constant of the stirrer, speed | -, 1/s |
//!
//! Range: one shear rate stands for a span; the sizes are those of the records in `data/flow/life.toml`, which a laboratory lays its own over.
//! Sources: with each record; Metzner and Otto, AIChE J. 3 (1957) 3 (from memory). Case: below, against the published spans.

use super::band::{Band, Spread};
use super::film::{GRAVITY_M_S2, Incline};
use super::levelling::Marks;
use super::liquid::Liquid;
use super::suspension::Particle;
use core::f64::consts::PI;
use serde::{Deserialize, Serialize};

/// From least to most.
pub type Span = [f64; 2];

/// One stage.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stage {
    /// Key.
    pub key: String,
    /// Name shown to people.
    pub name: String,
    /// Place in the life of the product.
    pub order: u32,
    /// What sets the shear rate.
    pub rate: Sets,
    /// Shear rates somebody published for it.
    #[serde(default)]
    pub published: Option<Published>,
    /// Why these sizes.
    pub reason: String,
    /// Source of the sizes.
    pub source: String,
}

/// Published shear rates.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Published {
    /// Least, 1/s.
    pub low: f64,
    /// Most, 1/s.
    pub high: f64,
    /// Source key.
    pub source: String,
}

/// What sets the shear rate of a stage, in the units people think in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Sets {
    /// A finger over a film.
    Gap {
        /// Speed, m/s.
        speed_m_s: Span,
        /// Thickness of the film, um.
        thickness_um: Span,
    },
    /// A volume through a tube.
    Tube {
        /// Volume, mL.
        volume_ml: Span,
        /// Time, s.
        time_s: Span,
        /// Inner diameter, mm.
        bore_mm: Span,
    },
    /// A stirrer.
    Stirrer {
        /// Speed, rpm.
        rpm: Span,
        /// Constant of Metzner and Otto.
        constant: Span,
    },
    /// A film pulled by its weight.
    Film {
        /// Thickness, mm.
        thickness_mm: Span,
        /// Angle against the horizontal, degrees.
        angle_deg: Span,
    },
    /// A drop or grain pulled by its weight.
    Drop {
        /// Diameter, um.
        diameter_um: Span,
        /// Difference of the densities, kg/m3.
        density_difference_kg_m3: Span,
    },
    /// Marks pulled by surface tension.
    Marks {
        /// Mean thickness of the film, um.
        film_um: Span,
        /// Distance of the marks, mm.
        wavelength_mm: Span,
        /// Half their height, um.
        amplitude_um: Span,
        /// Surface tension, mN/m.
        surface_tension_mn_m: Span,
    },
}

/// What drives a stage: shear rates, or stresses that the liquid answers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Drives {
    /// Shear rates from least to most, 1/s.
    Rates(Span),
    /// Stresses from least to most, Pa.
    Stresses(Span),
}

impl Sets {
    /// All spans with the name of their field.
    #[must_use]
    pub fn spans(&self) -> Vec<(&'static str, Span)> {
        match *self {
            Self::Gap { speed_m_s, thickness_um } => {
                vec![("speed_m_s", speed_m_s), ("thickness_um", thickness_um)]
            }
            Self::Tube { volume_ml, time_s, bore_mm } => {
                vec![("volume_ml", volume_ml), ("time_s", time_s), ("bore_mm", bore_mm)]
            }
            Self::Stirrer { rpm, constant } => vec![("rpm", rpm), ("constant", constant)],
            Self::Film { thickness_mm, angle_deg } => {
                vec![("thickness_mm", thickness_mm), ("angle_deg", angle_deg)]
            }
            Self::Drop { diameter_um, density_difference_kg_m3 } => {
                vec![("diameter_um", diameter_um), ("density_difference_kg_m3", density_difference_kg_m3)]
            }
            Self::Marks { film_um, wavelength_mm, amplitude_um, surface_tension_mn_m } => vec![
                ("film_um", film_um),
                ("wavelength_mm", wavelength_mm),
                ("amplitude_um", amplitude_um),
                ("surface_tension_mn_m", surface_tension_mn_m),
            ],
        }
    }

    /// What drives the stage, from least to most, for a product of a density.
    #[must_use]
    pub fn drives(&self, density_kg_m3: f64) -> Drives {
        match *self {
            Self::Gap { speed_m_s: u, thickness_um: h } => {
                Drives::Rates([u[0] / (h[1] * 1e-6), u[1] / (h[0] * 1e-6)])
            }
            Self::Tube { volume_ml: v, time_s: t, bore_mm: d } => {
                let rate = |v: f64, t: f64, d: f64| 4.0 * v * 1e-6 / (t * PI * (0.5e-3 * d).powi(3));
                Drives::Rates([rate(v[0], t[1], d[1]), rate(v[1], t[0], d[0])])
            }
            Self::Stirrer { rpm, constant } => {
                Drives::Rates([rpm[0] / 60.0 * constant[0], rpm[1] / 60.0 * constant[1]])
            }
            Self::Film { thickness_mm: h, angle_deg } => {
                let stress = |end: usize| {
                    let incline =
                        Incline { angle_deg: angle_deg[end], density_kg_m3, gravity_m_s2: GRAVITY_M_S2 };
                    incline.pull_pa_m() * h[end] * 1e-3
                };
                Drives::Stresses([stress(0), stress(1)])
            }
            Self::Drop { diameter_um, density_difference_kg_m3: difference } => {
                let stress = |end: usize| {
                    Particle {
                        diameter_m: diameter_um[end] * 1e-6,
                        density_difference_kg_m3: difference[end],
                        inner_viscosity_pa_s: None,
                    }
                    .stress()
                };
                Drives::Stresses([stress(0), stress(1)])
            }
            Self::Marks { film_um, wavelength_mm, amplitude_um, surface_tension_mn_m } => {
                // Short waves pull harder.
                let stress = |end: usize| {
                    Marks {
                        film_m: film_um[end] * 1e-6,
                        wavelength_m: wavelength_mm[1 - end] * 1e-3,
                        amplitude_m: amplitude_um[end] * 1e-6,
                        surface_tension_n_m: surface_tension_mn_m[end] * 1e-3,
                        density_kg_m3,
                    }
                    .wall_stress()
                };
                Drives::Stresses([stress(0), stress(1)])
            }
        }
    }
}

/// A stage on the flow curve of a liquid.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OnCurve {
    /// Shear rate that stands for the stage, 1/s, with the least and most of its sizes and of the liquid; zero where a yield stress holds.
    pub shear_rate: Spread,
    /// Stress there, Pa, with the limits of the liquid.
    pub stress: Spread,
    /// Viscosity there, Pa s, with the limits of the liquid; infinite where nothing moves.
    pub viscosity: Spread,
    /// Whether the stage is driven by a stress.
    pub by_stress: bool,
}

impl Stage {
    /// Where the stage lies on a curve.
    #[must_use]
    pub fn on(&self, band: &Band<'_>, density_kg_m3: f64) -> OnCurve {
        match self.rate.drives(density_kg_m3) {
            Drives::Rates([low, high]) => {
                let value = (low * high).sqrt();
                OnCurve {
                    shear_rate: Spread { value, low, high },
                    stress: band.spread(|liquid| liquid.stress(value)),
                    viscosity: band.spread(|liquid| liquid.viscosity(value)),
                    by_stress: false,
                }
            }
            Drives::Stresses([low, high]) => {
                let stress = (low * high).sqrt();
                let rate_of = |liquid: &dyn Liquid| liquid.rate(stress);
                OnCurve {
                    shear_rate: Spread {
                        value: rate_of(band.middle),
                        low: band.thick.rate(low),
                        high: band.thin.rate(high),
                    },
                    stress: Spread { value: stress, low, high },
                    viscosity: band.spread(|liquid| stress / rate_of(liquid)),
                    by_stress: true,
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow::pipe::HerschelBulkley;

    fn stage(rate: Sets) -> Stage {
        let text = String::new;
        Stage { key: text(), name: text(), order: 0, rate, published: None, reason: text(), source: text() }
    }

    #[test]
    fn rates_follow_from_speeds_and_sizes() {
        let rates = |sets: Sets| match sets.drives(1000.0) {
            Drives::Rates(rates) => rates,
            Drives::Stresses(_) => panic!("{sets:?} sets a shear rate"),
        };
        let near = |ours: Span, wanted: Span| {
            assert!((ours[0] / wanted[0] - 1.0).abs() < 1e-5 && (ours[1] / wanted[1] - 1.0).abs() < 1e-5);
        };
        // 0.05 m/s on 500 um to 0.2 m/s on 40 um: 100 to 5000 1/s.
        near(rates(Sets::Gap { speed_m_s: [0.05, 0.2], thickness_um: [40.0, 500.0] }), [100.0, 5000.0]);
        // 0.5 mL in 0.5 s through 2 mm: 1273 1/s.
        let tube = Sets::Tube { volume_ml: [0.5; 2], time_s: [0.5; 2], bore_mm: [2.0; 2] };
        near(rates(tube), [1273.24, 1273.24]);
        near(rates(Sets::Stirrer { rpm: [300.0, 600.0], constant: [11.0, 13.0] }), [55.0, 130.0]);
    }

    #[test]
    fn where_weight_pulls_the_liquid_answers() {
        let film = stage(Sets::Film { thickness_mm: [1.0, 1.0], angle_deg: [90.0, 90.0] });
        let honey = HerschelBulkley { yield_pa: 0.0, consistency: 10.0, index: 1.0 };
        let on = film.on(&Band::exact(&honey), 1000.0);
        assert!((on.shear_rate.value - 0.980_665).abs() < 1e-9 && (on.viscosity.value - 10.0).abs() < 1e-9);
        let gel = HerschelBulkley { yield_pa: 20.0, consistency: 10.0, index: 0.5 };
        let on = film.on(&Band::exact(&gel), 1000.0);
        assert_eq!((on.shear_rate.value, on.viscosity.value), (0.0, f64::INFINITY));
    }
}

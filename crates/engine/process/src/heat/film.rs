//! How well heat passes from a stirred batch through the wall of its vessel.
//!
//! ```text
//! Nu = h T/k = a Re^b Pr^(1/3) (mu/mu_w)^0.14          Re = rho N D^2/mu, Pr = c_p mu/k, mu = eta(k_s N)
//! 1/U = 1/h + x/k_wall + lining + fouling + 1/h_out
//! mu(T) = mu(T_r) exp(E/R (1/T - 1/T_r))
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | h, h_out | film on the side of the batch, of the jacket | W/(m2 K) |
//! | T, D, N | diameter of the vessel and the impeller, speed | m, m, 1/s |
//! | eta, k_s | flow curve of the batch; mean shear rate over the speed (Metzner and Otto) | Pa s, - |
//! | mu_w | viscosity at the temperature of the wall | Pa s |
//! | E | activation energy of the viscosity | J/mol |
//!
//! Range: that of a and b by Reynolds number (`data/process/heat.toml`); published coefficients differ by a quarter. Sources: C. J. Geankoplis,
//! Transport Processes, equation 4.13-1; anchors from memory. Cases: `tests/published/heat.toml`.

use crate::flow::Liquid;
use crate::impeller::Family;
use crate::properties::BatchLiquid;
use crate::properties::water::ZERO_C;
use levigate_measure::elementary::Elementary as _;
use serde::{Deserialize, Serialize};

const GAS_J_MOL_K: f64 = 8.314_462_618;

/// A law within a range of Reynolds numbers.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FilmLaw {
    /// Reynolds numbers, from and to.
    pub reynolds: [f64; 2],
    /// `a`.
    pub factor: f64,
    /// `b`.
    pub power: f64,
}

/// `[[vessel_film]]`: laws of a family of impellers, by rising Reynolds number.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct VesselFilm {
    /// Family.
    pub impeller: Family,
    /// Laws.
    pub laws: Vec<FilmLaw>,
    /// Source.
    pub source: String,
}

/// A batch that is stirred.
#[derive(Clone)]
pub struct Stirred<'l> {
    /// Its flow curve.
    pub liquid: &'l dyn Liquid,
    /// Temperature of the flow curve, C.
    pub curve_c: f64,
    /// Activation energy of its viscosity, J/mol.
    pub activation_j_mol: f64,
    /// Density, heat capacity, conductivity.
    pub properties: BatchLiquid,
    /// Turns per second.
    pub speed_1_s: f64,
    /// Diameter of the impeller, m.
    pub impeller_m: f64,
    /// Mean shear rate over the speed.
    pub shear: f64,
    /// Inner diameter of the vessel, m.
    pub vessel_m: f64,
    /// Laws of its film.
    pub laws: &'l [FilmLaw],
}

/// The film on the side of the batch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Film {
    /// Coefficient, W/(m2 K).
    pub w_m2_k: f64,
    /// Reynolds number.
    pub reynolds: f64,
    /// Prandtl number.
    pub prandtl: f64,
    /// Viscosity at the impeller, Pa s.
    pub viscosity_pa_s: f64,
    /// The Reynolds number lies within the range of the law.
    pub within: bool,
}

impl Stirred<'_> {
    fn thinned(&self, temperature_c: f64) -> f64 {
        let over = 1.0 / (temperature_c + ZERO_C) - 1.0 / (self.curve_c + ZERO_C);
        (self.activation_j_mol / GAS_J_MOL_K * over).exp_e()
    }

    /// The film at temperatures of batch and wall, C.
    #[must_use]
    pub fn film(&self, temperature_c: f64, wall_c: f64) -> Film {
        let viscosity = self.liquid.viscosity(self.shear * self.speed_1_s) * self.thinned(temperature_c);
        let conductivity = self.properties.conductivity_at(temperature_c);
        let reynolds =
            self.properties.density_at(temperature_c) * self.speed_1_s * self.impeller_m.powi(2) / viscosity;
        let prandtl = self.properties.heat_capacity_at(temperature_c) * viscosity / conductivity;
        let at_wall = (self.thinned(temperature_c) / self.thinned(wall_c)).to_the(0.14);
        let (law, within) = law_at(self.laws, reynolds);
        let nusselt = law.factor * reynolds.to_the(law.power) * prandtl.to_the(1.0 / 3.0) * at_wall;
        Film {
            w_m2_k: nusselt * conductivity / self.vessel_m,
            reynolds,
            prandtl,
            viscosity_pa_s: viscosity,
            within,
        }
    }
}

/// The law of a Reynolds number, else the nearest, and whether it holds there.
fn law_at(laws: &[FilmLaw], reynolds: f64) -> (FilmLaw, bool) {
    const NONE: FilmLaw = FilmLaw { reynolds: [0.0; 2], factor: f64::NAN, power: 0.0 };
    let holds = |law: &&FilmLaw| law.reynolds[0] <= reynolds && reynolds <= law.reynolds[1];
    match laws.iter().find(holds) {
        Some(law) => (*law, true),
        None => {
            let above = laws.iter().rev().find(|law| reynolds > law.reynolds[1]);
            (*above.or(laws.first()).unwrap_or(&NONE), false)
        }
    }
}

/// What stands between batch and jacket besides the film of the batch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Barrier {
    /// Wall, m2 K/W.
    pub wall: f64,
    /// Lining, m2 K/W.
    pub lining: f64,
    /// Fouling, m2 K/W.
    pub fouling: f64,
    /// Film of the jacket, W/(m2 K).
    pub outside_w_m2_k: f64,
}

impl Barrier {
    /// Overall coefficient with a film of the batch, W/(m2 K).
    #[must_use]
    pub fn overall(&self, inside_w_m2_k: f64) -> f64 {
        1.0 / (1.0 / inside_w_m2_k + self.wall + self.lining + self.fouling + 1.0 / self.outside_w_m2_k)
    }
}

/// How heat passes between batch and jacket.
#[derive(Clone)]
pub enum Passage<'l> {
    /// An overall coefficient as typed, W/(m2 K).
    Overall(f64),
    /// Through the films and the wall.
    Films(Stirred<'l>, Barrier),
}

impl Passage<'_> {
    /// Overall coefficient at temperatures of batch and jacket, C; `lean` scales the film of the batch.
    #[must_use]
    pub fn overall(&self, temperature_c: f64, jacket_c: f64, lean: f64) -> f64 {
        match self {
            Self::Overall(overall) => *overall,
            Self::Films(stirred, barrier) => {
                // The wall is as warm as what passes makes it; three rounds settle it to a thousandth.
                let mut wall_c = temperature_c;
                let mut overall = 0.0;
                for _ in 0..4 {
                    let inside = lean * stirred.film(temperature_c, wall_c).w_m2_k;
                    overall = barrier.overall(inside);
                    wall_c = temperature_c + overall / inside * (jacket_c - temperature_c);
                }
                overall
            }
        }
    }
}

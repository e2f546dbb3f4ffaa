//! Viscosity of the solvent: water, glycerol in water, and what else is dissolved or mixed in.
//!
//! ```text
//! mu = mu_w^a mu_g^(1-a)                     mPa s, T in C, c mass fraction of glycerol in glycerol and water
//! mu_w = 1.790 exp((-1230 - T) T / (36100 + 360 T))
//! mu_g = 12100 exp((-1233 + T) T / (9900 + 70 T))
//! a = 1 - c + p q c (1 - c) / (p c + q (1 - c)),  p = 0.705 - 0.0017 T,  q = (4.9 + 0.036 T) p^2.5
//! ln mu = (1-w) ln mu_w + w ln mu_p + w (1-w) (d + e w)      another liquid, w its mass fraction
//! ln mu/mu_w = a w / (1 - b w)                               a dissolved solid
//! ln mu/mu_w = sum of (w_i/w) f_i(w)                          several: each as if all that is not water were it
//! ```
//!
//! Glycerol: 0 to 100 C, any content; mean deviation from measured values 1.3 %, largest 3.5 %; N. S. Cheng, Ind. Eng. Chem. Res. 47 (2008)
//! 3285. Constants and sources of the others in `data/flow/solvents.toml`. Cases: `tests/published/glycerol_water_viscosity.csv`, all 256 values of
//! Segur and Oberstar, Ind. Eng. Chem. 43 (1951) 2117; `tests/cross/solvent_mixtures.csv`.

use levigate_measure::elementary::Elementary as _;
use serde::{Deserialize, Serialize};

/// Viscosity of glycerol and water, Pa s; `glycerol` is its mass fraction in the two, 0 to 1.
#[must_use]
pub fn glycerol_water(glycerol: f64, temperature_c: f64) -> f64 {
    let (c, t) = (glycerol, temperature_c);
    let water = 1.790 * ((-1230.0 - t) * t / (36_100.0 + 360.0 * t)).exp_e();
    let pure = 12_100.0 * ((-1233.0 + t) * t / (9900.0 + 70.0 * t)).exp_e();
    let p = 0.705 - 0.0017 * t;
    let q = (4.9 + 0.036 * t) * p.to_the(2.5);
    let weight = 1.0 - c + p * q * c * (1.0 - c) / (p * c + q * (1.0 - c));
    1e-3 * water.to_the(weight) * pure.to_the(1.0 - weight)
}

/// How a substance changes the viscosity of water.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "kind", deny_unknown_fields)]
pub enum SolventLaw {
    /// Glycerol, by the equation above.
    Glycerol,
    /// A liquid: `ln mu = (1-w) ln mu_w + w ln mu_p + w (1-w) (d + e w)`.
    Liquid {
        /// Viscosity of the pure liquid at temperatures, mPa s; between them straight in ln mu over 1/T.
        pure: Vec<PurePoint>,
        /// `d` at 25 C.
        interaction: f64,
        /// `e` at 25 C.
        #[serde(default)]
        asymmetry: f64,
        /// Change of `d` per K.
        #[serde(default)]
        interaction_per_k: f64,
    },
    /// A dissolved solid: `ln mu/mu_w = a w / (1 - b w)`.
    Solute {
        /// `a`.
        rise: f64,
        /// `b`.
        crowding: f64,
    },
}

/// Viscosity of a pure liquid.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PurePoint {
    /// Temperature, C.
    pub temperature_c: f64,
    /// Viscosity, mPa s.
    pub mpa_s: f64,
}

/// `[[cosolvent_viscosity]]`: a substance that mixes with water and makes it thicker.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Cosolvent {
    /// Substance key.
    pub substance: String,
    /// Law.
    pub law: SolventLaw,
    /// Source of the pure liquid, or of the solution of a solid.
    pub source: String,
    /// Source of the mixture with water.
    pub mixture_source: String,
    /// Standard deviation of ln viscosity of its mixtures.
    pub spread: f64,
}

impl Cosolvent {
    /// ln of the viscosity of its mixture with water over that of water; `share` is its mass fraction in the two, 0 to 1.
    #[must_use]
    pub fn ln_relative(&self, share: f64, temperature_c: f64) -> f64 {
        let ln_water = (glycerol_water(0.0, temperature_c) * 1e3).log_e();
        match &self.law {
            SolventLaw::Glycerol => (glycerol_water(share, temperature_c) * 1e3).log_e() - ln_water,
            SolventLaw::Liquid { pure, interaction, asymmetry, interaction_per_k } => {
                let d = interaction + interaction_per_k * (temperature_c - 25.0) + asymmetry * share;
                share * (ln_pure(pure, temperature_c) - ln_water) + share * (1.0 - share) * d
            }
            SolventLaw::Solute { rise, crowding } => rise * share / (1.0 - crowding * share).max(0.05),
        }
    }
}

/// ln of the viscosity (mPa s) of a pure liquid, straight in 1/T between and beyond its points.
fn ln_pure(points: &[PurePoint], temperature_c: f64) -> f64 {
    let inverse = |celsius: f64| 1.0 / (celsius + 273.15);
    let pair = points
        .windows(2)
        .find(|pair| temperature_c <= pair[1].temperature_c)
        .or_else(|| points.windows(2).last());
    match (pair, points) {
        (Some([low, high]), _) => {
            let share = (inverse(temperature_c) - inverse(low.temperature_c))
                / (inverse(high.temperature_c) - inverse(low.temperature_c));
            low.mpa_s.log_e() + share * (high.mpa_s / low.mpa_s).log_e()
        }
        (_, [only]) => only.mpa_s.log_e(),
        _ => 0.0,
    }
}

/// Viscosity of water with several cosolvents (mass fractions in all of the solvent), Pa s, and the standard deviation of its logarithm.
///
/// `ln mu/mu_w = sum of (w_i/w) f_i(w)`: each as if all that is not water were it, weighted by its part; exact for one.
#[must_use]
pub fn mixture<'c>(
    parts: impl Iterator<Item = (&'c Cosolvent, f64)> + Clone,
    temperature_c: f64,
) -> [f64; 2] {
    let other: f64 = parts.clone().map(|(_, share)| share).sum();
    let water = glycerol_water(0.0, temperature_c);
    if other <= 0.0 {
        return [water, 0.01];
    }
    let (mut ln_relative, mut doubt) = (0.0, 0.0);
    for (cosolvent, share) in parts {
        let own = cosolvent.ln_relative(other, temperature_c);
        ln_relative += share / other * own;
        // The doubt is that of the full strength of the cosolvent; a little of it does little.
        doubt += share / other * cosolvent.spread * (own.abs() / 1.0).min(1.0);
    }
    [water * ln_relative.exp_e(), doubt.root_sum_square(0.01)]
}

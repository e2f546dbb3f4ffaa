//! Viscosity of water and of glycerol in water.
//!
//! ```text
//! mu = mu_w^a mu_g^(1-a)                     mPa.s, T in C, c mass fraction of glycerol in glycerol and water
//! mu_w = 1.790 exp((-1230 - T) T / (36100 + 360 T))
//! mu_g = 12100 exp((-1233 + T) T / (9900 + 70 T))
//! a = 1 - c + p q c (1 - c) / (p c + q (1 - c)),  p = 0.705 - 0.0017 T,  q = (4.9 + 0.036 T) p^2.5
//! ```
//!
//! Range: 0 to 100 C, any content; mean deviation from measured values 1.3 %, largest 3.5 %. Source: N. S. Cheng, Ind. Eng. Chem. Res. 47 (2008)
//! 3285. Case: `tests/published/glycerol_water_viscosity.csv`, all 256 values of Segur and Oberstar, Ind. Eng. Chem. 43 (1951) 2117.

use levigate_measure::elementary::Elementary as _;
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

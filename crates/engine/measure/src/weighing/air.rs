//! Air: its density, and what its buoyancy does to a weighing.
//!
//! ```text
//! rho_a = (0.34848 p - 0.009 h exp(0.061 t)) / (273.15 + t)           kg/m3
//! m     = R (1 - rho_a/rho_w) / (1 - rho_a/rho)
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | p, h, t | pressure, relative humidity, temperature | hPa, %, C |
//! | R, m | reading of a balance set with weights, mass of what lies on it | g |
//! | rho_w, rho | density of the weights (8000), of what is weighed | kg/m3 |
//!
//! For shares by mass the factor cancels to first order, since all lines of a water-based formula have nearly the density of water; it counts
//! for a fill checked by volume (0.105 %) and for a powder or an oil beside water. Range: 900 to 1100 hPa, 10 to 30 C, humidity below 80 %;
//! within 2e-4 of the full equation there. Source: the short form of the CIPM equation (OIML R 111, E.3), as quoted by `masscor`.
//! Cases: `tests/published/weighing.toml`.

use crate::elementary::Elementary as _;

/// Density of the weights that balances are set with, kg/m3.
const WEIGHTS_KG_M3: f64 = 8000.0;

/// The air around a balance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Air {
    /// Pressure, hPa.
    pub pressure_hpa: f64,
    /// Relative humidity, %.
    pub humidity_percent: f64,
    /// Temperature, C.
    pub temperature_c: f64,
}

impl Air {
    /// Density, kg/m3; nothing outside the range of the equation.
    #[must_use]
    pub fn density_kg_m3(&self) -> Option<f64> {
        let Self { pressure_hpa: p, humidity_percent: h, temperature_c: t } = *self;
        let fits = (900.0..=1100.0).contains(&p) && (0.0..=80.0).contains(&h) && (10.0..=30.0).contains(&t);
        fits.then(|| (0.348_48 * p - 0.009 * h * (0.061 * t).exp_e()) / (273.15 + t))
    }
}

/// Factor from the reading of a balance to the mass of what lies on it, densities in kg/m3.
#[must_use]
pub fn buoyancy_factor(air_kg_m3: f64, sample_kg_m3: f64) -> f64 {
    (1.0 - air_kg_m3 / WEIGHTS_KG_M3) / (1.0 - air_kg_m3 / sample_kg_m3)
}

//! Moist air, as an ideal mixture of dry air and water vapour.
//!
//! ```text
//! W = M_w/M_d p_w / (p - p_w)                     humidity ratio, kg water per kg dry air
//! rho = ((p - p_w) M_d + p_w M_w) / (R T)         density;  rho_d = (p - p_w) M_d / (R T) kg dry air per m3
//! p = 101325 (1 - 2.25577e-5 h)^5.25588           standard atmosphere, h in m
//! eta = 1.716e-5 (T/273.15)^1.5 383.55/(T + 110.4)        Sutherland
//! k = 0.0241 (T/273.15)^1.5 467.15/(T + 194)              Sutherland
//! D = 2.11e-5 (T/273.15)^1.94 101325/p            water vapour in air
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | p, p_w | pressure, that of the vapour | Pa |
//! | eta, k, D | viscosity, thermal conductivity, diffusivity | Pa s, W/(m K), m2/s |
//!
//! Range: 0 to 100 C near the pressure of the atmosphere; density within 0.6 % of real moist air, viscosity and conductivity of dry air within
//! 1 %. Sources: ideal gas; ICAO standard atmosphere; Sutherland's constants and the diffusivity (after Pruppacher and Klett) from memory.
//! Case: `tests/cross/water_and_air.toml`.

use super::water::{ZERO_C, vapour_pressure_pa};
use levigate_measure::elementary::Elementary as _;

const GAS_J_MOL_K: f64 = 8.314_462_618;
const DRY_KG_MOL: f64 = 0.028_964_7;
const WATER_KG_MOL: f64 = 0.018_015_268;
/// Heat capacity of dry air, J/(kg K).
pub const HEAT_CAPACITY_J_KG_K: f64 = 1006.0;
/// Pressure of the standard atmosphere at sea level, Pa.
pub const SEA_LEVEL_PA: f64 = 101_325.0;

/// Pressure of the standard atmosphere at a height above the sea, Pa.
#[must_use]
pub fn pressure_at_pa(height_m: f64) -> f64 {
    SEA_LEVEL_PA * (1.0 - 2.255_77e-5 * height_m).to_the(5.255_88)
}

/// Air with its vapour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Air {
    /// Temperature, C.
    pub temperature_c: f64,
    /// Pressure of the vapour, Pa.
    pub vapour_pa: f64,
    /// Pressure, Pa.
    pub pressure_pa: f64,
}

impl Air {
    /// Air of a relative humidity, 0 to 1.
    #[must_use]
    pub fn of_humidity(temperature_c: f64, humidity: f64, pressure_pa: f64) -> Self {
        Self { temperature_c, vapour_pa: humidity * vapour_pressure_pa(temperature_c), pressure_pa }
    }

    /// Kilograms of water per kilogram of dry air.
    #[must_use]
    pub fn humidity_ratio(&self) -> f64 {
        WATER_KG_MOL / DRY_KG_MOL * self.vapour_pa / (self.pressure_pa - self.vapour_pa)
    }

    /// Kilograms of dry air in a cubic metre.
    #[must_use]
    pub fn dry_kg_m3(&self) -> f64 {
        (self.pressure_pa - self.vapour_pa) * DRY_KG_MOL / (GAS_J_MOL_K * (self.temperature_c + ZERO_C))
    }

    /// Kilograms of vapour in a cubic metre.
    #[must_use]
    pub fn vapour_kg_m3(&self) -> f64 {
        self.vapour_pa * WATER_KG_MOL / (GAS_J_MOL_K * (self.temperature_c + ZERO_C))
    }

    /// Density, kg/m3.
    #[must_use]
    pub fn density_kg_m3(&self) -> f64 {
        self.dry_kg_m3() + self.vapour_kg_m3()
    }

    /// Share of the molecules that are water.
    #[must_use]
    pub fn vapour_share(&self) -> f64 {
        self.vapour_pa / self.pressure_pa
    }
}

/// Viscosity of dry air, Pa s.
#[must_use]
pub fn viscosity_pa_s(temperature_c: f64) -> f64 {
    let kelvin = temperature_c + ZERO_C;
    1.716e-5 * (kelvin / ZERO_C).to_the(1.5) * 383.55 / (kelvin + 110.4)
}

/// Thermal conductivity of dry air, W/(m K).
#[must_use]
pub fn conductivity_w_m_k(temperature_c: f64) -> f64 {
    let kelvin = temperature_c + ZERO_C;
    0.0241 * (kelvin / ZERO_C).to_the(1.5) * 467.15 / (kelvin + 194.0)
}

/// Diffusivity of water vapour in air, m2/s.
#[must_use]
pub fn diffusivity_m2_s(temperature_c: f64, pressure_pa: f64) -> f64 {
    2.11e-5 * ((temperature_c + ZERO_C) / ZERO_C).to_the(1.94) * SEA_LEVEL_PA / pressure_pa
}

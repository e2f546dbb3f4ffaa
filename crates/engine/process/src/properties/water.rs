//! Liquid water at its vapour pressure, 0 to 100 C.
//!
//! ```text
//! ln(p/p_c) = T_c/T (a1 th + a2 th^1.5 + a3 th^3 + a4 th^3.5 + a5 th^4 + a6 th^7.5)
//! rho/rho_c = 1 + b1 th^(1/3) + b2 th^(2/3) + b3 th^(5/3) + b4 th^(16/3) + b5 th^(43/3) + b6 th^(110/3)
//! eta = sum of a_i (T/300)^b_i,  k = sum of c_i (T/300)^d_i          at 0.1 MPa
//! c_p, h_fg = polynomials in t/100, fitted to the equation of state of IAPWS (1995): within 0.007 % and 0.001 %
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | T, t, th | temperature; 1 - T/T_c | K, C, - |
//! | p, rho | vapour pressure, density | Pa, kg/m3 |
//! | eta, k | viscosity, thermal conductivity | Pa s, W/(m K) |
//! | c_p, h_fg | heat capacity, heat of evaporation | J/(kg K), J/kg |
//!
//! Range: 0 to 100 C. Sources: W. Wagner, A. Pruss, J. Phys. Chem. Ref. Data 22 (1993) 783 (IAPWS SR1-86) for p and rho; IAPWS SR6-08 for eta and k.
//! Case: `tests/cross/water_and_air.toml`, by two other programs.

use levigate_measure::elementary::Elementary as _;
use levigate_measure::root::bracketed;

/// Zero of the Celsius scale, K.
pub const ZERO_C: f64 = 273.15;
const CRITICAL_K: f64 = 647.096;
const CRITICAL_PA: f64 = 22.064e6;
const CRITICAL_KG_M3: f64 = 322.0;
/// Temperatures the equations are used at, C.
pub const RANGE_C: [f64; 2] = [0.0, 100.0];

fn theta(temperature_c: f64) -> f64 {
    1.0 - (temperature_c + ZERO_C) / CRITICAL_K
}

/// Vapour pressure, Pa.
#[must_use]
pub fn vapour_pressure_pa(temperature_c: f64) -> f64 {
    let th = theta(temperature_c);
    let sum = -7.859_517_83 * th + 1.844_082_59 * th.to_the(1.5) - 11.786_649_7 * th.powi(3)
        + 22.680_741_1 * th.to_the(3.5)
        - 15.961_871_9 * th.powi(4)
        + 1.801_225_02 * th.to_the(7.5);
    CRITICAL_PA * (sum / (1.0 - th)).exp_e()
}

/// Temperature at which water of an activity has a vapour pressure, C; nothing outside 0 to 200 C.
#[must_use]
pub fn boiling_c(pressure_pa: f64, activity: f64) -> Option<f64> {
    let miss = |temperature: f64| (activity * vapour_pressure_pa(temperature) / pressure_pa).log_e();
    if activity <= 0.0 || pressure_pa <= 0.0 {
        return None;
    }
    bracketed(miss, 0.0, 200.0, 1e-10, 100).ok()
}

/// Density, kg/m3.
#[must_use]
pub fn density_kg_m3(temperature_c: f64) -> f64 {
    let third = theta(temperature_c).to_the(1.0 / 3.0);
    CRITICAL_KG_M3
        * (1.0 + 1.992_740_64 * third + 1.099_653_42 * third.powi(2)
            - 0.510_839_303 * third.powi(5)
            - 1.754_934_79 * third.powi(16)
            - 45.517_035_2 * third.powi(43)
            - 6.746_944_5e5 * third.powi(110))
}

fn powers(temperature_c: f64, terms: [(f64, f64); 4]) -> f64 {
    let reduced = (temperature_c + ZERO_C) / 300.0;
    terms.iter().map(|(factor, power)| factor * reduced.to_the(*power)).sum()
}

/// Viscosity, Pa s.
#[must_use]
pub fn viscosity_pa_s(temperature_c: f64) -> f64 {
    1e-6 * powers(temperature_c, [(280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.459_03, -40.0)])
}

/// Thermal conductivity, W/(m K).
#[must_use]
pub fn conductivity_w_m_k(temperature_c: f64) -> f64 {
    powers(temperature_c, [(1.6630, -1.15), (-1.7781, -3.4), (1.1567, -6.0), (-0.432_115, -7.6)])
}

fn polynomial(x: f64, coefficients: &[f64]) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, coefficient| sum * x + coefficient)
}

/// Heat capacity, J/(kg K).
#[must_use]
pub fn heat_capacity_j_kg_k(temperature_c: f64) -> f64 {
    let of = [4219.7285, -325.55317, 990.07361, -1466.2987, 1138.4816, -340.89805];
    polynomial(temperature_c / 100.0, &of)
}

/// Heat of evaporation, J/kg.
#[must_use]
pub fn evaporation_j_kg(temperature_c: f64) -> f64 {
    polynomial(temperature_c / 100.0, &[2_500_917.5, -237_557.88, 5407.5474, -12_359.683])
}

//! The speed that keeps grains off the bottom.
//!
//! ```text
//! N_js = S nu^0.1 d_p^0.2 (g drho / rho)^0.45 X^0.13 / d^0.85
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | S | constant of the impeller and its place | - |
//! | nu | kinematic viscosity of the liquid | m2/s |
//! | d_p, drho | diameter of a grain, its density less that of the liquid | m, kg/m3 |
//! | X | mass of grains over mass of liquid, times 100 | - |
//! | d | impeller | m |
//!
//! Range: grains that sink and are wetted, with baffles; S changes by half with the clearance and the size of the impeller. A powder that floats
//! (most gums, fumed silica, anything fluffy) is not held by this: it must be drawn down. Source: Zwietering, Chem. Eng. Sci. 8 (1958) 244, from memory.
//! Case: `tests/cross/mixing.toml`.

use crate::flow::film::GRAVITY_M_S2;
use levigate_measure::elementary::Elementary as _;

/// Grains.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grains {
    /// Diameter, m.
    pub diameter_m: f64,
    /// Density, kg/m3.
    pub density_kg_m3: f64,
    /// Mass over that of the liquid, percent.
    pub percent: f64,
}

impl Grains {
    /// Speed that just suspends them in a liquid of a viscosity, 1/s; zero for grains that float.
    #[must_use]
    pub fn speed(&self, constant: f64, impeller_m: f64, viscosity_pa_s: f64, density_kg_m3: f64) -> f64 {
        let excess = self.density_kg_m3 - density_kg_m3;
        if excess <= 0.0 {
            return 0.0;
        }
        constant
            * (viscosity_pa_s / density_kg_m3).to_the(0.1)
            * self.diameter_m.to_the(0.2)
            * (GRAVITY_M_S2 * excess / density_kg_m3).to_the(0.45)
            * self.percent.to_the(0.13)
            / impeller_m.to_the(0.85)
    }
}

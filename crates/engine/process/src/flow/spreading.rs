//! The finger on the skin: what it feels while it spreads a film.
//!
//! ```text
//! g = U / h,  tau = tau(g),  F = tau S                       drag, plane Couette flow
//! W = 6 eta U l^2 / (h1 - h2)^2 (ln(h1/h2) - 2 (h1 - h2)/(h1 + h2))    load per width of a wedge
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | U, h, S | speed of the finger, thickness of the film, area under it | m/s, m, m2 |
//! | h1, h2, l | thickness where the film enters and leaves, length of the wedge | m |
//! | W | load per width that the film carries | N/m |
//!
//! Range: smooth surfaces that do not give way, no slip; skin is rough and soft, so the drag is that of the film alone. The wedge holds for a
//! Newtonian liquid and no flow to the sides (an upper bound); other liquids by the viscosity at the mean shear rate. Sources:
//! plane Couette flow; the fixed-incline slider of Reynolds (1886), as in G. K. Batchelor, An Introduction to Fluid Dynamics (1967) chapter 4
//! (from memory). Case: `tests/cross/flow_use.csv`, the pressure integrated by another program.

use super::liquid::Liquid;
use levigate_measure::elementary::Elementary as _;

/// A finger on a film.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Finger {
    /// Speed, m/s.
    pub speed_m_s: f64,
    /// Thickness of the film, m.
    pub film_m: f64,
    /// Length of the contact in the direction of motion, m.
    pub length_m: f64,
    /// Width of the contact, m.
    pub width_m: f64,
}

impl Finger {
    /// Shear rate in the film, 1/s.
    #[must_use]
    pub fn shear_rate(&self) -> f64 {
        self.speed_m_s / self.film_m
    }

    /// Stress on the skin, Pa.
    #[must_use]
    pub fn drag(&self, liquid: &dyn Liquid) -> f64 {
        liquid.stress(self.shear_rate())
    }

    /// Force along the skin, N.
    #[must_use]
    pub fn force(&self, liquid: &dyn Liquid) -> f64 {
        self.drag(liquid) * self.length_m * self.width_m
    }

    /// Mean pressure under a finger held at a slope, Pa: the film enters `opening` times as thick as it leaves (above 1), and its mean
    /// thickness is that of the film.
    #[must_use]
    pub fn wedge_pressure(&self, liquid: &dyn Liquid, opening: f64) -> f64 {
        let out = 2.0 * self.film_m / (opening + 1.0);
        let fall = out * (opening - 1.0);
        let shape = opening.log_e() - 2.0 * (opening - 1.0) / (opening + 1.0);
        6.0 * liquid.viscosity(self.shear_rate()) * self.speed_m_s * self.length_m / (fall * fall) * shape
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow::pipe::HerschelBulkley;

    #[test]
    fn speed_over_thickness_is_the_shear_rate_of_the_published_estimate() {
        // 0.05 m/s on 500 um: 100; 0.1 m/s on 100 um: 1000; 0.2 m/s on 40 um: 5000 1/s.
        for (speed_m_s, film_m, rate) in [(0.05, 500e-6, 100.0), (0.1, 100e-6, 1000.0), (0.2, 40e-6, 5000.0)]
        {
            let finger = Finger { speed_m_s, film_m, length_m: 0.015, width_m: 0.015 };
            assert!((finger.shear_rate() / rate - 1.0).abs() < 1e-12);
            let liquid = HerschelBulkley { yield_pa: 2.0, consistency: 3.0, index: 0.5 };
            assert!((finger.drag(&liquid) - (2.0 + 3.0 * f64::sqrt(rate))).abs() < 1e-9);
        }
    }
}

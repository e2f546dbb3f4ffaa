//! Do the marks of the finger level out.
//!
//! ```text
//! da/dt = - k q(tau_w),  tau_w = h k a (sigma k^2 + rho g),  k = 2 pi / lambda
//! a(t)  = a0 exp(-h^3 (sigma k^4 + rho g k^2) t / (3 eta)) = a0 exp(-16 pi^4 h^3 sigma t / (3 eta lambda^4)) for g = 0     Newtonian
//! a_end = tau0 / (h k (sigma k^2 + rho g)) = tau0 lambda^3 / (8 pi^3 sigma h) for g = 0                         with a yield stress
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | h, lambda, a | mean thickness of the film, distance of the marks, half their height | m |
//! | sigma | surface tension | N/m |
//! | q(tau_w) | flow per width of a film whose wall stress is tau_w (see `film`) | m2/s |
//! | a_end | marks that stay | m |
//!
//! Range: marks low against the film and far apart against its thickness, nothing dries meanwhile, a level surface. Newtonian exact
//! in that range; for other liquids the stress of the steepest place stands for the whole wave. Sources: S. E. Orchard, Appl. Sci. Res. A 11
//! (1962) 451 (from memory; the law follows from the thin-film equation); threshold by setting the wall stress equal to the yield stress.
//! Case: below, the closed form; `tests/cross/flow_use.csv`, the differential equation by another program.

use super::film::{GRAVITY_M_S2, Incline};
use super::integral;
use super::liquid::Liquid;
use core::f64::consts::PI;
use levigate_measure::elementary::Elementary as _;

/// Marks in a film.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Marks {
    /// Mean thickness of the film, m.
    pub film_m: f64,
    /// Distance from crest to crest, m.
    pub wavelength_m: f64,
    /// Half the height from trough to crest, m.
    pub amplitude_m: f64,
    /// Surface tension, N/m.
    pub surface_tension_n_m: f64,
    /// Density, kg/m3.
    pub density_kg_m3: f64,
}

impl Marks {
    fn wave_number(&self) -> f64 {
        2.0 * PI / self.wavelength_m
    }

    /// Stress at the wall for each metre of amplitude, Pa/m.
    fn stress_per_amplitude(&self) -> f64 {
        let k = self.wave_number();
        self.film_m * k * (self.surface_tension_n_m * k * k + self.density_kg_m3 * GRAVITY_M_S2)
    }

    /// Stress at the wall while the marks are as high as given, Pa.
    #[must_use]
    pub fn wall_stress(&self) -> f64 {
        self.amplitude_m * self.stress_per_amplitude()
    }

    /// Amplitude that stays, m; zero for a liquid without a yield stress.
    #[must_use]
    pub fn amplitude_at_rest(&self, liquid: &dyn Liquid) -> f64 {
        (liquid.yield_stress() / self.stress_per_amplitude()).min(self.amplitude_m)
    }

    /// Time until a share of the amplitude is left, s; infinite where the yield stress holds more. Share above 0 and below 1.
    #[must_use]
    pub fn time_to(&self, liquid: &dyn Liquid, share: f64) -> f64 {
        if share * self.amplitude_m <= self.amplitude_at_rest(liquid) {
            return f64::INFINITY;
        }
        // A film pulled along its wall by tau_w / h flows as the film on an incline with that pull.
        let flow = |wall: f64| {
            let as_film = Incline {
                angle_deg: 90.0,
                density_kg_m3: wall / self.film_m / GRAVITY_M_S2,
                gravity_m_s2: GRAVITY_M_S2,
            };
            as_film.flow_per_width_of(liquid, self.film_m)
        };
        integral::over(share.log_e(), 0.0, 6, |ln_share| {
            let amplitude = self.amplitude_m * ln_share.exp_e();
            amplitude / (self.wave_number() * flow(amplitude * self.stress_per_amplitude()))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow::pipe::HerschelBulkley;
    use proptest::prelude::*;

    const MARKS: Marks = Marks {
        film_m: 50e-6,
        wavelength_m: 2e-3,
        amplitude_m: 10e-6,
        surface_tension_n_m: 0.03,
        density_kg_m3: 0.0,
    };

    #[test]
    fn a_newtonian_film_levels_by_the_published_law() {
        let liquid = HerschelBulkley { yield_pa: 0.0, consistency: 0.5, index: 1.0 };
        let published = 10_f64.log_e() * 3.0 * 0.5 * MARKS.wavelength_m.powi(4)
            / (16.0 * PI.powi(4) * MARKS.film_m.powi(3) * 0.03);
        assert!((MARKS.time_to(&liquid, 0.1) / published - 1.0).abs() < 1e-7);
    }

    #[test]
    fn a_yield_stress_keeps_marks_of_the_published_height() {
        let gel = HerschelBulkley { yield_pa: 0.2, consistency: 2.0, index: 0.5 };
        let published = 0.2 * MARKS.wavelength_m.powi(3) / (8.0 * PI.powi(3) * 0.03 * MARKS.film_m);
        assert!((MARKS.amplitude_at_rest(&gel) / published - 1.0).abs() < 1e-12);
        assert_eq!(MARKS.time_to(&gel, 0.9 * published / MARKS.amplitude_m), f64::INFINITY);
        assert!(MARKS.time_to(&gel, 1.1 * published / MARKS.amplitude_m).is_finite());
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(32))]

        #[test]
        fn thicker_liquids_level_later_and_thicker_films_sooner(
            consistency in 0.01..10.0_f64, index in 0.4..1.0_f64, more in 1.05..2.0_f64,
        ) {
            let liquid = HerschelBulkley { yield_pa: 0.0, consistency, index };
            let time = MARKS.time_to(&liquid, 0.1);
            let thick = HerschelBulkley { consistency: consistency * more, ..liquid };
            prop_assert!(MARKS.time_to(&thick, 0.1) > time);
            let deep = Marks { film_m: MARKS.film_m * more, ..MARKS };
            prop_assert!(deep.time_to(&liquid, 0.1) < time);
        }
    }
}

//! Does it hold what is in it: drops that rise, beads that sink, bubbles that leave.
//!
//! ```text
//! v = d^2 drho g / (18 eta)                          Stokes, eta at the stress the particle exerts (about drho g d / 6)
//! times 3 (1 + l) / (2 + 3 l), l = eta_drop / eta      for a drop whose surface moves (Hadamard and Rybczynski)
//! times (1 - phi)^4.65                              hindered by its like (Richardson and Zaki)
//! held for ever if tau0 >= d drho g / 21                Beris and others
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | d | diameter | m |
//! | drho | difference of the densities, amount | kg/m3 |
//! | eta | viscosity | Pa s |
//! | phi | volume share of the particles | - |
//!
//! Range: slow (Reynolds number of the particle far below one), single particles for the yield criterion; a yield stress must have been
//! measured at low shear rates to be used. Published criteria lie between 0.05 and 0.15 d drho g; a safety factor of three is usual (common
//! practice, no source). Sources: Stokes (1851); Richardson and Zaki (1954); Beris, Tsamopoulos, Armstrong, Brown, J. Fluid
//! Mech. 158 (1985) 219. Cases: below, with the publication or the program they come from.

use super::film::GRAVITY_M_S2;
use super::liquid::Liquid;
use levigate_measure::elementary::Elementary as _;

/// A particle, drop or bubble in a liquid.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Particle {
    /// Diameter, m.
    pub diameter_m: f64,
    /// Its density less that of the liquid, kg/m3: below zero rises.
    pub density_difference_kg_m3: f64,
    /// Viscosity of a drop or bubble whose surface moves, Pa s; none for a solid or a surface made stiff by an emulsifier.
    pub inner_viscosity_pa_s: Option<f64>,
}

impl Particle {
    /// Stress it exerts, Pa: its weight over the surface of a sphere, `drho g d / 6`.
    #[must_use]
    pub fn stress(&self) -> f64 {
        self.density_difference_kg_m3.abs() * GRAVITY_M_S2 * self.diameter_m / 6.0
    }

    /// Yield stress that holds it for ever, Pa.
    #[must_use]
    pub fn yield_stress_to_hold(&self) -> f64 {
        self.density_difference_kg_m3.abs() * GRAVITY_M_S2 * self.diameter_m / 21.0
    }

    /// Speed in a liquid of one viscosity, m/s: upwards above zero. `volume_share` of all particles from 0 to below 1.
    #[must_use]
    pub fn speed(&self, viscosity_pa_s: f64, volume_share: f64) -> f64 {
        let stokes =
            -self.diameter_m.powi(2) * self.density_difference_kg_m3 * GRAVITY_M_S2 / (18.0 * viscosity_pa_s);
        let moving = self.inner_viscosity_pa_s.map_or(1.0, |inner| {
            let ratio = inner / viscosity_pa_s;
            3.0 * (1.0 + ratio) / (2.0 + 3.0 * ratio)
        });
        stokes * moving * (1.0 - volume_share).to_the(4.65)
    }

    /// Speed in a liquid with a flow curve, m/s: zero where the yield stress holds it, else by the viscosity at the stress it exerts.
    #[must_use]
    pub fn speed_in(&self, liquid: &dyn Liquid, volume_share: f64) -> f64 {
        let yield_pa = liquid.yield_stress();
        if yield_pa > 0.0 && yield_pa >= self.yield_stress_to_hold() {
            return 0.0;
        }
        // Stress at which the material is asked: that of the particle, or just above a yield stress that does not hold it.
        let asked = self.stress().max(1.001 * yield_pa);
        let rate = liquid.rate(asked);
        if rate <= 0.0 {
            return 0.0;
        }
        self.speed(asked / rate, volume_share)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow::pipe::HerschelBulkley;

    fn gel(yield_pa: f64) -> HerschelBulkley {
        let (consistency, index) = if yield_pa > 0.0 { (5.0, 0.5) } else { (0.4, 1.0) };
        HerschelBulkley { yield_pa, consistency, index }
    }

    #[test]
    fn a_grain_in_water_settles_as_another_program_says() {
        // fluids.v_terminal(70 um, 2600, 1000, 1 mPa.s) = 4.14250 mm/s with a drag law; Stokes' law alone is up to 5 % above.
        let grain =
            Particle { diameter_m: 70e-6, density_difference_kg_m3: 1600.0, inner_viscosity_pa_s: None };
        let speed = -grain.speed(1e-3, 0.0);
        assert!(speed > 4.1425e-3 && speed < 1.05 * 4.1425e-3, "{speed}");
    }

    #[test]
    fn a_small_drop_of_oil_creams_a_few_micrometres_a_day() {
        // 5 um, 80 kg/m3 lighter, 20 Pa.s: 5.45e-11 m/s, 4.7 um a day.
        let drop = Particle { diameter_m: 5e-6, density_difference_kg_m3: -80.0, inner_viscosity_pa_s: None };
        assert!((drop.speed(20.0, 0.0) / 5.45e-11 - 1.0).abs() < 2e-3);
    }

    #[test]
    fn yield_stresses_that_hold_are_the_published_ones() {
        // r 50 um, 1000 kg/m3: 0.0467 Pa; a bead of 1 mm, 50 kg/m3: 0.0234 Pa.
        for (diameter_m, density_difference_kg_m3, wanted) in [(100e-6, 1000.0, 0.0467), (1e-3, 50.0, 0.0234)]
        {
            let bead = Particle { diameter_m, density_difference_kg_m3, inner_viscosity_pa_s: None };
            assert!((bead.yield_stress_to_hold() / wanted - 1.0).abs() < 3e-3);
            assert_eq!(bead.speed_in(&gel(1.1 * wanted), 0.0), 0.0);
            assert!(bead.speed_in(&gel(0.5 * wanted), 0.0) < 0.0);
        }
    }

    #[test]
    fn bubbles_leave_as_slowly_as_the_scenario_says() {
        // 6 Pa.s, 100 mm: 0.5 mm 1.2 h, 0.2 mm 7.6 h, 0.1 mm 31 h, 0.05 mm 122 h.
        for (diameter_m, hours) in [(0.5e-3, 1.2), (0.2e-3, 7.6), (0.1e-3, 31.0), (0.05e-3, 122.0)] {
            let bubble =
                Particle { diameter_m, density_difference_kg_m3: -1000.0, inner_viscosity_pa_s: None };
            let ours = 0.1 / bubble.speed(6.0, 0.0) / 3600.0;
            assert!((ours / hours - 1.0).abs() < 0.03, "{ours} h");
        }
    }

    #[test]
    fn in_a_newtonian_liquid_the_curve_changes_nothing() {
        let drop =
            Particle { diameter_m: 2e-5, density_difference_kg_m3: -60.0, inner_viscosity_pa_s: Some(0.03) };
        let by_curve = drop.speed_in(&gel(0.0), 0.01);
        assert!((by_curve / drop.speed(0.4, 0.01) - 1.0).abs() < 1e-9);
    }
}

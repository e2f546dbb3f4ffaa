//! Does a dose stand as a heap: its yield stress against its own weight.
//!
//! ```text
//! z  = sqrt(3) tau0 / (rho g)                          tallest column that stands as put
//! R  = (225 rho g V^2 / (128 pi^2 tau0))^(1/5)             radius at which a dose that has spread comes to rest
//! h  = sqrt(2 tau0 R / (rho g))                        its height in the middle, of the profile sqrt(2 tau0 (R - r) / (rho g))
//! hc = 2 sqrt(sigma / (rho g)) sin(theta_c / 2)          height at which surface tension holds a puddle
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | V | volume of the dose | m3 |
//! | sigma, theta_c | surface tension, contact angle of the spreading rim | N/m, - |
//!
//! Range: the two first ends of a scale, a heap much taller than wide and one much wider than tall; a dose between them is only bounded by
//! the two. Level surface. Surface tension is not in the first three: a heap lower than `hc` is held by its rim, not by its yield
//! stress. Sources: N. Roussel and P. Coussot, J. Rheol. 49 (2005) 705 (abstract read; both ends follow from the balance of forces);
//! de Gennes, Brochard-Wyart, Quere, Capillarity and Wetting Phenomena (2004) for the puddle (from memory). Case: `tests/cross/flow_use.csv`, the
//! profile integrated by another program.

use super::film::GRAVITY_M_S2;
use core::f64::consts::PI;
use levigate_measure::elementary::Elementary as _;

/// How a dose lies on a level surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heap {
    /// Radius at rest, m; infinite without a yield stress.
    pub radius_m: f64,
    /// Height in the middle, m; zero without a yield stress.
    pub height_m: f64,
    /// Height of the dose as a ball, m: as tall as it can be put.
    pub as_put_m: f64,
    /// Tallest column that stands as put, m.
    pub column_m: f64,
}

impl Heap {
    /// How a dose of a volume comes to rest.
    #[must_use]
    pub fn of(yield_pa: f64, density_kg_m3: f64, volume_m3: f64) -> Self {
        let weight = density_kg_m3 * GRAVITY_M_S2;
        let as_put_m = (6.0 * volume_m3 / PI).to_the(1.0 / 3.0);
        let radius_m = (225.0 * weight * volume_m3.powi(2) / (128.0 * PI * PI * yield_pa)).to_the(0.2);
        let height_m = if yield_pa > 0.0 { (2.0 * yield_pa * radius_m / weight).sqrt() } else { 0.0 };
        let column_m = 3.0_f64.sqrt() * yield_pa / weight;
        // What stands as put neither grows taller nor spreads less than the ball it was.
        Self {
            radius_m: radius_m.max(0.5 * as_put_m),
            height_m: if column_m >= as_put_m { as_put_m } else { height_m.min(as_put_m) },
            as_put_m,
            column_m,
        }
    }

    /// Yield stress from which a dose stands as put, Pa.
    #[must_use]
    pub fn yield_to_stand(density_kg_m3: f64, volume_m3: f64) -> f64 {
        density_kg_m3 * GRAVITY_M_S2 * (6.0 * volume_m3 / PI).to_the(1.0 / 3.0) / 3.0_f64.sqrt()
    }
}

/// Height at which surface tension holds a puddle, m.
#[must_use]
pub fn puddle_height(surface_tension_n_m: f64, density_kg_m3: f64, contact_angle_deg: f64) -> f64 {
    2.0 * (surface_tension_n_m / (density_kg_m3 * GRAVITY_M_S2)).sqrt()
        * (0.5 * contact_angle_deg.to_radians()).sine()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn radius_and_height_hold_the_volume() {
        let heap = Heap::of(8.0, 1010.0, 2e-6);
        let weight = 1010.0 * GRAVITY_M_S2;
        // Profile sqrt(2 tau0 (R - r) / (rho g)) turned about its axis: 2 pi sqrt(2 tau0 / (rho g)) 4/15 R^(5/2).
        let volume = 2.0 * PI * (2.0 * 8.0 / weight).sqrt() * 4.0 / 15.0 * heap.radius_m.to_the(2.5);
        assert!((volume / 2e-6 - 1.0).abs() < 1e-12, "{volume}");
        assert!((heap.height_m - (16.0 * heap.radius_m / weight).sqrt()).abs() < 1e-12);
    }

    #[test]
    fn half_a_millilitre_stands_as_put_from_some_fifty_pascal() {
        let wanted = Heap::yield_to_stand(1000.0, 0.5e-6);
        let heap = Heap::of(wanted * 1.001, 1000.0, 0.5e-6);
        assert!((wanted - 55.8).abs() < 0.1, "{wanted}");
        assert_eq!(heap.height_m, heap.as_put_m);
    }

    #[test]
    fn without_a_yield_stress_there_is_no_heap_but_a_puddle() {
        let heap = Heap::of(0.0, 1000.0, 0.5e-6);
        assert_eq!((heap.radius_m, heap.height_m), (f64::INFINITY, 0.0));
        // Water on a surface it does not wet at all: twice its capillary length of 2.73 mm.
        assert!((puddle_height(0.072_8, 998.2, 180.0) - 5.454e-3).abs() < 2e-6);
    }

    proptest! {
        #[test]
        fn a_firmer_dose_stands_higher(yield_pa in 0.01..500.0_f64, more in 1.01..3.0_f64, volume in 1e-8..1e-5_f64) {
            let (soft, firm) = (Heap::of(yield_pa, 1000.0, volume), Heap::of(yield_pa * more, 1000.0, volume));
            prop_assert!(firm.height_m >= soft.height_m && firm.radius_m <= soft.radius_m);
            prop_assert!(soft.height_m <= soft.as_put_m);
        }
    }
}

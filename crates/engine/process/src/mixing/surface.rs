//! The surface: how deep the vortex is, and when air is drawn in.
//!
//! ```text
//! r_c = (d/2) 1.23 (0.57 + 0.35 d/D) (b/D)^0.036 n^0.116 Re / (1000 + 1.43 Re)       turning as a body within
//! z   = w^2 r_c^2 / (2 g) (2 - (r_c/R)^2)                                        from the wall to the axis
//! z_0 = w^2 / (2 g R^2) (r_c^4/2 + 2 r_c^2 (R^2 - r_c^2) - 2 r_c^4 ln(R/r_c))          of it below the level at rest
//! N d^1.98 / D^1.1 = 1.65                                                   air through the surface with baffles
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | r_c, R | radius of the core, of the vessel | m |
//! | d, D, b, n | impeller, vessel, height of a blade, blades | m, m, m, - |
//! | w, N | angular speed, speed | 1/s |
//!
//! Range: without baffles, impeller in the middle, Re above about 300 (below, no vortex worth noting); a round bottom and a shaft off the middle
//! make it shallower. The last line is for a disc turbine of a third of the vessel in water; a wider or slower-pumping one begins elsewhere, and a
//! thick batch holds what it took.
//!
//! How far they miss: no publication with a measured scatter could be read, so the intervals are judgement. Within 0.3 to 0.7 of the vessel and
//! from Re 1000 the core is taken as known to a tenth of its radius, which is about a fifth of the depth, else to a fifth; the onset with
//! baffles to a factor of 1.2 for a disc turbine of 0.25 to 0.45 of the vessel in a liquid as thin as water, else to 1.5. Sources: z exact for the velocity taken (Rankine); r_c Nagata (1975), the last line Greaves and Kobbacy (1981), both from
//! memory. Case: `tests/cross/mixing.toml`.

use crate::flow::film::GRAVITY_M_S2;
use crate::impeller::Family;
use crate::vessel::{Impeller, Vessel};
use core::f64::consts::PI;
use levigate_measure::elementary::Elementary as _;

/// Reynolds number below which no vortex is worth noting.
pub const NO_VORTEX_BELOW: f64 = 300.0;

/// How far the core may lie from its line, part of its radius, within its range and outside: judgement.
const CORE: [f64; 2] = [0.1, 0.2];
/// Diameters of impellers, of the vessel, and the Reynolds number from which the line of the core is taken as in its range: judgement.
const CORE_RANGE: ([f64; 2], f64) = ([0.3, 0.7], 1000.0);
/// Factor by which the onset of air with baffles may lie off, within its range and outside: judgement.
const ONSET: [f64; 2] = [1.2, 1.5];
/// Diameters of disc turbines, of the vessel, and the viscosity up to which it is in its range, Pa s: judgement about a third of it in water.
const ONSET_RANGE: ([f64; 2], f64) = ([0.25, 0.45], 0.002);

/// A vortex.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Vortex {
    /// From the wall to the axis, m.
    pub depth_m: f64,
    /// From the level at rest down to the axis, m.
    pub below_rest_m: f64,
    /// From the level at rest up at the wall, m.
    pub rise_m: f64,
}

/// The vortex of an impeller in the middle of a vessel without baffles; speed in 1/s.
#[must_use]
pub fn vortex(
    vessel_m: f64,
    impeller_m: f64,
    blade_m: f64,
    blades: f64,
    speed: f64,
    reynolds: f64,
) -> Vortex {
    leaning([vessel_m, impeller_m, blade_m], blades, speed, reynolds, 1.0)
}

/// The same with the core so many times as wide: vessel, impeller and height of a blade in m.
fn leaning(
    [vessel_m, impeller_m, blade_m]: [f64; 3],
    blades: f64,
    speed: f64,
    reynolds: f64,
    lean: f64,
) -> Vortex {
    if reynolds < NO_VORTEX_BELOW {
        return Vortex { depth_m: 0.0, below_rest_m: 0.0, rise_m: 0.0 };
    }
    let radius = 0.5 * vessel_m;
    let core = (0.5
        * impeller_m
        * 1.23
        * (0.57 + 0.35 * impeller_m / vessel_m)
        * (blade_m / vessel_m).to_the(0.036)
        * blades.to_the(0.116)
        * reynolds
        / (1000.0 + 1.43 * reynolds)
        * lean)
        .min(radius);
    let head = (2.0 * PI * speed).powi(2) / (2.0 * GRAVITY_M_S2);
    let depth_m = head * core.powi(2) * (2.0 - (core / radius).powi(2));
    let below_rest_m = head / radius.powi(2)
        * (0.5 * core.powi(4) + 2.0 * core.powi(2) * (radius.powi(2) - core.powi(2))
            - 2.0 * core.powi(4) * (radius / core).log_e());
    Vortex { depth_m, below_rest_m, rise_m: depth_m - below_rest_m }
}

/// Whether the core is asked about outside the range of its line.
#[must_use]
pub fn is_outside(vessel: &Vessel, impeller: &Impeller, reynolds: f64) -> bool {
    let ([least, most], from) = CORE_RANGE;
    let share = impeller.diameter_m / vessel.diameter_m();
    !(least..=most).contains(&share) || reynolds < from
}

/// The vortex of what stands in a vessel.
#[must_use]
pub fn vortex_in(vessel: &Vessel, impeller: &Impeller, speed: f64, reynolds: f64) -> Vortex {
    vortex_at(vessel, impeller, (speed, reynolds), 0.0)
}

/// The same with the core at its least (-1) or its most (1).
#[must_use]
pub fn vortex_at(vessel: &Vessel, impeller: &Impeller, (speed, reynolds): (f64, f64), end: f64) -> Vortex {
    if vessel.swirl_is_broken() || impeller.kind.family.sweeps_the_wall() {
        return Vortex { depth_m: 0.0, below_rest_m: 0.0, rise_m: 0.0 };
    }
    let blades = f64::from(impeller.blades);
    let doubt = CORE[usize::from(is_outside(vessel, impeller, reynolds))];
    let sizes = [vessel.diameter_m(), impeller.diameter_m, impeller.blade_m];
    leaning(sizes, blades, speed, reynolds, 1.0 + end * doubt)
}

/// Factor by which the onset of air with baffles may lie off, and whether it is asked about outside its range.
#[must_use]
pub fn onset_doubt(vessel: &Vessel, impeller: &Impeller, viscosity_pa_s: f64) -> (f64, bool) {
    let ([least, most], thin) = ONSET_RANGE;
    let share = impeller.diameter_m / vessel.diameter_m();
    let within = impeller.kind.family == Family::DiscTurbine
        && (least..=most).contains(&share)
        && viscosity_pa_s <= thin;
    (ONSET[usize::from(!within)], !within)
}

/// Speed from which a baffled vessel draws air through its surface, 1/s.
#[must_use]
pub fn speed_of_surface_air(vessel_m: f64, impeller_m: f64) -> f64 {
    1.65 * vessel_m.to_the(1.1) / impeller_m.to_the(1.98)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_beaker_of_water_has_the_published_depths() {
        for (rpm, mm, most) in [(250.0, 17.0, 1.0), (500.0, 74.0, 1.0), (800.0, 194.0, 1.5)] {
            let speed = rpm / 60.0;
            let re = 1000.0 * speed * 0.05 * 0.05 / 1e-3;
            let depth = 1e3 * vortex(0.1, 0.05, 0.01, 4.0, speed, re).depth_m;
            assert!((depth - mm).abs() < most, "{rpm} rpm: {depth}");
        }
        assert_eq!(vortex(0.1, 0.05, 0.01, 4.0, 5.0, 200.0).depth_m, 0.0);
    }

    #[test]
    fn a_tenth_of_the_core_is_about_a_fifth_of_the_depth() {
        let at = |lean: f64| leaning([0.1, 0.05, 0.01], 4.0, 8.0, 20_000.0, lean).depth_m;
        let (low, middle, high) = (at(0.9), at(1.0), at(1.1));
        assert!((0.80..0.87).contains(&(low / middle)), "{}", low / middle);
        assert!((1.12..1.20).contains(&(high / middle)), "{}", high / middle);
        assert_eq!(middle, vortex(0.1, 0.05, 0.01, 4.0, 8.0, 20_000.0).depth_m);
    }

    #[test]
    fn a_body_that_turns_as_a_whole_sinks_by_half() {
        // With the core at the wall the surface is a paraboloid: as far down at the axis as up at the wall.
        let turned = vortex(0.1, 0.2, 0.1, 24.0, 2.0, 1e6);
        assert!((turned.below_rest_m / turned.rise_m - 1.0).abs() < 1e-9);
    }
}

//! A dose on a tilted hand: how far it runs.
//!
//! The dose lies as a patch of even thickness and keeps its width; its front moves down the slope as a wave of its own thickness until the
//! thinning tail from the upper edge has caught up with it.
//!
//! ```text
//! A = V / w,  H = A / L
//! x = L + q(H)/H t                                      while the middle of the patch still has its thickness
//! (h c(h) - q(h)) t = A,  x = c(h) t,  c = dq/dh           afterwards: h is the thickness at the front
//! x = (9 A^2 rho g sin(theta) t / (4 eta))^(1/3)          the same for a Newtonian liquid
//! x = A / h0,  h0 = tau0 / (rho g sin(theta))              where a yield stress brings it to rest
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | V, w, L | volume of the dose, width of the patch, its length down the slope | m3, m, m |
//! | A, H | volume per width, thickness of the patch | m2, m |
//! | x, t | place of the front below the upper edge of the patch, time | m, s |
//! | q(h), c(h) | flow per width and wave speed of a film (see `film`) | m2/s, m/s |
//!
//! Range: no inertia, no sideways spread (the rim holds on dry skin), no surface tension: the rim of a small dose of a thin liquid may hold it
//! back altogether, so the run is an upper bound. Source: H. E. Huppert, Nature 300 (1982) 427 for the Newtonian current (from memory); any
//! other liquid by the same conservation of volume. Case: `tests/cross/flow_use.csv`, the equation solved on a grid by another program.

use super::film::Incline;
use super::liquid::Liquid;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::root::bracketed;

/// A dose as it lies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Patch {
    /// Volume, m3.
    pub volume_m3: f64,
    /// Width across the slope, m.
    pub width_m: f64,
    /// Length down the slope, m.
    pub length_m: f64,
}

/// How far a dose has run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Run {
    /// Way of the front from where it lay, m.
    pub way_m: f64,
    /// Thickness at the front, m.
    pub front_m: f64,
    /// Reynolds number of the film at the front, `rho q / eta` with the viscosity at the wall; inertia matters far above one.
    pub reynolds: f64,
}

impl Patch {
    /// Volume per width, m2.
    #[must_use]
    pub fn per_width(&self) -> f64 {
        self.volume_m3 / self.width_m
    }

    /// Thickness as it lies, m.
    #[must_use]
    pub fn thickness(&self) -> f64 {
        self.per_width() / self.length_m
    }

    /// How far the dose has run after a time above zero.
    #[must_use]
    pub fn run(&self, liquid: &dyn Liquid, incline: &Incline, time_s: f64) -> Run {
        let start = self.thickness();
        let (flow, wave) = (incline.flow_per_width_of(liquid, start), incline.wave_speed_of(liquid, start));
        if flow <= 0.0 || wave <= 0.0 {
            return Run { way_m: 0.0, front_m: start, reynolds: 0.0 };
        }
        let front_speed = flow / start;
        let front_m = if time_s * (wave - front_speed) <= self.length_m {
            start
        } else {
            self.thinned_front(liquid, incline, time_s)
        };
        let way_m = if front_m < start {
            incline.wave_speed_of(liquid, front_m) * time_s - self.length_m
        } else {
            front_speed * time_s
        };
        let wall = incline.pull_pa_m() * front_m;
        let reynolds =
            incline.density_kg_m3 * incline.flow_per_width_of(liquid, front_m) * liquid.rate(wall) / wall;
        Run { way_m: way_m.max(0.0), front_m, reynolds }
    }

    /// Thickness at the front once the tail has caught up with it; that of the patch where the search does not settle.
    fn thinned_front(&self, liquid: &dyn Liquid, incline: &Incline, time_s: f64) -> f64 {
        let start = self.thickness();
        let miss = |ln_thickness: f64| {
            let h = ln_thickness.exp_e();
            let carried = h * incline.wave_speed_of(liquid, h) - incline.flow_per_width_of(liquid, h);
            carried * time_s / self.per_width() - 1.0
        };
        let rest = incline.thickest_at_rest(liquid);
        let mut low = start.log_e() - 1.0;
        if rest > 0.0 {
            low = rest.log_e();
        } else {
            for _ in 0..60 {
                if miss(low) < 0.0 {
                    break;
                }
                low -= 1.0;
            }
        }
        bracketed(miss, low, start.log_e(), 1e-11, 200).map_or(start, f64::exp_e)
    }

    /// Way after which a yield stress brings the dose to rest, m; infinite for a liquid without one.
    #[must_use]
    pub fn run_to_rest(&self, liquid: &dyn Liquid, incline: &Incline) -> f64 {
        let rest = incline.thickest_at_rest(liquid);
        if rest > 0.0 { (self.per_width() / rest - self.length_m).max(0.0) } else { f64::INFINITY }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow::pipe::HerschelBulkley;
    use proptest::prelude::*;

    const HAND: Incline = Incline { angle_deg: 45.0, density_kg_m3: 1010.0, gravity_m_s2: 9.806_65 };
    const DOSE: Patch = Patch { volume_m3: 0.5e-6, width_m: 0.015, length_m: 0.015 };

    #[test]
    fn a_newtonian_dose_runs_as_the_published_current() {
        let liquid = HerschelBulkley { yield_pa: 0.0, consistency: 0.2, index: 1.0 };
        let front = DOSE.run(&liquid, &HAND, 5.0).way_m + DOSE.length_m;
        let published =
            (9.0 * DOSE.per_width().powi(2) * HAND.pull_pa_m() * 5.0 / (4.0 * 0.2)).to_the(1.0 / 3.0);
        assert!((front / published - 1.0).abs() < 1e-7, "{front} against {published}");
    }

    #[test]
    fn the_front_does_not_jump_when_the_tail_reaches_it() {
        let gel = HerschelBulkley { yield_pa: 3.0, consistency: 4.0, index: 0.5 };
        let (flow, wave) =
            (HAND.flow_per_width_of(&gel, DOSE.thickness()), HAND.wave_speed_of(&gel, DOSE.thickness()));
        let met = DOSE.length_m / (wave - flow / DOSE.thickness());
        let (before, after) = (
            DOSE.run(&gel, &HAND, met * (1.0 - 1e-6)).way_m,
            DOSE.run(&gel, &HAND, met * (1.0 + 1e-6)).way_m,
        );
        assert!((after / before - 1.0).abs() < 1e-4, "{before} {after}");
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(32))]

        #[test]
        fn it_runs_farther_when_thinner_steeper_or_longer_and_never_past_its_rest(
            yield_pa in 0.0..8.0_f64, consistency in 0.05..20.0_f64, index in 0.3..1.0_f64,
            angle_deg in 10.0..80.0_f64, time in 0.1..100.0_f64, more in 1.05..3.0_f64,
        ) {
            let hand = Incline { angle_deg, ..HAND };
            let liquid = HerschelBulkley { yield_pa, consistency, index };
            let way = DOSE.run(&liquid, &hand, time).way_m;
            let slack = 1e-9 + way * 1e-6;
            prop_assert!(way.is_finite() && way <= DOSE.run_to_rest(&liquid, &hand) + slack);
            let thick = HerschelBulkley { consistency: consistency * more, ..liquid };
            prop_assert!(DOSE.run(&thick, &hand, time).way_m <= way + slack);
            let firm = HerschelBulkley { yield_pa: yield_pa * more, ..liquid };
            prop_assert!(DOSE.run(&firm, &hand, time).way_m <= way + slack);
            prop_assert!(DOSE.run(&liquid, &hand, time * more).way_m >= way - slack);
            let steep = Incline { angle_deg: (angle_deg * more).min(90.0), ..hand };
            prop_assert!(DOSE.run(&liquid, &steep, time).way_m >= way - slack);
        }
    }
}

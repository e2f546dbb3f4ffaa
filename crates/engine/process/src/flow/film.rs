//! On an inclined surface: does a film stay, how fast does it run, how thin does it drain.
//!
//! ```text
//! G = rho g sin(theta),  h0 = tau0 / G                                   no flow for h <= h0
//! us = n/(n+1) (G/K)^(1/n) hs^((n+1)/n),  hs = h - h0                      speed of the surface
//! q  = us (h0 + hs (n+1)/(2n+1))                                         flow per width
//! h(x, t) = h0 + film of the power law that drains from the edge at x = 0:  (K/G)^(1/(n+1)) (x/t)^(n/(n+1)) for tau0 = 0
//!
//! us = 1/G integral from 0 to G h of g(tau) dtau,  q = 1/G^2 integral from 0 to G h of tau g(tau) dtau     any flow curve
//! dq/dh = h g(G h) = x/t                                                                                 its draining wave
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | h, h0 | thickness of the film, of its plug | m |
//! | theta | angle against the horizontal | - |
//! | x, t | distance from the upper edge, time | m, s |
//! | g(tau) | shear rate at a stress | 1/s |
//!
//! Range: films thin against their length, no inertia, no surface tension at the front. Source: Jeffreys, Proc. Cambridge Philos. Soc. 26
//! (1930) 204 for the Newtonian film (from memory); the power law and Herschel-Bulkley cases by integration. Cases: below, by numerical
//! integration of another program.

use super::integral::of_stress;
use super::liquid::Liquid;
use super::pipe::HerschelBulkley;
use levigate_measure::elementary::Elementary as _;

/// Standard acceleration of gravity, m/s2.
pub const GRAVITY_M_S2: f64 = 9.806_65;

/// A surface with a film.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Incline {
    /// Angle against the horizontal, degrees, above 0 to 90.
    pub angle_deg: f64,
    /// Density of the film, kg/m3.
    pub density_kg_m3: f64,
    /// Acceleration of gravity, m/s2.
    pub gravity_m_s2: f64,
}

impl Incline {
    /// Weight along the surface per volume, Pa/m.
    #[must_use]
    pub fn pull_pa_m(&self) -> f64 {
        self.density_kg_m3 * self.gravity_m_s2 * self.angle_deg.to_radians().sine()
    }

    /// Thickest film that stays, m.
    #[must_use]
    pub fn thickest_at_rest(&self, liquid: &dyn Liquid) -> f64 {
        liquid.yield_stress() / self.pull_pa_m()
    }

    /// Speed of the surface of a film, m/s.
    #[must_use]
    pub fn surface_speed(&self, liquid: &HerschelBulkley, thickness_m: f64) -> f64 {
        let sheared = thickness_m - self.thickest_at_rest(liquid);
        if sheared <= 0.0 {
            return 0.0;
        }
        let n = liquid.index;
        n / (n + 1.0)
            * (self.pull_pa_m() / liquid.consistency).to_the(1.0 / n)
            * sheared.to_the((n + 1.0) / n)
    }

    /// Flow per width of a film, m2/s.
    #[must_use]
    pub fn flow_per_width(&self, liquid: &HerschelBulkley, thickness_m: f64) -> f64 {
        let plug = self.thickest_at_rest(liquid).min(thickness_m);
        let n = liquid.index;
        self.surface_speed(liquid, thickness_m) * (plug + (thickness_m - plug) * (n + 1.0) / (2.0 * n + 1.0))
    }

    /// Thickness left at a distance from the upper edge after a time, m; never below what stays.
    ///
    /// The wave `x / t = dq/dh = (G h_s / K)^(1/n) h` gives the thickness; closed for the power law, by halving else.
    #[must_use]
    pub fn drained_thickness(&self, liquid: &HerschelBulkley, distance_m: f64, time_s: f64) -> f64 {
        let plug = self.thickest_at_rest(liquid);
        let speed = distance_m / time_s;
        let n = liquid.index;
        let wave = |thickness: f64| {
            (self.pull_pa_m() / liquid.consistency * (thickness - plug)).to_the(1.0 / n) * thickness
        };
        let mut high =
            (liquid.consistency / self.pull_pa_m()).to_the(1.0 / (n + 1.0)) * speed.to_the(n / (n + 1.0));
        if plug <= 0.0 {
            return high;
        }
        high += plug;
        let mut low = plug;
        for _ in 0..200 {
            let middle = 0.5 * (low + high);
            if wave(middle) > speed {
                high = middle;
            } else {
                low = middle;
            }
        }
        0.5 * (low + high)
    }

    /// Speed of the surface of a film of any liquid, m/s.
    #[must_use]
    pub fn surface_speed_of(&self, liquid: &dyn Liquid, thickness_m: f64) -> f64 {
        let wall = self.pull_pa_m() * thickness_m;
        let rate = liquid.rate(wall);
        if rate > 0.0 { (wall * rate - of_stress(liquid, rate, 1)) / self.pull_pa_m() } else { 0.0 }
    }

    /// Flow per width of a film of any liquid, m2/s.
    #[must_use]
    pub fn flow_per_width_of(&self, liquid: &dyn Liquid, thickness_m: f64) -> f64 {
        let wall = self.pull_pa_m() * thickness_m;
        let rate = liquid.rate(wall);
        if rate <= 0.0 {
            return 0.0;
        }
        0.5 * (wall * wall * rate - of_stress(liquid, rate, 2)) / self.pull_pa_m().powi(2)
    }

    /// Speed at which a thickness travels down a film of any liquid, m/s.
    #[must_use]
    pub fn wave_speed_of(&self, liquid: &dyn Liquid, thickness_m: f64) -> f64 {
        thickness_m * liquid.rate(self.pull_pa_m() * thickness_m)
    }

    /// Time until a film of any liquid has drained to a thickness at a distance from its upper edge, s; infinite for a thickness that
    /// stays.
    #[must_use]
    pub fn time_to_drain_to(&self, liquid: &dyn Liquid, distance_m: f64, thickness_m: f64) -> f64 {
        distance_m / self.wave_speed_of(liquid, thickness_m)
    }

    /// Thickness of any liquid left at a distance from the upper edge after a time, m; never below what stays.
    #[must_use]
    pub fn drained_thickness_of(&self, liquid: &dyn Liquid, distance_m: f64, time_s: f64) -> f64 {
        let plug = self.thickest_at_rest(liquid);
        let speed = distance_m / time_s;
        let mut high = plug.max(1e-6);
        for _ in 0..80 {
            if self.wave_speed_of(liquid, high) > speed {
                break;
            }
            high *= 2.0;
        }
        // By halving the logarithm: the wave gets faster with the thickness.
        let (mut low, mut high) = ((if plug > 0.0 { plug } else { 1e-15 }).log_e(), high.log_e());
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if self.wave_speed_of(liquid, middle.exp_e()) > speed {
                high = middle;
            } else {
                low = middle;
            }
        }
        (0.5 * (low + high)).exp_e()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn wall(density_kg_m3: f64, angle_deg: f64) -> Incline {
        Incline { angle_deg, density_kg_m3, gravity_m_s2: 9.81 }
    }

    #[test]
    fn speeds_and_flows_agree_with_numerical_integration() {
        let of = |yield_pa, consistency, index| HerschelBulkley { yield_pa, consistency, index };
        for (incline, liquid, thickness, speed, flow) in [
            (wall(1000.0, 90.0), of(0.0, 1.0, 1.0), 1e-3, 4.905e-3, 3.270e-6),
            (wall(1000.0, 90.0), of(0.0, 5.0, 0.5), 1e-3, 1.283_148e-3, 9.623_61e-7),
            (wall(1000.0, 90.0), of(10.0, 5.0, 0.5), 3e-3, 9.969_839e-3, 2.497_287e-5),
            (wall(1020.0, 45.0), of(5.0, 3.0, 0.4), 2e-3, 6.004_801e-3, 1.028_378e-5),
        ] {
            assert!((incline.surface_speed(&liquid, thickness) / speed - 1.0).abs() < 1e-6);
            assert!((incline.flow_per_width(&liquid, thickness) / flow - 1.0).abs() < 1e-6);
            assert!((incline.surface_speed_of(&liquid, thickness) / speed - 1.0).abs() < 1e-6);
            assert!((incline.flow_per_width_of(&liquid, thickness) / flow - 1.0).abs() < 1e-6);
        }
    }

    #[test]
    fn thickest_film_that_stays_on_a_wall() {
        // Yield stress 1, 5, 10, 20, 50 Pa: 0.10, 0.51, 1.02, 2.04, 5.10 mm.
        for (yield_pa, millimetres) in [(1.0, 0.10), (5.0, 0.51), (10.0, 1.02), (20.0, 2.04), (50.0, 5.10)] {
            let gel = HerschelBulkley { yield_pa, consistency: 5.0, index: 0.5 };
            assert!((wall(1000.0, 90.0).thickest_at_rest(&gel) * 1e3 - millimetres).abs() < 0.005);
        }
    }

    #[test]
    fn draining_leaves_the_published_thickness() {
        for (consistency, index, millimetres) in [(1.0, 1.0, 0.4122), (5.0, 0.5, 0.7565)] {
            let liquid = HerschelBulkley { yield_pa: 0.0, consistency, index };
            let wall = wall(1000.0, 90.0);
            assert!((wall.drained_thickness(&liquid, 0.1, 60.0) * 1e3 - millimetres).abs() < 1e-4);
            assert!((wall.drained_thickness_of(&liquid, 0.1, 60.0) * 1e3 - millimetres).abs() < 1e-4);
            assert!((wall.time_to_drain_to(&liquid, 0.1, millimetres * 1e-3) / 60.0 - 1.0).abs() < 5e-4);
        }
        // With a yield stress it never gets thinner than what stays, and tends to it.
        let gel = HerschelBulkley { yield_pa: 10.0, consistency: 5.0, index: 0.5 };
        let plug = wall(1000.0, 90.0).thickest_at_rest(&gel);
        let late = wall(1000.0, 90.0).drained_thickness(&gel, 0.1, 1e7);
        assert!(late >= plug && late < 1.01 * plug);
        let any = wall(1000.0, 90.0).drained_thickness_of(&gel, 0.1, 1e7);
        assert!((any / late - 1.0).abs() < 1e-9, "{any} against {late}");
        assert_eq!(wall(1000.0, 90.0).time_to_drain_to(&gel, 0.1, plug), f64::INFINITY);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        #[test]
        fn any_flow_curve_agrees_with_the_closed_forms_and_a_yield_stress_fades_out(
            yield_pa in 0.0..20.0_f64, consistency in 0.01..50.0_f64, index in 0.2..1.2_f64,
            angle_deg in 5.0..90.0_f64, above in 1.05..50.0_f64, more in 1.01..2.0_f64,
        ) {
            let gel = HerschelBulkley { yield_pa, consistency, index };
            let wall = wall(1000.0, angle_deg);
            let thickness = if yield_pa > 0.0 { above * wall.thickest_at_rest(&gel) } else { above * 1e-4 };
            for (any, closed) in [
                (wall.surface_speed_of(&gel, thickness), wall.surface_speed(&gel, thickness)),
                (wall.flow_per_width_of(&gel, thickness), wall.flow_per_width(&gel, thickness)),
            ] {
                prop_assert!((any / closed - 1.0).abs() < 1e-5, "{any} against {closed}");
            }
            // Thicker liquid slower, steeper faster; nearly no yield stress is none.
            let speed = wall.surface_speed_of(&gel, thickness);
            let thick = HerschelBulkley { consistency: consistency * more, ..gel };
            prop_assert!(wall.surface_speed_of(&thick, thickness) < speed);
            let steep = Incline { angle_deg: (angle_deg * more).min(90.0), ..wall };
            prop_assert!(steep.surface_speed_of(&gel, thickness) >= speed);
            let (none, hardly) = (
                HerschelBulkley { yield_pa: 0.0, ..gel },
                HerschelBulkley { yield_pa: 1e-9, ..gel },
            );
            let (none, hardly) =
                (wall.surface_speed_of(&none, thickness), wall.surface_speed_of(&hardly, thickness));
            prop_assert!((hardly / none - 1.0).abs() < 1e-4, "{hardly} against {none}");
        }
    }
}

//! Through a tube: how much flows for a pressure, and what pressure a flow takes. Laminar, no slip at the wall.
//!
//! ```text
//! tau_w = R dP / (2 L)
//! Q = pi R^3 / tau_w^3  integral from 0 to tau_w of tau^2 g(tau) dtau                                    any flow curve
//! Q = pi R^3 n a^((n+1)/n) / (tau_w^3 K^(1/n)) (a^2/(3n+1) + 2 tau0 a/(2n+1) + tau0^2/(n+1)),  a = tau_w - tau0   Herschel-Bulkley
//! Re = rho V^(2-n) D^n / (8^(n-1) K ((3n+1)/(4n))^n)                                                    power law
//! Re = 8 rho V^2 / tau_w                                                                                any flow curve
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | R, L, D | radius, length, diameter of the tube | m |
//! | dP | pressure over the length | Pa |
//! | tau_w | stress at the wall | Pa |
//! | Q, V | flow, mean speed | m3/s, m/s |
//!
//! Range: laminar, Reynolds number after Metzner and Reed below about 2000; long tube (no entrance loss). Below the yield stress nothing flows.
//! Sources: Metzner and Reed, AIChE J. 1 (1955) 434; Buckingham (1921) for the Bingham case; the integral is the Rabinowitsch
//! equation. Cases: below, with the publication or the
//! program they come from.

use super::integral::of_stress;
use super::liquid::Liquid;
use core::f64::consts::PI;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::root::{RootError, bracketed};

/// A tube.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tube {
    /// Radius, m.
    pub radius_m: f64,
    /// Length, m.
    pub length_m: f64,
}

/// Herschel-Bulkley parameters: the power law with a yield stress of zero, a Newtonian liquid with an index of one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HerschelBulkley {
    /// Yield stress, Pa.
    pub yield_pa: f64,
    /// Consistency, Pa s^n.
    pub consistency: f64,
    /// Flow index.
    pub index: f64,
}

impl Liquid for HerschelBulkley {
    fn stress(&self, shear_rate: f64) -> f64 {
        self.yield_pa + self.consistency * shear_rate.to_the(self.index)
    }

    fn yield_stress(&self) -> f64 {
        self.yield_pa
    }

    fn rate(&self, stress_pa: f64) -> f64 {
        let above = stress_pa - self.yield_pa;
        if above > 0.0 { (above / self.consistency).to_the(1.0 / self.index) } else { 0.0 }
    }
}

impl Tube {
    /// Stress at the wall for a pressure over the length, Pa.
    #[must_use]
    pub fn wall_stress(&self, pressure_pa: f64) -> f64 {
        self.radius_m * pressure_pa / (2.0 * self.length_m)
    }

    /// Pressure that gives a stress at the wall, Pa.
    #[must_use]
    pub fn pressure(&self, wall_stress_pa: f64) -> f64 {
        2.0 * self.length_m * wall_stress_pa / self.radius_m
    }

    /// Apparent (Newtonian) shear rate at the wall of a flow, 1/s.
    #[must_use]
    pub fn apparent_wall_rate(&self, flow_m3_s: f64) -> f64 {
        4.0 * flow_m3_s / (PI * self.radius_m.powi(3))
    }

    /// Flow for a stress at the wall, m3/s; zero up to the yield stress.
    #[must_use]
    pub fn flow(&self, liquid: &HerschelBulkley, wall_stress_pa: f64) -> f64 {
        let HerschelBulkley { yield_pa, consistency, index } = *liquid;
        let above = wall_stress_pa - yield_pa;
        if above <= 0.0 {
            return 0.0;
        }
        // Written with a / tau_w so that nothing overflows for thin liquids.
        let (a, y) = (above / wall_stress_pa, yield_pa / wall_stress_pa);
        let sum = a * a / (3.0 * index + 1.0) + 2.0 * y * a / (2.0 * index + 1.0) + y * y / (index + 1.0);
        PI * self.radius_m.powi(3) * index * a * (above / consistency).to_the(1.0 / index) * sum
    }

    /// Stress at the wall that a flow takes, Pa; the yield stress for no flow.
    ///
    /// # Errors
    /// [`RootError`] when the search does not settle, for values that are no numbers.
    pub fn wall_stress_for(&self, liquid: &HerschelBulkley, flow_m3_s: f64) -> Result<f64, RootError> {
        let HerschelBulkley { yield_pa, consistency, index } = *liquid;
        if flow_m3_s <= 0.0 {
            return Ok(yield_pa);
        }
        // Between the power law alone and the power law on top of twice the yield stress.
        let rate = self.apparent_wall_rate(flow_m3_s) * (3.0 * index + 1.0) / (4.0 * index);
        let bare = consistency * rate.to_the(index);
        let miss = |ln_stress: f64| (self.flow(liquid, ln_stress.exp_e()) / flow_m3_s).max(1e-300).log_e();
        let (low, mut high) = (bare.max(yield_pa).log_e(), (bare + 2.0 * yield_pa).log_e() + 1e-9);
        for _ in 0..60 {
            if miss(high) > 0.0 {
                break;
            }
            high += 0.5;
        }
        if miss(low) >= 0.0 {
            return Ok(low.exp_e());
        }
        bracketed(miss, low, high, 1e-13, 200).map(f64::exp_e)
    }

    /// Flow of any liquid for a stress at the wall, m3/s, by integrating over the shear rate from the wall inwards.
    #[must_use]
    pub fn flow_of(&self, liquid: &dyn Liquid, wall_stress_pa: f64) -> f64 {
        let at_wall = liquid.rate(wall_stress_pa);
        if at_wall <= 0.0 {
            return 0.0;
        }
        self.flow_at_rate(liquid, at_wall, wall_stress_pa)
    }

    /// By parts: `integral tau^2 g dtau = [tau^3 g / 3] - integral tau^3 / 3 dg`.
    fn flow_at_rate(&self, liquid: &dyn Liquid, at_wall: f64, wall_stress_pa: f64) -> f64 {
        let inner = of_stress(liquid, at_wall, 3) / wall_stress_pa.powi(3);
        PI * self.radius_m.powi(3) * (at_wall - inner) / 3.0
    }

    /// Stress at the wall that a flow of any liquid takes, Pa; the yield stress for no flow.
    ///
    /// # Errors
    /// [`RootError`] when the search does not settle, for values that are no numbers.
    pub fn wall_stress_of(&self, liquid: &dyn Liquid, flow_m3_s: f64) -> Result<f64, RootError> {
        if flow_m3_s <= 0.0 {
            return Ok(liquid.yield_stress());
        }
        // By the shear rate at the wall, which lies near the apparent one: (3 n + 1) / (4 n) times for a local index n.
        let apparent = self.apparent_wall_rate(flow_m3_s).log_e();
        let miss = |ln_rate: f64| {
            let rate = ln_rate.exp_e();
            (self.flow_at_rate(liquid, rate, liquid.stress(rate)) / flow_m3_s).max(1e-300).log_e()
        };
        let (mut low, mut high) = (apparent - 0.5, apparent + 1.0);
        while miss(low) > 0.0 && low > apparent - 40.0 {
            (low, high) = (low - 2.0, low);
        }
        while miss(high) < 0.0 && high < apparent + 40.0 {
            (low, high) = (high, high + 2.0);
        }
        bracketed(miss, low, high, 1e-10, 200).map(|ln_rate| liquid.stress(ln_rate.exp_e()))
    }

    /// Mean speed of a flow, m/s.
    #[must_use]
    pub fn speed(&self, flow_m3_s: f64) -> f64 {
        flow_m3_s / (PI * self.radius_m.powi(2))
    }

    /// Reynolds number of a flow by the stress at its wall, `8 rho V^2 / tau_w`: that of Metzner and Reed for the power law (16 over
    /// Fanning's friction factor), and defined for any liquid.
    #[must_use]
    pub fn reynolds_of(&self, density_kg_m3: f64, flow_m3_s: f64, wall_stress_pa: f64) -> f64 {
        8.0 * density_kg_m3 * self.speed(flow_m3_s).powi(2) / wall_stress_pa
    }

    /// Reynolds number after Metzner and Reed at a mean speed; laminar below about 2000.
    #[must_use]
    pub fn reynolds(&self, liquid: &HerschelBulkley, density_kg_m3: f64, speed_m_s: f64) -> f64 {
        let n = liquid.index;
        let diameter = 2.0 * self.radius_m;
        density_kg_m3 * speed_m_s.to_the(2.0 - n) * diameter.to_the(n)
            / (8.0_f64.to_the(n - 1.0) * liquid.consistency * ((3.0 * n + 1.0) / (4.0 * n)).to_the(n))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TUBE: Tube = Tube { radius_m: 2e-3, length_m: 0.12 };

    #[test]
    fn a_newtonian_liquid_obeys_hagen_and_poiseuille() {
        let liquid = HerschelBulkley { yield_pa: 0.0, consistency: 0.05, index: 1.0 };
        let pressure = 3000.0;
        let published = PI * TUBE.radius_m.powi(4) * pressure / (8.0 * 0.05 * TUBE.length_m);
        assert!((TUBE.flow(&liquid, TUBE.wall_stress(pressure)) / published - 1.0).abs() < 1e-12);
    }

    #[test]
    fn closed_forms_agree_with_numerical_integrals() {
        // Integrals of another program (see the facts of the module): wall stress, radius, tau0, K, n, flow.
        for (wall, radius_m, yield_pa, consistency, index, flow) in [
            (100.0, 2e-3, 20.0, 10.0, 0.5, 2.848_109e-7),
            (60.0, 1e-3, 25.0, 8.0, 0.45, 1.140_235e-8),
            (100.0, 2e-3, 20.0, 0.5, 1.0, 9.222_041e-7),
        ] {
            let tube = Tube { radius_m, length_m: 1.0 };
            let liquid = HerschelBulkley { yield_pa, consistency, index };
            let ours = tube.flow(&liquid, wall);
            assert!((ours / flow - 1.0).abs() < 1e-6, "{ours} against {flow}");
            let by_integral = tube.flow_of(&liquid, wall);
            assert!((by_integral / ours - 1.0).abs() < 1e-6, "{by_integral} against {ours}");
            let back = tube.wall_stress_for(&liquid, ours).unwrap();
            assert!((back / wall - 1.0).abs() < 1e-9);
            let back = tube.wall_stress_of(&liquid, ours).unwrap();
            assert!((back / wall - 1.0).abs() < 1e-6, "{back} against {wall}");
        }
    }

    #[test]
    fn below_the_yield_stress_nothing_flows() {
        let gel = HerschelBulkley { yield_pa: 20.0, consistency: 10.0, index: 0.5 };
        assert_eq!(TUBE.flow(&gel, 20.0), 0.0);
        assert_eq!(gel.rate(19.0), 0.0);
    }

    #[test]
    fn half_a_millilitre_in_half_a_second_through_a_two_millimetre_tube() {
        // Stated with the example: wall stress 423.9 Pa, 101.7 kPa; 398.9 Pa and 95.7 kPa without the yield stress.
        let tube = Tube { radius_m: 1e-3, length_m: 0.12 };
        for (yield_pa, wall, pressure) in [(20.0, 423.9, 101.7e3), (0.0, 398.9, 95.7e3)] {
            let gel = HerschelBulkley { yield_pa, consistency: 10.0, index: 0.5 };
            let ours = tube.wall_stress_for(&gel, 1e-6).unwrap();
            assert!((ours / wall - 1.0).abs() < 2e-4, "{ours}");
            assert!((tube.pressure(ours) / pressure - 1.0).abs() < 1e-3);
        }
    }

    #[test]
    fn the_laminar_example_of_geankoplis_comes_out() {
        // Example 3.5-1: the consistency is given in the 8V/D form, K' = K ((3n+1)/(4n))^n.
        let (index, per_diameter): (f64, f64) = (0.4, 15.23);
        let consistency = per_diameter / ((3.0 * index + 1.0) / (4.0 * index)).to_the(index);
        let liquid = HerschelBulkley { yield_pa: 0.0, consistency, index };
        let tube = Tube { radius_m: 0.0262, length_m: 14.9 };
        let flow = 0.0728 * PI * 0.0262_f64.powi(2);
        let pressure = tube.pressure(tube.wall_stress_for(&liquid, flow).unwrap());
        assert!((pressure / 45_391.0 - 1.0).abs() < 1e-3, "{pressure}");
        assert!((tube.reynolds(&liquid, 1041.0, 0.0728) / 1.106 - 1.0).abs() < 2e-3);
        let wall = tube.wall_stress_of(&liquid, flow).unwrap();
        assert!((tube.reynolds_of(1041.0, flow, wall) / 1.106 - 1.0).abs() < 2e-3);
    }
}

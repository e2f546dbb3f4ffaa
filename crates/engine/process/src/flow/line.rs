//! Dip tube and nozzle in series: pressure for a flow, flow for a pressure, and the pressure at which it starts.
//!
//! ```text
//! dP(Q) = sum over the tubes of 2 L tau_w(Q) / R + rho g z
//! dP(0) = sum over the tubes of 2 L tau0 / R + rho g z                start-up, priming
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | z | height the liquid is lifted | m |
//! | others | as in `pipe` | |
//!
//! Range: laminar in each tube, no slip at the wall, tubes long against their bore (losses at entries and valves come on top). A gel that slips
//! at the wall needs less. Sources: those of `pipe`. Cases: the tubes are those of `pipe`; in series for a Newtonian liquid the sum of Hagen and
//! Poiseuille, below; `tests/cross/flow_use.csv` by another program.

use super::film::GRAVITY_M_S2;
use super::liquid::Liquid;
use super::pipe::Tube;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::root::{RootError, bracketed};

/// Tubes one after the other.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// The tubes.
    pub tubes: Vec<Tube>,
    /// Height the liquid is lifted, m.
    pub rise_m: f64,
    /// Density of the liquid, kg/m3.
    pub density_kg_m3: f64,
}

impl Line {
    /// Pressure of the column lifted, Pa.
    #[must_use]
    pub fn lift(&self) -> f64 {
        self.density_kg_m3 * GRAVITY_M_S2 * self.rise_m
    }

    /// Pressure up to which nothing comes out, Pa.
    #[must_use]
    pub fn start_pressure(&self, liquid: &dyn Liquid) -> f64 {
        let yield_pa = liquid.yield_stress();
        self.lift() + self.tubes.iter().map(|tube| tube.pressure(yield_pa)).sum::<f64>()
    }

    /// Pressure that a flow takes, Pa.
    ///
    /// # Errors
    /// [`RootError`] for values that are no numbers.
    pub fn pressure_for(&self, liquid: &dyn Liquid, flow_m3_s: f64) -> Result<f64, RootError> {
        let mut pressure = self.lift();
        for tube in &self.tubes {
            pressure += tube.pressure(tube.wall_stress_of(liquid, flow_m3_s)?);
        }
        Ok(pressure)
    }

    /// Flow that a pressure gives, m3/s; zero up to the start-up pressure.
    ///
    /// # Errors
    /// [`RootError`] for values that are no numbers.
    pub fn flow_for(&self, liquid: &dyn Liquid, pressure_pa: f64) -> Result<f64, RootError> {
        if pressure_pa <= self.start_pressure(liquid) || self.tubes.is_empty() {
            return Ok(0.0);
        }
        let free = pressure_pa - self.lift();
        // No tube lets through more than it would alone; with one tube that is the answer.
        let alone = self
            .tubes
            .iter()
            .map(|tube| tube.flow_of(liquid, tube.wall_stress(free)))
            .fold(f64::INFINITY, f64::min);
        if self.tubes.len() == 1 || alone <= 0.0 {
            return Ok(alone);
        }
        let miss = |ln_flow: f64| {
            self.pressure_for(liquid, ln_flow.exp_e())
                .map_or(f64::NAN, |needed| (needed / pressure_pa).log_e())
        };
        let high = alone.log_e();
        let mut low = high - 1.0;
        for _ in 0..60 {
            if miss(low) < 0.0 {
                break;
            }
            low -= 2.0;
        }
        if miss(low) >= 0.0 {
            return Ok(0.0);
        }
        bracketed(miss, low, high + 1e-9, 1e-9, 200).map(f64::exp_e)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow::pipe::HerschelBulkley;
    use core::f64::consts::PI;
    use proptest::prelude::*;

    fn line() -> Line {
        Line {
            tubes: vec![Tube { radius_m: 1e-3, length_m: 0.12 }, Tube { radius_m: 0.5e-3, length_m: 0.02 }],
            rise_m: 0.1,
            density_kg_m3: 1000.0,
        }
    }

    #[test]
    fn resistances_of_a_newtonian_liquid_add_up() {
        let liquid = HerschelBulkley { yield_pa: 0.0, consistency: 0.3, index: 1.0 };
        let resistance: f64 =
            line().tubes.iter().map(|tube| 8.0 * 0.3 * tube.length_m / (PI * tube.radius_m.powi(4))).sum();
        let pressure = line().pressure_for(&liquid, 1e-7).unwrap();
        assert!((pressure / (resistance * 1e-7 + line().lift()) - 1.0).abs() < 1e-8, "{pressure}");
        assert!((line().flow_for(&liquid, pressure).unwrap() / 1e-7 - 1.0).abs() < 1e-7);
    }

    #[test]
    fn a_gel_starts_only_above_its_start_up_pressure() {
        let gel = HerschelBulkley { yield_pa: 20.0, consistency: 10.0, index: 0.5 };
        // 2 L tau0 / R: 4800 and 1600 Pa, and the column of 980.7 Pa.
        assert!((line().start_pressure(&gel) - 7380.665).abs() < 1e-6);
        assert_eq!(line().flow_for(&gel, 7380.0).unwrap(), 0.0);
        assert!(line().flow_for(&gel, 7600.0).unwrap() > 0.0);
        assert!((line().pressure_for(&gel, 0.0).unwrap() - 7380.665).abs() < 1e-6);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(32))]

        #[test]
        fn more_pressure_more_flow_and_back(
            yield_pa in 0.0..30.0_f64, consistency in 0.01..20.0_f64, index in 0.3..1.0_f64, above in 1.2..20.0_f64,
        ) {
            let liquid = HerschelBulkley { yield_pa, consistency, index };
            let pressure = line().start_pressure(&liquid) * above;
            let flow = line().flow_for(&liquid, pressure).unwrap();
            prop_assert!(flow > 0.0);
            prop_assert!(line().flow_for(&liquid, pressure * 1.1).unwrap() > flow);
            let back = line().pressure_for(&liquid, flow).unwrap();
            prop_assert!((back / pressure - 1.0).abs() < 1e-5, "{back} {pressure}");
            let thick = HerschelBulkley { consistency: consistency * 1.2, ..liquid };
            prop_assert!(line().flow_for(&thick, pressure).unwrap() < flow);
        }
    }
}

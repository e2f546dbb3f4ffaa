//! A liquid known near one shear rate: quick enough to be read a hundred thousand times.
//!
//! ```text
//! ln tau = a0 + a1 x + a2 x^2 + a3 x^3 + a4 x^4,   x = log2(r/r_0)        through the stresses at r_0/4, r_0/2, r_0, 2 r_0 and 4 r_0
//! ```
//!
//! A dial reading asks for the stress and its slope at the shear rate the spindle makes, which moves little from one batch to the next of a
//! formula. Error against the whole curve: below 0.001 of the dial viscosity for laws of thinning and yielding liquids moved by half of
//! themselves (measured below). Range: readings within a factor of four of `r_0`; beyond it the slope of its end goes on.

use super::liquid::Liquid;
use levigate_measure::elementary::Elementary as _;

/// Factors of the shear rates.
const AT: [f64; 5] = [0.25, 0.5, 1.0, 2.0, 4.0];
/// Steps of a factor of two to either end.
const REACH: f64 = 2.0;

/// Stress near a shear rate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Near {
    ln_rate: f64,
    terms: [f64; 5],
}

impl Near {
    /// Around a shear rate (1/s) from the stress (Pa) at any.
    #[must_use]
    pub fn of(rate: f64, stress: impl Fn(f64) -> f64) -> Self {
        let [a, b, c, d, e] = AT.map(|factor| stress(rate * factor).log_e());
        Self {
            ln_rate: rate.log_e(),
            terms: [
                c,
                (a - 8.0 * b + 8.0 * d - e) / 12.0,
                (16.0 * b - a - 30.0 * c + 16.0 * d - e) / 24.0,
                (2.0 * b - a - 2.0 * d + e) / 12.0,
                (a - 4.0 * b + 6.0 * c - 4.0 * d + e) / 24.0,
            ],
        }
    }
}

impl Liquid for Near {
    fn stress(&self, shear_rate: f64) -> f64 {
        let [a0, a1, a2, a3, a4] = self.terms;
        let x = (shear_rate.log_e() - self.ln_rate) / core::f64::consts::LN_2;
        let held = x.clamp(-REACH, REACH);
        let here = a0 + held * (a1 + held * (a2 + held * (a3 + held * a4)));
        let slope = a1 + held * (2.0 * a2 + held * (3.0 * a3 + held * 4.0 * a4));
        (here + (x - held) * slope).exp_e()
    }

    fn yield_stress(&self) -> f64 {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow::datasheet::dial_viscosity;
    use crate::flow::pipe::HerschelBulkley;
    use crate::flow::spindle::DiscSpindle;
    use proptest::prelude::*;

    fn disc() -> DiscSpindle {
        DiscSpindle {
            key: "disc-27".to_owned(),
            number: Some(4),
            diameter_mm: 27.3,
            thickness_mm: 1.65,
            dimensions_source: "from-memory".to_owned(),
            stress_pa_per_percent: 0.539,
            rate_per_rpm: [1.492, 0.892, 0.658, 0.529, 0.445, 0.387, 0.343, 0.310, 0.283, 0.262],
            full_scale_pa_s_rpm: 200.0,
            reference_torque_n_m: 7.187e-4,
            source: "mitschka-1982".to_owned(),
        }
    }

    /// The shear rate a spindle makes in a liquid.
    fn rate_in(liquid: &dyn Liquid, rpm: f64) -> f64 {
        let spindle = disc();
        let mut rate = spindle.rate_factor(0.5) * rpm;
        for _ in 0..30 {
            let index = (liquid.stress(rate * 1.01) / liquid.stress(rate)).log_e() / 1.01_f64.log_e();
            rate = (rate * spindle.rate_factor(index) * rpm).sqrt();
        }
        rate
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        #[test]
        fn the_dial_shows_what_the_whole_curve_shows(
            yield_pa in 0.0..60.0f64, index in 0.25..1.0f64, consistency in 0.2..20.0f64, rpm in 1.0..60.0f64,
            more in 0.66..1.5f64, turned in -0.05..0.05f64,
        ) {
            let meant = HerschelBulkley { yield_pa, consistency, index };
            let made = HerschelBulkley { yield_pa: yield_pa * more, consistency: consistency / more, index: (index + turned).min(1.0) };
            let near = Near::of(rate_in(&meant, rpm), |rate| made.stress(rate));
            for spindle in [Some(disc()), None] {
                let whole = dial_viscosity(&made, spindle.as_ref(), rpm);
                let quick = dial_viscosity(&near, spindle.as_ref(), rpm);
                prop_assert!((quick / whole - 1.0).abs() < 1e-3, "{quick} {whole}");
            }
        }
    }
}

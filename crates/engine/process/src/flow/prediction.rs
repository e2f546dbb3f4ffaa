//! A predicted flow curve with its band.
//!
//! ```text
//! ln tau(ln g)       at four points per decade from 1e-6 to 1e6 1/s, between them by a cubic that rises where the points rise
//! edge(z):           ln tau + z s,  s the standard deviation of ln viscosity
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | tau, g | stress, shear rate | Pa, 1/s |
//! | s | standard deviation of ln viscosity at that shear rate | - |
//!
//! Beyond the table the stress goes on by its last slope. The cubic takes as slope at a point the harmonic mean of the slopes on both
//! sides (Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300, from memory). Case: below, the models it is a table of.

use super::liquid::Liquid;
use levigate_measure::elementary::Elementary as _;

/// Points of the table.
pub const POINTS: usize = 49;
/// ln of 10 over the points per decade.
const STEP: f64 = std::f64::consts::LN_10 / 4.0;
/// ln of 1e-6.
const LOWEST: f64 = -6.0 * std::f64::consts::LN_10;
/// Least rise of the stress from point to point of an edge, ln.
const LEAST_RISE: f64 = 1e-6;

/// Shear rate of a point of the table, 1/s.
#[must_use]
pub fn rate_at(point: usize) -> f64 {
    (LOWEST + STEP * point as f64).exp_e()
}

/// A liquid known from its composition: stress over shear rate and how far it may be off.
#[derive(Clone, Debug, PartialEq)]
pub struct Prediction {
    ln_stress: [f64; POINTS],
    spread: [f64; POINTS],
    yield_stress: f64,
    window: [f64; 2],
}

impl Prediction {
    /// A prediction from stress (Pa) and standard deviation of ln viscosity at the points of [`rate_at`].
    ///
    /// A stress that is not above zero is taken as the least there is; one that falls is held.
    #[must_use]
    pub fn new(stress: [f64; POINTS], spread: [f64; POINTS], yield_stress: f64, window: [f64; 2]) -> Self {
        let ln_stress = stress.map(|stress| stress.max(f64::MIN_POSITIVE).log_e());
        Self { ln_stress: rising(ln_stress), spread, yield_stress, window }
    }

    /// Shear rates that the evidence covers, 1/s.
    #[must_use]
    pub fn window(&self) -> [f64; 2] {
        self.window
    }

    /// Standard deviation of ln viscosity at a shear rate.
    #[must_use]
    pub fn spread(&self, shear_rate: f64) -> f64 {
        let (at, share) = place(shear_rate.log_e());
        self.spread[at] + (self.spread[at + 1] - self.spread[at]) * share.clamp(0.0, 1.0)
    }

    /// The liquid moved by so many standard deviations, at every shear rate at once.
    #[must_use]
    pub fn edge(&self, z: f64) -> Self {
        let moved = std::array::from_fn(|at| self.ln_stress[at] + z * self.spread[at]);
        Self {
            ln_stress: rising(moved),
            yield_stress: self.yield_stress * (z * self.spread[0]).exp_e(),
            ..self.clone()
        }
    }

    /// Viscosity at a shear rate with the ends that hold it with a probability of 0.95, Pa s.
    #[must_use]
    pub fn viscosity_within(&self, shear_rate: f64) -> [f64; 3] {
        let viscosity = self.viscosity(shear_rate);
        let factor = (2.0 * self.spread(shear_rate)).exp_e();
        [viscosity / factor, viscosity, viscosity * factor]
    }

    fn slope(&self, at: usize) -> f64 {
        let left = at.checked_sub(1).map(|below| self.ln_stress[at] - self.ln_stress[below]);
        let right = self.ln_stress.get(at + 1).map(|above| above - self.ln_stress[at]);
        match (left, right) {
            (Some(left), Some(right)) if left > 0.0 && right > 0.0 => 2.0 * left * right / (left + right),
            (Some(_), Some(_)) | (None, None) => 0.0,
            (Some(one), None) | (None, Some(one)) => one,
        }
    }
}

/// The point below an ln shear rate and how far beyond it, in steps; beyond the table less than zero or more than one.
fn place(ln_rate: f64) -> (usize, f64) {
    let steps = (ln_rate - LOWEST) / STEP;
    let at = (steps.max(0.0) as usize).min(POINTS - 2);
    (at, steps - at as f64)
}

/// Lowers points that stand above the next, so that the stress never falls with the shear rate.
fn rising(mut ln_stress: [f64; POINTS]) -> [f64; POINTS] {
    for at in (0..POINTS - 1).rev() {
        ln_stress[at] = ln_stress[at].min(ln_stress[at + 1] - LEAST_RISE);
    }
    ln_stress
}

impl Liquid for Prediction {
    fn stress(&self, shear_rate: f64) -> f64 {
        let (at, t) = place(shear_rate.log_e());
        let (below, above) = (self.ln_stress[at], self.ln_stress[at + 1]);
        let ln_stress = if t < 0.0 {
            below + t * self.slope(at)
        } else if t > 1.0 {
            above + (t - 1.0) * self.slope(at + 1)
        } else {
            let (first, last) = (self.slope(at), self.slope(at + 1));
            let s = 1.0 - t;
            below * s * s * (1.0 + 2.0 * t) + first * t * s * s + above * t * t * (3.0 - 2.0 * t)
                - last * t * t * s
        };
        ln_stress.exp_e()
    }

    fn yield_stress(&self) -> f64 {
        self.yield_stress
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow::liquid::Modelled;
    use crate::flow::model::FlowModel;
    use proptest::prelude::*;

    fn of(liquid: &dyn Liquid, spread: f64) -> Prediction {
        Prediction::new(
            std::array::from_fn(|at| liquid.stress(rate_at(at))),
            [spread; POINTS],
            liquid.yield_stress(),
            [0.1, 100.0],
        )
    }

    #[test]
    fn the_table_keeps_the_models_it_is_made_of() {
        let models = [
            (FlowModel::HerschelBulkley, vec![72.465, 29.134, 0.4908]),
            (FlowModel::Cross, vec![0.21, 0.001_02, 0.0261, 0.608]),
            (FlowModel::Newton, vec![0.000_89]),
            (FlowModel::PowerLaw, vec![12.0, 0.35]),
        ];
        for (model, parameters) in models {
            let liquid = Modelled { model, parameters };
            let table = of(&liquid, 0.1);
            for step in 0..400 {
                let rate = 10f64.to_the(-6.0 + 12.0 * f64::from(step) / 400.0);
                let off = table.stress(rate) / liquid.stress(rate);
                assert!((off - 1.0).abs() < 0.004, "{model:?} {rate} {off}");
            }
        }
    }

    proptest! {
        #[test]
        fn an_edge_is_a_liquid_whose_stress_rises(z in -3.0..3.0f64, rate in 1e-7..1e7f64, low in 0.0..3.0f64) {
            let liquid = Modelled { model: FlowModel::HerschelBulkley, parameters: vec![20.0, 5.0, 0.4] };
            let mut table = of(&liquid, 0.1);
            for (at, spread) in table.spread.iter_mut().enumerate() {
                *spread = low * (1.0 - at as f64 / POINTS as f64);
            }
            let edge = table.edge(z);
            prop_assert!(edge.stress(rate) > 0.0);
            prop_assert!(edge.stress(rate * 1.3) >= edge.stress(rate));
            prop_assert!(table.edge(0.0) == table);
        }
    }
}

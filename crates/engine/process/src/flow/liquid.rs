//! Anything that flows: what the computations of tubes, films, drops and spindles ask of a liquid, whether it was fitted or predicted.

use super::model::FlowModel;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::root::bracketed;

/// A liquid whose stress at every shear rate is known. The stress rises with the shear rate and is never below zero.
pub trait Liquid {
    /// Stress at a shear rate above zero, Pa.
    fn stress(&self, shear_rate: f64) -> f64;

    /// Yield stress, Pa; zero for a liquid without one.
    fn yield_stress(&self) -> f64;

    /// Viscosity at a shear rate above zero, Pa s.
    fn viscosity(&self, shear_rate: f64) -> f64 {
        self.stress(shear_rate) / shear_rate
    }

    /// Shear rate at a stress, 1/s; zero up to the yield stress.
    fn rate(&self, stress_pa: f64) -> f64 {
        let miss = |ln_rate: f64| self.stress(ln_rate.exp_e()).log_e() - stress_pa.log_e();
        let (mut low, mut high) = (-30.0, 0.0);
        if stress_pa <= self.yield_stress() || stress_pa <= 0.0 || miss(low) >= 0.0 {
            return 0.0;
        }
        while miss(high) < 0.0 && high < 60.0 {
            low = high;
            high += 10.0;
        }
        bracketed(miss, low, high, 1e-12, 200).map_or(0.0, f64::exp_e)
    }
}

/// A liquid after a flow model.
#[derive(Clone, Debug, PartialEq)]
pub struct Modelled {
    /// The model.
    pub model: FlowModel,
    /// Its parameters in the order of [`FlowModel::parameters`], SI.
    pub parameters: Vec<f64>,
}

impl Liquid for Modelled {
    fn stress(&self, shear_rate: f64) -> f64 {
        self.model.stress(&self.parameters, shear_rate)
    }

    fn yield_stress(&self) -> f64 {
        if self.model.yields() { self.parameters[0] } else { 0.0 }
    }
}

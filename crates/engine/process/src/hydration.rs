//! How gums take up water: what is known of a family, how long it takes, and what readings over time say.
//!
//! ```text
//! eta / eta_f = 1 - exp(-(t - t0) / tau)         first order, with or without a wait t0
//! eta / eta_f = A + B ln t                      logarithm (guar flours)
//! tau = tau_ref (d / d_ref)^2 exp(E/R (1/T - 1/T_ref))
//! t_95 = tau ln 20,  t_99 = tau ln 100
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | eta, eta_f | viscosity at time t, in the end | Pa s |
//! | tau, t0 | time constant, wait | s or any unit of time |
//! | d | diameter of the grains | m |
//! | E | activation energy, that of the flow of water to twice it | J/mol |
//!
//! Range: wetted grains without lumps; a lump takes as its square too, so that one ten times as wide takes a hundred times as long: days, or never. The
//! fit takes relative residuals, and the form with the lower AICc by 2 or else the simpler. Sources: Wang, Ellis and Ross-Murphy, Carbohydr. Polym. 64 (2006) 239
//! (abstract) for the forms; square of the size is diffusion. Case: `tests/cross/hydration.toml`.

pub mod growth;
pub mod reading;

use crate::impeller::Number;
use levigate_measure::elementary::Elementary as _;
use serde::{Deserialize, Serialize};

/// Risk of lumps.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Risk {
    /// Hardly any.
    Low,
    /// If hurried.
    Medium,
    /// Unless wetted well.
    High,
}

impl Risk {
    /// The words shown to people.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Low => "hardly any",
            Self::Medium => "some, if hurried",
            Self::High => "high, unless it is wetted well",
        }
    }
}

/// How viscosity grows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Form {
    /// First order.
    #[default]
    FirstOrder,
    /// First order after a wait.
    Delayed,
    /// With the logarithm of time.
    Logarithm,
}

impl Form {
    /// The words shown to people.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::FirstOrder => "first order",
            Self::Delayed => "first order after a wait",
            Self::Logarithm => "with the logarithm of time",
        }
    }
}

/// What is known of a family: `[[hydration]]`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Hydration {
    /// Key.
    pub key: String,
    /// Name.
    pub words: String,
    /// Flow families it speaks of.
    pub families: Vec<String>,
    /// How it is dispersed.
    pub disperse: String,
    /// Source key of that.
    pub disperse_source: String,
    /// Polyol per part of gum by mass.
    #[serde(default)]
    pub wetting: Option<Number>,
    /// Time constant for the grain and temperature of reference, minutes.
    pub minutes: Number,
    /// Grain of reference, um.
    pub grain_um: f64,
    /// Temperature of reference, deg C.
    pub temperature_c: f64,
    /// How its viscosity is known to grow.
    #[serde(default)]
    pub form: Form,
    /// What starts it.
    #[serde(default)]
    pub trigger: Option<String>,
    /// Risk of lumps.
    pub fish_eyes: Risk,
    /// Speed of a tip above which shear harms it, m/s.
    #[serde(default)]
    pub shear_tip_m_s: Option<f64>,
    /// What shear does.
    #[serde(default)]
    pub shear_note: Option<String>,
    /// Source key of that.
    #[serde(default)]
    pub shear_source: Option<String>,
    /// Speed of the tip while it hydrates, m/s.
    pub tip_m_s: Number,
    /// Hours after which its viscosity is measured.
    pub measure_after_h: f64,
    /// Source key of the family.
    pub source: String,
}

/// Activation energies between which the speed of taking up water lies, J/mol: that of the viscosity of water (17 kJ/mol) to twice it; from memory.
pub const ACTIVATION: [f64; 2] = [17_000.0, 34_000.0];

const GAS_CONSTANT: f64 = 8.314_462_618;
const KELVIN: f64 = 273.15;

impl Hydration {
    /// How many times as long grains of a size at a temperature take as those of reference: least and most.
    #[must_use]
    pub fn times_as_long(&self, grain_um: f64, temperature_c: f64) -> [f64; 2] {
        let size = (grain_um / self.grain_um).powi(2);
        let apart = 1.0 / (temperature_c + KELVIN) - 1.0 / (self.temperature_c + KELVIN);
        let ends = ACTIVATION.map(|energy| size * (energy / GAS_CONSTANT * apart).exp_e());
        [ends[0].min(ends[1]), ends[0].max(ends[1])]
    }

    /// Time constant for grains of a size at a temperature, minutes: usual, least, most.
    #[must_use]
    pub fn minutes_for(&self, grain_um: f64, temperature_c: f64) -> [f64; 3] {
        let [low, high] = self.times_as_long(grain_um, temperature_c);
        let of = &self.minutes;
        [of.value * (low * high).sqrt(), of.low * low, of.high * high]
    }
}

/// Time to a degree of the way by first order, in time constants.
#[must_use]
pub fn constants_to(degree: f64) -> f64 {
    -(1.0 - degree).log_e()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn grains_twice_as_wide_take_four_times_as_long_and_warmth_helps() {
        let number = |value| Number { value, low: 0.5 * value, high: 2.0 * value, source: String::new() };
        let gum = Hydration {
            key: String::new(),
            words: String::new(),
            families: Vec::new(),
            disperse: String::new(),
            disperse_source: String::new(),
            wetting: None,
            minutes: number(10.0),
            grain_um: 100.0,
            temperature_c: 25.0,
            form: Form::FirstOrder,
            trigger: None,
            fish_eyes: Risk::High,
            shear_tip_m_s: None,
            shear_note: None,
            shear_source: None,
            tip_m_s: number(2.0),
            measure_after_h: 24.0,
            source: String::new(),
        };
        assert_eq!(gum.minutes_for(200.0, 25.0), [40.0, 20.0, 80.0]);
        let [usual, low, high] = gum.minutes_for(100.0, 45.0);
        assert!(low < usual && usual < high && usual < 10.0);
        // exp(-17000/8.3145 (1/298.15 - 1/318.15)) = 0.6498 and its square.
        assert!((low / 5.0 / 0.6498_f64.powi(2) - 1.0).abs() < 1e-3, "{low}");
        assert!((high / 20.0 / 0.6498 - 1.0).abs() < 1e-3);
        assert!((constants_to(0.95) - 20f64.log_e()).abs() < 1e-12);
    }
}

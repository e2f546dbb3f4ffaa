//! Activity coefficients of ions and neutral species from the ionic strength.
//!
//! ```text
//! Davies     log10 g = -A z^2 (sqrt(I)/(1 + sqrt(I)) - 0.3 I)
//! extended   log10 g = -A z^2 sqrt(I)/(1 + 1.5 sqrt(I))
//! ideal      log10 g = 0
//! neutral    log10 g = k I           (Davies and extended; 0 for ideal)
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | A | Debye-Huckel slope at the temperature | (kg/mol)^0.5 |
//! | I | ionic strength | mol/kg water |
//! | z | charge number | - |
//! | k | salting-out constant of the species where the facts hold one, else 0.1 | kg/mol |
//!
//! Range: Davies is trusted to I = 0.5 mol/kg, the extended form to 0.1. Between that and [`ActivityModel::held_from`] the equation
//! is still followed with a flag and a wider interval; above it the coefficients are held at their value there.
//! Sources: Davies, *Ion Association* (1962); the denominator 1.5 is the convention of Bates and Guggenheim, Pure Appl. Chem. 1
//! (1960) 163; k = 0.1 is the convention of the reference program of the cross-check, see
//! `docs/decisions/coefficient-of-neutral-species.md`.

use serde::{Deserialize, Serialize};

/// Salting-out constant of an uncharged species without one of its own, kg/mol.
pub(crate) const CONVENTIONAL_SALTING_OUT: f64 = 0.1;

/// Which activity coefficients are used.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ActivityModel {
    /// Davies with 0.3.
    #[default]
    Davies,
    /// Extended Debye-Huckel with the Bates-Guggenheim denominator.
    Extended,
    /// All coefficients one.
    Ideal,
}

impl ActivityModel {
    /// Ionic strength up to which the model is trusted, mol/kg.
    #[must_use]
    pub fn trusted_to(self) -> f64 {
        match self {
            Self::Davies => 0.5,
            Self::Extended => 0.1,
            Self::Ideal => f64::INFINITY,
        }
    }

    /// Ionic strength above which the coefficients no longer change, mol/kg.
    #[must_use]
    pub fn held_from(self) -> f64 {
        match self {
            Self::Davies => 1.0,
            Self::Extended => 0.5,
            Self::Ideal => f64::INFINITY,
        }
    }

    /// The equation in one line.
    #[must_use]
    pub fn equation(self) -> &'static str {
        match self {
            Self::Davies => "log10 g = -A z^2 (sqrt(I)/(1 + sqrt(I)) - 0.3 I); neutral species k I",
            Self::Extended => "log10 g = -A z^2 sqrt(I)/(1 + 1.5 sqrt(I)); neutral species k I",
            Self::Ideal => "log10 g = 0",
        }
    }
}

/// Coefficients at one ionic strength: `ln g = z^2 charged` for ions, `ln g = neutral` for the rest.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Coefficients {
    /// Natural logarithm of the coefficient of a single charge.
    pub charged: f64,
    /// Derivative of `charged` with respect to ln I.
    pub charged_slope: f64,
    /// Natural logarithm of the coefficient of a neutral species of conventional salting-out; others have a multiple of it.
    pub neutral: f64,
    /// Derivative of `neutral` with respect to ln I.
    pub neutral_slope: f64,
}

/// Model and Debye-Huckel slope ready for use.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Activity {
    model: ActivityModel,
    slope: f64,
    held_from: f64,
}

impl Activity {
    /// Prepares a model for a Debye-Huckel slope (log10, molal).
    #[must_use]
    pub fn new(model: ActivityModel, debye_huckel_a: f64) -> Self {
        Self { model, slope: debye_huckel_a * core::f64::consts::LN_10, held_from: model.held_from() }
    }

    /// The model.
    #[must_use]
    pub fn model(&self) -> ActivityModel {
        self.model
    }

    /// Coefficients at an ionic strength (mol/kg, not negative).
    #[must_use]
    pub fn at(&self, ionic_strength: f64) -> Coefficients {
        if self.model == ActivityModel::Ideal {
            return Coefficients::default();
        }
        let held = ionic_strength >= self.held_from;
        let i = if held { self.held_from } else { ionic_strength };
        let root = i.sqrt();
        let (f, f_slope) = match self.model {
            ActivityModel::Davies => {
                let d = 1.0 / (1.0 + root);
                (root * d - 0.3 * i, 0.5 * root * d * d - 0.3 * i)
            }
            _ => {
                let d = 1.0 / (1.0 + 1.5 * root);
                (root * d, 0.5 * root * d * d)
            }
        };
        let neutral = CONVENTIONAL_SALTING_OUT * core::f64::consts::LN_10 * i;
        if held {
            Coefficients { charged: -self.slope * f, charged_slope: 0.0, neutral, neutral_slope: 0.0 }
        } else {
            Coefficients {
                charged: -self.slope * f,
                charged_slope: -self.slope * f_slope,
                neutral,
                neutral_slope: neutral,
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use levigate_measure::elementary::Elementary as _;

    #[test]
    fn slopes_agree_with_differences() {
        for model in [ActivityModel::Davies, ActivityModel::Extended] {
            let activity = Activity::new(model, 0.51);
            for i in [1e-7_f64, 1e-3, 0.05, 0.3] {
                let step: f64 = 1e-5;
                let (low, high) = (activity.at(i * (-step).exp_e()), activity.at(i * step.exp_e()));
                let here = activity.at(i);
                assert!((here.charged_slope - (high.charged - low.charged) / (2.0 * step)).abs() < 1e-8);
                assert!((here.neutral_slope - (high.neutral - low.neutral) / (2.0 * step)).abs() < 1e-8);
            }
        }
    }

    #[test]
    fn coefficients_are_held_above_the_limit() {
        let activity = Activity::new(ActivityModel::Davies, 0.51);
        assert_eq!(activity.at(1.0).charged, activity.at(50.0).charged);
    }
}

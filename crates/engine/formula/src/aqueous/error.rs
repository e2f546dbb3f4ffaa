//! What can keep an equilibrium from being computed.

use thiserror::Error;

/// Why there is no answer.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum AqueousError {
    /// The mixture has no water.
    #[error("there is no water ({water_percent} % w/w)")]
    NoWater {
        /// Water of the mixture, % w/w.
        water_percent: f64,
    },
    /// A component is not part of the chemistry or of the prepared system.
    #[error("the component `{name}` is not known")]
    UnknownComponent {
        /// Its name.
        name: String,
    },
    /// The total of a component other than H+ is negative.
    #[error("the total of `{component}` is negative ({value} mol/kg)")]
    NegativeTotal {
        /// Component.
        component: String,
        /// Total, mol/kg.
        value: f64,
    },
    /// A number that is not finite, or beyond anything a solution can hold.
    #[error("{what} is {value}")]
    NotUsable {
        /// Which number.
        what: String,
        /// Its value.
        value: f64,
    },
    /// Outside the temperatures of the model.
    #[error("{value} C is outside the range of the model (0 to 95 C)")]
    Temperature {
        /// Temperature, C.
        value: f64,
    },
    /// No row for a gas, or one that cannot be held at a pressure.
    #[error("there is no usable row for the gas `{name}`")]
    Gas {
        /// Name of the gas.
        name: String,
    },
    /// The bounded iterations ended with a residual that is too large.
    #[error("not converged after {iterations} iterations; relative residual {residual}")]
    NotConverged {
        /// Iterations taken.
        iterations: usize,
        /// Largest relative residual.
        residual: f64,
    },
}

impl AqueousError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::NoWater { .. } => {
                "pH and equilibria exist in water only; add water or leave the question out"
            }
            Self::UnknownComponent { .. } => "correct the spelling or add a [[component]] row",
            Self::NegativeTotal { .. } => "only H+ may be negative (a base takes protons); check the amounts",
            Self::NotUsable { .. } => "give a finite amount below 1000 mol/kg",
            Self::Temperature { .. } => "ask at a temperature between 0 and 95 C",
            Self::Gas { .. } => "add a [[gas]] row that dissolves into one component and H+",
            Self::NotConverged { .. } => "report this mixture: the solver is meant to converge for every one",
        }
    }
}

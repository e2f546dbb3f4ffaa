//! How sure a computed number is: the law of propagation of uncertainty, and Monte Carlo beside it.
//!
//! [`propagation`] follows a model to first or second order (JCGM 100, 5.1 and 5.2), [`monte_carlo`] draws its inputs and computes it again
//! and again (JCGM 101, clause 7), [`coverage`] reads intervals from the draws and says whether the two agree (clause 8). Inputs are
//! described by a [`Distribution`] each, and may be correlated where they are normal.
//!
//! Every draw is fixed by the seed, the name of the input and its number ([`stream`]), so that an answer has the same bits on every
//! machine, with any number of threads, and in whatever order the inputs are named.

pub mod coverage;
pub mod distribution;
pub mod inputs;
pub mod line;
pub mod monte_carlo;
pub mod propagation;
pub mod scatter;
pub mod shares;
pub mod stream;
pub mod student;

pub use coverage::{Coverage, Validation};
pub use distribution::Distribution;
pub use inputs::{Correlation, Estimate, Inputs};
pub use monte_carlo::{Draws, Stopped};
pub use propagation::{Order, Propagation};
pub use scatter::Scatter;

use thiserror::Error;

/// Why an uncertainty cannot be told.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum UncertaintyError {
    /// A parameter of a distribution is not possible.
    #[error("{what} = {value} is not possible")]
    Parameter {
        /// What was given.
        what: &'static str,
        /// Its value.
        value: f64,
    },
    /// Two inputs have one name.
    #[error("two inputs are called \"{name}\"")]
    NamedTwice {
        /// The name.
        name: String,
    },
    /// A correlation names an input that is not there.
    #[error("a correlation names input {place}, and there are {count}")]
    NoSuchInput {
        /// Place, from 0.
        place: usize,
        /// How many there are.
        count: usize,
    },
    /// The correlations contradict each other.
    #[error("the correlations contradict each other: no quantities can have all of them at once")]
    Correlations,
    /// Monte Carlo draws correlated inputs from normal distributions only.
    #[error("\"{name}\" is correlated with another input and is not normal")]
    CorrelatedNotNormal {
        /// The input.
        name: String,
    },
    /// The model gave something that is not a number.
    #[error("the model gives no number where \"{name}\" stands at {value}")]
    NotANumber {
        /// The input that was moved, or the output.
        name: String,
        /// Where it stood.
        value: f64,
    },
    /// Fewer or more draws than can be made.
    #[error("{draws} draws cannot be made; from {least} to {most} can")]
    Draws {
        /// What was asked.
        draws: usize,
        /// Least.
        least: usize,
        /// Most.
        most: usize,
    },
}

impl UncertaintyError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Parameter { .. } => {
                "give finite numbers, a spread of zero or more, and a lower end below the upper one"
            }
            Self::NamedTwice { .. } => "give every input a name of its own",
            Self::NoSuchInput { .. } => "count the inputs from 0",
            Self::Correlations => {
                "look for a coefficient with the wrong sign, or take them all from one set of readings"
            }
            Self::CorrelatedNotNormal { .. } => {
                "make both inputs normal, or leave the correlation to the law of propagation"
            }
            Self::NotANumber { .. } => {
                "the inputs reach where the model has no answer; narrow them or look at the model"
            }
            Self::Draws { .. } => "a hundred thousand draws tell two digits of an uncertainty",
        }
    }
}

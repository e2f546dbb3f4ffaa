//! Experiments with mixtures: which blends to make so that a model of them is settled best, and the terms of such models.
//!
//! Shares of the parts of a mixture add up to one, so that a model of them has no constant of its own (Scheffe).

pub mod exchange;
pub mod mixture;

pub use exchange::{Chosen, ExchangeError, choose};
pub use mixture::{Bounds, Condition, MixtureError, Model, centroid, lattice, vertices, within};

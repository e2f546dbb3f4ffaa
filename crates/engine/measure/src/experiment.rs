//! Experiments with mixtures: which blends to make so that a model of them is settled best, the terms of such models, what runs say of
//! them, and where in a region they promise most.
//!
//! Shares of the parts of a mixture add up to one, so that a model of them has no constant of its own (Scheffe).

pub mod analysis;
pub mod blocks;
pub mod exchange;
pub mod mixture;
pub mod region;
pub mod settings;

pub use analysis::{Analysis, Repeats};
pub use exchange::{Choice, Chosen, ExchangeError, Goal, choose, choose_by, judge, variances};
pub use mixture::{Bounds, Condition, MixtureError, Model, centroid, lattice, vertices, within};
pub use region::Region;
pub use settings::{Joined, Process, Terms};

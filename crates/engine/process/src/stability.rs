//! How long it keeps: lines through what was measured over months, which batches may share one, and how long their confidence limit stays
//! within a limit.
//!
//! The arithmetic is borrowed from pharmacy (ICH Q1E); nothing binds a cosmetic to it. It speaks of the mean of what was measured under the
//! conditions measured, not of every pack, and not of another temperature.

pub mod decay;
pub mod kinetics;
pub mod line;
pub mod pooling;

pub use kinetics::{Kinetics, Loss, Order};
pub use line::{Crossing, Limits, Line};
pub use pooling::{Batch, Model, Pooling, PoolingError, Test};

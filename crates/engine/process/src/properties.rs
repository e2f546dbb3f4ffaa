//! What heat and evaporation ask of water, moist air and the batch.

pub mod air;
pub mod batch;
pub mod water;

pub use air::Air;
pub use batch::BatchLiquid;

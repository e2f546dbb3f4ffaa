//! Stirring: power, flow, blending, the surface and grains, from slow to turbulent flow and for any flow curve.

pub mod blend;
pub mod cavern;
pub mod power;
pub mod reading;
pub mod stirred;
pub mod surface;
pub mod suspend;

pub use stirred::{Regime, Stirred};

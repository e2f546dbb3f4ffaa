//! Anything with a clock: how a product flows, what it is made in, how it warms and cools.
//!
//! Viscosity, density and water activity come in as quantities; what the product is made of is not known here.

pub mod flow;
pub mod heat;
pub mod hydration;
pub mod impeller;
pub mod killing;
pub mod mixing;
pub mod pack;
pub mod properties;
pub mod repeated;
pub mod scale_up;
pub mod settling;
pub mod stability;
pub mod vessel;

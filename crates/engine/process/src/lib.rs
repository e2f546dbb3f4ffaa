//! Anything with a clock: how a product flows, and what it is made in.
//!
//! Viscosity, density and water activity come in as quantities; what the product is made of is not known here.

pub mod flow;
pub mod impeller;
pub mod vessel;

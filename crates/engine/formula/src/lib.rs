//! The pot standing still: composition, aqueous equilibrium, preservation.
//!
//! Nothing here has a clock, a law or a file. Facts come in as [`library::Library`], filled by the `levigate-facts` crate.

pub mod aqueous;
pub mod composition;
pub mod density;
pub mod library;
pub mod names;
pub mod preservation;
pub mod settle;
pub mod sheet;
pub mod water_phase;

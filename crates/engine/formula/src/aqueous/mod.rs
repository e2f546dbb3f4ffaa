//! Aqueous equilibrium: which species a water phase consists of, its pH, and what follows from them.

pub mod chemistry;
pub mod names;

pub use chemistry::{Chemistry, ChemistryError, Component, EquilibriumFile, Reaction};

//! Aqueous equilibrium: which species a water phase consists of, its pH, and what follows from them.

pub mod activity;
mod bracketed;
pub mod chemistry;
pub mod departure;
pub mod error;
pub mod interval;
mod layout;
mod linear;
pub mod names;
mod polyacid;
mod ray;
mod reach;
pub mod saturation;
pub mod sensitivity;
pub mod solve;
pub mod speciation;
mod species;
mod start;
pub mod system;
pub mod water;
pub mod water_activity;
mod workspace;

pub use activity::ActivityModel;
pub use chemistry::{Chemistry, ChemistryError, Component, EquilibriumFile, Reaction};
pub use departure::Departure;
pub use error::AqueousError;
pub use interval::{Doubt, PhInterval, SolventShift};
pub use ray::{Portion, Ray, TitrationPoint};
pub use reach::Reach;
pub use sensitivity::Sensitivities;
pub use speciation::{Speciation, SpeciesAmount};
pub use system::{Conditions, System};
pub use workspace::Workspace;

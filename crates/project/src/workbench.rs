//! The verbs: what a person can ask of a formula, whichever door they come in by.

pub mod assess;
pub mod label;
pub mod materials;
pub mod sheet;
pub mod titrate;

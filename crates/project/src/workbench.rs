//! The verbs: what a person can ask of a formula, whichever door they come in by.

pub mod materials;

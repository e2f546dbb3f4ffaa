//! Verdicts by a written rule: limits, allergens, label, fragrance certificate, natural origin, cost, exposure, incompatibilities.
//!
//! Pure functions over a composition, the facts and a [`book::RuleBook`]. A rule needs a place and a date, so every question
//! brings both. Nothing here ever says "safe" or "compliant": a reading says which rule was applied, with which data, and
//! what is missing.

pub mod allergens;
pub mod batch_cost;
pub mod book;
pub mod challenge;
pub mod cost;
pub mod exposure;
pub mod extrapolation;
pub mod ifra;
pub mod incompatibility;
pub mod label;
pub mod limits;
pub mod microbial;
pub mod natural;
pub mod plates;
pub mod question;
pub mod usage;

pub use book::{Market, RuleBook};
pub use question::Question;
pub use usage::Usage;

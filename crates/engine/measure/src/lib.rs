//! Numbers, whatever they mean: outcomes with provenance, quantities, root finding, least squares, weighing, rounding.
//!
//! This crate knows no chemistry, no clock, no law and no file. Everything here is true of any number at all.

pub mod belief;
pub mod contour;
pub mod course;
pub mod decimal;
pub mod desirability;
pub mod distribution;
pub mod elementary;
pub mod equation;
pub mod exact;
pub mod experiment;
pub mod fast_exp;
pub mod groups;
pub mod least_squares;
pub mod order;
pub mod outcome;
pub mod ph_meter;
pub mod quantity;
pub mod regression;
pub mod root;
pub mod rounding;
pub mod search;
pub mod uncertainty;
pub mod weighing;
pub mod written;

pub use outcome::{Grade, Input, Note, Outcome, Sourced, Term};

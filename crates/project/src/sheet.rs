//! The formula sheet and the reading of what people type, for the doors of the house.

pub use levigate_formula::sheet::{
    Amount, Batch, FillUnit, Line, Money, Pack, Phase, Product, Sheet, StepKind, StepPart, Target,
    ViscosityTarget, WrittenStep,
};
pub use levigate_measure::decimal::{DecimalError, parse_size, parse_typed, parse_typed_size};

//! The formula sheet and the reading of what people type, for the doors of the house.

pub use levigate_formula::sheet::{
    Amount, Batch, FillUnit, Line, Money, Pack, PhRead, Phase, Product, Sheet, StepKind, StepPart, Target,
    ViscosityTarget, WrittenStep,
};
pub use levigate_measure::decimal::{DecimalError, parse_size, parse_typed, parse_typed_size};

/// How a pH is read, in words: `10 % in water, 20 °C, 24 h old`.
#[must_use]
pub fn ph_read_in_words(read: &PhRead) -> String {
    levigate_assess::adjusting::Method::of(read).words()
}

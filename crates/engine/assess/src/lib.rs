//! One assessment of one formula: composition, chemistry, preservation, rules and cost brought together into readings and findings.
//!
//! Pure: everything it needs (facts, date, batch, balance) is handed in.

mod contents;
pub mod metals;
pub mod finding;
pub mod mixture;
pub mod reading;

pub mod verdicts;
pub mod weighability;

pub use finding::{Finding, Gravity};
pub use reading::Assessment;

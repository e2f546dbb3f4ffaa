//! One assessment of one formula: composition, chemistry, preservation, rules and cost brought together into readings and findings.
//!
//! Pure: everything it needs (facts, date, batch, balance) is handed in.

mod acidity;
pub mod acids;
pub mod adjusting;
pub mod analysis;
mod assess;
pub mod better;
pub mod blends;
mod certainty;
pub mod challenge;
mod contents;
pub mod effects;
pub mod equation;
pub mod finding;
mod findings;
pub mod flow;
pub mod flow_use;
pub mod metals;
pub mod microbes;
pub mod mixture;
pub mod ph_learning;
pub mod ph_shift;
pub mod preserving;
pub mod procedure;
pub mod reading;

pub mod repeats;
pub mod saturation;
pub mod shelf_life;
pub mod substitution;
pub mod titration;
pub mod uncertainty;
pub mod verdicts;
mod wanted;
mod warming;
pub mod weighability;

pub use assess::{AssessError, Assessed, Inquiry, Known, assess, solved};
pub use finding::{Finding, Gravity};
pub use reading::Assessment;

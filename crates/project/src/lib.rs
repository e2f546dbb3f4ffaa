//! What people did and decided: briefs, formula versions, trials, lots, readings; and the verbs a user has for them.
//!
//! Owns the traits of the outside world (store, clock, dice). Knows no screen and no database.

pub mod audit;
pub mod batch_sheet;
pub mod bringing;
pub mod clock;
pub mod diagnostic;
pub mod facts;
pub mod flow_file;
pub mod flow_table;
pub mod formula_file;
mod formula_writer;
pub mod instrument;
pub mod making_file;
pub mod paper_code;
pub mod people;
pub mod proof_file;
pub mod records;
pub mod sheet;
pub mod solution_file;
pub mod store;
mod toml_reader;
pub mod workbench;
pub mod workspace;

//! The built program from outside: every verb, bad input, the server.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod adjusting;
mod analyse;
mod at_bench;
mod bad_input;
mod bench;
mod bringing;
mod commands;
mod flow_level;
mod flow_read;
mod flow_taught;
mod flow_use;
mod instruments;
mod kept_proof;
mod making;
mod measured;
mod papers;
mod people;
mod predictions;
mod procedure;
mod program;
mod proof;
mod records;
mod results;
mod serving;
mod uncertainty;

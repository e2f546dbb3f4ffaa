//! The built program from outside: every verb, bad input, the server.

mod bad_input;
mod commands;
mod program;
mod serving;

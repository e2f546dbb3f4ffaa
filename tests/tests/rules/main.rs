//! The written rules against published arithmetic, on the shipped facts.

mod cost;
mod exposure;
mod label;
mod limits;
mod pairs;
mod question;

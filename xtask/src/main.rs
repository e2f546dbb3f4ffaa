//! Recipes of the house.
fn main() {}

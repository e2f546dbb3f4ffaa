//! A laboratory's own facts laid over the shipped ones, then checked.
#![no_main]

use levigate_facts::check::check;
use levigate_facts::{Facts, shipped};
use levigate_formula::library::Layer;
use libfuzzer_sys::fuzz_target;
use std::sync::LazyLock;

static FACTS: LazyLock<Facts> = LazyLock::new(|| shipped().expect("the shipped facts can be read"));

fuzz_target!(|text: &str| {
    let mut facts = FACTS.clone();
    match facts.overlay(&[("own.toml", text)], Layer::Laboratory) {
        Ok(_) => drop(check(&facts)),
        Err(error) => {
            assert!(!error.faults.is_empty());
            assert!(
                error
                    .faults
                    .iter()
                    .all(|fault| &*fault.place().file == "own.toml" && !fault.what().is_empty())
            );
        }
    }
});

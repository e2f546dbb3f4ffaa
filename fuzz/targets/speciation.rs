//! A bare solution, with the shipped constants or its own.
#![no_main]

use levigate_facts::{Facts, shipped};
use levigate_project::solution_file::speciate;
use libfuzzer_sys::fuzz_target;
use std::sync::LazyLock;

static FACTS: LazyLock<Facts> = LazyLock::new(|| shipped().expect("the shipped facts can be read"));

fuzz_target!(|text: &str| match speciate("x.toml", text, &FACTS) {
    Ok(report) => {
        let finite = report.species.iter().all(|species| species.molality.is_finite());
        assert!(finite && (report.ph.value.is_some() || report.ph.refused.is_some()));
    }
    Err(problems) => {
        assert!(!problems.is_empty());
        assert!(problems.iter().all(|problem| !problem.what.is_empty() && !problem.what_now.is_empty()));
    }
});

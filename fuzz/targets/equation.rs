//! An equation, a line break, and data: a table, or a file with runs.
#![no_main]

use levigate_project::workbench::proof::analyse::{Said, analyse};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    let (equation, data) = text.split_once('\n').unwrap_or((text, ""));
    // An empty first line asks for the model of the runs instead.
    let start = ["a", "b", "k"].map(|name| (name.to_owned(), 0.5)).to_vec();
    let of_equation =
        Said { equation: Some(equation.to_owned()), start, profile: data.len() < 400, ..Said::default() };
    let said = if equation.is_empty() { Said { grid: true, ..Said::default() } } else { of_equation };
    match analyse(("x", data.as_bytes()), &said) {
        Ok(answer) => assert!(serde_json::to_string(&answer).is_ok()),
        Err(problems) => {
            assert!(!problems.is_empty());
            assert!(problems.iter().all(|problem| !problem.what.is_empty() && !problem.what_now.is_empty()));
        }
    }
});

//! A formula file through every verb that takes one.
#![no_main]

use jiff::civil::date;
use levigate_facts::{Facts, shipped};
use levigate_project::workbench::{assess::assess, label::label, sheet, titrate::titrate};
use libfuzzer_sys::fuzz_target;
use std::sync::LazyLock;

static FACTS: LazyLock<Facts> = LazyLock::new(|| shipped().expect("the shipped facts can be read"));

fuzz_target!(|text: &str| {
    let day = date(2026, 11, 26);
    if let Err(problems) = assess(&FACTS, day, "eu", "x.toml", text) {
        assert!(!problems.is_empty());
        assert!(problems.iter().all(|problem| !problem.what.is_empty() && !problem.what_now.is_empty()));
        return;
    }
    let bench = sheet::Bench { size_g: None, balance: None };
    let _ = sheet::batch_sheet(&FACTS, day, &bench, "x.toml", text);
    let _ = label(&FACTS, day, "eu", "x.toml", text);
    let _ = titrate(&FACTS, "x.toml", text, "Sodium hydroxide 10 %", 6.into());
});

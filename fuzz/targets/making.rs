//! The files of questions about making, and the file of a temperature logger. The first byte names the question.
#![no_main]

use jiff::civil::date;
use levigate_facts::{Facts, shipped};
use levigate_project::diagnostic::Diagnostic;
use levigate_project::flow_table::temperature_log;
use levigate_project::making_file::uncertainty;
use levigate_project::workbench::making::{
    adjust::adjust, calibrate::calibrate, evaporate::evaporate, heat::heat, lethality::lethality, mix::mix,
    scale::scale, uncertainty as how_sure,
};
use levigate_project::workbench::procedure::procedure;
use libfuzzer_sys::fuzz_target;
use std::sync::LazyLock;

static FACTS: LazyLock<Facts> = LazyLock::new(|| shipped().expect("the shipped facts can be read"));

fn told<T>(answer: Result<T, Vec<Diagnostic>>) {
    if let Err(problems) = answer {
        assert!(!problems.is_empty());
        assert!(problems.iter().all(|problem| !problem.what.is_empty() && !problem.what_now.is_empty()));
    }
}

fuzz_target!(|input: &[u8]| {
    let Some((question, bytes)) = input.split_first() else { return };
    if *question == b'o' {
        // The file of a logger is bytes, in whatever encoding.
        if let Ok(log) = temperature_log("log.csv", bytes) {
            told(lethality(&FACTS, ("x.toml", "ph = 5.2\n"), Some(&log)));
        }
        return;
    }
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let file = ("x.toml", text);
    match question {
        b'h' => told(heat(&FACTS, file)),
        b'l' => told(lethality(&FACTS, file, None)),
        b'e' => told(evaporate(&FACTS, file, None)),
        b'm' => told(mix(&FACTS, file, None)),
        b's' => told(scale(&FACTS, (date(2026, 11, 24), "eu"), file, None)),
        b'c' => told(calibrate(&FACTS, file)),
        b'a' => told(adjust(&FACTS, file)),
        b'p' => told(procedure(&FACTS, file.0, text)),
        b'u' => {
            let Ok(mut question) = uncertainty::read("x.toml", text) else { return };
            question.draws = question.draws.min(1000);
            let formula = uncertainty::formula_of(text);
            told(how_sure::uncertainty(&FACTS, (date(2026, 11, 27), "eu"), ("x.toml", &formula), &question));
        }
        _ => {}
    }
});

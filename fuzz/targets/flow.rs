//! A measured flow table as bytes, read and fitted, and the questions about flow as text. The first byte names which.
#![no_main]

use levigate_facts::{Facts, shipped};
use levigate_project::diagnostic::Diagnostic;
use levigate_project::flow_table::{Choices, ColumnChoice, TorqueFloor, read};
use levigate_project::records::DecimalSign;
use levigate_project::workbench::flow_fit::{Asked, flow_fit};
use levigate_project::workbench::flow_read::flow_read;
use levigate_project::workbench::flow_use::{cream, dispense, drain, in_use, life};
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
    let choices = match question {
        // A table as it is; with what a person says about it; with a spindle; fitted.
        b't' => Some(Choices::default()),
        b'c' => Some(Choices {
            decimal: Some(DecimalSign::Comma),
            split_sweeps: false,
            columns: ["#1=shear-rate:1/s", "#2=viscosity:mPa s"]
                .iter()
                .filter_map(|text| ColumnChoice::read(text).ok())
                .collect(),
            torque_floor: Some(TorqueFloor { value: 5.0, unit: "%".to_owned() }),
            shear_ended_s: Some(10.0),
            ..Choices::default()
        }),
        _ => None,
    };
    if let Some(choices) = choices {
        return told(read("x", bytes, &choices, None));
    }
    if matches!(question, b's' | b'f') {
        let spindle = if *question == b's' { "disc, 27 mm, 700 uN.m" } else { "" };
        let asked = Asked { spindle: spindle.to_owned(), ..Asked::default() };
        return told(flow_fit(&FACTS, "x", bytes, &asked));
    }
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let file = ("x.toml", text);
    match question {
        b'r' => told(flow_read(&FACTS, file)),
        b'd' => told(dispense(&FACTS, file, None)),
        b'g' => told(drain(&FACTS, file, None)),
        b'k' => told(cream(&FACTS, file, None)),
        b'u' => told(in_use(&FACTS, file)),
        b'l' => told(life(&FACTS, file)),
        // What a person says a column holds.
        b'w' => drop(ColumnChoice::read(text)),
        _ => {}
    }
});

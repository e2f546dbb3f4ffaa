//! What a pH that moved stands for: a lactate buffer against another program, and the laws it obeys in a formula with several buffers.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use levigate_assess::ph_shift::{PhShift, ph_shift};
use levigate_facts::shipped;
use levigate_project::formula_file;
use levigate_project::workbench::assess::{assess, known};
use serde::Deserialize;
use std::path::Path;

#[derive(Deserialize)]
struct Cases {
    shift: Vec<Case>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Case {
    percent: f64,
    from: f64,
    to: f64,
    acid: f64,
}

fn shift(text: &str, from: f64, to: f64) -> PhShift {
    let facts = shipped().unwrap();
    let formula = formula_file::read("formula", text).unwrap();
    ph_shift(&formula.sheet, &known(&facts), (from, to), 0.03).unwrap()
}

fn acid(text: &str, from: f64, to: f64) -> f64 {
    shift(text, from, to).acid.value.unwrap()
}

fn serum() -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples/zinc-balancing-serum.toml");
    std::fs::read_to_string(path).unwrap()
}

#[test]
fn a_lactate_buffer_needs_what_another_program_says() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("cross/studies.toml");
    let cases: Cases = toml::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    assert!(cases.shift.len() >= 4);
    for case in cases.shift {
        let text = format!(
            "[product]\nname = \"Buffer\"\ntype = \"serum\"\nsite = \"face\"\nleave_on = true\n[[phase]]\nname = \"A\"\n\
             [[phase.line]]\nmaterial = \"Water\"\nremainder = true\n\
             [[phase.line]]\nmaterial = \"Sodium lactate 60 %\"\npercent = {}\n",
            case.percent
        );
        let found = acid(&text, case.from, case.to);
        // Another law of activity coefficients is used there: 2 % is what the two differ by at these strengths.
        assert!((found - case.acid).abs() <= 0.02 * case.acid.abs(), "{found} instead of {}", case.acid);
    }
}

#[test]
fn two_steps_make_one_and_there_and_back_is_nothing() {
    let text = serum();
    let whole = acid(&text, 5.5, 5.1);
    let parts = acid(&text, 5.5, 5.3) + acid(&text, 5.3, 5.1);
    assert!((whole - parts).abs() < 1e-6 * whole, "{whole} {parts}");
    assert!((acid(&text, 5.5, 5.9) + acid(&text, 5.9, 5.5)).abs() < 1e-9);
    assert!(whole > 0.0 && acid(&text, 5.5, 5.9) < 0.0);
}

#[test]
fn a_small_step_is_the_buffer_capacity_of_the_assessment() {
    let text = serum();
    let facts = shipped().unwrap();
    let assessed = assess(&facts, jiff::civil::date(2026, 11, 27), "eu", "serum", &text).unwrap();
    let ph = &assessed.assessment.ph;
    let (stands, capacity) = (ph.neat.value.unwrap(), ph.buffer_capacity.value.unwrap());
    let found = acid(&text, stands + 0.002, stands - 0.002) / 0.004;
    assert!((found - capacity).abs() < 1e-3 * capacity, "{found} {capacity}");
}

#[test]
fn readings_that_differ_by_their_own_scatter_are_said_to() {
    let told = shift(&serum(), 5.50, 5.48);
    assert!(told.acid.notes.iter().any(|note| note.code == "no-shift"));
    assert!(told.acid.low.unwrap() < 0.0 && told.acid.high.unwrap() > 0.0);
    let moved = shift(&serum(), 5.50, 5.10);
    assert!(!moved.acid.notes.iter().any(|note| note.code == "no-shift"));
}

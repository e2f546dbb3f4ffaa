//! Wrong formulas: told with file, line, column and what to do; arbitrary bytes: refused, never a panic.

use crate::program::{example, run, run_with};
use proptest::prelude::*;

const HEAD: &str = "[product]\nname = \"Test\"\ntype = \"serum\"\nsite = \"face\"\nleave_on = true\n\n[[phase]]\nname = \"A\"\n";

fn formula(lines: &[&str]) -> String {
    let lines: Vec<String> = lines.iter().map(|line| format!("\n[[phase.line]]\n{line}\n")).collect();
    format!("{HEAD}{}", lines.concat())
}

/// What is said about a formula on standard input, which must be refused.
fn refused(text: &str) -> String {
    let said = run_with(&["assess", "-"], text.as_bytes());
    assert_eq!(said.code, 2, "{text}\n{}\n{}", said.out, said.err);
    assert_eq!(said.out, "");
    let json = run_with(&["assess", "-", "--json"], text.as_bytes());
    assert_eq!(json.code, 2);
    let errors = json.json();
    let errors = errors["errors"].as_array().unwrap();
    assert!(!errors.is_empty());
    for error in errors {
        for key in ["code", "file", "line", "column", "field", "what", "what_now"] {
            assert!(error.get(key).is_some(), "no {key}: {error}");
        }
    }
    said.err
}

#[test]
fn two_remainder_lines() {
    let text =
        formula(&["material = \"Water\"\nremainder = true", "material = \"Propanediol\"\nremainder = true"]);
    insta::assert_snapshot!(refused(&text));
}

#[test]
fn more_than_a_hundred_percent() {
    let text =
        formula(&["material = \"Water\"\nremainder = true", "material = \"Propanediol\"\npercent = 101"]);
    insta::assert_snapshot!(refused(&text));
}

#[test]
fn an_unknown_material_with_the_nearest_names() {
    let text = formula(&["material = \"Water\"\nremainder = true", "material = \"Propandiol\"\npercent = 3"]);
    insta::assert_snapshot!(refused(&text));
}

#[test]
fn a_decimal_comma_is_never_guessed() {
    let text =
        formula(&["material = \"Water\"\nremainder = true", "material = \"Propanediol\"\npercent = 0,5"]);
    insta::assert_snapshot!(refused(&text));
}

#[test]
fn a_percent_below_zero_and_a_field_that_is_none() {
    let text =
        formula(&["material = \"Water\"\nremainder = true", "material = \"Propanediol\"\npercent = -2"]);
    insta::assert_snapshot!(refused(&text));
    let text = formula(&["material = \"Water\"\nremainder = true\npercnt = 2"]);
    insta::assert_snapshot!(refused(&text));
}

#[test]
fn a_ph_nothing_can_reach_names_the_nearest() {
    let text =
        formula(&["material = \"Water\"\nremainder = true", "material = \"Citric acid 10 %\"\nto_ph = 9.5"]);
    let said = refused(&text);
    assert!(said.contains("cannot be reached") && said.contains("nearest"), "{said}");
    assert!(said.contains("standard input:16:9: phase 1, line 2"), "{said}");
}

#[test]
fn no_water_is_an_input_error() {
    let said = refused(&formula(&["material = \"Squalane\"\nremainder = true"]));
    assert!(said.contains("help:"), "{said}");
}

#[test]
fn bytes_that_are_no_text() {
    insta::assert_snapshot!(refused_bytes(b"[product]\nname = \"caf\xe9\"\n"));
}

fn refused_bytes(bytes: &[u8]) -> String {
    let said = run_with(&["assess", "-"], bytes);
    assert_eq!(said.code, 2, "{}\n{}", said.out, said.err);
    said.err
}

#[test]
fn the_file_is_named_as_it_was_given() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("wrong.toml");
    std::fs::write(&path, "[product\n").unwrap();
    let said = run(&["label", &path.display().to_string()]);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("wrong.toml:1:9"), "{}", said.err);
}

/// A formula with a few bytes changed: nearer to what a slip of the hand makes than plain noise.
fn damaged() -> impl Strategy<Value = Vec<u8>> {
    let text = example("zinc-balancing-serum.toml").into_bytes();
    let length = text.len();
    prop::collection::vec((0..length, any::<u8>(), 0..3_u8), 1..6).prop_map(move |hurts| {
        let mut bytes = text.clone();
        for (at, byte, how) in hurts {
            let at = at.min(bytes.len().saturating_sub(1));
            match how {
                0 => bytes[at] = byte,
                1 => bytes.insert(at, byte),
                _ => drop(bytes.drain(at..(at + 20).min(bytes.len()))),
            }
        }
        bytes
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 16, ..ProptestConfig::default() })]

    #[test]
    fn arbitrary_bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..2000)) {
        let verbs =
            [&["assess", "-"][..], &["speciate", "-"], &["sheet", "-"], &["label", "-", "--json"], &["flow", "fit", "-"], &["flow", "read", "-"]];
        for verb in verbs {
            let said = run_with(verb, &bytes);
            prop_assert_eq!(said.code, 2, "{:?}: {}", verb, said.err);
            prop_assert!(!said.err.contains("panicked"), "{}", said.err);
        }
    }

    #[test]
    fn a_damaged_formula_is_answered_or_refused(bytes in damaged()) {
        for verb in [&["assess", "-"][..], &["titrate", "-", "--with", "Citric acid 10 %", "--to", "5"]] {
            let said = run_with(verb, &bytes);
            prop_assert!(said.code == 0 || said.code == 2, "{:?} {}: {}", verb, said.code, said.err);
            prop_assert!(!said.err.contains("panicked"), "{}", said.err);
        }
    }
}

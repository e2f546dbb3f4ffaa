//! The verbs of making: worked answers through the door, complaints.

use crate::program::{run, run_with};
use serde_json::Value;

/// Verbs that take one file.
const VERBS: [&str; 1] = ["lethality"];

/// A hold.
pub(crate) const HOLD: &str =
    "ph = 5.2\nwater_activity = 0.98\n[record]\npoints = [[0, 25], [50, 75], [70, 75], [170, 25]]\n";

fn answer(verb: &str, text: &str) -> Value {
    let said = run_with(&[verb, "-", "--json"], text.as_bytes());
    assert_eq!(said.code, 0, "{}\n{}", said.out, said.err);
    said.json()
}

#[test]
fn a_hold_has_its_units_and_reductions_and_leaves_spores() {
    let said = answer("lethality", HOLD);
    let units = said["units"].as_array().unwrap();
    let pasteurisation = units.iter().find(|unit| unit["key"] == "pasteurisation").unwrap();
    assert!((pasteurisation["units"]["value"].as_f64().unwrap() - 4046.2).abs() < 0.05);
    let organisms = said["organisms"].as_array().unwrap();
    for organism in organisms {
        let reduction = &organism["log_reduction"];
        if organism["kind"] == "bacterial-spores" {
            assert!(reduction["value"].as_f64().unwrap() < 1.0, "{organism}");
        } else {
            // Twelve is the most that is told, and it is told as at least twelve.
            assert!(reduction["value"].as_f64().unwrap() <= 12.0 && reduction["high"].is_null());
        }
    }
    assert!(said["notes"].as_array().unwrap().iter().any(|note| note["code"] == "spores"));
    // Without a pH below 4 the figures for acid food are left out.
    assert!(!organisms.iter().any(|organism| organism["key"] == "acid-spoilage-vegetative"));
    let acid = answer("lethality", &HOLD.replace("5.2", "3.8"));
    assert!(acid["organisms"].as_array().unwrap().len() == organisms.len() + 1);
}

#[test]
fn oil_and_powder_are_refused_a_reduction() {
    let said = answer("lethality", &format!("medium = \"oil\"\n{HOLD}"));
    for organism in said["organisms"].as_array().unwrap() {
        assert!(organism["log_reduction"]["value"].is_null());
        assert!(organism["log_reduction"]["refused"].as_str().unwrap().contains("in oil"));
    }
}

#[test]
fn what_is_wrong_with_a_record_is_said_with_its_line() {
    for (text, line, word) in [
        ("[record]\npoints = [[0, 25], [50, 75], [40, 75]]\n", 2, "earlier than the point above"),
        ("[record]\npoints = [[0, 25], [50, 750]]\n", 2, "750"),
        ("[record]\npoints = [[0, 25]]\n", 2, "two points"),
        ("ph = 5\n", 1, "record is missing"),
        ("[record]\nunit = \"days\"\npoints = [[0, 25], [1, 25]]\n", 2, "use one of"),
        ("organisms = [\"escherichia\"]\n[record]\npoints = [[0, 25], [1, 25]]\n", 1, "escherichia-coli"),
    ] {
        let said = run_with(&["lethality", "-"], text.as_bytes());
        assert_eq!(said.code, 2, "{text}");
        assert!(
            said.err.contains(&format!("standard input:{line}:")) && said.err.contains(word),
            "{text}\n{}",
            said.err
        );
    }
}

#[test]
fn every_verb_has_an_example_that_runs_and_a_schema() {
    for verb in VERBS {
        let help = run(&[verb, "--help"]);
        let example: String = help
            .out
            .lines()
            .skip_while(|line| !line.contains("levigate schema"))
            .skip(1)
            .map(|line| format!("{}\n", line.trim()))
            .collect();
        let said = run_with(&[verb, "-"], example.as_bytes());
        assert_eq!(said.code, 0, "{example}\n{}", said.err);
        let schema: Value = serde_json::from_str(&run(&["schema", verb]).out).unwrap();
        assert_eq!(schema["type"], "object");
    }
}

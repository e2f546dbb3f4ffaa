//! pH at the bench through the door: what a calibration and a beaker answer, complaints with their lines.

use crate::program::{run, run_with};

/// Buffers that were read, a check and samples.
pub(crate) const BUFFERS: &str = "[calibration]\ntemperature_c = 25\nwindow = [4.5, 5.5]\npoints = [{ ph = 4.005, mv = 174.3 },\n\
    { ph = 6.865, mv = 6.8 }]\ncheck = { buffer = \"technical-4-00\", ph_read = 4.02 }\n[[sample]]\nmv = 100.0\n[[sample]]\nmv = 50\ntemperature_c = 40\n";

/// A batch at the beaker: a base and an acid, a trace, a reading of another method, a warm one.
pub(crate) const BEAKER: &str = "[product]\nname = \"Toner\"\ntype = \"toner\"\nsite = \"face\"\nleave_on = true\n[batch]\nsize_g = 250\n\
    balance_g = 0.01\n[[phase]]\nname = \"A\"\n[[phase.line]]\nmaterial = \"Water\"\nremainder = true\n[[phase.line]]\n\
    material = \"Glycolic acid 70 %\"\npercent = 10\n[[phase.line]]\nmaterial = \"Sodium hydroxide 20 %\"\nto_ph = 3.8\n[adjust]\n\
    with = \"Sodium hydroxide 20 %\"\nwindow = [3.7, 3.9]\nage_h = 24\n[calibration]\ntemperature_c = 25\npoints = [\n\
    { buffer = \"standard-phthalate\", mv = 174.6 }, { buffer = \"standard-phosphate\", mv = 6.9 }]\n[[bench]]\nph = 1.95\nage_h = 0.5\n\
    [[bench]]\nadd_g = 0.5\nwith = \"Citric acid 50 %\"\n[[bench]]\nadd_g = 19\n[[bench]]\n\
    trace = [[0, 3.70], [10, 3.64], [20, 3.62], [30, 3.61], [40, 3.61], [50, 3.61]]\ntemperature_c = 27\n[[bench]]\nph = 3.7\n\
    method = \"10 % in water\"\n";

#[test]
fn a_calibration_reads_samples() {
    let said = run_with(&["calibrate", "-", "--json"], BUFFERS.as_bytes());
    assert_eq!(said.code, 0, "{}", said.err);
    let said = said.json();
    let value = |path: &str| said.pointer(path).unwrap().as_f64().unwrap();
    assert!((value("/slope_percent/value") - 98.998).abs() < 6e-4);
    assert!((value("/offset/value") + 1.106).abs() < 6e-4);
    assert!((value("/samples/0/ph/value") - 5.2736).abs() < 6e-5);
    let half = 0.5 * (value("/samples/0/ph/high") - value("/samples/0/ph/low"));
    assert!((half / 1.96 - 0.0127).abs() < 1e-4, "{half}");
    assert!(said["notes"].as_array().unwrap().iter().any(|note| note["code"] == "compensation"));
    let page = run_with(&["calibrate", "-"], BUFFERS.as_bytes());
    assert!(
        page.code == 0 && page.out.contains("does not hold:") && page.out.contains("sample 2"),
        "{}",
        page.out
    );
    // The technical buffer taken for the standard.
    let taken = BUFFERS.replace("{ ph = 6.865", "{ buffer = \"technical-7-00\"");
    let said = run_with(&["calibrate", "-"], taken.as_bytes());
    assert!(said.out.contains("was it the") && said.out.contains("Phosphate 6.86"), "{}", said.out);
}

#[test]
fn the_example_of_the_help_runs_as_it_stands() {
    for verb in ["adjust", "calibrate"] {
        let help = run(&[verb, "--help"]).out;
        let example: Vec<&str> = help
            .lines()
            .skip_while(|line| !line.starts_with("A f"))
            .skip_while(|line| !line.starts_with("  ["))
            .collect();
        let said = run_with(&[verb, "-", "--json"], example.join("\n").as_bytes());
        assert_eq!(said.code, 0, "{}\n{}", example.join("\n"), said.err);
        assert!(verb == "calibrate" || said.json()["next"] == "add", "{}", said.out);
    }
}

#[test]
fn a_beaker_gets_its_next_addition_on_one_page() {
    let said = run_with(&["adjust", "-"], BEAKER.as_bytes());
    assert_eq!(said.code, 0, "{}", said.err);
    for words in
        ["because:", "Counted into the formula", "later:", "not used:", "where it settles", "Calibration"]
    {
        assert!(said.out.contains(words), "{words}\n{}", said.out);
    }
}

#[test]
fn what_is_wrong_is_said_with_its_line() {
    for (from, to, line, word) in [
        ("age_h = 24", "age = 24", 23, "did you mean age_h"),
        ("window = [3.7, 3.9]", "window = [3.9, 3.7]", 22, "runs from"),
        (
            "with = \"Sodium hydroxide 20 %\"\nwindow",
            "with = \"Sodium hydroxyde 20 %\"\nwindow",
            21,
            "did you mean",
        ),
        ("add_g = 19", "add_g = 19\nph = 3", 36, "one addition"),
        ("standard-phosphate", "phosphate", 27, "known are"),
        ("mv = 6.9", "mv = 174.6", 26, "exchanged"),
        ("Citric acid 50 %", "Citrus acid", 32, "no raw material"),
    ] {
        assert!(BEAKER.contains(from), "{from}");
        let said = run_with(&["adjust", "-"], BEAKER.replace(from, to).as_bytes());
        assert_eq!(said.code, 2, "{from}: {}", said.out);
        assert!(
            said.err.contains(&format!("standard input:{line}:")) && said.err.contains(word),
            "{from}: {}",
            said.err
        );
    }
}

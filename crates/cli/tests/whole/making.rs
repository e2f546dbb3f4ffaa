//! The verbs of making: worked answers through the door, complaints.

use crate::program::{run, run_with};
use serde_json::Value;

/// Verbs that take one file.
const VERBS: [&str; 2] = ["evaporate", "lethality"];

/// A hold.
pub(crate) const HOLD: &str =
    "ph = 5.2\nwater_activity = 0.98\n[record]\npoints = [[0, 25], [50, 75], [70, 75], [170, 25]]\n";

/// A batch that was weighed and whose temperature was logged.
pub(crate) const WEIGHED: &str = "batch_g = 200\nwater_percent = 92\nvessel = \"beaker-250-ml\"\nopen_percent = 50\n[record]\n\
    points = [[0, 25], [15, 75], [35, 75], [75, 30]]\n[balance]\ntare_g = 182.46\ngross_g = 375.62\nsamples_g = 2.10\n\
    [[content]]\nname = \"Hypromellose\"\npercent = 1.2\n";

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
fn water_is_made_up_by_the_balance_beside_the_model() {
    let said = answer("evaporate", WEIGHED);
    assert_eq!(said["balance"]["make_up"]["value"], 4.74);
    assert_eq!(said["verdicts"][0]["holds"], "surely");
    // 1.2 % in what is left: 1.2/(1 - 4.74/200).
    let strong = said["contents"][0]["without_water"]["value"].as_f64().unwrap();
    assert!((strong - 1.2 / (1.0 - 4.74 / 200.0)).abs() < 1e-12);
    let spilled = answer("evaporate", &WEIGHED.replace("375.62", "355.62"));
    assert_eq!(spilled["verdicts"][0]["holds"], "not");
    assert!(spilled["verdicts"][0]["because"].as_str().unwrap().contains("spills"));
    let heavier = answer("evaporate", &WEIGHED.replace("375.62", "395.62"));
    assert!(heavier["balance"]["make_up"]["refused"].as_str().unwrap().contains("15.3 g more"));
    // What was not weighed follows from the model, with its interval.
    let modelled = answer("evaporate", WEIGHED.split("[balance]").next().unwrap());
    assert!(modelled["balance"].is_null() && modelled["stronger"]["high"].as_f64().unwrap() > 1.0);
}

#[test]
fn a_batch_that_boils_or_dries_up_is_refused() {
    let boils = answer("evaporate", &WEIGHED.replace("[35, 75]", "[35, 101]"));
    assert!(boils["loss"]["refused"].as_str().unwrap().contains("boils at 100"));
    let high = answer("evaporate", &format!("{}[air]\naltitude_m = 3000\n", WEIGHED.replace("75]", "92]")));
    assert!(high["loss"]["refused"].as_str().unwrap().contains("boils at 90 C"));
    let dry =
        answer("evaporate", &WEIGHED.replace("[35, 75]", "[3500, 75]").replace("[75, 30]", "[3600, 30]"));
    assert!(dry["loss"]["refused"].as_str().unwrap().contains("dries up"));
}

#[test]
fn complaints_about_a_batch_name_line_and_field() {
    for (text, line, word) in [
        ("batch_g = 200\nbatch_kg = 1\n", 2, "given twice"),
        ("vessel = \"beaker-250-ml\"\n[record]\npoints = [[0, 25], [1, 25]]\n", 1, "batch_g is missing"),
        ("batch_g = 200\n", 1, "record is missing"),
        (
            "batch_g = 900\nvessel = \"beaker-250-ml\"\n[record]\npoints = [[0, 25], [1, 25]]\n",
            2,
            "do not go into",
        ),
        ("batch_g = 200\nvessel = \"bucket\"\n", 2, "beaker-250-ml"),
        ("batch_g = 200\n[vessel]\nlike = \"beaker-250-ml\"\ndiametre_mm = 70\n", 2, "diametre_mm"),
        ("batch_g = 200\n[balance]\ntare_g = -1\ngross_g = 3\n", 3, "not below zero"),
        ("batch_g = 200\n[air]\nhumidity_percent = 140\n", 3, "between 0 and 100"),
        ("batch_g = 200\n[air]\naltitude_m = 10\npressure_kpa = 100\n", 4, "leave out"),
    ] {
        let said = run_with(&["evaporate", "-"], text.as_bytes());
        assert_eq!(said.code, 2, "{text}");
        assert!(
            said.err.contains(&format!("standard input:{line}:")) && said.err.contains(word),
            "{text}\n{}",
            said.err
        );
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

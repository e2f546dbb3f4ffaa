//! Measured flow curves from the command line: fitted, refused with their place, kept on a trial.

use crate::program::{Said, program, run, run_with};
use crate::serving::Server;
use std::process::Stdio;

/// A loop up and down at 25 C with decimal commas, a row at rest and a point far off.
pub(crate) const LOOP: &str = "Probe;Handgel T7\n\nScherrate [1/s];Schubspannung [Pa];Temperatur [°C]\n0;0;25,0\n0,1;8,31;25,0\n0,316;8,93;25,0\n1;10,02;25,0\n\
    3,16;11,8;25,0\n10;15,1;25,0\n31,6;20,9;25,0\n100;31,0;25,0\n316;48,9;25,0\n100;29,1;25,0\n31,6;19,4;25,0\n10;13,8;25,0\n3,16;10,6;25,0\n1;8,9;25,0\n0,316;7,9;25,0\n\
    0,1;7,3;25,0\nEnde der Messung;;\n";

/// More points than are fitted one by one.
pub(crate) fn thousand_rows() -> String {
    let mut text = String::from("shear rate [1/s]\tviscosity [mPa·s]\n");
    for row in 0..1000 {
        let rate = 10_f64.powf(-2.0 + f64::from(row) * 0.005);
        text.push_str(&format!("{rate:.6}\t{:.6}\n", 1000.0 * (5.0 / rate + 2.0 * rate.powf(-0.55))));
    }
    text
}

/// Rest, shear and rest again, with decimal commas: 40 Pa s before, from 10 to 30 Pa s with a time of 50 s after, scattered by hand.
pub(crate) fn three_intervals() -> String {
    let mut text =
        String::from("Probe;Handgel T7\n\nZeit [s];Scherrate [1/s];Viskosität [mPa·s];Temperatur [°C]\n");
    let mut row = |time: f64, rate: f64, eta: f64| {
        let line = format!("{time};{rate};{:.0};25.0\n", 1e3 * eta);
        text.push_str(&line.replace('.', ","));
    };
    for at in 0..8 {
        row(f64::from(at) * 5.0, 0.5, 40.0 + 0.2 * f64::from(at % 3));
    }
    for at in 8..11 {
        row(f64::from(at) * 5.0, 1000.0, 0.2);
    }
    for at in 1..=25 {
        let after = f64::from(at) * 10.0;
        row(50.0 + after, 0.5, (30.0 - 20.0 * (-after / 50.0).exp()) * (1.0 + 0.004 * (after * 0.7).sin()));
    }
    // A bubble.
    row(305.0, 0.5, 26.0);
    text
}

fn fails(arguments: &[&str], input: &str, words: &[&str]) {
    let said = run_with(&[&["flow", "fit", "-"], arguments].concat(), input.as_bytes());
    assert_eq!(said.code, 2, "{input}\n{}", said.out);
    for words in words {
        assert!(said.err.contains(words), "{words}: {}", said.err);
    }
    assert!(said.err.contains("help:"), "{}", said.err);
    let json = run_with(&[&["flow", "fit", "-", "--json"], arguments].concat(), input.as_bytes());
    assert_eq!(json.code, 2);
    assert!(!json.json()["errors"].as_array().unwrap().is_empty());
}

#[test]
fn a_loop_is_understood_fitted_and_told() {
    let said = run_with(&["flow", "fit", "-"], LOOP.as_bytes());
    assert_eq!((said.code, said.err.as_str()), (0, ""));
    for words in [
        "Scherrate",
        "shear stress",
        "line 4:",
        "Handgel T7, up 1",
        "8 points",
        "Handgel T7, down 1",
        "25.0 °C",
        "taken",
        "Herschel-Bulkley",
        "yield stress",
        "rising over falling stress",
        "confirm:",
    ] {
        assert!(said.out.contains(words), "{words}: {}", said.out);
    }
    for line in said.out.lines() {
        assert!(line.chars().count() <= 100, "{line}");
    }
    let answer = run_with(&["flow", "fit", "-", "--json"], LOOP.as_bytes()).json();
    assert_eq!(answer["left_out"]["count"], 2);
    assert_eq!(answer["curves"].as_array().unwrap().len(), 2);
    assert!(answer["loops"][0]["ratio"]["value"].as_f64().unwrap() > 1.05);
    let together = run_with(&["flow", "fit", "-", "--together", "--json"], LOOP.as_bytes()).json();
    assert_eq!(together["curves"][0]["measured"], 15);
}

#[test]
fn a_recovery_is_understood_fitted_and_told() {
    let text = three_intervals();
    let said = run_with(&["flow", "fit", "-"], text.as_bytes());
    assert_eq!((said.code, said.err.as_str()), (0, ""));
    for words in [
        "Recovery of standard input",
        "Zeit [s]",
        "confirm:",
        "time counts from",
        "Handgel T7",
        "26 readings, 10.00 to 255.0 s after the shear, read at 0.5000 1/s",
        "1000 1/s",
        "first order",
        "stretched exponential",
        "share of the way at the last reading",
        "last reading over before",
        "apart: line 40 (255.0 s)",
    ] {
        let plain = said.out.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(plain.contains(words), "{words}: {}", said.out);
    }
    for line in said.out.lines() {
        assert!(line.chars().count() <= 100, "{line}");
    }
    let help = run(&["flow", "fit", "--help"]).out;
    let (_, example) = help.split_once("[[recovery]]").unwrap();
    let example: String = std::iter::once("[[recovery]]")
        .chain(example.lines())
        .map(|line| format!("{}\n", line.trim()))
        .collect();
    let answer = run_with(&["flow", "fit", "-", "--json"], example.as_bytes()).json();
    assert_eq!(answer["recoveries"][0]["taken"]["law"], "first-order", "{answer}");
    let later = run_with(&["flow", "fit", "-", "--shear-ended", "100", "--json"], text.as_bytes()).json();
    assert_eq!(later["recoveries"][0]["measured"], 22);
    fails(&["--shear-ended", "-3"], &text, &["cannot be when the strong shear ended"]);
    fails(&["--model", "cross"], &text, &["is a model of flow curves"]);
    fails(&[], "time [s];stress [Pa]\n0;1\n1;2\n2;3\n3;4\n4;5\n", &["shear rate it was read at"]);
}

#[test]
fn json_lists_every_model_with_its_parameters_and_errors() {
    let file = "tests/cross/flow/caggioni_carbomer_glycerin_temp.csv";
    let answer = run(&["flow", "fit", file, "--json"]).json();
    let curves = answer["curves"].as_array().unwrap();
    assert_eq!(curves.len(), 3);
    for curve in curves {
        let models = curve["models"].as_array().unwrap();
        assert_eq!(models.len() + curve["without"].as_array().unwrap().len(), 13);
        let taken = curve["taken"]["model"].as_str().unwrap();
        assert_eq!(taken, "three-component");
        let taken = models.iter().find(|model| model["model"] == taken).unwrap();
        for parameter in taken["parameters"].as_array().unwrap() {
            assert!(parameter["value"].is_number() && parameter["standard_error"]["value"].is_number());
            assert!(parameter["low"].as_f64() < parameter["value"].as_f64());
        }
    }
    // tests/cross/flow/README.md: 7.4998 Pa, 0.005651 1/s, 2.1683 Pa s by another program.
    let parameters = curves[0]["models"][0]["parameters"].as_array().unwrap();
    for (parameter, wanted) in parameters.iter().zip([7.4998, 0.005651, 2.1683]) {
        assert!((parameter["value"].as_f64().unwrap() / wanted - 1.0).abs() < 2e-4, "{parameter}");
    }
    let one =
        run(&["flow", "fit", file, "--model", "casson", "--weights", "linear", "--shear", "1..50", "--json"])
            .json();
    let curve = &one["curves"][0];
    assert_eq!(curve["models"].as_array().unwrap().len(), 1);
    assert!(
        curve["outside"].as_u64().unwrap() > 20 && curve["window"]["to"]["value"].as_f64().unwrap() <= 50.0
    );
}

#[test]
fn many_points_are_gathered_and_said() {
    let answer = run_with(&["flow", "fit", "-", "--json"], thousand_rows().as_bytes()).json();
    let curve = &answer["curves"][0];
    assert_eq!((curve["measured"].as_u64(), curve["points"].as_array().unwrap().len()), (Some(1000), 200));
    assert!(curve["gathered"].as_str().unwrap().contains("1000 points"));
    let parameters = curve["models"]
        .as_array()
        .unwrap()
        .iter()
        .find(|model| model["model"] == "herschel-bulkley")
        .unwrap();
    for (parameter, wanted) in parameters["parameters"].as_array().unwrap().iter().zip([5.0, 2.0, 0.45]) {
        assert!((parameter["value"].as_f64().unwrap() / wanted - 1.0).abs() < 1e-3, "{parameter}");
    }
}

#[test]
fn points_in_a_toml_are_taken_as_the_help_says() {
    let help = run(&["flow", "fit", "--help"]).out;
    let (_, example) = help.split_once("[[curve]]").unwrap();
    let example: String = std::iter::once("[[curve]]")
        .chain(example.lines().skip(1).take_while(|line| !line.trim().is_empty()))
        .map(|line| format!("{}\n", line.trim()))
        .collect();
    let said = run_with(&["flow", "fit", "-", "--json"], example.as_bytes());
    assert_eq!(said.code, 0, "{}{}", said.out, said.err);
    assert_eq!(said.json()["curves"][0]["name"], "T7");
    let schema = run(&["schema", "flow-fit"]).json();
    assert!(schema["properties"]["curve"].is_object());
    // Power law of 12 Pa s^0.35 with a disc of 27 mm: the readings another program gave (see the spindle in the engine).
    let spindle = "model = \"power-law\"\n[[curve]]\nspindle = \"disc, 27 mm, 718.7 uN.m\"\nspeed_rpm = [0.5, 1, 2.5, 5, 10, 20, 50, 100]\n\
        reading_percent = [14.55, 18.55, 25.56, 32.58, 41.52, 52.92, 72.93, 92.96]\n";
    let answer = run_with(&["flow", "fit", "-", "--json"], spindle.as_bytes()).json();
    let parameters = &answer["curves"][0]["models"][0]["parameters"];
    assert!((parameters[0]["value"].as_f64().unwrap() / 12.0 - 1.0).abs() < 0.01, "{parameters}");
    assert!((parameters[1]["value"].as_f64().unwrap() / 0.35 - 1.0).abs() < 0.01, "{parameters}");
    let table = "rpm,dial viscosity [cP]\n0.5,58209\n1,37095\n2.5,20448\n5,13031\n10,8305\n20,5292\n50,2917\n100,1859\n";
    let by_dial =
        ["flow", "fit", "-", "--spindle", "disc, 27 mm, 718.7 uN.m", "--model", "power-law", "--json"];
    let answer = run_with(&by_dial, table.as_bytes()).json();
    let parameters = &answer["curves"][0]["models"][0]["parameters"];
    assert!((parameters[0]["value"].as_f64().unwrap() / 12.0 - 1.0).abs() < 0.015, "{parameters}");
}

#[test]
fn what_is_wrong_is_told_with_its_place() {
    fails(&[], "", &["nothing in this file"]);
    fails(&[], "a,b\n1,2\n", &["\"a\", \"b\"", "name=meaning:unit"]);
    fails(
        &[],
        "shear rate [1/s],viscosity [Pa]\n1,2\n",
        &["standard input:1:", "column 2", "not a unit of viscosity"],
    );
    fails(&[], "shear rate [1/s],stress [Pa]\n1,2\n", &["1 different shear rate"]);
    fails(&[], "shear rate [1/s],stress [Pa]\n1,2\n1,2\n1,2\n", &["different shear rate"]);
    fails(&[], "shear rate [1/s],stress [Pa]\n1,x\n2,-3\n", &["no point left", "text, not a number"]);
    fails(&["--model", "newtn"], LOOP, &["newtn", "herschel-bulkley"]);
    fails(&["--column", "x=stress"], LOOP, &["no column is called \"x\"", "Scherrate"]);
    fails(&["--column", "x=tension"], LOOP, &["tension", "shear-rate"]);
    fails(&["--shear", "10"], LOOP, &["two points"]);
    fails(&["--shear", "5000.."], LOOP, &["outside the shear rates asked for"]);
    fails(&[], "[[curve]]\nshear_rate_1_s = [1, 2]\nstress_pa = [1]\n", &["do not pair up"]);
    fails(
        &[],
        "[[curve]]\nshear_rate_1_s = [1, 2]\nstres_pa = [1, 2]\n",
        &["standard input:3:1", "stres_pa"],
    );
}

#[cfg(unix)]
#[test]
fn a_curve_is_kept_on_a_trial_and_listed_with_it() {
    let home = tempfile::tempdir().unwrap();
    drop(Server::start(home.path(), &[]));
    let at = |arguments: &[&str]| {
        Said::of(
            &program()
                .args(arguments)
                .env("XDG_DATA_HOME", home.path())
                .stdin(Stdio::null())
                .output()
                .unwrap(),
        )
    };
    let table = home.path().join("T7.csv");
    std::fs::write(&table, LOOP).unwrap();
    let table = table.display().to_string();
    let which = at(&["enter", "curve", "night toner", "1", &table]);
    assert_eq!(which.code, 2, "{}", which.out);
    assert!(which.err.contains("Handgel T7, up 1"), "{}", which.err);
    let kept = at(&[
        "enter",
        "curve",
        "night toner",
        "1",
        &table,
        "--curve",
        "Handgel T7, up 1",
        "--model",
        "herschel-bulkley",
        "--age",
        "24h",
        "--geometry",
        "cone, 2 degrees",
    ]);
    assert_eq!(kept.code, 0, "{}", kept.err);
    assert!(kept.out.contains("8 points"), "{}", kept.out);
    let told = at(&["trials", "night toner"]);
    for words in ["flow curve 1:", "8 points", "cone, 2 degrees", "herschel-bulkley taken", "T7.csv"] {
        assert!(told.out.contains(words), "{words}: {}", told.out);
    }
    let book = at(&["trials", "night toner", "--json"]).json();
    assert_eq!(book["trials"][0]["curves"][0]["points"][1]["typed"][0], "0,316");

    let over_time = home.path().join("rest.csv");
    std::fs::write(&over_time, three_intervals()).unwrap();
    let over_time = over_time.display().to_string();
    let kept = at(&["enter", "curve", "hand gel", "2", &over_time, "--model", "first-order", "--age", "24h"]);
    assert_eq!(kept.code, 0, "{}", kept.err);
    assert!(kept.out.contains("26 readings over time"), "{}", kept.out);
    let told = at(&["trials", "hand gel"]);
    assert!(told.out.contains("recovery after shear, 26 readings over 255.0 s"), "{}", told.out);
    let book = at(&["trials", "hand gel", "--json"]).json();
    let recovery = &book["trials"][1]["curves"][0]["recovery"];
    assert_eq!(recovery["readings"][0]["typed"][1], "13661");
    assert_eq!((&recovery["at"]["unit"], &recovery["strong"]["value"]), (&"1/s".into(), &"1e3".into()));
    // Readings over time are no lesson about the flow curve: what was learned stays as it was.
    assert_eq!(book["trials"][1]["taught"].as_array().unwrap().len(), 1);
    let wrong = at(&["enter", "curve", "hand gel", "2", &over_time, "--model", "cross"]);
    assert_eq!(wrong.code, 2);
    assert!(wrong.err.contains("does not fit what is kept"), "{}", wrong.err);
}

//! `flow dispense`, `flow drain`, `flow cream`, `flow life`: published figures through the door, formulas, sizes, complaints.

use crate::program::{root, run, run_with};
use serde_json::Value;

const FORMULA: &str = "examples/scenarios/5-hypromellose-clear-gel.toml";

fn answer(verb: &str, text: &str) -> Value {
    let said = run_with(&["flow", verb, "-", "--json"], text.as_bytes());
    assert_eq!(said.code, 0, "{}\n{}", said.out, said.err);
    said.json()
}

fn near(result: &Value, wanted: f64, off: f64) {
    let value = result["value"].as_f64().unwrap_or_else(|| panic!("no value: {result}"));
    assert!((value / wanted - 1.0).abs() <= off, "{value} against {wanted}");
}

#[test]
fn the_dip_tube_example_comes_out() {
    // 0.5 mL in 0.5 s through 2 mm bore by 120 mm, tau0 20, K 10, n 0.5: 101.7 kPa; start-up 2 L tau0 / R = 4.8 kPa.
    let text = "[liquid]\nmodel = \"herschel-bulkley\"\ntau0 = 20\nK = 10\nn = 0.5\ndensity_kg_m3 = 1000\n[pack]\ndrive = \"squeeze\"\n\
        stroke_ml = 0.5\nstroke_s = 0.5\nrise_mm = 0.001\ndip_tube = { bore_mm = 2, length_mm = 120 }\n\
        nozzle = { bore_mm = 100, length_mm = 0.001 }\n";
    let reading = answer("dispense", text);
    near(&reading["pressure"], 101.7, 1e-3);
    near(&reading["start_pressure"], 4.8, 1e-3);
    near(&reading["tubes"][0]["stress"], 423.9, 1e-3);
    assert!(reading["refill"].is_null());
    assert_eq!(reading["verdicts"][0]["holds"], "not");
    // A dose never exceeds the stroke, and its mass is that of its volume.
    let (dose, mass) = (&reading["dose"]["value"], &reading["mass"]["value"]);
    assert!((mass.as_f64().unwrap() - dose.as_f64().unwrap()).abs() < 1e-9);
}

#[test]
fn the_published_films_come_out() {
    // 3 mm, vertical, tau0 10, K 5, n 0.5: 1.01937 mm stay, surface 9.9698 mm/s at g = 9.81; 9.80665 is 0.03 % less.
    let text = "[liquid]\nmodel = \"herschel-bulkley\"\ntau0 = 10\nK = 5\nn = 0.5\ndensity_kg_m3 = 1000\n[film]\nangle_deg = 90\n\
        thickness_mm = 3\n[finger]\nspeed_m_s = 0.1\nfilm_um = 100\n";
    let reading = answer("drain", text);
    near(&reading["thickest_film"], 1.01937, 1e-3);
    near(&reading["surface_speed"], 9.969_839, 2e-3);
    near(&reading["finger_rate"], 1000.0, 1e-9);
    near(&reading["drag"], 10.0 + 5.0 * 1000_f64.sqrt(), 1e-9);
    assert_eq!(reading["verdicts"][0]["holds"], "not");
}

#[test]
fn the_published_drop_and_bubbles_come_out() {
    // 5 um, 80 kg/m3 lighter, 20 Pa s: 4.7 um a day.
    let drops = "[drops]\ndiameter_um = 5\nspread = 1\ndensity_kg_m3 = 920\nvolume_percent = 0\n";
    let newton = |eta: f64| format!("[liquid]\nmodel = \"newton\"\neta = {eta}\ndensity_kg_m3 = 1000\n");
    let reading = answer("cream", &format!("{}{drops}", newton(20.0)));
    near(&reading["speed"], 4.7, 5e-3);
    near(&reading["factor"], 1.0, 1e-6);
    assert_eq!(reading["verdicts"][1]["holds"], "surely");
    // 6 Pa s, 100 mm: 0.5 mm 1.2 h, 0.2 mm 7.6 h, 0.1 mm 31 h, 0.05 mm 122 h; 1 m: 0.2 mm 76 h.
    let reading = answer("cream", &newton(6.0));
    for (bubble, hours) in reading["bubbles"].as_array().unwrap().iter().zip([1.2, 7.6, 31.0, 122.0]) {
        near(&bubble["time"], hours, 0.03);
    }
    let deep = format!("{}[bubbles]\ndepth_mm = 1000\ndiameters_mm = [0.2]\n", newton(6.0));
    near(&answer("cream", &deep)["bubbles"][0]["time"], 76.0, 0.03);
}

#[test]
fn a_yield_stress_makes_the_centrifuge_say_nothing() {
    let text = "[liquid]\nmodel = \"herschel-bulkley\"\ntau0 = 0.05\nK = 2\nn = 0.5\n";
    let reading = answer("cream", text);
    assert_eq!(reading["verdicts"][0]["holds"], "surely");
    assert_eq!(reading["verdicts"][1]["holds"], "not");
    assert!(reading["months"]["refused"].as_str().unwrap().contains("torn loose"));
}

#[test]
fn a_formula_is_asked_with_its_prediction_and_sizes_of_its_own() {
    for verb in ["dispense", "drain", "cream", "life"] {
        let said = run(&["flow", verb, FORMULA]);
        assert_eq!(said.code, 0, "{verb}: {}", said.err);
        assert!(said.out.contains("predicted from the formula"), "{verb}: {}", said.out);
        for line in said.out.lines() {
            assert!(line.chars().count() <= 100, "{verb}: {line}");
        }
    }
    let folder = tempfile::tempdir().unwrap();
    let sizes = folder.path().join("hand.toml");
    std::fs::write(&sizes, "[dose]\ntime_s = 20\n").unwrap();
    let run_of = |more: &[&str]| {
        let said = run(&[&["flow", "drain", FORMULA, "--json"], more].concat());
        assert_eq!(said.code, 0, "{}", said.err);
        said.json()["run"]["value"].as_f64().unwrap()
    };
    let path = sizes.display().to_string();
    assert!(run_of(&["--sizes", &path]) > 1.5 * run_of(&[]));
    std::fs::write(&sizes, "[dose]\ntime = 20\n").unwrap();
    let said = run(&["flow", "drain", FORMULA, "--sizes", &path]);
    assert_eq!(said.code, 2);
    assert!(said.err.contains("hand.toml:2:1") && said.err.contains("did you mean time_s?"), "{}", said.err);
}

#[test]
fn what_is_wrong_is_told_with_its_place() {
    let said = run_with(&["flow", "dispense", "-"], b"[liquid]\nmodel = \"newton\"\neta = 0\n");
    assert_eq!(said.code, 2, "{}", said.out);
    assert!(said.err.contains("standard input:3:7: liquid, eta"), "{}", said.err);
    assert!(said.err.contains("help:"), "{}", said.err);
    let said = run_with(&["flow", "cream", "-", "--json"], b"[liquid]\npoints = [[1, 2], [1, 3]]\n");
    assert_eq!(said.code, 2);
    assert_eq!(said.json()["errors"][0]["code"], "no-curve");
}

#[test]
fn the_life_and_the_words_come_from_facts_that_can_be_laid_over() {
    let water = b"[liquid]\nmodel = \"newton\"\neta = 0.001\n";
    let word = |answer: &Value, key: &str| {
        let words = answer["words"].as_array().unwrap();
        words.iter().find(|word| word["key"] == key).map(|word| word["holds"].clone())
    };
    let shipped = run_with(&["flow", "life", "-", "--json"], water).json();
    assert_eq!(word(&shipped, "like-water").unwrap(), "surely");
    assert!(shipped["life"].as_array().unwrap().len() >= 9);
    let folder = tempfile::tempdir().unwrap();
    let own = "[[flow_word]]\nkey = \"like-water\"\nwords = \"like water\"\nmeans = \"ours\"\nreason = \"ours\"\nsource = \"convention\"\n\
        band = [{ of = { viscosity = { shear_rate = 10.0 } }, high = 0.5 }]\n";
    std::fs::write(folder.path().join("words.toml"), own).unwrap();
    let path = folder.path().display().to_string();
    let said = run_with(&["flow", "life", "-", "--json", "--facts", &path], water);
    assert_eq!(said.code, 0, "{}", said.err);
    assert_eq!(word(&said.json(), "like-water").unwrap(), "not");
}

#[test]
fn the_examples_of_the_help_are_answered_and_the_schemas_shown() {
    for verb in ["dispense", "drain", "cream", "life"] {
        let help = run(&["flow", verb, "--help"]);
        assert_eq!(help.code, 0);
        let example = help.out.split("[liquid]").last().unwrap();
        let text: String =
            format!("[liquid]{example}").lines().map(|line| format!("{}\n", line.trim_start())).collect();
        let said = run_with(&["flow", verb, "-"], text.as_bytes());
        assert_eq!(said.code, 0, "{verb}: {}\n{text}", said.err);
        if verb != "life" {
            let schema = run(&["schema", &format!("flow-{verb}")]).json();
            assert!(schema["properties"]["liquid"].is_object(), "{verb}");
        }
    }
    assert!(root().join("data/flow/words.toml").is_file());
}

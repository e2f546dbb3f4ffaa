//! `flow read`: published figures of instruments through the door, what keeps two viscosities apart, the way on to `flow fit`, complaints.

use crate::program::{run, run_with};
use serde_json::Value;
use std::f64::consts::PI;

/// Standard acceleration of gravity, m/s2.
const GRAVITY: f64 = 9.806_65;

/// Power law of 12 Pa s^0.35 with a disc of 27 mm: rpm, percent and dial viscosity (mPa s) that another program gave (see the spindle in the engine).
const DISC: &str = "[[disc]]\nname = \"T7\"\nspindle = \"disc, 27 mm\"\nfull_scale_un_m = 718.7\ntemperature_c = 25\nage_h = 24\n\
    speed_rpm = [0.5, 1, 2.5, 5, 10, 20, 50, 100]\nreading_percent = [14.55, 18.55, 25.56, 32.58, 41.52, 52.92, 72.93, 92.96]\n";
const DIALS: [f64; 8] = [58_209.0, 37_095.0, 20_448.0, 13_031.0, 8_305.0, 5_292.0, 2_917.0, 1_859.0];

/// One of each, with a law that comes out and one that does not.
pub(crate) const BENCH: &str = "[[cup]]\nname = \"a\"\ncup = \"iso-2431-4\"\nseconds = 62\nage_h = 24\n[[cup]]\nname = \"a\"\ncup = \"iso-2431-6\"\n\
    seconds = 31\nage_h = 24\n[[run]]\nname = \"b\"\ntimed = \"mark\"\ntilt_deg = 30\nthickness_mm = 1\ndistance_mm = 50\nseconds = 20\n[[run]]\n\
    name = \"b\"\ntimed = \"mark\"\ntilt_deg = 30\nthickness_mm = 1\ndistance_mm = 50\nseconds = 21\nerror_percent = 2\n[[coaxial]]\n\
    inner_radius_mm = 12.5\nouter_radius_mm = 20\nlength_mm = 37.5\nspeed_rpm = [10, 100, 200]\ntorque_un_m = [100, 500, 800]\n[[cone]]\n\
    radius_mm = 20\nangle_deg = 1\nspeed_rpm = [1, 10]\ntorque_un_m = [10, 40]\n[[plates]]\nradius_mm = 20\ngap_mm = 0.5\nspeed_rpm = [1]\n\
    torque_un_m = [10]\n[[disc]]\nspindle = \"disc, 27 mm\"\nspeed_rpm = [5, 10, 20]\nreading_percent = [3, 41.52, 52.92]\n\
    temperature_c = 25\n";

fn answer(text: &str) -> Value {
    let said = run_with(&["flow", "read", "-", "--json"], text.as_bytes());
    assert_eq!(said.code, 0, "{}\n{}", said.out, said.err);
    said.json()
}

fn near(result: &Value, wanted: f64, off: f64) {
    let value = result["value"].as_f64().unwrap_or_else(|| panic!("no value: {result}"));
    assert!((value / wanted - 1.0).abs() <= off, "{value} against {wanted}");
}

fn notes(entry: &Value) -> Vec<&str> {
    entry["notes"].as_array().unwrap().iter().map(|note| note["code"].as_str().unwrap()).collect()
}

#[test]
fn cups_give_the_printed_viscosities() {
    // Printed with the equations of the cups, mm2/s (tests/published/flow_instruments.toml).
    for (cup, seconds, printed) in
        [("iso-2431-3", 57, 21.7422), ("astm-d1200-4", 80, 290.7135), ("din-53211-4", 97, 438.6302)]
    {
        let text = format!("[[cup]]\ncup = \"{cup}\"\nseconds = {seconds}\ndensity_kg_m3 = 1000\n");
        let answer = answer(&text);
        let entry = &answer["entries"][0];
        near(&entry["points"][0]["viscosity"], printed * 1e-3, 2e-6);
        // A liquid that thins is thinner there than the number says, never thicker.
        let viscosity = &entry["points"][0]["viscosity"];
        assert_eq!(viscosity["high"], viscosity["value"]);
        assert!(viscosity["low"].as_f64() < viscosity["value"].as_f64());
        assert!(notes(entry).contains(&"not-at-one-shear-rate"), "{entry}");
        assert!(!notes(entry).contains(&"assumed"));
    }
    let thin = answer("[[cup]]\ncup = \"iso-2431-4\"\nseconds = 32\n");
    assert!(notes(&thin["entries"][0]).contains(&"kinetic-correction"), "{thin}");
    assert!(notes(&thin["entries"][0]).contains(&"assumed"), "the density");
}

#[test]
fn the_standard_cylinders_have_their_constants() {
    // One rad/s, 100 uN m, ratio 1.0847: 12.33 1/s and 0.92496 of the stress at the bob.
    let text = format!(
        "[[coaxial]]\ninner_radius_mm = 12.5\nouter_radius_mm = {}\nlength_mm = 37.5\nspeed_rpm = [{}]\ntorque_un_m = [100]\n",
        12.5 * 1.0847,
        30.0 / PI
    );
    let answer = answer(&text);
    let entry = &answer["entries"][0];
    near(&entry["points"][0]["shear_rate"], 12.33, 4e-4);
    near(&entry["points"][0]["stress"], 0.92496 * 1e-4 / (2.0 * PI * 0.0375 * 0.0125 * 0.0125 * 1.10), 6e-5);
    assert!(notes(entry).contains(&"assumed") && !notes(entry).contains(&"vortices"), "{entry}");
    // Water at 200 rpm in a gap of 2 mm: 1 mPa s takes 4 pi L w / (1/Ri^2 - 1/Ra^2) of torque; vortices would add to it.
    let torque = 4.0 * PI * 0.0375 * 1e-3 * (200.0 * PI / 30.0) / (0.0125_f64.powi(-2) - 0.0145_f64.powi(-2));
    let water = text
        .replace(&format!("{}", 12.5 * 1.0847), "14.5")
        .replace(&format!("{}", 30.0 / PI), "200")
        .replace("[100]", &format!("[{:.9}]", torque * 1.1e6));
    let answer = run_with(&["flow", "read", "-", "--json"], water.as_bytes()).json();
    near(&answer["entries"][0]["points"][0]["viscosity"], 1e-3, 1e-6);
    assert!(notes(&answer["entries"][0]).contains(&"vortices"), "{answer}");
}

#[test]
fn cone_and_plates_and_runs_read_the_same_liquid() {
    // 2.5 Pa s: cone 2 pi R^3 tau / 3, plates pi R^4 w eta / (2 h), a film G h^2 / (2 eta) at its surface, a dose x^3 = 9 G A^2 t / (4 eta).
    let (eta, speed) = (2.5, PI / 30.0);
    let cone = 1e6 * 2.0 * PI * 8e-6 / 3.0 * eta * speed / 1.0_f64.to_radians();
    let plates = 1e6 * PI * 1.6e-7 * speed * eta / (2.0 * 5e-4);
    let film = 0.05 / (1000.0 * GRAVITY * 0.5 * 1e-6 / (2.0 * eta));
    let dose = 4.0 * eta * 0.08_f64.powi(3) / (9.0 * 1000.0 * GRAVITY * 0.5_f64.sqrt() * 25e-10);
    let text = format!(
        "[[cone]]\nradius_mm = 20\nangle_deg = 1\nspeed_rpm = [1, 10]\ntorque_un_m = [{cone}, {}]\n[[plates]]\nradius_mm = 20\ngap_mm = 0.5\n\
         speed_rpm = [1, 10]\ntorque_un_m = [{plates}, {}]\n[[run]]\ntimed = \"mark\"\ntilt_deg = 30\nthickness_mm = 1\ndistance_mm = 50\n\
         seconds = {film}\n[[run]]\ntimed = \"dose\"\ntilt_deg = 45\ndose_ml = 0.5\nwidth_mm = 10\ndistance_mm = 80\nseconds = {dose}\n",
        10.0 * cone,
        10.0 * plates
    );
    let answer = answer(&text);
    let entries = answer["entries"].as_array().unwrap();
    assert_eq!(entries.len(), 4);
    for entry in entries {
        for point in entry["points"].as_array().unwrap() {
            near(&point["viscosity"], eta, 1e-9);
        }
    }
}

#[test]
fn a_disc_states_what_it_shows_and_gives_the_points_to_be_fitted() {
    let answer = answer(DISC);
    let entry = &answer["entries"][0];
    for (statement, dial) in entry["statements"].as_array().unwrap().iter().zip(DIALS) {
        near(&statement["viscosity"], dial * 1e-3, 5e-3);
        assert!(statement["words"].as_str().unwrap().ends_with("rpm, 25 C, 24 h old"), "{statement}");
    }
    for point in entry["points"].as_array().unwrap() {
        let rate = point["shear_rate"]["value"].as_f64().unwrap();
        near(&point["stress"], 12.0 * rate.powf(0.35), 5e-3);
    }
    let curve = run_with(&["flow", "read", "-", "--curve"], DISC.as_bytes());
    assert_eq!(curve.code, 0, "{}", curve.err);
    let fit = run_with(&["flow", "fit", "-", "--model", "power-law", "--json"], curve.out.as_bytes());
    assert_eq!(fit.code, 0, "{}\n{}", fit.err, curve.out);
    let fitted = fit.json();
    assert_eq!(fitted["curves"][0]["name"], "T7");
    assert_eq!(fitted["curves"][0]["temperature_c"], 25.0);
    let parameters = &fitted["curves"][0]["models"][0]["parameters"];
    near(&parameters[0], 12.0, 0.01);
    near(&parameters[1], 0.35, 0.01);
}

#[test]
fn what_keeps_two_viscosities_apart_is_said() {
    let other = DISC.replace("T7", "T8").replace("temperature_c = 25\n", "temperature_c = 20\n");
    let pair = answer(&format!("{DISC}{other}"))["beside"][0].clone();
    assert_eq!(pair["entries"][1], "T8 (disc 2)");
    near(&pair["ratio"], 1.0, 1e-12);
    let unlike: Vec<&Value> =
        pair["unlike"].as_array().unwrap().iter().map(|unlike| &unlike["condition"]).collect();
    assert_eq!(unlike, ["temperature"]);
    assert_eq!(pair["ratio"]["notes"][0]["code"], "not-the-same-conditions");
    let said = run_with(&["flow", "read", "-"], format!("{DISC}{DISC}").as_bytes());
    assert!(said.out.contains("the same conditions"), "{}", said.out);
    let bare = "[[disc]]\nspindle = \"disc, 27 mm\"\nspeed_rpm = [20]\ndial_viscosity_mpa_s = [5292]\n";
    let said = run_with(&["flow", "read", "-"], format!("{DISC}{bare}").as_bytes());
    for wanted in ["temperature not stated", "age not stated", "no points:", "Side by side"] {
        assert!(said.out.contains(wanted), "{wanted}: {}", said.out);
    }
}

#[test]
fn what_is_wrong_is_told_with_its_place() {
    for (text, place, wanted) in [
        ("", "1:1", "no reading"),
        ("[[cup]]\ncup = \"iso-2431-4\"\nseconds = \"62,5\"\n", "3:11", "decimal point"),
        ("[[cup]]\ncup = \"iso-2431-4\"\nseconds = 400\n", "1:", "30 to 100 s"),
        (
            "[[disc]]\nspindle = \"T-bar\"\nspeed_rpm = [20]\nreading_percent = [40]\n",
            "2:11",
            "which spindle",
        ),
        ("[[cone]]\nradius = 20\n", "2:1", "radius_mm"),
        ("[[cone]\n", "1:", "TOML"),
    ] {
        let said = run_with(&["flow", "read", "-"], text.as_bytes());
        assert_eq!(said.code, 2, "{}\n{text}", said.out);
        assert!(said.err.contains(&format!("standard input:{place}")), "{place}: {}", said.err);
        assert!(said.err.contains(wanted) && !said.err.contains("panicked"), "{wanted}: {}", said.err);
    }
    let single = "[[cup]]\ncup = \"iso-2431-4\"\nseconds = 62\n";
    let said = run_with(&["flow", "read", "-", "--curve"], single.as_bytes());
    assert_eq!(said.code, 2);
    assert!(said.err.contains("three points"), "{}", said.err);
}

#[test]
fn the_example_of_the_help_is_answered_and_the_schema_shown() {
    let help = run(&["flow", "read", "--help"]).out;
    let from = help.find("[[disc]]").unwrap();
    let to = help.find("levigate flow read bench.toml").unwrap();
    let said = run_with(&["flow", "read", "-"], &help.as_bytes()[from..to]);
    assert_eq!(said.code, 0, "{}", said.err);
    assert!(said.out.contains("gel, lot 4"), "{}", said.out);
    assert!(run(&["schema", "flow-read"]).json()["properties"]["plates"].is_object());
}

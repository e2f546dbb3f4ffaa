//! The verbs of making: worked answers through the door, complaints.

use crate::program::{run, run_with};
use serde_json::Value;

/// Verbs that take one file.
const VERBS: [&str; 6] = ["evaporate", "heat", "lethality", "mix", "scale", "uncertainty"];

/// A hold.
pub(crate) const HOLD: &str =
    "ph = 5.2\nwater_activity = 0.98\n[record]\npoints = [[0, 25], [50, 75], [70, 75], [170, 25]]\n";

/// A batch that was weighed and whose temperature was logged.
pub(crate) const WEIGHED: &str = "batch_g = 200\nwater_percent = 92\nvessel = \"beaker-250-ml\"\nopen_percent = 50\n[record]\n\
    points = [[0, 25], [15, 75], [35, 75], [75, 30]]\n[balance]\ntare_g = 182.46\ngross_g = 375.62\nsamples_g = 2.10\n\
    [[content]]\nname = \"Hypromellose\"\npercent = 1.2\n";

/// A tonne of gel in a jacket.
pub(crate) const TONNE: &str = "batch_kg = 1000\nwater_percent = 88\nvessel = \"vessel-1200-l\"\nopen_percent = 5\nfrom_c = 20\nto_c = 75\n\
    hold_min = 20\ndown_to_c = 40\nrpm = 60\n[jacket]\nheat_c = 95\ncool_c = 15\n[liquid]\nmodel = \"power-law\"\nK = 3.0\nn = 0.4\n";
/// A beaker on a hot plate.
pub(crate) const BEAKER: &str = "batch_g = 200\nvessel = \"beaker-250-ml\"\nto_c = 75\nhold_min = 20\ndown_to_c = 40\n[plate]\npower_w = 300\n";

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
        ("batch_g = 200\n[vessel]\nlike = \"beaker-250-ml\"\ndiametre_mm = 70\n", 4, "diameter_mm"),
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
fn a_tonne_with_a_typed_coefficient_warms_and_cools_as_the_closed_form_says() {
    // 1000 kg, 4180 J/(kg K), 4.41 m2, 350 W/(m2 K), jacket 95 C: 59.7 min from 20 to 75 C; cooled with 15 C as fast as it can.
    let text = "batch_kg = 1000\nheat_capacity_j_kg_k = 4180\nopen_percent = 0\nfrom_c = 20\nto_c = 75\ndown_to_c = 40\n\
        [vessel]\nlike = \"vessel-1200-l\"\nwall = { material = \"stainless-steel\", thickness_mm = 0.05 }\n\
        [losses]\nwall_w_m2_k = 0\nsurface_w_m2_k = 0\nemissivity = 0\n\
        [jacket]\nheat_c = 95\ncool_c = 15\nu_w_m2_k = 350\narea_m2 = 4.41\n";
    let said = answer("heat", text);
    let minutes = said["heat_up"]["time"]["value"].as_f64().unwrap();
    assert!((minutes / 59.66 - 1.0).abs() < 2e-3, "{minutes}");
    let minutes = said["cool_down"]["time"]["value"].as_f64().unwrap();
    assert!((minutes / (55.32 * 250.0 / 350.0) - 1.0).abs() < 2e-3, "{minutes}");
    assert!((said["margin"]["value"].as_f64().unwrap() - 24.97).abs() < 0.01);
}

#[test]
fn a_plate_says_its_overshoot_and_a_weak_one_what_it_reaches() {
    let said = answer("heat", BEAKER);
    let (overshoot, off) = (&said["overshoot"]["value"], &said["switch_off"]["value"]);
    assert!(overshoot.as_f64().unwrap() > 1.0 && off.as_f64().unwrap() < 75.0);
    let weak = answer("heat", &BEAKER.replace("300", "30"));
    let most = weak["reachable"]["value"].as_f64().unwrap();
    assert!((30.0..60.0).contains(&most));
    let why = weak["heat_up"]["time"]["refused"].as_str().unwrap();
    assert!(why.contains("at most") && weak["hold"]["time"]["refused"] == why);
    let high = answer("heat", &format!("{}[air]\naltitude_m = 3000\n", BEAKER.replace("75", "92")));
    assert!(high["heat_up"]["time"]["refused"].as_str().unwrap().contains("boils at 90 C"));
}

#[test]
fn what_heat_must_know_is_asked_with_line_and_field() {
    for (text, line, word) in [
        ("batch_g = 200\nto_c = 75\n", 1, "vessel is missing"),
        ("batch_g = 200\nvessel = \"beaker-250-ml\"\n", 1, "to_c is missing"),
        ("batch_g = 200\nvessel = \"beaker-250-ml\"\nto_c = 750\n", 3, "between"),
        (
            "batch_g = 200\nvessel = \"beaker-250-ml\"\nfrom_c = 80\nto_c = 75\n",
            4,
            "above the temperature to be reached",
        ),
        (
            "batch_g = 200\nvessel = \"beaker-250-ml\"\nto_c = 75\n[jacket]\nheat_c = 95\nu_w_m2_k = 300\n",
            4,
            "no jacket",
        ),
        (
            "batch_kg = 800\nvessel = \"vessel-1200-l\"\nto_c = 75\n[jacket]\nheat_c = 95\n",
            4,
            "rpm is missing",
        ),
        (
            "batch_kg = 800\nvessel = \"vessel-1200-l\"\nto_c = 75\n[jacket]\ncool_c = 15\n",
            4,
            "nothing heats",
        ),
        (
            "batch_kg = 800\nvessel = \"vessel-1200-l\"\nto_c = 75\n[plate]\n[jacket]\nheat_c = 95\n",
            4,
            "leave out",
        ),
        (
            "batch_kg = 800\nvessel = \"vessel-1200-l\"\nto_c = 75\n[jacket]\nheat_c = 95\nlining_mm = 1\n",
            6,
            "lining_w_m_k",
        ),
        ("batch_g = 200\nvessel = \"beaker-250-ml\"\nto_c = 75\n[plate]\npower = 300\n", 5, "power_w"),
    ] {
        let said = run_with(&["heat", "-"], text.as_bytes());
        assert_eq!(said.code, 2, "{text}");
        assert!(
            said.err.contains(&format!("standard input:{line}:")) && said.err.contains(word),
            "{text}\n{}",
            said.err
        );
    }
}

#[test]
fn the_file_of_a_logger_stands_for_the_record() {
    let folder = tempfile::tempdir().unwrap();
    let log = folder.path().join("log.csv");
    let path = log.to_str().unwrap();
    // Every 5 min; z 7: 431.9 units, where the mean of the lethal rates would say 469.
    let rows = [22, 35, 47, 57, 65, 70, 70, 70, 66, 58, 49, 41, 34].iter().enumerate();
    let table: String = rows.map(|(at, warm)| format!("10:{:02}:00;{warm},0\n", 5 * at % 60)).collect();
    let table = table.replacen("10:00:00;34", "11:00:00;34", 1);
    std::fs::write(&log, format!("Time;Temperature (C)\n{table}")).unwrap();
    let said = run_with(&["lethality", "-", "--record", path, "--json"], b"ph = 5\n");
    assert_eq!(said.code, 0, "{}", said.err);
    let units = said.json();
    let units =
        units["units"].as_array().unwrap().iter().find(|unit| unit["key"] == "pasteurisation").unwrap();
    assert!((units["units"]["value"].as_f64().unwrap() - 431.94).abs() < 0.01);
    let said =
        run_with(&["evaporate", "-", "--record", path], b"batch_g = 200\nvessel = \"beaker-250-ml\"\n");
    assert!(said.code == 0 && said.out.contains("13 points"), "{}{}", said.out, said.err);
    std::fs::write(&log, "time,temperature\n0,20\n5,30\n").unwrap();
    let said = run_with(&["lethality", "-", "--record", path], b"");
    assert!(said.code == 2 && said.err.contains("the unit of the times"), "{}", said.err);
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

/// A gum that thickens in a beaker, with readings.
pub(crate) const STIRRED: &str = "speed_rpm = 600\nbatch_kg = 0.2\nvessel = \"beaker-250-ml\"\n[liquid]\nmodel = \"herschel-bulkley\"\n\
    tau0 = 8.0\nK = 4.0\nn = 0.45\nfactor = 1.3\n[start]\nviscosity_mpa_s = 1.0\n[grains]\ndiameter_um = 150\n\
    density_kg_m3 = 1500\n[gum]\nkind = \"xanthan\"\ngum_g = 1.0\npolyol_g = 2.0\n\
    readings = [[5, 900], [15, 1900], [30, 2600], [60, 2950], [1440, 3050]]\n";

/// Bench, pilot and plant of a thin product, with what the plant batch costs.
pub(crate) const SCALED: &str = "[liquid]\nmodel = \"newton\"\neta = 0.0015\ndensity_kg_m3 = 1006\n\
    [bench]\nvessel = \"beaker-600-ml\"\nbatch_kg = 0.5\nspeed_rpm = 300\n\
    [pilot]\nvessel = \"kettle-50-l\"\nbatch_kg = 40\nspeed_rpm = 140\n[plant]\nvessel = \"vessel-1200-l\"\nbatch_kg = 600\n\
    [[addition]]\nname = \"premix\"\nminutes = 2\nkg = 0.015\n[[addition]]\nname = \"powder\"\nminutes = 1\npowder = true\n\
    [making]\nmaterial_per_kg = \"2.10\"\nloss_percent = 2.5\nfill_ml = 400\n[[making.pack]]\nname = \"bottle\"\neach = \"0.35\"\n\
    [[making.work]]\nname = \"people\"\nhours = 8\ncount = 2\nper_hour = 24\n\
    [[making.buy]]\nname = \"an active\"\nneed_kg = 2.65\npack_kg = 1\nbreaks = [[1, 45], [5, 38]]\n";

fn holds<'a>(verdicts: &'a Value, question: &str) -> &'a str {
    let verdicts = verdicts.as_array().unwrap();
    let found = verdicts.iter().find(|verdict| verdict["question"] == question);
    found.unwrap_or_else(|| panic!("{question}: {verdicts:?}"))["holds"].as_str().unwrap()
}

#[test]
fn a_batch_that_thickens_stops_blending_and_its_gum_is_told_its_time() {
    let said = answer("mix", STIRRED);
    let (start, end) = (&said["at_start"], &said["stirred"]);
    assert_eq!(start["regime"], "turbulent");
    assert!(start["blend_time"]["value"].as_f64().unwrap() < 5.0);
    assert_eq!(end["regime"], "transitional");
    assert_eq!(holds(&end["verdicts"], "the whole batch is blended"), "not");
    assert!(end["blend_time"]["refused"].as_str().unwrap().contains("anchor"));
    assert!(end["cave"]["value"].as_f64().unwrap() > 35.0);
    // Half of the polyol that xanthan wants at least, and a fit of its readings.
    let gum = &said["gum"];
    let minds = gum["minds"].as_array().unwrap();
    assert!(minds.iter().any(|mind| mind.as_str().unwrap().contains("too few to wet")), "{minds:?}");
    assert_eq!(gum["to_95"]["grade"], "calibrated");
    assert_eq!(gum["measure_after"]["value"], 24.0);
}

#[test]
fn a_formula_gives_its_flow_and_what_wets_its_gum() {
    let question = "speed_rpm = 400\nbatch_kg = 0.2\nvessel = \"beaker-250-ml\"\n";
    let formula = "examples/scenarios/5-hypromellose-clear-gel.toml";
    let said = run_with(&["mix", "-", "--formula", formula, "--json"], question.as_bytes());
    assert_eq!(said.code, 0, "{}", said.err);
    let said = said.json();
    assert!(said["liquid"]["from"].as_str().unwrap().contains("predicted"));
    // 3 % glycerin and 5 % propanediol wet the hypromellose.
    let given = said["gum"]["wetting_given"]["value"].as_f64().unwrap();
    assert!((4.0..12.0).contains(&given), "{given}");
    let twice = format!("{question}[liquid]\nmodel = \"newton\"\neta = 1.0\n");
    let said = run_with(&["mix", "-", "--formula", formula], twice.as_bytes());
    assert_eq!(said.code, 2, "{}", said.out);
}

#[test]
fn a_plant_has_its_speeds_times_bottles_and_ways_to_buy() {
    let said = answer("scale", SCALED);
    let steps = said["steps"].as_array().unwrap();
    assert_eq!(steps.len(), 2);
    let plant = &steps[1];
    let rule = |word: &str| {
        let rules = plant["rules"].as_array().unwrap();
        rules.iter().find(|row| row["rule"] == word).unwrap()["speed"]["value"].as_f64().unwrap()
    };
    // Tip speed by the diameters alone, 45 mm to 450 mm.
    assert!((rule("tip-speed") - 30.0).abs() < 1e-6);
    assert!(rule("reynolds") < rule("tip-speed") && rule("tip-speed") < rule("power-per-volume"));
    let recommended = &plant["recommended"];
    let speed = recommended["value"].as_f64().unwrap();
    assert!(recommended["low"].as_f64().unwrap() <= speed && speed <= recommended["high"].as_f64().unwrap());
    // ln(300/140) / ln(160/45) = 0.6008; 140 rpm (160/450)^0.6008 = 75.2 rpm.
    assert!((plant["exponent"]["value"].as_f64().unwrap() - 0.6008).abs() < 1e-4);
    assert!((plant["by_exponent"]["value"].as_f64().unwrap() - 75.2).abs() < 0.05);
    assert_eq!(said["cost"]["units"]["value"], 1453.0);
    assert_eq!(said["buy"][0]["ways"][0]["order_kg"]["value"], 3.0);
    assert!(plant["additions"][1]["time"]["value"].as_f64().unwrap() > 5.0);
}

#[test]
fn what_of_an_addition_stands_unmixed_is_the_time_to_blend_over_its_own() {
    let acid = SCALED.replace(
        "name = \"premix\"\nminutes = 2\nkg = 0.015\n",
        "name = \"acid\"\nminutes = 0.05\nkg = 0.015\nacts_at_once = true\n",
    );
    assert_ne!(acid, SCALED);
    for (text, at_once) in [(SCALED, false), (acid.as_str(), true)] {
        let said = answer("scale", text);
        let plant = &said["steps"][1];
        let number = |outcome: &Value| outcome["value"].as_f64().unwrap();
        let (bench, here) =
            (number(&said["bench"]["blend_time"]), number(&plant["at_recommended"]["blend_time"]));
        let addition = &plant["additions"][0];
        let [time, least, unmixed] = ["time", "least", "unmixed"].map(|key| number(&addition[key]));
        // Seconds and minutes; ten times of blending; all that goes in within one of them stands unmixed.
        assert!((least * 60.0 / (10.0 * here) - 1.0).abs() < 1e-9, "{least} {here}");
        assert!((unmixed * time * 60.0 / (100.0 * here) - 1.0).abs() < 1e-9, "{unmixed} {time} {here}");
        let by_habit = if at_once { 0.05 } else { 2.0 } * here / bench;
        assert!(
            (time - if at_once { by_habit.max(least) } else { by_habit }).abs() < 1e-9,
            "{time} {by_habit}"
        );
        assert_eq!(
            addition["notes"].as_array().unwrap().iter().any(|note| note["code"] == "acts-at-once"),
            at_once
        );
        if at_once {
            // Three seconds at the bench would be less than blends in: it is held back, and said.
            assert!(by_habit < least && addition["time"]["notes"].to_string().contains("held-back"));
            assert!((unmixed - 10.0).abs() < 1e-9);
        }
    }
}

/// A formula with a hot phase and all its prices.
const HOT: &str = r#"
[product]
name = "Warm gel"
type = "gel"
site = "face"
leave_on = true
[[phase]]
name = "A"
temperature_c = 75
[[phase.line]]
material = "Water"
remainder = true
[[phase.line]]
material = "Glycerin"
percent = 5
[[phase]]
name = "B"
temperature_c = 40
[[phase.line]]
material = "Sodium benzoate"
percent = 0.4
[[price]]
material = "Water"
per_kg = 0.10
currency = "EUR"
date = "2026-01-15"
[[price]]
material = "Glycerin"
per_kg = 1.40
currency = "EUR"
date = "2026-01-15"
[[price]]
material = "Sodium benzoate"
per_kg = 6.20
currency = "EUR"
date = "2026-01-15"
"#;

/// Bench and plant without a word about temperatures.
const UP: &str = "[bench]\nvessel = \"beaker-600-ml\"\nbatch_g = 500\nspeed_rpm = 300\n[plant]\nvessel = \"vessel-1200-l\"\nbatch_kg = 1000\n\
    jacket = { heat_c = 95, cool_c = 15 }\n[[addition]]\nname = \"premix\"\nminutes = 2\n\
    [making]\n[[making.work]]\nname = \"the vessel\"\nwhile_made = true\nper_hour = 40\n";

#[test]
fn the_steps_and_prices_of_a_formula_reach_the_plant() {
    let folder = tempfile::tempdir().unwrap();
    let formula = folder.path().join("warm.toml");
    std::fs::write(&formula, HOT).unwrap();
    let formula = formula.to_string_lossy().into_owned();
    let ask = |question: &str| {
        let said = run_with(&["scale", "-", "--formula", &formula, "--json"], question.as_bytes());
        assert_eq!(said.code, 0, "{}", said.err);
        said.json()
    };
    let said = ask(UP);
    assert!(said["course"].as_str().unwrap().contains("steps of the formula"), "{}", said["course"]);
    let value = |of: &Value| of["value"].as_f64().unwrap();
    let plant = &said["heating"][1];
    assert_eq!(plant["words"], "plant");
    let parts = value(&plant["warm"]) + value(&plant["hold"]) + value(&plant["cool"]);
    assert!((value(&plant["time"]) - parts).abs() < 1e-9);
    assert!(value(&said["heating"][0]["water_percent"]) > 3.0 * value(&plant["water_percent"]));
    // The vessel is taken as long as it warms, holds, cools and is added to.
    let added = value(&said["steps"][0]["additions"][0]["time"]);
    assert!((60.0 * value(&said["vessel_hours"]) - parts - added).abs() < 1e-9);
    let hours = (1000.0 * value(&said["vessel_hours"])).round() / 1000.0;
    assert!((value(&said["cost"]["work"]) - 40.0 * hours).abs() < 1e-9);
    // 94.6 % at 0.10, 5 % at 1.40, 0.4 % at 6.20: 0.1894 each kilogram.
    assert!((value(&said["cost"]["material"]) - 189.4).abs() < 1e-6, "{}", said["cost"]["material"]);
    assert!(said["cost_from"].as_str().unwrap().contains("EUR"));
    // The same temperatures asked of `heat` itself, with the speed and the power found for the plant.
    let at = &said["steps"][0]["at_recommended"];
    let hot = "[heat]\nto_c = 75\nhold_min = 20\ndown_to_c = 40\nwater_percent = 88\n";
    let typed = format!("[liquid]\nmodel = \"newton\"\neta = 0.5\ndensity_kg_m3 = 1010\n{UP}{hot}");
    let said_typed = answer("scale", &typed);
    let typed_at = &said_typed["steps"][0]["at_recommended"];
    assert!(at["speed"]["value"].is_number());
    let alone = answer(
        "heat",
        &format!(
            "batch_kg = 1000\nwater_percent = 88\ndensity_kg_m3 = 1010\nvessel = \"vessel-1200-l\"\nto_c = 75\nhold_min = 20\ndown_to_c = 40\n\
             rpm = {}\nstirrer_w = {}\n[jacket]\nheat_c = 95\ncool_c = 15\n[liquid]\nmodel = \"newton\"\neta = 0.5\ndensity_kg_m3 = 1010\n",
            value(&typed_at["speed"]),
            value(&typed_at["power"])
        ),
    );
    let plant = &said_typed["heating"][1];
    for (ours, theirs) in [("warm", "heat_up"), ("hold", "hold"), ("cool", "cool_down")] {
        let (ours, theirs) = (value(&plant[ours]), value(&alone[theirs]["time"]));
        assert!((ours / theirs - 1.0).abs() < 1e-6, "{ours} {theirs}");
    }
    let water: f64 =
        ["heat_up", "hold", "cool_down"].iter().map(|stage| value(&alone[*stage]["water"])).sum();
    assert!((value(&plant["water"]) / water - 1.0).abs() < 1e-6);
    assert!((value(&plant["water_percent"]) - water / 10_000.0).abs() < 1e-9);
}

#[test]
fn what_cannot_be_told_of_heat_is_said_where_it_stands() {
    let liquid = "[liquid]\nmodel = \"newton\"\neta = 0.5\n";
    let cold = answer("scale", &format!("{liquid}{UP}"));
    assert_eq!(cold["heating"].as_array().unwrap().len(), 0);
    assert!(cold["course"].as_str().unwrap().contains("not asked"));
    let bare = UP.replace("jacket = { heat_c = 95, cool_c = 15 }\n", "");
    let said = answer("scale", &format!("{liquid}{bare}[heat]\nto_c = 75\n"));
    let why = said["heating"][1]["time"]["refused"].as_str().unwrap();
    assert!(why.contains("[plant.jacket]"), "{why}");
    assert!(
        said["cost"].is_null() && said["cost_from"].as_str().unwrap().contains("hours"),
        "{}",
        said["cost_from"]
    );
    for (from, to, words) in [
        ("batch_g = 500", "batch_g = 500\nbatch_kg = 0.5", "given twice"),
        ("batch_g = 500\n", "", "batch_g = 200 or batch_kg = 1000"),
        ("heat_c = 95, ", "", "heat_c is missing"),
        ("heat_c = 95", "heat_c = 900", "heat_c is 900"),
        ("while_made = true", "while_made = true\nhours = 3", "leave out hours or while_made"),
        ("cool_c = 15 }", "cool_c = 15 }\nplate = { power_w = 500 }", "leave out the plate or the jacket"),
    ] {
        assert!(UP.contains(from), "{from}");
        let said = run_with(&["scale", "-"], format!("{liquid}{}", UP.replacen(from, to, 1)).as_bytes());
        assert_eq!(said.code, 2, "{to}\n{}", said.out);
        assert!(said.err.contains(words), "{to}: {words}\n{}", said.err);
    }
    let page =
        run_with(&["scale", "-"], format!("{liquid}{UP}[heat]\nto_c = 75\ndown_to_c = 40\n").as_bytes());
    assert!(
        page.out.contains("Warming and cooling") && page.out.contains("hours of the plant vessel"),
        "{}",
        page.out
    );
}

#[test]
fn what_is_wrong_with_a_vessel_is_said_with_its_field() {
    let speed = "speed_rpm = 600\nbatch_kg = 0.2\n";
    let liquid = "[liquid]\nmodel = \"newton\"\neta = 1.0\n";
    for (vessel, word) in [
        ("vessel = \"beaker-250\"\n", "use one of"),
        ("vessel = \"vessel-1200-l-anker\"\n", "vessel-1200-l-anchor"),
        ("", "vessel is missing"),
        ("[vessel]\nlike = \"beaker-250-ml\"\nimpeller = { diameter_mm = 80 }\n", "does not fit"),
        ("[vessel]\nlike = \"beaker-250-ml\"\nimpellor = {}\n", "did you mean impeller"),
        ("[vessel]\ndiameter_mm = 100\n", "height_mm is missing"),
        ("[vessel]\ndiameter_mm = 100\nheight_mm = 150\n", "impeller is missing"),
        ("[vessel]\nlike = \"beaker-250-ml\"\nheight_mm = 40\n", "do not go into the vessel"),
        ("[vessel]\nlike = \"beaker-250-ml\"\nimpeller = { blades = 2.5 }\n", "whole number"),
    ] {
        let said = run_with(&["mix", "-"], format!("{speed}{vessel}{liquid}").as_bytes());
        assert_eq!(said.code, 2, "{vessel}{}", said.out);
        assert!(said.err.contains(word), "{vessel}\n{}", said.err);
    }
    let negative = SCALED.replace("loss_percent = 2.5", "loss_percent = 100");
    let said = run_with(&["scale", "-"], negative.as_bytes());
    assert_eq!(said.code, 2);
    assert!(said.err.contains("loss_percent is 100"), "{}", said.err);
}

#[test]
fn a_thick_gel_is_never_given_a_speed_that_does_not_blend_it() {
    let gel = |vessel: &str, head: &str| {
        format!(
            "{head}[liquid]\nmodel = \"herschel-bulkley\"\ntau0 = 30.0\nK = 20.0\nn = 0.45\n\
             [bench]\nvessel = \"beaker-250-ml\"\nbatch_kg = 0.2\nspeed_rpm = 600\n\
             [plant]\nvessel = \"{vessel}\"\nbatch_kg = 1000\n"
        )
    };
    let plant = |text: &str| answer("scale", text)["steps"][0].clone();
    let open = plant(&gel("vessel-1200-l", ""));
    let low = open["recommended"]["low"].as_f64().unwrap();
    let mix = format!(
        "speed_rpm = {low}\nbatch_kg = 1000\nvessel = \"vessel-1200-l\"\n[liquid]\nmodel = \"herschel-bulkley\"\n\
         tau0 = 30.0\nK = 20.0\nn = 0.45\n"
    );
    let slower = mix.replace(&format!("{low}"), &format!("{}", 0.98 * low));
    assert!(answer("mix", &slower)["stirred"]["blend_time"]["refused"].is_string());
    let because = open["because"].to_string();
    assert!(because.contains("does not blend the batch"), "{because}");
    // Held to a slow tip it is given no speed, and told what to take.
    let held = plant(&gel("vessel-1200-l", "tip_limit_m_s = 3\n"));
    assert!(held["recommended"]["refused"].as_str().unwrap().contains("anchor"));
    // What sweeps the wall has one.
    let anchor = plant(&gel("vessel-1200-l-anchor", ""));
    assert!(anchor["recommended"]["value"].as_f64().unwrap() > 5.0);
    assert!(anchor["at_recommended"]["blend_time"]["value"].is_number());
}

//! Damaged questions about making, and logger files: every door answers or says what is wrong, where, and what to do; nothing panics, hangs
//! or shows a number that is none.

use jiff::civil::date;
use levigate_evidence::damage::damaged;
use levigate_facts::{Facts, shipped};
use levigate_project::diagnostic::Diagnostic;
use levigate_project::flow_table::temperature_log;
use levigate_project::making_file::uncertainty;
use levigate_project::workbench::making::{
    evaporate::evaporate, heat::heat, lethality::lethality, mix::mix, scale::scale, uncertainty as how_sure,
};
use levigate_project::workbench::procedure::procedure;
use proptest::prelude::*;
use serde_json::Value;
use std::sync::LazyLock;

static FACTS: LazyLock<Facts> = LazyLock::new(|| shipped().expect("the shipped facts can be read"));

const HOLD: &str =
    "ph = 5.2\nwater_activity = 0.98\n[record]\npoints = [[0, 25], [50, 75], [70, 75], [170, 25]]\n";
const WEIGHED: &str = "batch_g = 200\nwater_percent = 92\nvessel = \"beaker-250-ml\"\nopen_percent = 50\n[record]\n\
    points = [[0, 25], [15, 75], [35, 75], [75, 30]]\n[balance]\ntare_g = 182.46\ngross_g = 375.62\nsamples_g = 2.10\n\
    [[content]]\nname = \"Hypromellose\"\npercent = 1.2\n";
const TONNE: &str = "batch_kg = 1000\nwater_percent = 88\nvessel = \"vessel-1200-l\"\nopen_percent = 5\nfrom_c = 20\nto_c = 75\n\
    hold_min = 20\ndown_to_c = 40\nrpm = 60\n[jacket]\nheat_c = 95\ncool_c = 15\n[liquid]\nmodel = \"power-law\"\nK = 3.0\nn = 0.4\n";
const BEAKER: &str = "batch_g = 200\nvessel = \"beaker-250-ml\"\nto_c = 75\nhold_min = 20\ndown_to_c = 40\n[plate]\npower_w = 300\n";
const STIRRED: &str = "speed_rpm = 600\nbatch_kg = 0.2\nvessel = \"beaker-250-ml\"\n[liquid]\nmodel = \"herschel-bulkley\"\n\
    tau0 = 8.0\nK = 4.0\nn = 0.45\nfactor = 1.3\n[start]\nviscosity_mpa_s = 1.0\n[grains]\ndiameter_um = 150\n\
    density_kg_m3 = 1500\n[gum]\nkind = \"xanthan\"\ngum_g = 1.0\npolyol_g = 2.0\n\
    readings = [[5, 900], [15, 1900], [30, 2600], [60, 2950], [1440, 3050]]\n";
const SCALED: &str = "[liquid]\nmodel = \"newton\"\neta = 0.0015\ndensity_kg_m3 = 1006\n\
    [bench]\nvessel = \"beaker-600-ml\"\nbatch_kg = 0.5\nspeed_rpm = 300\n\
    [pilot]\nvessel = \"kettle-50-l\"\nbatch_kg = 40\nspeed_rpm = 140\n[plant]\nvessel = \"vessel-1200-l\"\nbatch_kg = 600\n\
    [[addition]]\nname = \"premix\"\nminutes = 2\nkg = 0.015\n[making]\nmaterial_per_kg = \"2.10\"\nloss_percent = 2.5\nfill_ml = 400\n\
    [[making.pack]]\nname = \"bottle\"\neach = \"0.35\"\n[[making.work]]\nname = \"people\"\nhours = 8\ncount = 2\nper_hour = 24\n";
const TONER: &str = "[product]\nname = \"Toner\"\ntype = \"toner\"\nsite = \"face\"\nleave_on = true\n[target]\nph = [4.1, 4.3]\n\
    [[phase]]\nname = \"A\"\n[[phase.line]]\nmaterial = \"Water\"\nremainder = true\n[[phase.line]]\nmaterial = \"Citric acid\"\npercent = 0.15\n\
    [uncertainty]\nbatch_g = 200\ndraws = 1000\nseed = 7\n";
const STEPS: &str = "[product]\nname = \"Gel\"\ntype = \"gel\"\nsite = \"face\"\nleave_on = true\n[[phase]]\nname = \"A\"\n\
    [[phase.line]]\nmaterial = \"Water\"\nremainder = true\n[[phase.line]]\nmaterial = \"Xanthan gum, 80 mesh\"\npercent = 0.5\n\
    [[phase]]\nname = \"B\"\n[[phase.line]]\nmaterial = \"Glycerin 99.5 %\"\npercent = 5\n\
    [[step]]\ndoes = \"add\"\nlines = [{ material = \"Water\" }]\n[[step]]\ndoes = \"heat\"\ntemperature_c = [75, 78]\nminutes = [20, 25]\n";
const LOGS: [&str; 3] = [
    "time (min),temperature (C)\n0,22\n5,35\n10,47.25\n60,75\n",
    "logger 7\n\nZeit [min];Temperatur [°C]\n0;22,5\n5;35,0\n10;47,25\n",
    "time;temperature (C)\n2026-11-27 23:50:30;70,5\n2026-11-28 00:20:30;40,5\n",
];

/// A refusal says what, where and what to do.
fn told(problems: &[Diagnostic], text: &str) {
    assert!(!problems.is_empty());
    let lines = text.lines().count().max(1) + 1;
    for problem in problems {
        let said = !problem.code.is_empty() && !problem.what.is_empty() && !problem.what_now.is_empty();
        assert!(said && problem.line <= lines, "{problem:?}");
    }
}

/// An answer shows no number that is none: a result without a value says why.
fn sound(answer: &impl serde::Serialize) {
    fn walk(value: &Value) {
        match value {
            Value::Object(fields) => {
                if fields.contains_key("grade") && fields.contains_key("method") {
                    assert_eq!(fields["value"].is_null(), fields.contains_key("refused"), "{value}");
                }
                fields.values().for_each(walk);
            }
            Value::Array(items) => items.iter().for_each(walk),
            _ => {}
        }
    }
    walk(&serde_json::to_value(answer).expect("an answer is JSON"));
}

fn answered<T: serde::Serialize>(answer: Result<T, Vec<Diagnostic>>, text: &str) {
    match answer {
        Ok(reading) => sound(&reading),
        Err(problems) => told(&problems, text),
    }
}

fn every_question(text: &str) {
    let file = ("x.toml", text);
    answered(heat(&FACTS, file), text);
    answered(lethality(&FACTS, file, None), text);
    answered(evaporate(&FACTS, file, None), text);
    match mix(&FACTS, file, None) {
        Ok(answer) => sound(&answer.reading),
        Err(problems) => told(&problems, text),
    }
    match scale(&FACTS, (date(2026, 11, 24), "eu"), file, None) {
        Ok(answer) => sound(&answer.reading),
        Err(problems) => told(&problems, text),
    }
}

fn every_question_of_a_formula(text: &str) {
    match uncertainty::read("x.toml", text) {
        Ok(mut question) if question.formula.is_none() => {
            // The draws asked for may be very many; the reading is what is tried here.
            question.draws = 1000;
            let formula = uncertainty::formula_of(text);
            answered(
                how_sure::uncertainty(&FACTS, (date(2026, 11, 27), "eu"), ("x.toml", &formula), &question),
                &formula,
            );
        }
        Ok(_) => {}
        Err(problems) => told(&problems, text),
    }
    answered(procedure(&FACTS, "x.toml", text).map(|made| made.0), text);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, max_shrink_iters: 300, ..ProptestConfig::default() })]

    #[test]
    fn damaged_questions(text in damaged([HOLD, WEIGHED, TONNE, BEAKER, STIRRED, SCALED].map(str::to_owned).to_vec())) {
        every_question(&text);
    }

    #[test]
    fn damaged_procedures_and_uncertainties(text in damaged(vec![STEPS.to_owned(), TONER.to_owned()])) {
        every_question_of_a_formula(&text);
    }

    #[test]
    fn any_text(text in "\\PC{0,200}") {
        every_question(&text);
        every_question_of_a_formula(&text);
    }

    #[test]
    fn damaged_logs_and_any_bytes_as_logs(text in damaged(LOGS.map(str::to_owned).to_vec()), bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        for bytes in [text.as_bytes(), &bytes] {
            match temperature_log("log.csv", bytes) {
                Ok(log) => {
                    answered(lethality(&FACTS, ("x.toml", "ph = 5.2\n"), Some(&log)), "ph = 5.2\n");
                }
                Err(problems) => assert!(problems.iter().all(|one| !one.what.is_empty() && !one.what_now.is_empty())),
            }
        }
    }
}

#[test]
fn the_undamaged_are_answered() {
    let right =
        |answer: Result<(), Vec<Diagnostic>>| answer.unwrap_or_else(|problems| panic!("{problems:?}"));
    for text in [TONNE, BEAKER] {
        right(heat(&FACTS, ("x.toml", text)).map(drop));
    }
    right(lethality(&FACTS, ("x.toml", HOLD), None).map(drop));
    right(evaporate(&FACTS, ("x.toml", WEIGHED), None).map(drop));
    right(mix(&FACTS, ("x.toml", STIRRED), None).map(drop));
    right(scale(&FACTS, (date(2026, 11, 24), "eu"), ("x.toml", SCALED), None).map(drop));
    right(procedure(&FACTS, "x.toml", STEPS).map(drop));
    let question = uncertainty::read("x.toml", TONER).unwrap_or_else(|problems| panic!("{problems:?}"));
    let formula = uncertainty::formula_of(TONER);
    let asked = ("x.toml", formula.as_str());
    right(how_sure::uncertainty(&FACTS, (date(2026, 11, 27), "eu"), asked, &question).map(drop));
    for log in LOGS {
        right(temperature_log("log.csv", log.as_bytes()).map(drop));
    }
}

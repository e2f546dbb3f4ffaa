//! What is done at the beaker, from the command line: entries from a file, a logger's table, the pH advice, signatures.
#![cfg(unix)]

use crate::program::{Said, at, run};
use crate::serving::Server;
use serde_json::Value;
use std::path::Path;

const PASSWORD: &str = "grey pestle 41\n";

/// What a person writes down the day after: all kinds of table, numbers quoted and not.
const DAY_AFTER: &str = "[[entry]]\ndid = \"temperature\"\nvalue = 24.50\ninstrument = \"thermometer 2\"\nat = 2026-11-24T15:30:00Z\n\
    [[entry]]\ndid = \"checked\"\ntext = \"Colour\"\ndecision = \"the same\"\nat = \"2026-11-24T15:31:00Z\"\n\
    [[reading]]\nquantity = \"ph\"\nvalue = \"5,62\"\ntemperature_c = 23\nage = \"1 day\"\n\
    [[observation]]\ntext = \"Clear, no gel at the wall\"\n";

/// The sample workspace, with nobody serving it.
fn sample() -> tempfile::TempDir {
    let home = tempfile::tempdir().unwrap();
    assert_eq!(Server::start(home.path(), &[]).end(), Some(0));
    home
}

fn log(home: &Path) -> String {
    let path = home.join("logger.csv");
    let rows: String =
        (0..=40).map(|minute| format!("{},{:.1}\n", minute * 60, 24.0 + f64::from(minute))).collect();
    std::fs::write(&path, format!("time s,temperature C\n{rows}")).unwrap();
    path.display().to_string()
}

/// Answers of the verbs, for the walk over all numbers.
pub(crate) fn answers() -> Vec<Said> {
    let home = sample();
    let log = log(home.path());
    vec![
        at(home.path(), &["batch", "enter", "QL-2611-04", "-", "--json"], DAY_AFTER),
        at(home.path(), &["batch", "course", "QL-2611-04", "--log", &log, "--json"], ""),
        at(home.path(), &["batch", "course", "QL-2611-04", "--vessel", "beaker-250-ml", "--json"], ""),
        at(home.path(), &["batch", "advise", "QL-2611-04", "--json"], ""),
        at(home.path(), &["batch", "sign", "QL-2611-04", "--as", "reviewed", "--json"], ""),
    ]
}

#[test]
fn a_file_of_entries_is_kept_whole_or_not_at_all_and_once() {
    let home = sample();
    let home = home.path();
    let entries = || {
        at(home, &["batch", "show", "QL-2611-04", "--json"], "").json()["entries"].as_array().unwrap().len()
    };
    let before = entries();
    let kept = at(home, &["batch", "enter", "QL-2611-04", "-", "--json"], DAY_AFTER);
    assert_eq!(kept.code, 0, "{}", kept.err);
    let kept = kept.json();
    let what: Vec<&str> =
        kept["kept"].as_array().unwrap().iter().map(|row| row["what"].as_str().unwrap()).collect();
    assert_eq!(what, ["temperature", "checked", "reading", "observation"]);
    assert_eq!(entries(), before + 2);
    // The digits stay as typed, and what has a moment is kept once.
    let shown = at(home, &["batch", "show", "QL-2611-04"], "");
    assert!(shown.out.contains("24.50"), "{}", shown.out);
    let again = at(home, &["batch", "enter", "QL-2611-04", "-", "--json"], DAY_AFTER).json();
    assert_eq!(
        (again["kept"][0]["already"].as_bool(), again["kept"][1]["already"].as_bool()),
        (Some(true), Some(true))
    );
    assert_eq!(entries(), before + 2);
    // One entry of two cannot be kept: neither is. The place is told.
    for (text, word) in [
        (
            "[[entry]]\ndid = \"note\"\ntext = \"fine\"\n[[entry]]\ndid = \"weighed\"\nline = 99\nnet = 1\n",
            "entry 2, line",
        ),
        (
            "[[entry]]\ndid = \"note\"\ntext = \"fine\"\n[[entry]]\ndid = \"temperature\"\nvalue = \"warm\"\n",
            "entry 2, value",
        ),
        (
            "[[entry]]\ndid = \"note\"\ntext = \"fine\"\n[[reading]]\nquantity = \"ph\"\nvalue = \"\"\n",
            "reading 1, value",
        ),
    ] {
        let refused = at(home, &["batch", "enter", "QL-2611-04", "-"], text);
        assert!(refused.code == 2 && refused.err.contains(word), "{text}\n{}", refused.err);
    }
    for (text, line, word) in [
        ("[[entry]]\ndid = \"note\"\ntext = \"a\"\nlien = 2\n", 4, "did you mean line"),
        ("[[entry]]\nstep = 2\n", 1, "did is missing"),
        ("[[entry]]\ndid = \"photo\"\n", 2, "not taken from a file"),
        ("[[entry]]\ndid = \"weighed\"\nline = \"two\"\nnet = 1\n", 3, "no number of a line"),
        ("[[entry]]\ndid = \"weighed\"\nnet = [1]\n", 3, "text or a number is expected"),
        ("", 1, "nothing is entered"),
    ] {
        let refused = at(home, &["batch", "enter", "QL-2611-04", "-"], text);
        assert!(
            refused.code == 2
                && refused.err.contains(&format!("standard input:{line}:"))
                && refused.err.contains(word),
            "{text}\n{}",
            refused.err
        );
    }
    assert_eq!(entries(), before + 2);
    assert_eq!(at(home, &["records", "check"], "").code, 0);
}

#[test]
fn the_example_of_the_help_runs_and_has_a_schema() {
    let home = sample();
    let help = run(&["batch", "enter", "--help"]);
    let lines = help.out.lines().skip_while(|line| !line.contains("levigate schema")).skip(1);
    let example: String = lines.map(|line| format!("{}\n", line.trim())).collect();
    let said = at(home.path(), &["batch", "enter", "QL-2611-04", "-"], &example);
    assert!(said.code == 0 && said.out.contains("observation"), "{example}\n{}", said.err);
    assert!(said.out.lines().all(|line| line.chars().count() <= 100), "{}", said.out);
    let schema: Value = run(&["schema", "batch-enter"]).json();
    let fields = schema["properties"]["entry"]["items"]["properties"].as_object().unwrap();
    assert!(fields.contains_key("did") && fields.contains_key("settled"));
}

#[test]
fn the_table_of_a_logger_is_kept_once_and_its_course_told() {
    let home = sample();
    let home = home.path();
    let log = log(home);
    let verb = ["batch", "course", "QL-2611-04", "--log", log.as_str()];
    let told = at(home, &verb, "");
    assert!(told.code == 0 && told.out.contains("41 points"), "{}{}", told.out, told.err);
    assert!(told.out.contains("hottest 64"), "{}", told.out);
    let again = at(home, &verb, "");
    assert!(again.out.contains("was kept before") && again.out.contains("41 points"), "{}", again.out);
    let none = at(home, &["batch", "course", "QL-2611-04", "--vessel", "bucket"], "");
    assert!(none.code == 2 && none.err.contains("bucket"), "{}", none.err);
}

#[test]
fn the_advice_is_that_of_the_page() {
    let home = sample();
    let said = at(home.path(), &["batch", "advise", "QL-2611-04"], "");
    assert_eq!(said.code, 0, "{}", said.err);
    let server = Server::start(home.path(), &[]);
    let json = at(home.path(), &["batch", "advise", "QL-2611-04", "--json"], "").json();
    let step = json["advice"]["step"].as_u64().unwrap();
    let (status, answer) = server.get(&format!("/api/batches/{}/steps/{step}/advice", batch_of(home.path())));
    assert_eq!(status, 200, "{answer}");
    let page: Value = serde_json::from_str(answer.split("\r\n\r\n").nth(1).unwrap()).unwrap();
    assert_eq!(page, json["advice"]);
    assert_eq!(server.end(), Some(0));
    let wrong = at(home.path(), &["batch", "advise", "QL-2611-04", "--step", "1"], "");
    assert!(wrong.code == 2 && wrong.err.contains("does not add to a pH"), "{}", wrong.err);
}

fn batch_of(home: &Path) -> String {
    let listed = at(home, &["batch", "show", "QL-2611-04", "--json"], "").json();
    listed["id"].as_str().unwrap().to_owned()
}

#[test]
fn a_signature_takes_a_password_where_people_log_in_and_another_hand_than_the_makers() {
    let home = sample();
    let home = home.path();
    let alone = at(home, &["batch", "sign", "QL-2611-04", "--as", "reviewed"], "");
    assert!(
        alone.code == 0 && alone.out.contains("Initialled by one person; nobody else has looked."),
        "{alone:?}"
    );
    for (name, role) in [("Ines Marrow", "admin"), ("Una Reed", "reviewer"), ("Ivo Stone", "bench")] {
        let added = at(home, &["people", "add", name, "--role", role, "--password-stdin"], PASSWORD);
        assert_eq!(added.code, 0, "{}", added.err);
    }
    let sign = |who: &str, signed_as: &str, more: &[&str], password: &str| {
        let verb = ["batch", "sign", "QL-2611-04", "--as", signed_as, "--who", who, "--password-stdin"];
        at(home, &[&verb[..], more].concat(), password)
    };
    let wrong = sign("Una Reed", "made", &[], "not the password\n");
    assert!(wrong.code == 2 && wrong.err.contains("name and the password"), "{}", wrong.err);
    let denied = sign("Ivo Stone", "released", &[], PASSWORD);
    assert!(
        denied.code != 0 && denied.err.contains("only a reviewer or an admin may sign batches off"),
        "{}",
        denied.err
    );
    assert_eq!(sign("Una Reed", "made", &[], PASSWORD).code, 0);
    let own = sign("UR", "released", &[], PASSWORD);
    assert!(own.code == 2 && own.err.contains("Una Reed signed for having made this batch"), "{}", own.err);
    let reason = sign("Una Reed", "released", &["--alone", "nobody else here"], PASSWORD);
    assert!(reason.out.contains("Made and released by Una Reed alone: nobody else here."), "{reason:?}");
    let other = sign("Ines Marrow", "reviewed", &["--json"], PASSWORD).json();
    assert_eq!(other["known_by"], "admin, authenticated by password");
    assert_eq!(other["seen_by"], "Made by one person, reviewed by another: Ines Marrow.");
    let checked = at(home, &["records", "check"], "");
    assert!(checked.code == 0 && checked.out.contains("5 signatures"), "{}{}", checked.out, checked.err);
    let shown = at(home, &["batch", "show", "QL-2611-04"], "");
    assert!(shown.out.contains("Made by one person, reviewed by another: Ines Marrow."), "{}", shown.out);
}

//! Sheets brought in from the command line: looked at, refused whole, written whole, and not twice.

use crate::program::{Said, root, run_with};
use crate::serving::Server;
use serde_json::Value;
use std::path::Path;

/// A formula without a q.s. line, with a row that is not understood.
pub(crate) const TABLE: &str =
    "Raw material;Lot;%;EUR/kg\nWater;W-1;95;0,02\nGlycerin 99.5 %;G-1;5;1,90\nBetaine;B-1;120;1.250\n";

const LOTS: &str = "Raw material,Lot,Received,Quantity\nMandelic acid,MA-1,03/04/2026,5 kg\nUnheard of,X-1,05/06/2026,1 kg\n";

fn import(home: &Path, arguments: &[&str], input: &str) -> Said {
    let workspace = home.join("levigate/sample").display().to_string();
    let all = [&["import"], arguments, &["--workspace", &workspace]].concat();
    run_with(&all, input.as_bytes())
}

fn made(said: &Said) -> Vec<String> {
    let made = said.json()["made"].as_array().unwrap().clone();
    made.iter().map(|one| one["name"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn lots_are_refused_whole_then_brought_in_and_are_there_the_next_time() {
    let home = tempfile::tempdir().unwrap();
    drop(Server::start(home.path(), &[]));
    let said = import(home.path(), &["lot", "-"], LOTS);
    assert_eq!(said.code, 2);
    for words in ["--days day-first", "Unheard of", "nothing was written"] {
        assert!(said.err.contains(words), "{words}: {}", said.err);
    }
    let dry = import(home.path(), &["lot", "-", "--dry-run"], LOTS);
    assert_eq!(dry.code, 0);
    assert!(dry.out.contains("It cannot be brought in yet"), "{}", dry.out);
    let arguments = ["lot", "-", "--days", "day-first", "--leave-out", "3", "--who", "Ines Marrow", "--json"];
    let said = import(home.path(), &arguments, LOTS);
    assert_eq!((said.code, made(&said)), (0, vec!["MA-1".to_owned()]), "{}", said.out);
    let again = import(home.path(), &arguments, LOTS);
    assert_eq!(again.code, 2);
    let errors = again.json()["errors"].as_array().unwrap().clone();
    assert!(errors[0]["what"].as_str().unwrap().contains("on file already"), "{errors:?}");
}

#[test]
fn a_table_is_looked_at_without_a_workspace_and_none_is_made() {
    let home = tempfile::tempdir().unwrap();
    let grams = "Raw material;g\nWater;q.s. to 300 g\nGlycerin 99.5 %;100\nXanthan gum;3\n";
    let dry = import(home.path(), &["formula", "-", "--dry-run"], grams);
    assert_eq!(dry.code, 0, "{}", dry.err);
    for words in ["--shares grams", "There is no workspace yet", "q.s. to 100", "33.3333 %"] {
        assert!(dry.out.contains(words), "{words}: {}", dry.out);
    }
    let dry = import(home.path(), &["formula", "-", "--dry-run", "--shares", "grams", "--json"], grams);
    let report = dry.json()["report"].clone();
    assert_eq!(report["ready"], true, "{report}");
    let words = report["formula"]["sum_words"].as_str().unwrap();
    assert!(words.contains("batch of 300 g") && words.contains("rounded to 4 places"), "{words}");
    assert_eq!(std::fs::read_dir(home.path()).unwrap().count(), 0, "something was made");
    assert_eq!(import(home.path(), &["formula", "-", "--shares", "grams"], grams).code, 1);
}

#[test]
fn a_formula_comes_in_with_cells_typed_over_and_is_found_by_its_name() {
    let home = tempfile::tempdir().unwrap();
    drop(Server::start(home.path(), &[]));
    let arguments = [
        "formula",
        "-",
        "--name",
        "Calm toner",
        "--cell",
        "C2=q.s. to 100",
        "--cell",
        "C4=1.25",
        "--columns",
        "lot=B,percent=#3",
        "--json",
    ];
    let said = import(home.path(), &arguments, TABLE);
    assert_eq!(said.code, 0, "{}{}", said.out, said.err);
    let report: Value = said.json();
    assert_eq!(report["report"]["formula"]["sum"]["value"], 6.25);
    assert_eq!(made(&said), ["Calm toner"]);
    let workspace = home.path().join("levigate/sample").display().to_string();
    let trials = crate::program::run(&["trials", "calm toner", "--workspace", &workspace, "--json"]);
    assert_eq!(trials.code, 0, "{}", trials.err);
}

#[test]
fn what_is_asked_wrongly_is_told_with_its_option() {
    let home = tempfile::tempdir().unwrap();
    drop(Server::start(home.path(), &[]));
    for (arguments, words) in [
        (["lot", "-", "--columns", "lot"], "write it like percent=Amount"),
        (["lot", "-", "--columns", "percent=#1"], "nothing a column of this list can hold"),
        (["lot", "-", "--cell", "7=x"], "is not a cell"),
        (["lot", "-", "--head", "70"], "row 70 is empty or not there"),
    ] {
        let said = import(home.path(), &arguments, LOTS);
        assert_eq!(said.code, 2, "{}", said.out);
        assert!(said.err.contains(words), "{words}: {}", said.err);
    }
    let said = import(home.path(), &["lot", "no-such-file.xlsx"], "");
    assert_eq!(said.code, 1);
}

#[test]
fn the_examples_of_the_help_run_as_they_stand() {
    let home = tempfile::tempdir().unwrap();
    drop(Server::start(home.path(), &[]));
    for what in ["formula", "material", "lot"] {
        let help = run_with(&["import", what, "--help"], b"").out;
        let line = help
            .lines()
            .find(|line| line.trim_start().starts_with("printf"))
            .unwrap_or_else(|| panic!("{help}"));
        let line = line.replace("levigate import", &format!("{} import", env!("CARGO_BIN_EXE_levigate")));
        let output = std::process::Command::new("sh")
            .args(["-c", line.trim()])
            .env("XDG_DATA_HOME", home.path())
            .current_dir(root())
            .output()
            .unwrap();
        let said = Said::of(&output);
        assert_eq!(said.code, 0, "{line}\n{}", said.err);
        assert!(said.out.contains("It can be brought in as it stands"), "{}", said.out);
    }
}

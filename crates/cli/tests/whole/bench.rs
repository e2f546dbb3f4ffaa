//! Trials and lots from the command line: read, entered, refused; also beside a server that has the workspace open.

use crate::program::{Said, program, root};
use crate::serving::Server;
use std::path::Path;
use std::process::Stdio;

/// Runs the program with a person's data in a folder of its own.
fn at(home: &Path, arguments: &[&str]) -> Said {
    Said::of(&program().args(arguments).env("XDG_DATA_HOME", home).stdin(Stdio::null()).output().unwrap())
}

#[cfg(unix)]
#[test]
fn trials_and_lots_are_read_beside_the_server_and_entered_without_it() {
    let home = tempfile::tempdir().unwrap();
    let none = at(home.path(), &["trials", "toner"]);
    assert_eq!(none.code, 1, "{}", none.err);
    assert!(none.err.contains("there is no workspace") && none.err.contains("help:"), "{}", none.err);

    let server = Server::start(home.path(), &[]);
    let told = at(home.path(), &["trials", "night toner"]);
    assert_eq!(told.code, 0, "{}", told.err);
    for words in [
        "Trial 2",
        "version 2, 200 g",
        "pH 3.8 instead of 4.4",
        "8.33",
        "struck out: Digits swapped",
        "10 % in water",
    ] {
        assert!(told.out.contains(words), "{words}: {}", told.out);
    }
    assert!(told.out.lines().all(|line| line.chars().count() <= 100), "{}", told.out);
    let between = at(home.path(), &["trials", "night toner", "--between", "1", "2"]);
    assert_eq!(between.code, 0, "{}", between.err);
    for words in
        ["From trial 1 to trial 2", "Read was -0.54: that agrees within", "for pH 4.4", "unexplained:"]
    {
        assert!(between.out.contains(words), "{words}: {}", between.out);
    }
    for words in ["Viscosity  at 10 1/s", "Dry matter", "Sodium Benzoate at work", "Cost per kg in EUR"] {
        assert!(between.out.contains(words), "{words}: {}", between.out);
    }
    assert!(between.out.lines().all(|line| line.chars().count() <= 100), "{}", between.out);
    let tree = at(home.path(), &["trials", "night toner", "--tree"]);
    assert_eq!(tree.code, 0, "{}", tree.err);
    for words in ["\u{25cf} 1", "\u{25cf} 2", "from 1", "pH 3.8 instead of 4.4", "nothing read"] {
        assert!(tree.out.contains(words), "{words}: {}", tree.out);
    }
    let missing = at(home.path(), &["trials", "night toner", "--between", "1", "9"]);
    assert_eq!(missing.code, 2);
    assert!(missing.err.contains("the formula has no trial 9"), "{}", missing.err);
    let file = root().join("examples/night-toner-mandelic.toml").display().to_string();
    let book = at(home.path(), &["trials", &file, "--json"]).json();
    assert_eq!(book["trials"].as_array().unwrap().len(), 2);
    assert_eq!(book["trials"][1]["readings"][1]["beside"]["stands"], "inside");
    assert!(book["trials"][1]["prediction"]["ph"]["method"].is_string());
    let lots = at(home.path(), &["lots"]);
    assert!(lots.out.contains("MA-2608-14") && lots.out.contains("99.2"), "{}", lots.out);
    let busy = at(home.path(), &["enter", "lot", "Mandelic acid", "MA-1"]);
    assert_eq!(busy.code, 1, "{}", busy.out);
    assert!(busy.err.contains("open in another Levigate"), "{}", busy.err);
    assert_eq!(server.end(), Some(0));

    let lot = at(
        home.path(),
        &[
            "enter",
            "lot",
            "Mandelic acid",
            "MA-2610-02",
            "--assay",
            "98,4",
            "--certificate",
            "Loss on drying=0.4 %",
        ],
    );
    assert_eq!(lot.code, 0, "{}", lot.err);
    let twice = at(home.path(), &["enter", "lot", "Mandelic acid", "MA-2610-02"]);
    assert_eq!(twice.code, 2, "{}", twice.out);
    let copy = [
        "enter",
        "trial",
        "night toner",
        "--copy",
        "2",
        "--changed",
        "new lot",
        "--lot",
        "8=MA-2610-02",
        "--json",
    ];
    assert_eq!(at(home.path(), &copy).json()["number"], 3);
    let reading = [
        "enter",
        "reading",
        "night toner",
        "3",
        "ph",
        "3,9",
        "--temperature",
        "25",
        "--age",
        "1d",
        "--who",
        "Ines",
    ];
    assert_eq!(at(home.path(), &reading).code, 0);
    let photo = root().join("crates/project/tests/photos/telephone.jpg").display().to_string();
    let seen =
        ["enter", "observation", "night toner", "3", "clear", "--photo", &photo, "--shows", "a clear beaker"];
    let seen = at(home.path(), &seen);
    assert!(seen.out.contains("the place where it was taken"), "{}{}", seen.out, seen.err);
    let book = at(home.path(), &["trials", "night toner", "--json"]).json();
    let third = &book["trials"][2];
    assert_eq!(third["parent"], 2);
    assert_eq!(third["batch_size"]["typed"], "200");
    assert_eq!(third["lines"][7]["lot_assay"], "98,4");
    assert_eq!(
        (third["readings"][0]["typed"].as_str(), third["readings"][0]["who"].as_str()),
        (Some("3,9"), Some("Ines"))
    );
    assert_eq!(third["observations"][0]["media"], "image/jpeg");
    for wrong in [
        &["trials", "e"][..],
        &["trials", "no such formula"],
        &["lots", "unobtainium"],
        &["enter", "reading", "night toner", "9", "ph", "3.8"],
        &["enter", "reading", "night toner", "3", "ph", "38"],
        &["enter", "reading", "night toner", "3", "ph", "low"],
        &["enter", "trial", "night toner", "--size", "3 lb"],
        &["enter", "trial", "night toner", "--lot", "MA-1"],
    ] {
        let said = at(home.path(), wrong);
        assert_eq!(said.code, 2, "{wrong:?}: {}{}", said.out, said.err);
        assert!(said.err.contains("help:"), "{wrong:?}: {}", said.err);
    }
}

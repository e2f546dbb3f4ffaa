//! Batches, lots on the shelf and the records as a whole from the command line, on the sample workspace.

use crate::program::{Said, program};
use crate::serving::Server;
use std::path::Path;
use std::process::Stdio;

/// Runs the program with a person's data in a folder of its own.
pub(crate) fn at(home: &Path, arguments: &[&str]) -> Said {
    Said::of(&program().args(arguments).env("XDG_DATA_HOME", home).stdin(Stdio::null()).output().unwrap())
}

/// Answers of every verb about records, for the walk over all numbers.
#[cfg(unix)]
pub(crate) fn answers() -> Vec<Said> {
    let home = tempfile::tempdir().unwrap();
    let server = Server::start(home.path(), &[]);
    let verbs = [
        &["batch", "list", "--json"][..],
        &["batch", "show", "QL-2611-04", "--json"],
        &["batch", "export", "QL-2611-04"],
        &["batch", "export", "QL-2611-04", "--as", "record", "--format", "json"],
        &["batch", "deviations", "--from", "2020-01-01", "--json"],
        &["lot", "ZP-2608-02", "--json"],
        &["lot", "MA-2608-14", "--json"],
        &["lots", "--shelf", "--json"],
        &["trace", "--lot", "ZP-2608-02", "--batch", "QL-2611-04", "--json"],
        &["study", "list", "--json"],
        &["study", "due", "--days", "400", "--json"],
        &["study", "show", "zinc serum", "--json"],
        &["study", "trend", "1", "pH", "--json"],
        &["study", "losses", "1", "assay", "--json"],
        &["challenge", "--kept", "toner", "--json"],
        &["experiment", "list", "--json"],
        &["experiment", "show", "humectants", "--json"],
        &["records", "check", "--json"],
        &["backup", "--json"],
    ];
    let answers = verbs.iter().map(|verb| at(home.path(), verb)).collect();
    assert_eq!(server.end(), Some(0));
    answers
}

#[cfg(unix)]
#[test]
fn a_batch_is_listed_shown_exported_and_traced() {
    let home = tempfile::tempdir().unwrap();
    let server = Server::start(home.path(), &[]);
    let listed = at(home.path(), &["batch", "list"]);
    assert!(listed.out.contains("QL-2611-04") && listed.out.contains("made"), "{}{}", listed.out, listed.err);
    let shown = at(home.path(), &["batch", "show", "ql-2611-04"]);
    assert_eq!(shown.code, 0, "{}", shown.err);
    for words in [
        "Every step is done",
        "Zinc",
        "struck out by",
        "takes back",
        "decimal sign slipped",
        "deviation",
        "1.18 g went off, 1.18 g given back, 0.00 g to give back",
        "is accounted for",
        "initialled, not authenticated",
        "QL-2611-04 retained",
    ] {
        assert!(shown.out.contains(words), "{words}: {}", shown.out);
    }
    assert!(shown.out.lines().all(|line| line.chars().count() <= 100), "{}", shown.out);
    let csv = home.path().join("entries.csv");
    let exported =
        at(home.path(), &["batch", "export", "QL-2611-04", "--as", "csv", "--out", csv.to_str().unwrap()]);
    assert_eq!((exported.code, exported.out.as_str()), (0, ""), "{}", exported.err);
    let rows = std::fs::read_to_string(&csv).unwrap();
    let state = at(home.path(), &["batch", "show", "QL-2611-04", "--json"]).json();
    assert_eq!(rows.lines().count(), state["entries"].as_array().unwrap().len() + 1);
    assert!(rows.lines().next().unwrap().starts_with("batch,entry,identity,done,kept,who,did,step,line"));
    let lot = at(home.path(), &["lot", "zp-2608-02"]);
    for words in ["Zinc PCA", "released", "99.60 g", "QL-2611-04", "struck out"] {
        assert!(lot.out.contains(words), "{words}: {}", lot.out);
    }
    let shelf = at(home.path(), &["lots", "--shelf"]);
    for words in ["in quarantine", "PX-2609-22:", "expires in", "487.5 g", "caustics tray"] {
        assert!(shelf.out.contains(words), "{words}: {}{}", shelf.out, shelf.err);
    }
    assert!(shelf.out.lines().all(|line| line.chars().count() <= 100), "{}", shelf.out);
    // Of one lot it is not asked which to take first.
    let zinc = at(home.path(), &["lots", "Zinc PCA", "--shelf", "--json"]).json();
    assert_eq!(
        (zinc["lots"].as_array().unwrap().len(), zinc["lots"][0]["first"].as_bool()),
        (1, Some(false))
    );
    let traced = at(home.path(), &["trace", "--lot", "ZP-2608-02", "--batch", "QL-2611-04"]);
    assert!(traced.out.contains("in which batches") && traced.out.contains("which lots"), "{}", traced.out);
    for wrong in [
        &["batch", "show", "NO-SUCH"][..],
        &["batch", "export", "NO-SUCH"],
        &["lot", "NO-SUCH"],
        &["trace"],
        &["trace", "--batch", "NO-SUCH"],
    ] {
        let said = at(home.path(), wrong);
        assert_eq!(said.code, 2, "{wrong:?}: {}{}", said.out, said.err);
    }
    assert_eq!(server.end(), Some(0));
}

#[cfg(unix)]
#[test]
fn the_records_are_proved_copied_beside_the_server_and_restored_elsewhere() {
    let home = tempfile::tempdir().unwrap();
    let server = Server::start(home.path(), &[]);
    let checked = at(home.path(), &["records", "check"]);
    assert!(
        checked.out.contains("The records hold.") && checked.out.contains("1 signatures"),
        "{}",
        checked.out
    );
    let link = at(home.path(), &["records", "check", "--json"]).json()["link"].as_str().unwrap().to_owned();
    let out = home.path().join("copy");
    let copied = at(home.path(), &["backup", out.to_str().unwrap(), "--json"]).json();
    assert_eq!((copied["link"].as_str(), copied["facts_files"].as_u64()), (Some(link.as_str()), Some(1)));
    let again = at(home.path(), &["backup", out.to_str().unwrap()]);
    assert_eq!(again.code, 1, "{}", again.out);
    assert!(again.err.contains("never overwrites") && again.err.contains("help:"), "{}", again.err);
    let inside = at(home.path(), &["backup"]);
    assert!(inside.out.contains("The copy is whole."), "{}{}", inside.out, inside.err);
    assert_eq!(server.end(), Some(0));
    let place = home.path().join("restored");
    let restored = at(home.path(), &["restore", out.to_str().unwrap(), place.to_str().unwrap(), "--json"]);
    assert_eq!(restored.json()["link"].as_str(), Some(link.as_str()), "{}", restored.err);
    let shown = at(home.path(), &["batch", "list", "--workspace", place.to_str().unwrap()]);
    assert!(shown.out.contains("QL-2611-04"), "{}{}", shown.out, shown.err);
    let twice = at(home.path(), &["restore", out.to_str().unwrap(), place.to_str().unwrap()]);
    assert_eq!(twice.code, 1, "{}", twice.out);
    let none = at(home.path(), &["restore", "no/such/copy", home.path().join("x").to_str().unwrap()]);
    assert_eq!((none.code, home.path().join("x").exists()), (1, false), "{}", none.err);
    // A byte changed in the file shows.
    let database = place.join("levigate.sqlite");
    let mut bytes = std::fs::read(&database).unwrap();
    let words = b"Gum stirred 45 min";
    let found = bytes.windows(words.len()).position(|window| window == words).unwrap();
    bytes[found + 12] = b'3';
    std::fs::write(&database, bytes).unwrap();
    let damaged = at(home.path(), &["records", "check", "--workspace", place.to_str().unwrap()]);
    assert_eq!(damaged.code, 1, "{}", damaged.out);
    assert!(damaged.err.contains("does not hold"), "{}", damaged.err);
}

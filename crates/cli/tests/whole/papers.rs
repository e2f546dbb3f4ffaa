//! Documents from the command line, and a sheet that was filled by hand typed back, on the sample workspace.

use crate::program::{run, run_with};
use crate::records::at;
use crate::serving::Server;
use std::path::Path;

const FORMULA: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/zinc-balancing-serum.toml");

fn file(folder: &Path, name: &str) -> String {
    folder.join(name).to_str().unwrap().to_owned()
}

#[test]
fn a_formula_gives_its_specification_and_label_as_files() {
    let folder = tempfile::tempdir().unwrap();
    let (pdf, book) = (file(folder.path(), "spec.pdf"), file(folder.path(), "spec.xlsx"));
    let said = run(&["sheet", FORMULA, "--of", "specification", "--pdf", &pdf, "--xlsx", &book]);
    assert_eq!(said.code, 0, "{}", said.err);
    for words in [
        "ISO 17516, a standard and not law",
        "Not said by the formula",
        "5.2 to 5.8",
        "age of the sample: not stated",
    ] {
        assert!(
            said.out.split_whitespace().collect::<Vec<_>>().join(" ").contains(words),
            "{words}: {}",
            said.out
        );
    }
    assert!(std::fs::read(&pdf).unwrap().starts_with(b"%PDF-"));
    assert!(std::fs::read(&book).unwrap().starts_with(b"PK"));
    let told = run(&["sheet", FORMULA, "--of", "specification", "--json"]).json();
    assert_eq!(told["microbes"]["limits"]["most"]["value"].as_f64(), Some(1000.0));
    assert_eq!(told["properties"][3]["name"], "pH");
    assert!(
        told["open"].as_array().unwrap().iter().any(|words| words.as_str().unwrap().starts_with("Storage"))
    );
    let label = file(folder.path(), "label.pdf");
    let said = run(&["label", FORMULA, "--pdf", &label]);
    assert!(said.code == 0 && std::fs::read(&label).unwrap().starts_with(b"%PDF-"), "{}", said.err);
    let refused = run(&["sheet", FORMULA, "--of", "specification", "--csv", &file(folder.path(), "x.csv")]);
    assert_eq!(refused.code, 2, "{}", refused.out);
    assert!(!folder.path().join("x.csv").exists());
}

#[cfg(unix)]
#[test]
fn a_batch_is_put_on_paper_and_a_filled_sheet_typed_back() {
    let home = tempfile::tempdir().unwrap();
    let server = Server::start(home.path(), &[]);
    for (form, format, begin) in [
        ("record", "pdf", &b"%PDF-"[..]),
        ("record", "xlsx", b"PK"),
        ("blank", "pdf", b"%PDF-"),
        ("blank", "xlsx", b"PK"),
        ("deviations", "pdf", b"%PDF-"),
        ("deviations", "xlsx", b"PK"),
    ] {
        let (one, two) = (file(home.path(), "one"), file(home.path(), "two"));
        for out in [&one, &two] {
            let said = at(
                home.path(),
                &["batch", "export", "QL-2611-04", "--as", form, "--format", format, "--out", out],
            );
            assert_eq!(said.code, 0, "{}", said.err);
        }
        let bytes = std::fs::read(&one).unwrap();
        assert!(bytes.starts_with(begin), "{form} {format}");
        assert!(bytes == std::fs::read(&two).unwrap(), "{form} {format}: two runs differ");
    }
    let without_file = at(home.path(), &["batch", "export", "QL-2611-04", "--as", "record"]);
    assert!(without_file.code == 2 && without_file.err.contains("--out"), "{}", without_file.err);
    let rows_as_pdf = at(home.path(), &["batch", "export", "QL-2611-04", "--as", "csv", "--format", "pdf"]);
    assert_eq!(rows_as_pdf.code, 2, "{}", rows_as_pdf.out);
    let record =
        at(home.path(), &["batch", "export", "QL-2611-04", "--as", "record", "--format", "json"]).json();
    assert_eq!(record["seal"]["broken"], serde_json::json!([]));
    assert_eq!(record["seal"]["signatures"], serde_json::json!([true]));
    let span = at(home.path(), &["batch", "deviations", "--from", "2020-01-01"]);
    assert!(span.out.contains("Gum stirred 45 min instead of 30"), "{}{}", span.out, span.err);
    let backwards = at(home.path(), &["batch", "deviations", "--from", "2026-01-02", "--to", "2026-01-01"]);
    assert_eq!(backwards.code, 2);
    assert_eq!(server.end(), Some(0));
    typed_back(home.path(), record["plan"]["version_code"].as_str().unwrap());
}

#[cfg(unix)]
fn typed_back(home: &Path, version: &str) {
    let code = format!("levigate/blank/ql-2611-04/{version}/2");
    let table = file(home, "rows.csv");
    let type_back = |rows: &str, more: &[&str]| {
        std::fs::write(&table, rows).unwrap();
        let verb = ["batch", "type-back", "QL-2611-04", table.as_str(), "--utc-offset", "+01:00"];
        at(home, &[&verb[..], more].concat())
    };
    let entries =
        || at(home, &["batch", "show", "QL-2611-04", "--json"]).json()["entries"].as_array().unwrap().len();
    let before = entries();
    let rows =
        "line,reading_1,reading_2,lot,time,initials\n2,10.02,10.05,PG-1,10:05,ik\n10,,9.00,,10:07,ik\n";
    let other = type_back(rows, &["--sheet", "LEVIGATE/BLANK/QL-2611-05/000000000000/1"]);
    assert!(other.code == 2 && other.err.contains("QL-2611-05, not of QL-2611-04"), "{}", other.err);
    assert_eq!(
        other.err.matches("not of QL-2611-04").count(),
        1,
        "said once, not for every row: {}",
        other.err
    );
    let old = type_back(rows, &["--sheet", "LEVIGATE/BLANK/QL-2611-04/000000000000/1"]);
    assert!(old.code == 2 && old.err.contains("version"), "{}", old.err);
    let slip = type_back(rows, &["--sheet", &code]);
    assert!(
        slip.code == 2 && slip.err.contains("ten times") && slip.err.contains("rows.2.reading_2"),
        "{}",
        slip.err
    );
    for (wrong, word) in [
        ("line,reading_2,time\n2,0.03,25:00\n", "time of day"),
        ("line,reading_2\n99,0.03\n", "no line of this batch"),
        ("line,reading_2\n2,x\n", "not a number"),
        ("line,reading_2\n2,\n", "No weight"),
        ("a,b\n1,2\n", "first row"),
    ] {
        let said = type_back(wrong, &["--sheet", &code]);
        assert!(said.code == 2 && said.err.contains(word), "{word}: {}", said.err);
    }
    assert_eq!(entries(), before, "nothing was kept of what was refused");
    let kept = type_back(rows, &["--sheet", &code, "--sure"]);
    assert!(kept.code == 0 && kept.out.contains("Pentylene glycol"), "{}{}", kept.out, kept.err);
    let again = type_back(rows, &["--sheet", &code, "--sure"]);
    assert_eq!(again.out.matches("was kept before").count(), 2, "{}", again.out);
    assert_eq!(entries(), before + 2, "the same sheet counts once");
    let shown = at(home, &["batch", "show", "QL-2611-04", "--json"]).json();
    let entry =
        shown["entries"].as_array().unwrap().iter().rev().find(|entry| entry["line"] == 2).unwrap().clone();
    assert_eq!(entry["paper"]["initials"], "ik");
    assert_eq!(entry["paper"]["timed"], true);
    assert_eq!(
        (&entry["mass"]["tare"]["typed"], &entry["mass"]["gross"]["typed"]),
        (&"10.02".into(), &"10.05".into())
    );
    assert!(entry["device_time"].as_str().unwrap().contains("T09:05:00.001"), "{}", entry["device_time"]);
    assert_eq!(entry["after_sign_off"], true);
    assert!(at(home, &["batch", "show", "QL-2611-04"]).out.contains("typed back from paper, initials ik"));
}

#[test]
fn a_table_that_is_none_is_refused_before_any_workspace_is_opened() {
    let said = run_with(&["batch", "type-back", "X", "-", "--sheet", "Y"], b"\xff\xfe");
    assert_eq!(said.code, 2, "{}", said.err);
}

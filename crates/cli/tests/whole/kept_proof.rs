//! Studies and challenge tests that a workspace keeps, from the command line, on the sample workspace.

use crate::program::at;
use crate::serving::Server;

#[cfg(unix)]
#[test]
fn a_kept_study_tells_its_lines_and_its_losses() {
    let home = tempfile::tempdir().unwrap();
    let server = Server::start(home.path(), &[]);
    let trend = at(home.path(), &["study", "trend", "1", "pH"], "");
    for words in
        ["kept at 25 \u{b0}C, 60 % r.h.", "may be stated", "QL-2605-03", "acid that would have to form"]
    {
        assert!(trend.out.contains(words), "{words}: {}{}", trend.out, trend.err);
    }
    assert!(trend.out.lines().all(|line| line.chars().count() <= 100), "{}", trend.out);
    // A harsher condition shows early what may come; no shelf life follows from it.
    let warm =
        at(home.path(), &["study", "trend", "zinc serum", "ph", "--condition", "40", "--json"], "").json();
    assert!(warm["trend"]["notes"].to_string().contains("no shelf life follows"), "{warm}");
    // Steps of a scale carry no line, and the readings are shown all the same.
    let odour = at(home.path(), &["study", "trend", "1", "Odour", "--json"], "").json();
    assert!(odour["trend"]["answer"].is_null() && odour["trend"]["refused"]["what"].is_string());
    assert!(!odour["trend"]["batches"].as_array().unwrap().is_empty() && odour["shift"].is_null());
    let losses = at(home.path(), &["study", "losses", "1", "assay"], "");
    assert!(
        losses.out.contains("activation energy") && losses.out.contains("do not choose"),
        "{}",
        losses.out
    );
    let none = at(home.path(), &["study", "losses", "1", "ph"], "");
    assert!(none.out.contains("a content"), "{}", none.out);
    for (wrong, words) in [
        (&["study", "trend", "9", "pH"][..], "no study 9"),
        (&["study", "trend", "1", "sheen"], "it has pH; Viscosity"),
        (&["study", "trend", "1", "pH", "--condition", "2"], "25 \u{b0}C"),
        (&["study", "losses", "1", "assay", "--pack", "tin"], "Airless pump"),
    ] {
        let said = at(home.path(), wrong, "");
        assert!(said.code == 2 && said.err.contains(words), "{wrong:?}: {}{}", said.out, said.err);
    }
    assert_eq!(server.end(), Some(0));
}

#[cfg(unix)]
#[test]
fn a_challenge_test_is_kept_from_a_table_whole_or_not_at_all() {
    const TABLE: &str = "organism;kind;initial;day 7;day 14;day 28\n\
        Pseudomonas aeruginosa;bacteria;4.7e5;240 260;<10;<10\nCandida albicans;yeast;6,1e4;3000;420;<10\n";
    let home = tempfile::tempdir().unwrap();
    // The server makes the sample; a workspace is written by one program at a time.
    assert_eq!(Server::start(home.path(), &[]).end(), Some(0));
    let enter = |table: &str, more: &[&str]| {
        at(
            home.path(),
            &[&["enter", "challenge", "hand gel", "-", "--started", "2026-10-12"], more].concat(),
            table,
        )
    };
    let slip = enter(&TABLE.replace("yeast", "fungus"), &[]);
    assert!(slip.code == 2 && slip.err.contains("Candida albicans, kind"), "{}{}", slip.out, slip.err);
    let no_trial = enter(TABLE, &["--trial", "77"]);
    assert_eq!(no_trial.code, 2, "{}", no_trial.out);
    let none = at(home.path(), &["challenge", "--kept", "hand gel"], "");
    assert!(none.out.contains("None yet"), "{}", none.out);
    let kept = enter(
        TABLE,
        &["--recovered", "82", "--alone", "95", "--sample", "gel, 4 weeks at 40 \u{b0}C", "--trial", "1"],
    );
    assert!(
        kept.out.contains("Challenge test 1") && kept.out.contains("2 organisms on 3 days"),
        "{}{}",
        kept.out,
        kept.err
    );
    let all = at(home.path(), &["challenge", "--kept", "hand gel"], "");
    assert!(all.out.contains("gel, 4 weeks") && all.out.contains("ISO 11930"), "{}", all.out);
    let one = at(home.path(), &["challenge", "--kept", "hand gel", "--test", "1", "--json"], "").json();
    assert_eq!(one["tests"][0]["trial_number"], 1);
    assert_eq!(one["tests"][0]["organisms"][0]["counts"][0], "240 260");
    let other = at(home.path(), &["challenge", "--kept", "hand gel", "--test", "2"], "");
    assert_eq!(other.code, 2, "{}", other.out);
    let neither = at(home.path(), &["challenge"], "");
    assert_eq!(neither.code, 2, "{}", neither.out);
}

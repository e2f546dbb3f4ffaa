//! Any text at all goes in and comes out as it was.

use std::sync::Arc;

use levigate_project::records::{
    Draft, FormulaVersion, Lot, MaterialOverlay, OverlaySort, Reading, TypedNumber,
};
use levigate_project::store::StoreError;
use levigate_project::workspace::{VersionText, Workspace};
use levigate_store::SqliteStore;
use proptest::prelude::*;

use crate::conformance::{ph, text, trial, workspace};

/// Any text: mostly the signs that have meant trouble somewhere, sometimes anything.
fn any_text() -> impl Strategy<Value = String> {
    let troublesome = prop::sample::select(vec![
        "'",
        "\"",
        "\\",
        ";",
        "--",
        "$1",
        "?",
        "%",
        "_",
        "\u{0}",
        "\r\n",
        "\n",
        "\t",
        "\u{feff}",
        "\u{202e}",
        "é",
        "e\u{301}",
        "\u{1F9EA}",
        "\u{FFFF}",
        "{",
        "}",
        "' OR '1'='1",
        "); DROP TABLE record; --",
        "<script>",
        "../",
        "NULL",
    ]);
    prop_oneof![
        3 => prop::collection::vec(troublesome, 0..12).prop_map(|parts| parts.concat()),
        2 => prop::collection::vec(any::<char>(), 0..60).prop_map(|signs| signs.into_iter().collect()),
    ]
}

/// A line that says something.
fn any_line() -> impl Strategy<Value = String> {
    any_text().prop_map(|text| format!("x{}", text.chars().take(40).collect::<String>()))
}

async fn everything_returns(
    workspace: &Workspace,
    words: &str,
    line: &str,
    other: &str,
) -> Result<(), TestCaseError> {
    let version = VersionText { text: words.to_owned(), reason: line.to_owned(), ..text("") };
    let head = workspace.create_formula(line, other, version).await.unwrap();
    let versions = workspace.of::<FormulaVersion, _>(head.formula.id).await.unwrap();
    prop_assert_eq!(&versions[0].what.text, words);
    prop_assert_eq!(&versions[0].who, line);
    prop_assert_eq!(&workspace.get(head.formula.id).await.unwrap().what.name, other);
    let made = workspace.add(line, trial(head.formula.id, 1)).await.unwrap().id;
    let mut reading = ph(made, line);
    reading.conditions = [(line.to_owned(), words.chars().take(80).collect())].into();
    let wrong = workspace.add(line, reading.clone()).await.unwrap().id;
    let right = workspace.correct(line, wrong, other, reading.clone()).await.unwrap();
    let readings = workspace.of::<Reading, _>(made).await.unwrap();
    prop_assert_eq!(&readings[0].what, &reading);
    prop_assert_eq!(&readings[1], &right);
    let overlay = MaterialOverlay {
        sort: OverlaySort::Grade,
        key: line.to_owned(),
        text: words.to_owned(),
        withdrawn: true,
    };
    let kept = workspace.add(other, overlay).await.unwrap();
    prop_assert!(workspace.latest::<MaterialOverlay>().await.unwrap().contains(&kept));
    let lot = Lot {
        material: line.to_owned(),
        code: other.to_owned(),
        supplier: String::new(),
        assay_percent: Some(TypedNumber::read(line, Default::default())),
        certificate: Vec::new(),
        received: Some("2026-01-31".parse().unwrap()),
        expiry: Some("2028-02-29".parse().unwrap()),
        retest: Some("2027-02-28".parse().unwrap()),
        documents: vec![line.to_owned()],
        note: words.to_owned(),
        quantity: None,
        location: other.to_owned(),
    };
    let kept = workspace.add(line, lot).await.unwrap();
    prop_assert_eq!(workspace.get(kept.id).await.unwrap(), kept);
    let typed = Draft {
        formula: Some(head.formula.id),
        tab: line.to_owned(),
        edit: 1,
        based_on: 1,
        text: words.to_owned(),
        who: other.to_owned(),
        when: workspace.clock().now(),
    };
    workspace.keep_draft(&typed).await.unwrap();
    prop_assert_eq!(workspace.drafts(Some(head.formula.id)).await.unwrap(), vec![typed]);
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    #[test]
    fn any_text_comes_back_as_it_was(words in any_text(), line in any_line(), other in any_line()) {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        runtime.block_on(async {
            let workspace = workspace(Arc::new(SqliteStore::in_memory().await.unwrap()));
            everything_returns(&workspace, &words, &line, &other).await?;
            prop_assert_eq!(workspace.verify().await.unwrap().length, 7);
            let mut lines = 0;
            let received: Result<(), StoreError> = workspace
                .export(|file| {
                    if file.path.starts_with("records/") {
                        for line in file.bytes.split(|byte| *byte == b'\n').filter(|line| !line.is_empty()) {
                            lines += usize::from(serde_json::from_slice::<serde_json::Value>(line).is_ok());
                        }
                    }
                    Ok(())
                })
                .await;
            received.unwrap();
            prop_assert_eq!(lines, 7);
            Ok(())
        })?;
    }
}

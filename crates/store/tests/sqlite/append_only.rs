//! Another program with the file in its hands, and a hostile one with an editor.

use std::path::Path;

use levigate_project::people::Hand;
use levigate_project::people::password::PasswordHash;
use levigate_project::records::{Observation, Photo};
use levigate_project::store::StoreError;
use levigate_project::workbench::people::{self, TypedPerson};
use levigate_store::{create_workspace, open_workspace, with_machine};
use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection};
use sqlx::{ConnectOptions as _, Executor as _};
use std::sync::Arc;

use crate::conformance::{batches, begun, ph, trial, workspace};

async fn filled(folder: &Path) {
    let workspace = workspace(Arc::new(create_workspace(folder).await.unwrap()));
    let formula = begun(&workspace, "Toner").await.formula.id;
    let made = workspace.add("Ilse", trial(formula, 1)).await.unwrap().id;
    let wrong = workspace.add("Ilse", ph(made, "52")).await.unwrap().id;
    workspace.correct("Ilse", wrong, "slip", ph(made, "5.2")).await.unwrap();
    let pixel = Photo::new(crate::conformance::PIXEL.to_vec()).unwrap();
    workspace.observe("Ilse", Observation::in_words(made, "seen"), Some(pixel)).await.unwrap();
    let hash = PasswordHash::make("grey pestle 41", workspace.dice()).unwrap();
    let admin = TypedPerson {
        name: "Ilse Fern".to_owned(),
        role: "admin".to_owned(),
        password: "grey pestle 41".to_owned(),
        ..TypedPerson::default()
    };
    people::add(&workspace, &Hand::initialled("Ilse"), &admin, &hash).await.unwrap();
}

/// The same with a lot in a batch: records 7 to 10.
async fn with_a_batch(folder: &Path) {
    // The dice of the machine: loaded ones would fall as they did before.
    let workspace = with_machine(Arc::new(open_workspace(folder).await.unwrap()));
    let batch = batches::started(&workspace, "B-1").await;
    let (_, lot) = batches::lot(&workspace, "M-1").await;
    let entry = batches::weighed(batch.id, 1, &lot, "9.98");
    batches::send(&workspace, batches::id(1), &entry, None).await.unwrap();
}

async fn connect(folder: &Path) -> SqliteConnection {
    SqliteConnectOptions::new().filename(folder.join("levigate.sqlite")).connect().await.unwrap()
}

#[tokio::test]
async fn frozen_tables_refuse_every_change() {
    let folder = tempfile::tempdir().unwrap();
    filled(folder.path()).await;
    with_a_batch(folder.path()).await;
    let mut connection = connect(folder.path()).await;
    let refused = [
        "UPDATE record SET who = 'nobody'",
        "UPDATE record SET body = '{}' WHERE sequence = 2",
        "UPDATE OR REPLACE record SET sequence = 1 WHERE sequence = 2",
        "DELETE FROM record WHERE sequence = (SELECT max(sequence) FROM record)",
        "DELETE FROM record",
        "REPLACE INTO record SELECT * FROM record WHERE sequence = 2",
        "INSERT OR REPLACE INTO record SELECT 12, id, kind, scope, 99, parent_kind, parent, NULL, NULL, who, at, body, NULL, \
         hash, 'f' || substr(link, 2), how FROM record WHERE sequence = 2",
        "INSERT OR REPLACE INTO record SELECT 12, 'f' || substr(id, 2), kind, scope, 1, parent_kind, parent, NULL, NULL, who, \
         at, body, NULL, hash, 'f' || substr(link, 2), how FROM record WHERE sequence = 2",
        "INSERT INTO record SELECT 70, 'f' || substr(id, 2), kind, scope, 99, parent_kind, parent, NULL, NULL, who, at, \
         body, NULL, hash, 'f' || substr(link, 2), how FROM record WHERE sequence = 2",
        "UPDATE photo SET bytes = x'00'",
        "DELETE FROM photo",
        "REPLACE INTO photo SELECT record, media, x'00' FROM photo",
        "UPDATE record SET how = 'authenticated'",
        "UPDATE secret SET text = 'x'",
        "DELETE FROM secret",
        "REPLACE INTO secret SELECT record, 'x' FROM secret",
        "UPDATE record_kind SET word = 'x'",
        "UPDATE log_head SET length = 1",
        "DELETE FROM log_head",
        "INSERT OR REPLACE INTO log_head SELECT * FROM log_head",
        "UPDATE lot_use SET lot = 'x'",
        "DELETE FROM lot_use",
        "REPLACE INTO lot_use SELECT * FROM lot_use",
    ];
    for statement in refused {
        let answer = connection.execute(statement).await;
        let said = answer.expect_err(statement).to_string();
        assert!(
            ["never", "only ever", "one head", "one photo", "one secret"].iter().any(|it| said.contains(it)),
            "{statement}: {said}"
        );
    }
    // The same entry with a place, number, identity and link of its own is taken: what was refused was the change.
    let added = "INSERT INTO record SELECT 12, 'f' || substr(id, 2), kind, scope, 99, parent_kind, parent, NULL, NULL, who, \
                 at, body, NULL, hash, 'f' || substr(link, 2), how FROM record WHERE sequence = 2";
    connection.execute(added).await.unwrap();
}

#[tokio::test]
async fn a_change_behind_the_triggers_shows_in_the_chain() {
    let tampered = [
        (2, "UPDATE record SET body = replace(body, 'because', 'in truth') WHERE sequence = 2"),
        (4, "UPDATE record SET body = replace(body, '52', '51') WHERE sequence = 4"),
        (1, "UPDATE record SET who = 'Ben' WHERE sequence = 1"),
        (3, "UPDATE record SET at = '2020-01-01T00:00:00Z' WHERE sequence = 3"),
        (5, "UPDATE record SET correction_reason = 'none' WHERE sequence = 5"),
        (6, "UPDATE photo SET bytes = unhex(replace(hex(bytes), '789C', '789D'))"),
        (4, "DELETE FROM record WHERE sequence = 6; DELETE FROM record WHERE sequence IN (4, 5)"),
        (6, "DELETE FROM record WHERE sequence = 6"),
        (3, "UPDATE record SET hash = 'f' || substr(hash, 2) WHERE sequence = 3"),
        (3, "UPDATE record SET link = 'f' || substr(link, 2) WHERE sequence = 3"),
        (4, "UPDATE record SET how = 'authenticated' WHERE sequence = 4"),
        (7, "UPDATE secret SET text = replace(text, 'p=1', 'p=2')"),
        (7, "UPDATE log_head SET link = 'f' || substr(link, 2)"),
    ];
    for (place, statement) in tampered {
        let folder = tempfile::tempdir().unwrap();
        filled(folder.path()).await;
        let untouched = workspace(Arc::new(open_workspace(folder.path()).await.unwrap()));
        assert_eq!(untouched.verify().await.unwrap().length, 7);
        drop(untouched);
        let mut connection = connect(folder.path()).await;
        for trigger in [
            "DROP TRIGGER record_update",
            "DROP TRIGGER record_delete",
            "DROP TRIGGER photo_update",
            "DROP TRIGGER secret_update",
        ] {
            connection.execute(trigger).await.unwrap();
        }
        connection.execute("PRAGMA foreign_keys = OFF").await.unwrap();
        sqlx::raw_sql(statement).execute(&mut connection).await.unwrap();
        drop(connection);
        let found = workspace(Arc::new(open_workspace(folder.path()).await.unwrap()))
            .verify()
            .await
            .expect_err(statement);
        match found {
            StoreError::Damaged { sequence, .. } => assert_eq!(sequence, place, "{statement}"),
            // A photo without its record is told by the database, before the chain is walked.
            StoreError::Medium { .. } => assert!(statement.contains("DELETE"), "{statement}: {found}"),
            other => panic!("{statement}: {other}"),
        }
    }
}

#[tokio::test]
async fn an_index_that_says_otherwise_than_the_entries_shows() {
    let tampered = [
        "UPDATE lot_use SET lot = 'another'",
        "UPDATE lot_use SET micrograms = micrograms + 1",
        "DELETE FROM lot_use",
        "INSERT INTO lot_use SELECT entry, 'another', batch, 1 FROM lot_use",
        "INSERT INTO lot_use SELECT batch, lot, batch, 1 FROM lot_use",
    ];
    for statement in tampered {
        let folder = tempfile::tempdir().unwrap();
        filled(folder.path()).await;
        with_a_batch(folder.path()).await;
        let mut connection = connect(folder.path()).await;
        for trigger in ["DROP TRIGGER lot_use_update", "DROP TRIGGER lot_use_delete"] {
            connection.execute(trigger).await.unwrap();
        }
        connection.execute(statement).await.unwrap();
        drop(connection);
        let opened = workspace(Arc::new(open_workspace(folder.path()).await.unwrap()));
        let found = opened.verify().await.expect_err(statement);
        assert!(matches!(found, StoreError::Damaged { .. }), "{statement}: {found}");
    }
}

/// Statements are constant texts: sqlx takes `&'static str` only, unless somebody asserts otherwise. Nobody does.
#[test]
fn no_statement_is_built_from_strings() {
    let mut looked = 0;
    let mut folders = vec![Path::new(env!("CARGO_MANIFEST_DIR")).join("src")];
    while let Some(folder) = folders.pop() {
        for found in std::fs::read_dir(folder).unwrap() {
            let path = found.unwrap().path();
            if path.is_dir() {
                folders.push(path);
                continue;
            }
            let source = std::fs::read_to_string(&path).unwrap();
            looked += usize::from(source.contains("sqlx::query"));
            for word in ["AssertSqlSafe", "QueryBuilder", ".leak()"] {
                assert!(!source.contains(word), "{} has {word}", path.display());
            }
        }
    }
    assert!(looked >= 3, "the statements have moved; look where they are");
}

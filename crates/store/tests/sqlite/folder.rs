//! The folder: one program at a time, no stranger's file, nothing from the future.

use std::fs;
use std::sync::Arc;

use levigate_project::records::Kind;
use levigate_project::store::{Store as _, StoreError};
use levigate_store::{
    back_up, create_workspace, export_into, open_or_create_workspace, open_workspace, open_workspace_to_read,
    restore, with_machine,
};
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{ConnectOptions as _, Executor as _};

use crate::conformance::{begun, text, workspace};

#[tokio::test]
async fn a_second_program_is_told_who_has_the_workspace() {
    let folder = tempfile::tempdir().unwrap();
    let first = create_workspace(folder.path()).await.unwrap();
    let second = open_workspace(folder.path()).await.unwrap_err();
    let StoreError::Locked { holder, .. } = &second else { panic!("{second}") };
    assert_eq!(holder.as_deref(), Some(format!("process {}", std::process::id()).as_str()));
    assert!(second.to_string().contains("open in another"), "{second}");
    first.close().await;
    open_workspace(folder.path()).await.unwrap();
}

#[tokio::test]
async fn reading_needs_no_lock_sees_what_was_saved_and_writes_nothing() {
    let parent = tempfile::tempdir().unwrap();
    assert!(matches!(open_workspace_to_read(parent.path()).await, Err(StoreError::Folder { .. })));
    let folder = parent.path().join("new");
    let writing = workspace(Arc::new(create_workspace(&folder).await.unwrap()));
    begun(&writing, "Toner").await;
    let reading = workspace(Arc::new(open_workspace_to_read(&folder).await.unwrap()));
    assert_eq!(reading.formulas().await.unwrap().len(), 1);
    begun(&writing, "Gel").await;
    assert_eq!(reading.formulas().await.unwrap().len(), 2);
    let refused = reading.create_formula("Ilse", "Serum", text("# one\n")).await.unwrap_err();
    assert!(matches!(refused, StoreError::Medium { .. }), "{refused}");
    assert_eq!(writing.verify().await.unwrap().length, 4);
}

#[tokio::test]
async fn opening_and_making_are_told_apart() {
    let parent = tempfile::tempdir().unwrap();
    let folder = parent.path().join("new");
    assert!(matches!(open_workspace(&folder).await, Err(StoreError::Folder { .. })));
    assert!(!folder.exists(), "looking for a workspace makes none");
    create_workspace(&folder).await.unwrap().close().await;
    assert!(folder.join("facts").is_dir() && folder.join("backups").is_dir());
    assert!(matches!(create_workspace(&folder).await, Err(StoreError::Folder { .. })));
    let again = workspace(Arc::new(open_or_create_workspace(&folder).await.unwrap()));
    begun(&again, "Toner").await;
    drop(again);
    let reopened = workspace(Arc::new(open_or_create_workspace(&folder).await.unwrap()));
    assert_eq!(reopened.formulas().await.unwrap()[0].formula.what.name, "Toner");
}

#[tokio::test]
async fn a_newer_schema_is_refused_and_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    create_workspace(folder.path()).await.unwrap().close().await;
    let file = folder.path().join("levigate.sqlite");
    let mut connection = SqliteConnectOptions::new().filename(&file).connect().await.unwrap();
    let future = "INSERT INTO _sqlx_migrations (version, description, success, checksum, execution_time) \
                  VALUES (99, 'from the future', 1, x'00', 0)";
    connection.execute(future).await.unwrap();
    drop(connection);
    let refused = open_workspace(folder.path()).await.unwrap_err();
    assert_eq!(refused, StoreError::NewerSchema { found: 99, known: 10 });
    assert!(refused.hint().contains("newer"));
}

#[tokio::test]
async fn a_strangers_file_is_refused_and_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("levigate.sqlite");
    for stranger in
        [&b"not a database at all, but long enough to be looked at closely by anybody"[..], &[0xFF; 4096]]
    {
        fs::write(&file, stranger).unwrap();
        let refused = open_workspace(folder.path()).await.unwrap_err();
        assert!(
            matches!(&refused, StoreError::Folder { what, .. } if what.contains("not a database")),
            "{refused}"
        );
        assert_eq!(fs::read(&file).unwrap(), stranger);
    }
    fs::remove_file(&file).unwrap();
    let mut connection =
        SqliteConnectOptions::new().filename(&file).create_if_missing(true).connect().await.unwrap();
    connection.execute("CREATE TABLE recipes (name TEXT)").await.unwrap();
    drop(connection);
    let before = fs::read(&file).unwrap();
    let refused = open_or_create_workspace(folder.path()).await.unwrap_err();
    assert!(
        matches!(&refused, StoreError::Folder { what, .. } if what.contains("another program")),
        "{refused}"
    );
    assert_eq!(fs::read(&file).unwrap(), before);
}

#[tokio::test]
async fn an_empty_file_becomes_a_workspace() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("levigate.sqlite"), b"").unwrap();
    let store = open_workspace(folder.path()).await.unwrap();
    assert_eq!(store.head().await.unwrap().length, 0);
}

#[tokio::test]
async fn a_backup_is_a_whole_workspace() {
    let folder = tempfile::tempdir().unwrap();
    let store = Arc::new(create_workspace(folder.path()).await.unwrap());
    let workspace = workspace(store.clone());
    begun(&workspace, "Toner").await;
    let head = workspace.verify().await.unwrap();
    fs::write(folder.path().join("facts/own.toml"), "# ours\n").unwrap();
    let moment = "2026-03-02T08:00:00.25Z".parse().unwrap();
    let copy = back_up(folder.path(), None, moment).await.unwrap();
    assert!(copy.folder.ends_with("backups/levigate-20260302T080000.250Z"), "{}", copy.folder.display());
    assert_eq!((copy.head, copy.facts), (head.clone(), 1));
    let again = back_up(folder.path(), None, moment).await.unwrap_err();
    assert!(
        matches!(&again, StoreError::Folder { what, .. } if what.contains("never overwrites")),
        "{again}"
    );
    begun(&workspace, "Gel").await;

    let other = tempfile::tempdir().unwrap();
    let place = other.path().join("lab");
    let restored = restore(&copy.folder, &place).await.unwrap();
    assert_eq!(restored.head, head);
    assert_eq!(fs::read(place.join("facts/own.toml")).unwrap(), b"# ours\n");
    let opened = with_machine(Arc::new(open_workspace(&place).await.unwrap()));
    assert_eq!(opened.verify().await.unwrap(), head);
    assert_eq!(opened.formulas().await.unwrap().len(), 1);
    let occupied = restore(&copy.folder, &place).await.unwrap_err();
    assert!(
        matches!(&occupied, StoreError::Folder { what, .. } if what.contains("never overwrites")),
        "{occupied}"
    );
    assert_eq!(opened.verify().await.unwrap(), head);
    // A database file alone is a copy too, and an empty folder is as good as none.
    let empty = other.path().join("empty");
    fs::create_dir(&empty).unwrap();
    assert_eq!(restore(&copy.folder.join("levigate.sqlite"), &empty).await.unwrap().head, head);
    assert_eq!(fs::read_dir(other.path()).unwrap().count(), 2, "nothing half made is left behind");
}

#[cfg(unix)]
#[tokio::test]
async fn facts_that_stand_elsewhere_and_are_linked_are_in_the_copy() {
    use std::os::unix::fs::symlink;
    let parent = tempfile::tempdir().unwrap();
    let folder = parent.path().join("lab");
    create_workspace(&folder).await.unwrap().close().await;
    fs::write(parent.path().join("shared.toml"), "# ours\n").unwrap();
    symlink(parent.path().join("shared.toml"), folder.join("facts/own.toml")).unwrap();
    symlink(&folder, folder.join("facts/round")).unwrap();
    let out = parent.path().join("copy");
    let copy = back_up(&folder, Some(&out), "2026-03-02T08:00:00Z".parse().unwrap()).await.unwrap();
    assert_eq!(copy.facts, 1);
    assert!(out.join("facts/own.toml").symlink_metadata().unwrap().is_file(), "a file of its own");
    assert_eq!(fs::read(out.join("facts/own.toml")).unwrap(), b"# ours\n");
}

#[tokio::test]
async fn a_damaged_copy_is_not_restored() {
    let parent = tempfile::tempdir().unwrap();
    let folder = parent.path().join("lab");
    let writing = workspace(Arc::new(create_workspace(&folder).await.unwrap()));
    begun(&writing, "Toner").await;
    let out = parent.path().join("copy");
    back_up(&folder, Some(&out), writing.clock().now()).await.unwrap();
    let database = out.join("levigate.sqlite");
    let mut connection = SqliteConnectOptions::new().filename(&database).connect().await.unwrap();
    connection.execute("DROP TRIGGER record_update").await.unwrap();
    connection.execute("UPDATE record SET who = 'nobody' WHERE sequence = 2").await.unwrap();
    drop(connection);
    let place = parent.path().join("restored");
    let refused = restore(&out, &place).await.unwrap_err();
    assert!(matches!(refused, StoreError::Damaged { sequence: 2, .. }), "{refused}");
    assert!(!place.exists());
    let cut = fs::read(&database).unwrap();
    fs::write(&database, &cut[..cut.len() / 2]).unwrap();
    assert!(restore(&out, &place).await.is_err() && !place.exists());
    fs::write(&database, b"nothing of ours").unwrap();
    assert!(restore(&out, &place).await.is_err() && !place.exists());
    assert_eq!(fs::read_dir(parent.path()).unwrap().count(), 2, "nothing half made is left behind");
}

#[tokio::test]
async fn an_export_fills_an_empty_folder_and_no_other() {
    let folder = tempfile::tempdir().unwrap();
    let workspace = workspace(Arc::new(create_workspace(&folder.path().join("lab")).await.unwrap()));
    let formula = begun(&workspace, "Toner").await.formula.id;
    let out = folder.path().join("out");
    let files = export_into(&workspace, &out).await.unwrap();
    assert_eq!(files, Kind::ALL.len() + 1 + 1, "one per kind, one version, the end of the chain");
    assert_eq!(fs::read(out.join(format!("formulas/{formula}/version-1.toml"))).unwrap(), b"# one\n");
    assert!(matches!(export_into(&workspace, &out).await, Err(StoreError::Folder { .. })));
}

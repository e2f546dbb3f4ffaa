//! Opening a database: looked at before it is touched, copied before its schema changes.

use std::path::Path;
use std::time::Duration;

use levigate_project::store::StoreError;
use sqlx::migrate::{Migration, MigrationType, Migrator};
use sqlx::sqlite::{
    SqliteConnectOptions, SqliteJournalMode, SqlitePool, SqlitePoolOptions, SqliteSynchronous,
};
use sqlx::{ConnectOptions as _, Connection as _, SqlSafeStr as _};

use super::{SqliteStore, failed};
use crate::folder::{BACKUPS, DATABASE, Lock};
use crate::private;

/// "LVGT": how the database file says that it is ours.
const APPLICATION: i64 = 1_280_722_772;
/// Readers at a time.
const READERS: u32 = 4;
/// A writer that has waited this long gives up, seconds.
const WAIT_S: u64 = 30;

/// The migrations, oldest first.
fn migrations() -> Vec<Migration> {
    let records = include_str!("../../migrations/sqlite/0001_records.sql");
    let flow_curve = include_str!("../../migrations/sqlite/0002_flow_curve.sql");
    let people = include_str!("../../migrations/sqlite/0004_people.sql");
    let batches = include_str!("../../migrations/sqlite/0005_batches.sql");
    let ph_at_the_beaker = include_str!("../../migrations/sqlite/0007_ph_at_the_beaker.sql");
    let studies = include_str!("../../migrations/sqlite/0008_studies.sql");
    let challenge_test = include_str!("../../migrations/sqlite/0009_challenge_test.sql");
    let experiments = include_str!("../../migrations/sqlite/0010_experiments.sql");
    let simple = |version, name: &'static str, sql: &'static str| {
        Migration::new(version, name.into(), MigrationType::Simple, sql.into_sql_str(), false)
    };
    vec![
        simple(1, "records", records),
        simple(2, "flow curve", flow_curve),
        simple(4, "people", people),
        simple(5, "batches", batches),
        simple(7, "ph at the beaker", ph_at_the_beaker),
        simple(8, "studies", studies),
        simple(9, "challenge test", challenge_test),
        simple(10, "experiments", experiments),
    ]
}

impl SqliteStore {
    pub(crate) async fn open(folder: &Path, lock: Lock) -> Result<Self, StoreError> {
        open_with(folder, lock, migrations()).await
    }

    pub(crate) async fn open_to_read(folder: &Path) -> Result<Self, StoreError> {
        let file = folder.join(DATABASE);
        let known = newest(&migrations());
        let found = look_at(&file).await?;
        if found > known {
            return Err(StoreError::NewerSchema { found, known });
        }
        if found < known {
            let what = "it was written by an older Levigate; open it once with `levigate serve`".to_owned();
            return Err(StoreError::Folder { path: folder.display().to_string(), what });
        }
        let options = SqliteConnectOptions::new()
            .filename(&file)
            .create_if_missing(false)
            .busy_timeout(Duration::from_secs(WAIT_S))
            .pragma("query_only", "ON");
        let readers = pool(READERS, options).await?;
        Ok(Self { writer: readers.clone(), readers, folder: Some(folder.to_owned()), _lock: None })
    }

    /// A store that forgets everything at the end: for tests and for the command line's own use.
    ///
    /// # Errors
    /// The database failed.
    pub async fn in_memory() -> Result<Self, StoreError> {
        let options = SqliteConnectOptions::new().in_memory(true).foreign_keys(true);
        let pool = pool(1, options).await?;
        migrate(&pool, migrations()).await?;
        Ok(Self { writer: pool.clone(), readers: pool, folder: None, _lock: None })
    }
}

fn newest(migrations: &[Migration]) -> i64 {
    migrations.iter().map(|migration| migration.version).max().unwrap_or(0)
}

async fn open_with(folder: &Path, lock: Lock, migrations: Vec<Migration>) -> Result<SqliteStore, StoreError> {
    let file = folder.join(DATABASE);
    let known = newest(&migrations);
    let found = if file.exists() { look_at(&file).await? } else { 0 };
    if found > known {
        return Err(StoreError::NewerSchema { found, known });
    }
    // What SQLite lays beside the file has the permissions of the file.
    private::new_file(&file)
        .map_err(|error| StoreError::Folder { path: file.display().to_string(), what: error.to_string() })?;
    let options = SqliteConnectOptions::new()
        .filename(&file)
        .create_if_missing(false)
        .foreign_keys(true)
        .journal_mode(SqliteJournalMode::Wal)
        .synchronous(SqliteSynchronous::Full)
        .busy_timeout(Duration::from_secs(WAIT_S));
    let writer = pool(1, options.clone()).await?;
    if found > 0 && found < known {
        copy_before(&writer, &folder.join(BACKUPS), known).await?;
    }
    migrate(&writer, migrations).await?;
    let readers = pool(READERS, options.pragma("query_only", "ON")).await?;
    Ok(SqliteStore { writer, readers, folder: Some(folder.to_owned()), _lock: Some(lock) })
}

/// Connections that live as long as the pool does.
async fn pool(connections: u32, options: SqliteConnectOptions) -> Result<SqlitePool, StoreError> {
    SqlitePoolOptions::new()
        .max_connections(connections)
        .min_connections(1)
        .idle_timeout(None)
        .max_lifetime(None)
        .acquire_timeout(Duration::from_secs(WAIT_S))
        .connect_with(options)
        .await
        .map_err(failed("open the database"))
}

/// The schema of a file that is there: 0 for an empty one. Nothing in the file is changed.
async fn look_at(file: &Path) -> Result<i64, StoreError> {
    let not_ours =
        |what: &str| StoreError::Folder { path: file.display().to_string(), what: what.to_owned() };
    let no_database = |error: sqlx::Error| match error.as_database_error().and_then(|it| it.code()).as_deref()
    {
        Some("26") => not_ours("the file is not a database"),
        _ => failed("look at the database")(error),
    };
    let options = SqliteConnectOptions::new().filename(file).create_if_missing(false);
    let mut connection = options.connect().await.map_err(no_database)?;
    let tables: i64 = sqlx::query_scalar("SELECT count(*) FROM sqlite_master WHERE type = 'table'")
        .fetch_one(&mut connection)
        .await
        .map_err(no_database)?;
    let application: i64 =
        sqlx::query_scalar("PRAGMA application_id").fetch_one(&mut connection).await.map_err(no_database)?;
    let migrated: i64 = sqlx::query_scalar(
        "SELECT count(*) FROM sqlite_master WHERE type = 'table' AND name = '_sqlx_migrations'",
    )
    .fetch_one(&mut connection)
    .await
    .map_err(no_database)?;
    let mut found = 0;
    if migrated > 0 {
        found = sqlx::query_scalar("SELECT coalesce(max(version), 0) FROM _sqlx_migrations")
            .fetch_one(&mut connection)
            .await
            .map_err(no_database)?;
    }
    connection.close().await.map_err(no_database)?;
    // A program killed in its very first moment leaves a file with nothing, or with the empty list of migrations.
    if application != APPLICATION && (found > 0 || tables > migrated) {
        return Err(not_ours("the database belongs to another program"));
    }
    Ok(found)
}

async fn migrate(pool: &SqlitePool, migrations: Vec<Migration>) -> Result<(), StoreError> {
    let doing = "bring the database to this schema";
    let what = |error: sqlx::migrate::MigrateError| StoreError::Medium { doing, what: error.to_string() };
    Migrator::with_migrations(migrations).run(pool).await.map_err(what)
}

/// Copies a database before its schema changes, under a name that is still free: whoever was ended between copy and change begins
/// again, and a copy that is there is a whole one.
async fn copy_before(pool: &SqlitePool, backups: &Path, known: i64) -> Result<(), StoreError> {
    let wrong =
        |error: std::io::Error| StoreError::Medium { doing: "copy the database", what: error.to_string() };
    let part = backups.join(format!(".levigate-before-schema-{known}.part"));
    if part.exists() {
        std::fs::remove_file(&part).map_err(wrong)?;
    }
    copy_into(pool, &part).await?;
    std::fs::File::open(&part).and_then(|file| file.sync_all()).map_err(wrong)?;
    let mut copy = backups.join(format!("levigate-before-schema-{known}.sqlite"));
    let mut further = 1;
    while copy.exists() {
        further += 1;
        copy = backups.join(format!("levigate-before-schema-{known}-{further}.sqlite"));
    }
    std::fs::rename(&part, &copy).map_err(wrong)
}

/// Copies a database in use into a new file.
async fn copy_into(pool: &SqlitePool, path: &Path) -> Result<(), StoreError> {
    let Some(name) = path.to_str() else {
        let what = "the path is not plain text".to_owned();
        return Err(StoreError::Folder { path: path.display().to_string(), what });
    };
    // An empty file is written into and keeps its permissions; a new one would be everybody's to read.
    private::new_file(path)
        .map_err(|error| StoreError::Folder { path: path.display().to_string(), what: error.to_string() })?;
    sqlx::query("VACUUM INTO $1").bind(name).execute(pool).await.map_err(failed("copy the database"))?;
    Ok(())
}

/// Copies a database file, which may be open elsewhere, into a new file, and makes sure that it is on the disk.
pub(crate) async fn copy_file(from: &Path, to: &Path) -> Result<(), StoreError> {
    look_at(from).await?;
    let options = SqliteConnectOptions::new()
        .filename(from)
        .create_if_missing(false)
        .busy_timeout(Duration::from_secs(WAIT_S));
    let pool = pool(1, options).await?;
    let copied = copy_into(&pool, to).await;
    pool.close().await;
    copied?;
    let failed =
        |error: std::io::Error| StoreError::Medium { doing: "write the copy", what: error.to_string() };
    std::fs::File::open(to).and_then(|file| file.sync_all()).map_err(failed)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Today's migrations and one of tomorrow.
    fn with_one_more() -> Vec<Migration> {
        let later = "CREATE TABLE later (word TEXT NOT NULL) STRICT".into_sql_str();
        let version = newest(&migrations()) + 1;
        let later = Migration::new(version, "later".into(), MigrationType::Simple, later, false);
        migrations().into_iter().chain([later]).collect()
    }

    #[tokio::test]
    async fn a_schema_change_is_preceded_by_a_copy_and_there_is_no_way_back() {
        let folder = tempfile::tempdir().unwrap();
        std::fs::create_dir(folder.path().join(BACKUPS)).unwrap();
        let lock = || Lock::take(folder.path()).unwrap();
        open_with(folder.path(), lock(), migrations()).await.unwrap().close().await;
        let copies = || std::fs::read_dir(folder.path().join(BACKUPS)).unwrap().count();
        assert_eq!(copies(), 0);
        open_with(folder.path(), lock(), with_one_more()).await.unwrap().close().await;
        assert_eq!(copies(), 1);
        let (today, tomorrow) = (newest(&migrations()), newest(&with_one_more()));
        let copy = folder.path().join(BACKUPS).join(format!("levigate-before-schema-{tomorrow}.sqlite"));
        assert_eq!(look_at(&copy).await.unwrap(), today);
        let back = open_with(folder.path(), lock(), migrations()).await.unwrap_err();
        assert_eq!(back, StoreError::NewerSchema { found: tomorrow, known: today });
        open_with(folder.path(), lock(), with_one_more()).await.unwrap().close().await;
        assert_eq!(copies(), 1, "no copy without a change");
    }

    #[tokio::test]
    async fn an_update_that_was_ended_half_way_is_begun_again() {
        let folder = tempfile::tempdir().unwrap();
        let backups = folder.path().join(BACKUPS);
        std::fs::create_dir(&backups).unwrap();
        let lock = || Lock::take(folder.path()).unwrap();
        open_with(folder.path(), lock(), migrations()).await.unwrap().close().await;
        let (today, tomorrow) = (newest(&migrations()), newest(&with_one_more()));
        let earlier = backups.join(format!("levigate-before-schema-{tomorrow}.sqlite"));
        std::fs::write(&earlier, "of an earlier try").unwrap();
        std::fs::write(backups.join(format!(".levigate-before-schema-{tomorrow}.part")), "half").unwrap();
        open_with(folder.path(), lock(), with_one_more()).await.unwrap().close().await;
        assert_eq!(
            std::fs::read_to_string(&earlier).unwrap(),
            "of an earlier try",
            "nothing is written over"
        );
        let copy = backups.join(format!("levigate-before-schema-{tomorrow}-2.sqlite"));
        assert_eq!(look_at(&copy).await.unwrap(), today);
        assert_eq!(std::fs::read_dir(&backups).unwrap().count(), 2);
    }

    #[tokio::test]
    async fn a_workspace_of_an_earlier_schema_is_brought_to_this_one() {
        for earlier in 1..migrations().len() {
            brought_from(earlier).await;
        }
    }

    async fn brought_from(earlier: usize) {
        let folder = tempfile::tempdir().unwrap();
        std::fs::create_dir(folder.path().join(BACKUPS)).unwrap();
        let lock = || Lock::take(folder.path()).unwrap();
        let first = migrations().into_iter().take(earlier).collect();
        open_with(folder.path(), lock(), first).await.unwrap().close().await;
        let store = open_with(folder.path(), lock(), migrations()).await.unwrap();
        let kinds: i64 =
            sqlx::query_scalar("SELECT count(*) FROM record_kind").fetch_one(&store.writer).await.unwrap();
        let known = levigate_project::records::Kind::ALL;
        assert_eq!(usize::try_from(kinds).unwrap(), known.len());
        for kind in known {
            let found: i64 = sqlx::query_scalar("SELECT count(*) FROM record_kind WHERE word = $1")
                .bind(kind.word())
                .fetch_one(&store.writer)
                .await
                .unwrap();
            assert_eq!(found, 1, "{kind}");
        }
        store.close().await;
    }

    #[tokio::test]
    async fn the_writer_syncs_every_commit() {
        let folder = tempfile::tempdir().unwrap();
        let store = open_with(folder.path(), Lock::take(folder.path()).unwrap(), migrations()).await.unwrap();
        let mode: String = sqlx::query_scalar("PRAGMA journal_mode").fetch_one(&store.writer).await.unwrap();
        let synchronous: i64 =
            sqlx::query_scalar("PRAGMA synchronous").fetch_one(&store.writer).await.unwrap();
        let foreign_keys: i64 =
            sqlx::query_scalar("PRAGMA foreign_keys").fetch_one(&store.writer).await.unwrap();
        assert_eq!((mode.as_str(), synchronous, foreign_keys), ("wal", 2, 1));
        let read_only = sqlx::query("DELETE FROM draft").execute(&store.readers).await;
        assert!(read_only.is_err(), "a reader cannot write");
    }
}

//! The workspace folder: made, opened by one program at a time, and never opened when a newer Levigate wrote it.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{Read as _, Seek as _, Write as _};
use std::path::{Path, PathBuf};

use levigate_project::store::StoreError;

use crate::private;
use crate::sqlite::SqliteStore;

/// Name of the database in the folder.
pub const DATABASE: &str = "levigate.sqlite";
/// Name of the lock in the folder.
pub const LOCK: &str = "levigate.lock";
/// Name of the folder of the lab's own facts.
pub const FACTS: &str = "facts";
/// Name of the folder of copies of the database.
pub const BACKUPS: &str = "backups";

/// Opens a workspace that is there.
///
/// # Errors
/// There is none, another program has it open, a newer Levigate wrote it, or it is damaged.
pub async fn open_workspace(folder: &Path) -> Result<SqliteStore, StoreError> {
    if !folder.join(DATABASE).is_file() {
        return Err(wrong(folder, "there is no workspace here"));
    }
    begin(folder).await
}

/// Opens a workspace only to read it: also while another program has it open, and without a lock of its own.
///
/// # Errors
/// There is none, it was written by an older or a newer Levigate, or it is damaged.
pub async fn open_workspace_to_read(folder: &Path) -> Result<SqliteStore, StoreError> {
    if !folder.join(DATABASE).is_file() {
        return Err(wrong(folder, "there is no workspace here"));
    }
    SqliteStore::open_to_read(folder).await
}

/// Makes a workspace where there is none.
///
/// # Errors
/// There is one already, or the folder cannot be written.
pub async fn create_workspace(folder: &Path) -> Result<SqliteStore, StoreError> {
    if folder.join(DATABASE).exists() {
        return Err(wrong(folder, "there is a workspace here already"));
    }
    begin(folder).await
}

/// Opens a workspace, and makes it first where there is none.
///
/// # Errors
/// See [`open_workspace`] and [`create_workspace`].
pub async fn open_or_create_workspace(folder: &Path) -> Result<SqliteStore, StoreError> {
    begin(folder).await
}

async fn begin(folder: &Path) -> Result<SqliteStore, StoreError> {
    let failed = |error: std::io::Error| wrong(folder, error);
    for inside in [FACTS, BACKUPS] {
        private::folder(&folder.join(inside)).map_err(failed)?;
    }
    let lock = Lock::take(folder)?;
    SqliteStore::open(folder, lock).await
}

fn wrong(path: &Path, what: impl ToString) -> StoreError {
    StoreError::Folder { path: path.display().to_string(), what: what.to_string() }
}

/// The lock on a workspace folder; held as long as it lives.
#[derive(Debug)]
pub(crate) struct Lock {
    _held: File,
}

/// How often a held lock is asked for again.
const PATIENCE: usize = 20;
/// How long is waited in between.
const PAUSE: std::time::Duration = std::time::Duration::from_millis(25);

impl Lock {
    /// Takes the lock, or says who has it.
    pub(crate) fn take(folder: &Path) -> Result<Self, StoreError> {
        let path: PathBuf = folder.join(LOCK);
        let failed = |error: std::io::Error| wrong(&path, error);
        let mut held = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(&path)
            .map_err(failed)?;
        // A program that is just ending, or a child it is just starting, may hold the lock for a blink after letting go.
        let mut answer = held.try_lock();
        for _ in 0..PATIENCE {
            if !matches!(answer, Err(TryLockError::WouldBlock)) {
                break;
            }
            std::thread::sleep(PAUSE);
            answer = held.try_lock();
        }
        match answer {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                let mut holder = String::new();
                let told = held.take(200).read_to_string(&mut holder).is_ok() && !holder.trim().is_empty();
                let holder = told.then(|| holder.trim().to_owned());
                return Err(StoreError::Locked { folder: folder.display().to_string(), holder });
            }
            Err(TryLockError::Error(error)) => return Err(failed(error)),
        }
        held.set_len(0).map_err(failed)?;
        held.rewind().map_err(failed)?;
        writeln!(held, "process {}", std::process::id()).map_err(failed)?;
        Ok(Self { _held: held })
    }
}

//! Copies of a workspace: made while it is in use, proved by opening them and walking the chain, never written over anything.
//!
//! A copy is a folder that is itself a workspace: the database and the lab's own facts. It is built under another name beside its
//! place and moved there when it is whole, so that a copy that is there is a whole one.

use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use jiff::Timestamp;
use levigate_project::store::{Head, StoreError};

use crate::folder::{BACKUPS, DATABASE, FACTS, open_workspace, open_workspace_to_read};
use crate::private;
use crate::sqlite::{SqliteStore, copy_file};
use crate::with_machine;

/// A copy that was proved.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Copied {
    /// Where it is.
    pub folder: PathBuf,
    /// Where its log ends.
    pub head: Head,
    /// Files of the lab's own facts in it.
    pub facts: usize,
}

/// Copies a workspace, which may be open elsewhere, into a new folder: the one named, else one named after the moment in its own
/// `backups/`.
///
/// # Errors
/// There is no workspace, the folder is there already, it could not be written, or the copy does not hold.
pub async fn back_up(workspace: &Path, out: Option<&Path>, now: Timestamp) -> Result<Copied, StoreError> {
    open_workspace_to_read(workspace).await?.close().await;
    let out = match out {
        Some(out) => out.to_owned(),
        None => {
            let name = format!("levigate-{}", now.strftime("%Y%m%dT%H%M%S%.3fZ"));
            workspace.join(BACKUPS).join(name)
        }
    };
    let part = begin(&out)?;
    let made = async {
        copy_file(&workspace.join(DATABASE), &part.join(DATABASE)).await?;
        let facts = copy_facts(&workspace.join(FACTS), &part.join(FACTS))?;
        let head = prove(open_workspace_to_read(&part).await?).await?;
        Ok((head, facts))
    };
    finish(made.await, part, out)
}

/// Makes a workspace in a new folder from a copy: a folder, or a database file alone. An older copy is brought to the schema of this
/// program; the copy itself stays as it is.
///
/// # Errors
/// There is no copy, the folder holds something, it could not be written, or what was restored does not hold.
pub async fn restore(copy: &Path, folder: &Path) -> Result<Copied, StoreError> {
    let (database, facts) = match copy.is_dir() {
        true => (copy.join(DATABASE), copy.join(FACTS)),
        false => (copy.to_owned(), copy.with_file_name(FACTS).join("none")),
    };
    if !database.is_file() {
        return Err(wrong(copy, "there is no copy of a workspace here"));
    }
    if fs::read_dir(folder).is_ok_and(|mut inside| inside.next().is_none()) {
        // An empty folder is as good as none, and is put there again with what belongs in it.
        fs::remove_dir(folder).map_err(|error| wrong(folder, error))?;
    }
    let part = begin(folder)?;
    let made = async {
        copy_file(&database, &part.join(DATABASE)).await?;
        let facts = copy_facts(&facts, &part.join(FACTS))?;
        let head = prove(open_workspace(&part).await?).await?;
        Ok((head, facts))
    };
    finish(made.await, part, folder.to_owned())
}

/// Opens the copy as a workspace, walks its chain and closes it again.
async fn prove(store: SqliteStore) -> Result<Head, StoreError> {
    let store = Arc::new(store);
    let head = with_machine(store.clone()).verify().await;
    if let Some(store) = Arc::into_inner(store) {
        store.close().await;
    }
    head
}

/// The folder in which a copy is built; nothing may be in the place it will have.
fn begin(out: &Path) -> Result<PathBuf, StoreError> {
    if out.symlink_metadata().is_ok() {
        return Err(wrong(out, "something is here already; a copy never overwrites"));
    }
    let Some(name) = out.file_name() else { return Err(wrong(out, "this is no name of a folder")) };
    let part = out.with_file_name(format!(".{}.{}.part", name.to_string_lossy(), std::process::id()));
    if let Some(parent) = part.parent() {
        private::folder(parent).map_err(|error| wrong(parent, error))?;
    }
    if part.symlink_metadata().is_ok() {
        return Err(wrong(&part, "something is here already; a copy never overwrites"));
    }
    private::folder(&part).map_err(|error| wrong(&part, error))?;
    Ok(part)
}

fn finish(
    made: Result<(Head, usize), StoreError>,
    part: PathBuf,
    out: PathBuf,
) -> Result<Copied, StoreError> {
    let moved = made.and_then(|made| {
        if out.symlink_metadata().is_ok() {
            return Err(wrong(&out, "something came to be here meanwhile; a copy never overwrites"));
        }
        fs::rename(&part, &out).map_err(|error| wrong(&out, error))?;
        sync_folder(out.parent());
        Ok(made)
    });
    match moved {
        Ok((head, facts)) => Ok(Copied { folder: out, head, facts }),
        Err(error) => {
            // Only what was built here a moment ago; the error says what matters.
            let _ = fs::remove_dir_all(&part);
            Err(error)
        }
    }
}

/// Copies the files of a folder of facts, those in folders within it too.
fn copy_facts(from: &Path, to: &Path) -> Result<usize, StoreError> {
    private::folder(to).map_err(|error| wrong(to, error))?;
    let inside = match fs::read_dir(from) {
        Ok(inside) => inside,
        Err(error) if matches!(error.kind(), io::ErrorKind::NotFound | io::ErrorKind::NotADirectory) => {
            return Ok(0);
        }
        Err(error) => return Err(wrong(from, error)),
    };
    let mut count = 0;
    for found in inside {
        let found = found.map_err(|error| wrong(from, error))?;
        let (path, place) = (found.path(), to.join(found.file_name()));
        let kind = found.file_type().map_err(|error| wrong(&path, error))?;
        // A link to a file is read as the file, as it is where the facts are read; one to a folder may lead round in a circle.
        let linked = kind.is_symlink() && path.is_file();
        if kind.is_dir() {
            count += copy_facts(&path, &place)?;
        } else if kind.is_file() || linked {
            fs::copy(&path, &place).map_err(|error| wrong(&path, error))?;
            File::open(&place).and_then(|file| file.sync_all()).map_err(|error| wrong(&place, error))?;
            count += 1;
        }
    }
    Ok(count)
}

/// Makes the name of the copy survive a power cut, where the system can.
fn sync_folder(folder: Option<&Path>) {
    if let Some(folder) = folder.filter(|folder| !folder.as_os_str().is_empty()) {
        let _ = File::open(folder).and_then(|file| file.sync_all());
    }
}

fn wrong(path: &Path, what: impl ToString) -> StoreError {
    StoreError::Folder { path: path.display().to_string(), what: what.to_string() }
}

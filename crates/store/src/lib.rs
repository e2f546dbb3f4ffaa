//! Keeps a workspace on the disk: the [`Store`] of a project on SQLite, the workspace folder,
//! and the machine's own clock and dice.
//!
//! A workspace is a folder:
//!
//! | path | what it holds |
//! |---|---|
//! | `levigate.sqlite` | every record and draft; beside it `-wal` and `-shm` while it is open. The write-ahead log needs a disk of this machine, not a network share |
//! | `levigate.lock` | held by the program that has the workspace open; the system frees it when that program ends, however it ends |
//! | `facts/*.toml` | the lab's own facts, laid over the shipped ones |
//! | `backups/` | copies: a database file before every change of its schema, a folder for every backup |
//!
//! What is made here is its owner's alone where the system knows owners: folders 0700, databases and their copies 0600, what SQLite lays
//! beside them too. What is there already keeps the permissions somebody gave it.
//!
//! A second database gets a folder of its own under `migrations/`, a module beside [`sqlite`], and the conformance suite in
//! `tests/conformance`, which knows the trait only.

pub mod copying;
pub mod export;
pub mod folder;
mod private;
pub mod sqlite;
pub mod system;

pub use copying::{Copied, back_up, restore};
pub use export::export_into;
pub use folder::{create_workspace, open_or_create_workspace, open_workspace, open_workspace_to_read};
pub use sqlite::SqliteStore;
pub use system::{SystemClock, SystemDice};

use std::sync::Arc;

use levigate_project::store::Store;
use levigate_project::workspace::Workspace;

/// A workspace on a store, with the machine's own clock and dice.
#[must_use]
pub fn with_machine(store: Arc<dyn Store>) -> Workspace {
    Workspace::new(store, Arc::new(SystemClock), Arc::new(SystemDice))
}

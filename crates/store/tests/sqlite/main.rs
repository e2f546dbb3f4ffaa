//! The SQLite store: the conformance suite, and what only a database on a disk can get wrong.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on shall stop where it is")]

#[path = "../conformance/mod.rs"]
mod conformance;

mod append_only;
mod concurrency;
mod folder;
mod kill;
mod round_trip;

use std::sync::Arc;

use levigate_project::store::Store;
use levigate_store::{SqliteStore, create_workspace};

#[tokio::test]
async fn the_store_in_memory_conforms() {
    conformance::holds(async || Arc::new(SqliteStore::in_memory().await.unwrap()) as Arc<dyn Store>).await;
}

#[tokio::test]
async fn the_store_in_a_folder_conforms() {
    let parent = tempfile::tempdir().unwrap();
    let count = std::cell::Cell::new(0);
    conformance::holds(async || {
        count.set(count.get() + 1);
        let folder = parent.path().join(count.get().to_string());
        Arc::new(create_workspace(&folder).await.unwrap()) as Arc<dyn Store>
    })
    .await;
}

//! Forward and back over a hundred thousand batches and a million uses of lots.
//!
//! The store is built once, in a folder that is thrown away, by statements that go through the triggers; contents and hashes are
//! stand-ins, since tracing reads neither. Ten lots go into each batch, out of four thousand and one
//! common one that is in a thousand batches.

#![expect(clippy::unwrap_used, reason = "a benchmark that cannot go on shall stop where it is")]

use std::hint::black_box;
use std::path::Path;

use criterion::{Criterion, criterion_group, criterion_main};
use levigate_project::store::{Store as _, Trace};
use levigate_store::{SqliteStore, create_workspace, open_workspace};
use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection};
use sqlx::{ConnectOptions as _, Executor as _};
use tokio::runtime::{Builder, Runtime};

/// A formula, its trial, then batches, then entries, each with identities that can be told from their number.
const FILL: [&str; 5] = [
    "PRAGMA synchronous = OFF",
    "INSERT INTO record SELECT 1, '00000000-0000-7000-8000-000000000001', 'formula', '', 1, NULL, NULL, NULL, NULL, 'bench', \
     '2026-01-01T00:00:00Z', '{}', NULL, printf('%064x', 1), printf('%064x', 1), 'initialled'",
    "INSERT INTO record SELECT 2, '00000000-0000-7000-8000-000000000002', 'trial', '00000000-0000-7000-8000-000000000001', 1, \
     'formula', '00000000-0000-7000-8000-000000000001', NULL, NULL, 'bench', '2026-01-01T00:00:00Z', '{}', NULL, \
     printf('%064x', 2), printf('%064x', 2), 'initialled'",
    "WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 100000) \
     INSERT INTO record SELECT i + 2, printf('10000000-0000-7000-8000-%012x', i), 'batch', printf('B-%06d', i), 1, 'trial', \
     '00000000-0000-7000-8000-000000000002', NULL, NULL, 'bench', '2026-01-01T00:00:00Z', \
     json_object('plan', hex(zeroblob(500))), NULL, printf('%064x', i + 2), printf('%064x', i + 2), 'initialled' FROM n",
    "WITH RECURSIVE n (i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i < 999999) \
     INSERT INTO record SELECT i + 100003, printf('20000000-0000-7000-8000-%012x', i), 'batch_entry', \
     printf('10000000-0000-7000-8000-%012x', i / 10 + 1), i % 10 + 1, 'batch', printf('10000000-0000-7000-8000-%012x', i / 10 + 1), \
     NULL, NULL, 'bench', '2026-01-01T00:00:00Z', json_object('did', hex(zeroblob(150))), NULL, printf('%064x', i + 100003), \
     printf('%064x', i + 100003), 'initialled' FROM n",
];

/// The first use in every hundredth batch is of the common lot; all others are spread over four thousand lots.
const INDEX: &str = "WITH RECURSIVE n (i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i < 999999) \
     INSERT INTO lot_use SELECT printf('20000000-0000-7000-8000-%012x', i), \
     CASE WHEN i % 1000 = 0 THEN 'common' ELSE printf('lot-%d', (i * 7919) % 4000) END, \
     printf('10000000-0000-7000-8000-%012x', i / 10 + 1), 2500000 FROM n";

async fn fill(folder: &Path) {
    create_workspace(folder).await.unwrap().close().await;
    let options = SqliteConnectOptions::new().filename(folder.join("levigate.sqlite"));
    let mut connection: SqliteConnection = options.connect().await.unwrap();
    for statement in FILL {
        connection.execute(statement).await.unwrap();
    }
    connection.execute(INDEX).await.unwrap();
    connection.execute("ANALYZE").await.unwrap();
}

fn ask(runtime: &Runtime, store: &SqliteStore, trace: &Trace, expected: usize) {
    let found = runtime.block_on(store.trace(black_box(trace))).unwrap();
    assert_eq!(found.len(), expected);
}

fn tracing(criterion: &mut Criterion) {
    let runtime = Builder::new_current_thread().enable_all().build().unwrap();
    let folder = tempfile::tempdir().unwrap();
    runtime.block_on(fill(folder.path()));
    let store = runtime.block_on(open_workspace(folder.path())).unwrap();
    let mut group = criterion.benchmark_group("trace");
    group.sample_size(20);
    let forward = Trace::Lot("lot-1234".to_owned());
    let uses = runtime.block_on(store.trace(&forward)).unwrap().len();
    assert!((200..300).contains(&uses), "{uses} uses of one lot of four thousand in a million");
    group.bench_function("forward, 250 batches", |bench| {
        bench.iter(|| ask(&runtime, &store, &forward, uses));
    });
    let common = Trace::Lot("common".to_owned());
    group.bench_function("forward, 1000 batches", |bench| {
        bench.iter(|| ask(&runtime, &store, &common, 1000));
    });
    group.bench_function("every lot that is in a batch", |bench| {
        bench.iter(|| assert_eq!(runtime.block_on(store.lots_used()).unwrap().len(), 4001));
    });
    let batch = "10000000-0000-7000-8000-00000000c350".parse().unwrap();
    group.bench_function("back, 10 lots", |bench| {
        bench.iter(|| ask(&runtime, &store, &Trace::Batch(batch), 10));
    });
    group.finish();
}

criterion_group!(benches, tracing);
criterion_main!(benches);

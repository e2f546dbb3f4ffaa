//! Writing records and drafts.

use levigate_project::audit::{entry_hash, link};
use levigate_project::records::Draft;
use levigate_project::store::{DraftKey, Entry, LogEntry, NewEntry, StoreError, Write};
use sqlx::SqliteConnection;
use sqlx::sqlite::SqlitePool;

use super::{draft_scope, failed, uses};

const DOING: &str = "write the records";

/// A count as SQLite keeps it; all our counts fit.
fn count(value: u64) -> i64 {
    i64::try_from(value).unwrap_or(i64::MAX)
}

pub(super) async fn write(pool: &SqlitePool, write: &Write) -> Result<Vec<LogEntry>, StoreError> {
    let mut transaction = pool.begin_with("BEGIN IMMEDIATE").await.map_err(failed(DOING))?;
    let added = u64::try_from(write.entries.len()).unwrap_or(u64::MAX);
    // The head row first: whoever has it writes, everybody else waits.
    let (after, mut last) = sqlx::query_as::<_, (u64, String)>(
        "UPDATE log_head SET length = length + $1 WHERE id = 1 RETURNING length, link",
    )
    .bind(count(added))
    .fetch_one(&mut *transaction)
    .await
    .map_err(failed(DOING))?;
    let mut sequence = after.saturating_sub(added);
    if let Some(expected) = write.log_length
        && expected != sequence
    {
        return Err(StoreError::LogMoved { expected, found: sequence });
    }
    let mut written = Vec::with_capacity(write.entries.len());
    for new in &write.entries {
        sequence += 1;
        refuse_same_identity(&mut transaction, &new.entry).await?;
        let number = next_number(&mut transaction, new).await?;
        refuse_second_correction(&mut transaction, &new.entry).await?;
        let hash = entry_hash(&new.entry, number);
        last = link(&last, sequence, &hash);
        let entry = LogEntry { sequence, number, entry: new.entry.clone(), hash, link: last.clone() };
        insert(&mut transaction, &entry).await?;
        insert_photo(&mut transaction, new).await?;
        uses::insert(&mut transaction, new).await?;
        written.push(entry);
    }
    if let Some((record, secret)) = &write.secret {
        insert_secret(&mut transaction, &record.to_string(), secret).await?;
    }
    sqlx::query("UPDATE log_head SET link = $1 WHERE id = 1")
        .bind(&last)
        .execute(&mut *transaction)
        .await
        .map_err(failed(DOING))?;
    if let Some(key) = &write.discard {
        delete_draft(&mut transaction, key).await?;
    }
    transaction.commit().await.map_err(failed(DOING))?;
    Ok(written)
}

/// The next number in the scope, if the scope stands where the writer thinks it does.
async fn next_number(connection: &mut SqliteConnection, new: &NewEntry) -> Result<u32, StoreError> {
    let entry = &new.entry;
    let newest = sqlx::query_as::<_, (u32, String, String)>(
        "SELECT number, who, at FROM record WHERE kind = $1 AND scope = $2 ORDER BY number DESC LIMIT 1",
    )
    .bind(entry.kind.word())
    .bind(&entry.scope)
    .fetch_optional(connection)
    .await
    .map_err(failed(DOING))?;
    match (newest, new.based_on) {
        (None, None | Some(0)) => Ok(1),
        (None, Some(yours)) => {
            Err(StoreError::Missing { kind: entry.kind, id: format!("{yours} of {}", entry.scope) })
        }
        (Some((theirs, by, at)), Some(yours)) if theirs != yours => {
            let unreadable = |_| StoreError::Medium { doing: DOING, what: format!("`{at}` is no time") };
            Err(StoreError::Moved { yours, theirs, by, when: at.parse().map_err(unreadable)? })
        }
        (Some((newest, _, _)), _) => newest
            .checked_add(1)
            .ok_or_else(|| StoreError::Medium { doing: DOING, what: "the numbers are used up".to_owned() }),
    }
}

async fn refuse_same_identity(connection: &mut SqliteConnection, entry: &Entry) -> Result<(), StoreError> {
    let kept: i64 = sqlx::query_scalar("SELECT count(*) FROM record WHERE id = $1")
        .bind(entry.id.to_string())
        .fetch_one(connection)
        .await
        .map_err(failed(DOING))?;
    if kept > 0 { Err(StoreError::AlreadyKept { kind: entry.kind, id: entry.id }) } else { Ok(()) }
}

async fn refuse_second_correction(
    connection: &mut SqliteConnection,
    entry: &Entry,
) -> Result<(), StoreError> {
    let Some((id, _)) = entry.corrects else { return Ok(()) };
    let corrected: i64 = sqlx::query_scalar("SELECT count(*) FROM record WHERE corrects = $1")
        .bind(id.to_string())
        .fetch_one(connection)
        .await
        .map_err(failed(DOING))?;
    if corrected > 0 { Err(StoreError::AlreadyCorrected { kind: entry.kind, id }) } else { Ok(()) }
}

async fn insert(connection: &mut SqliteConnection, written: &LogEntry) -> Result<(), StoreError> {
    let entry = &written.entry;
    sqlx::query(
        "INSERT INTO record (sequence, id, kind, scope, number, parent_kind, parent, corrects, correction_reason, who, how, \
         at, body, photo_sha256, hash, link) \
         VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16)",
    )
    .bind(count(written.sequence))
    .bind(entry.id.to_string())
    .bind(entry.kind.word())
    .bind(&entry.scope)
    .bind(written.number)
    .bind(entry.parent.map(|(kind, _)| kind.word()))
    .bind(entry.parent.map(|(_, id)| id.to_string()))
    .bind(entry.corrects.as_ref().map(|(id, _)| id.to_string()))
    .bind(entry.corrects.as_ref().map(|(_, reason)| reason))
    .bind(&entry.who)
    .bind(entry.how.word())
    .bind(entry.when.to_string())
    .bind(&entry.body)
    .bind(&entry.photo_sha256)
    .bind(&written.hash)
    .bind(&written.link)
    .execute(connection)
    .await
    .map_err(|error| insert_failed(entry, error))?;
    Ok(())
}

/// A record that belongs to or corrects nothing is the caller's mistake, not the disk's.
fn insert_failed(entry: &Entry, error: sqlx::Error) -> StoreError {
    let dangling = error.as_database_error().is_some_and(|it| it.is_foreign_key_violation());
    match (dangling, entry.parent, &entry.corrects) {
        (true, _, Some((id, _))) => StoreError::Missing { kind: entry.kind, id: id.to_string() },
        (true, Some((kind, id)), None) => StoreError::Missing { kind, id: id.to_string() },
        _ => failed(DOING)(error),
    }
}

async fn insert_secret(
    connection: &mut SqliteConnection,
    record: &str,
    secret: &str,
) -> Result<(), StoreError> {
    sqlx::query("INSERT INTO secret (record, text) VALUES ($1, $2)")
        .bind(record)
        .bind(secret)
        .execute(connection)
        .await
        .map_err(failed("write the password"))?;
    Ok(())
}

async fn insert_photo(connection: &mut SqliteConnection, new: &NewEntry) -> Result<(), StoreError> {
    let Some(photo) = &new.photo else { return Ok(()) };
    sqlx::query("INSERT INTO photo (record, media, bytes) VALUES ($1, $2, $3)")
        .bind(new.entry.id.to_string())
        .bind(photo.media().name())
        .bind(photo.bytes())
        .execute(connection)
        .await
        .map_err(failed("write the photo"))?;
    Ok(())
}

pub(super) async fn keep_draft(pool: &SqlitePool, draft: &Draft) -> Result<(), StoreError> {
    sqlx::query(
        "INSERT INTO draft (formula, tab, edit, based_on, text, who, at) VALUES ($1, $2, $3, $4, $5, $6, $7) \
         ON CONFLICT (formula, tab) DO UPDATE SET edit = excluded.edit, based_on = excluded.based_on, \
         text = excluded.text, who = excluded.who, at = excluded.at WHERE excluded.edit > draft.edit",
    )
    .bind(draft_scope(draft.formula))
    .bind(&draft.tab)
    .bind(count(draft.edit))
    .bind(draft.based_on)
    .bind(&draft.text)
    .bind(&draft.who)
    .bind(draft.when.to_string())
    .execute(pool)
    .await
    .map_err(failed("keep the draft"))?;
    Ok(())
}

pub(super) async fn discard_draft(pool: &SqlitePool, key: &DraftKey) -> Result<(), StoreError> {
    let mut connection = pool.acquire().await.map_err(failed("discard the draft"))?;
    delete_draft(&mut connection, key).await
}

async fn delete_draft(connection: &mut SqliteConnection, key: &DraftKey) -> Result<(), StoreError> {
    sqlx::query("DELETE FROM draft WHERE formula = $1 AND tab = $2")
        .bind(draft_scope(key.formula))
        .bind(&key.tab)
        .execute(connection)
        .await
        .map_err(failed("discard the draft"))?;
    Ok(())
}

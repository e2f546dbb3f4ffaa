//! Reading records, photos and drafts.

use levigate_project::records::{Draft, Formula, How, Id, Kind, MediaType, Photo};
use levigate_project::store::{Entry, Head, LogEntry, Select, StoreError};
use sqlx::Row as _;
use sqlx::sqlite::{SqlitePool, SqliteRow};
use uuid::Uuid;

use super::{draft_scope, failed};

/// A query for records with the ending given; still one constant text.
macro_rules! records {
    ($ending:literal) => {
        concat!(
            "SELECT sequence, id, kind, scope, number, parent_kind, parent, corrects, correction_reason, who, how, at, body, ",
            "photo_sha256, hash, link FROM record ",
            $ending
        )
    };
}

pub(super) async fn read(pool: &SqlitePool, select: &Select) -> Result<Vec<LogEntry>, StoreError> {
    let query = match select {
        Select::All => sqlx::query(records!("ORDER BY sequence")),
        Select::One(id) => sqlx::query(records!("WHERE id = $1")).bind(id.to_string()),
        Select::Number(kind, scope, number) => {
            sqlx::query(records!("WHERE kind = $1 AND scope = $2 AND number = $3"))
                .bind(kind.word())
                .bind(scope)
                .bind(*number)
        }
        Select::Scope(kind, scope) => {
            sqlx::query(records!("WHERE kind = $1 AND scope = $2 ORDER BY sequence"))
                .bind(kind.word())
                .bind(scope)
        }
        Select::Kind(kind) => sqlx::query(records!("WHERE kind = $1 ORDER BY sequence")).bind(kind.word()),
        Select::Latest(kind) => sqlx::query(records!(
            "AS one WHERE kind = $1 AND number = \
             (SELECT max(number) FROM record WHERE kind = one.kind AND scope = one.scope) ORDER BY sequence"
        ))
        .bind(kind.word()),
        Select::Children(kind, parent) => {
            sqlx::query(records!("WHERE parent = $1 AND kind = $2 ORDER BY sequence"))
                .bind(parent.to_string())
                .bind(kind.word())
        }
        Select::Newest(kind, most) => {
            sqlx::query(records!("WHERE kind = $1 ORDER BY sequence DESC LIMIT $2"))
                .bind(kind.word())
                .bind(*most)
        }
        Select::KindAfter(kind, sequence, most) => {
            sqlx::query(records!("WHERE kind = $1 AND sequence > $2 ORDER BY sequence LIMIT $3"))
                .bind(kind.word())
                .bind(i64::try_from(*sequence).unwrap_or(i64::MAX))
                .bind(*most)
        }
        Select::After(sequence, most) => {
            sqlx::query(records!("WHERE sequence > $1 ORDER BY sequence LIMIT $2"))
                .bind(i64::try_from(*sequence).unwrap_or(i64::MAX))
                .bind(*most)
        }
    };
    let rows = query.fetch_all(pool).await.map_err(failed("read the records"))?;
    rows.iter().map(log_entry).collect()
}

fn log_entry(row: &SqliteRow) -> Result<LogEntry, StoreError> {
    let failed = failed("read a record");
    let text = |column: &str| row.try_get::<String, _>(column).map_err(&failed);
    let maybe = |column: &str| row.try_get::<Option<String>, _>(column).map_err(&failed);
    let (id, kind) = (text("id")?, text("kind")?);
    let unreadable =
        |what: &str| StoreError::Unreadable { kind: kind.clone(), id: id.clone(), what: what.to_owned() };
    let uuid = |text: &str| Uuid::try_parse(text).map_err(|_| unreadable("an identity in it is none"));
    let known = |word: &str| Kind::from_word(word).ok_or_else(|| unreadable("its kind is unknown"));
    let parent = match (maybe("parent_kind")?, maybe("parent")?) {
        (Some(kind), Some(id)) => Some((known(&kind)?, uuid(&id)?)),
        _ => None,
    };
    let corrects = match (maybe("corrects")?, maybe("correction_reason")?) {
        (Some(id), Some(reason)) => Some((uuid(&id)?, reason)),
        _ => None,
    };
    let entry = Entry {
        id: uuid(&id)?,
        kind: known(&kind)?,
        scope: text("scope")?,
        parent,
        corrects,
        who: text("who")?,
        how: How::from_word(&text("how")?).ok_or_else(|| unreadable("how its writer is known is no word"))?,
        when: text("at")?.parse().map_err(|_| unreadable("its time is none"))?,
        body: text("body")?,
        photo_sha256: maybe("photo_sha256")?,
    };
    let sequence = row.try_get::<u64, _>("sequence").map_err(&failed)?;
    let number = row.try_get::<u32, _>("number").map_err(&failed)?;
    Ok(LogEntry { sequence, number, entry, hash: text("hash")?, link: text("link")? })
}

pub(super) async fn secret(pool: &SqlitePool, record: Uuid) -> Result<Option<String>, StoreError> {
    sqlx::query_scalar("SELECT text FROM secret WHERE record = $1")
        .bind(record.to_string())
        .fetch_optional(pool)
        .await
        .map_err(failed("read the password"))
}

pub(super) async fn photo(pool: &SqlitePool, record: Uuid) -> Result<Option<Photo>, StoreError> {
    let found = sqlx::query_as::<_, (String, Vec<u8>)>("SELECT media, bytes FROM photo WHERE record = $1")
        .bind(record.to_string())
        .fetch_optional(pool)
        .await
        .map_err(failed("read the photo"))?;
    let Some((media, bytes)) = found else { return Ok(None) };
    let unreadable =
        |what: String| StoreError::Unreadable { kind: "photo".to_owned(), id: record.to_string(), what };
    let media = MediaType::from_name(&media).ok_or_else(|| unreadable(format!("{media} is not kept")))?;
    Photo::declared(bytes, media).map(Some).map_err(|error| unreadable(error.to_string()))
}

pub(super) async fn head(pool: &SqlitePool) -> Result<Head, StoreError> {
    let (length, link) = sqlx::query_as::<_, (u64, String)>("SELECT length, link FROM log_head WHERE id = 1")
        .fetch_one(pool)
        .await
        .map_err(failed("read the end of the log"))?;
    Ok(Head { length, link })
}

pub(super) async fn drafts(
    pool: &SqlitePool,
    formula: Option<Id<Formula>>,
) -> Result<Vec<Draft>, StoreError> {
    let failed = failed("read the drafts");
    let rows = sqlx::query(
        "SELECT tab, edit, based_on, text, who, at FROM draft WHERE formula = $1 ORDER BY at, tab",
    )
    .bind(draft_scope(formula))
    .fetch_all(pool)
    .await
    .map_err(&failed)?;
    let draft = |row: &SqliteRow| {
        let tab: String = row.try_get("tab").map_err(&failed)?;
        let when: String = row.try_get("at").map_err(&failed)?;
        let unreadable = |_| StoreError::Unreadable {
            kind: "draft".to_owned(),
            id: tab.clone(),
            what: "its time is none".to_owned(),
        };
        Ok(Draft {
            formula,
            edit: row.try_get("edit").map_err(&failed)?,
            based_on: row.try_get("based_on").map_err(&failed)?,
            text: row.try_get("text").map_err(&failed)?,
            who: row.try_get("who").map_err(&failed)?,
            when: when.parse().map_err(unreadable)?,
            tab,
        })
    };
    rows.iter().map(draft).collect()
}

pub(super) async fn check_medium(pool: &SqlitePool) -> Result<(), StoreError> {
    let doing = "check the database";
    let answers: Vec<String> =
        sqlx::query_scalar("PRAGMA integrity_check").fetch_all(pool).await.map_err(failed(doing))?;
    if answers != ["ok"] {
        return Err(StoreError::Medium { doing, what: answers.join("; ") });
    }
    let dangling = sqlx::query("PRAGMA foreign_key_check").fetch_all(pool).await.map_err(failed(doing))?;
    if !dangling.is_empty() {
        return Err(StoreError::Medium {
            doing,
            what: format!("{} records belong to nothing", dangling.len()),
        });
    }
    Ok(())
}

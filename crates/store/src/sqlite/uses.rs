//! Which lot is in which batch.

use std::collections::BTreeMap;

use levigate_project::store::{LotUse, NewEntry, StoreError, Trace, TracedUse};
use sqlx::sqlite::{SqlitePool, SqliteRow};
use sqlx::{Row as _, SqliteConnection};
use uuid::Uuid;

use super::failed;

/// A query for uses with the ending given; still one constant text.
macro_rules! uses {
    ($ending:literal) => {
        concat!(
            "SELECT u.lot, u.micrograms, u.entry, u.batch, b.scope AS code, b.parent AS trial, e.who, e.at, \
             EXISTS (SELECT 1 FROM record AS c WHERE c.corrects = u.entry) AS struck FROM lot_use AS u \
             JOIN record AS b ON b.id = u.batch JOIN record AS e ON e.id = u.entry ",
            $ending
        )
    };
}

const DOING: &str = "trace the lots";

/// Indexes what an entry puts into its batch.
pub(super) async fn insert(connection: &mut SqliteConnection, new: &NewEntry) -> Result<(), StoreError> {
    for used in &new.uses {
        let Some((_, batch)) = new.entry.parent else { continue };
        sqlx::query("INSERT INTO lot_use (entry, lot, batch, micrograms) VALUES ($1, $2, $3, $4)")
            .bind(new.entry.id.to_string())
            .bind(&used.lot)
            .bind(batch.to_string())
            .bind(used.micrograms)
            .execute(&mut *connection)
            .await
            .map_err(failed("index the lot"))?;
    }
    Ok(())
}

pub(super) async fn trace(pool: &SqlitePool, trace: &Trace) -> Result<Vec<TracedUse>, StoreError> {
    let query = match trace {
        Trace::Lot(lot) => sqlx::query(uses!("WHERE u.lot = $1 ORDER BY e.sequence")).bind(lot.clone()),
        Trace::Batch(batch) => {
            sqlx::query(uses!("WHERE u.batch = $1 ORDER BY e.sequence")).bind(batch.to_string())
        }
    };
    let rows = query.fetch_all(pool).await.map_err(failed(DOING))?;
    rows.iter().map(traced).collect()
}

fn traced(row: &SqliteRow) -> Result<TracedUse, StoreError> {
    let text = |column: &str| row.try_get::<String, _>(column).map_err(failed(DOING));
    let entry = text("entry")?;
    let unreadable = |what: &str| StoreError::Unreadable {
        kind: "use of a lot".to_owned(),
        id: entry.clone(),
        what: what.to_owned(),
    };
    let uuid = |text: String| Uuid::try_parse(&text).map_err(|_| unreadable("an identity in it is none"));
    Ok(TracedUse {
        used: LotUse { lot: text("lot")?, micrograms: row.try_get("micrograms").map_err(failed(DOING))? },
        batch: uuid(text("batch")?)?,
        code: text("code")?,
        trial: uuid(text("trial")?)?,
        who: text("who")?,
        when: text("at")?.parse().map_err(|_| unreadable("its time is none"))?,
        struck: row.try_get("struck").map_err(failed(DOING))?,
        entry: uuid(entry.clone())?,
    })
}

pub(super) async fn used(pool: &SqlitePool) -> Result<BTreeMap<String, i64>, StoreError> {
    let rows = sqlx::query_as::<_, (String, i64)>(
        "SELECT u.lot, sum(u.micrograms) FROM lot_use AS u \
         WHERE NOT EXISTS (SELECT 1 FROM record AS c WHERE c.corrects = u.entry) GROUP BY u.lot",
    )
    .fetch_all(pool)
    .await
    .map_err(failed("add up what was used"))?;
    Ok(rows.into_iter().collect())
}

/// From one lot to the next in the index: lots are few, their uses many.
pub(super) async fn lots_used(pool: &SqlitePool) -> Result<Vec<String>, StoreError> {
    sqlx::query_scalar(
        "WITH RECURSIVE used (lot) AS (SELECT min(lot) FROM lot_use \
         UNION ALL SELECT (SELECT min(u.lot) FROM lot_use AS u WHERE u.lot > used.lot) FROM used WHERE used.lot IS NOT NULL) \
         SELECT lot FROM used WHERE lot IS NOT NULL",
    )
    .fetch_all(pool)
    .await
    .map_err(failed(DOING))
}

pub(super) async fn indexed(pool: &SqlitePool) -> Result<Vec<(Uuid, LotUse)>, StoreError> {
    let rows = sqlx::query_as::<_, (String, String, i64)>(
        "SELECT u.entry, u.lot, u.micrograms FROM lot_use AS u JOIN record AS e ON e.id = u.entry ORDER BY e.sequence, u.lot",
    )
    .fetch_all(pool)
    .await
    .map_err(failed(DOING))?;
    rows.into_iter()
        .map(|(entry, lot, micrograms)| {
            let unreadable = |_| StoreError::Unreadable {
                kind: "use of a lot".to_owned(),
                id: entry.clone(),
                what: "its entry is no identity".to_owned(),
            };
            Ok((Uuid::try_parse(&entry).map_err(unreadable)?, LotUse { lot, micrograms }))
        })
        .collect()
}

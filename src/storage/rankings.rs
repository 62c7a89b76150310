//! One row a unit for the leaderboard: written with each evaluation, read whole into memory.

use super::{Error, instant};
use crate::ranking::Row;
use serde::de::DeserializeOwned;
use sqlx::SqliteConnection;
use std::collections::VecDeque;
use time::OffsetDateTime;
use tokio::task::{JoinHandle, spawn_blocking};

/// Writes a unit's row as derived from its revision and evaluation, in place of an older one.
/// When it was published and last revised is taken from the unit and the revision.
pub async fn write(
    connection: &mut SqliteConnection,
    row: &Row,
    revision_id: i64,
    evaluation_id: i64,
) -> Result<(), Error> {
    let document = serde_json::to_string(row).map_err(|cause| Error::Corrupt {
        what: "ranking row",
        cause: cause.to_string(),
    })?;
    let written = sqlx::query!(
        "INSERT INTO ranking (unit_id, revision_id, evaluation_id, published_at, revised_at, row)
         SELECT unit.id,
                revision.id,
                ?,
                unit.created_at,
                revision.created_at,
                ?
         FROM revision
         JOIN unit ON unit.id = revision.unit_id
         WHERE revision.id = ?
         ON CONFLICT (unit_id) DO UPDATE
         SET revision_id = excluded.revision_id,
             evaluation_id = excluded.evaluation_id,
             revised_at = excluded.revised_at,
             row = excluded.row",
        evaluation_id,
        document,
        revision_id
    )
    .execute(connection)
    .await?;
    if written.rows_affected() == 0 {
        Err(Error::NotFound)
    } else {
        Ok(())
    }
}

/// Every row, in the order of publication. Texts are turned into rows a few hundred at a time, so that
/// the memory needed besides the rows stays small, and on threads of their own, while the next are
/// read.
pub async fn all(connection: &mut SqliteConnection) -> Result<Vec<Row>, Error> {
    const AT_ONCE: i64 = 400;
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let mut rows = Vec::new();
    let mut after = 0;
    let mut under_way: VecDeque<JoinHandle<Result<Vec<Row>, Error>>> = VecDeque::new();
    loop {
        // One array of several: each row by itself would wake two threads.
        let some = sqlx::query!(
            r#"SELECT max(unit_id) AS "last: i64",
                      '[' || group_concat(row) || ']' AS "rows: String"
               FROM (SELECT unit_id,
                            row
                     FROM ranking
                     WHERE unit_id > ?
                     ORDER BY unit_id
                     LIMIT ?)"#,
            after,
            AT_ONCE
        )
        .fetch_one(&mut *connection)
        .await?;
        let ended = match (some.last, some.rows) {
            (Some(last), Some(texts)) => {
                let first = after + 1;
                after = last;
                under_way.push_back(spawn_blocking(move || {
                    let mut rows: Vec<Row> = decoded(&texts).map_err(|error| match error {
                        Error::Corrupt { what, cause } => Error::Corrupt {
                            what,
                            cause: format!("units {first} to {last}: {cause}"),
                        },
                        other => other,
                    })?;
                    // SQLite promises no order within the array.
                    rows.sort_unstable_by_key(|row| row.unit_id);
                    Ok(rows)
                }));
                false
            }
            _ => true,
        };
        while under_way.len() > if ended { 0 } else { threads }
            && let Some(first) = under_way.pop_front()
        {
            let first = first.await.expect("reading rows does not panic");
            rows.extend(first?);
        }
        if ended {
            return Ok(rows);
        }
    }
}

/// The newest evaluation that a row shows; 0 where there are no rows.
pub async fn newest_evaluation(connection: &mut SqliteConnection) -> Result<i64, Error> {
    let newest = sqlx::query_scalar!(
        "SELECT coalesce(max(evaluation_id), 0)
         FROM ranking"
    )
    .fetch_one(connection)
    .await?;
    Ok(newest)
}

/// Rows that show an evaluation newer than this one, at most so many, in the order of publication.
pub async fn newer_than(
    connection: &mut SqliteConnection,
    evaluation_id: i64,
    at_most: i64,
) -> Result<Vec<Row>, Error> {
    let texts = sqlx::query_scalar!(
        "SELECT row
         FROM ranking
         WHERE evaluation_id > ?
         ORDER BY unit_id
         LIMIT ?",
        evaluation_id,
        at_most
    )
    .fetch_all(connection)
    .await?;
    texts.iter().map(|text| decoded(text)).collect()
}

/// Every public unit's slug with the moment of its newest revision, in the order of publication.
pub async fn revised(
    connection: &mut SqliteConnection,
) -> Result<Vec<(String, OffsetDateTime)>, Error> {
    let rows = sqlx::query!(
        "SELECT unit.slug,
                ranking.revised_at
         FROM ranking
         JOIN unit ON unit.id = ranking.unit_id
         ORDER BY ranking.unit_id"
    )
    .fetch_all(connection)
    .await?;
    rows.into_iter()
        .map(|row| Ok((row.slug, instant::from_text(&row.revised_at)?)))
        .collect()
}

/// A unit's row as it is stored, with what it was derived from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoredRow {
    pub revision_id: i64,
    pub evaluation_id: i64,
    /// RFC 3339.
    pub published_at: String,
    /// RFC 3339.
    pub revised_at: String,
    /// [`Row`] as JSON.
    pub row: String,
}

/// A unit's row as it is stored; `None` if it has none.
pub async fn stored(
    connection: &mut SqliteConnection,
    unit_id: i64,
) -> Result<Option<StoredRow>, Error> {
    let stored = sqlx::query_as!(
        StoredRow,
        "SELECT revision_id,
                evaluation_id,
                published_at,
                revised_at,
                row
         FROM ranking
         WHERE unit_id = ?",
        unit_id
    )
    .fetch_optional(connection)
    .await?;
    Ok(stored)
}

/// One unit's row.
pub async fn of_unit(connection: &mut SqliteConnection, unit_id: i64) -> Result<Row, Error> {
    let text = sqlx::query_scalar!(
        "SELECT row
         FROM ranking
         WHERE unit_id = ?",
        unit_id
    )
    .fetch_one(connection)
    .await?;
    decoded(&text)
}

/// A row, or an array of them.
fn decoded<T: DeserializeOwned>(text: &str) -> Result<T, Error> {
    serde_json::from_str(text).map_err(|cause| Error::Corrupt {
        what: "ranking row",
        cause: cause.to_string(),
    })
}

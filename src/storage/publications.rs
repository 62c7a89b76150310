//! What was published or corrected last, for the feed.

use super::{Error, instant};
use crate::ranking::Row;
use sqlx::SqliteConnection;
use time::OffsetDateTime;

/// A unit with its newest revision.
#[derive(Debug, Clone, PartialEq)]
pub struct Publication {
    pub unit_id: i64,
    pub row: Row,
    pub published_at: OffsetDateTime,
    /// When the newest revision was published.
    pub revised_at: OffsetDateTime,
    /// Number of the newest revision; 1 is the first publication.
    pub revision: i64,
    pub author: String,
    /// Why the newest revision was made.
    pub reason: String,
}

/// The units whose newest revision is youngest, the youngest first.
pub async fn newest(
    connection: &mut SqliteConnection,
    at_most: i64,
) -> Result<Vec<Publication>, Error> {
    let rows = sqlx::query!(
        r#"SELECT ranking.unit_id AS "unit_id!",
                  ranking.row,
                  ranking.published_at,
                  ranking.revised_at,
                  revision.number,
                  revision.author,
                  revision.reason
           FROM ranking
           JOIN revision ON revision.id = ranking.revision_id
           ORDER BY ranking.revised_at DESC, ranking.unit_id DESC
           LIMIT ?"#,
        at_most
    )
    .fetch_all(connection)
    .await?;
    rows.into_iter()
        .map(|row| {
            Ok(Publication {
                unit_id: row.unit_id,
                row: serde_json::from_str(&row.row).map_err(|cause| Error::Corrupt {
                    what: "ranking row",
                    cause: cause.to_string(),
                })?,
                published_at: instant::from_text(&row.published_at)?,
                revised_at: instant::from_text(&row.revised_at)?,
                revision: row.number,
                author: row.author,
                reason: row.reason,
            })
        })
        .collect()
}

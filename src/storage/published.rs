//! What is public, listed whole: for whoever writes or indexes the site.

use super::Error;
use sqlx::SqliteConnection;

/// One published revision of a unit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PublishedRevision {
    pub slug: String,
    pub revision_id: i64,
    /// 1 for the first.
    pub number: i64,
    /// What was last said of it.
    pub evaluation_id: Option<i64>,
}

/// A raw log that a published revision names.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PublishedLog {
    pub slug: String,
    pub number: i64,
    pub name: String,
    pub sha256: String,
}

/// A photo that a published revision names.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PublishedPhoto {
    pub slug: String,
    pub sha256: String,
}

/// Every published revision, by unit in the order of publication, the oldest revision first.
pub async fn revisions(connection: &mut SqliteConnection) -> Result<Vec<PublishedRevision>, Error> {
    let all = sqlx::query_as!(
        PublishedRevision,
        r#"SELECT unit.slug,
                  revision.id AS "revision_id!",
                  revision.number,
                  (SELECT max(evaluation.id)
                   FROM evaluation
                   WHERE evaluation.revision_id = revision.id) AS evaluation_id
           FROM revision
           JOIN unit ON unit.id = revision.unit_id
           ORDER BY unit.id, revision.number"#
    )
    .fetch_all(connection)
    .await?;
    Ok(all)
}

/// Every log that a published revision names, the newest revision of a unit last.
pub async fn logs(connection: &mut SqliteConnection) -> Result<Vec<PublishedLog>, Error> {
    let all = sqlx::query_as!(
        PublishedLog,
        "SELECT unit.slug,
                revision.number,
                revision_log.name,
                revision_log.sha256
         FROM revision_log
         JOIN revision ON revision.id = revision_log.revision_id
         JOIN unit ON unit.id = revision.unit_id
         ORDER BY unit.id, revision.number, revision_log.name"
    )
    .fetch_all(connection)
    .await?;
    Ok(all)
}

/// Every photo that a published revision names and that is at hand, each once a unit.
pub async fn photos(connection: &mut SqliteConnection) -> Result<Vec<PublishedPhoto>, Error> {
    let all = sqlx::query_as!(
        PublishedPhoto,
        "SELECT DISTINCT unit.slug,
                         revision_photo.sha256
         FROM revision_photo
         JOIN photo ON photo.sha256 = revision_photo.sha256
         JOIN revision ON revision.id = revision_photo.revision_id
         JOIN unit ON unit.id = revision.unit_id
         ORDER BY unit.id, revision_photo.sha256"
    )
    .fetch_all(connection)
    .await?;
    Ok(all)
}

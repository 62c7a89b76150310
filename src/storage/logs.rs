//! What is known of the raw logs that are kept, the layouts that testers saved under a name, and
//! which published revisions name which logs.

use super::{Error, instant};
use crate::bench::record::Log;
use sqlx::SqliteConnection;
use time::OffsetDateTime;

/// A kept log as the desk shows it.
#[derive(Debug, Clone, PartialEq)]
pub struct LogFile {
    pub sha256: String,
    pub name: String,
    pub size_bytes: u64,
    pub stored_bytes: u64,
    /// `bench::record::Layout` as JSON; `None` until it is known how to read it.
    pub layout: Option<String>,
    /// `intake::logs::Summary` as JSON; `None` if it could not be read by the layout.
    pub summary: Option<String>,
    /// Why it could not be read.
    pub fault: Option<String>,
    pub created_at: OffsetDateTime,
}

struct LogFileRow {
    sha256: String,
    name: String,
    size_bytes: i64,
    stored_bytes: i64,
    layout: Option<String>,
    summary: Option<String>,
    fault: Option<String>,
    created_at: String,
}

impl LogFileRow {
    fn into_log_file(self) -> Result<LogFile, Error> {
        Ok(LogFile {
            sha256: self.sha256,
            name: self.name,
            size_bytes: self.size_bytes.unsigned_abs(),
            stored_bytes: self.stored_bytes.unsigned_abs(),
            layout: self.layout,
            summary: self.summary,
            fault: self.fault,
            created_at: instant::from_text(&self.created_at)?,
        })
    }
}

/// Enters a kept log. One that is entered already keeps its first name and time; its layout and
/// summary become the new ones.
pub async fn enter(
    connection: &mut SqliteConnection,
    log: &LogFile,
    operator_id: Option<i64>,
) -> Result<(), Error> {
    let size_bytes = i64::try_from(log.size_bytes).unwrap_or(i64::MAX);
    let stored_bytes = i64::try_from(log.stored_bytes).unwrap_or(i64::MAX);
    let created_at = instant::to_text(log.created_at);
    sqlx::query!(
        "INSERT INTO log_file (sha256, name, size_bytes, stored_bytes, layout, summary, fault, operator_id, created_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)
         ON CONFLICT (sha256) DO UPDATE
         SET layout = excluded.layout,
             summary = excluded.summary,
             fault = excluded.fault",
        log.sha256,
        log.name,
        size_bytes,
        stored_bytes,
        log.layout,
        log.summary,
        log.fault,
        operator_id,
        created_at
    )
    .execute(connection)
    .await?;
    Ok(())
}

/// # Errors
/// [`Error::NotFound`] if no log of this SHA-256 was entered.
pub async fn find(connection: &mut SqliteConnection, sha256: &str) -> Result<LogFile, Error> {
    sqlx::query_as!(
        LogFileRow,
        "SELECT sha256,
                name,
                size_bytes,
                stored_bytes,
                layout,
                summary,
                fault,
                created_at
         FROM log_file
         WHERE sha256 = ?",
        sha256
    )
    .fetch_optional(connection)
    .await?
    .ok_or(Error::NotFound)?
    .into_log_file()
}

/// The newest logs first, without their summaries, which may be long.
pub async fn newest(
    connection: &mut SqliteConnection,
    at_most: i64,
) -> Result<Vec<LogFile>, Error> {
    sqlx::query_as!(
        LogFileRow,
        r#"SELECT sha256,
                name,
                size_bytes,
                stored_bytes,
                layout,
                NULL AS "summary: String",
                fault,
                created_at
         FROM log_file
         ORDER BY created_at DESC, sha256
         LIMIT ?"#,
        at_most
    )
    .fetch_all(connection)
    .await?
    .into_iter()
    .map(LogFileRow::into_log_file)
    .collect()
}

/// Every kept log by its SHA-256, without its summary.
pub async fn all(connection: &mut SqliteConnection) -> Result<Vec<LogFile>, Error> {
    sqlx::query_as!(
        LogFileRow,
        r#"SELECT sha256,
                name,
                size_bytes,
                stored_bytes,
                layout,
                NULL AS "summary: String",
                fault,
                created_at
         FROM log_file
         ORDER BY sha256"#
    )
    .fetch_all(connection)
    .await?
    .into_iter()
    .map(LogFileRow::into_log_file)
    .collect()
}

/// Name and SHA-256 of the logs that a revision names, by their names.
pub async fn named_in_revision(
    connection: &mut SqliteConnection,
    revision_id: i64,
) -> Result<Vec<(String, String)>, Error> {
    let named = sqlx::query!(
        "SELECT name,
                sha256
         FROM revision_log
         WHERE revision_id = ?
         ORDER BY name",
        revision_id
    )
    .fetch_all(connection)
    .await?;
    Ok(named
        .into_iter()
        .map(|row| (row.name, row.sha256))
        .collect())
}

/// Says how a log is read, what reading it gave, or why it cannot be read.
///
/// # Errors
/// [`Error::NotFound`] if no log of this SHA-256 was entered.
pub async fn set_layout(
    connection: &mut SqliteConnection,
    sha256: &str,
    layout: Option<&str>,
    summary: Option<&str>,
    fault: Option<&str>,
) -> Result<(), Error> {
    let changed = sqlx::query!(
        "UPDATE log_file
         SET layout = ?,
             summary = ?,
             fault = ?
         WHERE sha256 = ?",
        layout,
        summary,
        fault,
        sha256
    )
    .execute(connection)
    .await?
    .rows_affected();
    if changed == 0 {
        return Err(Error::NotFound);
    }
    Ok(())
}

/// Takes a log out of the list. Its file is another matter.
///
/// # Errors
/// [`Error::Conflict`] if a published revision names it.
pub async fn remove(connection: &mut SqliteConnection, sha256: &str) -> Result<(), Error> {
    if let Some(slug) = published_by(connection, sha256).await? {
        return Err(Error::Conflict(format!(
            "the published unit {slug} names it"
        )));
    }
    sqlx::query!(
        "DELETE FROM log_file
         WHERE sha256 = ?",
        sha256
    )
    .execute(connection)
    .await?;
    Ok(())
}

/// The slug of a unit of which some revision names the log.
pub async fn published_by(
    connection: &mut SqliteConnection,
    sha256: &str,
) -> Result<Option<String>, Error> {
    let slug = sqlx::query_scalar!(
        "SELECT unit.slug
         FROM revision_log
         JOIN revision ON revision.id = revision_log.revision_id
         JOIN unit ON unit.id = revision.unit_id
         WHERE revision_log.sha256 = ?
         LIMIT 1",
        sha256
    )
    .fetch_optional(connection)
    .await?;
    Ok(slug)
}

/// The SHA-256 of the log that the newest revision of a unit that names such a log means.
///
/// # Errors
/// [`Error::NotFound`] if no revision of the unit names it.
pub async fn of_unit(
    connection: &mut SqliteConnection,
    slug: &str,
    name: &str,
) -> Result<String, Error> {
    sqlx::query_scalar!(
        "SELECT revision_log.sha256
         FROM revision_log
         JOIN revision ON revision.id = revision_log.revision_id
         JOIN unit ON unit.id = revision.unit_id
         WHERE unit.slug = ? AND revision_log.name = ?
         ORDER BY revision.number DESC
         LIMIT 1",
        slug,
        name
    )
    .fetch_optional(connection)
    .await?
    .ok_or(Error::NotFound)
}

/// Does some revision of the unit name a log of this name and SHA-256?
pub async fn is_of_unit(
    connection: &mut SqliteConnection,
    slug: &str,
    name: &str,
    sha256: &str,
) -> Result<bool, Error> {
    let found = sqlx::query_scalar!(
        "SELECT count(*)
         FROM revision_log
         JOIN revision ON revision.id = revision_log.revision_id
         JOIN unit ON unit.id = revision.unit_id
         WHERE unit.slug = ? AND revision_log.name = ? AND revision_log.sha256 = ?",
        slug,
        name,
        sha256
    )
    .fetch_one(connection)
    .await?;
    Ok(found > 0)
}

/// Notes which logs a revision names.
pub async fn name_in_revision(
    connection: &mut SqliteConnection,
    revision_id: i64,
    logs: &[Log],
) -> Result<(), Error> {
    for log in logs {
        sqlx::query!(
            "INSERT INTO revision_log (revision_id, sha256, name)
             VALUES (?, ?, ?)",
            revision_id,
            log.sha256,
            log.name
        )
        .execute(&mut *connection)
        .await?;
    }
    Ok(())
}

/// How the logs of one instrument are read.
#[derive(Debug, Clone, PartialEq)]
pub struct SavedLayout {
    pub name: String,
    /// `bench::record::Layout` as JSON.
    pub layout: String,
    /// Headings of the columns, as a JSON array of texts.
    pub headings: String,
}

/// Saves a layout under a name; one of that name becomes the new one.
pub async fn save_layout(
    connection: &mut SqliteConnection,
    saved: &SavedLayout,
    now: OffsetDateTime,
) -> Result<(), Error> {
    let updated_at = instant::to_text(now);
    sqlx::query!(
        "INSERT INTO log_layout (name, layout, headings, updated_at)
         VALUES (?, ?, ?, ?)
         ON CONFLICT (name) DO UPDATE
         SET layout = excluded.layout,
             headings = excluded.headings,
             updated_at = excluded.updated_at",
        saved.name,
        saved.layout,
        saved.headings,
        updated_at
    )
    .execute(connection)
    .await?;
    Ok(())
}

/// All saved layouts by name.
pub async fn saved_layouts(connection: &mut SqliteConnection) -> Result<Vec<SavedLayout>, Error> {
    let saved = sqlx::query_as!(
        SavedLayout,
        "SELECT name,
                layout,
                headings
         FROM log_layout
         ORDER BY name"
    )
    .fetch_all(connection)
    .await?;
    Ok(saved)
}

/// # Errors
/// [`Error::NotFound`] if no layout was saved under this name.
pub async fn saved_layout(
    connection: &mut SqliteConnection,
    name: &str,
) -> Result<SavedLayout, Error> {
    sqlx::query_as!(
        SavedLayout,
        "SELECT name,
                layout,
                headings
         FROM log_layout
         WHERE name = ?",
        name
    )
    .fetch_optional(connection)
    .await?
    .ok_or(Error::NotFound)
}

/// The last saved of the layouts for logs with these headings.
pub async fn saved_layout_for(
    connection: &mut SqliteConnection,
    headings: &str,
) -> Result<Option<SavedLayout>, Error> {
    let saved = sqlx::query_as!(
        SavedLayout,
        "SELECT name,
                layout,
                headings
         FROM log_layout
         WHERE headings = ?
         ORDER BY updated_at DESC
         LIMIT 1",
        headings
    )
    .fetch_optional(connection)
    .await?;
    Ok(saved)
}

/// Forgets a saved layout.
pub async fn forget_layout(connection: &mut SqliteConnection, name: &str) -> Result<(), Error> {
    sqlx::query!(
        "DELETE FROM log_layout
         WHERE name = ?",
        name
    )
    .execute(connection)
    .await?;
    Ok(())
}

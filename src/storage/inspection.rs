//! What a database file is like, found without making, migrating or writing anything. The file may
//! be of any version, of another program, or damaged, so nothing here is checked at compile time.

use super::db::{Db, newest_schema};
use super::{Error, instant};
use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection};
use sqlx::{ConnectOptions, Connection};
use std::path::Path;
use std::time::Duration;
use time::OffsetDateTime;
use tracing::log::LevelFilter;

/// What was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Inspection {
    pub kind: Kind,
    /// `wal` as this program leaves it.
    pub journal_mode: String,
    /// What is wrong with its pages; empty if nothing.
    pub damage: Vec<String>,
    /// Rows that refer to rows which are not there.
    pub dangling: i64,
}

/// Whose database it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Holds no table.
    Empty,
    /// Holds tables, but none of ours.
    Foreign,
    /// Ours, with this schema.
    Ours(i64),
}

impl Inspection {
    /// May this program read the rows as they are?
    pub fn is_current(&self) -> bool {
        self.kind == Kind::Ours(newest_schema())
    }
}

/// How the times of rows compare with a clock, and what is in the house.
#[derive(Debug, Clone, PartialEq)]
pub struct Contents {
    pub units: i64,
    pub operators: i64,
    /// When something was last published or corrected.
    pub newest: Option<OffsetDateTime>,
    /// SHA-256 and size on the disk of the logs that are entered.
    pub logs: Vec<(String, u64)>,
}

/// Looks at a file.
///
/// # Errors
/// It cannot be opened or is no SQLite database.
pub async fn inspect(path: &Path) -> Result<Inspection, Error> {
    let mut connection = reading(path).connect().await?;
    let (tables, ours): (i64, i64) = sqlx::query_as(
        "SELECT count(*), count(*) FILTER (WHERE name = '_sqlx_migrations')
         FROM sqlite_schema
         WHERE type = 'table'",
    )
    .fetch_one(&mut connection)
    .await?;
    let kind = match (tables, ours) {
        (0, _) => Kind::Empty,
        (_, 0) => Kind::Foreign,
        _ => {
            let newest: Option<i64> =
                sqlx::query_scalar("SELECT max(version) FROM _sqlx_migrations")
                    .fetch_one(&mut connection)
                    .await?;
            Kind::Ours(newest.unwrap_or(0))
        }
    };
    let journal_mode = sqlx::query_scalar("PRAGMA journal_mode")
        .fetch_one(&mut connection)
        .await?;
    let damage: Result<Vec<String>, _> = sqlx::query_scalar("PRAGMA quick_check(10)")
        .fetch_all(&mut connection)
        .await;
    let damage = match damage {
        Ok(lines) if lines == ["ok"] => Vec::new(),
        Ok(lines) => lines,
        // Pages so broken that the check itself gives up.
        Err(cause) => vec![cause.to_string()],
    };
    let dangling = sqlx::query_scalar("SELECT count(*) FROM pragma_foreign_key_check")
        .fetch_one(&mut connection)
        .await;
    let inspection = Inspection {
        kind,
        journal_mode,
        dangling: dangling.unwrap_or(0),
        damage,
    };
    connection.close().await?;
    Ok(inspection)
}

/// What a database of this program's schema holds.
///
/// # Errors
/// It cannot be read.
pub async fn contents(db: &Db) -> Result<Contents, Error> {
    let mut connection = db.read().await?;
    let newest: Option<String> = sqlx::query_scalar("SELECT max(revised_at) FROM ranking")
        .fetch_one(&mut *connection)
        .await?;
    let logs: Vec<(String, i64)> = sqlx::query_as("SELECT sha256, stored_bytes FROM log_file")
        .fetch_all(&mut *connection)
        .await?;
    let logs = logs.into_iter();
    Ok(Contents {
        units: count(&mut connection, "SELECT count(*) FROM unit").await?,
        operators: count(&mut connection, "SELECT count(*) FROM operator").await?,
        newest: newest.as_deref().map(instant::from_text).transpose()?,
        logs: logs
            .map(|(sha256, bytes)| (sha256, bytes.unsigned_abs()))
            .collect(),
    })
}

async fn count(connection: &mut SqliteConnection, query: &'static str) -> Result<i64, Error> {
    Ok(sqlx::query_scalar(query).fetch_one(connection).await?)
}

/// May somebody write now, or soon enough? Begins a writing transaction and undoes it at once.
///
/// # Errors
/// [`Error::Busy`] if another process holds the lock for longer than `patience`; others if the file
/// cannot be written to.
pub async fn try_to_write(path: &Path, patience: Duration) -> Result<(), Error> {
    let options = SqliteConnectOptions::new()
        .filename(path)
        .busy_timeout(patience)
        .log_statements(LevelFilter::Off);
    let mut connection = options.connect().await?;
    let begun = sqlx::query("BEGIN IMMEDIATE")
        .execute(&mut connection)
        .await;
    if begun.is_ok() {
        sqlx::query("ROLLBACK").execute(&mut connection).await?;
    }
    connection.close().await?;
    Ok(begun.map(|_| ())?)
}

/// Opens an existing file for reading only.
fn reading(path: &Path) -> SqliteConnectOptions {
    SqliteConnectOptions::new()
        .filename(path)
        .read_only(true)
        .busy_timeout(Duration::from_secs(2))
        .log_statements(LevelFilter::Off)
}

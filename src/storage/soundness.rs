//! Is the stored data whole? What SQLite itself can tell, and what must agree between tables.
//!
//! The statements that must also work on a schema of an earlier version, or that name pragmas, are
//! unchecked at compile time.

use super::Error;
use sqlx::{AssertSqlSafe, SqliteConnection};
use std::collections::BTreeSet;
use std::path::Path;

/// Copies the state of this moment into an empty file, compact and without a write-ahead log.
pub(super) async fn copy_into(connection: &mut SqliteConnection, path: &Path) -> Result<(), Error> {
    let path = path.to_str().ok_or_else(|| Error::Unusable {
        path: path.to_path_buf(),
        why: "its name is not UTF-8; choose another".to_owned(),
    })?;
    sqlx::query("VACUUM INTO ?")
        .bind(path)
        .execute(connection)
        .await?;
    Ok(())
}

/// What SQLite finds wrong with the file: damaged pages and indexes, references that lead nowhere.
pub async fn of_the_file(connection: &mut SqliteConnection) -> Result<Vec<String>, Error> {
    let mut faults: Vec<String> = sqlx::query_scalar("PRAGMA integrity_check")
        .fetch_all(&mut *connection)
        .await?;
    faults.retain(|line| line != "ok");
    let references: Vec<(String, Option<i64>, String, i64)> =
        sqlx::query_as("PRAGMA foreign_key_check")
            .fetch_all(connection)
            .await?;
    faults.extend(references.into_iter().map(|(table, row, parent, _)| {
        let row = row.map_or("a row".to_owned(), |row| format!("row {row}"));
        format!("{row} of table {table} refers to something in {parent} that is not there")
    }));
    Ok(faults)
}

/// Number of rows of a table of ours; 0 where the schema does not have it.
pub(super) async fn count(
    connection: &mut SqliteConnection,
    table: &'static str,
) -> Result<i64, Error> {
    if !has_table(connection, table).await? {
        return Ok(0);
    }
    let sql = AssertSqlSafe(format!("SELECT count(*) FROM {table}"));
    Ok(sqlx::query_scalar(sql).fetch_one(connection).await?)
}

async fn has_table(connection: &mut SqliteConnection, table: &str) -> Result<bool, Error> {
    let sql = "SELECT EXISTS (SELECT 1 FROM sqlite_schema WHERE type = 'table' AND name = ?)";
    Ok(sqlx::query_scalar(sql)
        .bind(table)
        .fetch_one(connection)
        .await?)
}

/// SHA-256 of the logs that were entered and not deleted since.
pub(super) async fn known_logs(
    connection: &mut SqliteConnection,
) -> Result<BTreeSet<String>, Error> {
    if !has_table(connection, "log_file").await? {
        return Ok(BTreeSet::new());
    }
    let known: Vec<String> = sqlx::query_scalar("SELECT sha256 FROM log_file")
        .fetch_all(connection)
        .await?;
    Ok(known.into_iter().collect())
}

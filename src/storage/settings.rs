//! Small facts about this installation, kept with its data: `demo` is `1` where the data is
//! invented, `feed_id` names the installation in feeds.

use super::Error;
use sqlx::SqliteConnection;

/// Set to `1` in a database that was filled with invented data.
pub const DEMO: &str = "demo";
/// 32 hexadecimal digits that name this installation in its feeds.
pub const FEED_ID: &str = "feed_id";
/// RFC 3339 time since when there is a feed.
pub const FEED_BEGAN: &str = "feed_began";
/// What became of the last backups that the server made by itself, as JSON
/// ([`super::backup_schedule::Outcome`]).
pub const BACKUP_OUTCOME: &str = "backup_outcome";

pub async fn get(connection: &mut SqliteConnection, key: &str) -> Result<Option<String>, Error> {
    let value = sqlx::query_scalar!(
        "SELECT value
         FROM setting
         WHERE key = ?",
        key
    )
    .fetch_optional(connection)
    .await?;
    Ok(value)
}

pub async fn set(connection: &mut SqliteConnection, key: &str, value: &str) -> Result<(), Error> {
    sqlx::query!(
        "INSERT INTO setting (key, value)
         VALUES (?, ?)
         ON CONFLICT (key) DO UPDATE SET value = excluded.value",
        key,
        value
    )
    .execute(connection)
    .await?;
    Ok(())
}

/// Is all data in here invented?
pub async fn is_demo(connection: &mut SqliteConnection) -> Result<bool, Error> {
    Ok(get(connection, DEMO).await?.as_deref() == Some("1"))
}

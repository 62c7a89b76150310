//! Sessions of signed-in operators. Only the SHA-256 of a session's token is kept: who reads the
//! database cannot sign in with it.

use super::{Error, instant};
use sqlx::SqliteConnection;
use time::OffsetDateTime;

/// SHA-256 of a token.
pub type TokenHash = [u8; 32];

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Session {
    pub operator_id: i64,
    pub operator_name: String,
    pub csrf_token: String,
    pub created_at: OffsetDateTime,
    pub expires_at: OffsetDateTime,
}

pub async fn begin(
    connection: &mut SqliteConnection,
    token_hash: &TokenHash,
    operator_id: i64,
    csrf_token: &str,
    now: OffsetDateTime,
    expires_at: OffsetDateTime,
) -> Result<(), Error> {
    let token_hash = token_hash.as_slice();
    let created_at = instant::to_text(now);
    let expires_at = instant::to_text(expires_at);
    sqlx::query!(
        "INSERT INTO session (token_hash, operator_id, csrf_token, created_at, expires_at)
         VALUES (?, ?, ?, ?, ?)",
        token_hash,
        operator_id,
        csrf_token,
        created_at,
        expires_at
    )
    .execute(connection)
    .await?;
    Ok(())
}

/// The session of a token, unless it has expired.
pub async fn find(
    connection: &mut SqliteConnection,
    token_hash: &TokenHash,
    now: OffsetDateTime,
) -> Result<Option<Session>, Error> {
    let token_hash = token_hash.as_slice();
    let now = instant::to_text(now);
    let row = sqlx::query!(
        "SELECT session.operator_id,
                operator.name,
                session.csrf_token,
                session.created_at,
                session.expires_at
         FROM session
         JOIN operator ON operator.id = session.operator_id
         WHERE session.token_hash = ?
           AND session.expires_at > ?",
        token_hash,
        now
    )
    .fetch_optional(connection)
    .await?;
    row.map(|row| {
        Ok(Session {
            operator_id: row.operator_id,
            operator_name: row.name,
            csrf_token: row.csrf_token,
            created_at: instant::from_text(&row.created_at)?,
            expires_at: instant::from_text(&row.expires_at)?,
        })
    })
    .transpose()
}

/// Moves the end of a session.
pub async fn extend(
    connection: &mut SqliteConnection,
    token_hash: &TokenHash,
    expires_at: OffsetDateTime,
) -> Result<(), Error> {
    let token_hash = token_hash.as_slice();
    let expires_at = instant::to_text(expires_at);
    sqlx::query!(
        "UPDATE session
         SET expires_at = ?
         WHERE token_hash = ?",
        expires_at,
        token_hash
    )
    .execute(connection)
    .await?;
    Ok(())
}

/// Ends one session; ending one that is not there is fine.
pub async fn end(connection: &mut SqliteConnection, token_hash: &TokenHash) -> Result<(), Error> {
    let token_hash = token_hash.as_slice();
    sqlx::query!("DELETE FROM session WHERE token_hash = ?", token_hash)
        .execute(connection)
        .await?;
    Ok(())
}

/// Ends all sessions of an operator.
pub async fn end_all(connection: &mut SqliteConnection, operator_id: i64) -> Result<(), Error> {
    sqlx::query!("DELETE FROM session WHERE operator_id = ?", operator_id)
        .execute(connection)
        .await?;
    Ok(())
}

/// Removes sessions that have expired and says how many.
pub async fn remove_expired(
    connection: &mut SqliteConnection,
    now: OffsetDateTime,
) -> Result<u64, Error> {
    let now = instant::to_text(now);
    let removed = sqlx::query!("DELETE FROM session WHERE expires_at <= ?", now)
        .execute(connection)
        .await?
        .rows_affected();
    Ok(removed)
}

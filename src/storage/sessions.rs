//! Sessions of signed-in operators. Only the SHA-256 of a session's token is kept: who reads the
//! database cannot sign in with it.

use super::{Error, error::found, instant, operators::Role};
use sqlx::SqliteConnection;
use time::OffsetDateTime;

/// SHA-256 of a token.
pub type TokenHash = [u8; 32];

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Session {
    pub id: i64,
    pub operator_id: i64,
    pub operator_name: String,
    pub role: Role,
    pub csrf_token: String,
    pub created_at: OffsetDateTime,
    pub expires_at: OffsetDateTime,
    pub used_at: OffsetDateTime,
}

/// A session as its operator sees it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Open {
    pub id: i64,
    pub created_at: OffsetDateTime,
    pub used_at: OffsetDateTime,
    pub expires_at: OffsetDateTime,
    pub address: Option<String>,
    /// Browser and system, as far as told.
    pub client: String,
}

/// What a session begins with.
#[derive(Debug, Clone)]
pub struct New<'a> {
    pub token_hash: &'a TokenHash,
    pub operator_id: i64,
    pub csrf_token: &'a str,
    pub expires_at: OffsetDateTime,
    pub address: Option<String>,
    /// At most 120 characters.
    pub client: &'a str,
}

pub async fn begin(
    connection: &mut SqliteConnection,
    new: &New<'_>,
    now: OffsetDateTime,
) -> Result<(), Error> {
    let token_hash = new.token_hash.as_slice();
    let created_at = instant::to_text(now);
    let expires_at = instant::to_text(new.expires_at);
    sqlx::query!(
        "INSERT INTO session (token_hash, operator_id, csrf_token, created_at, used_at, expires_at, address, client)
         VALUES (?1, ?2, ?3, ?4, ?4, ?5, ?6, ?7)",
        token_hash,
        new.operator_id,
        new.csrf_token,
        created_at,
        expires_at,
        new.address,
        new.client
    )
    .execute(connection)
    .await?;
    Ok(())
}

/// The session of a token, unless it has expired or its operator may not sign in any more.
pub async fn find(
    connection: &mut SqliteConnection,
    token_hash: &TokenHash,
    now: OffsetDateTime,
) -> Result<Option<Session>, Error> {
    let token_hash = token_hash.as_slice();
    let now = instant::to_text(now);
    let row = sqlx::query!(
        r#"SELECT session.id AS "id!",
                session.operator_id,
                operator.name,
                operator.role,
                session.csrf_token,
                session.created_at,
                session.used_at,
                session.expires_at
         FROM session
         JOIN operator ON operator.id = session.operator_id
         WHERE session.token_hash = ?
           AND session.expires_at > ?
           AND operator.deactivated_at IS NULL"#,
        token_hash,
        now
    )
    .fetch_optional(connection)
    .await?;
    row.map(|row| {
        Ok(Session {
            id: row.id,
            operator_id: row.operator_id,
            operator_name: row.name,
            role: Role::stored(&row.role)?,
            csrf_token: row.csrf_token,
            created_at: instant::from_text(&row.created_at)?,
            used_at: instant::from_text(&row.used_at)?,
            expires_at: instant::from_text(&row.expires_at)?,
        })
    })
    .transpose()
}

/// An operator's sessions that have not expired, the one used last first.
pub async fn list(
    connection: &mut SqliteConnection,
    operator_id: i64,
    now: OffsetDateTime,
) -> Result<Vec<Open>, Error> {
    let now = instant::to_text(now);
    sqlx::query!(
        r#"SELECT id AS "id!",
                  created_at,
                  used_at,
                  expires_at,
                  address,
                  client
           FROM session
           WHERE operator_id = ?
             AND expires_at > ?
           ORDER BY used_at DESC, id DESC"#,
        operator_id,
        now
    )
    .fetch_all(connection)
    .await?
    .into_iter()
    .map(|row| {
        Ok(Open {
            id: row.id,
            created_at: instant::from_text(&row.created_at)?,
            used_at: instant::from_text(&row.used_at)?,
            expires_at: instant::from_text(&row.expires_at)?,
            address: row.address,
            client: row.client,
        })
    })
    .collect()
}

/// Ends one of an operator's sessions.
///
/// # Errors
/// [`Error::NotFound`] if they have no such session (any more).
pub async fn end_one(
    connection: &mut SqliteConnection,
    id: i64,
    operator_id: i64,
) -> Result<(), Error> {
    let done = sqlx::query!(
        "DELETE FROM session
         WHERE id = ?
           AND operator_id = ?",
        id,
        operator_id
    )
    .execute(connection)
    .await?;
    found(&done)
}

/// Ends all sessions of an operator but one.
pub async fn end_others(
    connection: &mut SqliteConnection,
    operator_id: i64,
    but: i64,
) -> Result<u64, Error> {
    let ended = sqlx::query!(
        "DELETE FROM session
         WHERE operator_id = ?
           AND id <> ?",
        operator_id,
        but
    )
    .execute(connection)
    .await?
    .rows_affected();
    Ok(ended)
}

/// Notes that a session is used, which moves its end.
pub async fn extend(
    connection: &mut SqliteConnection,
    id: i64,
    expires_at: OffsetDateTime,
    now: OffsetDateTime,
) -> Result<(), Error> {
    let used_at = instant::to_text(now);
    let expires_at = instant::to_text(expires_at);
    sqlx::query!(
        "UPDATE session
         SET expires_at = ?,
             used_at = ?
         WHERE id = ?",
        expires_at,
        used_at,
        id
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

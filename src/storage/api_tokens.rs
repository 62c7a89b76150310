//! Tokens with which programs may write in an operator's name. Only their SHA-256 is kept.

use super::sessions::TokenHash;
use super::{Error, instant};
use sqlx::SqliteConnection;
use time::OffsetDateTime;

/// A token as its owner sees it: never the token itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ApiToken {
    pub id: i64,
    pub label: String,
    pub created_at: OffsetDateTime,
    pub revoked_at: Option<OffsetDateTime>,
}

/// In whose name a token writes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bearer {
    pub token_id: i64,
    pub operator_id: i64,
    pub operator_name: String,
}

pub async fn insert(
    connection: &mut SqliteConnection,
    token_hash: &TokenHash,
    operator_id: i64,
    label: &str,
    now: OffsetDateTime,
) -> Result<i64, Error> {
    let token_hash = token_hash.as_slice();
    let created_at = instant::to_text(now);
    let id = sqlx::query_scalar!(
        r#"INSERT INTO api_token (token_hash, operator_id, label, created_at)
         VALUES (?, ?, ?, ?)
         RETURNING id AS "id!""#,
        token_hash,
        operator_id,
        label,
        created_at
    )
    .fetch_one(connection)
    .await?;
    Ok(id)
}

/// The owner of a token that has not been revoked.
pub async fn bearer(
    connection: &mut SqliteConnection,
    token_hash: &TokenHash,
) -> Result<Option<Bearer>, Error> {
    let token_hash = token_hash.as_slice();
    let row = sqlx::query!(
        r#"SELECT api_token.id AS "id!",
                  api_token.operator_id,
                  operator.name
           FROM api_token
           JOIN operator ON operator.id = api_token.operator_id
           WHERE api_token.token_hash = ?
             AND api_token.revoked_at IS NULL"#,
        token_hash
    )
    .fetch_optional(connection)
    .await?;
    Ok(row.map(|row| Bearer {
        token_id: row.id,
        operator_id: row.operator_id,
        operator_name: row.name,
    }))
}

/// An operator's tokens, newest first.
pub async fn list(
    connection: &mut SqliteConnection,
    operator_id: i64,
) -> Result<Vec<ApiToken>, Error> {
    sqlx::query!(
        r#"SELECT id AS "id!",
                  label,
                  created_at,
                  revoked_at
           FROM api_token
           WHERE operator_id = ?
           ORDER BY id DESC"#,
        operator_id
    )
    .fetch_all(connection)
    .await?
    .into_iter()
    .map(|row| {
        Ok(ApiToken {
            id: row.id,
            label: row.label,
            created_at: instant::from_text(&row.created_at)?,
            revoked_at: row
                .revoked_at
                .as_deref()
                .map(instant::from_text)
                .transpose()?,
        })
    })
    .collect()
}

/// Revokes a token of this operator; revoking it again changes nothing.
///
/// # Errors
/// [`Error::NotFound`] if the operator has no such token.
pub async fn revoke(
    connection: &mut SqliteConnection,
    id: i64,
    operator_id: i64,
    now: OffsetDateTime,
) -> Result<(), Error> {
    let now = instant::to_text(now);
    let found = sqlx::query!(
        "UPDATE api_token
         SET revoked_at = coalesce(revoked_at, ?)
         WHERE id = ?
           AND operator_id = ?",
        now,
        id,
        operator_id
    )
    .execute(connection)
    .await?
    .rows_affected();
    if found == 0 {
        Err(Error::NotFound)
    } else {
        Ok(())
    }
}

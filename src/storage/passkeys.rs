//! Passkeys: what authenticators know an account by, and the public keys with which they sign. What a
//! credential holds is the business of whoever checks signatures; here it is JSON.

use super::{Error, instant};
use sqlx::SqliteConnection;
use time::OffsetDateTime;

/// A passkey of an account.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Passkey {
    pub id: i64,
    /// What the authenticator calls it.
    pub credential_id: Vec<u8>,
    /// What its owner calls it.
    pub name: String,
    pub created_at: OffsetDateTime,
    pub last_used_at: Option<OffsetDateTime>,
}

/// A passkey that somebody wants to sign in with, and whose it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Opening {
    pub id: i64,
    /// What its owner calls it.
    pub name: String,
    /// Public key, counter and the like, as JSON.
    pub credential: String,
    pub operator_id: i64,
    pub operator_name: String,
    /// What authenticators know the account by.
    pub handle: Vec<u8>,
}

/// What a passkey is made of.
#[derive(Debug, Clone)]
pub struct New<'a> {
    pub operator_id: i64,
    pub credential_id: &'a [u8],
    pub credential: &'a str,
    pub name: &'a str,
}

/// What authenticators know the account by: `fresh` from now on, if there was nothing before.
pub async fn handle(
    connection: &mut SqliteConnection,
    operator_id: i64,
    fresh: [u8; 16],
) -> Result<[u8; 16], Error> {
    let fresh = fresh.as_slice();
    sqlx::query!(
        "INSERT INTO passkey_user (operator_id, handle)
         VALUES (?, ?)
         ON CONFLICT (operator_id) DO NOTHING",
        operator_id,
        fresh
    )
    .execute(&mut *connection)
    .await?;
    let handle = sqlx::query_scalar!(
        "SELECT handle FROM passkey_user WHERE operator_id = ?",
        operator_id
    )
    .fetch_one(connection)
    .await?;
    handle.try_into().map_err(|bytes: Vec<u8>| Error::Corrupt {
        what: "handle of an account",
        cause: format!("{} bytes", bytes.len()),
    })
}

/// The passkeys of an account, in the order in which they were added.
pub async fn list(
    connection: &mut SqliteConnection,
    operator_id: i64,
) -> Result<Vec<Passkey>, Error> {
    sqlx::query!(
        r#"SELECT id AS "id!",
                  credential_id,
                  name,
                  created_at,
                  last_used_at
           FROM passkey
           WHERE operator_id = ?
           ORDER BY id"#,
        operator_id
    )
    .fetch_all(connection)
    .await?
    .into_iter()
    .map(|row| {
        Ok(Passkey {
            id: row.id,
            credential_id: row.credential_id,
            name: row.name,
            created_at: instant::from_text(&row.created_at)?,
            last_used_at: row
                .last_used_at
                .as_deref()
                .map(instant::from_text)
                .transpose()?,
        })
    })
    .collect()
}

/// The passkey that an authenticator calls so, if its account may sign in.
pub async fn opening(
    connection: &mut SqliteConnection,
    credential_id: &[u8],
) -> Result<Option<Opening>, Error> {
    let found = sqlx::query_as!(
        Opening,
        r#"SELECT passkey.id AS "id!",
                  passkey.name,
                  passkey.credential,
                  passkey.operator_id,
                  operator.name AS operator_name,
                  passkey_user.handle
           FROM passkey
           JOIN operator ON operator.id = passkey.operator_id
           JOIN passkey_user ON passkey_user.operator_id = passkey.operator_id
           WHERE passkey.credential_id = ?
             AND operator.deactivated_at IS NULL"#,
        credential_id
    )
    .fetch_optional(connection)
    .await?;
    Ok(found)
}

/// Adds a passkey.
///
/// # Errors
/// [`Error::Conflict`] if a passkey of that id is known already, whosoever it is.
pub async fn insert(
    connection: &mut SqliteConnection,
    new: &New<'_>,
    now: OffsetDateTime,
) -> Result<(), Error> {
    let now = instant::to_text(now);
    sqlx::query!(
        "INSERT INTO passkey (operator_id, credential_id, credential, name, created_at)
         VALUES (?, ?, ?, ?, ?)",
        new.operator_id,
        new.credential_id,
        new.credential,
        new.name,
        now
    )
    .execute(connection)
    .await
    .map_err(|cause| match Error::from(cause) {
        Error::Conflict(_) => Error::Conflict("this passkey is known already".to_owned()),
        other => other,
    })?;
    Ok(())
}

/// Notes that a passkey opened its account, and what its credential is since.
pub async fn used(
    connection: &mut SqliteConnection,
    id: i64,
    credential: &str,
    now: OffsetDateTime,
) -> Result<(), Error> {
    let now = instant::to_text(now);
    sqlx::query!(
        "UPDATE passkey
         SET credential = ?,
             last_used_at = ?
         WHERE id = ?",
        credential,
        now,
        id
    )
    .execute(connection)
    .await?;
    Ok(())
}

/// Removes one of an account's passkeys and gives its name.
///
/// # Errors
/// [`Error::NotFound`] if the account has no such passkey (any more).
pub async fn remove(
    connection: &mut SqliteConnection,
    id: i64,
    operator_id: i64,
) -> Result<String, Error> {
    sqlx::query_scalar!(
        "DELETE FROM passkey
         WHERE id = ?
           AND operator_id = ?
         RETURNING name",
        id,
        operator_id
    )
    .fetch_optional(connection)
    .await?
    .ok_or(Error::NotFound)
}

/// Removes all passkeys of an account and says how many.
pub async fn remove_all(connection: &mut SqliteConnection, operator_id: i64) -> Result<u64, Error> {
    let removed = sqlx::query!("DELETE FROM passkey WHERE operator_id = ?", operator_id)
        .execute(connection)
        .await?
        .rows_affected();
    Ok(removed)
}

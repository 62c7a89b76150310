//! One-time links by which somebody chooses a password: for a new account, or for one that exists.
//! Only the SHA-256 of a link's token is kept.

use super::operators::Role;
use super::sessions::TokenHash;
use super::{Error, error::found, instant};
use sqlx::SqliteConnection;
use time::OffsetDateTime;

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Invitation {
    pub id: i64,
    /// The account that gets another password; `None` makes an account.
    pub operator_id: Option<i64>,
    pub name: String,
    pub role: Role,
    pub made_by: String,
    pub created_at: OffsetDateTime,
    pub expires_at: OffsetDateTime,
}

/// What an invitation is made of.
#[derive(Debug, Clone)]
pub struct New<'a> {
    pub token_hash: &'a TokenHash,
    pub operator_id: Option<i64>,
    pub name: &'a str,
    pub role: Role,
    pub made_by: &'a str,
    pub expires_at: OffsetDateTime,
}

/// Makes a link; earlier ones for the same name open nothing any more.
pub async fn insert(
    connection: &mut SqliteConnection,
    new: &New<'_>,
    now: OffsetDateTime,
) -> Result<i64, Error> {
    let now_text = instant::to_text(now);
    sqlx::query!(
        "DELETE FROM invitation
         WHERE name = ?
            OR expires_at <= ?",
        new.name,
        now_text
    )
    .execute(&mut *connection)
    .await?;
    let token_hash = new.token_hash.as_slice();
    let role = new.role.id();
    let expires_at = instant::to_text(new.expires_at);
    let id = sqlx::query_scalar!(
        r#"INSERT INTO invitation (token_hash, operator_id, name, role, made_by, created_at, expires_at)
         VALUES (?, ?, ?, ?, ?, ?, ?)
         RETURNING id AS "id!""#,
        token_hash,
        new.operator_id,
        new.name,
        role,
        new.made_by,
        now_text,
        expires_at
    )
    .fetch_one(connection)
    .await?;
    Ok(id)
}

/// The invitation of a token, unless it has expired.
pub async fn find(
    connection: &mut SqliteConnection,
    token_hash: &TokenHash,
    now: OffsetDateTime,
) -> Result<Option<Invitation>, Error> {
    let token_hash = token_hash.as_slice();
    let id = sqlx::query_scalar!(
        r#"SELECT id AS "id!" FROM invitation WHERE token_hash = ?"#,
        token_hash
    )
    .fetch_optional(&mut *connection)
    .await?;
    let open = open(connection, now).await?;
    Ok(open.into_iter().find(|one| Some(one.id) == id))
}

/// Those that have not expired, newest first.
pub async fn open(
    connection: &mut SqliteConnection,
    now: OffsetDateTime,
) -> Result<Vec<Invitation>, Error> {
    let now = instant::to_text(now);
    sqlx::query!(
        r#"SELECT id AS "id!",
                  operator_id,
                  name,
                  role,
                  made_by,
                  created_at,
                  expires_at
           FROM invitation
           WHERE expires_at > ?
           ORDER BY id DESC"#,
        now
    )
    .fetch_all(connection)
    .await?
    .into_iter()
    .map(|row| {
        Ok(Invitation {
            id: row.id,
            operator_id: row.operator_id,
            name: row.name,
            role: Role::stored(&row.role)?,
            made_by: row.made_by,
            created_at: instant::from_text(&row.created_at)?,
            expires_at: instant::from_text(&row.expires_at)?,
        })
    })
    .collect()
}

/// Takes a link away: it was used, or is not wanted any more.
///
/// # Errors
/// [`Error::NotFound`] if somebody else was quicker.
pub async fn remove(connection: &mut SqliteConnection, id: i64) -> Result<(), Error> {
    let done = sqlx::query!("DELETE FROM invitation WHERE id = ?", id)
        .execute(connection)
        .await?;
    found(&done)
}

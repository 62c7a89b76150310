//! Unlisted links: who has one may read a draft's preview, until it is revoked. Once the draft is
//! published, the link leads on to the unit.

use super::{Error, error::found, instant};
use sqlx::SqliteConnection;
use time::OffsetDateTime;

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PreviewLink {
    pub id: i64,
    pub token: String,
    pub created_at: OffsetDateTime,
    pub revoked_at: Option<OffsetDateTime>,
}

pub async fn insert(
    connection: &mut SqliteConnection,
    draft_id: i64,
    token: &str,
    now: OffsetDateTime,
) -> Result<i64, Error> {
    let now = instant::to_text(now);
    let id = sqlx::query_scalar!(
        r#"INSERT INTO preview_link (token, draft_id, created_at)
         VALUES (?, ?, ?)
         RETURNING id AS "id!""#,
        token,
        draft_id,
        now
    )
    .fetch_one(connection)
    .await?;
    Ok(id)
}

/// The links of a draft, newest first, revoked ones too.
pub async fn list(
    connection: &mut SqliteConnection,
    draft_id: i64,
) -> Result<Vec<PreviewLink>, Error> {
    sqlx::query!(
        r#"SELECT id AS "id!",
                  token,
                  created_at,
                  revoked_at
           FROM preview_link
           WHERE draft_id = ?
           ORDER BY id DESC"#,
        draft_id
    )
    .fetch_all(connection)
    .await?
    .into_iter()
    .map(|row| {
        Ok(PreviewLink {
            id: row.id,
            token: row.token,
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

/// Revokes a link of this draft; revoking it again changes nothing.
///
/// # Errors
/// [`Error::NotFound`] if the draft has no such link.
pub async fn revoke(
    connection: &mut SqliteConnection,
    id: i64,
    draft_id: i64,
    now: OffsetDateTime,
) -> Result<(), Error> {
    let now = instant::to_text(now);
    let done = sqlx::query!(
        "UPDATE preview_link
         SET revoked_at = coalesce(revoked_at, ?)
         WHERE id = ?
           AND draft_id = ?",
        now,
        id,
        draft_id
    )
    .execute(connection)
    .await?;
    found(&done)
}

//! The people who may enter and publish. Passwords are known only as argon2id hashes.

use super::{Error, instant};
use sqlx::SqliteConnection;
use time::OffsetDateTime;

/// One who may sign in. Names are compared without case.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Operator {
    pub id: i64,
    pub name: String,
    pub created_at: OffsetDateTime,
}

/// What is needed to check a password.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Credentials {
    pub operator_id: i64,
    /// PHC string.
    pub password_hash: String,
}

/// Adds an operator.
///
/// # Errors
/// [`Error::Conflict`] if the name is taken.
pub async fn insert(
    connection: &mut SqliteConnection,
    name: &str,
    password_hash: &str,
    now: OffsetDateTime,
) -> Result<i64, Error> {
    let created_at = instant::to_text(now);
    sqlx::query_scalar!(
        r#"INSERT INTO operator (name, password_hash, created_at)
         VALUES (?, ?, ?)
         RETURNING id AS "id!""#,
        name,
        password_hash,
        created_at
    )
    .fetch_one(connection)
    .await
    .map_err(|cause| match Error::from(cause) {
        Error::Conflict(_) => Error::Conflict(format!("an operator named {name} exists already")),
        other => other,
    })
}

/// Adds an operator only if there is none yet; `None` if there is one. One statement, so that of
/// two that race only one succeeds.
pub async fn insert_first(
    connection: &mut SqliteConnection,
    name: &str,
    password_hash: &str,
    now: OffsetDateTime,
) -> Result<Option<i64>, Error> {
    let created_at = instant::to_text(now);
    let id = sqlx::query_scalar!(
        r#"INSERT INTO operator (name, password_hash, created_at)
         SELECT ?, ?, ?
         WHERE NOT EXISTS (SELECT 1 FROM operator)
         RETURNING id AS "id!""#,
        name,
        password_hash,
        created_at
    )
    .fetch_optional(connection)
    .await?;
    Ok(id)
}

/// Is there any operator?
pub async fn exist(connection: &mut SqliteConnection) -> Result<bool, Error> {
    let exist = sqlx::query_scalar!(r#"SELECT EXISTS (SELECT 1 FROM operator) AS "exist!: bool""#)
        .fetch_one(connection)
        .await?;
    Ok(exist)
}

/// All operators in the order of their names.
pub async fn list(connection: &mut SqliteConnection) -> Result<Vec<Operator>, Error> {
    sqlx::query!(
        r#"SELECT id AS "id!",
                  name,
                  created_at
           FROM operator
           ORDER BY name"#
    )
    .fetch_all(connection)
    .await?
    .into_iter()
    .map(|row| {
        Ok(Operator {
            id: row.id,
            name: row.name,
            created_at: instant::from_text(&row.created_at)?,
        })
    })
    .collect()
}

pub async fn credentials(
    connection: &mut SqliteConnection,
    name: &str,
) -> Result<Option<Credentials>, Error> {
    let row = sqlx::query!(
        r#"SELECT id AS "id!",
                  password_hash
           FROM operator
           WHERE name = ?"#,
        name
    )
    .fetch_optional(connection)
    .await?;
    Ok(row.map(|row| Credentials {
        operator_id: row.id,
        password_hash: row.password_hash,
    }))
}

/// Gives an operator another password and ends all of their sessions.
pub async fn set_password(
    connection: &mut SqliteConnection,
    operator_id: i64,
    password_hash: &str,
) -> Result<(), Error> {
    let changed = sqlx::query!(
        "UPDATE operator
         SET password_hash = ?
         WHERE id = ?",
        password_hash,
        operator_id
    )
    .execute(&mut *connection)
    .await?
    .rows_affected();
    if changed == 0 {
        return Err(Error::NotFound);
    }
    super::sessions::end_all(connection, operator_id).await?;
    Ok(())
}

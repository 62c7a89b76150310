//! The people who may sign in, and what each may do. Passwords are known only as argon2id hashes.
//! Accounts are deactivated, never deleted: their names stand beside what they published.

use super::{Error, error::found, instant};
use sqlx::SqliteConnection;
use time::OffsetDateTime;

/// What an account may do. Each includes what stands before it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Role {
    /// Reads drafts.
    Reader,
    /// Enters, publishes, keeps the queue.
    Editor,
    /// Gives and takes rights, reads the audit log.
    Owner,
}

impl Role {
    pub const ALL: [Role; 3] = [Role::Reader, Role::Editor, Role::Owner];

    pub fn id(self) -> &'static str {
        match self {
            Role::Reader => "reader",
            Role::Editor => "editor",
            Role::Owner => "owner",
        }
    }

    /// What people read.
    pub fn words(self) -> &'static str {
        match self {
            Role::Reader => "reader of drafts",
            Role::Editor => "editor",
            Role::Owner => "owner",
        }
    }

    pub fn from_id(id: &str) -> Option<Role> {
        Role::ALL.into_iter().find(|role| role.id() == id)
    }

    pub(super) fn stored(id: &str) -> Result<Role, Error> {
        Role::from_id(id).ok_or_else(|| Error::Corrupt {
            what: "role",
            cause: format!("{id:?}"),
        })
    }
}

/// One who may sign in, or might once. Names are compared without case.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Operator {
    pub id: i64,
    pub name: String,
    pub role: Role,
    pub created_at: OffsetDateTime,
    pub deactivated_at: Option<OffsetDateTime>,
}

/// What is needed to check a password.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Credentials {
    pub operator_id: i64,
    /// As it is written.
    pub name: String,
    pub role: Role,
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
    role: Role,
    now: OffsetDateTime,
) -> Result<i64, Error> {
    let created_at = instant::to_text(now);
    let role = role.id();
    sqlx::query_scalar!(
        r#"INSERT INTO operator (name, password_hash, role, created_at)
         VALUES (?, ?, ?, ?)
         RETURNING id AS "id!""#,
        name,
        password_hash,
        role,
        created_at
    )
    .fetch_one(connection)
    .await
    .map_err(|cause| match Error::from(cause) {
        Error::Conflict(_) => Error::Conflict(format!("an operator named {name} exists already")),
        other => other,
    })
}

/// Adds an owner only if there is nobody yet; `None` if there is somebody. One statement, so that of
/// two that race only one succeeds.
pub async fn insert_first(
    connection: &mut SqliteConnection,
    name: &str,
    password_hash: &str,
    now: OffsetDateTime,
) -> Result<Option<i64>, Error> {
    let created_at = instant::to_text(now);
    let id = sqlx::query_scalar!(
        r#"INSERT INTO operator (name, password_hash, role, created_at)
         SELECT ?, ?, 'owner', ?
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

/// All operators in the order of their names, deactivated ones last.
pub async fn list(connection: &mut SqliteConnection) -> Result<Vec<Operator>, Error> {
    sqlx::query!(
        r#"SELECT id AS "id!",
                  name,
                  role,
                  created_at,
                  deactivated_at
           FROM operator
           ORDER BY deactivated_at IS NOT NULL, name"#
    )
    .fetch_all(connection)
    .await?
    .into_iter()
    .map(|row| {
        Ok(Operator {
            id: row.id,
            name: row.name,
            role: Role::stored(&row.role)?,
            created_at: instant::from_text(&row.created_at)?,
            deactivated_at: row
                .deactivated_at
                .as_deref()
                .map(instant::from_text)
                .transpose()?,
        })
    })
    .collect()
}

/// One operator.
///
/// # Errors
/// [`Error::NotFound`] if there is none of this number.
pub async fn find(connection: &mut SqliteConnection, id: i64) -> Result<Operator, Error> {
    let all = list(connection).await?;
    all.into_iter()
        .find(|one| one.id == id)
        .ok_or(Error::NotFound)
}

/// The operator of this name, in whatever case.
pub async fn find_by_name(
    connection: &mut SqliteConnection,
    name: &str,
) -> Result<Option<Operator>, Error> {
    let id = sqlx::query_scalar!(r#"SELECT id AS "id!" FROM operator WHERE name = ?"#, name)
        .fetch_optional(&mut *connection)
        .await?;
    match id {
        Some(id) => Ok(Some(find(connection, id).await?)),
        None => Ok(None),
    }
}

/// Of somebody who may sign in.
pub async fn credentials(
    connection: &mut SqliteConnection,
    name: &str,
) -> Result<Option<Credentials>, Error> {
    let row = sqlx::query!(
        r#"SELECT id AS "id!",
                  name,
                  role,
                  password_hash
           FROM operator
           WHERE name = ?
             AND deactivated_at IS NULL"#,
        name
    )
    .fetch_optional(connection)
    .await?;
    row.map(|row| {
        Ok(Credentials {
            operator_id: row.id,
            name: row.name,
            role: Role::stored(&row.role)?,
            password_hash: row.password_hash,
        })
    })
    .transpose()
}

/// Gives an operator another password and ends all of their sessions.
pub async fn set_password(
    connection: &mut SqliteConnection,
    operator_id: i64,
    password_hash: &str,
) -> Result<(), Error> {
    let done = sqlx::query!(
        "UPDATE operator
         SET password_hash = ?
         WHERE id = ?",
        password_hash,
        operator_id
    )
    .execute(&mut *connection)
    .await?;
    found(&done)?;
    super::sessions::end_all(connection, operator_id).await?;
    Ok(())
}

/// Gives an operator another role and ends all of their sessions, so that none goes on under the
/// former one.
///
/// # Errors
/// [`Error::Conflict`] if they are the last owner.
pub async fn set_role(
    connection: &mut SqliteConnection,
    operator_id: i64,
    role: Role,
) -> Result<(), Error> {
    let role = role.id();
    let done = sqlx::query!(
        "UPDATE operator
         SET role = ?
         WHERE id = ?",
        role,
        operator_id
    )
    .execute(&mut *connection)
    .await
    .map_err(last_owner)?;
    found(&done)?;
    super::sessions::end_all(connection, operator_id).await
}

/// Lets an operator sign in no more, ends all of their sessions and revokes their tokens.
///
/// # Errors
/// [`Error::Conflict`] if they are the last owner.
pub async fn deactivate(
    connection: &mut SqliteConnection,
    operator_id: i64,
    now: OffsetDateTime,
) -> Result<(), Error> {
    let at = instant::to_text(now);
    let done = sqlx::query!(
        "UPDATE operator
         SET deactivated_at = coalesce(deactivated_at, ?)
         WHERE id = ?",
        at,
        operator_id
    )
    .execute(&mut *connection)
    .await
    .map_err(last_owner)?;
    found(&done)?;
    super::api_tokens::revoke_all(connection, operator_id, now).await?;
    super::sessions::end_all(connection, operator_id).await
}

/// Lets a deactivated operator sign in again.
pub async fn reactivate(connection: &mut SqliteConnection, operator_id: i64) -> Result<(), Error> {
    let done = sqlx::query!(
        "UPDATE operator
         SET deactivated_at = NULL
         WHERE id = ?",
        operator_id
    )
    .execute(connection)
    .await?;
    found(&done)
}

/// The database's trigger in words.
fn last_owner(cause: sqlx::Error) -> Error {
    match &cause {
        sqlx::Error::Database(told) if told.message().contains("the last owner stays") => {
            Error::Conflict(
                "this is the last owner, and somebody must be able to give rights; make another owner first"
                    .to_owned(),
            )
        }
        _ => cause.into(),
    }
}

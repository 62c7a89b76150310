//! Tokens with which programs act in an operator's name, as far as their scopes go. Only their
//! SHA-256 is kept.

use super::operators::Role;
use super::sessions::TokenHash;
use super::{Error, error::found, instant};
use sqlx::SqliteConnection;
use std::fmt;
use time::{Duration, OffsetDateTime};

/// What a token may be allowed to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Scope {
    /// Read drafts, one's own and others'.
    Drafts,
    /// Publish and revise records.
    Records,
    /// Upload photos and raw logs.
    Evidence,
    /// Read the whole queue.
    Queue,
}

impl Scope {
    pub const ALL: [Scope; 4] = [Scope::Drafts, Scope::Records, Scope::Evidence, Scope::Queue];

    pub fn id(self) -> &'static str {
        match self {
            Scope::Drafts => "drafts",
            Scope::Records => "records",
            Scope::Evidence => "evidence",
            Scope::Queue => "queue",
        }
    }

    /// What people read.
    pub fn words(self) -> &'static str {
        match self {
            Scope::Drafts => "read drafts",
            Scope::Records => "publish and revise records",
            Scope::Evidence => "upload photos and logs",
            Scope::Queue => "read the whole queue",
        }
    }

    pub fn from_id(id: &str) -> Option<Scope> {
        Scope::ALL.into_iter().find(|scope| scope.id() == id)
    }

    /// The least role whose tokens may have it.
    pub fn needs(self) -> Role {
        match self {
            Scope::Drafts => Role::Reader,
            Scope::Records | Scope::Evidence | Scope::Queue => Role::Editor,
        }
    }
}

/// A set of scopes, in their order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Scopes(Vec<Scope>);

impl Scopes {
    pub fn new(scopes: impl IntoIterator<Item = Scope>) -> Scopes {
        let mut scopes: Vec<Scope> = scopes.into_iter().collect();
        scopes.sort_unstable();
        scopes.dedup();
        Scopes(scopes)
    }

    pub fn iter(&self) -> impl Iterator<Item = Scope> {
        self.0.iter().copied()
    }

    pub fn has(&self, scope: Scope) -> bool {
        self.0.contains(&scope)
    }

    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    fn stored(text: &str) -> Scopes {
        // One that this version does not know allows nothing.
        Scopes::new(text.split(' ').filter_map(Scope::from_id))
    }
}

/// As it is stored: the names, separated by spaces.
impl fmt::Display for Scopes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let ids: Vec<&str> = self.iter().map(Scope::id).collect();
        f.write_str(&ids.join(" "))
    }
}

/// A token as its owner sees it: never the token itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ApiToken {
    pub id: i64,
    pub label: String,
    pub scopes: Scopes,
    pub created_at: OffsetDateTime,
    pub expires_at: Option<OffsetDateTime>,
    /// When it was last used, to the hour or so.
    pub used_at: Option<OffsetDateTime>,
    pub revoked_at: Option<OffsetDateTime>,
}

/// In whose name a token acts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bearer {
    pub token_id: i64,
    pub operator_id: i64,
    pub operator_name: String,
    pub role: Role,
    pub scopes: Scopes,
    pub used_at: Option<OffsetDateTime>,
}

/// What a token is made of.
#[derive(Debug, Clone)]
pub struct New<'a> {
    pub token_hash: &'a TokenHash,
    pub operator_id: i64,
    pub label: &'a str,
    pub scopes: Scopes,
    pub expires_at: Option<OffsetDateTime>,
}

pub async fn insert(
    connection: &mut SqliteConnection,
    new: &New<'_>,
    now: OffsetDateTime,
) -> Result<i64, Error> {
    let token_hash = new.token_hash.as_slice();
    let scopes = new.scopes.to_string();
    let created_at = instant::to_text(now);
    let expires_at = new.expires_at.map(instant::to_text);
    let id = sqlx::query_scalar!(
        r#"INSERT INTO api_token (token_hash, operator_id, label, scopes, created_at, expires_at)
         VALUES (?, ?, ?, ?, ?, ?)
         RETURNING id AS "id!""#,
        token_hash,
        new.operator_id,
        new.label,
        scopes,
        created_at,
        expires_at
    )
    .fetch_one(connection)
    .await?;
    Ok(id)
}

/// The owner of a token that is neither revoked nor expired, and may still sign in.
pub async fn bearer(
    connection: &mut SqliteConnection,
    token_hash: &TokenHash,
    now: OffsetDateTime,
) -> Result<Option<Bearer>, Error> {
    let token_hash = token_hash.as_slice();
    let now = instant::to_text(now);
    let row = sqlx::query!(
        r#"SELECT api_token.id AS "id!",
                  api_token.operator_id,
                  operator.name,
                  operator.role,
                  api_token.scopes,
                  api_token.used_at
           FROM api_token
           JOIN operator ON operator.id = api_token.operator_id
           WHERE api_token.token_hash = ?
             AND api_token.revoked_at IS NULL
             AND (api_token.expires_at IS NULL OR api_token.expires_at > ?)
             AND operator.deactivated_at IS NULL"#,
        token_hash,
        now
    )
    .fetch_optional(connection)
    .await?;
    row.map(|row| {
        Ok(Bearer {
            token_id: row.id,
            operator_id: row.operator_id,
            operator_name: row.name,
            role: Role::stored(&row.role)?,
            scopes: Scopes::stored(&row.scopes),
            used_at: row.used_at.as_deref().map(instant::from_text).transpose()?,
        })
    })
    .transpose()
}

/// How exactly the last use is known.
pub const USE_IS_KNOWN_TO: Duration = Duration::hours(1);

/// Notes that a token was used.
pub async fn note_use(
    connection: &mut SqliteConnection,
    token_id: i64,
    now: OffsetDateTime,
) -> Result<(), Error> {
    let now = instant::to_text(now);
    sqlx::query!(
        "UPDATE api_token
         SET used_at = ?
         WHERE id = ?",
        now,
        token_id
    )
    .execute(connection)
    .await?;
    Ok(())
}

/// An operator's tokens, newest first.
pub async fn list(
    connection: &mut SqliteConnection,
    operator_id: i64,
) -> Result<Vec<ApiToken>, Error> {
    sqlx::query!(
        r#"SELECT id AS "id!",
                  label,
                  scopes,
                  created_at,
                  expires_at,
                  used_at,
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
        let moment = |text: Option<String>| text.as_deref().map(instant::from_text).transpose();
        Ok(ApiToken {
            id: row.id,
            label: row.label,
            scopes: Scopes::stored(&row.scopes),
            created_at: instant::from_text(&row.created_at)?,
            expires_at: moment(row.expires_at)?,
            used_at: moment(row.used_at)?,
            revoked_at: moment(row.revoked_at)?,
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
    let done = sqlx::query!(
        "UPDATE api_token
         SET revoked_at = coalesce(revoked_at, ?)
         WHERE id = ?
           AND operator_id = ?",
        now,
        id,
        operator_id
    )
    .execute(connection)
    .await?;
    found(&done)
}

/// Revokes all tokens of an operator.
pub async fn revoke_all(
    connection: &mut SqliteConnection,
    operator_id: i64,
    now: OffsetDateTime,
) -> Result<(), Error> {
    let now = instant::to_text(now);
    sqlx::query!(
        "UPDATE api_token
         SET revoked_at = coalesce(revoked_at, ?)
         WHERE operator_id = ?",
        now,
        operator_id
    )
    .execute(connection)
    .await?;
    Ok(())
}

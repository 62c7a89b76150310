//! Bench forms as they stand while somebody fills them in: the text of every field by its path,
//! valid or not, as one JSON object.

use super::{Error, error::found, instant};
use sqlx::SqliteConnection;
use time::OffsetDateTime;

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Draft {
    pub id: i64,
    pub operator_id: i64,
    /// The published unit that it will revise.
    pub unit_id: Option<i64>,
    /// JSON object of texts by path.
    pub fields: String,
    /// Counts saves.
    pub version: i64,
    pub created_at: OffsetDateTime,
    pub updated_at: OffsetDateTime,
}

/// One save of an opened page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Save<'a> {
    /// The version that the page last heard of.
    pub version: i64,
    /// Names the opened page: the one that saved last may save again without having heard of it.
    pub editor: &'a str,
    /// Counts the page's saves, so that one that was overtaken changes nothing. A page without
    /// script cannot count: the same count again is a later save.
    pub editor_save: i64,
}

/// What came of a save.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Saved {
    /// Stored, or already overtaken by a later save of the same page; the draft's version now.
    Version(i64),
    /// Another page saved in between; nothing was changed.
    NewerExists {
        version: i64,
        updated_at: OffsetDateTime,
    },
}

/// Begins a draft.
pub async fn insert(
    connection: &mut SqliteConnection,
    operator_id: i64,
    unit_id: Option<i64>,
    fields: &str,
    now: OffsetDateTime,
) -> Result<i64, Error> {
    let now = instant::to_text(now);
    let id = sqlx::query_scalar!(
        r#"INSERT INTO draft (operator_id, unit_id, fields, editor, editor_save, created_at, updated_at)
         VALUES (?1, ?2, ?3, '', 0, ?4, ?4)
         RETURNING id AS "id!""#,
        operator_id,
        unit_id,
        fields,
        now
    )
    .fetch_one(connection)
    .await?;
    Ok(id)
}

/// A draft of this operator.
///
/// # Errors
/// [`Error::NotFound`] if there is none of this number, or it is another operator's.
pub async fn find(
    connection: &mut SqliteConnection,
    id: i64,
    operator_id: i64,
) -> Result<Draft, Error> {
    sqlx::query_as!(
        DraftRow,
        r#"SELECT id AS "id!",
                  operator_id,
                  unit_id,
                  fields,
                  version,
                  created_at,
                  updated_at
           FROM draft
           WHERE id = ?
             AND operator_id = ?"#,
        id,
        operator_id
    )
    .fetch_one(connection)
    .await?
    .into_draft()
}

/// The draft that an unlisted link leads to; `None` if the link is unknown or revoked.
pub async fn find_by_link(
    connection: &mut SqliteConnection,
    token: &str,
) -> Result<Option<Draft>, Error> {
    sqlx::query_as!(
        DraftRow,
        r#"SELECT draft.id AS "id!",
                  draft.operator_id,
                  draft.unit_id,
                  draft.fields,
                  draft.version,
                  draft.created_at,
                  draft.updated_at
           FROM preview_link
           JOIN draft ON draft.id = preview_link.draft_id
           WHERE preview_link.token = ?
             AND preview_link.revoked_at IS NULL"#,
        token
    )
    .fetch_optional(connection)
    .await?
    .map(DraftRow::into_draft)
    .transpose()
}

/// An operator's drafts, last touched first.
pub async fn list(
    connection: &mut SqliteConnection,
    operator_id: i64,
) -> Result<Vec<Draft>, Error> {
    sqlx::query_as!(
        DraftRow,
        r#"SELECT id AS "id!",
                  operator_id,
                  unit_id,
                  fields,
                  version,
                  created_at,
                  updated_at
           FROM draft
           WHERE operator_id = ?
           ORDER BY updated_at DESC, id DESC"#,
        operator_id
    )
    .fetch_all(connection)
    .await?
    .into_iter()
    .map(DraftRow::into_draft)
    .collect()
}

/// A draft of whomever, for reading.
///
/// # Errors
/// [`Error::NotFound`] if there is none of this number.
pub async fn find_of_anybody(connection: &mut SqliteConnection, id: i64) -> Result<Draft, Error> {
    sqlx::query_as!(
        DraftRow,
        r#"SELECT id AS "id!",
                  operator_id,
                  unit_id,
                  fields,
                  version,
                  created_at,
                  updated_at
           FROM draft
           WHERE id = ?"#,
        id
    )
    .fetch_one(connection)
    .await?
    .into_draft()
}

/// A draft as a list for readers shows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listed {
    pub draft: Draft,
    pub operator_name: String,
}

/// A draft of whomever, with its operator's name.
///
/// # Errors
/// [`Error::NotFound`] if there is none of this number.
pub async fn find_listed(connection: &mut SqliteConnection, id: i64) -> Result<Listed, Error> {
    let draft = find_of_anybody(connection, id).await?;
    let operator_name =
        sqlx::query_scalar!("SELECT name FROM operator WHERE id = ?", draft.operator_id)
            .fetch_one(connection)
            .await?;
    Ok(Listed {
        draft,
        operator_name,
    })
}

/// The drafts of all operators, last touched first, at most so many.
pub async fn list_of_all(
    connection: &mut SqliteConnection,
    most: i64,
) -> Result<Vec<Listed>, Error> {
    let rows = sqlx::query!(
        r#"SELECT draft.id AS "id!",
                  draft.operator_id,
                  draft.unit_id,
                  draft.fields,
                  draft.version,
                  draft.created_at,
                  draft.updated_at,
                  operator.name
           FROM draft
           JOIN operator ON operator.id = draft.operator_id
           ORDER BY draft.updated_at DESC, draft.id DESC
           LIMIT ?"#,
        most
    )
    .fetch_all(connection)
    .await?;
    rows.into_iter()
        .map(|row| {
            let draft = DraftRow {
                id: row.id,
                operator_id: row.operator_id,
                unit_id: row.unit_id,
                fields: row.fields,
                version: row.version,
                created_at: row.created_at,
                updated_at: row.updated_at,
            };
            Ok(Listed {
                draft: draft.into_draft()?,
                operator_name: row.name,
            })
        })
        .collect()
}

/// Makes one operator's drafts another's, and says how many.
pub async fn hand_over(
    connection: &mut SqliteConnection,
    from: i64,
    to: i64,
) -> Result<usize, Error> {
    let moved = sqlx::query!(
        "UPDATE draft
         SET operator_id = ?
         WHERE operator_id = ?",
        to,
        from
    )
    .execute(connection)
    .await?
    .rows_affected();
    Ok(usize::try_from(moved).unwrap_or(usize::MAX))
}

/// Maker and model as typed in a draft.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Identity {
    pub draft_id: i64,
    pub operator_id: i64,
    pub operator_name: String,
    pub maker: String,
    pub model: String,
}

/// Maker and model of every draft that names both, of all operators.
pub async fn identities(connection: &mut SqliteConnection) -> Result<Vec<Identity>, Error> {
    let rows = sqlx::query!(
        r#"SELECT draft.id AS "id!",
                  draft.operator_id,
                  operator.name,
                  draft.fields ->> '$."unit.maker"' AS "maker: String",
                  draft.fields ->> '$."unit.model"' AS "model: String"
           FROM draft
           JOIN operator ON operator.id = draft.operator_id
           ORDER BY draft.id"#
    )
    .fetch_all(connection)
    .await?;
    Ok(rows
        .into_iter()
        .filter_map(|row| {
            Some(Identity {
                draft_id: row.id,
                operator_id: row.operator_id,
                operator_name: row.name,
                maker: row.maker?,
                model: row.model?,
            })
        })
        .collect())
}

/// How many drafts there are, of all operators.
pub async fn count(connection: &mut SqliteConnection) -> Result<i64, Error> {
    let count = sqlx::query_scalar!(
        "SELECT count(*)
         FROM draft"
    )
    .fetch_one(connection)
    .await?;
    Ok(count)
}

/// How many drafts, of all operators, name a log of this SHA-256.
pub async fn naming_log(connection: &mut SqliteConnection, sha256: &str) -> Result<usize, Error> {
    let found = sqlx::query_scalar!(
        "SELECT count(*)
         FROM draft
         WHERE instr(fields, ?) > 0",
        sha256
    )
    .fetch_one(connection)
    .await?;
    Ok(usize::try_from(found).unwrap_or(0))
}

/// Stores what is typed, unless another page has saved since.
///
/// # Errors
/// [`Error::NotFound`] if the operator has no such draft.
pub async fn save(
    connection: &mut SqliteConnection,
    id: i64,
    operator_id: i64,
    save: Save<'_>,
    fields: &str,
    now: OffsetDateTime,
) -> Result<Saved, Error> {
    let now_text = instant::to_text(now);
    let stored = sqlx::query_scalar!(
        "UPDATE draft
         SET fields = ?1,
             version = version + 1,
             editor = ?2,
             editor_save = ?3,
             updated_at = ?4
         WHERE id = ?5
           AND operator_id = ?6
           AND (version = ?7 OR (editor = ?2 AND editor <> ''))
           AND NOT (editor = ?2 AND editor <> '' AND editor_save > ?3)
         RETURNING version",
        fields,
        save.editor,
        save.editor_save,
        now_text,
        id,
        operator_id,
        save.version
    )
    .fetch_optional(&mut *connection)
    .await?;
    if let Some(version) = stored {
        return Ok(Saved::Version(version));
    }
    let current = sqlx::query!(
        "SELECT version,
                editor,
                updated_at
         FROM draft
         WHERE id = ?
           AND operator_id = ?",
        id,
        operator_id
    )
    .fetch_one(connection)
    .await?;
    if current.editor == save.editor && !current.editor.is_empty() {
        return Ok(Saved::Version(current.version));
    }
    Ok(Saved::NewerExists {
        version: current.version,
        updated_at: instant::from_text(&current.updated_at)?,
    })
}

/// Discards a draft with its unlisted links. Call it inside a transaction.
///
/// # Errors
/// [`Error::NotFound`] if the operator has no such draft.
pub async fn delete(
    connection: &mut SqliteConnection,
    id: i64,
    operator_id: i64,
) -> Result<(), Error> {
    take_away(connection, id, operator_id).await?;
    sqlx::query!("DELETE FROM preview_link WHERE draft_id = ?", id)
        .execute(connection)
        .await?;
    Ok(())
}

/// Takes away a draft alone; its links stay.
async fn take_away(
    connection: &mut SqliteConnection,
    id: i64,
    operator_id: i64,
) -> Result<(), Error> {
    let done = sqlx::query!(
        "DELETE FROM draft
         WHERE id = ?
           AND operator_id = ?",
        id,
        operator_id
    )
    .execute(connection)
    .await?;
    found(&done)
}

/// Notes which unit a draft became, and takes the draft away. Its unlisted links stay: they lead on
/// to the unit.
///
/// # Errors
/// [`Error::NotFound`] if the operator has no such draft.
pub async fn become_unit(
    connection: &mut SqliteConnection,
    id: i64,
    operator_id: i64,
    unit_id: i64,
    now: OffsetDateTime,
) -> Result<(), Error> {
    take_away(connection, id, operator_id).await?;
    let now = instant::to_text(now);
    sqlx::query!(
        "INSERT INTO published_draft (draft_id, operator_id, unit_id, published_at)
         VALUES (?, ?, ?, ?)",
        id,
        operator_id,
        unit_id,
        now
    )
    .execute(connection)
    .await?;
    Ok(())
}

/// The slug of the unit that a draft of this operator became.
pub async fn became(
    connection: &mut SqliteConnection,
    id: i64,
    operator_id: i64,
) -> Result<Option<String>, Error> {
    let slug = sqlx::query_scalar!(
        "SELECT unit.slug
         FROM published_draft
         JOIN unit ON unit.id = published_draft.unit_id
         WHERE published_draft.draft_id = ?
           AND published_draft.operator_id = ?",
        id,
        operator_id
    )
    .fetch_optional(connection)
    .await?;
    Ok(slug)
}

/// The slug of the unit that the draft behind an unlisted link became; `None` if the link is unknown
/// or revoked, or its draft was not published.
pub async fn became_by_link(
    connection: &mut SqliteConnection,
    token: &str,
) -> Result<Option<String>, Error> {
    let slug = sqlx::query_scalar!(
        "SELECT unit.slug
         FROM preview_link
         JOIN published_draft ON published_draft.draft_id = preview_link.draft_id
         JOIN unit ON unit.id = published_draft.unit_id
         WHERE preview_link.token = ?
           AND preview_link.revoked_at IS NULL",
        token
    )
    .fetch_optional(connection)
    .await?;
    Ok(slug)
}

/// The record that an operator published last, as entered: where their instruments are copied from.
pub async fn last_published_record(
    connection: &mut SqliteConnection,
    operator_name: &str,
) -> Result<Option<String>, Error> {
    let record = sqlx::query_scalar!(
        "SELECT record
         FROM revision
         WHERE author = ?
         ORDER BY id DESC
         LIMIT 1",
        operator_name
    )
    .fetch_optional(connection)
    .await?;
    Ok(record)
}

struct DraftRow {
    id: i64,
    operator_id: i64,
    unit_id: Option<i64>,
    fields: String,
    version: i64,
    created_at: String,
    updated_at: String,
}

impl DraftRow {
    fn into_draft(self) -> Result<Draft, Error> {
        Ok(Draft {
            id: self.id,
            operator_id: self.operator_id,
            unit_id: self.unit_id,
            fields: self.fields,
            version: self.version,
            created_at: instant::from_text(&self.created_at)?,
            updated_at: instant::from_text(&self.updated_at)?,
        })
    }
}

//! Units and the revisions of their records. A revision is never changed once written; its text is
//! the document byte for byte as it was entered.

use super::{Error, instant};
use crate::bench::{likeness::plain_letters, record};
use sqlx::SqliteConnection;
use time::OffsetDateTime;

/// One published sample of one adapter.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unit {
    pub id: i64,
    /// Its part of its address; given at first publication and kept for good.
    pub slug: String,
    /// [`record::Unit::identity_key`] of the newest revision.
    pub identity_key: String,
    /// [`record::Unit::model_key`] of the newest revision.
    pub model_key: String,
    pub created_at: OffsetDateTime,
}

/// One published state of a unit's record, without its text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Revision {
    pub id: i64,
    pub unit_id: i64,
    /// 1 for the first.
    pub number: i64,
    pub author: String,
    /// Why it was made; may be empty for the first.
    pub reason: String,
    pub created_at: OffsetDateTime,
}

/// A revision with the document as it was entered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecordText {
    pub revision: Revision,
    pub text: String,
}

/// Inserts a unit under a free, readable slug made of maker, model and sample.
///
/// # Errors
/// [`Error::Conflict`] if a unit of this identity exists.
pub async fn insert(
    connection: &mut SqliteConnection,
    identity: &record::Unit,
    now: OffsetDateTime,
) -> Result<Unit, Error> {
    let slug = free_slug(connection, &readable_slug(identity)).await?;
    let identity_key = identity.identity_key();
    let model_key = identity.model_key();
    let created_at = instant::to_text(now);
    let id = sqlx::query_scalar!(
        "INSERT INTO unit (slug, identity_key, model_key, created_at)
         VALUES (?, ?, ?, ?)
         RETURNING id",
        slug,
        identity_key,
        model_key,
        created_at
    )
    .fetch_one(connection)
    .await?;
    Ok(Unit {
        id,
        slug,
        identity_key,
        model_key,
        created_at: instant::from_text(&created_at)?,
    })
}

/// Gives a unit the identity that its newest revision states. The slug stays, so that links hold.
///
/// # Errors
/// [`Error::Conflict`] if another unit has this identity.
pub async fn set_identity(
    connection: &mut SqliteConnection,
    unit_id: i64,
    identity: &record::Unit,
) -> Result<(), Error> {
    let identity_key = identity.identity_key();
    let model_key = identity.model_key();
    sqlx::query!(
        "UPDATE unit
         SET identity_key = ?,
             model_key = ?
         WHERE id = ?",
        identity_key,
        model_key,
        unit_id
    )
    .execute(connection)
    .await?;
    Ok(())
}

pub async fn find_by_id(connection: &mut SqliteConnection, id: i64) -> Result<Unit, Error> {
    sqlx::query_as!(
        UnitRow,
        r#"SELECT id AS "id!",
                  slug,
                  identity_key,
                  model_key,
                  created_at
           FROM unit
           WHERE id = ?"#,
        id
    )
    .fetch_one(connection)
    .await?
    .into_unit()
}

pub async fn find_by_slug(connection: &mut SqliteConnection, slug: &str) -> Result<Unit, Error> {
    sqlx::query_as!(
        UnitRow,
        "SELECT id,
                slug,
                identity_key,
                model_key,
                created_at
         FROM unit
         WHERE slug = ?",
        slug
    )
    .fetch_one(connection)
    .await?
    .into_unit()
}

/// The unit of exactly this maker, model and sample ([`record::Unit::identity_key`]).
pub async fn find_by_identity(
    connection: &mut SqliteConnection,
    identity_key: &str,
) -> Result<Option<Unit>, Error> {
    sqlx::query_as!(
        UnitRow,
        "SELECT id,
                slug,
                identity_key,
                model_key,
                created_at
         FROM unit
         WHERE identity_key = ?",
        identity_key
    )
    .fetch_optional(connection)
    .await?
    .map(UnitRow::into_unit)
    .transpose()
}

/// All samples of one model ([`record::Unit::model_key`]): "already tested?"
pub async fn find_by_model(
    connection: &mut SqliteConnection,
    model_key: &str,
) -> Result<Vec<Unit>, Error> {
    sqlx::query_as!(
        UnitRow,
        "SELECT id,
                slug,
                identity_key,
                model_key,
                created_at
         FROM unit
         WHERE model_key = ?
         ORDER BY id",
        model_key
    )
    .fetch_all(connection)
    .await?
    .into_iter()
    .map(UnitRow::into_unit)
    .collect()
}

pub async fn count(connection: &mut SqliteConnection) -> Result<i64, Error> {
    let count = sqlx::query_scalar!(
        "SELECT count(*)
         FROM unit"
    )
    .fetch_one(connection)
    .await?;
    Ok(count)
}

/// Units in the order of publication, those after the given id; 0 starts from the first.
pub async fn page(
    connection: &mut SqliteConnection,
    after_id: i64,
    at_most: i64,
) -> Result<Vec<Unit>, Error> {
    sqlx::query_as!(
        UnitRow,
        "SELECT id,
                slug,
                identity_key,
                model_key,
                created_at
         FROM unit
         WHERE id > ?
         ORDER BY id
         LIMIT ?",
        after_id,
        at_most
    )
    .fetch_all(connection)
    .await?
    .into_iter()
    .map(UnitRow::into_unit)
    .collect()
}

/// Adds a revision after the unit's last one. `text` is stored byte for byte.
pub async fn add_revision(
    connection: &mut SqliteConnection,
    unit_id: i64,
    text: &str,
    author: &str,
    reason: &str,
    now: OffsetDateTime,
) -> Result<Revision, Error> {
    let created_at = instant::to_text(now);
    let row = sqlx::query!(
        r#"INSERT INTO revision (unit_id, number, record, author, reason, created_at)
         SELECT ?1,
                1 + coalesce(max(number), 0),
                ?2,
                ?3,
                ?4,
                ?5
         FROM revision
         WHERE unit_id = ?1
         RETURNING id AS "id!",
                   number AS "number!""#,
        unit_id,
        text,
        author,
        reason,
        created_at
    )
    .fetch_one(connection)
    .await?;
    Ok(Revision {
        id: row.id,
        unit_id,
        number: row.number,
        author: author.to_string(),
        reason: reason.to_string(),
        created_at: instant::from_text(&created_at)?,
    })
}

/// A unit's revisions, newest first.
pub async fn revisions(
    connection: &mut SqliteConnection,
    unit_id: i64,
) -> Result<Vec<Revision>, Error> {
    sqlx::query_as!(
        RevisionRow,
        "SELECT id,
                unit_id,
                number,
                author,
                reason,
                created_at
         FROM revision
         WHERE unit_id = ?
         ORDER BY number DESC",
        unit_id
    )
    .fetch_all(connection)
    .await?
    .into_iter()
    .map(RevisionRow::into_revision)
    .collect()
}

/// One revision with its record as entered.
pub async fn record_text(
    connection: &mut SqliteConnection,
    unit_id: i64,
    number: i64,
) -> Result<RecordText, Error> {
    sqlx::query_as!(
        RecordTextRow,
        "SELECT id,
                unit_id,
                number,
                record,
                author,
                reason,
                created_at
         FROM revision
         WHERE unit_id = ?
           AND number = ?",
        unit_id,
        number
    )
    .fetch_one(connection)
    .await?
    .into_record_text()
}

/// The newest revision with its record as entered.
pub async fn newest_record_text(
    connection: &mut SqliteConnection,
    unit_id: i64,
) -> Result<RecordText, Error> {
    sqlx::query_as!(
        RecordTextRow,
        "SELECT id,
                unit_id,
                number,
                record,
                author,
                reason,
                created_at
         FROM revision
         WHERE unit_id = ?
         ORDER BY number DESC
         LIMIT 1",
        unit_id
    )
    .fetch_one(connection)
    .await?
    .into_record_text()
}

struct UnitRow {
    id: i64,
    slug: String,
    identity_key: String,
    model_key: String,
    created_at: String,
}

impl UnitRow {
    fn into_unit(self) -> Result<Unit, Error> {
        Ok(Unit {
            id: self.id,
            slug: self.slug,
            identity_key: self.identity_key,
            model_key: self.model_key,
            created_at: instant::from_text(&self.created_at)?,
        })
    }
}

struct RevisionRow {
    id: i64,
    unit_id: i64,
    number: i64,
    author: String,
    reason: String,
    created_at: String,
}

impl RevisionRow {
    fn into_revision(self) -> Result<Revision, Error> {
        Ok(Revision {
            id: self.id,
            unit_id: self.unit_id,
            number: self.number,
            author: self.author,
            reason: self.reason,
            created_at: instant::from_text(&self.created_at)?,
        })
    }
}

struct RecordTextRow {
    id: i64,
    unit_id: i64,
    number: i64,
    record: String,
    author: String,
    reason: String,
    created_at: String,
}

impl RecordTextRow {
    fn into_record_text(self) -> Result<RecordText, Error> {
        Ok(RecordText {
            revision: Revision {
                id: self.id,
                unit_id: self.unit_id,
                number: self.number,
                author: self.author,
                reason: self.reason,
                created_at: instant::from_text(&self.created_at)?,
            },
            text: self.record,
        })
    }
}

/// The wanted slug, or the first of `wanted-2`, `wanted-3`, … that no unit has.
async fn free_slug(connection: &mut SqliteConnection, wanted: &str) -> Result<String, Error> {
    let mut slug = wanted.to_string();
    let mut number = 1;
    loop {
        let taken = sqlx::query_scalar!(
            r#"SELECT EXISTS (SELECT 1 FROM unit WHERE slug = ?) AS "taken!: bool""#,
            slug
        )
        .fetch_one(&mut *connection)
        .await?;
        if !taken {
            return Ok(slug);
        }
        number += 1;
        slug = format!("{wanted}-{number}");
    }
}

/// Maker, model and sample in lower-case ASCII joined by hyphens, at most 120 bytes; `unit` where
/// nothing of the names can be written so.
fn readable_slug(identity: &record::Unit) -> String {
    const LONGEST: usize = 120;
    let mut slug = String::new();
    let names = [
        Some(&identity.maker),
        Some(&identity.model),
        identity.sample.as_ref(),
    ];
    for character in names
        .into_iter()
        .flatten()
        .flat_map(|name| name.chars().chain([' ']))
    {
        match plain_letters(character) {
            Some(text) => slug.push_str(&text),
            None if !slug.is_empty() && !slug.ends_with('-') => slug.push('-'),
            None => {}
        }
        if slug.len() >= LONGEST {
            break;
        }
    }
    let slug = slug.trim_end_matches('-');
    if slug.is_empty() {
        "unit".to_string()
    } else {
        slug.to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn slug_of(maker: &str, model: &str, sample: Option<&str>) -> String {
        let unit = serde_json::json!({
            "maker": maker, "model": model, "sample": sample,
            "nameplate": {"output_power_w": 30}
        });
        readable_slug(&serde_json::from_value(unit).unwrap())
    }

    #[test]
    fn a_slug_is_maker_model_and_sample_in_plain_letters() {
        assert_eq!(
            slug_of("Larkfield", "LF-100Q", Some("A")),
            "larkfield-lf-100q-a"
        );
        assert_eq!(
            slug_of("Öresund Łódź", "Größe/2", None),
            "oeresund-lodz-groesse-2"
        );
        assert_eq!(slug_of("  Two  ", "Ports+ ", None), "two-portsplus");
    }

    #[test]
    fn names_without_any_plain_letter_still_get_a_slug() {
        assert_eq!(slug_of("電源", "器", None), "unit");
        assert_eq!(slug_of("電源", "65", None), "65");
    }

    #[test]
    fn a_very_long_name_is_cut_without_a_hyphen_at_the_end() {
        let slug = slug_of(&"a ".repeat(500), "b", None);
        assert!(slug.len() <= 124 && !slug.ends_with('-'));
    }
}

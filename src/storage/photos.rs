//! Photos as they are kept, and which published revisions name which. A photo that no published
//! revision names is nobody's business but its operators'.

use super::{Error, instant, public_change};
use crate::bench::record;
use crate::photo::Kept;
use sqlx::SqliteConnection;
use std::collections::BTreeSet;
use time::OffsetDateTime;

/// A kept photo without its bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Photo {
    pub sha256: String,
    pub width_px: u32,
    pub height_px: u32,
    /// As its file was called when it came in.
    pub name: String,
    /// Size of the JPEG.
    pub size_bytes: u64,
    pub created_at: OffsetDateTime,
}

/// A kept photo with its bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Picture {
    pub sha256: String,
    pub width_px: u32,
    pub height_px: u32,
    /// A plain JPEG of at most `photo::LONG_SIDE_PX`.
    pub jpeg: Vec<u8>,
    /// The same at most `photo::THUMBNAIL_PX` wide and high.
    pub thumbnail: Vec<u8>,
}

struct PhotoRow {
    sha256: String,
    width_px: i64,
    height_px: i64,
    name: String,
    size_bytes: i64,
    created_at: String,
}

impl PhotoRow {
    fn into_photo(self) -> Result<Photo, Error> {
        Ok(Photo {
            sha256: self.sha256,
            width_px: pixels(self.width_px),
            height_px: pixels(self.height_px),
            name: self.name,
            size_bytes: self.size_bytes.unsigned_abs(),
            created_at: instant::from_text(&self.created_at)?,
        })
    }
}

struct PictureRow {
    sha256: String,
    width_px: i64,
    height_px: i64,
    jpeg: Vec<u8>,
    thumbnail: Vec<u8>,
}

impl PictureRow {
    fn into_picture(self) -> Picture {
        Picture {
            width_px: pixels(self.width_px),
            height_px: pixels(self.height_px),
            sha256: self.sha256,
            jpeg: self.jpeg,
            thumbnail: self.thumbnail,
        }
    }
}

fn pixels(stored: i64) -> u32 {
    u32::try_from(stored).expect("the schema holds sizes between 1 and 2048")
}

/// Enters a photo; one that is here already keeps its first name and time. Says whether it is new.
pub async fn enter(
    connection: &mut SqliteConnection,
    kept: &Kept,
    name: &str,
    operator_id: Option<i64>,
    now: OffsetDateTime,
) -> Result<bool, Error> {
    let sha256 = kept.sha256();
    let created_at = instant::to_text(now);
    let entered = sqlx::query!(
        "INSERT INTO photo (sha256, width_px, height_px, name, operator_id, created_at, thumbnail, jpeg)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?)
         ON CONFLICT (sha256) DO NOTHING",
        sha256,
        kept.width_px,
        kept.height_px,
        name,
        operator_id,
        created_at,
        kept.thumbnail,
        kept.jpeg
    )
    .execute(connection)
    .await?
    .rows_affected();
    Ok(entered > 0)
}

/// # Errors
/// [`Error::NotFound`] if no photo of this SHA-256 is at hand.
pub async fn find(connection: &mut SqliteConnection, sha256: &str) -> Result<Photo, Error> {
    sqlx::query_as!(
        PhotoRow,
        r#"SELECT sha256,
                  width_px,
                  height_px,
                  name,
                  length(jpeg) AS "size_bytes!: i64",
                  created_at
           FROM photo
           WHERE sha256 = ?"#,
        sha256
    )
    .fetch_optional(connection)
    .await?
    .ok_or(Error::NotFound)?
    .into_photo()
}

/// The bytes of a photo.
///
/// # Errors
/// [`Error::NotFound`] if no photo of this SHA-256 is at hand.
pub async fn jpeg(connection: &mut SqliteConnection, sha256: &str) -> Result<Vec<u8>, Error> {
    sqlx::query_scalar!(
        "SELECT jpeg
         FROM photo
         WHERE sha256 = ?",
        sha256
    )
    .fetch_optional(connection)
    .await?
    .ok_or(Error::NotFound)
}

/// The bytes of a photo's thumbnail.
///
/// # Errors
/// [`Error::NotFound`] if no photo of this SHA-256 is at hand.
pub async fn thumbnail(connection: &mut SqliteConnection, sha256: &str) -> Result<Vec<u8>, Error> {
    sqlx::query_scalar!(
        "SELECT thumbnail
         FROM photo
         WHERE sha256 = ?",
        sha256
    )
    .fetch_optional(connection)
    .await?
    .ok_or(Error::NotFound)
}

/// The photos that a revision names and that are at hand, in the order of its page; captions stand
/// in the record. Some hundred kilobytes each.
pub async fn of_revision(
    connection: &mut SqliteConnection,
    revision_id: i64,
) -> Result<Vec<Picture>, Error> {
    let rows = sqlx::query_as!(
        PictureRow,
        "SELECT photo.sha256,
                photo.width_px,
                photo.height_px,
                photo.jpeg,
                photo.thumbnail
         FROM revision_photo
         JOIN photo ON photo.sha256 = revision_photo.sha256
         WHERE revision_photo.revision_id = ?
         ORDER BY revision_photo.position",
        revision_id
    )
    .fetch_all(connection)
    .await?;
    Ok(rows.into_iter().map(PictureRow::into_picture).collect())
}

/// SHA-256 of every photo at hand, in the order of the alphabet.
pub async fn all(connection: &mut SqliteConnection) -> Result<Vec<String>, Error> {
    let all = sqlx::query_scalar!(
        "SELECT sha256
         FROM photo
         ORDER BY sha256"
    )
    .fetch_all(connection)
    .await?;
    Ok(all)
}

/// A photo with its bytes; `None` if it is not at hand.
pub async fn picture(
    connection: &mut SqliteConnection,
    sha256: &str,
) -> Result<Option<Picture>, Error> {
    let row = sqlx::query_as!(
        PictureRow,
        "SELECT sha256,
                width_px,
                height_px,
                jpeg,
                thumbnail
         FROM photo
         WHERE sha256 = ?",
        sha256
    )
    .fetch_optional(connection)
    .await?;
    Ok(row.map(PictureRow::into_picture))
}

/// SHA-256 of the photos that a revision names, in the order of its page.
pub async fn named_in_revision(
    connection: &mut SqliteConnection,
    revision_id: i64,
) -> Result<Vec<String>, Error> {
    let named = sqlx::query_scalar!(
        "SELECT sha256
         FROM revision_photo
         WHERE revision_id = ?
         ORDER BY position",
        revision_id
    )
    .fetch_all(connection)
    .await?;
    Ok(named)
}

/// Notes which photos a revision names, in their order.
pub async fn name_in_revision(
    connection: &mut SqliteConnection,
    revision_id: i64,
    photos: &[record::Photo],
) -> Result<(), Error> {
    for (position, photo) in (0i64..).zip(photos) {
        sqlx::query!(
            "INSERT INTO revision_photo (revision_id, position, sha256)
             VALUES (?, ?, ?)",
            revision_id,
            position,
            photo.sha256
        )
        .execute(&mut *connection)
        .await?;
    }
    Ok(())
}

/// SHA-256 of those photos of a record that are not at hand, each once.
pub async fn missing(
    connection: &mut SqliteConnection,
    photos: &[record::Photo],
) -> Result<BTreeSet<String>, Error> {
    let mut missing = BTreeSet::new();
    for photo in photos {
        let found = sqlx::query_scalar!(
            "SELECT count(*)
             FROM photo
             WHERE sha256 = ?",
            photo.sha256
        )
        .fetch_one(&mut *connection)
        .await?;
        if found == 0 {
            missing.insert(photo.sha256.clone());
        }
    }
    Ok(missing)
}

/// Does some revision of the unit name this photo?
pub async fn is_of_unit(
    connection: &mut SqliteConnection,
    slug: &str,
    sha256: &str,
) -> Result<bool, Error> {
    let found = sqlx::query_scalar!(
        "SELECT count(*)
         FROM revision_photo
         JOIN revision ON revision.id = revision_photo.revision_id
         JOIN unit ON unit.id = revision.unit_id
         WHERE revision_photo.sha256 = ? AND unit.slug = ?",
        sha256,
        slug
    )
    .fetch_one(connection)
    .await?;
    Ok(found > 0)
}

/// The first photo at hand that the newest revision of a unit names; `None` if there is no such
/// photo.
pub async fn first_of_unit(
    connection: &mut SqliteConnection,
    slug: &str,
) -> Result<Option<Photo>, Error> {
    sqlx::query_as!(
        PhotoRow,
        r#"SELECT photo.sha256,
                  photo.width_px,
                  photo.height_px,
                  photo.name,
                  length(photo.jpeg) AS "size_bytes!: i64",
                  photo.created_at
         FROM unit
         JOIN ranking ON ranking.unit_id = unit.id
         JOIN revision_photo ON revision_photo.revision_id = ranking.revision_id
         JOIN photo ON photo.sha256 = revision_photo.sha256
         WHERE unit.slug = ?
         ORDER BY revision_photo.position
         LIMIT 1"#,
        slug
    )
    .fetch_optional(connection)
    .await?
    .map(PhotoRow::into_photo)
    .transpose()
}

/// What names a photo.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct NamedBy {
    /// Addresses of the units whose newest revision names it.
    pub units: Vec<String>,
    pub drafts: Vec<DraftOf>,
    /// Earlier revisions, which do not keep it from being deleted: unit and number.
    pub earlier: Vec<(String, i64)>,
}

/// A draft, and whose it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DraftOf {
    pub id: i64,
    pub operator_id: i64,
}

impl NamedBy {
    /// Must the photo stay?
    pub fn keeps_it(&self) -> bool {
        !self.units.is_empty() || !self.drafts.is_empty()
    }
}

/// Which units and drafts name a photo.
pub async fn named_by(connection: &mut SqliteConnection, sha256: &str) -> Result<NamedBy, Error> {
    let units = sqlx::query_scalar!(
        "SELECT DISTINCT unit.slug
         FROM revision_photo
         JOIN ranking ON ranking.revision_id = revision_photo.revision_id
         JOIN unit ON unit.id = ranking.unit_id
         WHERE revision_photo.sha256 = ?
         ORDER BY unit.slug",
        sha256
    )
    .fetch_all(&mut *connection)
    .await?;
    let earlier = sqlx::query!(
        "SELECT DISTINCT unit.slug,
                revision.number
         FROM revision_photo
         JOIN revision ON revision.id = revision_photo.revision_id
         JOIN unit ON unit.id = revision.unit_id
         WHERE revision_photo.sha256 = ?
           AND NOT EXISTS (SELECT 1 FROM ranking WHERE ranking.revision_id = revision.id)
         ORDER BY unit.slug, revision.number",
        sha256
    )
    .fetch_all(&mut *connection)
    .await?;
    let drafts = sqlx::query_as!(
        DraftOf,
        r#"SELECT id AS "id!: i64",
                  operator_id
           FROM draft
           WHERE instr(fields, ?) > 0
           ORDER BY id"#,
        sha256
    )
    .fetch_all(connection)
    .await?;
    Ok(NamedBy {
        units,
        drafts,
        earlier: earlier
            .into_iter()
            .map(|row| (row.slug, row.number))
            .collect(),
    })
}

/// Photos that neither the newest revision of a unit nor a draft names, the newest first.
pub async fn unused(connection: &mut SqliteConnection, at_most: i64) -> Result<Vec<Photo>, Error> {
    sqlx::query_as!(
        PhotoRow,
        r#"SELECT sha256,
                  width_px,
                  height_px,
                  name,
                  length(jpeg) AS "size_bytes!: i64",
                  created_at
           FROM photo
           WHERE NOT EXISTS (SELECT 1
                             FROM revision_photo
                             JOIN ranking ON ranking.revision_id = revision_photo.revision_id
                             WHERE revision_photo.sha256 = photo.sha256)
             AND NOT EXISTS (SELECT 1 FROM draft WHERE instr(draft.fields, photo.sha256) > 0)
           ORDER BY created_at DESC, sha256
           LIMIT ?"#,
        at_most
    )
    .fetch_all(connection)
    .await?
    .into_iter()
    .map(PhotoRow::into_photo)
    .collect()
}

/// Deletes a photo for good. Earlier revisions that name it go on to say that it is not at hand.
///
/// # Errors
/// [`Error::Conflict`] if the newest revision of a unit or a draft names it, [`Error::NotFound`]
/// if it is not at hand.
pub async fn remove(connection: &mut SqliteConnection, sha256: &str) -> Result<(), Error> {
    let named = named_by(connection, sha256).await?;
    if let Some(slug) = named.units.first() {
        return Err(Error::Conflict(format!(
            "the published unit {slug} names this photo"
        )));
    }
    if !named.drafts.is_empty() {
        return Err(Error::Conflict("a draft names this photo".to_owned()));
    }
    let removed = sqlx::query!(
        "DELETE FROM photo
         WHERE sha256 = ?",
        sha256
    )
    .execute(&mut *connection)
    .await?
    .rows_affected();
    if removed == 0 {
        return Err(Error::NotFound);
    }
    if !named.earlier.is_empty() {
        public_change::raise(connection).await?;
    }
    Ok(())
}

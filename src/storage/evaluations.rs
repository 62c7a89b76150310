//! What engines said of revisions. Re-scoring adds a row and keeps the old ones; the ranking row
//! of a unit says which evaluation counts now.

use super::{Error, instant};
use crate::evaluate::evaluation::Evaluation;
use sqlx::SqliteConnection;
use time::OffsetDateTime;

/// What a result depends on besides the record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Basis<'a> {
    /// Version of the engine.
    pub engine: &'a str,
    /// Version of the score formula.
    pub score_version: u32,
    /// Digest of limits, formula, classes and score line.
    pub method_digest: &'a str,
}

/// An evaluation as stored.
#[derive(Debug, Clone, PartialEq)]
pub struct Stored {
    pub id: i64,
    pub revision_id: i64,
    pub revision_number: i64,
    pub method_digest: String,
    pub created_at: OffsetDateTime,
    /// The document as it was written; the same record and basis give the same bytes.
    pub document: String,
}

impl Stored {
    /// The document as a value.
    pub fn evaluation(&self) -> Result<Evaluation, Error> {
        serde_json::from_str(&self.document).map_err(|cause| Error::Corrupt {
            what: "evaluation",
            cause: cause.to_string(),
        })
    }
}

/// A score that a unit has or once had.
#[derive(Debug, Clone, PartialEq)]
pub struct PastScore {
    pub evaluation_id: i64,
    pub revision_number: i64,
    pub engine: String,
    pub score_version: i64,
    pub method_digest: String,
    /// 0..=100; none where no term of the score was present.
    pub score: Option<f64>,
    pub created_at: OffsetDateTime,
    /// Is this the one that pages show now?
    pub current: bool,
}

/// A unit whose newest revision has no current evaluation on the given basis.
#[derive(Debug, Clone, PartialEq)]
pub struct Outdated {
    pub unit_id: i64,
    pub slug: String,
    pub revision_id: i64,
    pub record: String,
    /// The score that pages show now.
    pub score: Option<f64>,
}

/// Stores what an engine said of a revision and returns its id. The same revision on the same
/// basis is stored once: the row that exists is kept and its id returned.
pub async fn insert(
    connection: &mut SqliteConnection,
    revision_id: i64,
    evaluation: &Evaluation,
    method_digest: &str,
    now: OffsetDateTime,
) -> Result<i64, Error> {
    let document = serde_json::to_string(evaluation).map_err(|cause| Error::Corrupt {
        what: "evaluation",
        cause: cause.to_string(),
    })?;
    let created_at = instant::to_text(now);
    // The no-op update makes RETURNING give the row that is already there.
    let id = sqlx::query_scalar!(
        "INSERT INTO evaluation
             (revision_id, engine, score_version, method_digest, score, document, created_at)
         VALUES (?, ?, ?, ?, ?, ?, ?)
         ON CONFLICT (revision_id, engine, score_version, method_digest)
             DO UPDATE SET engine = excluded.engine
         RETURNING id",
        revision_id,
        evaluation.engine,
        evaluation.score.version,
        method_digest,
        evaluation.score.value,
        document,
        created_at
    )
    .fetch_one(connection)
    .await?;
    Ok(id)
}

/// The evaluation that pages show of a unit.
pub async fn current_of_unit(
    connection: &mut SqliteConnection,
    unit_id: i64,
) -> Result<Stored, Error> {
    sqlx::query_as!(
        StoredRow,
        "SELECT evaluation.id,
                evaluation.revision_id,
                revision.number,
                evaluation.method_digest,
                evaluation.created_at,
                evaluation.document
         FROM ranking
         JOIN evaluation ON evaluation.id = ranking.evaluation_id
         JOIN revision ON revision.id = evaluation.revision_id
         WHERE ranking.unit_id = ?",
        unit_id
    )
    .fetch_one(connection)
    .await?
    .into_stored()
}

/// The evaluation of one revision: the one that pages show if it is the newest revision, else the
/// last that was made of it.
pub async fn newest_of_revision(
    connection: &mut SqliteConnection,
    revision_id: i64,
) -> Result<Stored, Error> {
    sqlx::query_as!(
        StoredRow,
        r#"SELECT evaluation.id AS "id!",
                evaluation.revision_id,
                revision.number,
                evaluation.method_digest,
                evaluation.created_at,
                evaluation.document
         FROM evaluation
         JOIN revision ON revision.id = evaluation.revision_id
         LEFT JOIN ranking ON ranking.evaluation_id = evaluation.id
         WHERE evaluation.revision_id = ?
         ORDER BY ranking.unit_id IS NULL,
                  evaluation.id DESC
         LIMIT 1"#,
        revision_id
    )
    .fetch_one(connection)
    .await?
    .into_stored()
}

/// An evaluation with everything that is stored of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Whole {
    pub id: i64,
    pub engine: String,
    pub score_version: i64,
    pub method_digest: String,
    /// 0..=100; none where no term of the score was present.
    pub score: Option<f64>,
    pub document: String,
    /// As it is stored: RFC 3339.
    pub created_at: String,
}

/// Every evaluation of a revision, the first one first.
pub async fn of_revision(
    connection: &mut SqliteConnection,
    revision_id: i64,
) -> Result<Vec<Whole>, Error> {
    let all = sqlx::query_as!(
        Whole,
        r#"SELECT id AS "id!",
                engine,
                score_version,
                method_digest,
                score,
                document,
                created_at
         FROM evaluation
         WHERE revision_id = ?
         ORDER BY id"#,
        revision_id
    )
    .fetch_all(connection)
    .await?;
    Ok(all)
}

/// Every score a unit ever had, newest first.
pub async fn history(
    connection: &mut SqliteConnection,
    unit_id: i64,
) -> Result<Vec<PastScore>, Error> {
    let rows = sqlx::query!(
        r#"SELECT evaluation.id AS "id!",
                revision.number,
                evaluation.engine,
                evaluation.score_version,
                evaluation.method_digest,
                evaluation.score,
                evaluation.created_at,
                ranking.unit_id IS NOT NULL AS "current!: bool"
         FROM revision
         JOIN evaluation ON evaluation.revision_id = revision.id
         LEFT JOIN ranking ON ranking.evaluation_id = evaluation.id
         WHERE revision.unit_id = ?
         ORDER BY evaluation.id DESC"#,
        unit_id
    )
    .fetch_all(connection)
    .await?;
    rows.into_iter()
        .map(|row| {
            Ok(PastScore {
                evaluation_id: row.id,
                revision_number: row.number,
                engine: row.engine,
                score_version: row.score_version,
                method_digest: row.method_digest,
                score: row.score,
                created_at: instant::from_text(&row.created_at)?,
                current: row.current,
            })
        })
        .collect()
}

/// How many units [`outdated`] will give in all.
pub async fn count_outdated(
    connection: &mut SqliteConnection,
    basis: Basis<'_>,
) -> Result<i64, Error> {
    let count = sqlx::query_scalar!(
        "SELECT count(*)
         FROM unit
         LEFT JOIN ranking ON ranking.unit_id = unit.id
         LEFT JOIN evaluation ON evaluation.id = ranking.evaluation_id
         WHERE evaluation.id IS NULL
            OR evaluation.engine <> ?
            OR evaluation.score_version <> ?
            OR evaluation.method_digest <> ?",
        basis.engine,
        basis.score_version,
        basis.method_digest
    )
    .fetch_one(connection)
    .await?;
    Ok(count)
}

/// Units after the given id whose shown evaluation has another basis, with their newest record.
pub async fn outdated(
    connection: &mut SqliteConnection,
    basis: Basis<'_>,
    after_unit_id: i64,
    at_most: i64,
) -> Result<Vec<Outdated>, Error> {
    let units = sqlx::query_as!(
        Outdated,
        r#"SELECT unit.id AS "unit_id!",
                unit.slug AS "slug!",
                revision.id AS "revision_id!",
                revision.record AS "record!",
                evaluation.score
         FROM unit
         JOIN revision ON revision.unit_id = unit.id
                      AND revision.number = (SELECT max(newest.number)
                                             FROM revision AS newest
                                             WHERE newest.unit_id = unit.id)
         LEFT JOIN ranking ON ranking.unit_id = unit.id
         LEFT JOIN evaluation ON evaluation.id = ranking.evaluation_id
         WHERE unit.id > ?
           AND (evaluation.id IS NULL
                OR evaluation.engine <> ?
                OR evaluation.score_version <> ?
                OR evaluation.method_digest <> ?)
         ORDER BY unit.id
         LIMIT ?"#,
        after_unit_id,
        basis.engine,
        basis.score_version,
        basis.method_digest,
        at_most
    )
    .fetch_all(connection)
    .await?;
    Ok(units)
}

struct StoredRow {
    id: i64,
    revision_id: i64,
    number: i64,
    method_digest: String,
    created_at: String,
    document: String,
}

impl StoredRow {
    fn into_stored(self) -> Result<Stored, Error> {
        Ok(Stored {
            id: self.id,
            revision_id: self.revision_id,
            revision_number: self.number,
            method_digest: self.method_digest,
            created_at: instant::from_text(&self.created_at)?,
            document: self.document,
        })
    }
}

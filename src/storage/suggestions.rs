//! Units that readers suggest. Nothing is kept about the readers; an operator accepts or declines.

use super::{Error, instant};
use sqlx::SqliteConnection;
use time::OffsetDateTime;

/// More undecided suggestions are not taken in, so that strangers cannot fill the disk.
pub const MOST_UNDECIDED: i64 = 500;

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Suggestion {
    pub id: i64,
    pub maker: String,
    pub model: String,
    pub link: Option<String>,
    pub why: String,
    /// How many readers suggested it.
    pub times: i64,
    pub created_at: OffsetDateTime,
}

/// What became of a suggestion.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Decision {
    /// It became this candidate.
    Accepted(i64),
    Declined,
}

/// Takes a suggestion in.
///
/// # Errors
/// [`Error::Conflict`] if [`MOST_UNDECIDED`] wait for a decision already.
pub async fn insert(
    connection: &mut SqliteConnection,
    maker: &str,
    model: &str,
    link: Option<&str>,
    why: &str,
    now: OffsetDateTime,
) -> Result<i64, Error> {
    let at = instant::to_text(now);
    let id = sqlx::query_scalar!(
        r#"INSERT INTO suggestion (maker, model, link, why, created_at)
           SELECT ?1, ?2, ?3, ?4, ?5
           WHERE (SELECT count(*) FROM suggestion WHERE state = 'new') < ?6
           RETURNING id AS "id!""#,
        maker,
        model,
        link,
        why,
        at,
        MOST_UNDECIDED
    )
    .fetch_optional(connection)
    .await?;
    id.ok_or_else(|| Error::Conflict("too many suggestions wait for a decision".to_owned()))
}

/// Another reader suggests the same.
pub async fn count_again(connection: &mut SqliteConnection, id: i64) -> Result<(), Error> {
    sqlx::query!("UPDATE suggestion SET times = times + 1 WHERE id = ?", id)
        .execute(connection)
        .await?;
    Ok(())
}

/// Those that wait for a decision, what most readers want first, then the oldest.
pub async fn undecided(connection: &mut SqliteConnection) -> Result<Vec<Suggestion>, Error> {
    let rows = sqlx::query!(
        r#"SELECT id AS "id!",
                  maker,
                  model,
                  link,
                  why,
                  times,
                  created_at
           FROM suggestion
           WHERE state = 'new'
           ORDER BY times DESC, id"#
    )
    .fetch_all(connection)
    .await?;
    rows.into_iter()
        .map(|row| {
            Ok(Suggestion {
                id: row.id,
                maker: row.maker,
                model: row.model,
                link: row.link,
                why: row.why,
                times: row.times,
                created_at: instant::from_text(&row.created_at)?,
            })
        })
        .collect()
}

/// Decides about a suggestion that waits.
///
/// # Errors
/// [`Error::NotFound`] if there is none of this number, or it was decided already.
pub async fn decide(
    connection: &mut SqliteConnection,
    id: i64,
    decision: Decision,
    now: OffsetDateTime,
) -> Result<(), Error> {
    let at = instant::to_text(now);
    let (state, candidate) = match decision {
        Decision::Accepted(candidate) => ("accepted", Some(candidate)),
        Decision::Declined => ("declined", None),
    };
    let decided = sqlx::query!(
        "UPDATE suggestion
         SET state = ?,
             candidate_id = ?,
             decided_at = ?
         WHERE id = ?
           AND state = 'new'",
        state,
        candidate,
        at,
        id
    )
    .execute(connection)
    .await?;
    if decided.rows_affected() == 0 {
        return Err(Error::NotFound);
    }
    Ok(())
}

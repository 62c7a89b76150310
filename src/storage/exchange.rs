//! What leaves a database for the open format and enters another one: rows as they are stored, with
//! names in place of the numbers by which tables refer to each other.

use super::Error;
use serde::{Deserialize, Serialize};
use sqlx::SqliteConnection;

/// A JSON document inside another one, byte for byte.
mod embedded {
    use serde::{Deserialize, Deserializer, Serialize, Serializer, ser::Error};
    use serde_json::value::RawValue;

    pub fn serialize<S: Serializer>(text: &str, to: S) -> Result<S::Ok, S::Error> {
        let raw = RawValue::from_string(text.to_owned()).map_err(S::Error::custom)?;
        raw.serialize(to)
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<String, D::Error> {
        Ok(Box::<RawValue>::deserialize(from)?.get().to_owned())
    }

    /// The same where there may be none.
    pub mod option {
        use super::{Deserialize, Deserializer, RawValue, Serialize, Serializer};

        pub fn serialize<S: Serializer>(text: &Option<String>, to: S) -> Result<S::Ok, S::Error> {
            match text {
                Some(text) => super::serialize(text, to),
                None => None::<()>.serialize(to),
            }
        }

        pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Option<String>, D::Error> {
            let raw = Option::<Box<RawValue>>::deserialize(from)?;
            Ok(raw.map(|raw| raw.get().to_owned()))
        }
    }
}

/// A published unit. Its identity follows from its newest record.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Unit {
    /// Names it in feeds.
    pub number: i64,
    pub slug: String,
    pub created_at: String,
}

/// A photo without its bytes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Photo {
    pub sha256: String,
    pub name: String,
    /// Account that brought it in.
    pub by: Option<String>,
    pub created_at: String,
}

/// A raw log without its bytes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Log {
    pub sha256: String,
    pub name: String,
    pub size_bytes: i64,
    #[serde(with = "embedded::option")]
    pub layout: Option<String>,
    #[serde(with = "embedded::option")]
    pub summary: Option<String>,
    pub fault: Option<String>,
    /// Account that brought it in.
    pub by: Option<String>,
    pub created_at: String,
}

/// A layout saved under a name.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Layout {
    pub name: String,
    #[serde(with = "embedded")]
    pub layout: String,
    #[serde(with = "embedded")]
    pub headings: String,
    pub updated_at: String,
}

/// A candidate of the queue.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Candidate {
    pub number: i64,
    pub uid: String,
    pub maker: String,
    pub model: String,
    pub state: String,
    pub place: i64,
    pub link: Option<String>,
    pub price_amount: Option<String>,
    pub price_currency: Option<String>,
    pub planned_on: Option<String>,
    pub public: bool,
    pub note: String,
    #[serde(with = "embedded")]
    pub label: String,
    /// Number of the draft that is its record.
    pub draft: Option<i64>,
    /// Slug of the unit that it became.
    pub unit: Option<String>,
    pub sequence: i64,
    pub created_at: String,
    pub updated_at: String,
    pub steps: Vec<Step>,
}

/// A state that a candidate came into.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Step {
    pub state: String,
    pub author: String,
    pub created_at: String,
}

/// A reader's suggestion.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Suggestion {
    pub number: i64,
    pub maker: String,
    pub model: String,
    pub link: Option<String>,
    pub why: String,
    pub times: i64,
    pub state: String,
    /// `uid` of the candidate that it became.
    pub candidate: Option<String>,
    pub created_at: String,
    pub decided_at: Option<String>,
}

/// A bench form as it stands.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Draft {
    pub number: i64,
    /// Account whose draft it is.
    pub operator: String,
    /// Slug of the unit that it revises.
    pub unit: Option<String>,
    #[serde(with = "embedded")]
    pub fields: String,
    pub version: i64,
    pub created_at: String,
    pub updated_at: String,
}

/// All units in the order of publication.
pub async fn units(connection: &mut SqliteConnection) -> Result<Vec<Unit>, Error> {
    let all = sqlx::query_as!(
        Unit,
        r#"SELECT id AS "number!",
                slug,
                created_at
         FROM unit
         ORDER BY id"#
    )
    .fetch_all(connection)
    .await?;
    Ok(all)
}

/// All photos by their SHA-256.
pub async fn photos(connection: &mut SqliteConnection) -> Result<Vec<Photo>, Error> {
    let all = sqlx::query_as!(
        Photo,
        r#"SELECT photo.sha256,
                photo.name,
                operator.name AS "by?",
                photo.created_at
         FROM photo
         LEFT JOIN operator ON operator.id = photo.operator_id
         ORDER BY photo.sha256"#
    )
    .fetch_all(connection)
    .await?;
    Ok(all)
}

/// All raw logs by their SHA-256.
pub async fn logs(connection: &mut SqliteConnection) -> Result<Vec<Log>, Error> {
    let all = sqlx::query_as!(
        Log,
        r#"SELECT log_file.sha256,
                log_file.name,
                log_file.size_bytes,
                log_file.layout,
                log_file.summary,
                log_file.fault,
                operator.name AS "by?",
                log_file.created_at
         FROM log_file
         LEFT JOIN operator ON operator.id = log_file.operator_id
         ORDER BY log_file.sha256"#
    )
    .fetch_all(connection)
    .await?;
    Ok(all)
}

/// All saved layouts by name.
pub async fn layouts(connection: &mut SqliteConnection) -> Result<Vec<Layout>, Error> {
    let all = sqlx::query_as!(
        Layout,
        "SELECT name,
                layout,
                headings,
                updated_at
         FROM log_layout
         ORDER BY name"
    )
    .fetch_all(connection)
    .await?;
    Ok(all)
}

/// All candidates in the tester's order.
pub async fn candidates(connection: &mut SqliteConnection) -> Result<Vec<Candidate>, Error> {
    let rows = sqlx::query!(
        r#"SELECT candidate.id AS "id!",
                  candidate.uid,
                  candidate.maker,
                  candidate.model,
                  candidate.state,
                  candidate.place,
                  candidate.link,
                  candidate.price_amount,
                  candidate.price_currency,
                  candidate.planned_on,
                  candidate.public AS "public: bool",
                  candidate.note,
                  candidate.label,
                  candidate.draft_id,
                  unit.slug AS "slug?",
                  candidate.sequence,
                  candidate.created_at,
                  candidate.updated_at
           FROM candidate
           LEFT JOIN unit ON unit.id = candidate.unit_id
           ORDER BY candidate.place, candidate.id"#
    )
    .fetch_all(&mut *connection)
    .await?;
    let mut all = Vec::new();
    for row in rows {
        let steps = sqlx::query_as!(
            Step,
            "SELECT state,
                    author,
                    created_at
             FROM candidate_step
             WHERE candidate_id = ?
             ORDER BY id",
            row.id
        )
        .fetch_all(&mut *connection)
        .await?;
        all.push(Candidate {
            number: row.id,
            uid: row.uid,
            maker: row.maker,
            model: row.model,
            state: row.state,
            place: row.place,
            link: row.link,
            price_amount: row.price_amount,
            price_currency: row.price_currency,
            planned_on: row.planned_on,
            public: row.public,
            note: row.note,
            label: row.label,
            draft: row.draft_id,
            unit: row.slug,
            sequence: row.sequence,
            created_at: row.created_at,
            updated_at: row.updated_at,
            steps,
        });
    }
    Ok(all)
}

/// All suggestions, decided ones too, in the order in which they came.
pub async fn suggestions(connection: &mut SqliteConnection) -> Result<Vec<Suggestion>, Error> {
    let all = sqlx::query_as!(
        Suggestion,
        r#"SELECT suggestion.id AS "number!",
                suggestion.maker,
                suggestion.model,
                suggestion.link,
                suggestion.why,
                suggestion.times,
                suggestion.state,
                candidate.uid AS "candidate?",
                suggestion.created_at,
                suggestion.decided_at
         FROM suggestion
         LEFT JOIN candidate ON candidate.id = suggestion.candidate_id
         ORDER BY suggestion.id"#
    )
    .fetch_all(connection)
    .await?;
    Ok(all)
}

/// All drafts, of all operators, in the order in which they were begun.
pub async fn drafts(connection: &mut SqliteConnection) -> Result<Vec<Draft>, Error> {
    let all = sqlx::query_as!(
        Draft,
        r#"SELECT draft.id AS "number!",
                operator.name AS operator,
                unit.slug AS "unit?",
                draft.fields,
                draft.version,
                draft.created_at,
                draft.updated_at
         FROM draft
         JOIN operator ON operator.id = draft.operator_id
         LEFT JOIN unit ON unit.id = draft.unit_id
         ORDER BY draft.id"#
    )
    .fetch_all(connection)
    .await?;
    Ok(all)
}

/// Enters a unit under its slug, and under its number where that is free. Gives the number.
pub async fn enter_unit(
    connection: &mut SqliteConnection,
    unit: &Unit,
    identity_key: &str,
    model_key: &str,
) -> Result<i64, Error> {
    let id = sqlx::query_scalar!(
        r#"INSERT INTO unit (id, slug, identity_key, model_key, created_at)
         VALUES ((SELECT ?1 WHERE ?1 > 0 AND NOT EXISTS (SELECT 1 FROM unit WHERE id = ?1)), ?2, ?3, ?4, ?5)
         RETURNING id AS "id!""#,
        unit.number,
        unit.slug,
        identity_key,
        model_key,
        unit.created_at
    )
    .fetch_one(connection)
    .await?;
    Ok(id)
}

/// Enters an evaluation that was made elsewhere, with its time; gives its number.
pub async fn enter_evaluation(
    connection: &mut SqliteConnection,
    revision_id: i64,
    evaluation: &super::evaluations::Whole,
) -> Result<i64, Error> {
    let id = sqlx::query_scalar!(
        r#"INSERT INTO evaluation
             (revision_id, engine, score_version, method_digest, score, document, created_at)
         VALUES (?, ?, ?, ?, ?, ?, ?)
         RETURNING id AS "id!""#,
        revision_id,
        evaluation.engine,
        evaluation.score_version,
        evaluation.method_digest,
        evaluation.score,
        evaluation.document,
        evaluation.created_at
    )
    .fetch_one(connection)
    .await?;
    Ok(id)
}

/// Enters a layout that is not saved yet.
pub async fn enter_layout(connection: &mut SqliteConnection, layout: &Layout) -> Result<(), Error> {
    sqlx::query!(
        "INSERT INTO log_layout (name, layout, headings, updated_at)
         VALUES (?, ?, ?, ?)",
        layout.name,
        layout.layout,
        layout.headings,
        layout.updated_at
    )
    .execute(connection)
    .await?;
    Ok(())
}

/// Enters a draft of an operator, under its number where that is free. Gives the number.
pub async fn enter_draft(
    connection: &mut SqliteConnection,
    draft: &Draft,
    operator_id: i64,
    unit_id: Option<i64>,
) -> Result<i64, Error> {
    let id = sqlx::query_scalar!(
        r#"INSERT INTO draft
             (id, operator_id, unit_id, fields, version, editor, editor_save, created_at, updated_at)
         VALUES ((SELECT ?1 WHERE ?1 > 0 AND NOT EXISTS (SELECT 1 FROM draft WHERE id = ?1)
                              AND NOT EXISTS (SELECT 1 FROM published_draft WHERE draft_id = ?1)),
                 ?2, ?3, ?4, ?5, '', 0, ?6, ?7)
         RETURNING id AS "id!""#,
        draft.number,
        operator_id,
        unit_id,
        draft.fields,
        draft.version,
        draft.created_at,
        draft.updated_at
    )
    .fetch_one(connection)
    .await?;
    Ok(id)
}

/// The place behind the last candidate's.
pub async fn last_place(connection: &mut SqliteConnection) -> Result<i64, Error> {
    let place = sqlx::query_scalar!(
        r#"SELECT coalesce(max(place), 0) AS "place!: i64"
         FROM candidate"#
    )
    .fetch_one(connection)
    .await?;
    Ok(place)
}

/// Enters a candidate with its history at a place, under its number where that is free. Gives the
/// number.
pub async fn enter_candidate(
    connection: &mut SqliteConnection,
    candidate: &Candidate,
    place: i64,
    draft_id: Option<i64>,
    unit_id: Option<i64>,
) -> Result<i64, Error> {
    let id = sqlx::query_scalar!(
        r#"INSERT INTO candidate
             (id, uid, maker, model, state, place, link, price_amount, price_currency, planned_on,
              public, note, label, draft_id, unit_id, sequence, created_at, updated_at)
         VALUES ((SELECT ?1 WHERE ?1 > 0 AND NOT EXISTS (SELECT 1 FROM candidate WHERE id = ?1)),
                 ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18)
         RETURNING id AS "id!""#,
        candidate.number,
        candidate.uid,
        candidate.maker,
        candidate.model,
        candidate.state,
        place,
        candidate.link,
        candidate.price_amount,
        candidate.price_currency,
        candidate.planned_on,
        candidate.public,
        candidate.note,
        candidate.label,
        draft_id,
        unit_id,
        candidate.sequence,
        candidate.created_at,
        candidate.updated_at
    )
    .fetch_one(&mut *connection)
    .await?;
    for step in &candidate.steps {
        sqlx::query!(
            "INSERT INTO candidate_step (candidate_id, state, author, created_at)
             VALUES (?, ?, ?, ?)",
            id,
            step.state,
            step.author,
            step.created_at
        )
        .execute(&mut *connection)
        .await?;
    }
    Ok(id)
}

/// Enters a suggestion, under its number where that is free.
pub async fn enter_suggestion(
    connection: &mut SqliteConnection,
    suggestion: &Suggestion,
    candidate_id: Option<i64>,
) -> Result<(), Error> {
    sqlx::query!(
        "INSERT INTO suggestion
             (id, maker, model, link, why, times, state, candidate_id, created_at, decided_at)
         VALUES ((SELECT ?1 WHERE ?1 > 0 AND NOT EXISTS (SELECT 1 FROM suggestion WHERE id = ?1)),
                 ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
        suggestion.number,
        suggestion.maker,
        suggestion.model,
        suggestion.link,
        suggestion.why,
        suggestion.times,
        suggestion.state,
        candidate_id,
        suggestion.created_at,
        suggestion.decided_at
    )
    .execute(connection)
    .await?;
    Ok(())
}

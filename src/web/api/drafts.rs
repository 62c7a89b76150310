//! What is not published yet, for programs whose token may read drafts.

use super::bearer::{Bearer, Drafts};
use super::json;
use super::problem::{Problem, RecordFault};
use crate::storage::drafts::{self, Listed};
use crate::storage::{self, Connection, units};
use crate::web::Site;
use crate::web::entry::{draft, live};
use axum::extract::{Path, State};
use axum::response::Response;
use serde::Serialize;
use time::format_description::well_known::Rfc3339;
use utoipa::ToSchema;

/// So many are listed, the last saved first.
const MOST_LISTED: i64 = 200;

/// Drafts, the last saved first.
#[derive(Debug, Serialize, ToSchema)]
struct DraftList {
    /// At most 200.
    drafts: Vec<DraftEntry>,
}

/// A draft as lists show it.
#[derive(Debug, Serialize, ToSchema)]
struct DraftEntry {
    id: i64,
    /// Maker, model and sample, as far as typed.
    title: String,
    /// Name of whoever works on it.
    author: String,
    /// Slug of the published unit that it will revise.
    revises: Option<String>,
    /// RFC 3339 time of the last save.
    updated_at: String,
}

/// A draft with what is typed so far.
#[derive(Debug, Serialize, ToSchema)]
struct DraftDocument {
    id: i64,
    /// Maker, model and sample, as far as typed.
    title: String,
    /// Name of whoever works on it.
    author: String,
    /// Slug of the published unit that it will revise.
    revises: Option<String>,
    /// RFC 3339 time of the last save.
    updated_at: String,
    /// The record as far as it can be read; what is missing or cannot be read is left out.
    #[schema(value_type = Object)]
    record: serde_json::Value,
    /// What stands against publishing it.
    faults: Vec<RecordFault>,
}

/// Drafts
#[utoipa::path(
    get,
    path = "/drafts",
    tag = "drafts",
    security(("token" = [])),
    responses(
        (status = OK, description = "The last saved first", body = DraftList),
        (status = 401, description = "No valid token", body = Problem,
         content_type = "application/problem+json"),
        (status = 403, description = "The token lacks the scope `drafts`", body = Problem,
         content_type = "application/problem+json"),
    ),
)]
pub async fn list(State(site): State<Site>, _reader: Bearer<Drafts>) -> Result<Response, Problem> {
    let mut connection = site.db.read().await?;
    let mut entries = Vec::new();
    for listed in drafts::list_of_all(&mut connection, MOST_LISTED).await? {
        entries.push(entry(&mut connection, &listed).await?);
    }
    Ok(json(DraftList { drafts: entries }))
}

/// A draft
#[utoipa::path(
    get,
    path = "/drafts/{id}",
    tag = "drafts",
    security(("token" = [])),
    params(("id" = i64, Path, description = "Number of the draft")),
    responses(
        (status = OK, description = "What is typed so far", body = DraftDocument),
        (status = 401, description = "No valid token", body = Problem,
         content_type = "application/problem+json"),
        (status = 403, description = "The token lacks the scope `drafts`", body = Problem,
         content_type = "application/problem+json"),
        (status = 404, description = "No such draft", body = Problem,
         content_type = "application/problem+json"),
    ),
)]
pub async fn one(
    State(site): State<Site>,
    _reader: Bearer<Drafts>,
    Path(id): Path<String>,
) -> Result<Response, Problem> {
    let no_such = || Problem::not_found(format!("there is no draft {id:?}"));
    let number: i64 = id.parse().map_err(|_| no_such())?;
    let mut connection = site.db.read().await?;
    let listed = match drafts::find_listed(&mut connection, number).await {
        Err(storage::Error::NotFound) => return Err(no_such()),
        other => other?,
    };
    let entry = entry(&mut connection, &listed).await?;
    drop(connection);
    let fields = draft::fields_of(&listed.draft).map_err(Problem::internal)?;
    let judgement = live::judge(&site, &fields)
        .await
        .map_err(Problem::internal)?;
    Ok(json(DraftDocument {
        id: entry.id,
        title: entry.title,
        author: entry.author,
        revises: entry.revises,
        updated_at: entry.updated_at,
        record: judgement.document.value,
        faults: judgement
            .problems
            .into_iter()
            .map(|fault| RecordFault {
                path: fault.path,
                value: fault.value,
                expected: fault.expected,
            })
            .collect(),
    }))
}

async fn entry(connection: &mut Connection, listed: &Listed) -> Result<DraftEntry, Problem> {
    let fields = draft::fields_of(&listed.draft).map_err(Problem::internal)?;
    let revises = match listed.draft.unit_id {
        Some(unit_id) => Some(units::find_by_id(connection, unit_id).await?.slug),
        None => None,
    };
    Ok(DraftEntry {
        id: listed.draft.id,
        title: draft::title_of(&fields),
        author: listed.operator_name.clone(),
        revises,
        updated_at: listed
            .draft
            .updated_at
            .format(&Rfc3339)
            .map_err(Problem::internal)?,
    })
}

//! What is going to be tested, as far as the tester shows it.

use super::problem::Problem;
use super::{json, kept};
use crate::storage::candidates::{self, State as Progress};
use crate::web::{Site, urls};
use axum::extract::State;
use axum::response::Response;
use serde::Serialize;
use time::format_description::well_known::Rfc3339;
use utoipa::ToSchema;

/// The public part of the queue.
#[derive(Debug, Serialize, ToSchema)]
struct Coming {
    /// In the tester's order.
    candidates: Vec<ComingUnit>,
}

/// A unit that is going to be tested, or was.
#[derive(Debug, Serialize, ToSchema)]
struct ComingUnit {
    /// As calendars name it; never changes.
    uid: String,
    maker: String,
    model: String,
    /// `wanted`, `ordered`, `here`, `on-the-bench`, `measured` or `published`.
    state: &'static str,
    /// ISO 8601 date on which the result is meant to appear.
    planned_on: Option<String>,
    /// Slug of the published unit.
    unit: Option<String>,
    /// Address of its page.
    page: Option<String>,
    /// RFC 3339 time of the last change.
    updated_at: String,
}

/// What is going to be tested
#[utoipa::path(
    get,
    path = "/coming",
    tag = "queue",
    responses((status = OK, description = "The public part of the queue", body = Coming)),
)]
pub async fn coming(State(site): State<Site>) -> Result<Response, Problem> {
    let all = candidates::list(&mut *site.db.read().await?).await?;
    let candidates = all
        .into_iter()
        .filter(|one| one.entry.public && one.state != Progress::Skipped)
        .map(|one| ComingUnit {
            uid: one.uid,
            maker: one.entry.maker,
            model: one.entry.model,
            state: one.state.id(),
            planned_on: one.entry.planned_on,
            page: one.slug.as_deref().map(urls::unit),
            unit: one.slug,
            updated_at: one
                .updated_at
                .format(&Rfc3339)
                .expect("a stored time is of a year with four digits"),
        })
        .collect();
    Ok(kept(json(Coming { candidates })))
}

//! The whole queue, for programs whose token may read it; `coming` is its public part.

use super::bearer::{Bearer, Queue};
use super::json;
use super::problem::Problem;
use crate::storage::candidates;
use crate::web::Site;
use axum::extract::State;
use axum::response::Response;
use serde::Serialize;
use time::format_description::well_known::Rfc3339;
use utoipa::ToSchema;

/// The queue, in the tester's order.
#[derive(Debug, Serialize, ToSchema)]
struct WholeQueue {
    candidates: Vec<QueuedUnit>,
}

/// A unit that is wanted, ordered, here, on the bench, measured, published or skipped.
#[derive(Debug, Serialize, ToSchema)]
struct QueuedUnit {
    id: i64,
    /// As calendars name it; never changes.
    uid: String,
    maker: String,
    model: String,
    /// `wanted`, `ordered`, `here`, `on-the-bench`, `measured`, `published` or `skipped`.
    state: &'static str,
    link: Option<String>,
    /// Decimal text.
    price_amount: Option<String>,
    /// ISO 4217.
    price_currency: Option<String>,
    /// ISO 8601 date on which the result is meant to appear.
    planned_on: Option<String>,
    /// Shown on the public calendar.
    public: bool,
    note: String,
    /// Slug of the published unit.
    unit: Option<String>,
    /// RFC 3339 time of the last change.
    updated_at: String,
}

/// The whole queue
#[utoipa::path(
    get,
    path = "/queue",
    tag = "queue",
    security(("token" = [])),
    responses(
        (status = OK, description = "In the tester's order", body = WholeQueue),
        (status = 401, description = "No valid token", body = Problem,
         content_type = "application/problem+json"),
        (status = 403, description = "The token lacks the scope `queue`", body = Problem,
         content_type = "application/problem+json"),
    ),
)]
pub async fn list(State(site): State<Site>, _reader: Bearer<Queue>) -> Result<Response, Problem> {
    let all = candidates::list(&mut *site.db.read().await?).await?;
    let mut queued = Vec::new();
    for one in all {
        let (price_amount, price_currency) = one.entry.price.unzip();
        queued.push(QueuedUnit {
            id: one.id,
            uid: one.uid,
            maker: one.entry.maker,
            model: one.entry.model,
            state: one.state.id(),
            link: one.entry.link,
            price_amount,
            price_currency,
            planned_on: one.entry.planned_on,
            public: one.entry.public,
            note: one.entry.note,
            unit: one.slug,
            updated_at: one.updated_at.format(&Rfc3339).map_err(Problem::internal)?,
        });
    }
    Ok(json(WholeQueue { candidates: queued }))
}

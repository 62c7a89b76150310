//! `POST /evaluate`: what a record says, without storing anything.

use super::body::RecordText;
use super::problem::Problem;
use super::record_schema::Record;
use super::{json_text, units::evaluation_text};
use crate::evaluate::evaluation::Evaluation;
use crate::intake::submit::judge;
use crate::web::Site;
use axum::extract::State;
use axum::response::Response;
use tokio::sync::Semaphore;

/// Anybody may ask for an evaluation without a token, so at most one is worked out at a time:
/// strangers get one core's worth of it, the rest stays for readers and the desk.
static EVALUATING: Semaphore = Semaphore::const_new(1);

/// Evaluate a record
///
/// Nothing is stored, and no token is needed. The same record and engine give the same bytes.
#[utoipa::path(
    post,
    path = "/evaluate",
    tag = "evaluation",
    request_body = Record,
    responses(
        (status = OK, description = "The evaluation document", body = Evaluation),
        (status = 400, description = "The body cannot be read", body = Problem,
         content_type = "application/problem+json"),
        (status = 413, description = "Larger than the site takes", body = Problem,
         content_type = "application/problem+json"),
        (status = 415, description = "Not sent as JSON", body = Problem,
         content_type = "application/problem+json"),
        (status = 422, description = "The record is refused, with all its faults", body = Problem,
         content_type = "application/problem+json"),
    ),
)]
pub async fn evaluate_record(
    State(site): State<Site>,
    RecordText(text): RecordText,
) -> Result<Response, Problem> {
    let _turn = EVALUATING.acquire().await.map_err(Problem::internal)?;
    // A large record takes milliseconds; other requests need not wait for them.
    let judged = tokio::task::spawn_blocking(move || judge(&text, &site.method, site.db.logs()))
        .await
        .map_err(Problem::internal)?
        .map_err(Problem::refused)?;
    Ok(json_text(evaluation_text(&judged.evaluation)?))
}

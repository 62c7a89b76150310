//! `POST /logs`: a raw log on its way in, byte for byte as the instrument wrote it.

use super::bearer::{Bearer, Evidence};
use super::json;
use super::problem::Problem;
use super::record_schema::LogLayout;
use crate::intake::logs::Summary;
use crate::web::error::Error;
use crate::web::extract::Pairs;
use crate::web::incoming::{self, Source};
use crate::web::{Site, urls};
use axum::body::{Body, HttpBody};
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use utoipa::ToSchema;

/// A log that is kept. `name`, `sha256`, `size_bytes` and `layout` are what a record's `logs` say
/// of it.
#[derive(Debug, Serialize, ToSchema)]
struct KeptLog {
    /// As it was sent; the desk lists the log under the name that it came with first.
    name: String,
    /// Of the bytes as they were sent, lower-case hexadecimal.
    sha256: String,
    size_bytes: u64,
    /// How it is read; null if that could not be found out.
    #[schema(value_type = Option<LogLayout>)]
    layout: Option<serde_json::Value>,
    /// Name of the saved layout that was used, because its headings are the same.
    saved_layout: Option<String>,
    /// Rows that were read; null if the log could not be.
    rows: Option<u64>,
    /// Rows that could not be read.
    bad_rows: Option<u64>,
    /// From the first row to the last, in seconds.
    duration_s: Option<f64>,
    /// ISO 8601, where the log tells.
    starts_at: Option<String>,
    /// Why the log could not be read by the layout. It is kept all the same: the desk says how to
    /// read it.
    fault: Option<String>,
    /// Address of its page at the desk, without scheme and host.
    page: String,
}

/// Upload a log
///
/// The body is the file itself, text or gzip, whatever its content type. It is kept as it is, named
/// by its SHA-256, and read by the layout saved for its headings, or by the one that is found.
/// Nothing is public before a published record names it. An upload that stops half-way leaves
/// nothing; the same bytes again are answered with 200.
#[utoipa::path(
    post,
    path = "/logs",
    tag = "units",
    security(("token" = [])),
    params(("name" = String, Query, description = "File name, 1 to 200 characters", min_length = 1, max_length = 200)),
    request_body(
        content = String,
        content_type = "application/octet-stream",
        description = "The file's bytes",
    ),
    responses(
        (status = 201, description = "Kept", body = KeptLog),
        (status = OK, description = "These very bytes were here already", body = KeptLog),
        (status = 400, description = "No name, no body, or the body ended early", body = Problem,
         content_type = "application/problem+json"),
        (status = 401, description = "No valid token", body = Problem,
         content_type = "application/problem+json"),
        (status = 403, description = "The token lacks the scope `evidence`", body = Problem,
         content_type = "application/problem+json"),
        (status = 413, description = "Larger than the site takes", body = Problem,
         content_type = "application/problem+json"),
    ),
)]
pub async fn upload(
    State(site): State<Site>,
    writer: Bearer<Evidence>,
    pairs: Pairs,
    body: Body,
) -> Result<Response, Problem> {
    let given = pairs.last("name").unwrap_or("");
    let name = incoming::name_of(given);
    if given.is_empty() || name != given {
        return Err(Problem::bad_query(
            "name",
            given,
            "a file name of 1 to 200 characters without folders",
        ));
    }
    if body.is_end_stream() {
        return Err(Problem::plain(
            StatusCode::BAD_REQUEST,
            "the request has no body; expected the bytes of a log, as the instrument wrote them",
        ));
    }
    let source = Source::Body(body);
    let taken = incoming::take_in(&site, name, source, writer.who())
        .await
        .map_err(|error| problem_of(&site, error))?;
    let file = taken.file;
    let layout: Option<serde_json::Value> = file
        .layout
        .as_deref()
        .and_then(|text| serde_json::from_str(text).ok());
    let summary: Option<Summary> = file
        .summary
        .as_deref()
        .and_then(|text| serde_json::from_str(text).ok());
    let status = if taken.was_here {
        StatusCode::OK
    } else {
        StatusCode::CREATED
    };
    let kept = KeptLog {
        // One that names no column is no layout yet.
        layout: layout.filter(|layout| layout["columns"] != serde_json::json!([])),
        saved_layout: taken.used_saved,
        rows: summary.as_ref().map(|summary| summary.rows),
        bad_rows: summary.as_ref().map(|summary| summary.bad_rows),
        duration_s: summary.as_ref().map(|summary| summary.duration_s),
        starts_at: summary.and_then(|summary| summary.starts_at),
        fault: file.fault,
        page: urls::desk_log(&file.sha256),
        name: file.name,
        sha256: file.sha256,
        size_bytes: file.size_bytes,
    };
    Ok((status, json(kept)).into_response())
}

fn problem_of(site: &Site, error: Error) -> Problem {
    match error {
        Error::Internal(cause) => Problem::internal(cause),
        Error::TooLarge => Problem::plain(
            StatusCode::PAYLOAD_TOO_LARGE,
            format!(
                "the log is larger than the {} bytes that this site takes; nothing was kept",
                site.config.log_limit_bytes
            ),
        ),
        other => Problem::plain(other.status(), other.to_string()),
    }
}

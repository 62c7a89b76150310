//! `POST /photos`: a photo on its way in, from any camera or phone.

use super::bearer::{Bearer, Evidence};
use super::json;
use super::problem::Problem;
use crate::web::Site;
use crate::web::error::Error;
use crate::web::extract::Pairs;
use crate::web::incoming::{self, Source};
use crate::web::incoming_photos;
use axum::body::Body;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use utoipa::ToSchema;

/// A photo that is kept. `sha256`, `width_px` and `height_px` are what a record's `photos` say of
/// it.
#[derive(Debug, Serialize, ToSchema)]
struct KeptPhoto {
    /// As it was sent.
    name: String,
    /// Of the JPEG as it is kept, lower-case hexadecimal.
    sha256: String,
    /// Of the picture as it is kept: upright, at most 2048.
    width_px: u32,
    /// Of the picture as it is kept, at most 2048.
    height_px: u32,
    /// Of the JPEG as it is kept.
    size_bytes: u64,
}

/// Upload a photo
///
/// The body is the picture itself (JPEG, PNG or WebP, not animated), whatever its content type, of
/// at most 20 MB and 50 megapixels. It is turned upright, scaled down to at most 2048 pixels, laid
/// on white where it is transparent, and encoded anew as JPEG without any metadata; a photo that
/// was downloaded from such a site stays as it is. Nothing is public before a published record
/// names it under `/unit/{slug}/photo/{sha256}.jpg`. The same picture again is answered with 200.
#[utoipa::path(
    post,
    path = "/photos",
    tag = "units",
    security(("token" = [])),
    params(("name" = String, Query, description = "File name, 1 to 200 characters", min_length = 1, max_length = 200)),
    request_body(
        content = String,
        content_type = "application/octet-stream",
        description = "The file's bytes",
    ),
    responses(
        (status = 201, description = "Kept", body = KeptPhoto),
        (status = OK, description = "This very picture was here already", body = KeptPhoto),
        (status = 400, description = "No name, or the body ended early", body = Problem,
         content_type = "application/problem+json"),
        (status = 401, description = "No valid token", body = Problem,
         content_type = "application/problem+json"),
        (status = 403, description = "The token lacks the scope `evidence`", body = Problem,
         content_type = "application/problem+json"),
        (status = 413, description = "Larger than 20 MB", body = Problem,
         content_type = "application/problem+json"),
        (status = 422, description = "No picture that is taken; says what was found and expected",
         body = Problem, content_type = "application/problem+json"),
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
    let taken = incoming_photos::take_in(&site, name, Source::Body(body), &writer.who())
        .await
        .map_err(|error| match error {
            Error::Internal(cause) => Problem::internal(cause),
            other => Problem::plain(other.status(), other.to_string()),
        })?;
    let status = if taken.was_here {
        StatusCode::OK
    } else {
        StatusCode::CREATED
    };
    let photo = taken.photo;
    let kept = KeptPhoto {
        name: photo.name,
        sha256: photo.sha256,
        width_px: photo.width_px,
        height_px: photo.height_px,
        size_bytes: photo.size_bytes,
    };
    Ok((status, json(kept)).into_response())
}

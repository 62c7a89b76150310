//! Is the program up, and can it do its work? For whoever watches over it or sends it requests.

use super::{error::Error, extract::Visit, state::Site};
use crate::host;
use axum::{
    Json, Router,
    http::{StatusCode, header},
    response::{IntoResponse, Response},
    routing::get,
};
use serde_json::json;

pub fn routes() -> Router<Site> {
    Router::new()
        .route("/health/live", get(live))
        .route("/health/ready", get(ready))
        .route("/healthz", get(database_answers))
}

/// The program answers: nothing is asked of anything else, so that a slow disk is no reason to
/// start it anew.
async fn live() -> Response {
    ([(header::CACHE_CONTROL, "no-store")], "ok\n").into_response()
}

/// Database and its schema, and room on the disk: all must be well for requests to be sent here.
/// What is wrong is named, with no figure that a stranger could use.
async fn ready(visit: Visit) -> Response {
    let site = &visit.site;
    let (database, schema) = match site.db.schema().await {
        Ok(applied) if applied == crate::storage::db::newest_schema() => ("ok", "ok"),
        // Another version of the program has been here since this one started.
        Ok(_) => ("ok", "not the one of this program"),
        Err(cause) => {
            tracing::warn!(%cause, "not ready: the database does not answer");
            ("does not answer", "unknown")
        }
    };
    let disk = match host::free_bytes(site.db.folder()) {
        Ok(free) if free >= site.config.disk_reserve_bytes => "ok",
        Ok(free) => {
            tracing::warn!(free, "not ready: too little room on the disk");
            "almost full"
        }
        Err(cause) => {
            tracing::warn!(%cause, "not ready: the folder of the data cannot be reached");
            "cannot be reached"
        }
    };
    let ready = [database, schema, disk].iter().all(|state| *state == "ok");
    let status = if ready {
        StatusCode::OK
    } else {
        StatusCode::SERVICE_UNAVAILABLE
    };
    let state = json!({"ready": ready, "database": database, "schema": schema, "disk": disk});
    (status, [(header::CACHE_CONTROL, "no-store")], Json(state)).into_response()
}

/// As earlier versions answered.
async fn database_answers(visit: Visit) -> Result<&'static str, Error> {
    visit.site.check_health().await?;
    Ok("ok\n")
}

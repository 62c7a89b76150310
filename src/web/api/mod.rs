//! The JSON API, nested under `/api/v1`.

use super::Site;
use axum::Router;

/// Routes below `/api/v1`.
pub fn routes() -> Router<Site> {
    Router::new()
}

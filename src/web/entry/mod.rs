//! Pages behind sign-in.

use super::Site;
use axum::Router;

/// The desk's routes, without a layer.
pub fn routes() -> Router<Site> {
    Router::new()
}

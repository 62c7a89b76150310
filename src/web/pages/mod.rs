//! Public pages, a file each: view, handler, tests.

use super::{Site, cache::Storable, error::Error, security::CachePolicy};
use askama::Template;
use axum::{
    Router,
    http::{HeaderValue, header},
    response::{Html, IntoResponse, Response},
};

pub fn routes() -> Router<Site> {
    Router::new()
}

/// A public page that depends on its address and public data alone: it may be kept.
pub fn public(page: &impl Template) -> Result<Response, Error> {
    let mut response = Html(page.render()?).into_response();
    response.extensions_mut().insert(Storable);
    Ok(response)
}

/// A page for this visitor and this moment alone.
pub fn private(page: &impl Template) -> Result<Response, Error> {
    let mut response = Html(page.render()?).into_response();
    response
        .headers_mut()
        .insert(header::CACHE_CONTROL, CachePolicy::NoStore.header());
    Ok(response)
}

/// The one address under which a page is known.
pub fn elsewhere(url: &str) -> Result<Response, Error> {
    let to = HeaderValue::from_str(url).map_err(Error::internal)?;
    let mut response = axum::http::StatusCode::SEE_OTHER.into_response();
    response.headers_mut().insert(header::LOCATION, to);
    Ok(response)
}

//! Public pages, a file each: view, handler, tests.

pub mod evidence;
pub mod figure_rows;
pub mod heat;
pub mod log;
pub mod measurements;
pub mod overload;
pub mod photos;
pub mod ports;
pub mod power_quality;
pub mod ranking;
pub mod sharing;
pub mod sheet;
pub mod unit;

pub mod columns;
pub mod compare;

pub mod method;
pub mod regimes;

pub mod calendar;
pub mod feed;
pub mod suggest;

pub mod at_wattage;
pub mod cost_of_use;
pub mod narrowing;
mod ranking_table;
mod site_data;
pub mod trade_offs;
mod use_of_unit;
mod use_words;

pub mod embedded;
pub mod preview;
pub mod report;
pub mod sitemap;

use super::{Site, cache::Storable, error::Error, security::CachePolicy};
use askama::Template;
use axum::{
    Router,
    body::Body,
    http::{HeaderValue, StatusCode, header},
    response::{Html, IntoResponse, Response},
};
use std::{
    cell::Cell,
    time::{Duration, Instant},
};

pub fn routes() -> Router<Site> {
    Router::new()
        .merge(ranking::routes())
        .merge(unit::routes())
        .merge(log::routes())
        .merge(photos::routes())
        .merge(compare::routes())
        .merge(regimes::routes())
        .merge(method::routes())
        .merge(calendar::routes())
        .merge(feed::routes())
        .merge(suggest::routes())
        .merge(preview::routes())
        .merge(cost_of_use::routes())
        .merge(at_wattage::routes())
        .merge(trade_offs::routes())
        .merge(ranking_table::routes())
        .merge(site_data::routes())
        .merge(embedded::routes())
        .merge(sitemap::routes())
        .merge(report::routes())
}

thread_local! {
    static IN_TEMPLATES: Cell<Duration> = const { Cell::new(Duration::ZERO) };
}

/// How long this thread has been filling the templates of public pages since it was last asked:
/// what of the work of a page is its template alone.
pub fn time_in_templates() -> Duration {
    IN_TEMPLATES.take()
}

/// A public page that depends on its address and public data alone: it may be kept.
pub fn public(page: &impl Template) -> Result<Response, Error> {
    let began = Instant::now();
    let text = page.render()?;
    IN_TEMPLATES.set(IN_TEMPLATES.get() + began.elapsed());
    let mut response = Html(text).into_response();
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

/// A public document that is not a page; kept like one.
pub fn document(content_type: &'static str, body: impl Into<Body>) -> Response {
    let mut response = body.into().into_response();
    response
        .headers_mut()
        .insert(header::CONTENT_TYPE, HeaderValue::from_static(content_type));
    response.extensions_mut().insert(Storable);
    response
}

/// The one address under which a page is known.
pub fn elsewhere(url: &str) -> Result<Response, Error> {
    let to = HeaderValue::from_str(url).map_err(Error::internal)?;
    let mut response = StatusCode::SEE_OTHER.into_response();
    response.headers_mut().insert(header::LOCATION, to);
    Ok(response)
}

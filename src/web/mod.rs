//! HTTP: pages, charts as responses, the JSON API. The only room that knows of requests.
//!
//! [`app`] is the site map and the order of the layers. From the outside in:
//!
//! 1. [`observed`]: every request gets an id, a line in the log, and counts in [`metrics`];
//! 2. [`cache`]: a stored public page is answered here and goes no deeper;
//! 3. [`language`]: the address says in which language it is answered;
//! 4. security headers, on whatever comes out of the rest, errors included;
//! 5. [`error`]: a failure becomes a page (or a problem document under `/api/`);
//! 6. the request's span in the log, panic guard, deadline, body limit;
//! 7. the routes.

pub mod state;
pub mod urls;

pub mod auth;
pub mod chrome;
pub mod error;
pub mod extract;

pub mod filters;
pub mod format;
pub mod language;
pub mod limits;
pub mod passwords;

pub mod alike;

pub mod api;
pub mod entry;
pub mod pages;

pub mod report;

pub mod assets;
pub mod cache;
pub mod download;
mod health;
mod incoming;
mod incoming_photos;
mod log_readings;
pub mod metrics;
pub mod observed;
mod passkeys;
mod second_factor;
pub mod security;
pub mod serve;
pub mod static_site;
mod structured_data;
mod underway;

pub use serve::{serve, serve_on};
pub use state::{Clock, Config, Site};

use axum::{Router, extract::DefaultBodyLimit, middleware, routing::get};
use tower_http::catch_panic::CatchPanicLayer;

/// The whole site on `site`.
pub fn app(site: Site) -> Router {
    let limit = || middleware::from_fn_with_state(site.clone(), limits::reads);
    let routes = Router::new()
        .merge(pages::routes().layer(limit()))
        .merge(entry::routes(&site))
        .nest("/api/v1", api::routes().layer(limit()))
        .route("/static/{hash}/{*file}", get(assets::serve_asset))
        .merge(health::routes())
        .route("/robots.txt", get(robots))
        .fallback(error::no_such_page)
        .method_not_allowed_fallback(error::method_not_allowed)
        .layer(DefaultBodyLimit::max(site.config.body_limit_bytes))
        .layer(middleware::from_fn_with_state(site.clone(), deadline))
        .layer(CatchPanicLayer::custom(error::panicked))
        .layer(middleware::from_fn(observed::in_span))
        .layer(middleware::from_fn_with_state(
            site.clone(),
            error::failures_as_pages,
        ))
        .layer(middleware::map_response_with_state(
            site.clone(),
            security::add_headers,
        ))
        .with_state(site.clone());
    // As a fallback of an empty router, the cache sees a request before it is routed.
    let routes = language::ByAddress::new(site.clone(), routes);
    let cached = cache::Cached::new(site.clone(), routes);
    Router::new().fallback_service(observed::Observed::new(site, cached))
}

async fn robots(visit: extract::Visit) -> String {
    let comparisons: String = visit
        .site
        .config
        .languages
        .iter()
        .map(|language| {
            let address = urls::in_language(urls::COMPARE, *language);
            format!("Disallow: {address}\n")
        })
        .collect();
    format!(
        "User-agent: *\nDisallow: /desk\nDisallow: /preview/\nDisallow: /invited/\nDisallow: /sign-in\n{comparisons}\
         Sitemap: {}\n",
        visit.absolute(urls::SITEMAP)
    )
}

/// Gives up on a request that takes longer than the configured deadline, its body included. Uploads
/// watch for themselves that they get on.
async fn deadline(
    axum::extract::State(site): axum::extract::State<Site>,
    request: axum::extract::Request,
    next: middleware::Next,
) -> axum::response::Response {
    use axum::response::IntoResponse;
    let route = request.extensions().get::<axum::extract::MatchedPath>();
    let uploads = route.is_some_and(|route| urls::takes_uploads(route.as_str()));
    if uploads && request.method() == axum::http::Method::POST {
        return next.run(request).await;
    }
    match tokio::time::timeout(site.config.request_timeout, next.run(request)).await {
        Ok(response) => response,
        Err(_) => error::Error::TookTooLong.into_response(),
    }
}

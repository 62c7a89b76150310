//! Pages behind sign-in: the desk where a tester enters, judges and publishes.
//!
//! Every change is a `POST` of a form that carries the session's token, from one of our own pages
//! (`only_from_own_pages`). Every answer is `no-store`.

pub mod set_up;
pub mod sign_in;

pub mod desk;
pub mod draft;
pub mod preview_links;
pub mod publish;

pub mod queue;

pub mod bench_form;
pub mod bench_ports;
mod heading_units;
pub mod live;
pub mod pasted;
mod pasted_rows;
pub mod plan;
pub mod plan_rows;
pub mod sharing;

pub mod account;
pub mod accounts;
pub mod audit;
pub mod logs;
pub mod passkeys;
pub mod photos;
pub mod second;
pub mod tokens;

use super::{Site, auth, cache::Storable, error::Error, extract::Visit, security::CachePolicy};
use axum::{
    Router,
    extract::{Request, State},
    http::{Method, header},
    middleware::{self, Next},
    response::{IntoResponse, Response},
};

/// The desk's routes.
pub fn routes(site: &Site) -> Router<Site> {
    Router::new()
        .merge(set_up::routes())
        .merge(sign_in::routes())
        .merge(desk::routes())
        .merge(draft::routes())
        .merge(plan::routes())
        .merge(sharing::routes())
        .merge(publish::routes())
        .merge(preview_links::routes())
        .merge(queue::routes())
        .merge(logs::routes())
        .merge(photos::routes())
        .merge(tokens::routes())
        .merge(account::routes())
        .merge(second::routes())
        .merge(passkeys::routes())
        .merge(accounts::routes())
        .merge(audit::routes())
        .layer(middleware::from_fn_with_state(
            site.clone(),
            only_from_own_pages,
        ))
}

/// Stops changes that another site's page began, and keeps every answer out of every cache.
async fn only_from_own_pages(State(site): State<Site>, request: Request, next: Next) -> Response {
    let (parts, body) = request.into_parts();
    if !matches!(parts.method, Method::GET | Method::HEAD) {
        let visit = super::extract::visit_of(&parts, &site);
        if let Err(refused) = auth::from_own_page(&visit, &parts.headers) {
            return refused.into_response();
        }
    }
    let mut response = next.run(Request::from_parts(parts, body)).await;
    response
        .headers_mut()
        .insert(header::CACHE_CONTROL, CachePolicy::NoStore.header());
    response.extensions_mut().remove::<Storable>();
    response
}

/// The frame of a page that only its operator sees.
fn chrome(visit: &Visit, signed: &auth::Signed, title: impl Into<String>) -> super::chrome::Chrome {
    visit
        .chrome(title)
        .not_indexed()
        .here(super::chrome::Here::Desk)
        .operator(&signed.name, &signed.csrf)
        .style("entry.css")
}

/// On to another page after a change.
fn on_to(path: &str) -> Result<Response, Error> {
    super::pages::elsewhere(path)
}

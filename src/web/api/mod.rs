//! The JSON API, nested under `/api/v1`: the same record and evaluation documents as everywhere,
//! problem documents for whatever goes wrong, and a description of itself.
//!
//! Every handler is registered together with its description, so that nothing is served that is
//! not described. Reading what is public is open to anybody; everything else needs a token with a scope.

mod bearer;
mod body;
mod coming;
mod drafts;
mod evaluate;
mod logs;
mod paging;
mod photos;
mod problem;
mod queue;
mod ranking;
mod record_schema;
mod regimes;
mod units;

use super::cache::Storable;
use super::{Site, urls};
use axum::body::Bytes;
use axum::extract::Request;
use axum::http::{HeaderValue, Method, StatusCode, header};
use axum::middleware::{self, Next};
use axum::response::{IntoResponse, Response};
use axum::{Json, Router};
use problem::Problem;
use serde::Serialize;
use std::sync::LazyLock;
use utoipa::OpenApi;
use utoipa::openapi::security::{Http, HttpAuthScheme, SecurityScheme};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

/// Where the API is nested.
const PREFIX: &str = urls::API;

/// Routes below `/api/v1`.
pub fn routes() -> Router<Site> {
    let (router, _) = described_routes().split_for_parts();
    router
        .fallback(no_such_resource)
        .method_not_allowed_fallback(method_not_allowed)
        .layer(middleware::from_fn(readable_from_anywhere))
}

fn described_routes() -> OpenApiRouter<Site> {
    OpenApiRouter::with_openapi(Description::openapi())
        .routes(routes!(units::list, units::create))
        .routes(routes!(units::record, units::revise))
        .routes(routes!(units::evaluation))
        .routes(routes!(units::revisions))
        .routes(routes!(units::revision))
        .routes(routes!(evaluate::evaluate_record))
        .routes(routes!(logs::upload))
        .routes(routes!(photos::upload))
        .routes(routes!(ranking::ranking))
        .routes(routes!(regimes::regimes))
        .routes(routes!(regimes::regime))
        .routes(routes!(regimes::classes))
        .routes(routes!(coming::coming))
        .routes(routes!(drafts::list))
        .routes(routes!(drafts::one))
        .routes(routes!(queue::list))
        .routes(routes!(description))
}

#[derive(OpenApi)]
#[openapi(
    info(
        title = "Brickbook",
        description = "Bench records of USB power adapters, what they say, and how the units rank. \
                       Quantities are in the SI unit that their name ends with; efficiencies are \
                       fractions; `_u` are standard uncertainties; null means \"not known\", never \
                       zero. Verdicts are what we measured on one sample, not a certification. \
                       Everything that goes wrong is answered with a problem document (RFC 9457).",
        license(name = "MIT OR Apache-2.0", identifier = "MIT OR Apache-2.0"),
    ),
    servers((url = "/api/v1")),
    components(schemas(Problem)),
    modifiers(&Tokens),
    tags(
        (name = "units", description = "Tested samples: their records, evaluations and revisions"),
        (name = "evaluation", description = "What a record says, without storing it"),
        (name = "ranking", description = "How units stand to each other"),
        (name = "queue", description = "What is going to be tested"),
        (name = "drafts", description = "What is not published yet, for those who may read it"),
        (name = "method", description = "Rules, limits and classes that results depend on"),
    )
)]
struct Description;

struct Tokens;

impl utoipa::Modify for Tokens {
    fn modify(&self, openapi: &mut utoipa::openapi::OpenApi) {
        let mut bearer = Http::new(HttpAuthScheme::Bearer);
        bearer.description = Some(
            "A token made at the desk, under Tokens, with the scope that the operation names."
                .to_owned(),
        );
        openapi
            .components
            .get_or_insert_default()
            .add_security_scheme("token", SecurityScheme::Http(bearer));
    }
}

/// This description
#[utoipa::path(
    get,
    path = "/openapi.json",
    tag = "method",
    responses((status = OK, description = "OpenAPI 3.1", body = serde_json::Value)),
)]
async fn description() -> Response {
    static TEXT: LazyLock<Bytes> = LazyLock::new(|| {
        let description = described_routes().into_openapi();
        serde_json::to_vec(&description)
            .expect("the description is plain data")
            .into()
    });
    kept(json_text(TEXT.clone()))
}

/// A document that is JSON already.
fn json_text(text: impl Into<Bytes>) -> Response {
    let kind = [(header::CONTENT_TYPE, "application/json")];
    (kind, text.into()).into_response()
}

/// A value as JSON.
fn json(value: impl Serialize) -> Response {
    Json(value).into_response()
}

/// An answer that depends on its address and on public data alone: the page cache keeps it, with
/// an ETag and compressed, until public data changes.
fn kept(mut response: Response) -> Response {
    response.extensions_mut().insert(Storable);
    response
}

async fn no_such_resource() -> Problem {
    Problem::not_found("there is nothing at this address; see /api/v1/openapi.json")
}

async fn method_not_allowed(method: Method) -> Problem {
    Problem::plain(
        StatusCode::METHOD_NOT_ALLOWED,
        format!("{method} is not possible here; the Allow header says what is"),
    )
}

/// Lets scripts of other sites read what anybody may read. Writing stays closed to them: no answer
/// to a preflight request allows it.
async fn readable_from_anywhere(request: Request, next: Next) -> Response {
    let reads = matches!(*request.method(), Method::GET | Method::HEAD)
        && !request.headers().contains_key(header::AUTHORIZATION);
    let mut response = next.run(request).await;
    if reads {
        let headers = response.headers_mut();
        headers.insert(
            header::ACCESS_CONTROL_ALLOW_ORIGIN,
            HeaderValue::from_static("*"),
        );
        headers.insert(
            header::ACCESS_CONTROL_EXPOSE_HEADERS,
            HeaderValue::from_static("etag, link"),
        );
    }
    response
}

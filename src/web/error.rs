//! What goes wrong in a request, and what a visitor reads then: our words and a way on. The cause
//! goes to the log once, here.

use super::{
    chrome::Chrome,
    extract::{Sent, Visit, visit_of},
    observed::RequestId,
    state::Site,
    urls,
};
use crate::{
    storage,
    text::{t, word},
    web::filters,
};
use askama::Template;
use axum::{
    body::Body,
    extract::{Request, State},
    http::{HeaderValue, Method, StatusCode, header},
    middleware::Next,
    response::{IntoResponse, Response},
};

/// A handler's failure; each variant is treated differently. The texts are read by visitors.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// There is no such thing: what was looked for, as a sentence.
    #[error("{0}")]
    NotFound(String),
    /// The request makes no sense: what was given and what was expected.
    #[error("{0}")]
    Invalid(String),
    /// It was understood, and cannot be taken: what was given and what was expected.
    #[error("{0}")]
    Unprocessable(String),
    /// The visitor may not do this.
    #[error("{0}")]
    Forbidden(String),
    /// Somebody else was quicker, or the thing exists already.
    #[error("{0}")]
    Conflict(String),
    /// Too many attempts; seconds to wait.
    #[error("{}", t("too-many-attempts").with("seconds", *.0))]
    TooMany(u64),
    #[error("{}", word("method-not-allowed"))]
    MethodNotAllowed,
    #[error("{}", word("too-large"))]
    TooLarge,
    /// As [`Error::TooLarge`], in words of one's own.
    #[error("{0}")]
    TooLargeFor(String),
    #[error("{}", word("no-room"))]
    NoRoom,
    #[error("{}", word("took-too-long"))]
    TookTooLong,
    /// The database is busy; trying again helps.
    #[error("{}", word("busy"))]
    Busy,
    /// Ours to mend. The cause is logged, never shown.
    #[error("{}", word("our-mistake"))]
    Internal(#[source] Box<dyn std::error::Error + Send + Sync>),
}

impl Error {
    /// The address leads nowhere.
    pub fn no_page() -> Error {
        Error::NotFound(word("no-page").into())
    }

    /// Wraps a cause that visitors can do nothing about.
    pub fn internal(cause: impl Into<Box<dyn std::error::Error + Send + Sync>>) -> Error {
        Error::Internal(cause.into())
    }

    pub fn status(&self) -> StatusCode {
        match self {
            Error::NotFound(_) => StatusCode::NOT_FOUND,
            Error::Invalid(_) => StatusCode::BAD_REQUEST,
            Error::Unprocessable(_) => StatusCode::UNPROCESSABLE_ENTITY,
            Error::Forbidden(_) => StatusCode::FORBIDDEN,
            Error::Conflict(_) => StatusCode::CONFLICT,
            Error::TooMany(_) => StatusCode::TOO_MANY_REQUESTS,
            Error::MethodNotAllowed => StatusCode::METHOD_NOT_ALLOWED,
            Error::TooLarge | Error::TooLargeFor(_) => StatusCode::PAYLOAD_TOO_LARGE,
            Error::NoRoom => StatusCode::INSUFFICIENT_STORAGE,
            Error::TookTooLong | Error::Busy => StatusCode::SERVICE_UNAVAILABLE,
            Error::Internal(_) => StatusCode::INTERNAL_SERVER_ERROR,
        }
    }
}

impl From<storage::Error> for Error {
    fn from(error: storage::Error) -> Error {
        match error {
            storage::Error::NotFound => Error::NotFound(word("nothing-here").into()),
            storage::Error::Busy => Error::Busy,
            storage::Error::NoRoom => Error::NoRoom,
            storage::Error::Conflict(what) => Error::Conflict(what.to_string()),
            cause => Error::internal(cause),
        }
    }
}

impl From<askama::Error> for Error {
    fn from(cause: askama::Error) -> Error {
        Error::internal(cause)
    }
}

/// Whoever finds the database busy may try again after so long.
const RETRY_AFTER_S: u64 = 5;

/// Left in a response for [`failures_as_pages`].
#[derive(Debug, Clone)]
struct Failure(String);

impl IntoResponse for Error {
    fn into_response(self) -> Response {
        if let Error::Internal(cause) = &self {
            tracing::error!(%cause, "request failed");
        }
        let message = self.to_string();
        let mut response = (self.status(), format!("{message}\n")).into_response();
        let wait = match self {
            Error::TooMany(seconds) => Some(seconds),
            Error::Busy | Error::TookTooLong => Some(RETRY_AFTER_S),
            _ => None,
        };
        if let Some(seconds) = wait {
            response
                .headers_mut()
                .insert(header::RETRY_AFTER, HeaderValue::from(seconds));
        }
        response.extensions_mut().insert(Failure(message));
        response
    }
}

#[derive(Template)]
#[template(path = "error.html")]
struct ErrorPage {
    chrome: Chrome,
    status: u16,
    heading: &'static str,
    message: String,
    /// What the log knows this request by.
    request_id: Option<String>,
    /// Searching the leaderboard may find what a wrong address meant.
    offer_search: bool,
    /// What was typed and could not be stored just now, to be sent once more.
    again: Option<Again>,
}

/// A form that may be sent as it was.
struct Again {
    to: String,
    fields: Vec<(String, String)>,
}

impl Again {
    /// What came from a form of the desk or of readers' suggestions; passwords are not sent back.
    fn offered(path: &str, fields: Vec<(String, String)>) -> Option<Again> {
        let ours = path.starts_with(urls::DESK) || path == urls::SUGGEST;
        let secret = fields.iter().any(|(name, _)| name.contains("password"));
        (ours && !secret && !fields.is_empty()).then(|| Again {
            to: path.to_owned(),
            fields,
        })
    }
}

/// Turns a failure into a page with the site's own frame, or, under `/api/` and for scripts that sent
/// JSON, into a problem document (RFC 9457).
pub async fn failures_as_pages(State(site): State<Site>, request: Request, next: Next) -> Response {
    let (mut parts, body) = request.into_parts();
    let visit = visit_of(&parts, &site);
    let request_id = parts.extensions.get::<RequestId>().cloned();
    let sent = Sent::default();
    parts.extensions.insert(sent.clone());
    let sent_json = parts
        .headers
        .get(header::CONTENT_TYPE)
        .is_some_and(|kind| kind.as_bytes().starts_with(b"application/json"));
    let for_program =
        sent_json || parts.uri.path() == "/api" || parts.uri.path().starts_with("/api/");
    let head = parts.method == Method::HEAD;
    let path = parts.uri.path().to_owned();
    let response = next.run(Request::from_parts(parts, body)).await;
    let status = response.status();
    if !status.is_client_error() && !status.is_server_error() {
        return response;
    }
    let failure = response.extensions().get::<Failure>().cloned();
    let message = match failure {
        Some(Failure(message)) => message,
        // A handler that made its own page, or problem document, of its failure.
        None if has_document(&response) => return response,
        None => plain_words(status).to_owned(),
    };
    let (kind, text) = if for_program {
        let problem = serde_json::json!({
            "type": "about:blank",
            "title": status.canonical_reason().unwrap_or("Error"),
            "status": status.as_u16(),
            "detail": message,
        });
        ("application/problem+json", problem.to_string())
    } else {
        let again = match status {
            StatusCode::SERVICE_UNAVAILABLE | StatusCode::INSUFFICIENT_STORAGE => {
                Again::offered(&path, sent.pairs())
            }
            _ => None,
        };
        (
            "text/html; charset=utf-8",
            page(&visit, status, message, request_id.as_ref(), again),
        )
    };
    let (mut parts, _) = response.into_parts();
    parts
        .headers
        .insert(header::CONTENT_TYPE, HeaderValue::from_static(kind));
    parts.headers.remove(header::CONTENT_LENGTH);
    Response::from_parts(
        parts,
        if head {
            Body::empty()
        } else {
            Body::from(text)
        },
    )
}

fn has_document(response: &Response) -> bool {
    let kind = response
        .headers()
        .get(header::CONTENT_TYPE)
        .and_then(|h| h.to_str().ok());
    kind.is_some_and(|kind| kind.starts_with("text/html") || kind.contains("json"))
}

fn page(
    visit: &Visit,
    status: StatusCode,
    message: String,
    request_id: Option<&RequestId>,
    again: Option<Again>,
) -> String {
    let heading = match status {
        StatusCode::NOT_FOUND => word("error-not-found"),
        StatusCode::METHOD_NOT_ALLOWED => word("error-not-possible"),
        StatusCode::FORBIDDEN | StatusCode::UNAUTHORIZED => word("error-not-allowed"),
        StatusCode::CONFLICT => word("error-not-saved"),
        StatusCode::TOO_MANY_REQUESTS => word("error-please-wait"),
        StatusCode::SERVICE_UNAVAILABLE => word("error-not-now"),
        StatusCode::INSUFFICIENT_STORAGE => word("error-no-room"),
        StatusCode::PAYLOAD_TOO_LARGE => word("error-too-large"),
        status if status.is_server_error() => word("error-ours"),
        _ => word("error-unreadable"),
    };
    let chrome = visit.chrome(heading).not_indexed();
    let offer_search = status == StatusCode::NOT_FOUND;
    // A file is no answer to one request.
    let request_id = request_id.filter(|_| !chrome.as_files);
    let page = ErrorPage {
        chrome,
        status: status.as_u16(),
        heading,
        message,
        request_id: request_id.map(|id| id.as_str().to_owned()),
        offer_search,
        again,
    };
    page.render().unwrap_or_else(|cause| {
        tracing::error!(%cause, "the error page failed");
        format!("{}\n", plain_words(status))
    })
}

fn plain_words(status: StatusCode) -> &'static str {
    match status {
        StatusCode::PAYLOAD_TOO_LARGE => word("too-large"),
        StatusCode::UNSUPPORTED_MEDIA_TYPE => word("unreadable-kind"),
        status if status.is_server_error() => word("our-mistake"),
        _ => word("unreadable-request"),
    }
}

/// `fallback`: no route matched.
pub async fn no_such_page() -> Error {
    Error::no_page()
}

/// `method_not_allowed_fallback`: a route matched, its method did not.
pub async fn method_not_allowed() -> Error {
    Error::MethodNotAllowed
}

/// A panicking handler fails its own request and nothing else; the panic's message and place are
/// written to standard error by the panic hook.
pub fn panicked(_: Box<dyn std::any::Any + Send>) -> Response {
    Error::internal("a handler panicked").into_response()
}

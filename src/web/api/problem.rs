//! How the API says that something went wrong: problem documents (RFC 9457).

use super::PREFIX;
use crate::bench::problem::Problem as Fault;
use crate::intake::submit::SubmitError;
use crate::storage::{self, api_tokens::Scope};
use crate::web::urls;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use utoipa::ToSchema;

/// More faults than any record has that was written in earnest; a document made of nothing else
/// would be answered with many times its own size.
const MOST_FAULTS: usize = 1_000;

/// A problem document, `application/problem+json`.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Problem {
    /// `about:blank` where the status says it all, else what kind of problem it is.
    #[serde(rename = "type")]
    pub kind: &'static str,
    /// The kind of problem in few words; the same for every occurrence.
    pub title: &'static str,
    /// HTTP status code.
    pub status: u16,
    /// What happened this time, and what to do about it.
    pub detail: String,
    /// All faults of a refused record; of more than a thousand the first thousand.
    #[serde(skip_serializing_if = "<[_]>::is_empty")]
    #[schema(value_type = Vec<RecordFault>)]
    pub faults: Box<[RecordFault]>,
    /// Address of the unit that the problem is about.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    pub unit: Option<Box<str>>,
    /// The scope that the token lacks.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub scope: Option<&'static str>,
    /// A header that goes with the document; boxed, as problems travel through every result.
    #[serde(skip)]
    header: Option<Box<(header::HeaderName, HeaderValue)>>,
}

/// One fault of a refused record.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct RecordFault {
    /// JSON path such as `runs[0].points[1].input.power_w`; empty: the document as a whole.
    pub path: String,
    /// What was found there, shortened.
    pub value: String,
    /// What was expected, in words.
    pub expected: String,
}

impl Problem {
    /// A problem that its status describes.
    pub fn plain(status: StatusCode, detail: impl Into<String>) -> Problem {
        Problem {
            kind: "about:blank",
            title: status.canonical_reason().unwrap_or("Error"),
            status: status.as_u16(),
            detail: detail.into(),
            faults: Box::default(),
            unit: None,
            scope: None,
            header: None,
        }
    }

    pub fn not_found(detail: impl Into<String>) -> Problem {
        Problem::plain(StatusCode::NOT_FOUND, detail)
    }

    pub fn no_such_unit(slug: &str) -> Problem {
        Problem::not_found(format!("there is no unit {slug:?}"))
    }

    /// A part of the query cannot be read.
    pub fn bad_query(name: &str, value: &str, expected: &str) -> Problem {
        Problem::plain(
            StatusCode::BAD_REQUEST,
            format!("query parameter {name}: {value:?}; expected {expected}"),
        )
    }

    /// With the first [`MOST_FAULTS`] of its faults, and how many there are if that is not all.
    pub fn refused(faults: Vec<Fault>) -> Problem {
        let mut detail = "the document is not a valid bench record; nothing was stored".to_owned();
        if faults.len() > MOST_FAULTS {
            detail.push_str(&format!(
                "; it has {} faults, of which the first {MOST_FAULTS} are listed",
                faults.len()
            ));
        }
        Problem {
            kind: "urn:brickbook:problem:refused-record",
            title: "The record is refused",
            faults: faults
                .into_iter()
                .take(MOST_FAULTS)
                .map(|fault| RecordFault {
                    path: fault.path,
                    value: fault.value,
                    expected: fault.expected,
                })
                .collect(),
            ..Problem::plain(StatusCode::UNPROCESSABLE_ENTITY, detail)
        }
    }

    pub fn already_tested(slug: &str) -> Problem {
        let unit = format!("{PREFIX}/units/{}", urls::segment(slug));
        let link = HeaderValue::from_str(&format!("<{unit}>; rel=\"related\""))
            .expect("a percent-encoded address is a header value");
        Problem {
            kind: "urn:brickbook:problem:already-tested",
            title: "This sample is published already",
            unit: Some(unit.clone().into()),
            header: Some(Box::new((header::LINK, link))),
            ..Problem::plain(
                StatusCode::CONFLICT,
                format!(
                    "maker, model and sample are those of {unit}; revise that unit with PUT, or \
                     give this sample another name"
                ),
            )
        }
    }

    /// No token, or none that is valid.
    pub fn unauthorized(detail: &str) -> Problem {
        Problem {
            header: Some(Box::new((
                header::WWW_AUTHENTICATE,
                HeaderValue::from_static("Bearer realm=\"brickbook\""),
            ))),
            ..Problem::plain(StatusCode::UNAUTHORIZED, detail)
        }
    }

    /// A valid token that may do other things.
    pub fn missing_scope(scope: Scope) -> Problem {
        let challenge = format!(
            "Bearer realm=\"brickbook\", error=\"insufficient_scope\", scope=\"{}\"",
            scope.id()
        );
        Problem {
            kind: "urn:brickbook:problem:missing-scope",
            title: "The token may not do this",
            scope: Some(scope.id()),
            header: Some(Box::new((
                header::WWW_AUTHENTICATE,
                HeaderValue::from_str(&challenge).expect("names of scopes are plain text"),
            ))),
            ..Problem::plain(
                StatusCode::FORBIDDEN,
                format!(
                    "this needs a token with the scope {}, of an account that may {}; the desk makes one under Tokens",
                    scope.id(),
                    scope.words()
                ),
            )
        }
    }

    /// Ours to mend: the cause goes to the log, never to the client.
    pub fn internal(cause: impl std::fmt::Display) -> Problem {
        tracing::error!(%cause, "API request failed");
        Problem::plain(
            StatusCode::INTERNAL_SERVER_ERROR,
            "something went wrong on our side; it has been written to the log",
        )
    }

    /// With a header in place of any other.
    pub fn with_header(mut self, name: header::HeaderName, value: HeaderValue) -> Problem {
        self.header = Some(Box::new((name, value)));
        self
    }
}

impl From<storage::Error> for Problem {
    fn from(error: storage::Error) -> Problem {
        match error {
            storage::Error::NotFound => Problem::not_found("there is nothing here (any more)"),
            storage::Error::Conflict(what) => {
                Problem::plain(StatusCode::CONFLICT, what.to_string())
            }
            storage::Error::Busy => Problem::plain(
                StatusCode::SERVICE_UNAVAILABLE,
                "the database is busy just now; try again in a moment",
            )
            .with_header(header::RETRY_AFTER, HeaderValue::from_static("1")),
            storage::Error::NoRoom => Problem::plain(
                StatusCode::INSUFFICIENT_STORAGE,
                "there is no room left on the disk, so nothing was kept",
            ),
            cause => Problem::internal(cause),
        }
    }
}

impl From<SubmitError> for Problem {
    fn from(error: SubmitError) -> Problem {
        match error {
            SubmitError::Refused(faults) => Problem::refused(faults),
            SubmitError::AlreadyTested { slug } => Problem::already_tested(&slug),
            SubmitError::NoSuchUnit { slug } => Problem::no_such_unit(&slug),
            SubmitError::Storage(error) => error.into(),
        }
    }
}

impl IntoResponse for Problem {
    fn into_response(self) -> Response {
        let status =
            StatusCode::from_u16(self.status).expect("made from a status, so it is one again");
        let text = serde_json::to_string(&self).expect("a problem document is plain data");
        let kind = [(header::CONTENT_TYPE, "application/problem+json")];
        let mut response = (status, kind, text).into_response();
        if let Some(header) = self.header {
            let (name, value) = *header;
            response.headers_mut().insert(name, value);
        }
        response
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_document_made_of_faults_is_answered_in_bounded_size_with_their_number() {
        let fault = |n: usize| Fault {
            path: format!("k{n}"),
            value: "0".into(),
            expected: "no such key".into(),
        };
        let many = Problem::refused((0..MOST_FAULTS + 1).map(fault).collect());
        assert_eq!(many.faults.len(), MOST_FAULTS);
        assert!(many.detail.contains("1001 faults"), "{}", many.detail);
        let all = Problem::refused((0..MOST_FAULTS).map(fault).collect());
        assert_eq!(all.faults.len(), MOST_FAULTS);
        assert!(!all.detail.contains("faults"), "{}", all.detail);
    }
}

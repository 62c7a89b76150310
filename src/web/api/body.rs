//! A record document on its way in, byte for byte as it was sent.

use super::problem::Problem;
use crate::web::Site;
use axum::body::Bytes;
use axum::extract::{FromRequest, Request};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::IntoResponse;

/// The text of a request's body, which says that it is JSON.
pub struct RecordText(pub String);

impl FromRequest<Site> for RecordText {
    type Rejection = Problem;

    async fn from_request(request: Request, site: &Site) -> Result<RecordText, Problem> {
        if !says_json(request.headers()) {
            return Err(Problem::plain(
                StatusCode::UNSUPPORTED_MEDIA_TYPE,
                "a record is sent as Content-Type: application/json",
            ));
        }
        let bytes = match Bytes::from_request(request, site).await {
            Ok(bytes) => bytes,
            Err(rejection) => {
                let status = rejection.into_response().status();
                return Err(if status == StatusCode::PAYLOAD_TOO_LARGE {
                    Problem::plain(
                        status,
                        format!(
                            "the body is larger than the {} bytes that this site takes",
                            site.config.body_limit_bytes
                        ),
                    )
                } else {
                    Problem::plain(StatusCode::BAD_REQUEST, "the body ended early")
                });
            }
        };
        match String::from_utf8(bytes.into()) {
            Ok(text) => Ok(RecordText(text)),
            Err(cause) => Err(Problem::plain(
                StatusCode::BAD_REQUEST,
                format!(
                    "byte {} of the body is not UTF-8; JSON is sent in UTF-8",
                    cause.utf8_error().valid_up_to()
                ),
            )),
        }
    }
}

fn says_json(headers: &HeaderMap) -> bool {
    let kind = headers
        .get(header::CONTENT_TYPE)
        .and_then(|value| value.to_str().ok())
        .unwrap_or("");
    let essence = kind.split(';').next().unwrap_or("").trim();
    essence.eq_ignore_ascii_case("application/json")
        || (essence.starts_with("application/") && essence.ends_with("+json"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn json_is_recognized_with_parameters_and_as_a_structured_suffix() {
        let says = |kind: &str| {
            let mut headers = HeaderMap::new();
            headers.insert(header::CONTENT_TYPE, kind.parse().unwrap());
            says_json(&headers)
        };
        assert!(says("application/json; charset=utf-8"));
        assert!(says("Application/JSON"));
        assert!(says("application/brickbook-record+json"));
        assert!(!says("text/plain"));
        assert!(!says("application/x-www-form-urlencoded"));
        assert!(!says_json(&HeaderMap::new()));
    }
}

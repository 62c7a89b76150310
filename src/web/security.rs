//! Headers that every response carries, and the cache policies by name.

use super::Site;
use axum::{
    extract::State,
    http::{HeaderName, HeaderValue, header},
    response::Response,
};

/// Nothing but our own files runs, loads, frames or is framed; no inline script or style.
const CONTENT_POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; \
    img-src 'self' data:; font-src 'self'; connect-src 'self'; form-action 'self'; \
    base-uri 'none'; frame-ancestors 'none'";

/// Where visitors come by HTTPS, they keep to it for a year.
const ONLY_HTTPS: &str = "max-age=31536000; includeSubDomains";

const HEADERS: [(HeaderName, &str); 7] = [
    (header::CONTENT_SECURITY_POLICY, CONTENT_POLICY),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "strict-origin-when-cross-origin"),
    (
        HeaderName::from_static("cross-origin-opener-policy"),
        "same-origin",
    ),
    (
        HeaderName::from_static("cross-origin-resource-policy"),
        "same-site",
    ),
    (
        HeaderName::from_static("permissions-policy"),
        "camera=(), microphone=(), geolocation=(), payment=(), usb=(), serial=()",
    ),
    (header::X_FRAME_OPTIONS, "DENY"),
];

/// How long, and by whom, a response may be kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CachePolicy {
    /// Never kept: signed-in pages, errors, whatever did not say.
    NoStore,
    /// Public and kept, but asked about each time (`ETag`), so that a correction is seen at once.
    Revalidate,
    /// As [`CachePolicy::Revalidate`] for a reader; a cache that many readers share may answer for
    /// this many seconds without asking.
    Shared(u32),
    /// Content that its address names: kept for a year.
    Immutable,
}

impl CachePolicy {
    pub fn header(self) -> HeaderValue {
        HeaderValue::from_static(match self {
            CachePolicy::NoStore => "no-store",
            CachePolicy::Revalidate | CachePolicy::Shared(0) => {
                "public, max-age=0, must-revalidate"
            }
            CachePolicy::Shared(seconds) => {
                return HeaderValue::from_str(&format!(
                    "public, max-age=0, s-maxage={seconds}, must-revalidate"
                ))
                .expect("digits are a header value");
            }
            CachePolicy::Immutable => "public, max-age=31536000, immutable",
        })
    }
}

/// Adds what is missing; a handler's own choice of a header stands.
pub async fn add_headers(State(site): State<Site>, mut response: Response) -> Response {
    let error = response.status().is_client_error() || response.status().is_server_error();
    let headers = response.headers_mut();
    for (name, value) in HEADERS {
        headers
            .entry(name)
            .or_insert(HeaderValue::from_static(value));
    }
    if site.config.secure_cookies {
        headers
            .entry(header::STRICT_TRANSPORT_SECURITY)
            .or_insert(HeaderValue::from_static(ONLY_HTTPS));
    }
    if error || !headers.contains_key(header::CACHE_CONTROL) {
        headers.insert(header::CACHE_CONTROL, CachePolicy::NoStore.header());
    }
    response
}

//! What is known of every request: an id, how long it took, one line in the log. The outermost
//! layer, so that pages from the cache count like all others.
//!
//! An id comes with the request only where a trusted proxy sent it; it stands in the answer
//! (`X-Request-Id`), on error pages and in every line that the log gets about this request.

use super::{
    cache::{Answer, Cached},
    state::Site,
};
use axum::{
    extract::{ConnectInfo, MatchedPath, Request},
    http::{HeaderMap, HeaderName, HeaderValue, Method},
    middleware::Next,
    response::Response,
};
use std::{
    collections::HashSet,
    convert::Infallible,
    future::Future,
    net::{IpAddr, SocketAddr},
    pin::Pin,
    sync::{
        LazyLock, Mutex, PoisonError,
        atomic::{AtomicU64, Ordering},
    },
    task::{Context, Poll},
    time::Instant,
};
use tower::Service;
use tracing::Instrument;

/// Carries the id of a request.
pub const REQUEST_ID: HeaderName = HeaderName::from_static("x-request-id");

/// Longest id that is taken from a proxy.
const LONGEST_ID: usize = 128;

/// Names one request in the log.
#[derive(Debug, Clone)]
pub struct RequestId(HeaderValue);

impl RequestId {
    /// No other request has it: a random number for the process, and a count.
    fn new() -> RequestId {
        static PROCESS: LazyLock<u32> = LazyLock::new(rand::random);
        static COUNT: AtomicU64 = AtomicU64::new(1);
        let count = COUNT.fetch_add(1, Ordering::Relaxed);
        let text = format!("{:08x}-{count:x}", *PROCESS);
        RequestId(HeaderValue::from_str(&text).expect("digits are a header value"))
    }

    /// The id that stands in the headers of a request from `peer`, if that is a trusted proxy and
    /// the id is one that can stand in a log.
    fn given(headers: &HeaderMap, peer: Option<IpAddr>, trusted: &[IpAddr]) -> Option<RequestId> {
        let given = headers.get(REQUEST_ID)?;
        let plain = |b: &u8| b.is_ascii_alphanumeric() || b"-_.:+/=@".contains(b);
        let bytes = given.as_bytes();
        let fits = (1..=LONGEST_ID).contains(&bytes.len()) && bytes.iter().all(plain);
        (fits && trusted.contains(&peer?)).then(|| RequestId(given.clone()))
    }

    pub fn as_str(&self) -> &str {
        self.0.to_str().expect("made of ASCII")
    }
}

/// The pattern of the route that answered, such as `/unit/{slug}`: never what a visitor typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Route(&'static str);

impl Route {
    /// Where no route matched.
    pub const NONE: Route = Route("(none)");

    /// There are as many as the program has routes; each is written once.
    fn of(pattern: &str) -> Route {
        static KNOWN: Mutex<Option<HashSet<&'static str>>> = Mutex::new(None);
        let mut known = KNOWN.lock().unwrap_or_else(PoisonError::into_inner);
        let known = known.get_or_insert_default();
        Route(known.get(pattern).copied().unwrap_or_else(|| {
            let kept: &'static str = pattern.to_owned().leak();
            known.insert(kept);
            kept
        }))
    }

    pub fn pattern(self) -> &'static str {
        self.0
    }
}

/// The method's name, of those that this site knows: a visitor may invent others.
pub fn method_name(method: &Method) -> &'static str {
    match *method {
        Method::GET => "GET",
        Method::HEAD => "HEAD",
        Method::POST => "POST",
        Method::PUT => "PUT",
        Method::DELETE => "DELETE",
        Method::OPTIONS => "OPTIONS",
        _ => "other",
    }
}

/// Layer within the routes: whatever is logged below carries the request's id, and the answer says
/// which route made it.
pub async fn in_span(request: Request, next: Next) -> Response {
    let route = request
        .extensions()
        .get::<MatchedPath>()
        .map_or(Route::NONE, |matched| Route::of(matched.as_str()));
    let span = match request.extensions().get::<RequestId>() {
        Some(id) => tracing::info_span!("request", id = id.as_str()),
        None => tracing::Span::none(),
    };
    let mut response = next.run(request).instrument(span).await;
    response.extensions_mut().insert(route);
    response
}

/// The site, with every request looked at.
#[derive(Clone)]
pub struct Observed {
    site: Site,
    inner: Cached,
}

impl Observed {
    pub fn new(site: Site, inner: Cached) -> Observed {
        Observed { site, inner }
    }
}

impl Service<Request> for Observed {
    type Response = Response;
    type Error = Infallible;
    type Future = Looking;

    fn poll_ready(&mut self, context: &mut Context<'_>) -> Poll<Result<(), Infallible>> {
        self.inner.poll_ready(context)
    }

    fn call(&mut self, mut request: Request) -> Looking {
        let began = Instant::now();
        let peer = request
            .extensions()
            .get::<ConnectInfo<SocketAddr>>()
            .map(|peer| peer.0.ip().to_canonical());
        let trusted = &self.site.config.trusted_proxies;
        let id = RequestId::given(request.headers(), peer, trusted).unwrap_or_else(RequestId::new);
        request.extensions_mut().insert(id.clone());
        let method = method_name(request.method());
        self.site.metrics.begin();
        Looking {
            seen: Seen {
                site: self.site.clone(),
                id,
                method,
                began,
            },
            answer: self.inner.call(request),
        }
    }
}

/// An answer in the making.
pub struct Looking {
    seen: Seen,
    answer: Answer,
}

struct Seen {
    site: Site,
    id: RequestId,
    method: &'static str,
    began: Instant,
}

/// Also for a request whose visitor has gone.
impl Drop for Seen {
    fn drop(&mut self) {
        self.site.metrics.end();
    }
}

impl Future for Looking {
    type Output = Result<Response, Infallible>;

    fn poll(self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Self::Output> {
        let this = self.get_mut();
        let Poll::Ready(Ok(mut response)) = Pin::new(&mut this.answer).poll(context) else {
            return Poll::Pending;
        };
        let seen = &this.seen;
        let (route, from_cache) = match &this.answer {
            Answer::Kept(_, route) => (*route, true),
            Answer::Made(_) => {
                let route = response.extensions().get::<Route>();
                (route.copied().unwrap_or(Route::NONE), false)
            }
        };
        let status = response.status().as_u16();
        let took = seen.began.elapsed().as_secs_f64();
        seen.site
            .metrics
            .answered(route, seen.method, status, took, from_cache);
        // The route's pattern and not the path, so that no token is ever written; no query, no
        // headers, no body, no address.
        tracing::debug!(
            request = seen.id.as_str(),
            method = seen.method,
            route = route.pattern(),
            status,
            from_cache,
            duration_ms = took * 1e3,
            "request answered"
        );
        response.headers_mut().insert(REQUEST_ID, seen.id.0.clone());
        Poll::Ready(Ok(response))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_id_is_taken_from_a_trusted_proxy_alone_and_only_if_it_can_stand_in_a_log() {
        let proxy: IpAddr = "10.0.0.1".parse().unwrap();
        let other: IpAddr = "203.0.113.9".parse().unwrap();
        let given = |value: &[u8], peer: Option<IpAddr>| {
            let mut headers = HeaderMap::new();
            headers.insert(REQUEST_ID, HeaderValue::from_bytes(value).unwrap());
            RequestId::given(&headers, peer, &[proxy]).map(|id| id.as_str().to_owned())
        };
        assert_eq!(given(b"a-1_b", Some(proxy)).as_deref(), Some("a-1_b"));
        assert_eq!(given(b"a-1_b", Some(other)), None);
        assert_eq!(given(b"a-1_b", None), None);
        for odd in [&b""[..], b"a b", b"a\"b", b"{}", b"\xc3\xa4", &[b'a'; 129]] {
            assert_eq!(given(odd, Some(proxy)), None, "{odd:?}");
        }
        assert_eq!(
            given(&[b'a'; 128], Some(proxy)).map(|id| id.len()),
            Some(128)
        );
    }

    #[test]
    fn ids_and_routes_are_one_of_each() {
        let (one, other) = (RequestId::new(), RequestId::new());
        assert_ne!(one.as_str(), other.as_str());
        let (one, other) = (Route::of("/a/{b}"), Route::of(&format!("/a/{}", "{b}")));
        assert!(std::ptr::eq(one.pattern(), other.pattern()));
    }

    #[test]
    fn an_invented_method_has_no_name_of_its_own() {
        assert_eq!(method_name(&Method::from_bytes(b"BREW").unwrap()), "other");
        assert_eq!(method_name(&Method::GET), "GET");
    }
}

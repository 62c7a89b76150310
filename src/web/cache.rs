//! Public pages, kept ready: the bytes that were sent once are sent again, compressed, until
//! public data changes.
//!
//! Only `GET` and `HEAD` without a session cookie are answered from here, and only answers whose
//! handler marked them with [`Storable`] are kept. The first request of a page is answered
//! uncompressed as it was rendered; when the page is asked for again it is compressed off the
//! request's path and kept so. A page belongs to the generation of public data in which its
//! rendering began; when that is over it is never sent again.
//!
//! Behind a cache that many readers share the site is asked once in
//! [`super::Config::shared_cache_s`] for a page, and answers 304 while nothing changed.

use super::{
    language::ByAddress,
    observed::Route,
    security::CachePolicy,
    state::{Public, SESSION_COOKIE, Site},
};
use crate::quantity::words::hex;
use axum::{
    body::{Body, Bytes},
    extract::{Request, State},
    http::{HeaderMap, HeaderValue, Method, StatusCode, header},
    response::Response,
};
use sha2::{Digest, Sha256};
use std::{
    convert::Infallible,
    future::{Future, Ready, ready},
    io::{Read, Write},
    pin::Pin,
    sync::{
        Arc,
        atomic::{AtomicBool, Ordering},
    },
    task::{Context, Poll},
};
use tower::Service;

/// Put into a response's extensions by a handler whose answer depends on the address and on
/// public data alone, so that it may be kept and given to anybody.
#[derive(Debug, Clone, Copy)]
pub struct Storable;

/// Longest address that is kept; a longer one is answered but takes no room.
const LONGEST_TARGET: usize = 1024;
/// A larger page would push out too many others.
const LARGEST_PAGE: usize = 2 << 20;

/// Content codings that this site makes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Encoding {
    Brotli,
    Gzip,
    Identity,
}

impl Encoding {
    /// The best coding that `Accept-Encoding` allows (RFC 9110, section 12.5.3). Between equal
    /// weights the smaller result wins: brotli, then gzip. Without the header: identity.
    pub fn accepted(header: Option<&HeaderValue>) -> Encoding {
        let Some(text) = header.and_then(|h| h.to_str().ok()) else {
            return Encoding::Identity;
        };
        let (mut brotli, mut gzip, mut any, mut identity) = (None, None, None, None);
        for item in text.split(',') {
            let (name, parameters) = item.split_once(';').unwrap_or((item, ""));
            let name = name.trim();
            let place = if name.eq_ignore_ascii_case("br") {
                &mut brotli
            } else if name.eq_ignore_ascii_case("gzip") || name.eq_ignore_ascii_case("x-gzip") {
                &mut gzip
            } else if name == "*" {
                &mut any
            } else if name.eq_ignore_ascii_case("identity") {
                &mut identity
            } else {
                continue;
            };
            *place = Some(weight(parameters));
        }
        let other = any.unwrap_or(0);
        let (brotli, gzip) = (brotli.unwrap_or(other), gzip.unwrap_or(other));
        // Unnamed, identity is acceptable, but nobody's wish.
        let identity = identity.unwrap_or(1);
        if brotli > 0 && brotli >= gzip && brotli >= identity {
            Encoding::Brotli
        } else if gzip > 0 && gzip >= identity {
            Encoding::Gzip
        } else {
            Encoding::Identity
        }
    }

    /// The value of `Content-Encoding`; none for identity.
    pub fn name(self) -> Option<HeaderValue> {
        match self {
            Encoding::Brotli => Some(HeaderValue::from_static("br")),
            Encoding::Gzip => Some(HeaderValue::from_static("gzip")),
            Encoding::Identity => None,
        }
    }

    fn etag_mark(self) -> &'static str {
        match self {
            Encoding::Brotli => "-br",
            Encoding::Gzip => "-gz",
            Encoding::Identity => "",
        }
    }
}

/// A `q` parameter in thousandths; 1000 where there is none, 0 where it makes no sense.
fn weight(parameters: &str) -> u32 {
    for parameter in parameters.split(';') {
        let parameter = parameter.trim();
        if let Some(q) = parameter
            .strip_prefix("q=")
            .or_else(|| parameter.strip_prefix("Q="))
        {
            return match q.trim().parse::<f64>() {
                Ok(q) if (0.0..=1.0).contains(&q) => (q * 1000.0).round() as u32,
                _ => 0,
            };
        }
    }
    1000
}

/// Brotli at `quality` 0..=11. The window is as wide as the bytes: a wider one only takes memory.
/// Below 17 bits the library falls back on a search table of 32 MB at the qualities used here.
pub fn brotli(bytes: &[u8], quality: u32) -> Bytes {
    let window = usize::BITS - bytes.len().leading_zeros();
    let mut packed = Vec::with_capacity(bytes.len() / 4);
    let mut writer =
        ::brotli::CompressorWriter::new(&mut packed, 32 << 10, quality, window.clamp(17, 22));
    writer.write_all(bytes).expect("a Vec takes any bytes");
    drop(writer);
    packed.into()
}

/// Gzip at `level` 0..=9.
pub fn gzip(bytes: &[u8], level: u32) -> Bytes {
    let mut writer = flate2::write::GzEncoder::new(
        Vec::with_capacity(bytes.len() / 4),
        flate2::Compression::new(level),
    );
    writer.write_all(bytes).expect("a Vec takes any bytes");
    writer.finish().expect("a Vec takes any bytes").into()
}

/// What [`gzip`] packed.
fn gunzip(bytes: &[u8]) -> Bytes {
    let mut plain = Vec::with_capacity(bytes.len() * 6);
    flate2::read::GzDecoder::new(bytes)
        .read_to_end(&mut plain)
        .expect("this program packed it");
    plain.into()
}

/// The pages that are kept, bounded by the bytes of their bodies.
pub struct PageCache {
    pages: quick_cache::sync::Cache<Key, Arc<Page>, Weigh>,
    /// One page is compressed at a time: a compressor takes megabytes, and many at once would
    /// leave that memory with as many threads.
    packer: Arc<tokio::sync::Semaphore>,
}

/// Host (empty where the site knows its own address) and request target.
type Key = (String, String);

/// A [`Key`] as it stands in a request, so that looking up allocates nothing.
#[derive(Hash)]
struct Wanted<'a>(&'a str, &'a str);

impl quick_cache::Equivalent<Key> for Wanted<'_> {
    fn equivalent(&self, key: &Key) -> bool {
        self.0 == key.0 && self.1 == key.1
    }
}

#[derive(Clone)]
struct Weigh;

impl quick_cache::Weighter<Key, Arc<Page>> for Weigh {
    fn weight(&self, key: &Key, page: &Arc<Page>) -> u64 {
        let bodies = [Some(&page.plain), page.brotli.as_ref(), page.gzip.as_ref()];
        let bodies: usize = bodies
            .into_iter()
            .flatten()
            .map(|form| form.body.len())
            .sum();
        (key.0.len() + key.1.len() + bodies + 1024) as u64
    }
}

/// One page in every form made so far.
struct Page {
    generation: u64,
    /// Which route made it.
    route: Route,
    /// Without its body once the page is compressed: most of the room would be taken by bytes that
    /// hardly anybody asks for, and gzip gives them back.
    plain: Form,
    brotli: Option<Form>,
    gzip: Option<Form>,
    /// Somebody is compressing it already.
    packing: AtomicBool,
}

/// Bytes with the headers that go with them, ready to be sent.
struct Form {
    etag: HeaderValue,
    headers: HeaderMap,
    body: Bytes,
}

/// What a request says of the copy it has.
#[derive(Default)]
struct Has {
    if_none_match: Option<HeaderValue>,
    if_modified_since: Option<HeaderValue>,
}

impl Has {
    fn of(headers: &HeaderMap) -> Has {
        Has {
            if_none_match: headers.get(header::IF_NONE_MATCH).cloned(),
            if_modified_since: headers.get(header::IF_MODIFIED_SINCE).cloned(),
        }
    }

    /// Is that copy `form`? A date counts only where no tag is given (RFC 9110, section 13.2.2).
    fn is(&self, form: &Form) -> bool {
        match &self.if_none_match {
            Some(tags) => matches(tags, &form.etag),
            None => {
                let time = |value: Option<&HeaderValue>| {
                    httpdate::parse_http_date(value?.to_str().ok()?).ok()
                };
                time(form.headers.get(header::LAST_MODIFIED))
                    .zip(time(self.if_modified_since.as_ref()))
                    .is_some_and(|(changed, since)| changed <= since)
            }
        }
    }
}

impl Form {
    fn new(mut headers: HeaderMap, hash: &str, encoding: Encoding, body: Bytes) -> Form {
        let etag = HeaderValue::from_str(&format!("\"{hash}{}\"", encoding.etag_mark()))
            .expect("hexadecimal digits are a header value");
        headers.insert(header::ETAG, etag.clone());
        headers.insert(
            header::VARY,
            HeaderValue::from_static("accept-encoding, cookie"),
        );
        headers.remove(header::CONTENT_LENGTH);
        if let Some(name) = encoding.name() {
            headers.insert(header::CONTENT_ENCODING, name);
        }
        Form {
            etag,
            headers,
            body,
        }
    }

    /// The same headers before another body.
    fn with(&self, body: Bytes) -> Form {
        Form {
            etag: self.etag.clone(),
            headers: self.headers.clone(),
            body,
        }
    }

    fn answer(&self, method: &Method, has: &Has) -> Response {
        let unchanged = has.is(self);
        let mut response = if unchanged || method == Method::HEAD {
            Response::new(Body::empty())
        } else {
            Response::new(Body::from(self.body.clone()))
        };
        *response.headers_mut() = self.headers.clone();
        if unchanged {
            *response.status_mut() = StatusCode::NOT_MODIFIED;
        } else if method == Method::HEAD {
            response
                .headers_mut()
                .insert(header::CONTENT_LENGTH, HeaderValue::from(self.body.len()));
        }
        response
    }
}

/// Does `If-None-Match` name `etag`? Weak comparison (RFC 9110, section 13.1.2).
pub fn matches(given: &HeaderValue, etag: &HeaderValue) -> bool {
    let (Ok(given), Ok(etag)) = (given.to_str(), etag.to_str()) else {
        return false;
    };
    given
        .split(',')
        .map(str::trim)
        .any(|one| one == "*" || one.strip_prefix("W/").unwrap_or(one) == etag)
}

impl PageCache {
    /// Keeps up to about `bytes` of bodies.
    pub fn new(bytes: u64) -> PageCache {
        // Two thousand pages of a few kilobytes, or some hundred long ones.
        PageCache {
            pages: quick_cache::sync::Cache::with_weighter(2_000, bytes, Weigh),
            packer: Arc::new(tokio::sync::Semaphore::new(1)),
        }
    }

    /// Forgets every page.
    pub fn clear(&self) {
        self.pages.clear();
    }

    /// How many pages are kept.
    pub fn len(&self) -> usize {
        self.pages.len()
    }

    pub fn is_empty(&self) -> bool {
        self.pages.is_empty()
    }
}

/// The site behind its page cache.
#[derive(Clone)]
pub struct Cached {
    site: Site,
    routes: ByAddress,
}

impl Cached {
    pub fn new(site: Site, routes: ByAddress) -> Cached {
        Cached { site, routes }
    }

    /// The page as kept, if it is kept and of the present generation.
    fn kept(&self, request: &Request) -> Option<(Response, Route)> {
        let wanted = wanted(&self.site, request)?;
        let page = self.site.pages.pages.get(&wanted)?;
        if page.generation != self.site.generation() {
            return None;
        }
        let headers = request.headers();
        let unpacked;
        let form = match Encoding::accepted(headers.get(header::ACCEPT_ENCODING)) {
            Encoding::Brotli => page.brotli.as_ref(),
            Encoding::Gzip => page.gzip.as_ref(),
            Encoding::Identity => {
                unpacked = page
                    .gzip
                    .as_ref()
                    .map(|gzip| page.plain.with(gunzip(&gzip.body)));
                Some(unpacked.as_ref().unwrap_or(&page.plain))
            }
        };
        let form = form.unwrap_or_else(|| {
            pack_later(
                &self.site,
                &page,
                (wanted.0.to_owned(), wanted.1.to_owned()),
            );
            &page.plain
        });
        Some((form.answer(request.method(), &Has::of(headers)), page.route))
    }
}

/// The key of a request that may be answered from the cache.
fn wanted<'a>(site: &Site, request: &'a Request) -> Option<Wanted<'a>> {
    if request.method() != Method::GET && request.method() != Method::HEAD {
        return None;
    }
    if carries_session(request.headers()) {
        return None;
    }
    let target = request.uri().path_and_query()?.as_str();
    // Pages hold absolute addresses of themselves; where these come from the request, so does
    // part of the key.
    let host = match site.config.public_url {
        Some(_) => "",
        None => request
            .headers()
            .get(header::HOST)
            .and_then(|h| h.to_str().ok())
            .unwrap_or(""),
    };
    (target.len() + host.len() <= LONGEST_TARGET).then_some(Wanted(host, target))
}

/// Is there a session cookie, valid or not?
pub fn carries_session(headers: &HeaderMap) -> bool {
    headers.get_all(header::COOKIE).iter().any(|cookies| {
        let name = SESSION_COOKIE.as_bytes();
        cookies
            .as_bytes()
            .windows(name.len())
            .any(|part| part == name)
    })
}

/// Compresses `page` on a thread for such work and keeps the result. While another page is being
/// compressed it does nothing: whoever asks next tries again.
fn pack_later(site: &Site, page: &Arc<Page>, key: Key) {
    if page.packing.load(Ordering::Relaxed) {
        return;
    }
    let Ok(turn) = site.pages.packer.clone().try_acquire_owned() else {
        return;
    };
    if page.packing.swap(true, Ordering::Relaxed) {
        return;
    }
    let (site, page) = (site.clone(), page.clone());
    tokio::task::spawn_blocking(move || {
        let _turn = turn;
        let plain = &page.plain;
        let hash = plain
            .etag
            .to_str()
            .expect("made from digits")
            .trim_matches('"')
            .to_owned();
        let form = |encoding, body| Form::new(plain.headers.clone(), &hash, encoding, body);
        let packed = Page {
            generation: page.generation,
            route: page.route,
            brotli: Some(form(Encoding::Brotli, brotli(&plain.body, 5))),
            gzip: Some(form(Encoding::Gzip, gzip(&plain.body, 6))),
            plain: plain.with(Bytes::new()),
            packing: AtomicBool::new(true),
        };
        if packed.generation == site.generation() {
            site.pages.pages.insert(key, Arc::new(packed));
        }
    });
}

/// Keeps `response` if its handler allows it, and answers the request from what was kept.
async fn keep(site: Site, key: Key, state: &Public, has: Has, response: Response) -> Response {
    let storable =
        response.status() == StatusCode::OK && response.extensions().get::<Storable>().is_some();
    if !storable {
        return response;
    }
    let route = response.extensions().get::<Route>();
    let route = route.copied().unwrap_or(Route::NONE);
    let (parts, body) = response.into_parts();
    let body = match axum::body::to_bytes(body, usize::MAX).await {
        Ok(body) => body,
        Err(cause) => {
            tracing::error!(%cause, "a page's own body could not be read");
            let mut failed = Response::new(Body::from("This page could not be made.\n"));
            *failed.status_mut() = StatusCode::INTERNAL_SERVER_ERROR;
            return super::security::add_headers(State(site.clone()), failed).await;
        }
    };
    let hash = hex(&Sha256::digest(&body)[..12]);
    // A rendered text has grown by doubling; what is kept for long takes no more than it needs.
    let body = Bytes::copy_from_slice(&body);
    let mut headers = parts.headers;
    let policy = CachePolicy::Shared(site.config.shared_cache_s);
    headers.insert(header::CACHE_CONTROL, policy.header());
    // A time that has not come yet is no date of a change (RFC 9110, section 8.8.2.1).
    if state.seen_at <= site.clock.now() {
        let date = httpdate::fmt_http_date(state.seen_at.into());
        headers.insert(
            header::LAST_MODIFIED,
            HeaderValue::from_str(&date).expect("a date is a header value"),
        );
    }
    let plain = Form::new(headers, &hash, Encoding::Identity, body);
    let mut answer = plain.answer(&Method::GET, &has);
    answer.extensions_mut().insert(route);
    let generation = state.generation;
    if generation == site.generation() && plain.body.len() <= LARGEST_PAGE {
        let packing = AtomicBool::new(!compressible(&plain.headers));
        let page = Page {
            generation,
            route,
            plain,
            brotli: None,
            gzip: None,
            packing,
        };
        site.pages.pages.insert(key, Arc::new(page));
    }
    answer
}

/// Pictures are compressed already.
fn compressible(headers: &HeaderMap) -> bool {
    let kind = headers
        .get(header::CONTENT_TYPE)
        .and_then(|h| h.to_str().ok())
        .unwrap_or("");
    kind.starts_with("text/")
        || ["json", "svg", "xml"]
            .iter()
            .any(|part| kind.contains(part))
}

impl Service<Request> for Cached {
    type Response = Response;
    type Error = Infallible;
    type Future = Answer;

    fn poll_ready(&mut self, _: &mut Context<'_>) -> Poll<Result<(), Infallible>> {
        // A Router is always ready.
        Poll::Ready(Ok(()))
    }

    fn call(&mut self, request: Request) -> Answer {
        if let Some((response, route)) = self.kept(&request) {
            return Answer::Kept(ready(Ok(response)), route);
        }
        let key = match wanted(&self.site, &request) {
            Some(Wanted(host, target)) if request.method() == Method::GET => {
                (host.to_owned(), target.to_owned())
            }
            _ => return Answer::Made(Box::pin(self.routes.call(request))),
        };
        let site = self.site.clone();
        let state = site.public();
        let has = Has::of(request.headers());
        let made = self.routes.call(request);
        Answer::Made(Box::pin(async move {
            let response = made.await?;
            Ok(keep(site, key, &state, has, response).await)
        }))
    }
}

/// A kept page at once, or one that is being made.
pub enum Answer {
    Kept(Ready<Result<Response, Infallible>>, Route),
    Made(Pin<Box<dyn Future<Output = Result<Response, Infallible>> + Send>>),
}

impl Future for Answer {
    type Output = Result<Response, Infallible>;

    fn poll(self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Self::Output> {
        match self.get_mut() {
            Answer::Kept(kept, _) => Pin::new(kept).poll(context),
            Answer::Made(made) => made.as_mut().poll(context),
        }
    }
}

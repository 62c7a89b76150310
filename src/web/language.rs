//! In which language a request is answered: that of its address, decided once, before routing. The
//! routes know plain paths alone; whatever a handler says or links to is in the language that is
//! spoken while it works.

use super::{state::Site, urls};
use crate::text::Language;
use axum::{
    Router,
    extract::Request,
    http::{Uri, uri::PathAndQuery},
    response::Response,
};
use std::{
    convert::Infallible,
    future::Future,
    pin::Pin,
    sync::LazyLock,
    task::{Context, Poll},
    thread::available_parallelism,
};
use tokio::{sync::Semaphore, task::JoinError};
use tower::Service;

/// Path and query as asked for, with the language's prefix; in a request's extensions.
#[derive(Debug, Clone)]
pub struct Target(pub String);

/// The routes behind the prefixes of languages.
#[derive(Clone)]
pub struct ByAddress {
    site: Site,
    routes: Router,
}

impl ByAddress {
    pub fn new(site: Site, routes: Router) -> ByAddress {
        ByAddress { site, routes }
    }
}

impl Service<Request> for ByAddress {
    type Response = Response;
    type Error = Infallible;
    type Future = InLanguage<<Router as Service<Request>>::Future>;

    fn poll_ready(&mut self, _: &mut Context<'_>) -> Poll<Result<(), Infallible>> {
        // A Router is always ready.
        Poll::Ready(Ok(()))
    }

    fn call(&mut self, mut request: Request) -> Self::Future {
        let language = take_language(&self.site, &mut request);
        InLanguage {
            language,
            work: Box::pin(self.routes.call(request)),
        }
    }
}

/// Leaves the plain address in the request and says which language it was in. An address in a
/// language that this site does not speak stays as it is, and leads nowhere.
fn take_language(site: &Site, request: &mut Request) -> Language {
    let target = request.uri().path_and_query().map_or("/", |t| t.as_str());
    let (language, plain) = urls::language_of(target);
    if language == Language::English
        || !site.config.languages.contains(&language)
        || !urls::has_languages(plain)
    {
        return Language::English;
    }
    let Ok(plain) = plain.parse::<PathAndQuery>() else {
        return Language::English;
    };
    let target = Target(target.to_owned());
    let mut parts = request.uri().clone().into_parts();
    parts.path_and_query = Some(plain);
    if let Ok(uri) = Uri::from_parts(parts) {
        *request.uri_mut() = uri;
        request.extensions_mut().insert(target);
        return language;
    }
    Language::English
}

/// Work during which a language is spoken.
pub struct InLanguage<F> {
    language: Language,
    work: Pin<Box<F>>,
}

impl<F: Future> Future for InLanguage<F> {
    type Output = F::Output;

    fn poll(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<F::Output> {
        self.language.speak(|| self.work.as_mut().poll(context))
    }
}

/// As [`tokio::task::spawn_blocking`], with the language spoken now, and for no more at a time than
/// there are processors: in a crowd, threads that all compute would keep those from theirs that read
/// the database or hand out what is ready.
///
/// # Errors
/// The work panicked.
pub async fn spawn_blocking<T: Send + 'static>(
    work: impl FnOnce() -> T + Send + 'static,
) -> Result<T, JoinError> {
    static TURNS: LazyLock<Semaphore> =
        LazyLock::new(|| Semaphore::new(available_parallelism().map_or(1, usize::from)));
    let language = Language::current();
    let turn = TURNS.acquire().await.expect("turns never end");
    let working = tokio::task::spawn_blocking(move || {
        let _turn = turn;
        language.speak(work)
    });
    working.await
}

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
pub fn spawn_blocking<T: Send + 'static>(
    work: impl FnOnce() -> T + Send + 'static,
) -> impl Future<Output = Result<T, JoinError>> + Send {
    static TURNS: LazyLock<Semaphore> =
        LazyLock::new(|| Semaphore::new(available_parallelism().map_or(1, usize::from)));
    let language = Language::current();
    async move {
        let turn = TURNS.acquire().await.expect("turns never end");
        let working = tokio::task::spawn_blocking(move || {
            let _turn = turn;
            language.speak(work)
        });
        working.await
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::{
        sync::{
            Arc,
            atomic::{AtomicUsize, Ordering},
        },
        time::Duration,
    };
    use tokio::task::JoinSet;

    #[tokio::test]
    async fn no_more_works_at_a_time_than_there_are_processors_and_a_panic_gives_its_turn_back() {
        let processors = available_parallelism().map_or(1, usize::from);
        let (now, most) = (Arc::new(AtomicUsize::new(0)), Arc::new(AtomicUsize::new(0)));
        let mut all = JoinSet::new();
        for number in 0..8 * processors {
            let (now, most) = (now.clone(), most.clone());
            all.spawn(spawn_blocking(move || {
                most.fetch_max(now.fetch_add(1, Ordering::SeqCst) + 1, Ordering::SeqCst);
                std::thread::sleep(Duration::from_millis(2));
                now.fetch_sub(1, Ordering::SeqCst);
                assert!(number % 4 != 0, "on purpose");
            }));
        }
        let done = all.join_all().await;
        assert_eq!(
            done.iter().filter(|one| one.is_err()).count(),
            2 * processors
        );
        assert!((1..=processors).contains(&most.load(Ordering::SeqCst)));
        let asked = Language::German.speak(|| spawn_blocking(Language::current));
        assert_eq!(asked.await.unwrap(), Language::German);
    }
}

//! Accepting connections, and stopping in time.

use super::{Config, Site, app, metrics};
use crate::{evaluate::Method, intake::rescore, storage::Db};
use axum::{Router, body::Body, extract::ConnectInfo, http::Request, response::Response};
use hyper::{body::Incoming, server::conn::http1};
use hyper_util::{
    rt::{TokioIo, TokioTimer},
    server::graceful::GracefulShutdown,
    service::TowerToHyperService,
};
use std::{
    future::Future,
    io,
    net::SocketAddr,
    pin::Pin,
    sync::Arc,
    task::{Context, Poll},
    time::Duration,
};
use tokio::{
    net::{TcpListener, TcpStream},
    sync::{OwnedSemaphorePermit, Semaphore},
};
use tokio_io_timeout::TimeoutWriter;

/// A client gets this long to take the next piece of an answer.
const WRITE_DEADLINE: Duration = Duration::from_secs(60);

/// Serves the site until the process is told to stop (SIGINT or SIGTERM).
///
/// # Errors
/// The address cannot be listened on, or the first reading of the rows fails.
pub async fn serve(config: Config, db: Db, method: Arc<Method>) -> Result<(), CannotServe> {
    let address = config.listen;
    let listener = TcpListener::bind(address)
        .await
        .map_err(|source| CannotServe::Listen { address, source })?;
    let metrics = match config.metrics_listen {
        Some(address) => {
            let bound = TcpListener::bind(address).await;
            Some(bound.map_err(|source| CannotServe::Listen { address, source })?)
        }
        None => None,
    };
    let site = Site::open(config, db, method).await?;
    // Heard from before anybody is told that we serve.
    let stop = stop_signal().map_err(CannotServe::Signals)?;
    let address = listener.local_addr().unwrap_or(address);
    if let Some(secret) = site.auth.set_up_secret() {
        // On the terminal or in the service's journal: only who runs this computer reads it there.
        let at = match &site.config.public_url {
            Some(url) => url.clone(),
            None => format!("http://{address}"),
        };
        eprintln!(
            "No operator yet. Open {at}{} and enter this one-time secret: {secret}\n\
             (or run `brickbook user add`)",
            super::urls::SET_UP
        );
    }
    let metrics = metrics.map(|listener| {
        if let Ok(address) = listener.local_addr() {
            tracing::info!("metrics on http://{address}/metrics");
        }
        let routes = metrics::routes(site.clone());
        tokio::spawn(async move { axum::serve(listener, routes).await })
    });
    tracing::info!("serving on http://{address}/");
    let looking = tokio::spawn(tell_of_outdated(site.clone()));
    serve_on(listener, site, stop).await;
    looking.abort();
    if let Some(metrics) = metrics {
        metrics.abort();
    }
    tracing::info!("stopped");
    Ok(())
}

/// Says whether units show an evaluation by another method. Every evaluation is looked at, so the
/// first pages have the machine for themselves before; a database that cannot be read shows itself
/// in every page and keeps nothing from being served here.
async fn tell_of_outdated(site: Site) {
    tokio::time::sleep(Duration::from_secs(1)).await;
    match rescore::outdated(&site.db, &site.method).await {
        Ok(0) => tracing::info!("every unit shows an evaluation by the present method"),
        Ok(units) => tracing::warn!(
            units,
            "some units show an evaluation by an older method or other settings; `brickbook rescore` renews them"
        ),
        Err(cause) => tracing::warn!(%cause, "could not look for outdated evaluations"),
    }
}

/// Why the site did not start.
#[derive(Debug, thiserror::Error)]
pub enum CannotServe {
    #[error("cannot listen on {address}: {source} (is another program using it?)")]
    Listen {
        address: std::net::SocketAddr,
        source: io::Error,
    },
    #[error("cannot listen for a request to stop: {0}")]
    Signals(#[source] io::Error),
    #[error("cannot read the database: {0}")]
    Database(#[from] crate::storage::Error),
}

/// Serves `site` on `listener` until `stop` is ready, then lets requests under way finish, for no
/// longer than the configured shutdown deadline.
pub async fn serve_on(listener: TcpListener, site: Site, stop: impl Future<Output = ()>) {
    let deadline = site.config.shutdown_deadline;
    let head_deadline = site.config.head_deadline;
    let places = Arc::new(Semaphore::new(site.config.max_connections));
    let watcher = tokio::spawn(site.clone().watch_for_changes());
    let housekeeper = tokio::spawn(site.clone().forget_what_is_old());
    // Turns handlers into services once, not at every request.
    let router = app(site).with_state(());
    let graceful = GracefulShutdown::new();
    let mut stop = std::pin::pin!(stop);
    loop {
        tokio::select! {
            // Whoever comes when all places are taken waits in the system's queue.
            (place, accepted) = accept(&listener, &places) => match accepted {
                Ok((stream, peer)) => {
                    let connection = connection(stream, peer, head_deadline, router.clone());
                    let connection = graceful.watch(connection);
                    tokio::spawn(async move {
                        if let Err(cause) = connection.await {
                            tracing::trace!(%cause, "connection ended early");
                        }
                        drop(place);
                    });
                }
                Err(cause) => {
                    // Out of file descriptors or a peer gone before it was accepted: both pass.
                    tracing::warn!(%cause, "connection not accepted");
                    tokio::time::sleep(Duration::from_millis(50)).await;
                }
            },
            () = &mut stop => break,
        }
    }
    drop(listener);
    watcher.abort();
    housekeeper.abort();
    // A half-sent request would hold a graceful shutdown for as long as its client likes.
    if tokio::time::timeout(deadline, graceful.shutdown())
        .await
        .is_err()
    {
        tracing::warn!(?deadline, "stopped with requests still under way");
    }
}

/// The next connection, once there is a place for it.
async fn accept(
    listener: &TcpListener,
    places: &Arc<Semaphore>,
) -> (OwnedSemaphorePermit, io::Result<(TcpStream, SocketAddr)>) {
    let place = places.clone().acquire_owned().await;
    let place = place.expect("the places are never closed");
    (place, listener.accept().await)
}

/// A stream to a visitor that is given up when nothing can be written for too long.
type Outward = TokioIo<Pin<Box<TimeoutWriter<TcpStream>>>>;

/// A connection on which an answer does not get on for as long as the deadline is given up: a reader
/// who takes nothing would hold the answer in memory, and a place.
fn connection(
    stream: TcpStream,
    peer: std::net::SocketAddr,
    head_deadline: Duration,
    router: Router,
) -> http1::Connection<Outward, TowerToHyperService<ToSite>> {
    // Answers are written whole; waiting to fill a packet would only delay them.
    let _ = stream.set_nodelay(true);
    let mut stream = TimeoutWriter::new(stream);
    stream.set_timeout(Some(WRITE_DEADLINE));
    http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(head_deadline)
        .serve_connection(
            TokioIo::new(Box::pin(stream)),
            TowerToHyperService::new(ToSite { router, peer }),
        )
}

/// The site as seen by one connection: requests learn their peer's address.
#[derive(Clone)]
struct ToSite {
    router: Router,
    peer: std::net::SocketAddr,
}

impl tower::Service<Request<Incoming>> for ToSite {
    type Response = Response;
    type Error = std::convert::Infallible;
    type Future = axum::routing::future::RouteFuture<std::convert::Infallible>;

    fn poll_ready(&mut self, _: &mut Context<'_>) -> Poll<Result<(), Self::Error>> {
        // A Router is always ready.
        Poll::Ready(Ok(()))
    }

    fn call(&mut self, request: Request<Incoming>) -> Self::Future {
        let mut request = request.map(Body::new);
        request.extensions_mut().insert(ConnectInfo(self.peer));
        self.router.call(request)
    }
}

fn stop_signal() -> io::Result<impl Future<Output = ()>> {
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        let mut interrupt = signal(SignalKind::interrupt())?;
        let mut terminate = signal(SignalKind::terminate())?;
        Ok(async move {
            tokio::select! { _ = interrupt.recv() => {}, _ = terminate.recv() => {} }
        })
    }
    #[cfg(not(unix))]
    Ok(async {
        if let Err(cause) = tokio::signal::ctrl_c().await {
            tracing::error!(%cause, "cannot listen for an interrupt");
            std::future::pending::<()>().await;
        }
    })
}

//! Stopping in time, over real connections.

use crate::app::TestApp;
use brickbook::web::{Config, serve_on};
use std::time::Duration;
use tokio::{
    io::{AsyncReadExt, AsyncWriteExt},
    net::{TcpListener, TcpStream},
    sync::oneshot,
};

const FAR_TOO_LONG: Duration = Duration::from_secs(20);

/// A site served on a port of its own, and how to stop it.
pub async fn serving(
    config: Config,
) -> (
    TestApp,
    std::net::SocketAddr,
    oneshot::Sender<()>,
    tokio::task::JoinHandle<()>,
) {
    let app = TestApp::with(config).await;
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    let (stop, stopped) = oneshot::channel::<()>();
    let served = tokio::spawn(serve_on(listener, app.site.clone(), async {
        let _ = stopped.await;
    }));
    (app, address, stop, served)
}

#[tokio::test]
async fn a_half_sent_request_does_not_hold_the_stop_beyond_its_deadline() {
    let config = Config {
        shutdown_deadline: Duration::from_millis(200),
        ..Config::default()
    };
    let (_app, address, stop, served) = serving(config).await;
    let mut client = TcpStream::connect(address).await.unwrap();
    client
        .write_all(b"POST /sign-in HTTP/1.1\r\nHost: x\r\nContent-Length: 100\r\n\r\nhalf")
        .await
        .unwrap();
    let mut slow = TcpStream::connect(address).await.unwrap();
    slow.write_all(b"GET / HTTP/1.1\r\nHost: x\r\n")
        .await
        .unwrap();
    stop.send(()).unwrap();
    tokio::time::timeout(FAR_TOO_LONG, served)
        .await
        .expect("stops within its deadline")
        .unwrap();
}

#[tokio::test]
async fn an_idle_connection_is_closed_at_once_and_a_page_is_served_whole_before() {
    let config = Config {
        shutdown_deadline: FAR_TOO_LONG * 2,
        ..Config::default()
    };
    let (_app, address, stop, served) = serving(config).await;
    let mut client = TcpStream::connect(address).await.unwrap();
    client
        .write_all(b"GET /healthz HTTP/1.1\r\nHost: x\r\n\r\n")
        .await
        .unwrap();
    let mut answer = vec![0; 4096];
    let length = client.read(&mut answer).await.unwrap();
    assert!(answer[..length].starts_with(b"HTTP/1.1 200"));
    stop.send(()).unwrap();
    tokio::time::timeout(FAR_TOO_LONG, served)
        .await
        .expect("an idle connection does not hold the stop")
        .unwrap();
    assert_eq!(client.read(&mut answer).await.unwrap(), 0);
}

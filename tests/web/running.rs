//! Health, figures for Prometheus, and the ids of requests.

use crate::app::{TestApp, seed};
use axum::{
    body::Body,
    extract::ConnectInfo,
    http::{Request, StatusCode},
};
use brickbook::web::{Config, metrics};
use http_body_util::BodyExt;
use std::net::{IpAddr, SocketAddr};
use tower::ServiceExt;

/// What `/metrics` says now.
async fn exposition(app: &TestApp) -> String {
    let answer = metrics::routes(app.site.clone())
        .oneshot(Request::get("/metrics").body(Body::empty()).unwrap())
        .await
        .unwrap();
    assert_eq!(answer.status(), StatusCode::OK);
    // OpenMetrics 1.0.0, "Overall structure": the media type names the version.
    assert_eq!(
        answer.headers()["content-type"],
        "application/openmetrics-text; version=1.0.0; charset=utf-8"
    );
    let body = answer.into_body().collect().await.unwrap().to_bytes();
    String::from_utf8(body.to_vec()).unwrap()
}

/// The value of one line.
fn value(text: &str, line: &str) -> f64 {
    text.lines()
        .find_map(|l| l.strip_prefix(line)?.strip_prefix(' ')?.parse().ok())
        .unwrap_or_else(|| panic!("no {line} in\n{text}"))
}

#[tokio::test]
async fn the_program_is_alive_without_its_database_but_not_ready() {
    let app = TestApp::empty().await;
    assert_eq!(app.get("/health/live").await.status, StatusCode::OK);
    let ready = app.get("/health/ready").await;
    assert_eq!(ready.status, StatusCode::OK);
    assert_eq!(ready.header("cache-control"), "no-store");
    let state: serde_json::Value = serde_json::from_str(&ready.text()).unwrap();
    assert_eq!(state["ready"], true, "{state}");

    app.site.db.close().await;
    assert_eq!(app.get("/health/live").await.status, StatusCode::OK);
    let ready = app.get("/health/ready").await;
    assert_eq!(ready.status, StatusCode::SERVICE_UNAVAILABLE);
    let state: serde_json::Value = serde_json::from_str(&ready.text()).unwrap();
    assert_eq!(state["ready"], false);
    assert_eq!(state["database"], "does not answer");
}

#[tokio::test]
async fn a_disk_with_less_room_than_the_reserve_is_not_ready() {
    let app = TestApp::with(Config {
        disk_reserve_bytes: u64::MAX,
        ..Config::default()
    })
    .await;
    let ready = app.get("/health/ready").await;
    assert_eq!(ready.status, StatusCode::SERVICE_UNAVAILABLE);
    let state: serde_json::Value = serde_json::from_str(&ready.text()).unwrap();
    assert_eq!(state["disk"], "almost full");
    assert_eq!(state["database"], "ok");
    // A page is served all the same.
    assert_eq!(app.get("/").await.status, StatusCode::OK);
}

#[tokio::test]
async fn a_schema_that_another_version_has_put_in_is_not_ready() {
    let app = TestApp::empty().await;
    let path = app.site.db.path().to_owned();
    let options = sqlx::sqlite::SqliteConnectOptions::new().filename(path);
    let pool = sqlx::SqlitePool::connect_with(options).await.unwrap();
    sqlx::query(
        "INSERT INTO _sqlx_migrations (version, description, success, checksum, execution_time)
         VALUES (9999, 'later', 1, x'00', 0)",
    )
    .execute(&pool)
    .await
    .unwrap();
    pool.close().await;
    let ready = app.get("/health/ready").await;
    assert_eq!(ready.status, StatusCode::SERVICE_UNAVAILABLE);
    assert!(ready.text().contains("not the one of this program"));
}

#[tokio::test]
async fn requests_are_counted_by_route_method_and_status_also_from_the_cache() {
    let app = TestApp::seeded(&["larkfield-lf-100q"]).await;
    for _ in 0..3 {
        app.get("/unit/larkfield-lf-100q").await;
    }
    app.get("/unit/nobody").await;
    app.get("/nowhere/secret-token?q=secret-query").await;
    app.ask(Request::post("/").body(Body::empty()).unwrap())
        .await;
    let text = exposition(&app).await;
    let count = |route: &str, method: &str, status: u16| {
        value(
            &text,
            &format!(
                "brickbook_http_requests_total{{route=\"{route}\",method=\"{method}\",status=\"{status}\"}}"
            ),
        )
    };
    assert_eq!(count("/unit/{slug}", "GET", 200), 3.0);
    assert_eq!(count("/unit/{slug}", "GET", 404), 1.0);
    assert_eq!(count("(none)", "GET", 404), 1.0);
    assert_eq!(count("/", "POST", 405), 1.0);
    assert_eq!(value(&text, "brickbook_page_cache_hits_total"), 2.0);
    assert_eq!(value(&text, "brickbook_page_cache_misses_total"), 4.0);
    assert_eq!(value(&text, "brickbook_http_requests_in_flight"), 0.0);
    let times =
        "brickbook_http_request_duration_seconds_count{route=\"/unit/{slug}\",method=\"GET\"}";
    assert_eq!(value(&text, times), 4.0);
    // Nothing that a visitor typed.
    assert!(!text.contains("secret"), "{text}");
}

#[tokio::test]
async fn figures_of_the_moment_are_those_of_the_database_and_the_process() {
    let app = TestApp::seeded(&["larkfield-lf-100q", "hollowick-hk-100c"]).await;
    let text = exposition(&app).await;
    assert_eq!(value(&text, "brickbook_units"), 2.0);
    assert_eq!(value(&text, "brickbook_drafts"), 0.0);
    assert_eq!(value(&text, "brickbook_database_up"), 1.0);
    assert!(value(&text, "brickbook_data_disk_free_bytes") > 0.0);
    assert!(value(&text, "brickbook_database_size_bytes{file=\"database\"}") > 4096.0);
    assert!(value(&text, "process_resident_memory_bytes") > 1e6);
    assert!(value(&text, "process_cpu_seconds_total") > 0.0);
    let version = env!("CARGO_PKG_VERSION");
    assert!(text.contains(&format!("brickbook_build_info{{version=\"{version}\"")));
    assert!(text.ends_with("# EOF\n"));

    app.site.db.close().await;
    let text = exposition(&app).await;
    assert_eq!(value(&text, "brickbook_database_up"), 0.0);
    assert!(!text.contains("brickbook_drafts"));
}

#[tokio::test]
async fn figures_are_not_on_the_public_address() {
    let app = TestApp::empty().await;
    assert_eq!(app.get("/metrics").await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn every_answer_has_an_id_of_its_own_and_an_error_page_shows_it() {
    let app = TestApp::seeded(&["larkfield-lf-100q"]).await;
    let mut seen = std::collections::HashSet::new();
    for path in ["/", "/", "/", "/nowhere", "/health/live", "/api/v1/nowhere"] {
        let answer = app.get(path).await;
        let id = answer.header("x-request-id").to_owned();
        assert!(!id.is_empty(), "{path}");
        if path == "/nowhere" {
            assert!(answer.text().contains(&id), "{}", answer.text());
        }
        assert!(seen.insert(id), "{path}");
    }
}

#[tokio::test]
async fn an_id_is_taken_over_from_a_trusted_proxy_alone() {
    let proxy: IpAddr = "10.0.0.1".parse().unwrap();
    let app = TestApp::with(Config {
        trusted_proxies: vec![proxy],
        ..Config::default()
    })
    .await;
    let from = async |address: &str| {
        let peer = SocketAddr::new(address.parse().unwrap(), 40000);
        let request = Request::get("/nowhere").header("x-request-id", "from-outside-7");
        let mut request = request.body(Body::empty()).unwrap();
        request.extensions_mut().insert(ConnectInfo(peer));
        let answer = app.ask(request).await;
        (
            answer.header("x-request-id").to_owned(),
            answer.text().contains("from-outside-7"),
        )
    };
    assert_eq!(from("10.0.0.1").await, ("from-outside-7".to_owned(), true));
    // The same proxy over a socket for both families.
    assert_eq!(from("::ffff:10.0.0.1").await.0, "from-outside-7");
    let (id, shown) = from("203.0.113.9").await;
    assert!(id != "from-outside-7" && !shown);
}

#[tokio::test]
async fn a_kept_page_is_the_same_bytes_under_another_id() {
    let app = TestApp::empty().await;
    app.publish(&seed("larkfield-lf-100q")).await;
    app.site.refresh().await.unwrap();
    let (one, other) = (app.get("/").await, app.get("/").await);
    assert_eq!(one.bytes, other.bytes);
    assert_eq!(one.header("etag"), other.header("etag"));
    assert_ne!(one.header("x-request-id"), other.header("x-request-id"));
}

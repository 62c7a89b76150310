//! What holds for every address.

use crate::app::TestApp;
use axum::{
    body::Body,
    http::{Request, StatusCode},
};

const ALWAYS: [&str; 5] = [
    "content-security-policy",
    "x-content-type-options",
    "referrer-policy",
    "cross-origin-opener-policy",
    "permissions-policy",
];

#[tokio::test]
async fn an_address_that_leads_nowhere_gets_a_page_with_a_way_on() {
    let app = TestApp::empty().await;
    for path in [
        "/nowhere",
        "/static/000000000000/none.css",
        "/static/x/../../Cargo.toml",
    ] {
        let answer = app.get(path).await;
        assert_eq!(answer.status, StatusCode::NOT_FOUND, "{path}");
        assert!(
            answer.words().contains("There is no page at this address."),
            "{path}"
        );
        assert!(answer.text().contains("href=\"/\""), "{path}");
        assert_eq!(answer.header("cache-control"), "no-store", "{path}");
        for name in ALWAYS {
            assert_ne!(answer.header(name), "", "{path}: {name}");
        }
    }
}

#[tokio::test]
async fn a_wrong_method_is_told_so_and_which_would_do() {
    let app = TestApp::empty().await;
    let answer = app
        .ask(Request::delete("/healthz").body(Body::empty()).unwrap())
        .await;
    assert_eq!(answer.status, StatusCode::METHOD_NOT_ALLOWED);
    assert!(answer.header("allow").contains("GET"));
    assert!(
        answer
            .words()
            .contains("does not take that kind of request")
    );
    assert_ne!(answer.header("content-security-policy"), "");
}

#[tokio::test]
async fn a_failure_under_the_api_is_a_problem_document() {
    let app = TestApp::empty().await;
    let answer = app.get("/api/v1/nowhere").await;
    assert_eq!(answer.status, StatusCode::NOT_FOUND);
    assert_eq!(answer.header("content-type"), "application/problem+json");
    let problem: serde_json::Value = serde_json::from_slice(&answer.bytes).unwrap();
    assert_eq!(problem["status"], 404);
}

#[tokio::test]
async fn a_stylesheet_is_kept_for_ever_under_its_hash_and_not_under_another() {
    let app = TestApp::empty().await;
    let url = brickbook::web::urls::asset("site.css");
    let answer = app.get_with(url, &[("accept-encoding", "gzip, br")]).await;
    assert_eq!(answer.status, StatusCode::OK);
    assert_eq!(answer.header("content-type"), "text/css; charset=utf-8");
    assert_eq!(answer.header("content-encoding"), "br");
    assert!(answer.header("cache-control").contains("immutable"));

    let answer = app.get("/static/000000000000/site.css").await;
    assert_eq!(answer.status, StatusCode::OK);
    assert_eq!(answer.header("cache-control"), "no-store");
    assert_eq!(answer.header("content-encoding"), "");
}

#[tokio::test]
async fn the_health_check_asks_the_database() {
    let app = TestApp::empty().await;
    let answer = app.get("/healthz").await;
    assert_eq!(
        (answer.status, answer.text().as_str()),
        (StatusCode::OK, "ok\n")
    );
    app.site.db.close().await;
    assert!(app.get("/healthz").await.status.is_server_error());
}

#[tokio::test]
async fn no_page_carries_script_or_style_of_its_own() {
    let app = TestApp::seeded(&["larkfield-lf-100q", "hollowick-hk-100c"]).await;
    for path in [
        "/",
        "/class/w100",
        "/unit/larkfield-lf-100q",
        "/unit/larkfield-lf-100q/revision/1",
        "/compare?unit=larkfield-lf-100q&unit=hollowick-hk-100c&at_w=10",
        "/regimes",
        "/regime/us_doe_level_vi",
        "/method",
        "/use",
        "/use/phone-overnight?class=w100",
        "/use/own?load=15%3A2&load=0%3A16",
        "/at?w=20",
        "/trade-offs?x=price&y=score",
        "/nowhere",
    ] {
        let answer = app.get(path).await;
        let html = answer.text();
        assert!(!html.contains("<style"), "{path}");
        for tag in html
            .split('<')
            .skip(1)
            .filter_map(|part| part.split_once('>').map(|(tag, _)| tag))
        {
            assert!(!tag.contains(" style="), "{path}: <{tag}>");
            // Names of attributes stand outside the quotes.
            let outside: String = tag.split('"').step_by(2).collect();
            assert!(!outside.contains(" on"), "{path}: <{tag}>");
            assert!(
                !tag.starts_with("script")
                    || tag.contains(" src=")
                    // A block of data, which no browser runs.
                    || tag == "script type=\"application/ld+json\"",
                "{path}: <{tag}>"
            );
        }
        assert!(html.contains("<html lang=\"en\">"), "{path}");
        assert_eq!(html.matches("<h1").count(), 1, "{path}");
        for name in ALWAYS {
            assert_ne!(answer.header(name), "", "{path}: {name}");
        }
    }
}

#[tokio::test]
async fn invented_data_is_called_so_on_every_page() {
    let config = brickbook::web::Config {
        demo: true,
        ..Default::default()
    };
    let app = TestApp::with(config).await;
    for path in ["/", "/regimes", "/nowhere"] {
        assert!(
            app.get(path)
                .await
                .words()
                .contains("All data here is invented"),
            "{path}"
        );
    }
    assert!(
        !TestApp::empty()
            .await
            .get("/")
            .await
            .words()
            .contains("invented")
    );
}

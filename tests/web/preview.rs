//! Pictures for pasted links.

use crate::app::TestApp;
use axum::http::StatusCode;

#[tokio::test]
async fn every_kind_of_link_has_a_picture_of_its_own() {
    let app = TestApp::seeded(&["larkfield-lf-100q", "hollowick-hk-100c"]).await;
    let mut seen = Vec::new();
    for path in [
        "/preview.png",
        "/preview.png?class=w100",
        "/preview.png?unit=larkfield-lf-100q&unit=hollowick-hk-100c",
        "/unit/larkfield-lf-100q/preview.png",
    ] {
        let answer = app.get_with(path, &[("accept-encoding", "gzip, br")]).await;
        assert_eq!(answer.status, StatusCode::OK, "{path}");
        assert_eq!(answer.header("content-type"), "image/png", "{path}");
        assert_eq!(answer.header("content-encoding"), "", "{path}");
        assert!(answer.bytes.starts_with(b"\x89PNG\r\n"), "{path}");
        assert_eq!(
            answer.bytes[16..24],
            [0, 0, 4, 176, 0, 0, 2, 118],
            "{path}: 1200 by 630"
        );
        assert!(!seen.contains(&answer.bytes), "{path}");
        seen.push(answer.bytes);
    }
    assert_eq!(
        app.get("/unit/nobody/preview.png").await.status,
        StatusCode::NOT_FOUND
    );
    assert_eq!(
        app.get("/preview.png?class=w1").await.status,
        StatusCode::NOT_FOUND
    );
}

//! Pages that are kept: what is sent again, in which form, and when it is over.

use crate::app::{Answer, TestApp, seed};
use axum::{
    body::Body,
    http::{Request, StatusCode, header},
};
use brickbook::web::Clock;

const ALL: &[(&str, &str)] = &[("accept-encoding", "gzip, deflate, br, zstd")];

/// Asks until the compressed form is kept, which is made off the request's path.
async fn compressed(app: &TestApp, path: &str, headers: &[(&str, &str)]) -> Answer {
    for _ in 0..10_000 {
        let answer = app.get_with(path, headers).await;
        if !answer.header("content-encoding").is_empty() {
            return answer;
        }
        tokio::task::yield_now().await;
    }
    panic!("{path} was never compressed");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_page_asked_for_again_comes_compressed_and_reads_the_same() {
    let app = TestApp::seeded(&["hollowick-hk-100c"]).await;
    let first = app.get_with("/", ALL).await;
    assert_eq!(first.header("content-encoding"), "");
    let brotli = compressed(&app, "/", ALL).await;
    assert_eq!(brotli.header("content-encoding"), "br");
    assert!(brotli.bytes.len() * 3 < first.bytes.len());
    let mut plain = Vec::new();
    brotli::BrotliDecompress(&mut brotli.bytes.as_slice(), &mut plain).unwrap();
    assert_eq!(plain, first.bytes);

    let gzip = compressed(&app, "/", &[("accept-encoding", "gzip")]).await;
    assert_eq!(gzip.header("content-encoding"), "gzip");
    let mut plain = Vec::new();
    let mut reader = flate2::read::GzDecoder::new(gzip.bytes.as_slice());
    std::io::Read::read_to_end(&mut reader, &mut plain).unwrap();
    assert_eq!(plain, first.bytes);

    // Weights count, and who asks for neither gets neither.
    let gzip = app
        .get_with("/", &[("accept-encoding", "br;q=0.2, gzip;q=0.9")])
        .await;
    assert_eq!(gzip.header("content-encoding"), "gzip");
    for none in ["identity", "br;q=0", "deflate", ""] {
        let answer = app.get_with("/", &[("accept-encoding", none)]).await;
        assert_eq!(answer.header("content-encoding"), "", "{none}");
        assert_eq!(answer.bytes, first.bytes, "{none}");
    }
}

#[tokio::test]
async fn a_kept_page_has_every_header_that_a_fresh_one_has() {
    let app = TestApp::seeded(&["hollowick-hk-100c"]).await;
    let fresh = app.get("/").await;
    let kept = app.get("/").await;
    // Each answer has a number of its own.
    assert_ne!(kept.header("x-request-id"), fresh.header("x-request-id"));
    for name in fresh.headers.keys().filter(|name| *name != "x-request-id") {
        assert_eq!(kept.headers.get(name), fresh.headers.get(name), "{name}");
    }
    assert_eq!(
        kept.header("cache-control"),
        "public, max-age=0, s-maxage=60, must-revalidate"
    );
    assert_eq!(kept.header("vary"), "accept-encoding, cookie");
    assert_ne!(kept.header("content-security-policy"), "");
}

#[tokio::test]
async fn a_browser_that_has_the_page_is_told_so_in_a_few_bytes() {
    let app = TestApp::seeded(&["hollowick-hk-100c"]).await;
    let etag = app.get("/").await.header("etag").to_owned();
    for given in [etag.clone(), format!("\"other\", W/{etag}"), "*".to_owned()] {
        let answer = app.get_with("/", &[("if-none-match", &given)]).await;
        assert_eq!(answer.status, StatusCode::NOT_MODIFIED, "{given}");
        assert!(answer.bytes.is_empty());
        assert_eq!(answer.header("etag"), etag);
        assert_ne!(answer.header("content-security-policy"), "");
    }
    let answer = app.get_with("/", &[("if-none-match", "\"other\"")]).await;
    assert_eq!(answer.status, StatusCode::OK);
}

#[tokio::test]
async fn a_browser_that_knows_only_the_date_of_its_copy_is_believed_unless_public_data_changed() {
    // A clock that is a minute further each time it is read: what was seen lies in the past.
    let minutes = std::sync::atomic::AtomicI64::new(0);
    let clock = Clock::from(move || {
        let minutes = minutes.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
        time::macros::datetime!(2026-09-02 10:00 UTC) + time::Duration::minutes(minutes)
    });
    let app = TestApp::on_clock(clock).await;
    app.publish(&seed("hollowick-hk-100c")).await;
    app.site.refresh().await.unwrap();
    let date = app.get("/").await.header("last-modified").to_owned();
    assert_ne!(date, "");
    let asked = |date: String| {
        let app = &app;
        async move {
            app.get_with("/", &[("if-modified-since", &date)])
                .await
                .status
        }
    };
    assert_eq!(asked(date.clone()).await, StatusCode::NOT_MODIFIED);
    assert_eq!(asked("yesterday".to_owned()).await, StatusCode::OK);
    // A tag that does not fit outweighs a date that does.
    let answer = app
        .get_with(
            "/",
            &[("if-none-match", "\"x\""), ("if-modified-since", &date)],
        )
        .await;
    assert_eq!(answer.status, StatusCode::OK);
    // A change never shares a date with what it changed.
    app.publish(&seed("larkfield-lf-100q")).await;
    app.site.refresh().await.unwrap();
    assert_eq!(asked(date).await, StatusCode::OK);
}

#[tokio::test]
async fn head_has_the_length_and_no_body() {
    let app = TestApp::seeded(&["hollowick-hk-100c"]).await;
    let whole = app.get("/").await;
    let request = Request::head("/").header(header::HOST, "bench.example");
    let head = app.ask(request.body(Body::empty()).unwrap()).await;
    assert_eq!(head.status, StatusCode::OK);
    assert!(head.bytes.is_empty());
    assert_eq!(head.header("content-length"), whole.bytes.len().to_string());
}

#[tokio::test]
async fn a_publication_is_on_the_very_next_page_and_nothing_older_is_sent_again() {
    let app = TestApp::seeded(&["hollowick-hk-100c"]).await;
    let before = app.get("/").await;
    assert!(before.words().contains("1–1 of 1 unit"));
    assert!(!app.site.pages.is_empty());

    app.publish(&seed("larkfield-lf-100q")).await;
    app.site.refresh().await.unwrap();
    assert!(app.site.pages.is_empty());
    let after = app
        .get_with("/", &[("if-none-match", before.header("etag"))])
        .await;
    assert_eq!(after.status, StatusCode::OK);
    assert!(after.words().contains("1–2 of 2 units"));

    let mut record: serde_json::Value = serde_json::from_str(&seed("hollowick-hk-100c")).unwrap();
    record["notes"] = "the second look".into();
    let unit = app.get("/unit/hollowick-hk-100c").await;
    assert!(!unit.words().contains("the second look"));
    app.revise("hollowick-hk-100c", &record.to_string(), "looked again")
        .await;
    app.site.refresh().await.unwrap();
    assert!(
        app.get("/unit/hollowick-hk-100c")
            .await
            .words()
            .contains("the second look")
    );
}

#[tokio::test]
async fn nothing_changed_leaves_every_kept_page_in_place() {
    let app = TestApp::seeded(&["hollowick-hk-100c"]).await;
    app.get("/").await;
    app.get("/unit/hollowick-hk-100c").await;
    let (kept, generation) = (app.site.pages.len(), app.site.generation());
    assert_eq!(kept, 2);
    app.site.refresh().await.unwrap();
    assert_eq!(
        (app.site.pages.len(), app.site.generation()),
        (kept, generation)
    );
}

#[tokio::test]
async fn a_visitor_with_a_session_gets_a_page_of_their_own_that_nobody_keeps() {
    let app = TestApp::seeded(&["hollowick-hk-100c"]).await;
    let cookie = &[("cookie", "other=1; brickbook_session=abc")];
    let answer = app.get_with("/", cookie).await;
    assert!(answer.words().contains("Desk"));
    assert!(
        !answer.header("cache-control").contains("public"),
        "{}",
        answer.header("cache-control")
    );
    assert!(app.site.pages.is_empty());
    assert!(app.get("/").await.words().contains("Sign in"));
}

#[tokio::test]
async fn two_names_of_one_site_do_not_mix_their_absolute_addresses() {
    let app = TestApp::seeded(&["hollowick-hk-100c"]).await;
    let ours = app.get("/unit/hollowick-hk-100c").await.text();
    let request = Request::get("/unit/hollowick-hk-100c").header(header::HOST, "evil.example");
    let theirs = app.ask(request.body(Body::empty()).unwrap()).await.text();
    assert!(ours.contains("http://bench.example/") && !ours.contains("evil.example"));
    assert!(theirs.contains("http://evil.example/") && !theirs.contains("bench.example"));
}

#[tokio::test]
async fn errors_and_redirects_are_never_kept() {
    let app = TestApp::seeded(&["hollowick-hk-100c"]).await;
    for path in ["/nowhere", "/unit/nobody", "/?q=", "/healthz"] {
        app.get(path).await;
    }
    assert!(app.site.pages.is_empty());
}

#[tokio::test(flavor = "multi_thread")]
async fn what_another_process_publishes_is_noticed_without_being_told() {
    let app = TestApp::seeded(&["hollowick-hk-100c"]).await;
    assert!(app.get("/").await.words().contains("1–1 of 1 unit"));
    let watcher = tokio::spawn(app.site.clone().watch_for_changes());
    let generation = app.site.generation();
    app.publish(&seed("larkfield-lf-100q")).await;
    let noticed = async {
        while app.site.generation() == generation {
            tokio::task::yield_now().await;
        }
    };
    let patience = std::time::Duration::from_secs(30);
    tokio::time::timeout(patience, noticed)
        .await
        .expect("the change is noticed");
    assert!(app.get("/").await.words().contains("1–2 of 2 units"));
    watcher.abort();
}

/// A row as JSON: what the store holds of a unit for the ranking, whole.
fn rows_of(rows: &[brickbook::ranking::Row]) -> Vec<String> {
    let text = |row| serde_json::to_string(row).expect("a row is JSON");
    rows.iter().map(text).collect()
}

#[tokio::test]
async fn whatever_changed_in_between_the_rows_shown_are_those_stored() {
    let app = TestApp::seeded(&["hollowick-hk-100c", "larkfield-lf-100q"]).await;
    let record = |model: &str, watts: f64| {
        serde_json::json!({"format": "brickbook-record/1",
            "unit": {"maker": "Fernhill", "model": model, "nameplate": {"output_power_w": watts}}})
        .to_string()
    };
    // Changes that one reading has to notice together.
    for step in 0..8 {
        match step {
            0 => drop(app.publish(&record("FH-1", 30.0)).await),
            1 => drop(
                app.revise("fernhill-fh-1", &record("FH-1", 31.0), "label read again")
                    .await,
            ),
            2 => {
                app.publish(&record("FH-2", 45.0)).await;
                app.revise(
                    "hollowick-hk-100c",
                    &seed("hollowick-hk-100c").replace("100C", "100D"),
                    "model",
                )
                .await;
            }
            3 => {
                app.revise("fernhill-fh-2", &record("FH-2", 46.0), "again")
                    .await;
                app.revise("fernhill-fh-2", &record("FH-2", 47.0), "and again")
                    .await;
            }
            4 => {
                // A row taken away by whatever means, and one that comes in its place.
                let mut tx = app.site.db.write().await.unwrap();
                sqlx::query("DELETE FROM unit WHERE slug = 'fernhill-fh-2'")
                    .execute(&mut *tx)
                    .await
                    .unwrap();
                tx.commit().await.unwrap();
                app.publish(&record("FH-3", 60.0)).await;
            }
            5 => {
                let mut tx = app.site.db.write().await.unwrap();
                sqlx::query("UPDATE ranking SET row = json_set(row, '$.maker', 'Fernhill Works') WHERE unit_id = 3")
                    .execute(&mut *tx)
                    .await
                    .unwrap();
                tx.commit().await.unwrap();
            }
            6 => {
                for model in 0..30 {
                    app.publish(&record(&format!("FM-{model}"), 20.0)).await;
                }
            }
            _ => {}
        }
        app.site.refresh().await.unwrap();
        let stored = brickbook::storage::rankings::all(&mut app.site.db.read().await.unwrap())
            .await
            .unwrap();
        let shown = app.site.public();
        assert_eq!(
            rows_of(shown.standings.rows()),
            rows_of(&stored),
            "after step {step}"
        );
        let count = shown.makers.iter().map(|(_, units)| units).sum::<usize>();
        assert_eq!(count, stored.len());
    }
    assert!(app.site.generation() >= 8);
}

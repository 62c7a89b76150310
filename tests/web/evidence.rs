//! Raw logs: their evidence on a unit's page, and their bytes for download.

use crate::app::{Answer, TestApp, seed};
use axum::http::StatusCode;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use std::io::Write;

const SLUG: &str = "hollowick-hk-100c";

/// Keeps bytes as the desk would and returns their SHA-256.
fn keep(app: &TestApp, bytes: &[u8]) -> String {
    let mut incoming = app.site.db.logs().begin().expect("the folder can be made");
    incoming.write_all(bytes).expect("the disk takes them");
    incoming.finish().expect("the disk takes them").sha256
}

/// An entry of a record's `logs`: time in seconds, then power in milliwatts.
fn log_entry(name: &str, bytes: &[u8]) -> Value {
    let digest = Sha256::digest(bytes);
    let sha256: String = digest.iter().map(|byte| format!("{byte:02x}")).collect();
    json!({
        "name": name,
        "sha256": sha256,
        "size_bytes": bytes.len(),
        "layout": {
            "encoding": "utf-8",
            "delimiter": "semicolon",
            "decimal": "comma",
            "first_line": 2,
            "time": {"form": "seconds", "column": 1},
            "columns": [{"column": 2, "quantity": "input_power_w", "factor": 0.001}],
        },
    })
}

/// The record of an invented unit with these logs.
fn record_with(logs: &[Value]) -> Value {
    let mut record: Value = serde_json::from_str(&seed(SLUG)).expect("seed data is JSON");
    record["logs"] = logs.into();
    record
}

async fn published(logs: &[(&str, &[u8])]) -> TestApp {
    let app = TestApp::empty().await;
    let entries: Vec<Value> = logs
        .iter()
        .map(|(name, bytes)| {
            keep(&app, bytes);
            log_entry(name, bytes)
        })
        .collect();
    app.publish(&record_with(&entries).to_string()).await;
    app.site.refresh().await.expect("the database can be read");
    app
}

/// A short log: half an hour, one sample a second.
fn idle_log() -> Vec<u8> {
    let mut text = String::from("t;P/mW\r\n");
    for second in 0..1_800 {
        let tenths = 739 + (second * 7_919) % 11;
        text.push_str(&format!("{second};{},{}\r\n", tenths / 10, tenths % 10));
    }
    text.into_bytes()
}

fn not_found(answer: &Answer, said: &str) {
    assert_eq!(answer.status, StatusCode::NOT_FOUND);
    assert!(answer.words().contains(said), "{}", answer.words());
}

#[tokio::test]
async fn a_log_is_given_out_byte_for_byte_as_a_file_of_its_name() {
    let bytes = idle_log();
    let app = published(&[("idle 115 V.csv", &bytes)]).await;
    let answer = app
        .get(&format!("/unit/{SLUG}/log/idle%20115%20V.csv"))
        .await;
    assert_eq!(answer.status, StatusCode::OK);
    assert_eq!(answer.bytes, bytes);
    assert_eq!(answer.header("content-type"), "text/csv");
    assert_eq!(answer.header("x-content-type-options"), "nosniff");
    assert_eq!(
        answer.header("content-disposition"),
        "attachment; filename=\"idle_115_V.csv\"; filename*=UTF-8''idle%20115%20V.csv"
    );
    let etag = answer.header("etag").to_owned();
    let digest = Sha256::digest(&bytes);
    let hex: String = digest.iter().map(|byte| format!("{byte:02x}")).collect();
    assert_eq!(etag, format!("\"{hex}\""));
    assert!(answer.header("cache-control").contains("must-revalidate"));

    let again = app
        .get_with(
            &format!("/unit/{SLUG}/log/idle%20115%20V.csv"),
            &[("if-none-match", &etag)],
        )
        .await;
    assert_eq!(again.status, StatusCode::NOT_MODIFIED);
    assert!(again.bytes.is_empty());
    assert_eq!(again.header("etag"), etag);
}

#[tokio::test]
async fn a_log_that_the_instrument_packed_stays_packed() {
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::default());
    packer.write_all(&idle_log()).unwrap();
    let bytes = packer.finish().unwrap();
    let app = published(&[("idle.csv.gz", &bytes)]).await;
    let answer = app.get(&format!("/unit/{SLUG}/log/idle.csv.gz")).await;
    assert_eq!(answer.bytes, bytes);
    assert_eq!(answer.header("content-type"), "application/gzip");
    assert_eq!(answer.header("content-encoding"), "");
}

#[tokio::test]
async fn a_log_of_many_pieces_comes_whole() {
    // Noise, so that packed pieces and unpacked ones have nothing to do with each other.
    let mut state = 1u64;
    let bytes: Vec<u8> = std::iter::repeat_with(|| {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        (state >> 56) as u8
    })
    .take(3_000_001)
    .collect();
    let app = published(&[("noise.bin", &bytes)]).await;
    let answer = app.get(&format!("/unit/{SLUG}/log/noise.bin")).await;
    assert_eq!(answer.bytes.len(), bytes.len());
    assert!(answer.bytes == bytes);
}

#[tokio::test]
async fn only_logs_that_a_published_revision_names_are_given_out() {
    let app = published(&[("idle.csv", &idle_log())]).await;
    let secret = keep(&app, b"t;P\n0;1\n");
    let none = "This unit has no log called";
    for path in [
        format!("/unit/{SLUG}/log/other.csv"),
        format!("/unit/{SLUG}/log/{secret}"),
        format!("/unit/{SLUG}/log/idle.csv?sha256={secret}"),
        format!("/unit/{SLUG}/log/..%2F..%2Fbrickbook.db"),
        "/unit/nobody/log/idle.csv".to_owned(),
    ] {
        not_found(&app.get(&path).await, none);
    }
    // The right bytes under a name that the record doesn't give them.
    let digest = Sha256::digest(idle_log());
    let hex: String = digest.iter().map(|byte| format!("{byte:02x}")).collect();
    let path = format!("/unit/{SLUG}/log/invoice.exe?sha256={hex}");
    not_found(&app.get(&path).await, none);
}

#[tokio::test]
async fn a_log_that_is_named_but_not_kept_is_said_to_be_so() {
    let app = TestApp::empty().await;
    let record = record_with(&[log_entry("lost.csv", b"t;P\n0;1\n")]);
    app.publish(&record.to_string()).await;
    app.site.refresh().await.unwrap();
    let page = app.get(&format!("/unit/{SLUG}")).await;
    assert!(page.words().contains("lost.csv not kept here"));
    assert!(!page.text().contains("/log/lost.csv"));
    let answer = app.get(&format!("/unit/{SLUG}/log/lost.csv")).await;
    not_found(&answer, "its bytes are not kept here");
}

#[tokio::test]
async fn an_earlier_revision_leads_to_its_own_log_of_the_same_name() {
    let (first, second) = (b"t;P\n0;1\n".as_slice(), b"t;P\n0;2\n".as_slice());
    let app = published(&[("idle.csv", first)]).await;
    keep(&app, second);
    let record = record_with(&[log_entry("idle.csv", second)]);
    app.revise(SLUG, &record.to_string(), "recorded again")
        .await;
    app.site.refresh().await.unwrap();

    let newest = app.get(&format!("/unit/{SLUG}/log/idle.csv")).await;
    assert_eq!(newest.bytes, second);
    let page = app.get(&format!("/unit/{SLUG}/revision/1")).await.text();
    let at = page
        .find(&format!("/unit/{SLUG}/log/idle.csv?sha256="))
        .expect("the earlier log is linked");
    let link = page[at..].split('"').next().unwrap();
    let earlier = app.get(link).await;
    assert_eq!(earlier.bytes, first);
    assert!(earlier.header("cache-control").contains("immutable"));
}

#[tokio::test]
async fn a_page_lists_each_log_with_its_full_hash_and_how_it_is_read() {
    let bytes = idle_log();
    let app = published(&[("idle.csv", &bytes)]).await;
    let page = app.get(&format!("/unit/{SLUG}")).await;
    let words = page.words();
    let entry = log_entry("idle.csv", &bytes);
    for part in [
        "Raw logs",
        entry["sha256"].as_str().unwrap(),
        "columns between semicolons; decimal comma; data from line 2",
        "column 1: time in seconds",
        "column 2: input power in W, its numbers times 0.001",
        &format!("{:.1} kB", bytes.len() as f64 / 1e3),
    ] {
        assert!(words.contains(part), "{part}: {words}");
    }
    let href = format!("href=\"/unit/{SLUG}/log/idle.csv\"");
    assert!(page.text().contains(&href));
    // A record without logs has no such section.
    let plain = TestApp::seeded(&[SLUG]).await;
    assert!(
        !plain
            .get(&format!("/unit/{SLUG}"))
            .await
            .words()
            .contains("Raw logs")
    );
}

//! A database that does not take what is sent: held by another process, or without room. Nothing
//! that was typed is lost. And what became of the server's own backups.

use crate::{
    app::TestApp,
    browser::{Browser, form_in},
};
use axum::http::StatusCode;
use brickbook::storage::backup_schedule::Outcome;
use brickbook::storage::settings;
use brickbook::web::Config;
use sqlx::{Connection, SqliteConnection};
use std::time::Duration;
use time::OffsetDateTime;

/// A connection of somebody else's to the site's database.
async fn somebody_else(app: &TestApp) -> SqliteConnection {
    let url = format!("sqlite://{}", app.site.db.path().display());
    SqliteConnection::connect(&url).await.unwrap()
}

#[tokio::test]
async fn while_another_process_holds_the_database_a_form_waits_and_then_comes_back_to_be_sent_again()
 {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let typed = ada
        .bench_form(&draft)
        .await
        .set("unit.maker", "Larkfield & Söhne \"L\"")
        .set("notes", "first line\nsecond <b>line</b>");
    let mut other = somebody_else(&app).await;
    sqlx::query("BEGIN IMMEDIATE")
        .execute(&mut other)
        .await
        .unwrap();
    // Pages are read all the while.
    assert_eq!(ada.get(&draft).await.status, StatusCode::OK);
    let refused = ada.send(&typed, Some("save")).await;
    assert_eq!(refused.status, StatusCode::SERVICE_UNAVAILABLE);
    assert_eq!(refused.header("retry-after"), "5");
    let words = refused.words();
    assert!(words.contains("The database is busy just now"), "{words}");
    assert!(words.contains("Nothing that you typed is lost"), "{words}");

    sqlx::query("ROLLBACK").execute(&mut other).await.unwrap();
    let again = form_in(&refused.text(), &draft);
    let saved = ada.send(&again, None).await;
    assert_eq!(saved.status, StatusCode::SEE_OTHER);
    let stands = ada.bench_form(&draft).await;
    assert_eq!(stands.value("unit.maker"), "Larkfield & Söhne \"L\"");
    let notes = stands.value("notes").replace("\r\n", "\n");
    assert_eq!(notes, "first line\nsecond <b>line</b>");
}

#[tokio::test]
async fn a_lock_that_is_given_back_in_time_is_only_waited_for() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let typed = ada.bench_form(&draft).await.set("notes", "waited");
    let mut other = somebody_else(&app).await;
    sqlx::query("BEGIN IMMEDIATE")
        .execute(&mut other)
        .await
        .unwrap();
    let give_back = tokio::spawn(async move {
        tokio::time::sleep(Duration::from_millis(700)).await;
        sqlx::query("COMMIT").execute(&mut other).await.unwrap();
    });
    let saved = ada.send(&typed, Some("save")).await;
    assert_eq!(saved.status, StatusCode::SEE_OTHER);
    give_back.await.unwrap();
    assert_eq!(ada.bench_form(&draft).await.value("notes"), "waited");
}

#[tokio::test]
async fn a_password_is_never_sent_back_in_a_page() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    ada.cookies.clear();
    let mut other = somebody_else(&app).await;
    sqlx::query("BEGIN IMMEDIATE")
        .execute(&mut other)
        .await
        .unwrap();
    let refused = ada.sign_in("Ada", crate::browser::PASSWORD).await;
    assert_eq!(refused.status, StatusCode::SERVICE_UNAVAILABLE);
    assert!(!refused.text().contains(crate::browser::PASSWORD));
}

#[tokio::test]
async fn a_database_that_may_not_grow_says_that_there_is_no_room_and_keeps_what_was_typed() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let text = "0123456789abcdef ".repeat(4000);
    let typed = ada.bench_form(&draft).await.set("notes", &text);
    // SQLite's own bound on the file stands in for a full disk: the same answer of the library.
    let mut tx = app.site.db.write().await.unwrap();
    let pages: i64 = sqlx::query_scalar("PRAGMA page_count")
        .fetch_one(&mut *tx)
        .await
        .unwrap();
    tx.commit().await.unwrap();
    let mut writer = app.site.db.write().await.unwrap();
    sqlx::query(sqlx::AssertSqlSafe(format!(
        "PRAGMA max_page_count = {pages}"
    )))
    .execute(&mut *writer)
    .await
    .unwrap();
    writer.commit().await.unwrap();
    let refused = ada.send(&typed, Some("save")).await;
    assert_eq!(refused.status, StatusCode::INSUFFICIENT_STORAGE);
    assert!(refused.words().contains("no room left on the disk"));
    let again = form_in(&refused.text(), &draft);
    let mut writer = app.site.db.write().await.unwrap();
    sqlx::query("PRAGMA max_page_count = 1000000")
        .execute(&mut *writer)
        .await
        .unwrap();
    writer.commit().await.unwrap();
    assert_eq!(ada.send(&again, None).await.status, StatusCode::SEE_OTHER);
    assert_eq!(
        ada.bench_form(&draft).await.value("notes").trim(),
        text.trim()
    );
}

/// The desk's words after this came of the backups.
async fn desk_after(outcome: Outcome) -> String {
    let app = TestApp::with(Config {
        backup_every: Some(Duration::from_secs(24 * 3600)),
        ..Config::default()
    })
    .await;
    let mut ada = Browser::set_up(&app).await;
    let mut tx = app.site.db.write().await.unwrap();
    let text = serde_json::to_string(&outcome).unwrap();
    settings::set(&mut tx, settings::BACKUP_OUTCOME, &text)
        .await
        .unwrap();
    tx.commit().await.unwrap();
    ada.get("/desk").await.words()
}

#[tokio::test]
async fn the_desk_says_when_the_last_backup_was_made_and_what_is_wrong() {
    let ago = |hours: i64| {
        let then = OffsetDateTime::now_utc() - time::Duration::hours(hours);
        Some(brickbook::storage::instant::to_text(then))
    };
    let good = Outcome {
        made_at: ago(3),
        file: Some("/kept/a.zip".into()),
        ..Outcome::default()
    };
    let words = desk_after(good.clone()).await;
    assert!(
        words.contains("Last backup") && words.contains("/kept/a.zip"),
        "{words}"
    );
    assert!(!words.contains("No newer backup"), "{words}");
    let words = desk_after(Outcome {
        made_at: ago(30),
        ..good.clone()
    })
    .await;
    assert!(
        words.contains("No newer backup was made. It is overdue."),
        "{words}"
    );
    let words = desk_after(Outcome {
        failed_at: ago(1),
        failure: Some("the disk is full".into()),
        ..good
    })
    .await;
    assert!(words.contains("No newer backup was made."), "{words}");
    assert!(words.contains("the disk is full"), "{words}");
    let words = desk_after(Outcome::default()).await;
    assert!(words.contains("No backup yet"), "{words}");
}

#[tokio::test]
async fn a_server_that_makes_no_backups_says_nothing_of_them() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    assert!(!ada.get("/desk").await.words().contains("backup"));
}

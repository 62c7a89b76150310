//! Who gets in: set-up, signing in and out, throttling, forms of other sites, tokens.

use crate::{
    app::TestApp,
    browser::{Browser, PASSWORD, form, form_in},
};
use axum::http::StatusCode;
use brickbook::{
    storage::api_tokens,
    web::{Clock, Config, Site},
};
use std::sync::{Arc, Mutex};
use time::{Duration, macros::datetime};

#[tokio::test]
async fn whoever_has_the_one_time_secret_becomes_operator_and_the_page_is_gone() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let desk = ada.get("/desk").await;
    assert_eq!(desk.status, StatusCode::OK);
    assert!(desk.words().contains("Signed in as Ada"));
    assert_eq!(desk.header("cache-control"), "no-store");
    assert_eq!(ada.get("/set-up").await.status, StatusCode::NOT_FOUND);
    assert_eq!(
        ada.post("/set-up", &[], &[]).await.status,
        StatusCode::NOT_FOUND
    );
}

#[tokio::test]
async fn nobody_becomes_operator_without_the_secret() {
    let app = TestApp::empty().await;
    let mut stranger = Browser::new(&app);
    for secret in ["", "wrong", "00000000-00000000-00000000-00000000"] {
        let page = stranger.get("/set-up").await;
        let form = form(&page, "/set-up")
            .set("secret", secret)
            .set("name", "Mallory")
            .set("password", PASSWORD)
            .set("again", PASSWORD);
        let answer = stranger.send(&form, None).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
        assert!(answer.words().contains("not the one-time secret"));
        assert!(!answer.text().contains(PASSWORD));
    }
    let answer = stranger.get("/sign-in").await;
    assert_eq!(
        answer.header("location"),
        "/set-up",
        "still nobody is operator"
    );
}

#[tokio::test]
async fn wrong_secrets_of_a_stranger_do_not_keep_the_owner_from_setting_up() {
    let app = TestApp::empty().await;
    let mut stranger = Browser::new(&app);
    let page = stranger.get("/set-up").await;
    let guess = form(&page, "/set-up").set("secret", "a guess");
    for _ in 0..12 {
        assert_eq!(
            stranger.send(&guess, None).await.status,
            StatusCode::UNPROCESSABLE_ENTITY
        );
    }
    Browser::set_up(&app).await;
}

#[tokio::test]
async fn of_two_that_set_up_at_once_only_one_becomes_operator() {
    let app = TestApp::empty().await;
    let secret = app.site.auth.set_up_secret().unwrap().to_owned();
    let attempt = async |name: &str| {
        let mut browser = Browser::new(&app);
        let page = browser.get("/set-up").await;
        let form = form(&page, "/set-up")
            .set("secret", &secret)
            .set("name", name)
            .set("password", PASSWORD)
            .set("again", PASSWORD);
        browser.send(&form, None).await.status
    };
    let both = tokio::join!(attempt("Ada"), attempt("Grace"));
    let mut both = [both.0, both.1];
    both.sort();
    assert_eq!(both, [StatusCode::SEE_OTHER, StatusCode::NOT_FOUND]);
}

#[tokio::test]
async fn the_desk_asks_to_sign_in_and_then_shows_the_page_that_was_wanted() {
    let app = TestApp::empty().await;
    Browser::set_up(&app).await;
    let mut browser = Browser::new(&app);
    let kept_out = browser.get("/desk/tokens").await;
    assert_eq!(
        kept_out.header("location"),
        "/sign-in?next=%2Fdesk%2Ftokens"
    );
    let page = browser.get("/sign-in?next=%2Fdesk%2Ftokens").await;
    let form = form(&page, "/sign-in")
        .set("name", " ADA ")
        .set("password", PASSWORD);
    let answer = browser.send(&form, None).await;
    assert_eq!(
        (answer.status, answer.header("location")),
        (StatusCode::SEE_OTHER, "/desk/tokens")
    );
    let cookie = answer
        .headers
        .get_all("set-cookie")
        .iter()
        .map(|c| c.to_str().unwrap())
        .find(|c| c.starts_with("brickbook_session="))
        .unwrap();
    assert!(
        cookie.contains("HttpOnly")
            && cookie.contains("SameSite=Lax")
            && cookie.contains("Path=/")
            && !cookie.contains("Secure"),
        "{cookie}"
    );
}

#[tokio::test]
async fn over_https_the_cookie_is_bound_to_the_host() {
    let app = TestApp::with(Config {
        secure_cookies: true,
        ..Config::default()
    })
    .await;
    let browser = Browser::set_up(&app).await;
    assert!(
        browser.cookies.contains_key("__Host-brickbook_session"),
        "{:?}",
        browser.cookies
    );
}

#[tokio::test]
async fn a_wrong_password_and_an_unknown_name_get_the_same_answer() {
    let app = TestApp::empty().await;
    Browser::set_up(&app).await;
    let mut browser = Browser::new(&app);
    let wrong = browser.sign_in("Ada", "another long password").await;
    let unknown = browser.sign_in("Bob", "another long password").await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(wrong.text(), unknown.text().replace("Bob", "Ada"));
    assert!(wrong.words().contains("Name or password is wrong."));
    assert_eq!(browser.get("/desk").await.status, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn after_ten_attempts_for_one_account_even_the_right_password_has_to_wait() {
    let app = TestApp::empty().await;
    Browser::set_up(&app).await;
    let mut browser = Browser::new(&app);
    for _ in 0..10 {
        assert_eq!(
            browser.sign_in("Ada", "wrong").await.status,
            StatusCode::UNPROCESSABLE_ENTITY
        );
    }
    let put_off = browser.sign_in("Ada", PASSWORD).await;
    assert_eq!(put_off.status, StatusCode::TOO_MANY_REQUESTS);
    assert!(put_off.header("retry-after").parse::<u64>().unwrap() <= 31);
    assert!(put_off.words().contains("Please wait"));
}

#[tokio::test]
async fn signing_in_again_begins_another_session_and_ends_the_one_before() {
    let app = TestApp::empty().await;
    let mut browser = Browser::set_up(&app).await;
    let before = browser.cookies["brickbook_session"].clone();
    browser.sign_in("Ada", PASSWORD).await;
    let after = browser.cookies["brickbook_session"].clone();
    assert_ne!(before, after);
    browser.cookies.insert("brickbook_session".into(), before);
    assert_eq!(browser.get("/desk").await.status, StatusCode::SEE_OTHER);
    browser.cookies.insert("brickbook_session".into(), after);
    assert_eq!(browser.get("/desk").await.status, StatusCode::OK);
}

#[tokio::test]
async fn after_signing_out_the_old_cookie_opens_nothing() {
    let app = TestApp::empty().await;
    let mut browser = Browser::set_up(&app).await;
    let token = browser.cookies["brickbook_session"].clone();
    let desk = browser.get("/desk").await;
    let answer = browser.send(&form(&desk, "/sign-out"), None).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER);
    assert!(!browser.cookies.contains_key("brickbook_session"));
    browser.cookies.insert("brickbook_session".into(), token);
    assert_eq!(browser.get("/desk").await.status, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn a_session_ends_two_weeks_after_its_last_use() {
    let folder = tempfile::tempdir().unwrap();
    let db = brickbook::storage::Db::open(&folder.path().join("test.db"))
        .await
        .unwrap();
    let now = Arc::new(Mutex::new(datetime!(2026-09-01 08:00 UTC)));
    let clock = Clock::from({
        let now = now.clone();
        move || *now.lock().unwrap()
    });
    let site = Site::with_clock(
        Config::default(),
        db,
        Arc::new(brickbook::evaluate::Method::standard()),
        clock,
    )
    .await
    .unwrap();
    let app = TestApp::of(site, folder);
    let mut browser = Browser::set_up(&app).await;
    let mut opens_after = async |days: i64| {
        *now.lock().unwrap() += Duration::days(days);
        browser.get("/desk").await.status == StatusCode::OK
    };
    assert!(opens_after(13).await, "used within two weeks");
    assert!(opens_after(13).await, "that use has moved the end");
    assert!(!opens_after(15).await);
}

#[tokio::test]
async fn a_form_without_its_token_or_from_another_site_changes_nothing() {
    let app = TestApp::empty().await;
    let mut browser = Browser::set_up(&app).await;
    let desk = browser.get("/desk").await;
    let begin = form(&desk, "/desk/draft");
    let csrf = begin.fields.clone();
    let wrong = vec![("csrf".to_owned(), "x".repeat(43))];
    for (fields, headers) in [
        (&[] as &[_], &[] as &[(&str, &str)]),
        (&wrong, &[]),
        (&csrf, &[("sec-fetch-site", "cross-site")]),
        (&csrf, &[("sec-fetch-site", "same-site")]),
        (&csrf, &[("origin", "https://evil.example")]),
        (&csrf, &[("origin", "null")]),
        (&csrf, &[("origin", "http://bench.example.evil.example")]),
    ] {
        let answer = browser.post("/desk/draft", fields, headers).await;
        assert_eq!(
            answer.status,
            StatusCode::FORBIDDEN,
            "{fields:?} {headers:?}"
        );
    }
    assert!(
        browser
            .get("/desk")
            .await
            .words()
            .contains("Your drafts None.")
    );
    for headers in [
        &[("origin", "http://bench.example")] as &[_],
        &[("sec-fetch-site", "same-origin")],
        &[("origin", "https://bench.example")],
    ] {
        let answer = browser.post("/desk/draft", &csrf, headers).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{headers:?}");
    }
}

#[tokio::test]
async fn a_sign_in_that_another_site_sends_is_refused() {
    let app = TestApp::empty().await;
    Browser::set_up(&app).await;
    let mut browser = Browser::new(&app);
    let fields = [("name", "Ada"), ("password", PASSWORD), ("csrf", "")]
        .map(|(n, v)| (n.to_owned(), v.to_owned()));
    assert_eq!(
        browser.post("/sign-in", &fields, &[]).await.status,
        StatusCode::FORBIDDEN
    );
}

#[tokio::test]
async fn one_operator_sees_nothing_of_anothers_drafts() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let hash = brickbook::web::auth::hash_password(PASSWORD).unwrap();
    let mut tx = app.site.db.write().await.unwrap();
    brickbook::storage::operators::insert(&mut tx, "Grace", &hash, app.site.clock.now())
        .await
        .unwrap();
    tx.commit().await.unwrap();
    let mut grace = Browser::new(&app);
    grace.sign_in("Grace", PASSWORD).await;
    assert_eq!(grace.get(&draft).await.status, StatusCode::NOT_FOUND);
    let mut stolen = ada.bench_form(&draft).await;
    let own = grace.new_draft().await;
    stolen.fields = grace.bench_form(&own).await.fields;
    assert_eq!(
        grace.send(&stolen, Some("save")).await.status,
        StatusCode::NOT_FOUND
    );
    assert_eq!(
        grace.get(&format!("{draft}/publish")).await.status,
        StatusCode::NOT_FOUND
    );
}

#[tokio::test]
async fn a_token_is_shown_once_and_opens_nothing_after_it_is_revoked() {
    let app = TestApp::empty().await;
    let mut browser = Browser::set_up(&app).await;
    let page = browser.get("/desk/tokens").await;
    let made = browser
        .send(
            &form(&page, "/desk/tokens").set("label", "bench script"),
            None,
        )
        .await;
    let html = made.text();
    let start = html.find("value=\"bb_").unwrap() + 7;
    let token = &html[start..start + 46];
    let hash = brickbook::web::auth::hash_of(token);
    let bearer = async || {
        api_tokens::bearer(&mut app.site.db.read().await.unwrap(), &hash)
            .await
            .unwrap()
    };
    assert_eq!(
        bearer().await.map(|b| b.operator_name).as_deref(),
        Some("Ada")
    );
    let again = browser.get("/desk/tokens").await;
    assert!(!again.text().contains(token) && again.words().contains("bench script"));
    let revoke = form_in(&again.text(), "/desk/tokens/1/revoke");
    assert_eq!(
        browser.send(&revoke, None).await.status,
        StatusCode::SEE_OTHER
    );
    assert_eq!(bearer().await, None);
}

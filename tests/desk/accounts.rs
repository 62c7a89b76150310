//! Who gets in: set-up, signing in and out, throttling, forms of other sites, tokens.

use crate::{
    app::TestApp,
    browser::{Browser, PASSWORD, form, form_in},
};
use axum::http::StatusCode;
use brickbook::{
    storage::{
        api_tokens,
        audit::{self, Wanted},
        operators::{self, Role},
    },
    web::{Clock, Config},
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
async fn whoever_guesses_waits_and_the_owner_gets_in_from_elsewhere() {
    let app = TestApp::with(Config {
        trusted_proxies: vec!["0.0.0.0".parse().unwrap()],
        ..Config::default()
    })
    .await;
    Browser::set_up(&app).await;
    let mut guesser = Browser::new(&app);
    guesser.address = Some("203.0.113.9");
    let mut put_off = guesser.sign_in("Ada", "wrong").await;
    for _ in 0..25 {
        if put_off.status == StatusCode::TOO_MANY_REQUESTS {
            break;
        }
        assert_eq!(put_off.status, StatusCode::UNPROCESSABLE_ENTITY);
        put_off = guesser.sign_in("Ada", "wrong").await;
    }
    assert_eq!(put_off.status, StatusCode::TOO_MANY_REQUESTS);
    let wait: u64 = put_off.header("retry-after").parse().unwrap();
    assert!((1..=901).contains(&wait), "{wait}");
    assert!(put_off.words().contains("Please wait"));
    let right = guesser.sign_in("Ada", PASSWORD).await;
    assert_eq!(
        right.status,
        StatusCode::TOO_MANY_REQUESTS,
        "even the right password waits there"
    );
    let mut owner = Browser::new(&app);
    owner.address = Some("198.51.100.7");
    assert_eq!(
        owner.sign_in("Ada", PASSWORD).await.status,
        StatusCode::SEE_OTHER
    );
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

/// A site whose clock the test sets.
async fn on_a_clock() -> (TestApp, Arc<Mutex<time::OffsetDateTime>>) {
    on_a_clock_with(Config::default()).await
}

pub async fn on_a_clock_with(config: Config) -> (TestApp, Arc<Mutex<time::OffsetDateTime>>) {
    let now = Arc::new(Mutex::new(datetime!(2026-09-01 08:00 UTC)));
    let clock = Clock::from({
        let now = now.clone();
        move || *now.lock().unwrap()
    });
    (TestApp::with_clock(config, clock).await, now)
}

#[tokio::test]
async fn a_session_ends_two_weeks_after_its_last_use() {
    let (app, now) = on_a_clock().await;
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
async fn a_session_ends_ninety_days_after_sign_in_however_used() {
    let (app, now) = on_a_clock().await;
    let mut browser = Browser::set_up(&app).await;
    for day in 1..=100 {
        *now.lock().unwrap() += Duration::days(1);
        let open = browser.get("/desk").await.status == StatusCode::OK;
        assert_eq!(open, day < 90, "on day {day}");
    }
}

#[tokio::test]
async fn an_owner_ends_all_sessions_of_an_account() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let mut bea = invited(&app, &mut ada, "Bea", "editor").await;
    assert_eq!(bea.get("/desk").await.status, StatusCode::OK);
    let id = number_of(&app, "Bea").await;
    press(&mut ada, id, &[("action", "end-sessions")]).await;
    assert_eq!(bea.get("/desk").await.status, StatusCode::SEE_OTHER);
    assert_eq!(ada.get("/desk").await.status, StatusCode::OK);
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
async fn one_operator_changes_nothing_of_anothers_drafts() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let hash = brickbook::web::auth::hash_password(PASSWORD).unwrap();
    let mut tx = app.site.db.write().await.unwrap();
    operators::insert(&mut tx, "Grace", &hash, Role::Editor, app.site.clock.now())
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
    let read = grace.get(&format!("{draft}/read")).await;
    assert_eq!(read.status, StatusCode::OK, "but may read it");
    assert!(
        grace
            .get("/desk")
            .await
            .text()
            .contains(&format!("{draft}/read"))
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
        api_tokens::bearer(
            &mut app.site.db.read().await.unwrap(),
            &hash,
            app.site.clock.now(),
        )
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

/// A browser of an account that an owner invited.
pub async fn invited<'a>(
    app: &'a TestApp,
    owner: &mut Browser<'a>,
    name: &str,
    role: &str,
) -> Browser<'a> {
    let link = invitation(owner, name, role).await;
    let mut browser = Browser::new(app);
    let page = browser.get(&link).await;
    let chosen = form(&page, &link)
        .set("password", PASSWORD)
        .set("again", PASSWORD);
    let answer = browser.send(&chosen, None).await;
    assert_eq!(answer.header("location"), "/sign-in", "{}", answer.words());
    browser.sign_in(name, PASSWORD).await;
    browser
}

/// Makes a one-time link and gives its path.
async fn invitation(owner: &mut Browser<'_>, name: &str, role: &str) -> String {
    let page = owner.get("/desk/accounts").await;
    let asked = form(&page, "/desk/accounts")
        .set("name", name)
        .set("role", role);
    link_in(&owner.send(&asked, None).await)
}

fn link_in(answer: &crate::app::Answer) -> String {
    assert_eq!(answer.status, StatusCode::OK, "{}", answer.words());
    let html = answer.text();
    let start = html.find("/invited/").expect("a link is shown");
    html[start..start + "/invited/".len() + 43].to_owned()
}

/// The number of an account.
pub async fn number_of(app: &TestApp, name: &str) -> i64 {
    operators::find_by_name(&mut app.site.db.read().await.unwrap(), name)
        .await
        .unwrap()
        .expect("the account is there")
        .id
}

pub async fn press(
    owner: &mut Browser<'_>,
    id: i64,
    fields: &[(&str, &str)],
) -> crate::app::Answer {
    let page = owner.get("/desk/accounts").await;
    let csrf = form(&page, "/desk/accounts").value("csrf").to_owned();
    let mut sent = vec![("csrf".to_owned(), csrf)];
    sent.extend(
        fields
            .iter()
            .map(|(n, v)| ((*n).to_owned(), (*v).to_owned())),
    );
    owner
        .post(&format!("/desk/accounts/{id}"), &sent, &[])
        .await
}

#[tokio::test]
async fn an_invited_reader_reads_drafts_and_changes_nothing() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let mut bea = invited(&app, &mut ada, "Bea", "reader").await;
    let desk = bea.get("/desk").await;
    assert!(desk.words().contains("Signed in as Bea"));
    assert!(!desk.text().contains("action=\"/desk/draft\""));
    assert!(!desk.text().contains("href=\"/desk/accounts\""));
    let read = bea.get(&format!("{draft}/read")).await;
    assert!(read.words().contains("Unpublished preview"));
    assert_eq!(bea.get(&draft).await.status, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn an_invitation_opens_once_and_the_newest_alone() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let first = invitation(&mut ada, "Bea", "editor").await;
    let second = invitation(&mut ada, "Bea", "editor").await;
    let mut bea = Browser::new(&app);
    assert_eq!(bea.get(&first).await.status, StatusCode::NOT_FOUND);
    let page = bea.get(&second).await;
    assert!(page.words().contains("You are invited as Bea, editor"));
    let weak = form(&page, &second)
        .set("password", "passwordpassword")
        .set("again", "passwordpassword");
    let refused = bea.send(&weak, None).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(!refused.text().contains("passwordpassword"));
    let good = form(&page, &second)
        .set("password", PASSWORD)
        .set("again", PASSWORD);
    assert_eq!(bea.send(&good, None).await.status, StatusCode::SEE_OTHER);
    assert_eq!(bea.send(&good, None).await.status, StatusCode::NOT_FOUND);
    assert_eq!(bea.get("/invited/x").await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn another_role_ends_the_sessions_and_the_last_owner_stays() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let mut bea = invited(&app, &mut ada, "Bea", "editor").await;
    let (ada_id, bea_id) = (number_of(&app, "Ada").await, number_of(&app, "Bea").await);
    for action in ["role", "deactivate"] {
        let refused = press(&mut ada, ada_id, &[("action", action), ("role", "reader")]).await;
        assert_eq!(refused.status, StatusCode::CONFLICT);
        assert!(
            refused.words().contains("last owner"),
            "{}",
            refused.words()
        );
    }
    let made = press(&mut ada, bea_id, &[("action", "role"), ("role", "owner")]).await;
    assert_eq!(made.status, StatusCode::SEE_OTHER);
    assert_eq!(
        bea.get("/desk").await.status,
        StatusCode::SEE_OTHER,
        "signed out by it"
    );
    bea.sign_in("Bea", PASSWORD).await;
    assert_eq!(bea.get("/desk/accounts").await.status, StatusCode::OK);
    press(&mut bea, ada_id, &[("action", "deactivate")]).await;
    assert_eq!(ada.get("/desk").await.status, StatusCode::SEE_OTHER);
    let refused = ada.sign_in("Ada", PASSWORD).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    press(&mut bea, ada_id, &[("action", "reactivate")]).await;
    assert_eq!(
        ada.sign_in("Ada", PASSWORD).await.status,
        StatusCode::SEE_OTHER
    );
}

#[tokio::test]
async fn the_drafts_of_a_deactivated_account_are_taken_over_and_its_tokens_open_nothing() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let mut bea = invited(&app, &mut ada, "Bea", "editor").await;
    let draft = bea.new_draft().await;
    let tokens = bea.get("/desk/tokens").await;
    let made = form(&tokens, "/desk/tokens").set("label", "script");
    let html = bea.send(&made, None).await.text();
    let at = html.find("value=\"bb_").unwrap() + 7;
    let hash = brickbook::web::auth::hash_of(&html[at..at + 46]);
    let bea_id = number_of(&app, "Bea").await;
    let early = press(&mut ada, bea_id, &[("action", "take-drafts")]).await;
    assert_eq!(early.status, StatusCode::CONFLICT);
    press(&mut ada, bea_id, &[("action", "deactivate")]).await;
    press(&mut ada, bea_id, &[("action", "take-drafts")]).await;
    assert_eq!(ada.get(&draft).await.status, StatusCode::OK);
    let now = app.site.clock.now();
    let mut connection = app.site.db.read().await.unwrap();
    let bearer = api_tokens::bearer(&mut connection, &hash, now).await;
    assert_eq!(bearer.unwrap(), None);
}

#[tokio::test]
async fn another_password_needs_the_old_one_and_ends_all_other_sessions() {
    let app = TestApp::empty().await;
    let mut here = Browser::set_up(&app).await;
    let mut elsewhere = Browser::new(&app);
    elsewhere.sign_in("Ada", PASSWORD).await;
    let before = here.cookies["brickbook_session"].clone();
    let page = here.get("/desk/account").await;
    let new = "umbrella moss teapot";
    let typed = form(&page, "/desk/account/password")
        .set("password", new)
        .set("again", new);
    let refused = here
        .send(&typed.clone().set("old", "not the old one"), None)
        .await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(elsewhere.get("/desk").await.status, StatusCode::OK);
    let done = here.send(&typed.set("old", PASSWORD), None).await;
    assert_eq!(done.status, StatusCode::SEE_OTHER, "{}", done.words());
    assert_eq!(elsewhere.get("/desk").await.status, StatusCode::SEE_OTHER);
    assert_eq!(here.get("/desk").await.status, StatusCode::OK);
    assert_ne!(here.cookies["brickbook_session"], before, "a new session");
    let refused = elsewhere.sign_in("Ada", PASSWORD).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    elsewhere.sign_in("Ada", new).await;
    assert_eq!(elsewhere.get("/desk").await.status, StatusCode::OK);
}

#[tokio::test]
async fn sessions_are_listed_and_ended_one_by_one_and_all_others_at_once() {
    let app = TestApp::empty().await;
    let mut here = Browser::set_up(&app).await;
    let mut others = [Browser::new(&app), Browser::new(&app)];
    for other in &mut others {
        other.sign_in("Ada", PASSWORD).await;
    }
    let page = here.get("/desk/account").await;
    let html = page.text();
    let at = html.find("/desk/account/sessions/").unwrap();
    let action: String = html[at..].chars().take_while(|c| *c != '"').collect();
    let ended = here.send(&form_in(&html, &action), None).await;
    assert_eq!(ended.status, StatusCode::SEE_OTHER);
    let [one, two] = &mut others;
    let open = [one.get("/desk").await.status, two.get("/desk").await.status];
    assert_eq!(
        open.iter().filter(|s| **s == StatusCode::OK).count(),
        1,
        "one of the two"
    );
    here.send(&form(&page, "/desk/account/sessions/end"), None)
        .await;
    for other in &mut others {
        assert_eq!(other.get("/desk").await.status, StatusCode::SEE_OTHER);
    }
    assert_eq!(here.get("/desk").await.status, StatusCode::OK);
}

#[tokio::test]
async fn what_was_done_stands_in_the_audit_log_for_owners_without_secrets() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let link = invitation(&mut ada, "Bea", "editor").await;
    let discard = ada.get(&format!("{draft}/discard")).await;
    ada.send(&form(&discard, &format!("{draft}/discard")), None)
        .await;
    let lines = audit::list(
        &mut app.site.db.read().await.unwrap(),
        &Wanted::default(),
        100,
    )
    .await
    .unwrap();
    let actions: Vec<&str> = lines
        .iter()
        .rev()
        .map(|line| line.action.as_str())
        .collect();
    assert_eq!(
        actions,
        [
            "account.added",
            "session.begun",
            "draft.begun",
            "account.invited",
            "draft.discarded"
        ]
    );
    assert!(
        lines
            .iter()
            .all(|line| line.who == "Ada" && line.via == "desk")
    );
    let (begun, discarded) = (&lines[2], &lines[0]);
    assert_eq!(begun.object, discarded.object);
    assert_eq!(begun.after_sha256, discarded.before_sha256);
    let page = ada.get("/desk/audit?action=draft").await;
    assert!(page.words().contains("draft.begun") && !page.words().contains("account.invited"));
    let file = ada.get("/desk/audit.csv").await;
    assert!(file.header("content-type").starts_with("text/csv"));
    let mut reader = csv::Reader::from_reader(file.bytes.as_slice());
    assert_eq!(reader.records().map(Result::unwrap).count(), 5);
    for secret in [PASSWORD, link.trim_start_matches("/invited/")] {
        assert!(!file.text().contains(secret));
    }
}

// ---- second factor ----

/// The code that an authenticator app with this secret shows (a library of another make would do as
/// well; the server's own arithmetic is checked against RFC 6238 in `web/second_factor.rs`).
fn code_of(secret: &str, at: time::OffsetDateTime) -> String {
    let secret = totp_rs::Secret::try_from_base32(secret.replace(' ', "")).unwrap();
    let app = totp_rs::Builder::new().with_secret(secret).build().unwrap();
    app.generate(at.unix_timestamp() as u64).to_string()
}

/// Sets a second factor up and gives its secret and the recovery codes.
pub async fn with_app(
    browser: &mut Browser<'_>,
    now: time::OffsetDateTime,
) -> (String, Vec<String>) {
    let page = browser.get("/desk/account").await;
    let begun = form(&page, "/desk/account/codes").set("password", PASSWORD);
    let page = browser.send(&begun, None).await;
    let html = page.text();
    let secret = html.split("<p><code>").nth(1).unwrap();
    let secret = secret.split('<').next().unwrap().to_owned();
    assert!(html.contains("<svg role=\"img\""));
    let wrong = form(&page, "/desk/account/codes/confirm").set("code", "000000");
    let refused = browser.send(&wrong, None).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    let right = form(&page, "/desk/account/codes/confirm").set("code", &code_of(&secret, now));
    let html = browser.send(&right, None).await.text();
    let codes: Vec<String> = html
        .split("<li><code>")
        .skip(1)
        .map(|rest| rest.split('<').next().unwrap().to_owned())
        .collect();
    assert_eq!(codes.len(), 10, "{html}");
    (secret, codes)
}

/// Gives a code after the password.
async fn second(browser: &mut Browser<'_>, code: &str) -> crate::app::Answer {
    let page = browser.get("/sign-in/second").await;
    let typed = form(&page, "/sign-in/second").set("code", code);
    browser.send(&typed, None).await
}

#[tokio::test]
async fn a_code_is_asked_for_after_the_password_and_opens_once() {
    let (app, now) = on_a_clock().await;
    let mut ada = Browser::set_up(&app).await;
    let at = *now.lock().unwrap();
    let (secret, _) = with_app(&mut ada, at).await;
    assert_eq!(ada.get("/desk").await.status, StatusCode::OK);

    let mut elsewhere = Browser::new(&app);
    let asked = elsewhere.sign_in("Ada", PASSWORD).await;
    assert_eq!(asked.header("location"), "/sign-in/second?next=%2Fdesk");
    assert_eq!(
        elsewhere.get("/desk").await.status,
        StatusCode::SEE_OTHER,
        "the password alone opens nothing"
    );
    let used = second(&mut elsewhere, &code_of(&secret, at)).await;
    assert_eq!(
        used.status,
        StatusCode::UNPROCESSABLE_ENTITY,
        "the code that set it up was used"
    );
    *now.lock().unwrap() += Duration::seconds(60);
    let code = code_of(&secret, at + Duration::seconds(60));
    assert_eq!(
        second(&mut elsewhere, &code).await.header("location"),
        "/desk"
    );
    assert_eq!(elsewhere.get("/desk").await.status, StatusCode::OK);

    let mut again = Browser::new(&app);
    again.sign_in("Ada", PASSWORD).await;
    let replayed = second(&mut again, &code).await;
    assert_eq!(replayed.status, StatusCode::UNPROCESSABLE_ENTITY);
    *now.lock().unwrap() += Duration::minutes(6);
    assert_eq!(
        again.get("/sign-in/second").await.header("location"),
        "/sign-in",
        "the password was given too long ago"
    );
}

#[tokio::test]
async fn a_recovery_code_opens_once_in_place_of_the_app() {
    let (app, now) = on_a_clock().await;
    let mut ada = Browser::set_up(&app).await;
    let at = *now.lock().unwrap();
    let (_, codes) = with_app(&mut ada, at).await;
    let mut elsewhere = Browser::new(&app);
    elsewhere.sign_in("Ada", PASSWORD).await;
    let typed = codes[3].to_uppercase().replace('-', " ");
    assert_eq!(
        second(&mut elsewhere, &typed).await.status,
        StatusCode::SEE_OTHER
    );
    let account = elsewhere.get("/desk/account").await;
    assert!(account.words().contains("Recovery codes left: 9"));
    let mut again = Browser::new(&app);
    again.sign_in("Ada", PASSWORD).await;
    let refused = second(&mut again, &codes[3]).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn a_second_factor_is_taken_away_with_the_password_or_by_an_owner() {
    let (app, now) = on_a_clock().await;
    let at = *now.lock().unwrap();
    let mut ada = Browser::set_up(&app).await;
    with_app(&mut ada, at).await;
    let mut page = ada.get("/desk/account").await;
    let wrong = form(&page, "/desk/account/codes/remove").set("password", "a wrong password");
    let refused = ada.send(&wrong, None).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.words().contains("The present password is wrong"));
    page = ada.get("/desk/account").await;
    let right = form(&page, "/desk/account/codes/remove").set("password", PASSWORD);
    ada.send(&right, None).await;
    let mut elsewhere = Browser::new(&app);
    elsewhere.sign_in("Ada", PASSWORD).await;
    assert_eq!(elsewhere.get("/desk").await.status, StatusCode::OK);

    let mut bea = invited(&app, &mut ada, "Bea", "editor").await;
    with_app(&mut bea, at).await;
    let id = number_of(&app, "Bea").await;
    press(&mut ada, id, &[("action", "remove-second")]).await;
    assert_eq!(
        bea.get("/desk").await.status,
        StatusCode::SEE_OTHER,
        "signed out by it"
    );
    bea.sign_in("Bea", PASSWORD).await;
    assert_eq!(bea.get("/desk").await.status, StatusCode::OK);
}

#[tokio::test]
async fn a_link_for_another_password_does_not_go_round_the_second_factor() {
    let (app, now) = on_a_clock().await;
    let at = *now.lock().unwrap();
    let mut ada = Browser::set_up(&app).await;
    let mut bea = invited(&app, &mut ada, "Bea", "editor").await;
    with_app(&mut bea, at).await;
    let id = number_of(&app, "Bea").await;
    let link = link_in(&press(&mut ada, id, &[("action", "password-link")]).await);
    let new = "umbrella moss teapot";
    let page = bea.get(&link).await;
    let chosen = form(&page, &link).set("password", new).set("again", new);
    assert_eq!(bea.send(&chosen, None).await.header("location"), "/sign-in");
    let asked = bea.sign_in("Bea", new).await;
    assert!(asked.header("location").starts_with("/sign-in/second"));
    assert_eq!(bea.get("/desk").await.status, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn whoever_is_deactivated_or_gets_another_password_between_password_and_code_begins_anew() {
    let (app, now) = on_a_clock().await;
    let mut ada = Browser::set_up(&app).await;
    let mut bea = invited(&app, &mut ada, "Bea", "editor").await;
    let at = *now.lock().unwrap();
    let (secret, codes) = with_app(&mut bea, at).await;
    let id = number_of(&app, "Bea").await;

    bea.sign_in("Bea", PASSWORD).await;
    let asked = bea.get("/sign-in/second").await;
    press(&mut ada, id, &[("action", "deactivate")]).await;
    press(&mut ada, id, &[("action", "reactivate")]).await;
    let link = link_in(&press(&mut ada, id, &[("action", "password-link")]).await);
    let mut elsewhere = Browser::new(&app);
    let page = elsewhere.get(&link).await;
    let chosen = form(&page, &link)
        .set("password", "umbrella moss teapot")
        .set("again", "umbrella moss teapot");
    elsewhere.send(&chosen, None).await;
    *now.lock().unwrap() += Duration::seconds(60);
    let code = code_of(&secret, at + Duration::seconds(60));
    let typed = form(&asked, "/sign-in/second").set("code", &code);
    let answer = bea.send(&typed, None).await;
    assert_eq!(answer.header("location"), "/sign-in");

    bea.sign_in("Bea", "umbrella moss teapot").await;
    press(&mut ada, id, &[("action", "deactivate")]).await;
    let answer = second(&mut bea, &codes[0]).await;
    assert_eq!(answer.header("location"), "/sign-in");
    press(&mut ada, id, &[("action", "reactivate")]).await;
    assert_eq!(bea.get("/desk").await.status, StatusCode::SEE_OTHER);
}

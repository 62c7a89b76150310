//! The main job from end to end, and what must not get lost on the way.

use crate::desk::{self, begin_record, fill, follow_link, press_button};
use crate::driver::{Browser, key};
use crate::server::Server;

#[tokio::test(flavor = "multi_thread")]
async fn a_tester_enters_judges_publishes_finds_compares_and_shares_a_unit_by_keyboard_alone() {
    let server = Server::demo();
    let browser = Browser::start().await;
    desk::set_up(&browser, &server).await;
    desk::sign_out(&browser).await;
    desk::sign_in(&browser, &server).await;

    begin_record(&browser).await;
    for (name, text) in desk::readings() {
        fill(&browser, &name, &text).await;
    }
    // Judged beside the form, by the server, without any button.
    let judged = "return /^[0-9]/.test(document.querySelector('#panel .figure')?.innerText ?? '')
        && [...document.querySelectorAll('#panel .mark')].some(m => m.innerText.includes('pass'))
        && document.getElementById('saved').innerText.startsWith('Saved')";
    browser
        .wait_until("the unit is judged while it is entered", judged)
        .await;
    let problems = browser
        .ask("return document.querySelectorAll('#panel .problems li').length")
        .await;
    assert_eq!(problems, 0, "{}", browser.visible_text().await);
    press_button(&browser, "Go on to publish").await;
    browser.wait_for_text("Publish Larkfield LF-30K").await;
    fill(&browser, "reason", "first test").await;
    press_button(&browser, "Publish").await;

    let published = "return location.pathname.startsWith('/unit/larkfield-lf-30k')";
    browser.wait_until("the unit has its page", published).await;
    let text = browser.visible_text().await;
    assert!(
        text.contains("Larkfield LF-30K") && text.contains("Ada Bench"),
        "{text}"
    );
    assert!(text.to_lowercase().contains("measured by us"), "{text}");

    // Found on the leaderboard by typing its name.
    follow_link(&browser, "Brickbook").await;
    browser
        .wait_until("the ranking is open", "return location.pathname === '/'")
        .await;
    fill(&browser, "q", "larkf 30k").await;
    let found = "return [...document.querySelectorAll('#board tbody th a')]
        .map(a => a.innerText).join() === 'Larkfield LF-30K'";
    browser
        .wait_until("the search leaves this one unit", found)
        .await;
    let row = |f: &crate::driver::Focused| f.name == "unit" && f.label.contains("Larkfield LF-30K");
    browser.tab_to("the unit's box", row).await;
    browser.press(&[key::SPACE]).await;

    // Another one beside it; what was chosen stays chosen while the table changes.
    browser.tab_to("the search", |f| f.name == "q").await;
    browser.press_with(key::CONTROL, 'a').await;
    browser.type_text("castrelle ct-15").await;
    let other = "return [...document.querySelectorAll('#board tbody th a')]
        .every(a => a.innerText.startsWith('Castrelle'))";
    browser
        .wait_until("the search shows the other unit", other)
        .await;
    browser
        .tab_to("the other unit's box", |f| {
            f.name == "unit" && f.label.contains("Castrelle")
        })
        .await;
    browser.press(&[key::SPACE]).await;
    press_button(&browser, "Compare the chosen ones").await;
    browser
        .wait_until(
            "they are compared",
            "return location.pathname === '/compare'",
        )
        .await;
    let compared = browser.visible_text().await;
    assert!(
        compared.contains("Larkfield LF-30K") && compared.contains("Castrelle"),
        "{compared}"
    );
    let shared = browser.address().await;

    // The link shows the same to somebody who knows nothing of this browser.
    let stranger = Browser::stranger().await;
    stranger.open(shared.as_str()).await;
    let seen = stranger.visible_text().await;
    assert!(
        seen.contains("Larkfield LF-30K") && seen.contains("Castrelle"),
        "{seen}"
    );
    assert!(!seen.contains("Signed in"), "{seen}");
    follow_link(&stranger, "Larkfield LF-30K (sample A)").await;
    stranger.wait_until("the unit is open", published).await;
    assert!(!stranger.visible_text().await.contains("Signed in"));

    for browser in [&browser, &stranger] {
        assert_eq!(browser.console_errors().await, Vec::<String>::new());
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn what_was_typed_before_the_tab_closed_is_there_when_the_draft_is_opened_again() {
    let server = Server::start();
    let browser = Browser::start().await;
    desk::set_up(&browser, &server).await;
    let first = browser.client.window().await.expect("the first tab");
    let tab = browser.client.new_window(true).await.expect("a second tab");
    browser
        .client
        .switch_to_window(tab.handle)
        .await
        .expect("the second tab");
    browser.open(&server.url("/desk")).await;
    begin_record(&browser).await;
    fill(&browser, "unit.maker", "Brackwater").await;
    fill(&browser, "unit.model", "B-45").await;
    fill(&browser, "unit.nameplate.output_power_w", "45").await;
    // Closed at once: nothing waits for a save.
    browser.client.close_window().await.expect("the tab closes");
    browser
        .client
        .switch_to_window(first)
        .await
        .expect("the first tab is still there");

    let deadline = tokio::time::Instant::now() + crate::driver::PATIENCE;
    loop {
        browser.open(&server.url("/desk/draft/1")).await;
        let kept = browser
            .ask(
                "return ['unit.maker', 'unit.model', 'unit.nameplate.output_power_w']
                .map(n => document.getElementsByName(n)[0].value).join()",
            )
            .await;
        if kept == "Brackwater,B-45,45" {
            break;
        }
        assert!(
            tokio::time::Instant::now() < deadline,
            "only this was kept: {kept}"
        );
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn what_the_form_calls_saved_survives_a_killed_server() {
    let mut server = Server::start();
    let browser = Browser::start().await;
    desk::set_up(&browser, &server).await;
    begin_record(&browser).await;
    fill(&browser, "unit.maker", "Brackwater").await;
    fill(&browser, "unit.model", "B-45").await;
    let saved = "return document.getElementById('saved').innerText.startsWith('Saved')";
    browser
        .wait_until("the form says that it is saved", saved)
        .await;
    server.kill_and_start_again();

    // Typing goes on in the same page, and the next save finds the server again.
    fill(&browser, "unit.sample", "second").await;
    browser.wait_until("the form is saved again", saved).await;
    let stranger = Browser::stranger().await;
    desk::sign_in(&stranger, &server).await;
    stranger.open(&server.url("/desk/draft/1")).await;
    let kept = stranger
        .ask(
            "return ['unit.maker', 'unit.model', 'unit.sample']
            .map(n => document.getElementsByName(n)[0].value).join()",
        )
        .await;
    assert_eq!(kept, "Brackwater,B-45,second");
}

#[tokio::test(flavor = "multi_thread")]
async fn without_scripts_a_unit_is_entered_and_published_by_plain_forms() {
    let server = Server::start();
    let browser = Browser::without_scripts().await;
    desk::set_up(&browser, &server).await;
    begin_record(&browser).await;
    for (name, text) in desk::readings() {
        fill(&browser, &name, &text).await;
    }
    press_button(&browser, "Go on to publish").await;
    browser.wait_for_text("Publish Larkfield LF-30K").await;
    fill(&browser, "reason", "first test").await;
    browser.press(&[key::ENTER]).await;
    let published = "return location.pathname.startsWith('/unit/larkfield-lf-30k')";
    browser.wait_until("the unit has its page", published).await;

    // Filtering and comparing are plain forms as well.
    browser.open(&server.url("/")).await;
    fill(&browser, "q", "lf-30k").await;
    browser.press(&[key::ENTER]).await;
    let filtered = "return location.search.includes('q=lf-30k')
        && document.querySelectorAll('#board tbody th a').length === 1";
    browser
        .wait_until("the ranking is filtered", filtered)
        .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_token_made_at_the_desk_lets_a_program_publish_until_it_is_revoked() {
    let server = Server::start();
    let browser = Browser::start().await;
    desk::set_up(&browser, &server).await;
    follow_link(&browser, "Tokens for programs").await;
    browser.wait_for_text("What is it for?").await;
    fill(&browser, "label", "bench script").await;
    browser.press(&[key::ENTER]).await;
    browser.wait_for_text("Copy the token now").await;
    let token = browser
        .ask("return document.getElementById('made').value")
        .await;
    let token = token.as_str().expect("a token is text");

    let send = |model: &str| {
        let record = serde_json::json!({
            "format": "brickbook-record/1",
            "unit": {"maker": "Brackwater", "model": model, "nameplate": {"output_power_w": 45}}
        });
        reqwest::Client::new()
            .post(server.url("/api/v1/units"))
            .bearer_auth(token)
            .json(&record)
            .send()
    };
    assert_eq!(send("B-45").await.expect("the API answers").status(), 201);
    press_button(&browser, "Revoke").await;
    browser.wait_for_text("revoked").await;
    assert_eq!(send("B-46").await.expect("the API answers").status(), 401);

    browser.open(&server.url("/?q=brackwater")).await;
    let text = browser.visible_text().await;
    assert!(text.contains("B-45") && !text.contains("B-46"), "{text}");
}

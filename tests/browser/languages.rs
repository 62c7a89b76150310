//! The language of a page, changed by keyboard; and how a locale writes things, as Chromium's copy of
//! CLDR has it.

use crate::driver::{Browser, key};
use crate::server::Server;
use brickbook::text::{self, Language};

#[tokio::test(flavor = "multi_thread")]
async fn the_language_is_changed_by_keyboard_and_the_page_and_its_question_stay() {
    let server = Server::demo();
    let browser = Browser::start().await;
    browser.open(&server.url("/class/w100?sort=price")).await;
    browser
        .tab_to("the other language", |f| f.text == "Deutsch")
        .await;
    browser.press(&[key::ENTER]).await;
    let german = "return location.pathname + location.search === '/de/class/w100?sort=price'
        && document.documentElement.lang === 'de'";
    browser.wait_until("the page is German", german).await;
    assert!(
        browser
            .visible_text()
            .await
            .contains("an jeweils einem Exemplar gemessen")
    );
    // It stays so from page to page, and while the table answers.
    browser.tab_to("the search", |f| f.name == "q").await;
    browser.type_text("a").await;
    let answered = "return location.search.includes('q=a') && location.pathname.startsWith('/de/')";
    browser
        .wait_until("the search has answered", answered)
        .await;
    let counted = "return / von \\d+ Netzteilen?/.test(document.getElementById('count').innerText)";
    browser.wait_until("the count is German", counted).await;
    browser
        .tab_to("the method", |f| f.tag == "a" && f.text == "Verfahren")
        .await;
    browser.press(&[key::ENTER]).await;
    let method = "return location.pathname === '/de/method'";
    browser.wait_until("the method in German", method).await;
    browser
        .tab_to("the other language", |f| f.text == "English")
        .await;
    browser.press(&[key::ENTER]).await;
    let english =
        "return location.pathname === '/method' && document.documentElement.lang === 'en'";
    browser.wait_until("the page is English", english).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn decimal_marks_and_months_are_those_of_the_locale() {
    let server = Server::start();
    let browser = Browser::start().await;
    browser.open(&server.url("/method")).await;
    for language in Language::ALL {
        let id = language.id();
        let mark = format!("return new Intl.NumberFormat('{id}').format(0.5)");
        let ours = language.speak(|| text::localised("0.5".to_owned()));
        assert_eq!(browser.ask(&mark).await, ours, "{id}");
        for month in 1..=12 {
            let iso = format!("2026-{month:02}-07");
            let ours = language.speak(|| text::date(&iso)).replace('\u{a0}', " ");
            let theirs = match language {
                // The order of British English with the months of American: house style.
                Language::English => format!(
                    "const m = new Intl.DateTimeFormat('en', {{month: 'short', timeZone: 'UTC'}});
                     return '7 ' + m.format(new Date('{iso}')) + ' 2026'"
                ),
                Language::German => format!(
                    "const m = new Intl.DateTimeFormat('de', {{day: 'numeric', month: 'short',
                         year: 'numeric', timeZone: 'UTC'}});
                     return m.format(new Date('{iso}'))"
                ),
            };
            assert_eq!(browser.ask(&theirs).await, ours, "{id}");
        }
    }
}

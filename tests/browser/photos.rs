//! Photos at the bench form by keyboard: chosen, uploaded in sight, captioned, put in order,
//! published; and the same without script.

use crate::desk::{self, begin_record, press_button};
use crate::driver::{Browser, key};
use crate::server::Server;
use brickbook::photo;
use fantoccini::Locator;
use std::path::{Path, PathBuf};

/// A plain picture of its own colour in a file.
pub fn picture(folder: &Path, name: &str, colour: u8) -> PathBuf {
    let path = folder.join(name);
    let kept = photo::drawn(640, 480, vec![colour; 640 * 480 * 3]);
    std::fs::write(&path, kept.jpeg).expect("a file is written");
    path
}

/// Chooses files as the file dialog would.
pub async fn choose(browser: &Browser, paths: &[&Path]) {
    let input = browser
        .client
        .find(Locator::Css("#photo-files"))
        .await
        .expect("the form asks for photos");
    let paths: Vec<&str> = paths.iter().filter_map(|path| path.to_str()).collect();
    input
        .send_keys(&paths.join("\n"))
        .await
        .expect("the files are chosen");
}

async fn captions(browser: &Browser) -> String {
    let script = "return [...document.querySelectorAll('.photo-row input[name$=caption]')]
        .map(input => input.value).join()";
    let found = browser.ask(script).await;
    found.as_str().unwrap_or_default().to_owned()
}

#[tokio::test(flavor = "multi_thread")]
async fn photos_are_added_captioned_and_put_in_order_by_keyboard_and_published() {
    let folder = tempfile::tempdir().expect("a temporary directory");
    let front = picture(folder.path(), "front.jpg", 90);
    let label = picture(folder.path(), "label.jpg", 180);
    let notes = folder.path().join("notes.jpg");
    std::fs::write(&notes, "no picture").expect("a file is written");
    let server = Server::start();
    let browser = Browser::start().await;
    desk::set_up(&browser, &server).await;
    begin_record(&browser).await;
    desk::put_in_readings(&browser).await;

    browser
        .tab_to("the photo field", |focused| focused.name == "photo")
        .await;
    choose(&browser, &[&front, &label, &notes]).await;
    let done = "return document.querySelectorAll('.photo-row').length === 2
        && /2 photos added/.test(document.getElementById('photo-status').innerText)
        && [...document.querySelectorAll('.photo-row img')].every(img => img.naturalWidth === 480)";
    browser
        .wait_until("two photos stand in the form", done)
        .await;
    for (row, words) in [(0, "Front"), (1, "Label")] {
        browser
            .ask(&format!(
                "document.getElementById('f-photos-{row}-caption').focus()"
            ))
            .await;
        browser.type_text(words).await;
    }
    browser
        .wait_until(
            "it is saved",
            "return /^Saved/.test(document.getElementById('saved').innerText)",
        )
        .await;
    let text = browser.visible_text().await;
    assert!(text.contains("“notes.jpg” was not kept"), "{text}");
    browser
        .tab_to("the button that moves the second photo up", |focused| {
            focused.label == "Up, photo 2"
        })
        .await;
    browser.press(&[key::ENTER]).await;
    let moved =
        "return document.querySelector('.photo-row input[name$=caption]')?.value === 'Label'
        && document.activeElement.value === 'down:photos[0]'";
    browser
        .wait_until("the photo has moved and the keyboard with it", moved)
        .await;
    assert_eq!(captions(&browser).await, "Label,Front");

    browser.open(&server.url("/desk/draft/1/publish")).await;
    desk::fill(&browser, "reason", "first test").await;
    press_button(&browser, "Publish").await;
    let shown = "return document.querySelector('.head-photo img')?.alt === 'Label'
        && document.querySelector('.head-photo img').naturalWidth === 480
        && document.querySelectorAll('.gallery img').length === 2";
    browser
        .wait_until("the unit's page shows them in their order", shown)
        .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn photos_are_added_without_script_and_nothing_typed_is_lost() {
    let folder = tempfile::tempdir().expect("a temporary directory");
    let front = picture(folder.path(), "front.jpg", 90);
    let label = picture(folder.path(), "label.jpg", 180);
    let server = Server::start();
    let browser = Browser::without_scripts().await;
    desk::set_up(&browser, &server).await;
    begin_record(&browser).await;
    desk::fill(&browser, "unit.model", "LF-30 typed").await;
    choose(&browser, &[&front, &label]).await;
    press_button(&browser, "Upload").await;
    browser.wait_for_text("Remove").await;
    browser.wait_for_text("Caption").await;
    let rows = browser
        .client
        .find_all(Locator::Css(".photo-row img"))
        .await
        .expect("the page is there");
    assert_eq!(rows.len(), 2);
    let model = browser
        .client
        .find(Locator::Css("[name='unit.model']"))
        .await
        .expect("the form is there");
    let typed = model.attr("value").await.expect("it has a value");
    assert_eq!(typed.as_deref(), Some("LF-30 typed"));
}

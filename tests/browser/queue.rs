//! The queue by keys: adding, the warning while one types, ordering, and the way to the bench.

use crate::desk::{self, fill, press_button};
use crate::driver::{Browser, key};
use crate::server::Server;

/// Adds a candidate on the page of the queue, which is open.
pub async fn add(browser: &Browser, maker: &str, model: &str) {
    fill(browser, "maker", maker).await;
    fill(browser, "model", model).await;
    browser.press(&[key::ENTER]).await;
    let there = format!(
        "return [...document.querySelectorAll('.candidate')].some(c => c.dataset.name === '{maker} {model}')"
    );
    browser.wait_until("the candidate is listed", &there).await;
}

/// Moves the focus to the name of a candidate.
async fn focus(browser: &Browser, name: &str) {
    let link = |f: &crate::driver::Focused| f.tag == "a" && f.text == name;
    browser.tab_to(name, link).await;
}

const ORDER: &str = "[...document.querySelectorAll('.candidate')].map(c => c.dataset.name).join()";

#[tokio::test(flavor = "multi_thread")]
async fn candidates_are_added_ordered_and_put_on_the_bench_by_keys_alone() {
    let server = Server::start();
    let browser = Browser::start().await;
    desk::set_up(&browser, &server).await;
    browser.open(&server.url("/desk/queue")).await;
    for model in ["LF-20C", "LF-45C", "LF-65C"] {
        add(&browser, "Larkfield", model).await;
    }
    // Known already: said while one types, before anything is sent.
    fill(&browser, "maker", "Larkfeild").await;
    fill(&browser, "model", "LF 65 C").await;
    browser
        .wait_for_text("the maker is written differently")
        .await;

    browser.open(&server.url("/desk/queue")).await;
    focus(&browser, "Larkfield LF-65C").await;
    browser.press_with(key::ALT, key::ARROW_UP).await;
    browser.press_with(key::ALT, key::ARROW_UP).await;
    browser
        .wait_for_status("Larkfield LF-65C is now number 1 of 3.")
        .await;
    browser.press_with(key::ALT, key::ARROW_DOWN).await;
    browser
        .wait_for_status("Larkfield LF-65C is now number 2 of 3.")
        .await;
    let wanted = "Larkfield LF-20C,Larkfield LF-65C,Larkfield LF-45C";
    assert_eq!(browser.ask(&format!("return {ORDER}")).await, wanted);
    let focused = "return document.activeElement.innerText === 'Larkfield LF-65C'";
    assert_eq!(browser.ask(focused).await, true, "the focus moves along");
    browser.open(&server.url("/desk/queue")).await;
    assert_eq!(
        browser.ask(&format!("return {ORDER}")).await,
        wanted,
        "the server knows"
    );

    // By the button as well; at the end its fellow takes the focus.
    let up =
        |f: &crate::driver::Focused| f.tag == "button" && f.label == "Move Larkfield LF-65C up";
    browser.tab_to("the button up", up).await;
    browser.press(&[key::ENTER]).await;
    browser
        .wait_for_status("Larkfield LF-65C is now number 1 of 3.")
        .await;
    let label = "return document.activeElement.getAttribute('aria-label')";
    assert_eq!(browser.ask(label).await, "Move Larkfield LF-65C down");

    focus(&browser, "Larkfield LF-45C").await;
    browser.press(&['b']).await;
    let open = "return document.getElementsByName('unit.model')[0]?.value === 'LF-45C'";
    browser.wait_until("its bench record is open", open).await;
    browser.open(&server.url("/desk")).await;
    browser.wait_for_text("on the bench").await;
    assert_eq!(browser.console_errors().await, Vec::<String>::new());
}

#[tokio::test(flavor = "multi_thread")]
async fn a_candidate_is_dragged_to_its_place() {
    let server = Server::start();
    let browser = Browser::start().await;
    desk::set_up(&browser, &server).await;
    browser.open(&server.url("/desk/queue")).await;
    for model in ["LF-20C", "LF-45C", "LF-65C"] {
        add(&browser, "Larkfield", model).await;
    }
    // The events that a mouse would cause; a headless browser drags nothing by itself.
    let drag = "
        const rows = [...document.querySelectorAll('.candidate')];
        const data = new DataTransfer();
        const fire = (node, type, y) => node.dispatchEvent(
            new DragEvent(type, {bubbles: true, cancelable: true, dataTransfer: data, clientY: y}));
        fire(rows[0].querySelector('.handle'), 'dragstart', 0);
        const box = rows[2].getBoundingClientRect();
        fire(rows[2], 'dragover', box.bottom - 2);
        fire(rows[2], 'drop', box.bottom - 2);
        fire(rows[0], 'dragend', 0);";
    browser.ask(drag).await;
    browser
        .wait_for_status("Larkfield LF-20C is now number 3 of 3.")
        .await;
    browser.open(&server.url("/desk/queue")).await;
    let order = browser.ask(&format!("return {ORDER}")).await;
    assert_eq!(order, "Larkfield LF-45C,Larkfield LF-65C,Larkfield LF-20C");
}

#[tokio::test(flavor = "multi_thread")]
async fn without_scripts_the_buttons_do_it() {
    let server = Server::start();
    let browser = Browser::without_scripts().await;
    desk::set_up(&browser, &server).await;
    browser.open(&server.url("/desk/queue")).await;
    for model in ["LF-20C", "LF-45C"] {
        fill(&browser, "maker", "Larkfield").await;
        fill(&browser, "model", model).await;
        browser.press(&[key::ENTER]).await;
        browser.wait_for_text(model).await;
    }
    let up =
        |f: &crate::driver::Focused| f.tag == "button" && f.label == "Move Larkfield LF-45C up";
    browser.tab_to("the button up", up).await;
    browser.press(&[key::ENTER]).await;
    let moved = format!("return {ORDER} === 'Larkfield LF-45C,Larkfield LF-20C'");
    browser.wait_until("it has moved", &moved).await;
    press_button(&browser, "Start the bench record").await;
    let open = "return document.getElementsByName('unit.model')[0]?.value === 'LF-45C'";
    browser.wait_until("its bench record is open", open).await;
}

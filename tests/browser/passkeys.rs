//! Passkeys with a browser's own authenticator, and codes of an authenticator app, by keys alone.

use crate::desk::{self, NAME, PASSWORD, fill, follow_link, press_button};
use crate::driver::{Browser, key};
use crate::pages::look_over;
use crate::server::Server;

const OPEN: &str = "return document.querySelector('form[data-passkey]')?.hidden === false";

/// From the desk to the page of one's account, where passkeys can be added.
async fn to_account(browser: &Browser, server: &Server) {
    browser.open(&server.url("/desk/account")).await;
    browser.wait_until("passkeys can be added", OPEN).await;
}

/// Fills in the form for a new passkey and sends it.
async fn ask_for_one(browser: &Browser, name: &str, password: &str) {
    let field = |f: &crate::driver::Focused| f.label == "Name of a new one";
    browser.tab_to("the name of a passkey", field).await;
    browser.press_with(key::CONTROL, 'a').await;
    browser.type_text(name).await;
    browser.press(&[key::TAB]).await;
    browser.press_with(key::CONTROL, 'a').await;
    browser.type_text(password).await;
    press_button(browser, "Add a passkey").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_passkey_is_added_signs_in_alone_and_is_removed_by_keys() {
    let server = Server::start().at_localhost();
    let browser = Browser::start().await;
    browser.with_authenticator().await;
    desk::set_up(&browser, &server).await;
    to_account(&browser, &server).await;
    let mut faults = look_over(&browser).await;

    ask_for_one(&browser, "bench laptop", "not the password").await;
    browser.wait_for_text("The present password is wrong").await;
    // A refusal is itself an error in the console; that is how a browser tells it.
    let refused = browser.console_errors().await;
    assert!(
        refused.iter().all(|line| line.contains("status of 422")),
        "{refused:?}"
    );
    ask_for_one(&browser, "bench laptop", PASSWORD).await;
    let listed = "return [...document.querySelectorAll('.passkeys strong')].some(e => e.innerText === 'bench laptop')";
    browser.wait_until("the passkey is listed", listed).await;
    browser.wait_until("the page is whole", OPEN).await;
    faults.extend(look_over(&browser).await);
    // The same device makes no second one.
    ask_for_one(&browser, "again", PASSWORD).await;
    browser
        .wait_for_text("This device has a passkey of your account already.")
        .await;
    faults.extend(look_over(&browser).await);

    desk::sign_out(&browser).await;
    browser.open(&server.url("/sign-in")).await;
    browser.wait_until("a passkey is offered", OPEN).await;
    faults.extend(look_over(&browser).await);

    // Whoever has no passkey gets nowhere with the button.
    let stranger = Browser::stranger().await;
    stranger.with_authenticator().await;
    stranger.open(&server.url("/sign-in")).await;
    stranger.wait_until("a passkey is offered", OPEN).await;
    press_button(&stranger, "Sign in with a passkey").await;
    stranger.wait_for_text("No passkey came").await;
    stranger.open(&server.url("/desk")).await;
    stranger.wait_for_text("Password").await;
    drop(stranger);

    press_button(&browser, "Sign in with a passkey").await;
    browser.wait_for_text("Your drafts").await;
    browser.wait_for_text("Signed in as Ada Bench").await;
    assert_eq!(browser.console_errors().await, Vec::<String>::new());
    // Once more: devices count.
    desk::sign_out(&browser).await;
    browser
        .open(&server.url("/sign-in?next=%2Fdesk%2Faccount"))
        .await;
    browser.wait_until("a passkey is offered", OPEN).await;
    press_button(&browser, "Sign in with a passkey").await;
    browser.wait_until("its page is open", listed).await;

    let field = |f: &crate::driver::Focused| f.label == "Present password, to remove bench laptop";
    browser.tab_to("the password to remove it", field).await;
    browser.type_text(PASSWORD).await;
    let remove = |f: &crate::driver::Focused| f.label == "Remove the passkey bench laptop";
    browser.tab_to("the button to remove it", remove).await;
    browser.press(&[key::ENTER]).await;
    let gone = format!("return !(() => {{ {listed} }})()");
    browser.wait_until("it is gone", &gone).await;
    desk::sign_out(&browser).await;
    browser.open(&server.url("/sign-in")).await;
    browser.wait_until("a passkey is offered", OPEN).await;
    press_button(&browser, "Sign in with a passkey").await;
    browser
        .wait_for_text("This passkey opens no account here")
        .await;
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[tokio::test(flavor = "multi_thread")]
async fn where_no_passkey_can_be_bound_none_is_offered_and_the_page_says_why() {
    let server = Server::start();
    let browser = Browser::start().await;
    browser.open(&server.url("/sign-in")).await;
    assert_eq!(
        browser
            .ask("return !!document.querySelector('[data-passkey]')")
            .await,
        false
    );
    desk::set_up(&browser, &server).await;
    browser.open(&server.url("/desk/account")).await;
    browser
        .wait_for_text("passkeys need public_url with https")
        .await;
    drop(browser);

    // Without scripts nothing is offered that would not work.
    let server = server.at_localhost();
    let browser = Browser::without_scripts().await;
    browser.open(&server.url("/sign-in")).await;
    assert!(!browser.visible_text().await.contains("passkey"));
    desk::sign_in(&browser, &server).await;
    follow_link(&browser, "Your account").await;
    browser
        .wait_for_text("in a browser that knows passkeys, with scripts")
        .await;
}

/// What an app with this secret shows now.
fn code_of(secret: &str) -> String {
    let secret = totp_rs::Secret::try_from_base32(secret.replace(' ', "")).expect("base 32");
    let app = totp_rs::Builder::new().with_secret(secret).build();
    app.expect("a long secret").generate_current().to_string()
}

#[tokio::test(flavor = "multi_thread")]
async fn codes_are_set_up_and_asked_for_by_keys_on_pages_that_fit_a_phone() {
    let server = Server::start();
    let browser = Browser::start().await;
    desk::set_up(&browser, &server).await;
    browser.open(&server.url("/desk/account")).await;
    fill(&browser, "password", PASSWORD).await;
    press_button(&browser, "Set up an authenticator app").await;
    browser.wait_for_text("Scan this").await;
    let mut faults = look_over(&browser).await;
    let secret = browser
        .ask("return document.querySelector('.door code').innerText")
        .await;
    fill(
        &browser,
        "code",
        &code_of(secret.as_str().expect("a secret is text")),
    )
    .await;
    browser.press(&[key::ENTER]).await;
    browser.wait_for_text("Write these down now").await;
    faults.extend(look_over(&browser).await);
    let code = browser
        .ask("return document.querySelector('.codes code').innerText")
        .await;
    let code = code.as_str().expect("a code is text").to_owned();
    follow_link(&browser, "I have written them down").await;
    browser.wait_for_text("Recovery codes left: 10.").await;
    faults.extend(look_over(&browser).await);

    desk::sign_out(&browser).await;
    browser.open(&server.url("/sign-in")).await;
    fill(&browser, "name", NAME).await;
    fill(&browser, "password", PASSWORD).await;
    browser.press(&[key::ENTER]).await;
    browser.wait_for_text("Your password is right.").await;
    faults.extend(look_over(&browser).await);
    fill(&browser, "code", "000000").await;
    browser.press(&[key::ENTER]).await;
    browser.wait_for_text("This code is wrong").await;
    // A refusal is itself an error in the console; that is how a browser tells it.
    browser.console_errors().await;
    faults.extend(look_over(&browser).await);
    fill(&browser, "code", &code).await;
    browser.press(&[key::ENTER]).await;
    browser.wait_for_text("Your drafts").await;
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

//! How ports share, entered by keyboard one combination after the other.

use crate::desk::{self, begin_record, press_button};
use crate::driver::{Browser, key};
use crate::pages::look_over;
use crate::server::Server;

/// What an invented unit offers: C1 and C2 share 65 W, A is by itself.
fn offer(port: &str, in_use: &[&str]) -> &'static str {
    match port {
        "C1" if in_use.contains(&"C2") => "45",
        "C1" => "65",
        "C2" if in_use.contains(&"C1") => "20",
        "C2" => "30",
        _ => "12",
    }
}

/// A capability list as an analyser gives it: 5, 9, 15 and 20 V, and a programmable range.
const LIST: &str = "0x0801912C 0x0002D12C 0x0004B12C 0x00064145 0xC9A4213C";

/// Puts three ports into the open bench form and waits until they are saved.
async fn put_in_ports(browser: &Browser) {
    for _ in 0..2 {
        press_button(browser, "Add a port").await;
        browser
            .wait_until(
                "there is one more",
                "return document.readyState === 'complete' && document.activeElement?.name?.endsWith('.label')",
            )
            .await;
    }
    let fields = [
        ("unit.maker", "Larkfield"),
        ("unit.model", "LF-65T"),
        ("unit.nameplate.output_power_w", "65"),
        ("unit.ports[0].label", "C1"),
        ("unit.ports[0].connector", "usb-c"),
        ("unit.ports[0].power_w", "65"),
        ("unit.ports[0].pasted", LIST),
        ("unit.ports[1].label", "C2"),
        ("unit.ports[1].power_w", "30"),
        ("unit.ports[2].label", "A"),
        ("unit.ports[2].connector", "usb-a"),
        ("unit.ports[2].power_w", "12"),
    ];
    let script = format!(
        "for (const [name, text] of {}) document.getElementsByName(name)[0].value = text;
         document.getElementsByName('notes')[0]
             .dispatchEvent(new InputEvent('input', {{bubbles: true}}));",
        serde_json::to_string(&fields).expect("texts are JSON"),
    );
    browser.ask(&script).await;
    let saved = "return document.getElementById('saved').innerText.startsWith('Saved')";
    browser.wait_until("the ports are saved", saved).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn every_combination_of_three_ports_is_entered_by_keyboard_until_the_groups_are_settled() {
    let server = Server::start();
    let browser = Browser::start().await;
    desk::set_up(&browser, &server).await;
    begin_record(&browser).await;
    put_in_ports(&browser).await;
    browser
        .ask("document.querySelector('details.paste').open = true; document.getElementById('f-unit-ports-0-pasted').focus()")
        .await;
    press_button(&browser, "Read the list and add its voltages").await;
    browser.wait_for_text("Read 5 objects").await;
    let mut faults = look_over(&browser).await;
    press_button(&browser, "Enter combination by combination").await;
    browser.wait_for_text("How the ports share").await;

    let mut entered: Vec<String> = Vec::new();
    let mut settled_after = None;
    loop {
        let ready = "return document.readyState === 'complete' && !!document.querySelector('h1')";
        browser.wait_until("the page is there", ready).await;
        let text = browser.visible_text().await;
        if settled_after.is_none() && text.contains("The groups are settled") {
            assert!(
                text.contains("C1 and C2 form one group, A keeps its power"),
                "{text}"
            );
            settled_after = Some(entered.len());
        }
        if text.contains("Every combination is entered") {
            break;
        }
        let name = browser
            .ask("return document.getElementById('now').innerText")
            .await;
        let name = name.as_str().expect("a heading is text").to_owned();
        assert!(!entered.contains(&name), "{name} is asked for twice");
        let in_use: Vec<&str> = name.split(" + ").collect();
        if entered.is_empty() {
            faults.extend(look_over(&browser).await);
            // Nothing chosen: it says what is missing, and loses nothing.
            press_button(&browser, &format!("Save {name}, and the next")).await;
            browser.wait_for_text("Choose what C1 is offered").await;
            faults.extend(look_over(&browser).await);
        }
        for port in &in_use {
            let digit = browser
                .ask(&format!(
                    "const asked = [...document.querySelectorAll('[data-digits]')]
                         .find(g => g.querySelector('legend').innerText.startsWith('{port} '));
                     const place = [...asked.querySelectorAll('.choice b')]
                         .findIndex(b => parseFloat(b.innerText) === {});
                     return place + 1;",
                    offer(port, &in_use)
                ))
                .await;
            let digit = digit.as_u64().expect("a place is a number");
            assert!(
                (1..=9).contains(&digit),
                "{port} has no such choice: {text}"
            );
            browser.type_text(&digit.to_string()).await;
        }
        if in_use.len() > 1 {
            browser.type_text("1").await;
        }
        let focused = browser.focused().await;
        assert_eq!(focused.text, format!("Save {name}, and the next"));
        browser.press(&[key::ENTER]).await;
        entered.push(name.clone());
        let gone = format!("return document.getElementById('now')?.innerText !== '{name}'");
        browser.wait_until("the next one is asked for", &gone).await;
    }
    assert_eq!(entered.len(), 7, "{entered:?}");
    assert!(settled_after.is_some_and(|n| n < 7), "{settled_after:?}");
    assert_eq!(entered[3], "C1 + C2 + A");
    faults.extend(look_over(&browser).await);

    // The preview of the draft shows the ports and the matrix.
    browser.open(&server.url("/desk/draft/1")).await;
    faults.extend(look_over(&browser).await);
    press_button(&browser, "Make a link").await;
    let there = "return !!document.querySelector('.links a')";
    browser.wait_until("there is a link", there).await;
    let link = browser
        .ask("return document.querySelector('.links a').href")
        .await;
    browser.open(link.as_str().expect("a link is text")).await;
    let text = browser.visible_text().await;
    for part in [
        "C1 and C2 form one group, A keeps its power whatever the others do",
        "offers what a 65 W source must",
        "Attaching and detaching",
    ] {
        assert!(text.contains(part), "{part}: {text}");
    }
    browser
        .ask("for (const d of document.querySelectorAll('main details')) d.open = true")
        .await;
    faults.extend(look_over(&browser).await);
    // A refusal is itself an error in the console; that is how a browser tells it.
    faults.retain(|fault| !fault.contains("console: ") || !fault.contains("status of 422"));
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

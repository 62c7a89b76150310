//! What a tester does at the desk, by the keys a tester presses: nothing here points or clicks.

use crate::driver::{Browser, key};
use crate::server::Server;

pub const NAME: &str = "Ada Bench";
pub const PASSWORD: &str = "four plain wooden spoons";

/// Goes to `/set-up` and becomes the first operator.
pub async fn set_up(browser: &Browser, server: &Server) {
    let secret = server
        .secret
        .as_deref()
        .expect("a new database has a one-time secret");
    browser.open(&server.url("/set-up")).await;
    for (name, text) in [
        ("secret", secret),
        ("name", NAME),
        ("password", PASSWORD),
        ("again", PASSWORD),
    ] {
        fill(browser, name, text).await;
    }
    browser.press(&[key::ENTER]).await;
    browser.wait_for_text("Your drafts").await;
}

/// Goes to `/sign-in` and signs in.
pub async fn sign_in(browser: &Browser, server: &Server) {
    browser.open(&server.url("/sign-in")).await;
    fill(browser, "name", NAME).await;
    fill(browser, "password", PASSWORD).await;
    browser.press(&[key::ENTER]).await;
    browser.wait_for_text("Your drafts").await;
}

/// Signs out and waits until the site has forgotten who was there: whatever is opened before that
/// would be overtaken by the page that signing out leads to.
pub async fn sign_out(browser: &Browser) {
    press_button(browser, "Sign out").await;
    browser
        .wait_until(
            "nobody is signed in",
            "return document.readyState === 'complete' && !document.querySelector('.operator')",
        )
        .await;
}

/// From the desk to a new, empty record.
pub async fn begin_record(browser: &Browser) {
    press_button(browser, "New record").await;
    browser
        .wait_until(
            "the bench form is open",
            "return !!document.getElementById('bench')",
        )
        .await;
}

/// Moves the focus forward to the field of this name and types into it; in a list of choices the
/// first letters choose. What stood there is typed over.
pub async fn fill(browser: &Browser, name: &str, text: &str) {
    let field = browser
        .tab_to(&format!("the field {name}"), |f| f.name == name)
        .await;
    if !field.value.is_empty() && field.tag == "input" {
        browser.press_with(key::CONTROL, 'a').await;
    }
    browser.type_text(text).await;
}

/// Moves the focus forward to the button of this text and presses it.
pub async fn press_button(browser: &Browser, text: &str) {
    browser
        .tab_to(&format!("the button {text:?}"), |f| {
            f.tag == "button" && f.text == text
        })
        .await;
    browser.press(&[key::ENTER]).await;
}

/// Moves the focus forward to the link of this text and follows it.
pub async fn follow_link(browser: &Browser, text: &str) {
    browser
        .tab_to(&format!("the link {text:?}"), |f| {
            f.tag == "a" && f.text == text
        })
        .await;
    browser.press(&[key::ENTER]).await;
}

/// Readings of an invented 30 W adapter with one fixed output of 20 V, in the order in which the
/// bench form asks for them from top to bottom.
pub fn readings() -> Vec<(String, String)> {
    let mut fields: Vec<(String, String)> = [
        ("unit.maker", "Larkfield"),
        ("unit.model", "LF-30K"),
        ("unit.sample", "A"),
        ("unit.price.amount", "24.90"),
        ("unit.price.currency", "EUR"),
        ("unit.nameplate.output_power_w", "30"),
        ("unit.nameplate.input_voltage_min_v", "100 V"),
        ("unit.nameplate.input_voltage_max_v", "240 V"),
        ("unit.nameplate.input_current_a", "800 mA"),
        ("unit.nameplate.efficiency_mark", "VI"),
        ("unit.mass_g.adapter", "96 g"),
        ("unit.ports[0].label", "C1"),
        ("unit.ports[0].connector", "USB-C"),
        ("unit.ports[0].power_w", "30"),
        ("unit.ports[0].modes[0].voltage_v", "20"),
        ("unit.ports[0].modes[0].current_a", "1,5"),
    ]
    .map(|(name, text)| (name.to_owned(), text.to_owned()))
    .to_vec();
    // Accuracy of the instruments: without it no verdict knows its uncertainty.
    let quantities = [
        "input power",
        "no-load power",
        "output voltage",
        "output current",
    ];
    for (row, quantity) in quantities.iter().enumerate() {
        for (column, text) in [
            ("name", "bench set"),
            ("quantity", quantity),
            ("reading_percent", "0.1"),
        ] {
            fields.push((format!("instruments[{row}].{column}"), text.to_string()));
        }
    }
    for (run, no_load) in [(0, "0.041"), (1, "52 mW")] {
        let at = |rest: &str| format!("runs[{run}].{rest}");
        fields.push((at("ambient_c"), "23".into()));
        fields.push((at("rated_outputs[0].port"), "C1".into()));
        fields.push((at("rated_outputs[0].voltage_v"), "20".into()));
        fields.push((at("rated_outputs[0].current_a"), "1.5".into()));
        for (point, load) in [1.0, 0.75, 0.5, 0.25, 0.1].into_iter().enumerate() {
            let output_w: f64 = 30.0 * load;
            let input_w = output_w / 0.91 + 0.12;
            let point = |rest: &str| at(&format!("points[{point}].{rest}"));
            fields.push((point("input.power_w"), format!("{input_w:.3} W")));
            fields.push((point("input.power_factor"), "0.62".into()));
            fields.push((point("outputs[0].voltage_v"), "20.04".into()));
            fields.push((
                point("outputs[0].current_a"),
                format!("{:.4}", output_w / 20.04),
            ));
        }
        fields.push((at("no_load.power_w"), no_load.into()));
    }
    fields
}

/// Puts the readings into the open bench form at once, for tests that are not about typing, and
/// waits until they are saved.
pub async fn put_in_readings(browser: &Browser) {
    let fields: Vec<_> = readings()
        .into_iter()
        .map(|(name, text)| vec![name, text])
        .collect();
    let script = format!(
        "for (const [name, text] of {}) {{
            const field = document.getElementsByName(name)[0];
            if (field.tagName === 'SELECT')
                field.value = [...field.options].find(o => o.text.startsWith(text)).value;
            else field.value = text;
        }}
        document.getElementsByName('notes')[0]
            .dispatchEvent(new InputEvent('input', {{bubbles: true}}));",
        serde_json::to_string(&fields).expect("texts are JSON"),
    );
    browser.ask(&script).await;
    let judged = "return !!document.querySelector('#panel .figure')
        && document.getElementById('saved').innerText.startsWith('Saved')";
    browser
        .wait_until("the readings are judged and saved", judged)
        .await;
}

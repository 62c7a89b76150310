//! A whole unit entered from its plan on a phone beside the bench: the label on the draft's form,
//! then reading after reading on the sheet, until nothing is missing.

use crate::desk::{self, begin_record, fill, follow_link, press_button};
use crate::driver::{Browser, Width, key};
use crate::server::Server;
use std::collections::BTreeMap;

/// What is printed on an invented 20 W adapter.
const LABEL: &[(&str, &str)] = &[
    ("unit.maker", "Larkfield"),
    ("unit.model", "LF-20P"),
    ("unit.nameplate.output_power_w", "20"),
    ("unit.nameplate.input_voltage_min_v", "100"),
    ("unit.nameplate.input_voltage_max_v", "240"),
    ("unit.ports[0].label", "C1"),
    ("unit.ports[0].connector", "USB-C"),
    ("unit.ports[0].modes[0].voltage_v", "5"),
    ("unit.ports[0].modes[0].current_a", "3"),
];

/// What stands on the card of the load that has the focus: volts and amperes to set, as a tester
/// reads them off the screen.
const CARD: &str = "
    const load = document.activeElement.closest('.load');
    return [...load.querySelectorAll('.currents li')].map(li =>
        [parseFloat(li.querySelector('.at').innerText), parseFloat(li.querySelector('strong').innerText)]);";

/// The reading that an adapter of 89 % with 60 mW of its own would give there.
fn reading(name: &str, volts: f64, amps: f64) -> String {
    match name.rsplit('.').next().unwrap_or_default() {
        "power_w" if name.contains("no_load") => "0.062".to_owned(),
        "power_w" => format!("{:.3}", volts * amps / 0.89 + 0.06),
        "power_factor" => "0.61".to_owned(),
        "voltage_v" => format!("{:.3}", volts * 1.004),
        "current_a" => format!("{amps:.3}"),
        other => panic!("the sheet asks for {other}, which no verdict needs"),
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_whole_unit_is_entered_from_its_plan_on_a_phone_and_has_a_firm_score() {
    let server = Server::start();
    let browser = Browser::start().await;
    browser.show_at(Width::Phone).await;
    desk::set_up(&browser, &server).await;
    begin_record(&browser).await;
    for (name, text) in LABEL {
        fill(&browser, name, text).await;
    }
    press_button(&browser, "Add a voltage").await;
    let second = "return !!document.getElementsByName('unit.ports[0].modes[1].current_a')[0]";
    browser
        .wait_until("there is a second voltage", second)
        .await;
    fill(&browser, "unit.ports[0].modes[1].voltage_v", "9").await;
    fill(&browser, "unit.ports[0].modes[1].current_a", "2.22").await;
    browser
        .wait_until(
            "the label is saved",
            "return document.getElementById('saved').innerText.startsWith('Saved')",
        )
        .await;
    // The link stands above the fields: from the top of the page on.
    browser
        .ask("document.activeElement.blur(); scrollTo(0, 0)")
        .await;
    follow_link(&browser, "Bench sheet").await;
    browser.wait_for_text("Before the first reading").await;
    assert_eq!(browser.overflow_px().await, 0);

    // The steps before the first reading are ticked off by the keyboard.
    for name in ["plan.tick.set-up", "plan.tick.warm-up"] {
        browser.tab_to(name, |f| f.name == name).await;
        browser.press(&[key::SPACE]).await;
    }

    // F2 leads from one open reading to the next, until none is left.
    let mut typed: BTreeMap<String, String> = BTreeMap::new();
    loop {
        browser.press(&[key::F2]).await;
        let field = browser.focused().await;
        if !field.value.is_empty() || !field.name.starts_with("runs[") {
            break;
        }
        let card = browser.ask(CARD).await;
        let set = |k: usize| card[0][k].as_f64().unwrap_or(0.0);
        let text = reading(&field.name, set(0), set(1));
        browser.type_text(&text).await;
        let before = typed.insert(field.name.clone(), text);
        assert!(before.is_none(), "{} was asked for twice", field.name);
        assert!(typed.len() < 200, "the sheet never comes to an end");
    }
    // Two voltages on two supplies: at 115 V five loads with power, power factor, volts and
    // amperes; at 230 V without the power factor; no load once a supply.
    assert_eq!(typed.len(), 2 * 5 * 4 + 2 * 5 * 3 + 2, "{typed:?}");
    browser.wait_for_text("72 of 72 needed readings").await;
    let text = browser.visible_text().await;
    assert!(text.contains("Not provisional"), "{text}");
    assert!(!text.contains("to go"), "{text}");
    assert_eq!(browser.overflow_px().await, 0);

    // Everything is there after the page was opened anew, the ticks as well.
    browser.open(&server.url("/desk/draft/1/plan")).await;
    browser.wait_for_text("72 of 72 needed readings").await;
    let ticked = "return document.querySelectorAll('.step input:checked').length";
    assert_eq!(browser.ask(ticked).await.as_i64(), Some(2));
    assert_eq!(browser.console_errors().await, Vec::<String>::new());

    press_button(&browser, "Go on to publish").await;
    browser
        .wait_until(
            "publishing is asked about",
            "return location.pathname.endsWith('/publish')",
        )
        .await;
    press_button(&browser, "Publish").await;
    browser
        .wait_until(
            "the unit has its page",
            "return location.pathname.startsWith('/unit/')",
        )
        .await;
    let evaluation = reqwest::get(server.url("/unit/larkfield-lf-20p/evaluation.json")).await;
    let evaluation: serde_json::Value =
        serde_json::from_str(&evaluation.unwrap().text().await.unwrap()).unwrap();
    assert_eq!(evaluation["score"]["provisional"], false);
    assert!(evaluation["score"]["coverage"].as_f64() >= Some(0.8));
    for regime in evaluation["regimes"].as_array().unwrap() {
        let id = regime["regime"].as_str().unwrap();
        if [
            "us_doe_level_vi",
            "eu_2019_1782",
            "eu_coc_v5_tier1",
            "eu_coc_v5_tier2",
        ]
        .contains(&id)
        {
            let result = regime["result"].as_str().unwrap();
            assert!(
                !["incomplete", "not-assessed"].contains(&result),
                "{id}: {regime}"
            );
        }
    }
}

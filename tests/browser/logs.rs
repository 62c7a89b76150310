//! A raw log from the instrument to the verdict, as a tester works: uploaded with progress in
//! sight, read, cut on its chart, judged, published.

use crate::desk::{self, begin_record, fill, follow_link, press_button};
use crate::driver::{Browser, key};
use crate::server::Server;
use fantoccini::Locator;
use serde_json::json;
use std::path::{Path, PathBuf};

/// An hour and a half of an invented meter at ten rows a second: switched on, warm after ten
/// minutes, steady from then on.
pub fn no_load_log(folder: &Path) -> PathBuf {
    let mut text = String::from(
        "Bench log of an invented adapter\nInterval,0.1 s\n\nTime (s),Power (mW),Current (mA),Voltage (V)\n",
    );
    // A small generator, so that the noise is the same at every run.
    let mut state = 12_345_u64;
    let mut noise = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        (state >> 33) as f64 / f64::from(1_u32 << 31) - 0.5
    };
    for row in 0..54_000 {
        let second = f64::from(row) / 10.0;
        let warming = 30.0 * (-second / 150.0).exp();
        let power = 41.0 + warming + 2.0 * noise();
        text.push_str(&format!(
            "{second:.1},{power:.3},{:.3},{:.2}\n",
            3.1 + 0.1 * noise(),
            115.0 + 0.2 * noise()
        ));
    }
    let path = folder.join("noload-115.csv");
    std::fs::write(&path, text).expect("the log is written");
    path
}

/// Chooses a file as the file dialog would.
pub async fn choose_file(browser: &Browser, path: &Path) {
    let input = browser
        .client
        .find(Locator::Css("#log"))
        .await
        .expect("the page asks for a file");
    input
        .send_keys(path.to_str().expect("a path of ASCII"))
        .await
        .expect("the file is chosen");
}

/// Uploads a log and waits until what it holds is on the page.
pub async fn upload(browser: &Browser, server: &Server, path: &Path) {
    browser.open(&server.url("/desk/logs?draft=1")).await;
    choose_file(browser, path).await;
    press_button(browser, "Upload").await;
    browser.wait_for_text("What it holds").await;
}

async fn value(browser: &Browser, id: &str) -> f64 {
    let script = format!("return Number(document.getElementById('{id}').value)");
    browser.ask(&script).await.as_f64().unwrap_or(f64::NAN)
}

#[tokio::test(flavor = "multi_thread")]
async fn a_log_is_uploaded_in_sight_mapped_cut_by_dragging_judged_and_published() {
    let folder = tempfile::tempdir().expect("a temporary directory");
    let log = no_load_log(folder.path());
    let server = Server::start();
    let browser = Browser::start().await;
    desk::set_up(&browser, &server).await;
    begin_record(&browser).await;
    desk::put_in_readings(&browser).await;

    // A slow line, so that there is something to see on the way.
    browser.open(&server.url("/desk/logs?draft=1")).await;
    browser.devtools("Network.enable", json!({})).await;
    let slow = json!({"offline": false, "latency": 0, "downloadThroughput": -1, "uploadThroughput": 700_000});
    browser
        .devtools("Network.emulateNetworkConditions", slow)
        .await;
    choose_file(&browser, &log).await;
    press_button(&browser, "Upload").await;
    let half_way = "const bar = document.getElementById('upload-bar');
        return !document.getElementById('upload-progress').hidden && bar.value > 10 && bar.value < 95
            && /MB of .* MB, \\d+ %/.test(document.getElementById('upload-bytes').innerText)
            && /% sent|Uploading/.test(document.getElementById('upload-status').innerText);";
    browser
        .wait_until("the upload shows how far it is", half_way)
        .await;
    let fast =
        json!({"offline": false, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1});
    browser
        .devtools("Network.emulateNetworkConditions", fast)
        .await;
    // Not the words of the upload, which say that what it holds is being read.
    browser.wait_for_text("54\u{202f}000").await;
    assert!(browser.visible_text().await.contains("What it holds"));

    // Mapped: what was found is shown; the voltage is not wanted.
    follow_summary(&browser, "Encoding, cells, time and columns").await;
    let seen = browser
        .ask(
            "return [2, 3, 4].map(n => document.getElementById('q-' + n).value
                + ' ' + document.getElementById('x-' + n).value).join()",
        )
        .await;
    assert_eq!(
        seen,
        "input_power_w 0.001,input_current_a 0.001,input_voltage_v "
    );
    browser
        .ask("document.getElementById('q-4').value = ''; return 1")
        .await;
    press_button(&browser, "Read it like this").await;
    let remapped = "return !!document.getElementById('readout')
        && !document.querySelector('#cut-column').innerText.includes('voltage')";
    browser.wait_until("the log is read anew", remapped).await;

    // Cut: the first twelve minutes are dragged away on the chart.
    let area = browser
        .ask(
            "document.querySelector('.cut-chart').scrollIntoView({block: 'center'});
             const box = document.querySelector('.pick').getBoundingClientRect();
             return [box.left, box.top + box.height / 2, box.width];",
        )
        .await;
    let at = |index: usize| area[index].as_f64().expect("a place on the page");
    let (left, y, width) = (at(0), at(1), at(2));
    for (kind, part, buttons) in [
        ("mousePressed", 0.15, 1),
        ("mouseMoved", 0.5, 1),
        ("mouseMoved", 0.95, 1),
        ("mouseReleased", 0.95, 0),
    ] {
        let event = json!({"type": kind, "x": left + width * part, "y": y, "button": "left",
            "buttons": buttons, "clickCount": 1});
        browser.devtools("Input.dispatchMouseEvent", event).await;
    }
    let (from, to) = (
        value(&browser, "cut-from").await,
        value(&browser, "cut-to").await,
    );
    assert!((from - 810.0).abs() < 30.0, "{from}");
    assert!((to - 5130.0).abs() < 30.0, "{to}");
    press_button(&browser, "Show the section").await;
    browser.wait_for_text("The section by itself").await;
    let charts = "return document.querySelectorAll('.cut-chart svg.chart-wide').length === 2";
    browser.wait_until("both charts are there", charts).await;

    // Judged before it is used, and then in the draft.
    press_button(&browser, "What would it say?").await;
    browser
        .wait_for_text("Not written into the draft yet")
        .await;
    let preview = browser
        .ask("return document.querySelector('.preview').innerText")
        .await;
    let preview = preview.as_str().unwrap_or_default().to_owned();
    assert!(preview.contains("measured by us"), "{preview}");
    assert!(
        preview.contains("mW") && preview.contains("Settled"),
        "{preview}"
    );
    press_button(&browser, "Use this section").await;
    let there = "return document.activeElement?.getAttribute('name') === 'runs[0].no_load.log'
        && document.activeElement.value === 'noload-115.csv'";
    browser
        .wait_until("the draft is open where the log stands", there)
        .await;
    let panel = browser
        .ask("return document.getElementById('panel').innerText")
        .await;
    let panel = panel.as_str().unwrap_or_default();
    assert!(panel.contains("Evidence from logs"), "{panel}");
    assert!(panel.contains("noload-115.csv"), "{panel}");

    press_button(&browser, "Go on to publish").await;
    browser.wait_for_text("Publish Larkfield LF-30K").await;
    fill(&browser, "reason", "no load recorded").await;
    press_button(&browser, "Publish").await;
    let published = "return location.pathname.startsWith('/unit/larkfield-lf-30k')";
    browser.wait_until("the unit has its page", published).await;
    let text = browser.visible_text().await;
    assert!(text.contains("noload-115.csv"), "{text}");
    let chart = "return [...document.querySelectorAll('svg title')]
        .some(t => t.textContent.startsWith('No-load power over time'))";
    browser.wait_until("the trace is drawn", chart).await;
    assert_eq!(browser.console_errors().await, Vec::<String>::new());
}

/// Opens a part of the page that is folded away, by keyboard.
async fn follow_summary(browser: &Browser, text: &str) {
    browser
        .tab_to(&format!("the summary {text:?}"), |f| {
            f.tag == "summary" && f.text == text
        })
        .await;
    browser.press(&[key::ENTER]).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_section_is_cut_and_used_by_keyboard_alone() {
    let folder = tempfile::tempdir().expect("a temporary directory");
    let log = no_load_log(folder.path());
    let server = Server::start();
    let browser = Browser::start().await;
    desk::set_up(&browser, &server).await;
    begin_record(&browser).await;
    fill(&browser, "unit.maker", "Larkfield").await;
    fill(&browser, "unit.model", "LF-20").await;
    fill(&browser, "unit.nameplate.output_power_w", "20").await;
    let saved = "return document.getElementById('saved').innerText.startsWith('Saved')";
    browser.wait_until("the form is saved", saved).await;
    follow_link(&browser, "upload a log, or cut a section from one").await;
    browser.wait_for_text("Raw files of the instruments").await;
    choose_file(&browser, &log).await;
    press_button(&browser, "Upload").await;
    browser.wait_for_text("Cut a section").await;

    let end = |label: &'static str| move |f: &crate::driver::Focused| f.label == label;
    browser
        .tab_to("the section's begin", end("Begin of the section"))
        .await;
    browser.press(&[key::ARROW_RIGHT; 4]).await;
    browser
        .tab_to("the section's end", end("End of the section"))
        .await;
    browser.press(&[key::ARROW_LEFT]).await;
    // A two-hundredth of 5400 s at each press.
    assert!((value(&browser, "cut-from").await - 108.0).abs() < 6.0);
    assert!((value(&browser, "cut-to").await - 5373.0).abs() < 6.0);
    fill(&browser, "from", "0:15:00").await;
    let slider = "return document.querySelector('[role=slider]').getAttribute('aria-valuenow')";
    assert_eq!(browser.ask(slider).await, "900", "the handle follows");
    press_button(&browser, "Show the section").await;
    browser.wait_for_text("The section by itself").await;
    fill(&browser, "place", "Run 2: 230 V 50 Hz, no load").await;
    press_button(&browser, "Use this section").await;
    let there = "return document.activeElement?.getAttribute('name') === 'runs[1].no_load.log'";
    browser.wait_until("the draft is open there", there).await;
    let kept = browser
        .ask("return document.getElementsByName('runs[1].no_load.log_from_s')[0].value")
        .await;
    assert_eq!(kept, "900");
    assert_eq!(browser.console_errors().await, Vec::<String>::new());
}

#[tokio::test(flavor = "multi_thread")]
async fn without_scripts_a_log_is_uploaded_and_cut_by_plain_forms() {
    let folder = tempfile::tempdir().expect("a temporary directory");
    let log = no_load_log(folder.path());
    let server = Server::start();
    let browser = Browser::without_scripts().await;
    desk::set_up(&browser, &server).await;
    begin_record(&browser).await;
    upload(&browser, &server, &log).await;
    fill(&browser, "from", "900").await;
    press_button(&browser, "Use this section").await;
    let there = "return location.pathname === '/desk/draft/1'
        && document.getElementsByName('runs[0].no_load.log')[0]?.value === 'noload-115.csv'";
    browser
        .wait_until("the section is in the draft", there)
        .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_upload_that_is_cancelled_keeps_nothing_and_says_so() {
    let folder = tempfile::tempdir().expect("a temporary directory");
    let log = no_load_log(folder.path());
    let server = Server::start();
    let browser = Browser::start().await;
    desk::set_up(&browser, &server).await;
    browser.open(&server.url("/desk/logs")).await;
    browser.devtools("Network.enable", json!({})).await;
    let slow = json!({"offline": false, "latency": 0, "downloadThroughput": -1, "uploadThroughput": 100_000});
    browser
        .devtools("Network.emulateNetworkConditions", slow)
        .await;
    choose_file(&browser, &log).await;
    press_button(&browser, "Upload").await;
    press_button(&browser, "Cancel").await;
    browser.wait_for_text("Cancelled. Nothing was kept.").await;
    browser.open(&server.url("/desk/logs")).await;
    assert!(browser.visible_text().await.contains("None yet"));
}

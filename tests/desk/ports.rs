//! Entering ports: a pasted capability list, and the usual voltages of a rating.

use crate::{app::TestApp, browser::Browser};
use axum::http::StatusCode;

/// A 45 W source's list as public test data has it.
const MESSAGE: &str =
    "A1 71 2C 91 01 08 2C D1 02 00 2C B1 04 00 E1 40 06 00\r\n64 21 DC C8 3C 21 40 C9 2D 21 A4 C9";
/// An extended list in two chunks, from the same.
const CHUNKS: &str = "B1FD28802C91910A2CD112002CC113002CB11400F44116006432A4C90000\r\nB1CF28880000F4C11800F4411B00F4011F00";

#[tokio::test]
async fn a_pasted_message_fills_the_list_and_the_voltages_of_its_port() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let form = ada
        .bench_form(&draft)
        .await
        .set("unit.ports[0].label", "C1")
        .set("unit.ports[0].pasted", MESSAGE);
    let answer = ada.send(&form, Some("fill-modes:unit.ports[0]")).await;
    assert_eq!(answer.status, StatusCode::OK);
    assert!(
        answer
            .words()
            .contains("Read 7 objects of a message of revision 3: 1 fixed 5 V 3 A"),
        "{}",
        answer.words()
    );
    let filled = ada.bench_form(&draft).await;
    assert_eq!(
        filled.value("unit.ports[0].source_capabilities"),
        "0x0801912C, 0x0002D12C, 0x0004B12C, 0x000640E1, 0xC8DC2164, 0xC940213C, 0xC9A4212D"
    );
    assert_eq!(filled.value("unit.ports[0].pasted"), "");
    assert_eq!(filled.value("unit.ports[0].modes[3].voltage_v"), "20");
    assert_eq!(filled.value("unit.ports[0].modes[6].kind"), "pps");

    // An extended list in chunks takes its place; the voltages are left alone.
    let form = filled.set("unit.ports[0].pasted", CHUNKS);
    let answer = ada.send(&form, Some("fill:unit.ports[0]")).await;
    let words = answer.words();
    assert!(
        words.contains("extended power range") && words.contains("in place of"),
        "{words}"
    );
    let filled = ada.bench_form(&draft).await;
    let list = filled.value("unit.ports[0].source_capabilities");
    assert_eq!(list.split(", ").count(), 10);
    assert!(
        list.ends_with("0x0018C1F4, 0x001B41F4, 0x001F01F4"),
        "{list}"
    );
    assert!(
        !filled
            .fields
            .iter()
            .any(|(name, _)| name == "unit.ports[0].modes[7].kind")
    );
}

#[tokio::test]
async fn a_reserved_object_is_refused_at_its_field_with_the_bit_that_is_wrong() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let form = ada
        .bench_form(&draft)
        .await
        .set("unit.ports[0].label", "C1")
        .set("unit.ports[0].source_capabilities", "0x0801912C")
        .set("unit.ports[0].pasted", "0x0801912C 0x0042D12C");
    let answer = ada.send(&form, Some("fill:unit.ports[0]")).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    let html = answer.text();
    let at = html.find("id=\"f-unit-ports-0-pasted-problem\"").unwrap();
    let problem = &html[at..at + html[at..].find("</span>").unwrap()];
    assert!(
        problem.contains("object 2: 0x0042D12C; expected bit 22 (reserved) to be 0; it is 1"),
        "{problem}"
    );
    let field = html.find("<textarea id=\"f-unit-ports-0-pasted\"").unwrap();
    let tag = &html[field..field + html[field..].find('>').unwrap()];
    assert!(
        tag.contains("aria-invalid") && tag.contains("autofocus"),
        "{tag}"
    );
    let kept = ada.bench_form(&draft).await;
    assert_eq!(kept.value("unit.ports[0].pasted"), "0x0801912C 0x0042D12C");
    assert_eq!(
        kept.value("unit.ports[0].source_capabilities"),
        "0x0801912C"
    );

    // The same while typing, and a list typed by hand is held to the same bits.
    let form = kept.set(
        "unit.ports[0].source_capabilities",
        "0x0801912C, 0xF0000401",
    );
    let answer = ada
        .post(&format!("{draft}/autosave"), &form.fields, &[])
        .await;
    let told: serde_json::Value = serde_json::from_slice(&answer.bytes).unwrap();
    let problem = |id: &str| told["problems"][id].as_str().unwrap_or_default().to_owned();
    assert!(problem("f-unit-ports-0-pasted").contains("bit 22"));
    let list = problem("f-unit-ports-0-source_capabilities");
    assert!(
        list.contains("0xF0000401") && list.contains("bits 29:28"),
        "{list}"
    );
}

#[tokio::test]
async fn the_usual_voltages_of_a_rating_are_put_in_by_a_button() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let form = ada
        .bench_form(&draft)
        .await
        .set("unit.ports[0].power_w", "65 W");
    assert_eq!(
        ada.send(&form, Some("save")).await.status,
        StatusCode::SEE_OTHER
    );
    let page = ada.get(&draft).await;
    assert!(
        page.words().contains("Fixed list for 65 W"),
        "{}",
        page.words()
    );
    let form = crate::browser::form(&page, &draft);
    let answer = ada.send(&form, Some("usual:unit.ports[0]=fixed:65")).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER);
    let filled = ada.bench_form(&draft).await;
    let rows: Vec<[&str; 2]> = (0..4)
        .map(|row| {
            ["voltage_v", "current_a"]
                .map(|key| filled.value(&format!("unit.ports[0].modes[{row}].{key}")))
        })
        .collect();
    assert_eq!(rows, [["5", "3"], ["9", "3"], ["15", "3"], ["20", "3.25"]]);
}

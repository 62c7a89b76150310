//! Entering how ports share, one combination at a time, without script.

use crate::{
    app::TestApp,
    browser::{Browser, PageForm, form},
};
use axum::http::StatusCode;

/// A draft with C1, C2 and A: 65 W, 30 W, 12 W.
async fn three_ports(ada: &mut Browser<'_>) -> String {
    let draft = ada.new_draft().await;
    for _ in 0..2 {
        let form = ada.bench_form(&draft).await;
        ada.send(&form, Some("add:unit.ports")).await;
    }
    let mut form = ada.bench_form(&draft).await;
    for (row, label, watts) in [(0, "C1", "65"), (1, "C2", "30"), (2, "A", "12")] {
        form = form
            .set(&format!("unit.ports[{row}].label"), label)
            .set(&format!("unit.ports[{row}].power_w"), watts);
    }
    ada.send(&form, Some("save")).await;
    draft
}

/// What these ports offer with those in use: C1 and C2 share 65 W, A is by itself.
fn offer(port: usize, in_use: u32) -> &'static str {
    match port {
        0 if in_use & 2 != 0 => "45",
        0 => "65",
        1 if in_use & 1 != 0 => "20",
        1 => "30",
        _ => "12",
    }
}

fn filled(mut form: PageForm, in_use: u32) -> PageForm {
    for port in (0..3).filter(|port| in_use >> port & 1 == 1) {
        form = form.set(&format!("watts-{port}"), offer(port, in_use));
    }
    form
}

#[tokio::test]
async fn combinations_are_asked_for_one_by_one_until_the_groups_are_settled() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = three_ports(&mut ada).await;
    let bench = ada.bench_form(&draft).await;
    let to = ada.send(&bench, Some("sharing")).await;
    let path = format!("{draft}/sharing");
    assert_eq!(to.header("location"), path);

    let mut asked = Vec::new();
    loop {
        let page = ada.get(&path).await;
        if page.words().contains("The groups are settled") {
            assert!(
                page.words()
                    .contains("C1 and C2 form one group, A keeps its power")
            );
            break;
        }
        let form = form(&page, &path);
        let in_use: u32 = form.value("ports").parse().unwrap();
        assert!(!asked.contains(&in_use), "{in_use} is asked for twice");
        asked.push(in_use);
        let saved = ada.send(&filled(form, in_use), Some("save")).await;
        assert_eq!(saved.status, StatusCode::SEE_OTHER, "{}", saved.words());
    }
    assert_eq!(&asked[..4], [1, 2, 4, 7], "each alone, then all together");
    assert!(
        asked.len() < 7,
        "not every combination is needed: {asked:?}"
    );
    let bench = ada.bench_form(&draft).await;
    assert_eq!(bench.value("sharing[3].ports_in_use"), "C1, C2, A");
    assert_eq!(bench.value("sharing[3].offers[1].power_w"), "20");
}

#[tokio::test]
async fn choices_come_from_the_port_and_what_is_missing_is_asked_for_again() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = three_ports(&mut ada).await;
    let path = format!("{draft}/sharing");
    let form0 = ada.bench_form(&draft).await;
    ada.send(&form0, Some("usual:unit.ports[0]=fixed:65")).await;

    let page = ada.get(&format!("{path}?next=3")).await;
    let html = page.text();
    assert!(html.contains("value=\"65@20\"") && html.contains("value=\"45@15\""));
    let chosen = form(&page, &path).choose(&html, "offer-0", "45@15");
    assert_eq!(
        chosen.value("attached"),
        "1",
        "the last one, as the page tells"
    );
    let refused = ada.send(&chosen, Some("save")).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        refused
            .words()
            .contains("Choose what C2 is offered, or type it.")
    );
    let html = refused.text();
    let again = crate::browser::form_in(&html, &path);
    assert_eq!(again.value("offer-0"), "45@15", "what was chosen stays");
    assert_eq!(
        ada.bench_form(&draft)
            .await
            .value("sharing[0].ports_in_use"),
        ""
    );

    let odd = again
        .clone()
        .set("watts-1", "plenty")
        .set("interruption_ms", "-3");
    let refused = ada.send(&odd, Some("save")).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    let words = refused.words();
    assert_eq!(words.matches("Expected a").count(), 2, "{words}");
    assert!(refused.text().contains("value=\"plenty\""));

    let whole = again
        .set("watts-1", "20 W")
        .set("volts-1", "9")
        .set("interruption_ms", "850")
        .set("lowest_voltage_v", "0,4 V")
        .set("note", "with a 3 A cable")
        .choose(&html, "on_attach", "reset")
        .choose(&html, "disturbed", "0");
    let saved = ada.send(&whole, Some("save")).await;
    assert_eq!(
        (saved.status, saved.header("location")),
        (StatusCode::SEE_OTHER, path.as_str())
    );
    let bench = ada.bench_form(&draft).await;
    for (field, text) in [
        ("ports_in_use", "C1, C2"),
        ("attached", "C2"),
        ("on_attach", "reset"),
        ("reset_ports", "C1"),
        ("interruption_ms", "850"),
        ("lowest_voltage_v", "0,4 V"),
        ("note", "with a 3 A cable"),
        ("offers[0].power_w", "45"),
        ("offers[0].voltage_max_v", "15"),
        ("offers[1].power_w", "20 W"),
        ("offers[1].voltage_max_v", "9"),
    ] {
        assert_eq!(bench.value(&format!("sharing[0].{field}")), text, "{field}");
    }
}

#[tokio::test]
async fn a_combination_is_skipped_and_the_last_one_taken_back() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = three_ports(&mut ada).await;
    let path = format!("{draft}/sharing");
    let first = form(&ada.get(&path).await, &path);
    let skipped = ada.send(&first, Some("skip")).await;
    assert_eq!(skipped.header("location"), format!("{path}?skip=1"));
    let page = ada.get(skipped.header("location")).await;
    let second = form(&page, &path);
    assert_eq!(second.value("ports"), "2");
    let saved = ada.send(&filled(second, 2), Some("save")).await;
    assert_eq!(saved.header("location"), format!("{path}?skip=1"));

    let page = ada.get(saved.header("location")).await;
    assert!(
        page.words().contains("Entered last: C2 30 W"),
        "{}",
        page.words()
    );
    let html = page.text();
    let undo = &html[html.find("id=\"undo\"").unwrap() - 80..];
    let undone = ada
        .send(&crate::browser::form_in(undo, &path), Some("undo"))
        .await;
    assert_eq!(undone.header("location"), format!("{path}?skip=1&next=2"));
    let page = ada.get(undone.header("location")).await;
    assert_eq!(form(&page, &path).value("ports"), "2", "asked for again");
    assert!(page.words().contains("0 of 7 combinations entered"));
    let all_skipped: Vec<String> = (1..8).map(|bits| format!("skip={bits}")).collect();
    let page = ada.get(&format!("{path}?{}", all_skipped.join("&"))).await;
    assert!(
        page.words()
            .contains("Nothing is left but what you skipped.")
    );
}

#[tokio::test]
async fn nothing_is_written_over_a_newer_save_and_what_was_chosen_can_be_added_to_it() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = three_ports(&mut ada).await;
    let path = format!("{draft}/sharing");
    let page = filled(form(&ada.get(&path).await, &path), 1);
    let bench = ada.bench_form(&draft).await.set("unit.maker", "Larkfield");
    ada.send(&bench, Some("save")).await;

    let refused = ada.send(&page, Some("save")).await;
    assert_eq!(refused.status, StatusCode::CONFLICT);
    assert!(refused.words().contains("saved elsewhere"));
    assert_eq!(
        ada.bench_form(&draft)
            .await
            .value("sharing[0].ports_in_use"),
        ""
    );
    let again = crate::browser::form_in(&refused.text(), &path);
    assert_eq!(again.value("watts-0"), "65");
    assert_eq!(
        ada.send(&again, Some("save")).await.status,
        StatusCode::SEE_OTHER
    );
    let bench = ada.bench_form(&draft).await;
    assert_eq!(bench.value("sharing[0].ports_in_use"), "C1");
    assert_eq!(bench.value("unit.maker"), "Larkfield", "both are kept");

    // A stale token is no reason to lose anything either.
    let page = filled(form(&ada.get(&path).await, &path), 2).set("csrf", "stale");
    let refused = ada.send(&page, Some("save")).await;
    assert_eq!(refused.status, StatusCode::FORBIDDEN);
    let again = crate::browser::form_in(&refused.text(), &path);
    assert_eq!(again.value("watts-1"), "30");
}

#[tokio::test]
async fn a_unit_of_one_port_and_strange_requests_are_told_so() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let path = format!("{draft}/sharing");
    assert!(
        ada.get(&path)
            .await
            .words()
            .contains("No port is on the form yet")
    );
    let form = ada
        .bench_form(&draft)
        .await
        .set("unit.ports[0].label", "C1");
    ada.send(&form, Some("save")).await;
    assert!(
        ada.get(&path)
            .await
            .words()
            .contains("nothing that it could share with")
    );
    assert_eq!(
        ada.get("/desk/draft/99/sharing").await.status,
        StatusCode::NOT_FOUND
    );
    let draft = three_ports(&mut ada).await;
    let path = format!("{draft}/sharing");
    let odd = ada.get(&format!("{path}?next=4096&skip=x&skip=-1")).await;
    assert_eq!(crate::browser::form(&odd, &path).value("ports"), "1");
    let empty = crate::browser::form(&odd, &path).set("ports", "0");
    let refused = ada.send(&empty, Some("save")).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn what_contradicts_is_said_beside_the_form_with_the_way_to_it() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = three_ports(&mut ada).await;
    let path = format!("{draft}/sharing");
    let bench = ada
        .bench_form(&draft)
        .await
        .set("unit.maker", "Larkfield")
        .set("unit.model", "LF-65T")
        .set("unit.nameplate.output_power_w", "65");
    ada.send(&bench, Some("save")).await;
    for watts in ["65", "80"] {
        let page = ada.get(&format!("{path}?next=1")).await;
        let form = form(&page, &path).set("watts-0", watts);
        ada.send(&form, Some("save")).await;
    }
    let page = ada.get(&draft).await;
    let words = page.words();
    assert!(
        words.contains("Sharing: C1 is offered 80 W, more than the 65 W of its label"),
        "{words}"
    );
    assert!(page.text().contains("href=\"#f-sharing-1-ports_in_use\""));
}

#[tokio::test]
async fn a_port_twice_or_not_in_use_is_refused_at_its_field_of_the_bench_form() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = three_ports(&mut ada).await;
    let path = format!("{draft}/sharing");
    let page = ada.get(&format!("{path}?next=1")).await;
    let entry = form(&page, &path).set("watts-0", "65");
    ada.send(&entry, Some("save")).await;
    let bench = ada
        .bench_form(&draft)
        .await
        .set("unit.maker", "Larkfield")
        .set("unit.model", "LF-65T")
        .set("unit.nameplate.output_power_w", "65");
    ada.send(&bench, Some("save")).await;
    for (field, text, expected) in [
        (
            "sharing[0].ports_in_use",
            "C1, C1",
            "a port not yet named by item 0",
        ),
        ("sharing[0].offers[0].port", "C2", "a port in use: C1"),
        ("sharing[0].attached", "A", "a port in use: C1"),
    ] {
        let form = ada.bench_form(&draft).await;
        ada.send(&form.set(field, text), Some("save")).await;
        let page = ada.get(&draft).await;
        assert!(page.words().contains(expected), "{field}: {}", page.words());
        let id = field.replace(['[', '.'], "-").replace(']', "");
        assert!(page.text().contains(&format!("href=\"#f-{id}\"")), "{id}");
        let form = ada.bench_form(&draft).await;
        assert_eq!(form.value(field), text);
        ada.send(&form.set(field, bench.value(field)), Some("save"))
            .await;
    }
}

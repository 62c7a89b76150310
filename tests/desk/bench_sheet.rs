//! The bench sheet without script: taken into the draft once, ticked, saved, and never doubled.

use crate::{
    app::TestApp,
    browser::{Browser, PageForm, form},
};
use axum::http::StatusCode;

/// A draft with the label of a 20 W unit, and the path of its sheet.
async fn labelled(browser: &mut Browser<'_>) -> (String, String) {
    let draft = browser.new_draft().await;
    let filled = browser
        .bench_form(&draft)
        .await
        .set("unit.maker", "Larkfield")
        .set("unit.model", "LF-20")
        .set("unit.nameplate.output_power_w", "20")
        .set("unit.ports[0].label", "C1")
        .set("unit.ports[0].connector", "usb-c")
        .set("unit.ports[0].modes[0].voltage_v", "9")
        .set("unit.ports[0].modes[0].current_a", "2.22");
    browser.send(&filled, Some("save")).await;
    let sheet = format!("{draft}/plan");
    (draft, sheet)
}

#[tokio::test]
async fn readings_and_ticks_of_the_sheet_are_the_drafts_own_and_nothing_is_doubled() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let (draft, sheet) = labelled(&mut ada).await;
    let page = ada.get(&sheet).await;
    assert!(page.words().contains("Mains voltage kills"));
    assert!(page.text().contains(">1.665 A<"), "75 % of 2.22 A");
    let mut filled = form(&page, &sheet).set("runs[0].points[1].input.power_w", "17,1 W");
    filled.fields.push(("plan.tick.warm-up".into(), "1".into()));
    let saved = ada.send(&filled, Some("save")).await;
    assert_eq!(
        (saved.status, saved.header("location")),
        (StatusCode::SEE_OTHER, sheet.as_str())
    );

    let again = ada.get(&sheet).await;
    let form_again = form(&again, &sheet);
    assert_eq!(
        form_again.value("runs[0].points[1].input.power_w"),
        "17,1 W"
    );
    assert_eq!(form_again.value("plan.tick.warm-up"), "1");
    ada.send(&form_again, Some("save")).await;

    // The draft's own page shows the same, keeps the tick, and has no row twice.
    let on_draft = ada.bench_form(&draft).await;
    assert_eq!(on_draft.value("runs[0].points[1].input.power_w"), "17,1 W");
    assert_eq!(on_draft.value("runs[0].rated_outputs[0].current_a"), "2.22");
    assert_eq!(on_draft.value("plan.tick.warm-up"), "1");
    let has = |path: &str| on_draft.fields.iter().any(|(name, _)| name == path);
    assert!(has("runs[1].points[4].load_percent"));
    assert!(!has("runs[2].name") && !has("runs[0].points[5].load_percent"));
    ada.send(&on_draft, Some("save")).await;
    let kept = form(&ada.get(&sheet).await, &sheet);
    assert_eq!(kept.value("plan.tick.warm-up"), "1");

    // On to the combinations of ports, with all that stands there saved.
    let to_sharing = ada.send(&kept, Some("sharing")).await;
    assert_eq!(to_sharing.header("location"), format!("{draft}/sharing"));

    // Planned rows without a reading are not published.
    let record = ada.get(&format!("{draft}/publish")).await;
    assert_eq!(record.status, StatusCode::OK);
    let path = format!("{draft}/publish");
    ada.send(&form(&record, &path), None).await;
    let record: serde_json::Value =
        serde_json::from_str(&ada.get("/unit/larkfield-lf-20/record.json").await.text()).unwrap();
    assert_eq!(record["runs"].as_array().map(Vec::len), Some(1));
    assert!(record.get("plan").is_none() && record.get("overloads").is_none());
}

#[tokio::test]
async fn a_choice_of_rules_changes_the_supplies() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let (_, sheet) = labelled(&mut ada).await;
    let mut chosen = form(&ada.get(&sheet).await, &sheet).set("plan.supplies", "100 V 50 Hz");
    chosen
        .fields
        .retain(|(name, _)| !name.starts_with("plan.regime.eu_"));
    ada.send(&chosen, Some("choose")).await;
    let words = ada.get(&sheet).await.words();
    assert!(words.contains("9 V on 115 V 60 Hz") && words.contains("9 V on 100 V 50 Hz"));
    assert!(!words.contains("9 V on 230 V 50 Hz"), "{words}");
    let wrong = form(&ada.get(&sheet).await, &sheet).set("plan.supplies", "400 V 50 Hz");
    ada.send(&wrong, Some("choose")).await;
    assert!(
        ada.get(&sheet)
            .await
            .words()
            .contains("Expected pairs of volts")
    );
}

#[tokio::test]
async fn a_sheet_cannot_overwrite_what_the_draft_page_saved_meanwhile() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let (draft, sheet) = labelled(&mut ada).await;
    let before = form(&ada.get(&sheet).await, &sheet).set("runs[0].no_load.power_w", "0.05");
    let meanwhile = ada
        .bench_form(&draft)
        .await
        .set("notes", "from the other page");
    ada.send(&meanwhile, Some("save")).await;
    let refused = ada.send(&before, Some("save")).await;
    assert_eq!(refused.status, StatusCode::CONFLICT);
    assert!(
        refused.text().contains("value=\"0.05\""),
        "nothing typed is lost"
    );
    let over = crate::browser::form_in(&refused.text(), &sheet);
    assert_eq!(
        ada.send(&over, Some("save")).await.status,
        StatusCode::SEE_OTHER
    );
    assert_eq!(
        ada.bench_form(&draft)
            .await
            .value("runs[0].no_load.power_w"),
        "0.05"
    );
}

#[tokio::test]
async fn a_label_too_incomplete_to_plan_is_told_field_by_field() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let sheet = format!("{draft}/plan");
    let words = ada.get(&sheet).await.words();
    assert!(words.contains("too incomplete to plan") && words.contains("output power"));
    let filled = ada
        .bench_form(&draft)
        .await
        .set("unit.maker", "Larkfield")
        .set("unit.model", "LF-20")
        .set("unit.nameplate.output_power_w", "20")
        .set("unit.ports[0].label", "C1");
    ada.send(&filled, Some("save")).await;
    let page = ada.get(&sheet).await;
    assert!(page.words().contains("Port C1 has no voltage and current"));
    assert!(
        page.text()
            .contains(&format!("{draft}#f-unit-ports-0-modes"))
    );
}

/// A reading at every load of the 9 V run of this supply, 90 % efficient.
fn with_readings(mut sheet: PageForm, run: usize) -> PageForm {
    for (point, share) in [1.0, 0.75, 0.5, 0.25, 0.1].into_iter().enumerate() {
        let at = format!("runs[{run}].points[{point}]");
        let current_a = 2.22 * share;
        for (key, value) in [
            ("input.power_w", 9.0 * current_a / 0.9),
            ("input.power_factor", 0.7),
            ("outputs[0].voltage_v", 9.0),
            ("outputs[0].current_a", current_a),
        ] {
            sheet = sheet.set(&format!("{at}.{key}"), &format!("{value:.4}"));
        }
    }
    sheet.set(&format!("runs[{run}].no_load.power_w"), "0.04")
}

#[tokio::test]
async fn a_verdict_and_a_score_with_loads_still_to_go_do_not_read_as_if_they_were_final() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let (draft, sheet) = labelled(&mut ada).await;
    let filled = with_readings(form(&ada.get(&sheet).await, &sheet), 0);
    ada.send(&with_readings(filled, 1), Some("save")).await;
    let words = ada.get(&sheet).await.words();
    assert!(words.contains("✓ Not provisional."), "{words}");
    assert!(!words.contains("on what is on record"), "{words}");

    let relabelled = ada
        .bench_form(&draft)
        .await
        .set("unit.nameplate.output_power_w", "27")
        .set("unit.ports[0].modes[0].current_a", "3");
    ada.send(&relabelled, Some("save")).await;
    let words = ada.get(&sheet).await.words();
    assert!(!words.contains("✓ Not provisional."), "{words}");
    assert!(
        words.contains("Not provisional on what is on record; 5 loads of this plan to go."),
        "{words}"
    );
    assert!(words.contains("on what is on record: "), "{words}");
    assert!(words.contains("4 loads to go"), "{words}");
    assert!(
        words.contains("2.22 A at 9 V is less than the 3 A"),
        "{words}"
    );
}

#[tokio::test]
async fn the_sheet_gives_the_evaluations_reason_and_says_when_no_firm_score_can_be_reached() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let (draft, sheet) = labelled(&mut ada).await;
    let abroad = ada
        .bench_form(&draft)
        .await
        .set("unit.nameplate.input_voltage_min_v", "220")
        .set("unit.nameplate.input_voltage_max_v", "240");
    ada.send(&abroad, Some("save")).await;
    let words = ada.get(&sheet).await.words();
    assert!(
        words.contains("A firm score cannot be reached for this unit."),
        "{words}"
    );
    assert!(words.contains("To go: hot-spot readings"), "{words}");
}

//! Pages for buyers: cost of use, one's own wattage, trade-offs, ports at the same time.

use crate::app::{TestApp, seed};
use axum::http::StatusCode;
use brickbook::config::Tariff;
use brickbook::web::Config;

const THREE: [&str; 3] = ["larkfield-lf-100q", "hollowick-hk-100c", "quillmere-qm-12a"];

#[tokio::test]
async fn a_profile_lists_units_by_energy_lost_and_names_those_without_a_figure() {
    let app = TestApp::seeded(&THREE).await;
    let answer = app.get("/use/us-charger-class-4").await;
    assert_eq!(answer.status, StatusCode::OK);
    let words = answer.words();
    assert!(words.contains("1–2 of 2 units"), "{words}");
    assert!(words.contains("Without a figure"));
    // Made for 12 W, the profile asks for 35 W.
    assert!(
        words.contains("Quillmere QM-12A : measured up to 12"),
        "{words}"
    );
    assert!(words.contains("the least of its class"));
    assert!(words.contains("our assumption"), "the source is named");
    assert!(!words.contains("EUR a year"), "no tariff, no money");
}

#[tokio::test]
async fn with_a_tariff_there_is_money_and_a_word_on_whether_it_matters() {
    let app = TestApp::seeded(&THREE).await;
    let words = app
        .get("/use/phone-overnight?class=w100&tariff=0.3&currency=EUR")
        .await
        .words();
    assert!(words.contains("Cost a year, EUR"), "{words}");
    assert!(words.contains("Price + 5 years"));
    assert!(
        words.contains("does not matter")
            || words.contains("worth a look")
            || words.contains("can be told apart"),
        "{words}"
    );
}

#[tokio::test]
async fn the_sites_own_tariff_is_taken_where_the_address_names_none() {
    let app = TestApp::with(Config {
        tariff: Tariff::new(0.4, "CHF"),
        ..Config::default()
    })
    .await;
    app.publish(&seed("larkfield-lf-100q")).await;
    app.site.refresh().await.unwrap();
    let words = app.get("/use/always-on").await.words();
    assert!(words.contains("Cost a year, CHF"), "{words}");
    let same = app.get("/use/always-on?tariff=0.40&currency=CHF").await;
    assert_eq!(same.header("location"), "/use/always-on");
}

#[tokio::test]
async fn an_own_use_typed_into_the_form_gets_an_address_of_its_own() {
    let app = TestApp::seeded(&THREE).await;
    let sent = app.get("/use?w=15&h=2&w=&h=&w=0&h=16").await;
    assert_eq!(sent.status, StatusCode::SEE_OTHER);
    assert_eq!(sent.header("location"), "/use/own?load=15%3A2&load=0%3A16");
    let answer = app.get(sent.header("location")).await;
    assert_eq!(answer.status, StatusCode::OK);
    assert!(
        answer
            .words()
            .contains("15 W for 2 h, plugged in with nothing attached for 16 h a day")
    );
    let wrong = app.get("/use?w=15&h=30").await;
    assert_eq!(wrong.status, StatusCode::OK);
    assert!(wrong.words().contains("expected 0 to 24 hours a day"));
    assert_eq!(
        app.get("/use/own?load=x").await.status,
        StatusCode::BAD_REQUEST
    );
    assert_eq!(app.get("/use/knitting").await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn at_a_wattage_units_stand_by_loss_and_those_not_made_for_it_apart() {
    let app = TestApp::seeded(&THREE).await;
    assert_eq!(app.get("/at").await.header("location"), "/at?w=20");
    let words = app.get("/at?w=50").await.words();
    assert!(words.contains("1–2 of 2 units"), "{words}");
    assert!(
        words.contains("Quillmere QM-12A : measured up to 12"),
        "{words}"
    );
    assert!(words.contains("loses least"));
    assert_eq!(
        app.get("/at?w=27,5+W").await.header("location"),
        "/at?w=27.5"
    );
}

#[tokio::test]
async fn a_trade_off_names_its_front_and_refuses_to_mix_currencies() {
    let app = TestApp::seeded(&THREE).await;
    let answer = app.get("/trade-offs?x=price&y=score").await;
    assert_eq!(answer.status, StatusCode::OK);
    let words = answer.words();
    assert!(words.contains("Price against score"), "{words}");
    assert!(words.contains("less is better") && words.contains("more is better"));
    assert!(words.contains("beaten by no other in both"));
    let mut other: serde_json::Value = serde_json::from_str(&seed("larkfield-lf-65c")).unwrap();
    other["unit"]["price"] = serde_json::json!({"amount": "5.00", "currency": "XTS"});
    app.publish(&other.to_string()).await;
    app.site.refresh().await.unwrap();
    let words = app.get("/trade-offs?x=price&y=score").await.words();
    assert!(words.contains("priced in XTS"), "{words}");
    let words = app
        .get("/trade-offs?x=price&y=score&currency=XTS")
        .await
        .words();
    assert!(words.contains("Larkfield LF-65C"));
}

#[tokio::test]
async fn ports_are_asked_for_by_what_they_give_at_the_same_time() {
    let app = TestApp::empty().await;
    let mut shared: serde_json::Value = serde_json::from_str(&seed("tessawick-tw-100cc")).unwrap();
    let ports = shared["unit"]["ports"].as_array().unwrap();
    assert!(ports.len() >= 2, "the demo unit has two ports");
    let labels: Vec<String> = ports
        .iter()
        .map(|p| p["label"].as_str().unwrap().into())
        .collect();
    shared["unit"]["ports"][0]["power_w"] = 100.into();
    shared["unit"]["ports"][1]["power_w"] = 100.into();
    shared["sharing"] = serde_json::json!([{
        "ports_in_use": [labels[0], labels[1]],
        "offers": [{"port": labels[0], "power_w": 65}, {"port": labels[1], "power_w": 30}]
    }]);
    app.publish(&shared.to_string()).await;
    app.site.refresh().await.unwrap();
    let words = app.get("/?usb_c=2&each_w=30").await.words();
    assert!(words.contains("1–1 of 1 unit"), "{words}");
    assert!(words.contains("2 USB-C ports of 30 W at the same time: as we observed it"));
    assert!(words.contains("observed"), "{words}");
    let words = app.get("/?usb_c=2&each_w=45").await.words();
    assert!(words.contains("No unit fits all of that."), "{words}");
    let ranking = app.get("/api/v1/ranking?usb_c=2&each_w=30").await.text();
    assert!(
        ranking.contains("\"together_by\":\"observed\""),
        "{ranking}"
    );
    let ranking = app.get("/api/v1/ranking?usb_c=2&each_w=45").await.text();
    assert!(ranking.contains("\"total\":0"), "{ranking}");
    let refused = app.get("/api/v1/ranking?each_w=lots").await;
    assert_eq!(refused.status, StatusCode::BAD_REQUEST);
}

#[tokio::test]
async fn a_units_page_says_what_it_costs_to_use_and_how_to_show_it_elsewhere() {
    let app = TestApp::seeded(&THREE).await;
    let answer = app.get("/unit/quillmere-qm-12a").await;
    let words = answer.words();
    assert!(words.contains("What it costs to use"), "{words}");
    assert!(words.contains("no figure: measured up to 12"), "{words}");
    assert!(words.contains("http://bench.example/unit/quillmere-qm-12a/badge.svg"));
    let old = app.get("/unit/quillmere-qm-12a/revision/1").await.words();
    assert!(!old.contains("What it costs to use"));
}

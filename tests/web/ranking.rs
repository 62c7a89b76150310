//! The leaderboard, overall and of one class.

use crate::app::{TestApp, seed};
use axum::http::StatusCode;

const THREE: [&str; 3] = ["larkfield-lf-100q", "hollowick-hk-100c", "quillmere-qm-12a"];

#[tokio::test]
async fn an_empty_house_says_so_and_still_shows_its_form() {
    let app = TestApp::empty().await;
    let answer = app.get("/").await;
    assert_eq!(answer.status, StatusCode::OK);
    assert!(answer.words().contains("No unit has been published yet."));
    assert!(answer.text().contains("<form id=\"filter\""));
    assert!(
        answer.text().contains("class=\"button\" href=\"/desk\""),
        "the way to the first record is shown"
    );
    assert!(!answer.words().contains("Compare the chosen ones"));
    let answer = app.get("/class/w100").await;
    assert!(
        answer
            .words()
            .contains("No unit of this class has been published yet.")
    );
}

#[tokio::test]
async fn a_published_unit_stands_there_with_rank_score_and_verdicts_in_words() {
    let app = TestApp::seeded(&THREE).await;
    let answer = app.get("/").await;
    let words = answer.words();
    assert!(words.contains("1–3 of 3 units"), "{words}");
    assert!(words.contains("Larkfield LF-100Q"));
    assert!(words.contains('±'));
    // The verdict is a sign and a word, never a colour alone.
    assert!(words.contains(": fail") || words.contains(": pass"));
    let html = answer.text();
    assert!(html.contains("<caption"));
    assert!(html.contains("scope=\"row\""));
    assert!(html.contains("aria-sort=\"descending\""));
}

#[tokio::test]
async fn a_class_shows_its_own_units_alone_with_their_curves() {
    let app = TestApp::seeded(&THREE).await;
    let answer = app.get("/class/w15").await;
    let words = answer.words();
    assert!(words.contains("1–1 of 1 unit"), "{words}");
    assert!(words.contains("Quillmere QM-12A"));
    assert!(!words.contains("Larkfield LF-100Q"));
    assert!(answer.text().contains("<svg"));
    let missing = app.get("/class/w99").await;
    assert_eq!(missing.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn a_form_sent_with_empty_fields_leads_to_the_short_address() {
    let app = TestApp::seeded(&THREE).await;
    let asked = "/?q=&class=w100&sort=score&dir=desc&maker=&ports=&usb_c=&regime=us_doe_level_vi\
                 &verdict=&price=&currency=EUR&from=&to=&utm=x";
    let answer = app.get(asked).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER);
    assert_eq!(answer.header("location"), "/class/w100");
    assert_eq!(app.get("/class/w100").await.status, StatusCode::OK);
}

#[tokio::test]
async fn filters_leave_what_fits_and_say_when_nothing_does() {
    let app = TestApp::seeded(&THREE).await;
    let shown = async |path: &str| app.get(path).await.words();
    assert!(shown("/?q=hk%20100").await.contains("1–1 of 1 unit"));
    assert!(shown("/?maker=Quillmere").await.contains("1–1 of 1 unit"));
    assert!(shown("/?ports=2").await.contains("1–1 of 1 unit"));
    assert!(
        shown("/?regime=us_doe_level_vi&verdict=fails")
            .await
            .contains("Larkfield LF-100Q")
    );
    let none = shown("/?q=nothing%20like%20this").await;
    assert!(none.contains("No unit fits all of that."), "{none}");
    assert!(none.contains("Show all units"));
}

#[tokio::test]
async fn strange_input_is_left_out_with_a_reason_and_nothing_breaks() {
    let app = TestApp::seeded(&THREE).await;
    for (query, said) in [
        ("sort=colour", "Sort: “colour” was left out"),
        ("dir=sideways", "Direction: “sideways” was left out"),
        ("page=0", "Page: “0” was left out"),
        ("page=-1", "Page: “-1” was left out"),
        ("page=1e400", "Page: “1e400” was left out"),
        ("price=NaN", "Price: “NaN” was left out"),
        ("price=1e400", "Price: “1e400” was left out"),
        ("price=-5", "Price: “-5” was left out"),
        ("ports=many", "Ports: “many” was left out"),
        (
            "usb_c=999999999999",
            "USB-C ports: “999999999999” was left out",
        ),
        ("from=yesterday", "Tested from: “yesterday” was left out"),
        ("to=2026-02-30", "Tested to: “2026-02-30” was left out"),
        ("verdict=fine", "Verdict: “fine” was left out"),
        ("verdict=pass&regime=none", "Rule: “none” was left out"),
        ("class=w1", "Class: “w1” was left out"),
    ] {
        let answer = app.get(&format!("/?{query}")).await;
        assert_eq!(answer.status, StatusCode::OK, "{query}");
        let words = answer.words();
        assert!(words.contains(said), "{query}: {words}");
        assert!(words.contains("of 3 units"), "{query}");
    }
}

#[tokio::test]
async fn markup_in_a_search_is_text() {
    let app = TestApp::seeded(&THREE).await;
    let answer = app.get("/?q=%3Cscript%3Ealert(1)%3C%2Fscript%3E").await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER);
    let answer = app.get(answer.header("location")).await;
    assert!(!answer.text().contains("<script>alert"));
}

#[tokio::test]
async fn a_page_beyond_the_last_leads_to_the_last() {
    let app = TestApp::seeded(&THREE).await;
    let answer = app.get("/?page=7").await;
    assert_eq!(answer.header("location"), "/");
}

#[tokio::test]
async fn more_than_a_page_of_units_is_turned_page_by_page_in_one_order() {
    let app = TestApp::empty().await;
    let text = seed("quillmere-qm-12a");
    for n in 0..53 {
        let sample = format!("\"model\": \"QM-12A\", \"sample\": \"S{n:02}\"");
        let one = with_sample(&text, &sample);
        app.publish(&one).await;
    }
    app.site.refresh().await.unwrap();
    let first = app.get("/").await.words();
    assert!(
        first.contains("1–50 of 53 units") && first.contains("Page 1 of 2"),
        "{first}"
    );
    let second = app.get("/?page=2").await.words();
    assert!(second.contains("51–53 of 53 units"), "{second}");
    // Equal scores keep the order of their names.
    assert!(second.contains("sample S52"));
    assert!(!first.contains("sample S52"));
}

fn with_sample(text: &str, members: &str) -> String {
    let mut record: serde_json::Value = serde_json::from_str(text).unwrap();
    let extra: serde_json::Value = serde_json::from_str(&format!("{{{members}}}")).unwrap();
    for (key, value) in extra.as_object().unwrap() {
        record["unit"][key] = value.clone();
    }
    record.to_string()
}

#[tokio::test]
async fn a_provisional_unit_is_marked_and_comes_after_the_others() {
    let app = TestApp::empty().await;
    app.publish(&seed("hollowick-hk-100c")).await;
    let mut record: serde_json::Value = serde_json::from_str(&seed("larkfield-lf-100q")).unwrap();
    for run in record["runs"].as_array_mut().unwrap() {
        run["points"].as_array_mut().unwrap().truncate(1);
    }
    app.publish(&record.to_string()).await;
    app.site.refresh().await.unwrap();
    let words = app.get("/").await.words();
    let heading = words
        .find("Provisional: too much of the score")
        .expect("a heading of its own");
    assert!(words.find("Hollowick HK-100C").unwrap() < heading);
    assert!(words.rfind("Larkfield LF-100Q").unwrap() > heading);
}

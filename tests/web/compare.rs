//! Units side by side.

use crate::app::TestApp;
use axum::http::StatusCode;

const THREE: [&str; 3] = [
    "larkfield-lf-100q",
    "hollowick-hk-100c",
    "castrelle-ct-100-nano",
];

#[tokio::test]
async fn two_units_are_compared_at_any_wattage_with_a_sentence_that_says_what_can_be_told() {
    let app = TestApp::seeded(&THREE).await;
    let answer = app
        .get("/compare?unit=larkfield-lf-100q&unit=castrelle-ct-100-nano&unit=hollowick-hk-100c&at_w=10")
        .await;
    assert_eq!(answer.status, StatusCode::OK);
    let words = answer.words();
    assert!(words.contains("Which is best at 10 W?"));
    assert!(
        words.contains("cannot be told apart within the uncertainty"),
        "{words}"
    );
    assert!(words.contains("surely lower"));
    assert!(words.contains("worse") && words.contains("100 %"));
    assert!(answer.text().contains("<svg"));
    assert!(answer.text().contains(
        "/preview.png?unit=larkfield-lf-100q&#38;unit=castrelle-ct-100-nano&#38;unit=hollowick-hk-100c"
    ));
}

#[tokio::test]
async fn with_none_or_one_the_page_says_how_to_go_on() {
    let app = TestApp::seeded(&THREE).await;
    assert!(
        app.get("/compare")
            .await
            .words()
            .contains("Choose two to six units")
    );
    let one = app.get("/compare?unit=larkfield-lf-100q").await;
    assert!(one.words().contains("One more is needed"));
}

#[tokio::test]
async fn an_unknown_or_a_doubled_unit_is_left_out() {
    let app = TestApp::seeded(&THREE).await;
    let answer = app.get("/compare?unit=larkfield-lf-100q&unit=nobody").await;
    assert_eq!(answer.status, StatusCode::OK);
    assert!(
        answer
            .words()
            .contains("There is no unit called “nobody” here; it was left out.")
    );
    let answer = app
        .get("/compare?unit=larkfield-lf-100q&unit=larkfield-lf-100q")
        .await;
    assert_eq!(answer.header("location"), "/compare?unit=larkfield-lf-100q");
}

#[tokio::test]
async fn a_seventh_unit_is_one_too_many() {
    let all = [
        "larkfield-lf-100q",
        "hollowick-hk-100c",
        "castrelle-ct-100-nano",
        "quillmere-qm-12a",
        "larkfield-lf-65c",
        "larkfield-lf-45c",
        "larkfield-lf-20c",
    ];
    let app = TestApp::seeded(&all).await;
    let query: Vec<String> = all.iter().map(|slug| format!("unit={slug}")).collect();
    let answer = app.get(&format!("/compare?{}", query.join("&"))).await;
    assert_eq!(answer.status, StatusCode::OK);
    let words = answer.words();
    assert!(
        words.contains("7 units were asked for; at most 6"),
        "{words}"
    );
    assert!(!words.contains("Larkfield LF-20C"));
}

#[tokio::test]
async fn a_wattage_that_is_none_is_left_out_with_a_reason() {
    let app = TestApp::seeded(&THREE).await;
    for bad in ["NaN", "1e400", "-3", "0", "ten"] {
        let path = format!("/compare?unit=larkfield-lf-100q&unit=hollowick-hk-100c&at_w={bad}");
        let answer = app.get(&path).await;
        assert_eq!(answer.status, StatusCode::OK, "{bad}");
        assert!(answer.words().contains("is no output power"), "{bad}");
        assert!(!answer.words().contains("Which is best"), "{bad}");
    }
}

#[tokio::test]
async fn a_power_beyond_what_was_measured_is_not_extrapolated() {
    let app = TestApp::seeded(&THREE).await;
    let answer = app
        .get("/compare?unit=larkfield-lf-100q&unit=hollowick-hk-100c&at_w=150")
        .await;
    assert!(
        answer
            .words()
            .contains("None of these units was measured up to 150 W.")
    );
}

#[tokio::test]
async fn a_unit_is_added_by_its_name_and_several_that_fit_are_offered() {
    let app = TestApp::seeded(&THREE).await;
    let answer = app
        .get("/compare?unit=larkfield-lf-100q&add=hollowick")
        .await;
    assert_eq!(
        answer.header("location"),
        "/compare?unit=larkfield-lf-100q&unit=hollowick-hk-100c"
    );
    let answer = app.get("/compare?add=100").await;
    assert!(answer.words().contains("Which one?"));
    let answer = app.get("/compare?add=zzz").await;
    assert!(answer.words().contains("No other unit fits “zzz”."));
}

#[tokio::test]
async fn both_languages_tell_the_same_of_the_same_units() {
    let app = TestApp::seeded(&["larkfield-lf-100q", "castrelle-ct-100-nano"]).await;
    let query = "compare?unit=larkfield-lf-100q&unit=castrelle-ct-100-nano&at_w=10";
    let lead = |html: String| -> String {
        let (_, rest) = html.split_once("<p class=\"lead\">").expect("a lead");
        rest.split("</p>").next().unwrap_or("").to_owned()
    };
    let english = lead(app.get(&format!("/{query}")).await.text());
    let german = lead(app.get(&format!("/de/{query}")).await.text());
    assert!(english.starts_with("At 10\u{202f}W "), "{english}");
    assert!(german.starts_with("Bei 10\u{202f}W "), "{german}");
    let numbers = |text: &str, mark: char| -> Vec<String> {
        text.split(|c: char| !c.is_ascii_digit() && c != mark)
            .filter(|word| word.contains(mark) && word.len() > 1)
            .map(|word| word.replace(mark, "."))
            .collect()
    };
    assert!(numbers(&english, '.').len() >= 2, "{english}");
    assert_eq!(numbers(&german, ','), numbers(&english, '.'));
}

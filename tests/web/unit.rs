//! One unit's page, its revisions and its documents.

use crate::app::{TestApp, seed};
use axum::http::StatusCode;

#[tokio::test]
async fn a_unit_shows_score_terms_verdicts_with_margins_and_its_sources() {
    let app = TestApp::seeded(&["larkfield-lf-100q", "hollowick-hk-100c"]).await;
    let answer = app.get("/unit/larkfield-lf-100q").await;
    assert_eq!(answer.status, StatusCode::OK);
    let words = answer.words();
    for part in [
        "Larkfield LF-100Q",
        "Score, term by term",
        "50 − 50 × ln(",
        "Sum of weight × points",
        "US DOE Level VI",
        "Margin",
        "P (conforms)",
        "Efficiency against load",
        "Numbers of this chart",
        "Measured by us on one sample; not a certification.",
        "Mains voltage is dangerous.",
        "Hollowick HK-100C",
        "first published",
    ] {
        assert!(words.contains(part), "{part}");
    }
    let html = answer.text();
    assert!(html.contains("href=\"/regime/us_doe_level_vi\""));
    assert!(html.contains(
        "og:image\" content=\"http://bench.example/unit/larkfield-lf-100q/preview.png\""
    ));
    assert!(
        html.contains("rel=\"canonical\" href=\"http://bench.example/unit/larkfield-lf-100q\"")
    );
}

/// The printed terms are the evaluation's own, and their weighted mean is the printed score.
#[tokio::test]
async fn a_reader_can_recompute_the_score_from_what_is_printed() {
    let app = TestApp::seeded(&["hollowick-hk-100c"]).await;
    let evaluation: serde_json::Value = serde_json::from_slice(
        &app.get("/unit/hollowick-hk-100c/evaluation.json")
            .await
            .bytes,
    )
    .unwrap();
    let words = app.get("/unit/hollowick-hk-100c").await.words();
    let (mut sum, mut weight) = (0.0, 0.0);
    for term in evaluation["score"]["terms"].as_array().unwrap() {
        let Some(points) = term["points"].as_f64() else {
            continue;
        };
        assert!(words.contains(&format!("{points:.2}")), "{}", term["term"]);
        sum += points * term["weight"].as_f64().unwrap();
        weight += term["weight"].as_f64().unwrap();
    }
    assert!(words.contains(&format!("{:.4}", sum / weight)));
}

#[tokio::test]
async fn the_loss_model_says_which_current_belongs_to_a_power() {
    let app = TestApp::seeded(&["tessawick-tw-65cca"]).await;
    let words = app.get("/unit/tessawick-tw-65cca").await.words();
    assert!(
        words.contains("I the sum of the output currents (output power / 16.00"),
        "ports of different voltages share one mean voltage: {words}"
    );
}

#[tokio::test]
async fn an_axis_is_chosen_by_the_address_and_an_unknown_one_is_refused_in_words() {
    let app = TestApp::seeded(&["hollowick-hk-100c"]).await;
    let answer = app.get("/unit/hollowick-hk-100c?axis=percent").await;
    assert!(answer.words().contains("Load in percent of rated power"));
    let answer = app.get("/unit/hollowick-hk-100c?axis=polar").await;
    assert_eq!(answer.status, StatusCode::BAD_REQUEST);
    assert!(answer.words().contains("expected log, linear or percent"));
}

#[tokio::test]
async fn an_unknown_unit_or_revision_is_named_on_the_page_that_says_so() {
    let app = TestApp::seeded(&["hollowick-hk-100c"]).await;
    for (path, said) in [
        ("/unit/nobody", "There is no unit called “nobody” here."),
        (
            "/unit/nobody/record.json",
            "There is no unit called “nobody” here.",
        ),
        (
            "/unit/hollowick-hk-100c/revision/9",
            "This unit has no revision 9.",
        ),
        (
            "/unit/hollowick-hk-100c/revision/x",
            "There is no page at this address.",
        ),
    ] {
        let answer = app.get(path).await;
        assert_eq!(answer.status, StatusCode::NOT_FOUND, "{path}");
        assert!(answer.words().contains(said), "{path}");
    }
}

#[tokio::test]
async fn an_earlier_revision_stays_readable_and_leads_to_the_newest() {
    let app = TestApp::seeded(&["hollowick-hk-100c"]).await;
    let mut record: serde_json::Value = serde_json::from_str(&seed("hollowick-hk-100c")).unwrap();
    record["notes"] = "Read again: **the fan** was off. <script>x()</script>".into();
    app.revise("hollowick-hk-100c", &record.to_string(), "notes added")
        .await;
    app.site.refresh().await.unwrap();

    let newest = app.get("/unit/hollowick-hk-100c").await;
    assert!(newest.words().contains("Read again: the fan was off."));
    assert!(!newest.text().contains("<script>x"));
    assert!(newest.words().contains("notes added"));

    let first = app.get("/unit/hollowick-hk-100c/revision/1").await;
    assert!(
        first
            .words()
            .contains("This is revision 1 of 2, as it stood before it was revised.")
    );
    assert!(!first.words().contains("Read again"));
    assert!(
        first
            .text()
            .contains("<meta name=\"robots\" content=\"noindex\">")
    );
    assert!(first.text().contains("href=\"/unit/hollowick-hk-100c\""));
}

#[tokio::test]
async fn the_record_is_given_out_byte_for_byte() {
    let app = TestApp::seeded(&["hollowick-hk-100c"]).await;
    let answer = app.get("/unit/hollowick-hk-100c/record.json").await;
    assert_eq!(answer.header("content-type"), "application/json");
    assert_eq!(answer.text(), seed("hollowick-hk-100c"));
}

#[tokio::test]
async fn what_was_not_measured_is_said_and_never_shown_as_zero() {
    let app = TestApp::empty().await;
    let text = r#"{"format": "brickbook-record/1", "unit": {"maker": "Larkfield", "model": "Bare",
        "nameplate": {"output_power_w": 20}}}"#;
    app.publish(text).await;
    app.site.refresh().await.unwrap();
    let words = app.get("/unit/larkfield-bare").await.words();
    assert!(words.contains("no score"), "{words}");
    assert!(words.contains("Average efficiency not measured"));
    assert!(words.contains("No run has been recorded."));
    assert!(words.contains("no uncertainty is known"));
    assert!(!words.contains("0.00 mW") && !words.contains("NaN"));
    let board = app.get("/").await.words();
    assert!(board.contains("not measured") && !board.contains("NaN"));
}

#[tokio::test]
async fn without_instruments_no_margin_beyond_an_uncertainty_is_claimed() {
    let mut record: serde_json::Value = serde_json::from_str(&seed("hollowick-hk-100c")).unwrap();
    let with = TestApp::seeded(&["hollowick-hk-100c"]).await;
    let claim = "by more than the uncertainty of the measurement";
    assert!(
        with.get("/unit/hollowick-hk-100c")
            .await
            .words()
            .contains(claim)
    );
    record["instruments"] = serde_json::json!([]);
    let app = TestApp::empty().await;
    app.publish(&record.to_string()).await;
    app.site.refresh().await.unwrap();
    let words = app.get("/unit/hollowick-hk-100c").await.words();
    assert!(!words.contains(claim), "{words}");
    assert!(words.contains("so this is simple acceptance"), "{words}");
}

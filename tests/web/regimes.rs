//! The rules that units are judged by.

use crate::app::TestApp;
use axum::http::StatusCode;

#[tokio::test]
async fn every_rule_has_its_page_with_source_dates_and_limits() {
    let app = TestApp::empty().await;
    let list = app.get("/regimes").await;
    for regime in &app.site.method.standards.regimes {
        let link = format!("href=\"/regime/{}\"", regime.id);
        assert!(list.text().contains(&link), "{}", regime.id);
        let page = app.get(&format!("/regime/{}", regime.id)).await;
        assert_eq!(page.status, StatusCode::OK, "{}", regime.id);
        let words = page.words();
        let citation = regime
            .citation
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ");
        assert!(words.contains(&citation), "{}: {citation}", regime.id);
        if regime.limits_known {
            assert!(
                words.contains("Average efficiency, at least"),
                "{}",
                regime.id
            );
        } else {
            assert!(words.contains("limits not on file"), "{}", regime.id);
        }
    }
}

#[tokio::test]
async fn a_rule_counts_the_units_by_result_and_leads_to_them() {
    let app = TestApp::seeded(&["larkfield-lf-100q", "castrelle-ct-100-nano"]).await;
    let page = app.get("/regime/us_doe_level_vi").await;
    assert!(page.words().contains("1 fail"), "{}", page.words());
    let link = "/?regime=us_doe_level_vi&verdict=fail";
    assert!(page.text().contains(&link.replace('&', "&#38;")));
    let board = app.get(link).await;
    assert_eq!(board.status, StatusCode::OK);
    assert!(board.words().contains("Larkfield LF-100Q"));
    assert!(board.words().contains("1–1 of 1 unit"));
}

#[tokio::test]
async fn an_unknown_rule_is_named() {
    let app = TestApp::empty().await;
    let answer = app.get("/regime/moon_2031").await;
    assert_eq!(answer.status, StatusCode::NOT_FOUND);
    assert!(
        answer
            .words()
            .contains("There is no rule called “moon_2031” here.")
    );
}

//! The report of a class.

use crate::app::TestApp;
use crate::reader::{Pdf, numbers};
use axum::http::StatusCode;

const UNITS: [&str; 7] = [
    "larkfield-lf-65c",
    "brantholm-bh-65c",
    "castrelle-ct-65-nano",
    "ferrowick-fw-60c",
    "isembridge-ib-65c",
    "dunmarrow-dm-65-travel",
    "gildersow-gs-60ca",
];

#[tokio::test]
async fn a_class_report_ranks_its_units_with_intervals_and_verdicts() {
    let app = TestApp::seeded(&UNITS).await;
    let data = app.site.public();
    let class = data
        .standings
        .row("larkfield-lf-65c")
        .unwrap()
        .class
        .clone();
    let answer = app.get(&format!("/class/{}/report.pdf", class.id)).await;
    assert_eq!(answer.status, StatusCode::OK);
    let pdf = Pdf::sound(&answer.bytes);
    assert!((2..=12).contains(&pdf.pages()));
    let (words, printed) = (pdf.words(), numbers(&pdf.text()));
    let mut seen = 0;
    for row in data
        .standings
        .rows()
        .iter()
        .filter(|row| row.class == class)
    {
        seen += 1;
        assert!(words.contains(&row.model), "{}", row.model);
        let score = format!("{:.1}", row.score.unwrap());
        assert!(printed.contains(&score), "{}: {score}", row.model);
    }
    assert!(seen >= 5);
    for said in [
        "How to read it",
        "nobody can say which",
        "not a certification",
    ] {
        assert!(words.contains(said), "{said}");
    }
    let again = app.get(&format!("/class/{}/report.pdf", class.id)).await;
    assert!(again.bytes == answer.bytes);
}

#[tokio::test]
async fn a_class_without_units_has_a_report_that_says_so_and_an_unknown_one_has_none() {
    let app = TestApp::empty().await;
    let answer = app.get("/class/w100/report.pdf").await;
    assert_eq!(answer.status, StatusCode::OK);
    let words = Pdf::sound(&answer.bytes).words();
    assert!(words.contains("No unit of this class has a full score yet."));
    let none = app.get("/class/w101/report.pdf").await;
    assert_eq!(none.status, StatusCode::NOT_FOUND);
}

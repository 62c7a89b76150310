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
async fn a_class_report_says_which_state_of_which_records_it_was_made_from() {
    use sha2::{Digest, Sha256};
    let hex = |bytes: &[u8]| -> String {
        let digest = Sha256::digest(bytes);
        digest.iter().map(|b| format!("{b:02x}")).collect()
    };
    let app = TestApp::seeded(&UNITS).await;
    let class = {
        let data = app.site.public();
        data.standings.row(UNITS[0]).unwrap().class.clone()
    };
    let path = format!("/class/{}/report.pdf", class.id);
    let mut seen = Vec::new();
    for round in 0..2 {
        if round == 1 {
            let text = crate::app::seed(UNITS[0]);
            let changed = text.replacen("\"notes\": \"", "\"notes\": \"Second look. ", 1);
            app.revise(UNITS[0], &changed, "a second look").await;
            app.site.refresh().await.unwrap();
        }
        let data = app.site.public();
        let mut sums = Vec::new();
        for row in data.standings.rows().iter().filter(|r| r.class == class) {
            let record = app.get(&format!("/unit/{}/record.json", row.slug)).await;
            sums.push(hex(&record.bytes));
        }
        sums.sort();
        let lines: String = sums.iter().map(|sum| format!("{sum}\n")).collect();
        let words = Pdf::sound(&app.get(&path).await.bytes).words();
        assert!(words.contains(&hex(lines.as_bytes())), "round {round}");
        for said in ["State of the data", "last published or revised", "Revision"] {
            assert!(words.contains(said), "{said}");
        }
        assert!(!words.contains("(voluntary) (voluntary)"));
        seen.push(words);
    }
    assert_ne!(seen[0], seen[1]);
}

#[tokio::test]
async fn the_small_print_of_a_ranking_stands_on_the_page_of_its_table() {
    let app = TestApp::seeded(&UNITS).await;
    let class = {
        let data = app.site.public();
        data.standings.row(UNITS[0]).unwrap().class.clone()
    };
    let answer = app.get(&format!("/class/{}/report.pdf", class.id)).await;
    let pages = Pdf::sound(&answer.bytes).page_texts();
    let small_print = pages.iter().find(|page| page.contains("Rated: nameplate"));
    assert!(small_print.unwrap().contains("Average"), "{small_print:?}");
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

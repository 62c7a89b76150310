//! The report of a unit: everything of its page, in the order of a report.

use crate::app::{Answer, TestApp, seed};
use crate::reader::{Pdf, cells_of, numbers};
use axum::http::StatusCode;
use brickbook::{config::Tester, web::Config};

async fn report(app: &TestApp, path: &str) -> (Answer, Pdf) {
    let answer = app.get(path).await;
    assert_eq!(answer.status, StatusCode::OK, "{}", answer.words());
    let pdf = Pdf::sound(&answer.bytes);
    (answer, pdf)
}

#[tokio::test]
async fn every_figure_in_the_tables_of_a_unit_s_page_stands_in_its_report() {
    for name in [
        "larkfield-lf-100q",
        "castrelle-ct-320-desk",
        "hollowick-hk-10a",
    ] {
        let app = TestApp::seeded(&[name]).await;
        let page = app.get(&format!("/unit/{name}")).await.text();
        let (_, pdf) = report(&app, &format!("/unit/{name}/report.pdf")).await;
        let printed = numbers(&pdf.text());
        let missing: Vec<_> = numbers(&cells_of(&page))
            .difference(&printed)
            .cloned()
            .collect();
        assert_eq!(missing, Vec::<String>::new(), "{name}");
    }
}

#[tokio::test]
async fn every_unit_of_the_demonstration_has_a_sound_report_and_a_second_one_is_the_same() {
    let mut names = Vec::new();
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("seed-data");
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|e| e == "json") {
            names.push(path.file_stem().unwrap().to_string_lossy().into_owned());
        }
    }
    assert!(names.len() > 30);
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let app = TestApp::seeded(&names).await;
    let again = TestApp::seeded(&names).await;
    for row in app.site.public().standings.rows() {
        let path = format!("/unit/{}/report.pdf", row.slug);
        let (answer, pdf) = report(&app, &path).await;
        assert!((4..=40).contains(&pdf.pages()), "{path}: {}", pdf.pages());
        assert!(pdf.words().contains("End of the report."), "{path}");
        // Another database, filled at another time of day.
        let second = again.get(&path).await;
        assert!(answer.bytes == second.bytes, "{path}: other bytes");
    }
}

#[tokio::test]
async fn a_report_names_its_unit_its_tester_and_itself_on_every_page() {
    let app = TestApp::with(Config {
        public_url: Some("https://bricks.example".into()),
        tester: Tester {
            name: Some("Fernhill bench".into()),
            address: Some("Mill Lane 3, Fernhill".into()),
            test_place: None,
            contact: Some("bench@fernhill.example".into()),
            authorised_by: Some("A. Fernhill".into()),
        },
        ..Config::default()
    })
    .await;
    app.publish(&seed("larkfield-lf-65c")).await;
    app.site.refresh().await.unwrap();
    let (answer, pdf) = report(&app, "/unit/larkfield-lf-65c/report.pdf").await;
    assert_eq!(answer.header("content-type"), "application/pdf");
    assert_eq!(
        answer.header("content-disposition"),
        "inline; filename=\"larkfield-lf-65c-r1.pdf\""
    );
    assert_eq!(pdf.fact("Title"), "Test report: Larkfield LF-65C");
    assert_eq!(pdf.fact("Author"), "Fernhill bench");
    let all = pdf.page_texts();
    assert_eq!(all.len(), pdf.pages());
    for (n, page) in all.iter().enumerate() {
        assert!(page.contains("larkfield-lf-65c, revision 1"), "page {n}");
        assert!(page.contains("not a certification"), "page {n}");
        assert!(page.contains(&format!("page {} of {}", n + 1, all.len())));
        assert!(!page.contains("DRAFT"));
    }
    let words = pdf.words();
    for said in [
        "Mill Lane 3, Fernhill",
        "A. Fernhill",
        "at the address of the tester",
        "https://bricks.example/unit/larkfield-lf-65c/revision/1",
        "2 Sep 2026",
        "non-binary statement with a guard band",
        "Mains voltage is dangerous",
        "Measured by us on one sample",
    ] {
        assert!(words.contains(said), "{said}");
    }
    // The record's checksum, as anybody can compute it from what the site gives out.
    let record = app.get("/unit/larkfield-lf-65c/record.json").await.bytes;
    use sha2::Digest;
    let digest = sha2::Sha256::digest(&record);
    let digest: String = digest.iter().map(|b| format!("{b:02x}")).collect();
    assert!(words.contains(&digest));
    // No page is blank, none is black.
    for (n, painted) in pdf.painted().into_iter().enumerate() {
        assert!((0.003..0.5).contains(&painted), "page {}: {painted}", n + 1);
    }
}

#[tokio::test]
async fn what_iso_17025_asks_for_and_nobody_set_is_said_to_be_omitted() {
    let app = TestApp::seeded(&["larkfield-lf-65c"]).await;
    let (_, pdf) = report(&app, "/unit/larkfield-lf-65c/report.pdf").await;
    let pages = pdf.page_texts();
    let last = pages.last().unwrap();
    for item in "abcdefghijklmnop".chars() {
        assert!(
            last.replace('\u{a0}', " ")
                .contains(&format!("7.8.2.1 {item}")),
            "{item}: {last}"
        );
    }
    assert!(last.contains("7.8.2.2"));
    let row = |item: &str| {
        let last = last.replace('\u{a0}', " ");
        let line = last.lines().find(|line| line.contains(item)).unwrap();
        line.to_owned()
    };
    assert!(row("7.8.2.1 b").contains("omitted"));
    assert!(row("7.8.2.1 o").contains("omitted"));
    assert!(row("7.8.2.1 a").contains("met"));
    assert!(row("7.8.2.1 i").contains("met"));
}

#[tokio::test]
async fn an_old_revision_s_report_says_that_it_is_superseded_and_stays_as_it_was() {
    let app = TestApp::seeded(&["larkfield-lf-65c"]).await;
    let changed = seed("larkfield-lf-65c").replacen("Larkfield", "Larkfield ", 1);
    let changed = changed.replacen("Larkfield ", "Larkfield", 1).replacen(
        "\"notes\": \"",
        "\"notes\": \"Second look. ",
        1,
    );
    app.revise("larkfield-lf-65c", &changed, "a second look")
        .await;
    app.site.refresh().await.unwrap();
    let (_, newest) = report(&app, "/unit/larkfield-lf-65c/report.pdf").await;
    let (answer, first) = report(&app, "/unit/larkfield-lf-65c/revision/1/report.pdf").await;
    assert!(answer.header("content-disposition").contains("-r1.pdf"));
    assert!(newest.words().contains("Second look."));
    assert!(!newest.words().contains("Superseded"));
    assert!(first.words().contains("Superseded"));
    assert!(!first.words().contains("Second look."));
    assert!(
        first.words().contains("a second look"),
        "the history has the reason"
    );
}

#[tokio::test]
async fn a_browser_that_has_a_report_is_not_sent_it_again() {
    let app = TestApp::seeded(&["larkfield-lf-65c"]).await;
    let path = "/unit/larkfield-lf-65c/report.pdf";
    let first = app.get(path).await;
    let tag = first.header("etag").to_owned();
    assert!(tag.starts_with('"'), "a strong tag: {tag}");
    let kept = first.header("cache-control");
    assert!(kept.starts_with("public, max-age=0"), "{kept}");
    let second = app.get_with(path, &[("if-none-match", &tag)]).await;
    assert_eq!(second.status, StatusCode::NOT_MODIFIED);
    assert!(second.bytes.is_empty());
    let letter = app.get(&format!("{path}?paper=letter")).await;
    assert_ne!(letter.header("etag"), tag);
    assert_eq!(
        Pdf::sound(&letter.bytes).fact("Page size"),
        "612 x 792 pts (letter)"
    );
    let odd = app.get(&format!("{path}?paper=a0")).await;
    assert_eq!(odd.status, StatusCode::BAD_REQUEST);
    assert!(odd.words().contains("expected a4 or letter"));
    assert_eq!(
        app.get("/unit/no-such/report.pdf").await.status,
        StatusCode::NOT_FOUND
    );
}

#[tokio::test]
async fn a_unit_s_page_and_a_class_s_page_lead_to_their_reports() {
    let app = TestApp::seeded(&["larkfield-lf-65c"]).await;
    let page = app.get("/unit/larkfield-lf-65c").await.text();
    assert!(page.contains("href=\"/unit/larkfield-lf-65c/report.pdf\""));
    let row = app.site.public().standings.rows()[0].clone();
    let page = app.get(&format!("/class/{}", row.class.id)).await.text();
    assert!(page.contains(&format!("href=\"/class/{}/report.pdf\"", row.class.id)));
}

#[test]
fn a_draft_is_marked_as_one_on_every_page_and_has_no_date_of_issue() {
    use brickbook::{
        bench::decode::decode,
        evaluate::{Method, evaluate},
        paper::{Paper, pdf},
        web::report::{Issuer, Photos, UnitReport, unit_document},
    };
    use std::sync::Arc;
    let text = seed("larkfield-lf-65c");
    let record = decode(&text).unwrap();
    let method = Arc::new(Method::standard());
    let report = UnitReport {
        record_text: text,
        evaluation: evaluate(&record, &method),
        record,
        method,
        issuer: Issuer {
            site_name: "Fernhill bench".into(),
            public_url: None,
            tester: Tester::default(),
            demo: false,
            paper: Paper::A4,
        },
        publication: None,
        draft_saved_at: Some(time::macros::datetime!(2026-03-04 05:06 UTC)),
        photos: Photos(Arc::new(|_| Err("none".into()))),
        missing_photos: Vec::new(),
    };
    let pdf = Pdf::sound(&pdf(unit_document(&report)).unwrap());
    let pages = pdf.page_texts();
    for (n, page) in pages.iter().enumerate() {
        assert!(page.contains("DRAFT"), "page {}", n + 1);
        assert!(page.contains("unpublished draft"), "page {}", n + 1);
    }
    let words = pdf.words();
    assert!(!words.contains("Date of issue 2"), "nothing was issued");
    assert!(words.contains("authorised by nobody"));
    assert!(words.contains("DRAFT as last saved on 4 Mar 2026, 05:06 UTC."));
    assert!(pdf.fact("CreationDate").contains("2026"));
}

#[tokio::test]
async fn fitted_curves_are_explained_and_rules_without_a_verdict_say_what_another_reading_gives() {
    let app = TestApp::seeded(&["larkfield-lf-100q"]).await;
    let page = app.get("/unit/larkfield-lf-100q").await.text();
    let (_, pdf) = report(&app, "/unit/larkfield-lf-100q/report.pdf").await;
    let words = pdf.words();
    assert!(words.contains("Thin curves are the fitted loss model."));
    assert!(!words.contains("(voluntary) (voluntary)"));
    assert!(words.contains("(voluntary). Not assessed: "), "{words}");
    let alternatives = |text: &str| text.matches("the limit would be").count();
    assert!(alternatives(&page) > 0);
    assert!(alternatives(&words) > 0);
}

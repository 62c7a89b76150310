//! What others take from the site: pictures, files, addresses.

use crate::app::TestApp;
use axum::http::StatusCode;
use brickbook::web::Config;

const THREE: [&str; 3] = ["larkfield-lf-100q", "hollowick-hk-100c", "quillmere-qm-12a"];

async fn licensed() -> TestApp {
    let app = TestApp::with(Config {
        licence: Some("CC BY 4.0, \"Ada's bench\"".to_owned()),
        ..Config::default()
    })
    .await;
    for name in THREE {
        app.publish(&crate::app::seed(name)).await;
    }
    app.site.refresh().await.unwrap();
    app
}

#[tokio::test]
async fn badge_and_charts_may_be_shown_by_other_sites_and_say_who_measured_when() {
    let app = TestApp::seeded(&THREE).await;
    for path in [
        "/unit/larkfield-lf-100q/badge.svg",
        "/unit/larkfield-lf-100q/chart.svg",
        "/class/w100/chart.svg",
        "/class/w240/chart.svg",
    ] {
        let answer = app.get(path).await;
        assert_eq!(answer.status, StatusCode::OK, "{path}");
        assert_eq!(answer.header("content-type"), "image/svg+xml");
        assert_eq!(answer.header("access-control-allow-origin"), "*");
        assert_eq!(
            answer.header("cross-origin-resource-policy"),
            "cross-origin"
        );
        let policy = answer.header("content-security-policy");
        assert!(
            policy.contains("default-src 'none'") && policy.contains("style-src 'unsafe-inline'")
        );
        assert_ne!(answer.header("etag"), "", "{path}");
        let svg = answer.text();
        assert!(svg.contains("measured by us"), "{path}");
        assert!(svg.contains("prefers-color-scheme"), "{path}");
        assert!(
            !svg.contains("<script") && !svg.contains(" style="),
            "{path}"
        );
    }
    let badge = app.get("/unit/larkfield-lf-100q/badge.svg").await.text();
    assert!(
        badge.contains("Rank ") && badge.contains(" of 2"),
        "{badge}"
    );
    for missing in [
        "/unit/nobody/badge.svg",
        "/unit/nobody/chart.svg",
        "/class/w9/chart.svg",
    ] {
        assert_eq!(
            app.get(missing).await.status,
            StatusCode::NOT_FOUND,
            "{missing}"
        );
    }
}

#[tokio::test]
async fn every_view_is_a_csv_file_with_units_licence_and_source_in_each_row() {
    let app = licensed().await;
    for (path, page, rows) in [
        ("/table.csv", "http://bench.example/", 3),
        (
            "/class/w100/table.csv?sort=price",
            "http://bench.example/class/w100?sort=price",
            2,
        ),
        (
            "/use/phone-overnight/table.csv?class=w100&tariff=0.3&currency=eur",
            "http://bench.example/use/phone-overnight?class=w100&tariff=0.3&currency=EUR",
            2,
        ),
        (
            "/use/own/table.csv?load=10:2&load=0:4",
            "http://bench.example/use/own?load=10%3A2&load=0%3A4",
            3,
        ),
        ("/at/table.csv?w=50", "http://bench.example/at?w=50", 3),
        (
            "/trade-offs/table.csv?x=mass&y=score",
            "http://bench.example/trade-offs?x=mass&y=score",
            3,
        ),
    ] {
        let answer = app.get(path).await;
        assert_eq!(answer.status, StatusCode::OK, "{path}");
        assert!(
            answer.header("content-type").starts_with("text/csv"),
            "{path}"
        );
        assert_eq!(answer.header("access-control-allow-origin"), "*");
        let text = answer.text();
        assert_eq!(
            text.matches('\n').count(),
            text.matches("\r\n").count(),
            "{path}"
        );
        let mut reader = csv::ReaderBuilder::new()
            .flexible(false)
            .from_reader(text.as_bytes());
        let header = reader.headers().unwrap().clone();
        assert!(
            header.iter().any(|name| name.ends_with(']')),
            "{path}: {header:?}"
        );
        let at = |name: &str| header.iter().position(|h| h == name).unwrap();
        let records: Vec<_> = reader.records().map(|r| r.unwrap()).collect();
        assert_eq!(records.len(), rows, "{path}");
        for record in &records {
            assert_eq!(
                &record[at("licence")],
                "CC BY 4.0, \"Ada's bench\"",
                "{path}"
            );
            assert_eq!(&record[at("source")], page, "{path}");
        }
    }
}

#[tokio::test]
async fn the_json_file_holds_the_same_rows_with_units_and_licence() {
    let app = licensed().await;
    for path in [
        "/table",
        "/class/w100/table",
        "/use/phone-overnight/table",
        "/at/table",
        "/trade-offs/table",
    ] {
        let answer = app.get(&format!("{path}.json")).await;
        assert_eq!(answer.header("content-type"), "application/json");
        let json: serde_json::Value = serde_json::from_str(&answer.text()).unwrap();
        assert_eq!(json["licence"], "CC BY 4.0, \"Ada's bench\"");
        let csv = app.get(&format!("{path}.csv")).await.text();
        let mut reader = csv::Reader::from_reader(csv.as_bytes());
        let header = reader.headers().unwrap().clone();
        let rows: Vec<_> = reader.records().map(|r| r.unwrap()).collect();
        assert_eq!(json["rows"].as_array().unwrap().len(), rows.len(), "{path}");
        for (row, record) in json["rows"].as_array().unwrap().iter().zip(&rows) {
            for (i, column) in json["columns"].as_array().unwrap().iter().enumerate() {
                let name = column["name"].as_str().unwrap();
                let head = match column["unit"].as_str() {
                    Some(unit) => format!("{name} [{unit}]"),
                    None => name.to_owned(),
                };
                assert_eq!(&header[i], head);
                let text = match &row[name] {
                    serde_json::Value::Null => String::new(),
                    serde_json::Value::String(text) => text.clone(),
                    serde_json::Value::Bool(flag) => if *flag { "yes" } else { "no" }.to_owned(),
                    number => {
                        let (a, b): (f64, f64) =
                            (number.as_f64().unwrap(), record[i].parse().unwrap());
                        assert_eq!(a, b, "{path} {name}");
                        record[i].to_owned()
                    }
                };
                assert_eq!(&record[i], text, "{path} {name}");
            }
        }
    }
}

#[tokio::test]
async fn without_a_licence_there_is_no_column_for_one() {
    let app = TestApp::seeded(&THREE).await;
    let text = app.get("/table.csv").await.text();
    assert!(!text.contains("licence"));
    assert!(text.lines().next().unwrap().ends_with(",source"));
}

#[tokio::test]
async fn the_sitemap_lists_every_public_page_with_its_last_change_and_robots_name_it() {
    let app = TestApp::seeded(&THREE).await;
    assert!(
        app.get("/robots.txt")
            .await
            .text()
            .contains("Sitemap: http://bench.example/sitemap.xml")
    );
    let answer = app.get("/sitemap.xml").await;
    assert_eq!(answer.header("content-type"), "application/xml");
    let xml = answer.text();
    let (_, entry) = xml
        .split_once("<url><loc>http://bench.example/unit/larkfield-lf-100q</loc>")
        .expect("the unit's page is listed");
    let (entry, _) = entry.split_once("</url>").expect("its entry ends");
    assert!(
        entry.ends_with("<lastmod>2026-09-02T10:00:00Z</lastmod>"),
        "{entry}"
    );
    let places: Vec<&str> = xml
        .split("<loc>")
        .skip(1)
        .map(|part| part.split_once("</loc>").unwrap().0)
        .collect();
    assert!(places.len() > 20);
    for place in places {
        let path = place
            .strip_prefix("http://bench.example")
            .unwrap()
            .replace("&amp;", "&");
        let answer = app.get(&path).await;
        assert_eq!(answer.status, StatusCode::OK, "{path}");
        let html = answer.text();
        // What the map names is how the page calls itself, may be indexed, and has a picture.
        let canonical = format!("<link rel=\"canonical\" href=\"{place}\">");
        assert!(
            html.contains(&canonical) || html.contains(&canonical.replace("&amp;", "&#38;")),
            "{path}"
        );
        assert!(!html.contains("noindex"), "{path}");
        assert!(html.contains("og:image\""), "{path}");
    }
    assert_eq!(
        app.get("/sitemap.xml?part=2").await.status,
        StatusCode::NOT_FOUND
    );
}

#[tokio::test]
async fn pictures_of_the_new_views_are_drawn() {
    let app = TestApp::seeded(&THREE).await;
    let plain = app.get("/preview.png").await.bytes;
    for query in [
        "use=phone-overnight",
        "use=own&load=10%3A2",
        "at=20&class=w100",
        "x=price&y=score",
        "about=use",
        "about=rules",
        "about=method",
        "regime=us_doe_level_vi",
    ] {
        let answer = app.get(&format!("/preview.png?{query}")).await;
        assert_eq!(answer.header("content-type"), "image/png", "{query}");
        assert_ne!(answer.bytes, plain, "{query}");
    }
    for query in [
        "use=nothing",
        "use=own",
        "at=NaN",
        "x=price&y=beauty",
        "about=us",
        "regime=x",
    ] {
        let answer = app.get(&format!("/preview.png?{query}")).await;
        assert_eq!(answer.status, StatusCode::NOT_FOUND, "{query}");
    }
}

//! Lists, pages, documents that a client holds already.

use crate::served::{Api, body, header, record, text};
use serde_json::Value;
use std::collections::BTreeSet;

#[tokio::test]
async fn following_the_next_links_visits_every_unit_once() {
    let records: Vec<Value> = (0..7)
        .map(|n| record("Larkfield", &format!("LF-{n}"), 60.0))
        .collect();
    let api = Api::with(&records).await;
    for path in ["/units", "/ranking"] {
        let mut seen = BTreeSet::new();
        let mut address = format!("/api/v1{path}?per_page=3");
        let mut pages = 0;
        loop {
            let answer = api.follow(&address).send().await.unwrap();
            let link = header(&answer, "link");
            let page = body(answer).await;
            pages += 1;
            assert_eq!(page["total"], 7);
            for unit in page["units"].as_array().unwrap() {
                assert!(
                    seen.insert(unit["slug"].as_str().unwrap().to_owned()),
                    "{unit} twice"
                );
            }
            let next = link.split(", ").find(|l| l.ends_with("rel=\"next\""));
            match next {
                Some(next) => {
                    let end = next.find('>').unwrap();
                    address = next[1..end].to_owned();
                }
                None => break,
            }
        }
        assert_eq!((seen.len(), pages), (7, 3), "{path}");
    }
}

#[tokio::test]
async fn a_filter_leaves_what_it_names_and_a_page_past_the_end_is_empty() {
    let api = Api::with(&[
        record("Larkfield", "LF-65", 65.0),
        record("Brackwater", "B-20", 20.0),
    ])
    .await;
    let found = body(api.get("/units?maker=Brackwater").await).await;
    assert_eq!(found["total"], 1);
    assert_eq!(found["units"][0]["slug"], "brackwater-b-20");
    let class = found["units"][0]["class"]["id"].as_str().unwrap();
    let found = body(api.get(&format!("/ranking?class={class}")).await).await;
    assert_eq!(found["total"], 1);
    let one = [
        "q=brack%2020",
        "price=39&currency=EUR&ports=1&usb_c=1&sort=mass&dir=desc&q=b-20",
        "from=2026-08-20&to=2026-08-20&maker=brackwater",
    ];
    for query in one {
        assert_eq!(
            body(api.get(&format!("/units?{query}")).await).await["total"],
            1,
            "{query}"
        );
    }
    for query in [
        "price=38.99&currency=EUR",
        "currency=USD",
        "from=2026-08-21",
        "ports=2",
        "q=x",
    ] {
        assert_eq!(
            body(api.get(&format!("/units?{query}")).await).await["total"],
            0,
            "{query}"
        );
    }
    let found = body(api.get("/units?page=5").await).await;
    assert_eq!(
        (
            found["total"].as_u64(),
            found["units"].as_array().map(Vec::len)
        ),
        (Some(2), Some(0))
    );
}

#[tokio::test]
async fn the_ranking_says_rank_intervals_overall_and_in_the_class() {
    let mut worse = record("Brackwater", "B-65", 65.0);
    for point in worse["runs"][0]["points"].as_array_mut().unwrap() {
        let input_w = point["input"]["power_w"].as_f64().unwrap();
        point["input"]["power_w"] = (input_w * 1.1).into();
    }
    let api = Api::with(&[worse, record("Larkfield", "LF-65", 65.0)]).await;
    let ranking = body(api.get("/ranking").await).await;
    let units = ranking["units"].as_array().unwrap();
    assert_eq!(units[0]["slug"], "larkfield-lf-65");
    assert_eq!(units[1]["slug"], "brackwater-b-65");
    assert!(units[0]["score"]["value"].as_f64() > units[1]["score"]["value"].as_f64());
    for (unit, rank) in units.iter().zip([1, 2]) {
        for scope in ["overall", "in_class"] {
            assert_eq!(unit["rank"][scope]["from"], rank, "{unit}");
            assert_eq!(unit["rank"][scope]["to"], rank, "{unit}");
            assert_eq!(unit["rank"][scope]["of"], 2, "{unit}");
        }
    }
}

#[tokio::test]
async fn a_document_that_the_client_holds_is_not_sent_again() {
    let api = Api::with(&[record("Larkfield", "LF-65", 65.0)]).await;
    for path in [
        "/units/larkfield-lf-65",
        "/units/larkfield-lf-65/evaluation",
        "/units/larkfield-lf-65/revisions/1",
    ] {
        let etag = header(&api.get(path).await, "etag");
        let again = api
            .ask("GET", path)
            .header("if-none-match", &etag)
            .send()
            .await
            .unwrap();
        assert_eq!(again.status(), 304, "{path}");
        assert_eq!(header(&again, "etag"), etag);
        assert_eq!(text(again).await, "");
        let other = api
            .ask("GET", path)
            .header("if-none-match", "\"x\"")
            .send()
            .await
            .unwrap();
        assert_eq!(other.status(), 200);
    }
}

#[tokio::test]
async fn a_list_is_not_sent_again_until_something_is_published() {
    let api = Api::with(&[record("Larkfield", "LF-65", 65.0)]).await;
    for path in ["/units", "/ranking?sort=mass", "/classes"] {
        let first = api.get(path).await;
        let etag = header(&first, "etag");
        assert!(!etag.is_empty(), "{path}");
        assert_eq!(header(&first, "access-control-allow-origin"), "*");
        let ask = || api.ask("GET", path).header("if-none-match", &etag).send();
        assert_eq!(ask().await.unwrap().status(), 304, "{path}");
        let model = format!("for {path}");
        let published = api
            .publish(&record("Larkfield", &model, 65.0).to_string())
            .await;
        assert_eq!(published.status(), 201);
        let fresh = ask().await.unwrap();
        assert_eq!(fresh.status(), 200, "{path}");
        assert_ne!(header(&fresh, "etag"), etag);
    }
}

#[tokio::test]
async fn scripts_of_other_sites_may_read() {
    let api = Api::with(&[record("Larkfield", "LF-65", 65.0)]).await;
    for path in [
        "/units",
        "/units/larkfield-lf-65",
        "/units/nobody",
        "/nothing",
    ] {
        let answer = api.get(path).await;
        assert_eq!(
            header(&answer, "access-control-allow-origin"),
            "*",
            "{path}"
        );
        assert_eq!(header(&answer, "access-control-allow-credentials"), "");
    }
}

#[tokio::test]
async fn head_gives_the_headers_of_get() {
    let api = Api::with(&[record("Larkfield", "LF-65", 65.0)]).await;
    let answer = api
        .ask("HEAD", "/units/larkfield-lf-65")
        .send()
        .await
        .unwrap();
    assert_eq!(answer.status(), 200);
    assert_eq!(header(&answer, "etag"), "\"revision-1\"");
    assert_eq!(text(answer).await, "");
}

#[tokio::test]
async fn every_regime_of_the_list_can_be_looked_at() {
    let api = Api::start().await;
    let list = body(api.get("/regimes").await).await;
    let regimes = list["regimes"].as_array().unwrap();
    let ids: BTreeSet<_> = regimes.iter().map(|r| r["id"].as_str().unwrap()).collect();
    for id in [
        "us_doe_level_vi",
        "eu_2019_1782",
        "eu_coc_v5_tier1",
        "eu_coc_v5_tier2",
    ] {
        assert!(ids.contains(id), "{id}");
    }
    for regime in regimes {
        let detail = api
            .follow(regime["url"].as_str().unwrap())
            .send()
            .await
            .unwrap();
        let detail = body(detail).await;
        assert_eq!(detail["regime"], *regime);
        assert_eq!(
            detail["limits"].as_array().unwrap().is_empty(),
            regime["limits_known"] == false,
            "{regime}"
        );
    }
}

#[tokio::test]
async fn classes_count_their_units() {
    let api = Api::with(&[
        record("Larkfield", "LF-65", 65.0),
        record("Larkfield", "LF-66", 66.0),
    ])
    .await;
    let list = body(api.get("/classes").await).await;
    let classes = list["classes"].as_array().unwrap();
    let counted: u64 = classes.iter().map(|c| c["units"].as_u64().unwrap()).sum();
    assert_eq!(counted, 2);
    let unit = body(api.get("/units").await).await;
    let class = classes
        .iter()
        .find(|c| c["id"] == unit["units"][0]["class"]["id"])
        .unwrap();
    assert_eq!(class["units"], 2);
}

#[tokio::test]
async fn a_ranked_unit_has_its_further_figures_and_the_list_sorts_by_them() {
    let mut tested = record("Larkfield", "LF-65", 65.0);
    tested["overloads"] = serde_json::json!([
        {"port": "C1", "voltage_v": 20, "trip_current_a": 3.9, "recovery": "auto"}]);
    tested["measurements"] = serde_json::json!([
        {"quantity": "touch_current_ua", "value": 62, "accuracy": 4, "line_voltage_v": 230}]);
    let api = Api::with(&[record("Larkfield", "A-65", 65.0), tested]).await;
    let ranking: serde_json::Value = api
        .get("/ranking?sort=trip-margin")
        .await
        .json()
        .await
        .unwrap();
    let first = &ranking["units"][0];
    assert_eq!(first["model"], "LF-65", "the one with a value comes first");
    assert!((first["trip_margin_percent"].as_f64().unwrap() - 20.0).abs() < 1e-9);
    assert_eq!(first["recovery"], "auto");
    let touch = &first["measurements"][0];
    assert_eq!(
        (touch["quantity"].as_str(), touch["unit"].as_str()),
        (Some("touch_current_ua"), Some("µA"))
    );
    let second = &ranking["units"][1];
    assert!(second["trip_margin_percent"].is_null() && second["recovery"].is_null());
    assert_eq!(second["measurements"], serde_json::json!([]));
}

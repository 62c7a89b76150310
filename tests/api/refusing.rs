//! Whatever goes wrong is a problem document.

use crate::served::{Api, body, header, problem, record};
use brickbook::web::Config;
use serde_json::json;

#[tokio::test]
async fn a_refused_record_is_told_all_its_faults_with_their_paths() {
    let api = Api::start().await;
    let mut wrong = record("Larkfield", "LF-65", 65.0);
    wrong["unit"]["nameplate"]["output_power_w"] = json!(-1);
    wrong["unit"]["colour"] = json!("black");
    wrong["runs"][0]["points"][2]["input"]["power_w"] = json!("12 W");
    for path in ["/units", "/evaluate"] {
        let answer = api
            .write("POST", path, &wrong.to_string())
            .send()
            .await
            .unwrap();
        let refused = problem(answer, 422).await;
        assert_eq!(refused["type"], "urn:brickbook:problem:refused-record");
        let faults = refused["faults"].as_array().unwrap();
        let paths: Vec<_> = faults.iter().map(|f| f["path"].as_str().unwrap()).collect();
        assert_eq!(paths.len(), 3, "{refused}");
        for path in [
            "unit.nameplate.output_power_w",
            "unit.colour",
            "runs[0].points[2].input.power_w",
        ] {
            assert!(paths.contains(&path), "{path}: {refused}");
        }
        for fault in faults {
            assert!(
                fault["value"].is_string() && fault["expected"].is_string(),
                "{fault}"
            );
        }
    }
    assert_eq!(body(api.get("/units").await).await["total"], 0);
}

#[tokio::test]
async fn what_is_not_json_at_all_is_refused_as_a_record() {
    let api = Api::start().await;
    for text in ["", "{", "[1e999]", "null", "{\"format\": NaN}"] {
        let answer = api.write("POST", "/evaluate", text).send().await.unwrap();
        let refused = problem(answer, 422).await;
        assert!(
            refused["faults"].as_array().is_some_and(|f| !f.is_empty()),
            "{text}: {refused}"
        );
    }
    let answer = api
        .ask("POST", "/evaluate")
        .header("content-type", "application/json")
        .body(vec![b'"', 0xff, b'"'])
        .send()
        .await
        .unwrap();
    assert!(
        problem(answer, 400).await["detail"]
            .as_str()
            .unwrap()
            .contains("byte 1")
    );
}

#[tokio::test]
async fn an_address_without_anything_is_a_problem_document() {
    let api = Api::start().await;
    for path in [
        "/",
        "/nothing",
        "/units/nobody",
        "/units/nobody/evaluation",
        "/units/nobody/revisions",
        "/units/nobody/revisions/1",
        "/units/nobody/else",
        "/regimes/nobody",
    ] {
        problem(api.get(path).await, 404).await;
    }
    // Beside the API's own root the outer site answers.
    for address in [
        "/api",
        "/api/",
        "/api/v2/units",
        "/api/v1",
        "/api/v1/units/%FF",
    ] {
        let answer = api.follow(address).send().await.unwrap();
        let status = answer.status().as_u16();
        assert!((400..500).contains(&status), "{address}");
        problem(answer, status).await;
    }
}

#[tokio::test]
async fn a_revision_that_is_not_there_is_a_problem_document() {
    let api = Api::with(&[record("Larkfield", "LF-65", 65.0)]).await;
    for number in ["0", "2", "-1", "one", "99999999999999999999"] {
        problem(
            api.get(&format!("/units/larkfield-lf-65/revisions/{number}"))
                .await,
            404,
        )
        .await;
    }
}

#[tokio::test]
async fn a_method_that_is_not_possible_is_told_which_are() {
    let api = Api::start().await;
    let answer = api.ask("DELETE", "/units").send().await.unwrap();
    assert_eq!(header(&answer, "allow"), "GET,HEAD,POST");
    problem(answer, 405).await;
}

#[tokio::test]
async fn a_record_that_is_too_large_or_not_json_by_its_header_is_refused() {
    let config = Config {
        body_limit_bytes: 1000,
        ..Config::default()
    };
    let api = Api::start_with(config).await;
    for path in ["/evaluate", "/units"] {
        let large = format!("\"{}\"", "x".repeat(1000));
        let answer = api.write("POST", path, &large).send().await.unwrap();
        assert!(
            problem(answer, 413).await["detail"]
                .as_str()
                .unwrap()
                .contains("1000")
        );
        let answer = api
            .ask("POST", path)
            .bearer_auth(crate::served::TOKEN)
            .header("content-type", "text/plain")
            .body("{}")
            .send()
            .await
            .unwrap();
        problem(answer, 415).await;
    }
}

#[tokio::test]
async fn a_query_that_cannot_be_read_is_refused_by_the_parameter() {
    let api = Api::start().await;
    for (query, name) in [
        ("page=0", "page"),
        ("page=x", "page"),
        ("per_page=201", "per_page"),
        ("colour=black", "colour"),
        ("sort=colour", "sort"),
        ("class=w12345", "class"),
        ("price=30", "price"),
        ("price=-1&currency=EUR", "price"),
        ("verdict=passes", "verdict"),
        ("regime=us_doe_level_vi", "regime"),
        ("regime=none&verdict=passes", "regime"),
        ("from=yesterday", "from"),
        ("dir=up", "dir"),
        ("maker=", "maker"),
    ] {
        for path in ["/units", "/ranking"] {
            let refused = problem(api.get(&format!("{path}?{query}")).await, 400).await;
            assert!(
                refused["detail"].as_str().unwrap().contains(name),
                "{query}: {refused}"
            );
        }
    }
}

#[tokio::test]
async fn a_database_that_is_gone_is_our_fault_and_its_cause_stays_with_us() {
    let api = Api::start().await;
    api.site.db.close().await;
    let failed = problem(api.get("/units/larkfield-lf-65").await, 500).await;
    let detail = failed["detail"].as_str().unwrap().to_lowercase();
    assert!(
        !detail.contains("pool") && !detail.contains("sql"),
        "{failed}"
    );
}

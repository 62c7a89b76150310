//! Raw logs by the API: uploaded, named by a record, and judged with it.

use crate::served::{Api, TOKEN, body, problem, record};
use brickbook::web::Config;
use serde_json::json;

/// An hour of an invented meter at one row a second.
fn steady() -> String {
    let mut text = String::from("Time (s),Power (mW)\n");
    for second in 0..3600 {
        text.push_str(&format!(
            "{second},{:.2}\n",
            61.0 + f64::from(second % 7) * 0.1
        ));
    }
    text
}

fn files_of(api: &Api) -> usize {
    std::fs::read_dir(api.site.db.logs().folder())
        .into_iter()
        .flatten()
        .count()
}

#[tokio::test]
async fn a_record_is_judged_by_the_log_that_was_uploaded_for_it() {
    let api = Api::start().await;
    let answer = api
        .ask("POST", "/logs?name=no%20load.csv")
        .bearer_auth(TOKEN)
        .body(steady())
        .send()
        .await
        .unwrap();
    assert_eq!(answer.status(), 201);
    let kept = body(answer).await;
    assert_eq!(kept["rows"], 3600);
    assert_eq!(kept["fault"], json!(null));
    let again = api.ask("POST", "/logs?name=no%20load%202.csv");
    let again = again
        .bearer_auth(TOKEN)
        .body(steady())
        .send()
        .await
        .unwrap();
    assert_eq!(again.status(), 200);
    let again = body(again).await;
    assert_eq!(again["name"], "no load 2.csv", "the name that was sent");
    assert_eq!(again["sha256"], kept["sha256"]);
    let mut record = record("Larkfield", "LF-65", 65.0);
    record["logs"] = json!([{
        "name": kept["name"], "sha256": kept["sha256"],
        "size_bytes": kept["size_bytes"], "layout": kept["layout"]
    }]);
    record["runs"][0]["no_load"] = json!({"log": "no load.csv"});
    let published = body(api.publish(&record.to_string()).await).await;
    assert_eq!(published["change"], "published", "{published:#}");
    let no_load = &published["evaluation"]["runs"][0]["no_load"];
    assert_eq!(no_load["log"]["name"], "no load.csv", "{no_load:#}");
    let power_w = no_load["power_w"].as_f64().expect("it is measured");
    assert!((power_w - 0.0613).abs() < 1e-4, "{power_w}");
}

#[tokio::test]
async fn a_log_that_is_too_large_or_has_no_name_is_refused_and_nothing_is_kept() {
    let api = Api::start_with(Config {
        log_limit_bytes: 1_000,
        ..Config::default()
    })
    .await;
    let send = |query: &str| {
        api.ask("POST", &format!("/logs{query}"))
            .bearer_auth(TOKEN)
            .body(steady())
            .send()
    };
    let refused = problem(send("?name=a.csv").await.unwrap(), 413).await;
    assert!(refused["detail"].as_str().unwrap().contains("1000 bytes"));
    for query in ["", "?name=", "?name=a%2Fb.csv", "?name=%0A"] {
        let refused = problem(send(query).await.unwrap(), 400).await;
        assert!(
            refused["detail"].as_str().unwrap().contains("file name"),
            "{query}"
        );
    }
    let long = "x".repeat(201);
    problem(send(&format!("?name={long}")).await.unwrap(), 400).await;
    assert_eq!(files_of(&api), 0);
}

#[tokio::test]
async fn a_log_larger_than_a_record_may_be_is_taken() {
    let api = Api::start_with(Config {
        body_limit_bytes: 1_000,
        ..Config::default()
    })
    .await;
    let answer = api
        .ask("POST", "/logs?name=a.csv")
        .bearer_auth(TOKEN)
        .body(steady())
        .send()
        .await
        .unwrap();
    assert_eq!(answer.status(), 201);
}

#[tokio::test]
async fn a_log_without_a_byte_is_refused_and_not_kept() {
    let api = Api::start().await;
    let ask = api.ask("POST", "/logs?name=empty.csv").bearer_auth(TOKEN);
    let refused = problem(ask.send().await.unwrap(), 400).await;
    let detail = refused["detail"].as_str().unwrap();
    assert!(detail.contains("no body"), "{detail}");
    assert_eq!(files_of(&api), 0);
}

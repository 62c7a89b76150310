//! Publishing and revising.

use brickbook::storage::api_tokens::{Scope, Scopes};

use crate::served::{Api, TOKEN, body, header, problem, record, text};
use serde_json::json;

/// A valid record whose spelling no serializer would choose.
const ODDLY_SPELT: &str = "{ \"format\" : \"brickbook-record/1\",\n\t\"unit\": {\"model\": \"Odd\",   \
    \"maker\":\"Larkfield \\u0026 Söhne\", \"sample\": null, \"nameplate\": {\"output_power_w\": 6.50e1}},\r\n \
    \"notes\": \"a\\/b\" }\n\n";

#[tokio::test]
async fn a_published_record_comes_back_byte_for_byte() {
    let api = Api::start().await;
    let answer = api.publish(ODDLY_SPELT).await;
    assert_eq!(answer.status(), 201);
    let location = header(&answer, "location");
    let published = body(answer).await;
    assert_eq!(published["change"], "published");
    assert_eq!(published["revision"], 1);
    assert_eq!(published["links"]["record"], location.as_str());

    let answer = api.follow(&location).send().await.unwrap();
    assert_eq!(header(&answer, "content-type"), "application/json");
    assert_eq!(header(&answer, "etag"), "\"revision-1\"");
    assert_eq!(text(answer).await, ODDLY_SPELT);
    let slug = published["slug"].as_str().unwrap();
    assert_eq!(
        text(api.get(&format!("/units/{slug}/revisions/1")).await).await,
        ODDLY_SPELT
    );
}

#[tokio::test]
async fn the_evaluation_is_the_same_from_publishing_from_the_unit_and_from_evaluate() {
    let api = Api::start().await;
    let record = record("Larkfield", "LF-65", 65.0).to_string();
    let evaluated = text(
        api.write("POST", "/evaluate", &record)
            .send()
            .await
            .unwrap(),
    )
    .await;
    let published = body(api.publish(&record).await).await;
    let stored = text(api.get("/units/larkfield-lf-65/evaluation").await).await;
    assert_eq!(stored, evaluated);
    assert_eq!(published["evaluation"].to_string(), evaluated);
    assert!(
        published["evaluation"]["score"]["value"]
            .as_f64()
            .is_some_and(|v| v > 0.0)
    );
}

#[tokio::test]
async fn the_same_record_sent_again_changes_nothing() {
    let api = Api::start().await;
    let record = record("Larkfield", "LF-65", 65.0).to_string();
    assert_eq!(api.publish(&record).await.status(), 201);
    let again = api.publish(&record).await;
    assert_eq!(again.status(), 200);
    assert_eq!(body(again).await["change"], "unchanged");
    let revisions = body(api.get("/units/larkfield-lf-65/revisions").await).await;
    assert_eq!(revisions["revisions"].as_array().map(Vec::len), Some(1));
}

#[tokio::test]
async fn another_record_of_a_tested_sample_is_refused_with_a_link_to_it() {
    let api = Api::with(&[record("Larkfield", "LF-65", 65.0)]).await;
    let answer = api
        .publish(&record("larkfield", " lf-65", 60.0).to_string())
        .await;
    assert_eq!(
        header(&answer, "link"),
        "</api/v1/units/larkfield-lf-65>; rel=\"related\""
    );
    let problem = problem(answer, 409).await;
    assert_eq!(problem["unit"], "/api/v1/units/larkfield-lf-65");
    let list = body(api.get("/units").await).await;
    assert_eq!(list["total"], 1);
}

#[tokio::test]
async fn a_revision_keeps_the_former_record_with_author_and_reason() {
    let first = record("Larkfield", "LF-65", 65.0);
    let api = Api::with(std::slice::from_ref(&first)).await;
    let mut second = first.clone();
    second["notes"] = json!("no-load read again");
    let answer = api
        .write("PUT", "/units/larkfield-lf-65", &second.to_string())
        .header("brickbook-reason", "meter was warm: ü".as_bytes())
        .send()
        .await
        .unwrap();
    assert_eq!(answer.status(), 200);
    let answer = body(answer).await;
    assert_eq!(
        (&answer["change"], &answer["revision"]),
        (&json!("revised"), &json!(2))
    );

    let list = body(api.get("/units/larkfield-lf-65/revisions").await).await;
    assert_eq!(list["revisions"][0]["number"], 2);
    assert_eq!(list["revisions"][0]["author"], "Tester");
    assert_eq!(list["revisions"][0]["reason"], "meter was warm: ü");
    let old = list["revisions"][1]["record"].as_str().unwrap();
    assert_eq!(
        text(api.follow(old).send().await.unwrap()).await,
        first.to_string()
    );
    assert_eq!(
        text(api.get("/units/larkfield-lf-65").await).await,
        second.to_string()
    );
}

#[tokio::test]
async fn a_revision_without_a_reason_is_refused_and_one_in_the_query_serves() {
    let first = record("Larkfield", "LF-65", 65.0);
    let api = Api::with(std::slice::from_ref(&first)).await;
    let mut second = first;
    second["notes"] = json!("changed");
    let send = |query: &str| {
        api.write(
            "PUT",
            &format!("/units/larkfield-lf-65{query}"),
            &second.to_string(),
        )
        .send()
    };
    let refused = problem(send("").await.unwrap(), 400).await;
    assert!(
        refused["detail"]
            .as_str()
            .unwrap()
            .contains("Brickbook-Reason")
    );
    problem(send("?reason=%20").await.unwrap(), 400).await;
    problem(
        send(&format!("?reason={}", "x".repeat(501))).await.unwrap(),
        400,
    )
    .await;
    assert_eq!(
        send("?reason=a%20typing%20error").await.unwrap().status(),
        200
    );
}

#[tokio::test]
async fn a_revision_of_a_state_that_is_no_longer_the_newest_is_refused() {
    let first = record("Larkfield", "LF-65", 65.0);
    let api = Api::with(std::slice::from_ref(&first)).await;
    let send = |notes: &str, if_match: &str| {
        let mut record = first.clone();
        record["notes"] = json!(notes);
        api.write(
            "PUT",
            "/units/larkfield-lf-65?reason=test",
            &record.to_string(),
        )
        .header("if-match", if_match)
        .send()
    };
    assert_eq!(send("one", "\"revision-1\"").await.unwrap().status(), 200);
    problem(send("two", "\"revision-1\"").await.unwrap(), 412).await;
    assert_eq!(send("two", "\"revision-2\"").await.unwrap().status(), 200);
    assert_eq!(send("three", "*").await.unwrap().status(), 200);
}

#[tokio::test]
async fn a_unit_cannot_take_the_name_of_another_and_a_missing_one_cannot_be_revised() {
    let other = record("Larkfield", "LF-30", 30.0);
    let api = Api::with(&[record("Larkfield", "LF-65", 65.0), other.clone()]).await;
    let send = |slug: &str| {
        api.write(
            "PUT",
            &format!("/units/{slug}?reason=test"),
            &other.to_string(),
        )
        .send()
    };
    let taken = problem(send("larkfield-lf-65").await.unwrap(), 409).await;
    assert_eq!(taken["unit"], "/api/v1/units/larkfield-lf-30");
    problem(send("nobody").await.unwrap(), 404).await;
}

#[tokio::test]
async fn writing_needs_a_token_that_is_known_and_not_revoked() {
    let api = Api::with(&[record("Larkfield", "LF-65", 65.0)]).await;
    let revoked = api.make_token("soon-revoked").await;
    api.revoke_token(revoked).await;
    let record = record("Larkfield", "LF-30", 30.0).to_string();
    for (method, path) in [
        ("POST", "/units"),
        ("PUT", "/units/larkfield-lf-65?reason=x"),
    ] {
        for authorization in [
            None,
            Some("Bearer soon-revoked".to_owned()),
            Some("Bearer wrong".to_owned()),
            Some("Bearer ".to_owned()),
            Some(format!("Basic {TOKEN}")),
            Some(TOKEN.to_owned()),
        ] {
            let mut request = api.ask(method, path).body(record.clone());
            request = request.header("content-type", "application/json");
            if let Some(authorization) = &authorization {
                request = request.header("authorization", authorization);
            }
            let answer = request.send().await.unwrap();
            assert!(
                header(&answer, "www-authenticate").starts_with("Bearer"),
                "{authorization:?}"
            );
            problem(answer, 401).await;
        }
    }
    assert_eq!(body(api.get("/units").await).await["total"], 1);
}

#[tokio::test]
async fn a_session_cookie_does_not_let_a_page_write() {
    let api = Api::start().await;
    let answer = api
        .ask("POST", "/units")
        .header("cookie", format!("brickbook_session={TOKEN}"))
        .header("origin", "https://elsewhere.example")
        .header("content-type", "application/json")
        .body(record("Larkfield", "LF-30", 30.0).to_string())
        .send()
        .await
        .unwrap();
    assert_eq!(header(&answer, "access-control-allow-origin"), "");
    problem(answer, 401).await;
    let preflight = api
        .ask("OPTIONS", "/units")
        .header("origin", "https://elsewhere.example")
        .header("access-control-request-method", "POST")
        .send()
        .await
        .unwrap();
    assert_eq!(header(&preflight, "access-control-allow-origin"), "");
    assert_eq!(header(&preflight, "access-control-allow-methods"), "");
}

#[tokio::test]
async fn a_token_that_has_expired_opens_nothing() {
    let api = Api::start().await;
    let now = api.site.clock.now();
    let all = || Scopes::new(Scope::ALL);
    let hour = time::Duration::hours(1);
    api.make_token_for("a-token-of-yesterday", all(), Some(now - hour))
        .await;
    api.make_token_for("a-token-of-tomorrow", all(), Some(now + hour))
        .await;
    let ask = async |token: &str| {
        let request = api.ask("GET", "/drafts").bearer_auth(token);
        request.send().await.unwrap()
    };
    let told = problem(ask("a-token-of-yesterday").await, 401).await;
    assert!(told["detail"].as_str().unwrap().contains("expired"));
    assert_eq!(ask("a-token-of-tomorrow").await.status(), 200);
}

#[tokio::test]
async fn what_needs_a_token_is_kept_by_nobody_and_closed_to_other_sites() {
    let api = Api::start().await;
    let request = api.ask("GET", "/drafts").bearer_auth(TOKEN);
    let answer = request
        .header("origin", "https://elsewhere.example")
        .send()
        .await
        .unwrap();
    assert_eq!(answer.status(), 200);
    assert_eq!(header(&answer, "cache-control"), "no-store");
    assert_eq!(header(&answer, "access-control-allow-origin"), "");
}

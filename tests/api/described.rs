//! The OpenAPI document says exactly what is served.

use crate::served::{Api, TOKEN, body, header, problem, record};
use brickbook::photo;
use brickbook::storage::{
    api_tokens::{Scope, Scopes},
    drafts,
};
use reqwest::Response;
use serde_json::{Map, Value, json};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::atomic::{AtomicU32, Ordering};

const METHODS: [&str; 5] = ["get", "post", "put", "patch", "delete"];

#[tokio::test]
async fn every_described_operation_answers_with_a_document_that_fits_its_description() {
    let api = Api::with(&[record("Larkfield", "LF-65", 65.0)]).await;
    let description = Description::of(&api).await;
    let mut called = 0;
    for (path, method) in description.operations() {
        for (expected, answer) in situations(&api, &path, &method).await {
            let status = answer.status().as_u16();
            assert_eq!(status, expected, "{method} {path}");
            description.check(&path, &method, answer).await;
            called += 1;
        }
    }
    assert!(called > 20, "only {called} situations");
}

#[tokio::test]
async fn every_described_answer_of_every_operation_is_one_that_happens() {
    let api = Api::with(&[record("Larkfield", "LF-65", 65.0)]).await;
    let description = Description::of(&api).await;
    for (path, method) in description.operations() {
        let described: BTreeSet<u16> = description.0["paths"][&path][&method]["responses"]
            .as_object()
            .expect("responses are an object")
            .keys()
            .map(|status| status.parse().expect("a status is a number"))
            .collect();
        let seen: BTreeSet<u16> = situations(&api, &path, &method)
            .await
            .iter()
            .map(|(status, _)| *status)
            .collect();
        // Too large needs a site with a small limit; `refusing` shows it.
        let missing: Vec<_> = described.difference(&seen).filter(|s| **s != 413).collect();
        assert!(
            missing.is_empty(),
            "{method} {path}: {missing:?} described, never seen"
        );
    }
}

#[tokio::test]
async fn a_method_that_is_not_described_is_not_served() {
    let api = Api::with(&[record("Larkfield", "LF-65", 65.0)]).await;
    let description = Description::of(&api).await;
    let mut described: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for (path, method) in description.operations() {
        described.entry(path).or_default().insert(method);
    }
    for (path, methods) in described {
        for method in METHODS.iter().filter(|m| !methods.contains(**m)) {
            let answer = api
                .ask(&method.to_uppercase(), &filled(&path))
                .bearer_auth(TOKEN)
                .send()
                .await;
            let answer = answer.unwrap();
            let allowed: BTreeSet<String> = header(&answer, "allow")
                .split(',')
                .map(|m| m.trim().to_lowercase())
                .filter(|m| m != "head")
                .collect();
            assert_eq!(allowed, methods, "{method} {path}");
            problem(answer, 405).await;
        }
    }
}

#[test]
fn routes_are_registered_only_together_with_their_description() {
    let source = include_str!("../../src/web/api/mod.rs");
    assert!(source.contains(".routes(routes!("));
    for other in [
        ".route(",
        ".nest(",
        ".merge(",
        "route_service",
        "nest_service",
    ] {
        assert!(!source.contains(other), "{other} in src/web/api/mod.rs");
    }
}

#[tokio::test]
async fn the_description_is_whole() {
    let api = Api::start().await;
    let description = Description::of(&api).await.0;
    assert!(
        description["openapi"]
            .as_str()
            .is_some_and(|v| v.starts_with("3.1"))
    );
    assert_eq!(description["servers"][0]["url"], "/api/v1");
    let text = description.to_string();
    for (at, _) in text.match_indices("\"$ref\":\"#") {
        let pointer = &text[at + "\"$ref\":\"#".len()..];
        let pointer = &pointer[..pointer.find('"').expect("a text ends")];
        assert!(
            description.pointer(pointer).is_some(),
            "#{pointer} leads nowhere"
        );
    }
    for writing in [
        ("/units", "post"),
        ("/units/{slug}", "put"),
        ("/logs", "post"),
        ("/photos", "post"),
        ("/drafts", "get"),
        ("/drafts/{id}", "get"),
        ("/queue", "get"),
    ] {
        let security = &description["paths"][writing.0][writing.1]["security"];
        assert_eq!(*security, json!([{"token": []}]), "{writing:?}");
    }
    for (path, method) in Description(description.clone()).operations() {
        let operation = &description["paths"][&path][&method];
        for key in ["summary", "operationId"] {
            assert!(
                operation[key].as_str().is_some_and(|t| !t.is_empty()),
                "{key}: {method} {path}"
            );
        }
        let parameters = operation["parameters"]
            .as_array()
            .cloned()
            .unwrap_or_default();
        for parameter in &parameters {
            let described = parameter["description"]
                .as_str()
                .is_some_and(|t| !t.is_empty());
            assert!(described, "{method} {path}: {parameter}");
        }
        let in_path: BTreeSet<&str> = parameters
            .iter()
            .filter(|p| p["in"] == "path")
            .filter_map(|p| p["name"].as_str())
            .collect();
        let named: BTreeSet<&str> = path
            .split('/')
            .filter_map(|part| part.strip_prefix('{')?.strip_suffix('}'))
            .collect();
        assert_eq!(in_path, named, "{path}");
    }
}

#[tokio::test]
async fn an_answer_that_does_not_fit_is_found() {
    let api = Api::start().await;
    let description = Description::of(&api).await;
    let fits = |list: &Value| description.fits("/units", "get", "200", "application/json", list);
    assert!(fits(&json!({"page": 1, "per_page": 50, "total": 0, "units": []})).is_ok());
    assert!(fits(&json!({"page": 1, "per_page": 50, "total": 0})).is_err());
    assert!(fits(&json!({"page": 1, "per_page": 50, "total": 0, "units": [], "more": 1})).is_err());
    assert!(fits(&json!({"page": 1, "per_page": 50, "total": 0, "units": [{}]})).is_err());
}

/// What an operation answers in each situation that its description names, with the status that
/// is due.
async fn situations(api: &Api, path: &str, method: &str) -> Vec<(u16, Response)> {
    let unit = record("Larkfield", "LF-65", 65.0);
    let mut other_watts = unit.clone();
    other_watts["unit"]["nameplate"]["output_power_w"] = json!(60);
    // Each call revises to something new, so that it is a revision again.
    let mut revised = unit.clone();
    revised["notes"] = json!(format!("revision {:?}", std::time::Instant::now()));
    let fresh_name = format!("LF {:?}", std::time::Instant::now());
    let fresh = record("Larkfield", &fresh_name, 65.0).to_string();
    let wrong = json!({"format": "brickbook-record/1"}).to_string();

    let get = async |path: &str| api.get(path).await;
    let send = async |method: &str, path: &str, body: &str| {
        api.write(method, path, body)
            .send()
            .await
            .expect("the site answers")
    };
    let without_token = async |method: &str, path: &str| {
        let request = api
            .ask(method, path)
            .header("content-type", "application/json");
        request.body("{}").send().await.expect("the site answers")
    };
    let as_text = async |method: &str, path: &str| {
        let request = api
            .ask(method, path)
            .bearer_auth(TOKEN)
            .header("content-type", "text/plain");
        request.body("{}").send().await.expect("the site answers")
    };
    let not_utf8 = async |method: &str, path: &str| {
        let request = api.ask(method, path).bearer_auth(TOKEN);
        let request = request
            .header("content-type", "application/json")
            .body(vec![0xff]);
        request.send().await.expect("the site answers")
    };
    // A token that may do something else.
    let other_scope = if path.starts_with("/drafts") {
        Scope::Records
    } else {
        Scope::Drafts
    };
    let other_token = format!("another-token-{:?}", std::time::Instant::now());
    api.make_token_for(&other_token, Scopes::new([other_scope]), None)
        .await;
    let without_scope = async |method: &str, path: &str| {
        let request = api.ask(method, path).bearer_auth(&other_token);
        let request = request
            .header("content-type", "application/json")
            .body("{}");
        request.send().await.expect("the site answers")
    };
    let read = async |path: &str| {
        let request = api.ask("GET", path).bearer_auth(TOKEN);
        request.send().await.expect("the site answers")
    };
    match (method, path) {
        ("get", "/drafts" | "/queue") => vec![
            (200, read(path).await),
            (401, get(path).await),
            (403, without_scope("GET", path).await),
        ],
        ("get", "/drafts/{id}") => {
            let id = draft(api).await;
            let own = format!("/drafts/{id}");
            vec![
                (200, read(&own).await),
                (401, get(&own).await),
                (403, without_scope("GET", &own).await),
                (404, read("/drafts/0").await),
                (404, read("/drafts/none").await),
            ]
        }
        ("get", "/units" | "/ranking") => vec![
            (200, get(path).await),
            (200, get(&format!("{path}?page=9&per_page=200")).await),
            (400, get(&format!("{path}?page=none")).await),
        ],
        ("post", "/units") => vec![
            (201, send("POST", path, &fresh).await),
            (200, send("POST", path, &fresh).await),
            (400, not_utf8("POST", path).await),
            (401, without_token("POST", path).await),
            (403, without_scope("POST", path).await),
            (409, send("POST", path, &other_watts.to_string()).await),
            (415, as_text("POST", path).await),
            (422, send("POST", path, &wrong).await),
        ],
        ("put", "/units/{slug}") => {
            let own = "/units/larkfield-lf-65?reason=test";
            let stale = api.write("PUT", own, &other_watts.to_string());
            let stale = stale.header("if-match", "\"revision-0\"").send().await;
            vec![
                (200, send("PUT", own, &revised.to_string()).await),
                (
                    400,
                    send("PUT", "/units/larkfield-lf-65", &revised.to_string()).await,
                ),
                (401, without_token("PUT", own).await),
                (403, without_scope("PUT", own).await),
                (
                    404,
                    send("PUT", "/units/nobody?reason=test", &fresh_of(&fresh)).await,
                ),
                (409, conflict(api).await),
                (412, stale.expect("the site answers")),
                (415, as_text("PUT", own).await),
                (422, send("PUT", own, &wrong).await),
            ]
        }
        ("post", "/evaluate") => vec![
            (200, send("POST", path, &unit.to_string()).await),
            (400, not_utf8("POST", path).await),
            (415, as_text("POST", path).await),
            (422, send("POST", path, &wrong).await),
        ],
        ("post", "/logs") => {
            let bytes = "Time (s),Power (W)\n0,0.05\n1,0.06\n2,0.05\n3,0.06\n".to_owned();
            let upload = async |query: &str, bytes: String| {
                let request = api.ask("POST", &format!("/logs{query}")).bearer_auth(TOKEN);
                request.body(bytes).send().await.expect("the site answers")
            };
            // Bytes that were never here, and a text that is no table.
            let fresh = format!("{bytes}# {:?}\n", std::time::Instant::now());
            let prose = format!("no table at all {:?}", std::time::Instant::now());
            vec![
                (201, upload("?name=log.csv", fresh.clone()).await),
                (200, upload("?name=log.csv", fresh).await),
                (201, upload("?name=prose.txt", prose).await),
                (400, upload("", bytes).await),
                (401, without_token("POST", path).await),
                (403, without_scope("POST", path).await),
            ]
        }
        ("post", "/photos") => {
            let upload = async |query: &str, bytes: Vec<u8>| {
                let request = api
                    .ask("POST", &format!("/photos{query}"))
                    .bearer_auth(TOKEN);
                request.body(bytes).send().await.expect("the site answers")
            };
            // Of another width each time: a picture that was never here.
            static WIDTH: AtomicU32 = AtomicU32::new(40);
            let width = WIDTH.fetch_add(1, Ordering::Relaxed);
            let fresh = photo::drawn(width, 3, vec![9; width as usize * 9]).jpeg;
            vec![
                (201, upload("?name=front.jpg", fresh.clone()).await),
                (200, upload("?name=front.jpg", fresh.clone()).await),
                (400, upload("", fresh).await),
                (401, without_token("POST", path).await),
                (403, without_scope("POST", path).await),
                (422, upload("?name=a.gif", b"GIF89a".to_vec()).await),
            ]
        }
        ("get", "/regimes" | "/classes" | "/coming" | "/openapi.json") => {
            vec![(200, get(path).await)]
        }
        ("get", path) => vec![
            (200, get(&filled(path)).await),
            (
                404,
                get(&filled(path)
                    .replace("larkfield-lf-65", "nobody")
                    .replace("us_doe", "x"))
                .await,
            ),
        ],
        (method, path) => panic!("{method} {path} is described, but this test does not know it"),
    }
}

/// A draft in which maker and model are typed, and nonsense as its power.
async fn draft(api: &Api) -> i64 {
    let fields = json!({
        "unit.maker": "Larkfield", "unit.model": "LF-140",
        "unit.nameplate.output_power_w": "much"
    });
    let mut tx = api.site.db.write().await.expect("the only writer");
    let now = api.site.clock.now();
    let id = drafts::insert(&mut tx, api.operator_id, None, &fields.to_string(), now)
        .await
        .expect("a new draft");
    tx.commit().await.expect("nothing is in the way");
    id
}

/// Sends one unit's record to another unit's address.
async fn conflict(api: &Api) -> Response {
    let other = record("Brackwater", "B-20", 20.0).to_string();
    api.publish(&other).await;
    let request = api.write("PUT", "/units/larkfield-lf-65?reason=test", &other);
    request.send().await.expect("the site answers")
}

/// A record with a name that no unit has.
fn fresh_of(record: &str) -> String {
    record.replace("Larkfield", "Nobody")
}

/// The address of something that is there.
fn filled(path: &str) -> String {
    path.replace("{slug}", "larkfield-lf-65")
        .replace("{number}", "1")
        .replace("{id}", "us_doe_level_vi")
}

struct Description(Value);

impl Description {
    async fn of(api: &Api) -> Description {
        Description(body(api.get("/openapi.json").await).await)
    }

    /// Path and method of every operation.
    fn operations(&self) -> Vec<(String, String)> {
        let paths = self.0["paths"].as_object().expect("paths are an object");
        paths
            .iter()
            .flat_map(|(path, item)| {
                METHODS
                    .into_iter()
                    .filter(|method| item.get(method).is_some())
                    .map(|method| (path.clone(), method.to_owned()))
            })
            .collect()
    }

    async fn check(&self, path: &str, method: &str, answer: Response) {
        let status = answer.status().as_u16().to_string();
        let kind = header(&answer, "content-type");
        for (name, _) in self.0["paths"][path][method]["responses"][&status]["headers"]
            .as_object()
            .into_iter()
            .flatten()
        {
            assert!(
                !header(&answer, name).is_empty(),
                "{method} {path} {status}: no {name}"
            );
        }
        let document = body(answer).await;
        if let Err(fault) = self.fits(path, method, &status, &kind, &document) {
            panic!("{method} {path} {status}: {fault}\n{document:#}");
        }
    }

    /// Does the document fit what is described, with no key that is not?
    fn fits(
        &self,
        path: &str,
        method: &str,
        status: &str,
        kind: &str,
        document: &Value,
    ) -> Result<(), String> {
        let response = &self.0["paths"][path][method]["responses"][status];
        let schema = &response["content"][kind]["schema"];
        if schema.is_null() {
            return Err(format!("{kind} is not described: {response}"));
        }
        let mut root = Map::new();
        root.insert("components".into(), strict(&self.0["components"]));
        root.insert("allOf".into(), json!([strict(schema)]));
        let validator = jsonschema::draft202012::new(&Value::Object(root))
            .map_err(|fault| format!("the schema itself: {fault}"))?;
        let faults: Vec<String> = validator
            .iter_errors(document)
            .map(|fault| format!("{}: {fault}", fault.instance_path()))
            .collect();
        if faults.is_empty() {
            Ok(())
        } else {
            Err(faults.join("\n"))
        }
    }
}

/// The schema with every object closed, so that an undescribed key is a fault.
fn strict(schema: &Value) -> Value {
    match schema {
        Value::Object(map) => {
            let mut closed: Map<String, Value> = map
                .iter()
                .map(|(key, value)| (key.clone(), strict(value)))
                .collect();
            if map.get("properties").is_some_and(Value::is_object)
                && map
                    .get("type")
                    .is_some_and(|t| t == "object" || t == &json!(["object", "null"]))
            {
                closed.entry("additionalProperties").or_insert(json!(false));
            }
            Value::Object(closed)
        }
        Value::Array(items) => Value::Array(items.iter().map(strict).collect()),
        other => other.clone(),
    }
}

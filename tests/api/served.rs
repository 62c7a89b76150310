//! A served site with a client and a token.

use brickbook::evaluate::Method;
use brickbook::storage::{
    Db,
    api_tokens::{self, Scope, Scopes},
    operators::{self, Role},
};
use brickbook::web::{Config, Site, serve_on};
use reqwest::{Client, RequestBuilder, Response, StatusCode};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use time::{OffsetDateTime, macros::datetime};

/// The token that [`Api::start`] makes.
pub const TOKEN: &str = "a-token-that-only-this-test-knows";

pub struct Api {
    pub site: Site,
    base: String,
    client: Client,
    pub operator_id: i64,
    stop: Option<tokio::sync::oneshot::Sender<()>>,
    _folder: tempfile::TempDir,
}

impl Api {
    /// An empty site.
    pub async fn start() -> Api {
        Api::start_with(Config::default()).await
    }

    pub async fn start_with(config: Config) -> Api {
        let folder = tempfile::tempdir().expect("a temporary directory");
        let db = Db::open(&folder.path().join("test.db"))
            .await
            .expect("a new database");
        let mut tx = db.write().await.expect("the only writer");
        let now = datetime!(2026-09-01 12:00 UTC);
        let operator_id = operators::insert(&mut tx, "Tester", "no password", Role::Owner, now)
            .await
            .expect("the first operator");
        tx.commit().await.expect("nothing is in the way");
        let site = Site::open(config, db, std::sync::Arc::new(Method::standard()))
            .await
            .expect("an empty site");
        let listener = tokio::net::TcpListener::bind("127.0.0.1:0")
            .await
            .expect("some port is free");
        let base = format!("http://{}", listener.local_addr().expect("it listens"));
        let (stop, stopped) = tokio::sync::oneshot::channel();
        tokio::spawn(serve_on(listener, site.clone(), async {
            // A dropped sender is a stop as well.
            let _ = stopped.await;
        }));
        let api = Api {
            site,
            base,
            client: Client::new(),
            operator_id,
            stop: Some(stop),
            _folder: folder,
        };
        api.make_token(TOKEN).await;
        api
    }

    /// A site with these records, published through the API.
    pub async fn with(records: &[Value]) -> Api {
        let api = Api::start().await;
        for record in records {
            let answer = api.publish(&record.to_string()).await;
            assert_eq!(
                answer.status(),
                StatusCode::CREATED,
                "{}",
                text(answer).await
            );
        }
        api
    }

    /// A token that may do everything.
    pub async fn make_token(&self, token: &str) -> i64 {
        self.make_token_for(token, Scopes::new(Scope::ALL), None)
            .await
    }

    pub async fn make_token_for(
        &self,
        token: &str,
        scopes: Scopes,
        expires_at: Option<OffsetDateTime>,
    ) -> i64 {
        let hash = Sha256::digest(token.as_bytes()).into();
        let new = api_tokens::New {
            token_hash: &hash,
            operator_id: self.operator_id,
            label: "test",
            scopes,
            expires_at,
        };
        let mut tx = self.site.db.write().await.expect("the only writer");
        let now = self.site.clock.now();
        let id = api_tokens::insert(&mut tx, &new, now)
            .await
            .expect("a new token");
        tx.commit().await.expect("nothing is in the way");
        id
    }

    pub async fn revoke_token(&self, id: i64) {
        let mut tx = self.site.db.write().await.expect("the only writer");
        api_tokens::revoke(&mut tx, id, self.operator_id, self.site.clock.now())
            .await
            .expect("the token is there");
        tx.commit().await.expect("nothing is in the way");
    }

    /// A request below `/api/v1` without a token.
    pub fn ask(&self, method: &str, path: &str) -> RequestBuilder {
        let method = method.parse().expect("a method");
        self.client
            .request(method, format!("{}/api/v1{path}", self.base))
    }

    /// A request to an address as the API gives it.
    pub fn follow(&self, address: &str) -> RequestBuilder {
        self.client.get(format!("{}{address}", self.base))
    }

    pub async fn get(&self, path: &str) -> Response {
        self.ask("GET", path)
            .send()
            .await
            .expect("the site answers")
    }

    pub async fn publish(&self, record: &str) -> Response {
        self.write("POST", "/units", record)
            .send()
            .await
            .expect("the site answers")
    }

    /// A request that carries the token and a record.
    pub fn write(&self, method: &str, path: &str, record: &str) -> RequestBuilder {
        self.ask(method, path)
            .bearer_auth(TOKEN)
            .header("content-type", "application/json")
            .body(record.to_owned())
    }
}

impl Drop for Api {
    fn drop(&mut self) {
        if let Some(stop) = self.stop.take() {
            let _ = stop.send(());
        }
    }
}

/// A valid record of a 65 W unit of this maker and model with one whole run; invented.
pub fn record(maker: &str, model: &str, watts: f64) -> Value {
    let amps = watts / 20.0;
    let points: Vec<Value> = [10.0, 25.0, 50.0, 75.0, 100.0]
        .into_iter()
        .map(|percent: f64| {
            let output_w = watts * percent / 100.0;
            json!({
                "load_percent": percent,
                "input": {"voltage_v": 115.0, "power_w": output_w / 0.9 + 0.1, "power_factor": 0.9},
                "outputs": [{"port": "C1", "voltage_v": 20.0, "current_a": amps * percent / 100.0}]
            })
        })
        .collect();
    json!({
        "format": "brickbook-record/1",
        "unit": {
            "maker": maker, "model": model,
            "price": {"amount": "39.00", "currency": "EUR"},
            "nameplate": {"output_power_w": watts, "efficiency_mark": "VI"},
            "ports": [{"label": "C1", "connector": "usb-c",
                       "modes": [{"kind": "fixed", "voltage_v": 5.0, "current_a": 2.0},
                                 {"kind": "fixed", "voltage_v": 20.0, "current_a": amps}]}]
        },
        "runs": [{
            "name": "20 V on 115 V", "tested_on": "2026-08-20", "ambient_c": 23.0,
            "line": {"voltage_v": 115.0, "frequency_hz": 60.0},
            "rated_outputs": [{"port": "C1", "voltage_v": 20.0, "current_a": amps}],
            "points": points,
            "no_load": {"power_w": 0.05}
        }]
    })
}

pub async fn text(response: Response) -> String {
    response.text().await.expect("the answer has a whole body")
}

pub async fn body(response: Response) -> Value {
    let text = text(response).await;
    serde_json::from_str(&text).unwrap_or_else(|e| panic!("{e}: {text}"))
}

/// Checks that an answer is a problem document of this status and gives it.
pub async fn problem(response: Response, status: u16) -> Value {
    let kind = header(&response, "content-type");
    let real = response.status().as_u16();
    let text = text(response).await;
    assert_eq!(real, status, "{text}");
    assert_eq!(kind, "application/problem+json", "{text}");
    let problem: Value = serde_json::from_str(&text).unwrap_or_else(|e| panic!("{e}: {text}"));
    assert_eq!(problem["status"], status);
    for key in ["type", "title", "detail"] {
        assert!(
            problem[key].as_str().is_some_and(|t| !t.is_empty()),
            "{key}: {problem}"
        );
    }
    problem
}

pub fn header(response: &Response, name: &str) -> String {
    let value = response.headers().get(name);
    value
        .and_then(|v| v.to_str().ok())
        .unwrap_or_default()
        .to_owned()
}

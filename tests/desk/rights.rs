//! Every route and every role: who gets in, and who does not. A route that is not in the table fails
//! the test, whether somebody forgot it here or forgot what it needs.

use crate::app::{Answer, TestApp, seed};
use axum::{
    body::Body,
    http::{Request, header},
};
use brickbook::{
    storage::{
        api_tokens::{self, Scope, Scopes},
        candidates, drafts,
        operators::{self, Role},
        sessions,
    },
    web::auth,
};
use proc_macro2::{Delimiter, TokenStream, TokenTree};
use std::{collections::BTreeSet, path::Path};
use time::Duration;

/// What a route needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Needs {
    /// Nothing.
    Nothing,
    /// The token of the form that the visitor was shown; no session.
    Form,
    /// A session of this role or more; to change something also the session's own token.
    Role(Role),
    /// An API token with this scope.
    Token(Scope),
}

const READER: Needs = Needs::Role(Role::Reader);
const EDITOR: Needs = Needs::Role(Role::Editor);
const OWNER: Needs = Needs::Role(Role::Owner);

/// The whole site: method, route, what it needs.
const TABLE: &[(&str, &str, Needs)] = &[
    // Anybody
    ("GET", "/", Needs::Nothing),
    ("GET", "/at", Needs::Nothing),
    ("GET", "/at/table.csv", Needs::Nothing),
    ("GET", "/at/table.json", Needs::Nothing),
    ("GET", "/class/{id}", Needs::Nothing),
    ("GET", "/class/{id}/chart.svg", Needs::Nothing),
    ("GET", "/class/{id}/preview.png", Needs::Nothing),
    ("GET", "/class/{id}/report.pdf", Needs::Nothing),
    ("GET", "/class/{id}/table.csv", Needs::Nothing),
    ("GET", "/class/{id}/table.json", Needs::Nothing),
    ("GET", "/coming", Needs::Nothing),
    ("GET", "/coming.ics", Needs::Nothing),
    ("GET", "/compare", Needs::Nothing),
    ("GET", "/data/units.json", Needs::Nothing),
    ("GET", "/feed.atom", Needs::Nothing),
    ("GET", "/health/live", Needs::Nothing),
    ("GET", "/health/ready", Needs::Nothing),
    ("GET", "/healthz", Needs::Nothing),
    ("GET", "/method", Needs::Nothing),
    ("GET", "/preview.png", Needs::Nothing),
    ("GET", "/preview/{token}", Needs::Nothing),
    ("GET", "/preview/{token}/photo/{file}", Needs::Nothing),
    ("GET", "/preview/{token}/report.pdf", Needs::Nothing),
    ("GET", "/preview/{token}/thumb/{file}", Needs::Nothing),
    ("GET", "/regime/{id}", Needs::Nothing),
    ("GET", "/regimes", Needs::Nothing),
    ("GET", "/robots.txt", Needs::Nothing),
    ("GET", "/sitemap.xml", Needs::Nothing),
    ("GET", "/static/{hash}/{*file}", Needs::Nothing),
    ("GET", "/suggest", Needs::Nothing),
    ("GET", "/table.csv", Needs::Nothing),
    ("GET", "/table.json", Needs::Nothing),
    ("GET", "/trade-offs", Needs::Nothing),
    ("GET", "/trade-offs/table.csv", Needs::Nothing),
    ("GET", "/trade-offs/table.json", Needs::Nothing),
    ("GET", "/unit/{slug}", Needs::Nothing),
    ("GET", "/unit/{slug}/badge.svg", Needs::Nothing),
    ("GET", "/unit/{slug}/chart.svg", Needs::Nothing),
    ("GET", "/unit/{slug}/evaluation.json", Needs::Nothing),
    ("GET", "/unit/{slug}/log/{name}", Needs::Nothing),
    ("GET", "/unit/{slug}/log/{sha256}/{name}", Needs::Nothing),
    ("GET", "/unit/{slug}/photo/{file}", Needs::Nothing),
    ("GET", "/unit/{slug}/preview.png", Needs::Nothing),
    ("GET", "/unit/{slug}/record.json", Needs::Nothing),
    ("GET", "/unit/{slug}/report.pdf", Needs::Nothing),
    ("GET", "/unit/{slug}/revision/{number}", Needs::Nothing),
    (
        "GET",
        "/unit/{slug}/revision/{number}/report.pdf",
        Needs::Nothing,
    ),
    ("GET", "/unit/{slug}/thumb/{file}", Needs::Nothing),
    ("GET", "/use", Needs::Nothing),
    ("GET", "/use/{profile}", Needs::Nothing),
    ("GET", "/use/{profile}/table.csv", Needs::Nothing),
    ("GET", "/use/{profile}/table.json", Needs::Nothing),
    // Doors
    ("GET", "/invited/{token}", Needs::Nothing),
    ("GET", "/set-up", Needs::Nothing),
    ("GET", "/sign-in", Needs::Nothing),
    ("GET", "/sign-in/second", Needs::Nothing),
    ("POST", "/invited/{token}", Needs::Form),
    ("POST", "/sign-in", Needs::Form),
    ("POST", "/sign-in/passkey", Needs::Form),
    ("POST", "/sign-in/passkey/begin", Needs::Form),
    ("POST", "/sign-in/second", Needs::Form),
    ("POST", "/suggest", Needs::Form),
    // Whoever is signed in
    ("GET", "/desk", READER),
    ("GET", "/desk/account", READER),
    ("GET", "/desk/draft/{id}/read", READER),
    ("GET", "/desk/photos/full/{file}", READER),
    ("GET", "/desk/photos/thumb/{file}", READER),
    ("GET", "/desk/tokens", READER),
    ("POST", "/desk/account/codes", READER),
    ("POST", "/desk/account/codes/confirm", READER),
    ("POST", "/desk/account/codes/remove", READER),
    ("POST", "/desk/account/passkeys", READER),
    ("POST", "/desk/account/passkeys/begin", READER),
    ("POST", "/desk/account/passkeys/{id}/remove", READER),
    ("POST", "/desk/account/password", READER),
    ("POST", "/desk/account/sessions/end", READER),
    ("POST", "/desk/account/sessions/{id}/end", READER),
    ("POST", "/desk/tokens", READER),
    ("POST", "/desk/tokens/{id}/revoke", READER),
    ("POST", "/sign-out", READER),
    // Who enters and publishes
    ("GET", "/desk/draft/{id}", EDITOR),
    ("GET", "/desk/draft/{id}/discard", EDITOR),
    ("GET", "/desk/draft/{id}/photos", EDITOR),
    ("GET", "/desk/draft/{id}/plan", EDITOR),
    ("GET", "/desk/draft/{id}/publish", EDITOR),
    ("GET", "/desk/draft/{id}/sharing", EDITOR),
    ("GET", "/desk/logs", EDITOR),
    ("GET", "/desk/logs/layouts", EDITOR),
    ("GET", "/desk/logs/{sha256}", EDITOR),
    ("GET", "/desk/logs/{sha256}/delete", EDITOR),
    ("GET", "/desk/logs/{sha256}/progress", EDITOR),
    ("GET", "/desk/photos", EDITOR),
    ("GET", "/desk/queue", EDITOR),
    ("GET", "/desk/queue/alike", EDITOR),
    ("GET", "/desk/queue/{id}", EDITOR),
    ("GET", "/desk/unit/{slug}", EDITOR),
    ("POST", "/desk/draft", EDITOR),
    ("POST", "/desk/draft/{id}", EDITOR),
    ("POST", "/desk/draft/{id}/autosave", EDITOR),
    ("POST", "/desk/draft/{id}/discard", EDITOR),
    ("POST", "/desk/draft/{id}/links", EDITOR),
    ("POST", "/desk/draft/{id}/links/{link}/revoke", EDITOR),
    ("POST", "/desk/draft/{id}/photos", EDITOR),
    ("POST", "/desk/draft/{id}/plan", EDITOR),
    ("POST", "/desk/draft/{id}/plan/autosave", EDITOR),
    ("POST", "/desk/draft/{id}/publish", EDITOR),
    ("POST", "/desk/draft/{id}/sharing", EDITOR),
    ("POST", "/desk/logs", EDITOR),
    ("POST", "/desk/logs/layouts/forget", EDITOR),
    ("POST", "/desk/logs/{sha256}/cut", EDITOR),
    ("POST", "/desk/logs/{sha256}/delete", EDITOR),
    ("POST", "/desk/logs/{sha256}/layout", EDITOR),
    ("POST", "/desk/logs/{sha256}/read", EDITOR),
    ("POST", "/desk/logs/{sha256}/save-layout", EDITOR),
    ("POST", "/desk/logs/{sha256}/steps", EDITOR),
    ("POST", "/desk/photos", EDITOR),
    ("POST", "/desk/photos/delete", EDITOR),
    ("POST", "/desk/queue", EDITOR),
    ("POST", "/desk/queue/order", EDITOR),
    ("POST", "/desk/queue/suggestion", EDITOR),
    ("POST", "/desk/queue/suggestion/{id}", EDITOR),
    ("POST", "/desk/queue/{id}", EDITOR),
    ("POST", "/desk/queue/{id}/edit", EDITOR),
    ("POST", "/desk/unit/{slug}", EDITOR),
    // Who gives rights
    ("GET", "/desk/accounts", OWNER),
    ("GET", "/desk/audit", OWNER),
    ("GET", "/desk/audit.csv", OWNER),
    ("POST", "/desk/accounts", OWNER),
    ("POST", "/desk/accounts/invitation/{id}", OWNER),
    ("POST", "/desk/accounts/{id}", OWNER),
    // Programs
    ("GET", "/api/v1/classes", Needs::Nothing),
    ("GET", "/api/v1/coming", Needs::Nothing),
    ("GET", "/api/v1/drafts", Needs::Token(Scope::Drafts)),
    ("GET", "/api/v1/drafts/{id}", Needs::Token(Scope::Drafts)),
    ("GET", "/api/v1/openapi.json", Needs::Nothing),
    ("GET", "/api/v1/queue", Needs::Token(Scope::Queue)),
    ("GET", "/api/v1/ranking", Needs::Nothing),
    ("GET", "/api/v1/regimes", Needs::Nothing),
    ("GET", "/api/v1/regimes/{id}", Needs::Nothing),
    ("GET", "/api/v1/units", Needs::Nothing),
    ("GET", "/api/v1/units/{slug}", Needs::Nothing),
    ("GET", "/api/v1/units/{slug}/evaluation", Needs::Nothing),
    ("GET", "/api/v1/units/{slug}/revisions", Needs::Nothing),
    (
        "GET",
        "/api/v1/units/{slug}/revisions/{number}",
        Needs::Nothing,
    ),
    ("POST", "/api/v1/evaluate", Needs::Nothing),
    ("POST", "/api/v1/logs", Needs::Token(Scope::Evidence)),
    ("POST", "/api/v1/photos", Needs::Token(Scope::Evidence)),
    ("POST", "/api/v1/units", Needs::Token(Scope::Records)),
    ("PUT", "/api/v1/units/{slug}", Needs::Token(Scope::Records)),
];

/// Once an account exists, the set-up is no page any more; what it needs before is tested in
/// `accounts.rs`.
const NOT_THERE_ANY_MORE: (&str, &str) = ("POST", "/set-up");

/// Served on an address of its own, where nobody signs in.
const ELSEWHERE: (&str, &str) = ("GET", "/metrics");

// ---- which routes there are ----

/// Every `(method, path)` that the sources give to `.route(…)`, and all that the API describes.
fn routes_of_the_sources() -> BTreeSet<(String, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/web");
    let urls = std::fs::read_to_string(root.join("urls.rs")).unwrap();
    let mut files = Vec::new();
    collect(&root, &mut files);
    let mut routes = BTreeSet::new();
    for file in files {
        let text = std::fs::read_to_string(&file).unwrap();
        let tokens: TokenStream = text.parse().unwrap();
        find_routes(tokens, &urls, &file, &mut routes);
    }
    routes
}

fn collect(folder: &Path, files: &mut Vec<std::path::PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            collect(&path, files);
        } else if path.extension().is_some_and(|e| e == "rs") {
            files.push(path);
        }
    }
}

fn find_routes(
    tokens: TokenStream,
    urls: &str,
    file: &Path,
    routes: &mut BTreeSet<(String, String)>,
) {
    let tokens: Vec<TokenTree> = tokens.into_iter().collect();
    for (at, token) in tokens.iter().enumerate() {
        let TokenTree::Group(group) = token else {
            continue;
        };
        let called = |back: usize, name: &str| {
            at.checked_sub(back)
                .is_some_and(|before| tokens[before].to_string() == name)
        };
        if group.delimiter() == Delimiter::Parenthesis && called(1, "route") && called(2, ".") {
            let inside: Vec<TokenTree> = group.stream().into_iter().collect();
            let comma = inside
                .iter()
                .position(|t| t.to_string() == ",")
                .expect("a route has two arguments");
            let path: String = inside[..comma].iter().map(ToString::to_string).collect();
            let path = path.replace([' ', '\n'], "");
            let path = path_of(&path, urls, file);
            for pair in inside[comma..].windows(2) {
                let method = pair[0].to_string();
                let is_call = matches!(&pair[1], TokenTree::Group(g)
                    if g.delimiter() == Delimiter::Parenthesis);
                if is_call && ["get", "post", "put", "delete", "patch"].contains(&method.as_str()) {
                    routes.insert((method.to_uppercase(), path.clone()));
                }
            }
        }
        find_routes(group.stream(), urls, file, routes);
    }
}

/// A path as the source writes it: a text, a constant of `urls`, or a text made with one.
fn path_of(source: &str, urls: &str, file: &Path) -> String {
    let literal = |text: &str| {
        let from = text.find('"')? + 1;
        Some(text[from..from + text[from..].find('"')?].to_owned())
    };
    let constant = |name: &str| {
        let start = urls
            .find(&format!("pub const {name}: &str ="))
            .unwrap_or_else(|| panic!("{}: no constant {name} in urls.rs", file.display()));
        literal(&urls[start..]).expect("a constant is a text")
    };
    let name_after = |text: &str| {
        let from = text.find("urls::")? + 6;
        let name: String = text[from..]
            .chars()
            .take_while(|c| c.is_ascii_uppercase() || *c == '_')
            .collect();
        Some(name)
    };
    match (literal(source), name_after(source)) {
        (Some(text), None) => text,
        (None, Some(name)) => constant(&name),
        (Some(text), Some(name)) => text
            .replacen("{}", &constant(&name), 1)
            .replace("{{", "{")
            .replace("}}", "}"),
        (None, None) => panic!("{}: cannot read the path {source}", file.display()),
    }
}

async fn routes_of_the_api(app: &TestApp) -> BTreeSet<(String, String)> {
    let description = app.get("/api/v1/openapi.json").await;
    let description: serde_json::Value = serde_json::from_slice(&description.bytes).unwrap();
    let mut routes = BTreeSet::new();
    for (path, methods) in description["paths"].as_object().unwrap() {
        for method in methods.as_object().unwrap().keys() {
            routes.insert((method.to_uppercase(), format!("/api/v1{path}")));
        }
    }
    routes
}

#[tokio::test]
async fn the_table_names_every_route_and_no_other() {
    let app = TestApp::empty().await;
    let mut there = routes_of_the_sources();
    there.extend(routes_of_the_api(&app).await);
    let there: BTreeSet<(&str, &str)> = there
        .iter()
        .map(|(method, path)| (method.as_str(), path.as_str()))
        .collect();
    let mut known: BTreeSet<(&str, &str)> = TABLE
        .iter()
        .map(|(method, path, _)| (*method, *path))
        .collect();
    assert_eq!(
        known.len(),
        TABLE.len(),
        "a route stands in the table twice"
    );
    known.insert(NOT_THERE_ANY_MORE);
    known.insert(ELSEWHERE);
    let missing: Vec<_> = there.difference(&known).collect();
    assert!(missing.is_empty(), "not in the table: {missing:?}");
    let gone: Vec<_> = known.difference(&there).collect();
    assert!(gone.is_empty(), "in the table alone: {gone:?}");
}

// ---- who gets in ----

/// Somebody who asks.
struct Asking {
    role: Option<Role>,
    operator_id: i64,
}

struct Cast {
    app: TestApp,
    all: Vec<Asking>,
}

impl Cast {
    async fn new() -> Cast {
        let app = TestApp::seeded(&["brantholm-bh-65c"]).await;
        let mut all = vec![Asking {
            role: None,
            operator_id: 0,
        }];
        let mut tx = app.site.db.write().await.unwrap();
        for role in [Role::Owner, Role::Editor, Role::Reader] {
            let now = app.site.clock.now();
            let operator_id = operators::insert(&mut tx, role.id(), "no password", role, now)
                .await
                .unwrap();
            all.push(Asking {
                role: Some(role),
                operator_id,
            });
        }
        tx.commit().await.unwrap();
        Cast { app, all }
    }

    /// A new session: its cookie and its forms' token.
    async fn session(&self, asking: &Asking) -> (String, String) {
        let (token, csrf) = (auth::new_token(), auth::new_token());
        let now = self.app.site.clock.now();
        let new = sessions::New {
            token_hash: &auth::hash_of(&token),
            operator_id: asking.operator_id,
            csrf_token: &csrf,
            expires_at: now + Duration::hours(1),
            address: None,
            client: "test",
        };
        let mut tx = self.app.site.db.write().await.unwrap();
        sessions::begin(&mut tx, &new, now).await.unwrap();
        tx.commit().await.unwrap();
        (format!("brickbook_session={token}"), csrf)
    }

    /// The path of a route, for something that is there where the route is about a draft of the
    /// asker's or a candidate.
    async fn path(&self, route: &str, asking: &Asking) -> String {
        let mut path = route.to_owned();
        if route.starts_with("/desk/draft/{id}") && asking.role.is_some() {
            let mut tx = self.app.site.db.write().await.unwrap();
            let now = self.app.site.clock.now();
            let id = drafts::insert(&mut tx, asking.operator_id, None, "{}", now).await;
            tx.commit().await.unwrap();
            path = path.replace("{id}", &id.unwrap().to_string());
        }
        if route.starts_with("/desk/queue/{id}") {
            let entry = candidates::Entry {
                maker: "Larkfield".into(),
                model: "LF-65".into(),
                link: None,
                price: None,
                planned_on: None,
                public: false,
                note: String::new(),
                label: "{}".into(),
            };
            let mut tx = self.app.site.db.write().await.unwrap();
            let now = self.app.site.clock.now();
            let uid = auth::new_token();
            let state = candidates::State::Wanted;
            let id = candidates::insert(&mut tx, &uid, &entry, state, "test", now).await;
            tx.commit().await.unwrap();
            path = path.replace("{id}", &id.unwrap().to_string());
        }
        // Nobody is number 999, so that no account loses what it has under the next route.
        path.replace("{id}", "999")
            .replace("{slug}", "brantholm-bh-65c")
            .replace("{sha256}", &"0".repeat(64))
            .replace("{file}", &format!("{}.jpg", "0".repeat(64)))
            .replace("{number}", "1")
            .replace("{link}", "1")
            .replace("{token}", "x")
            .replace("{name}", "x.csv")
            .replace("{hash}", "0")
            .replace("{*file}", "site.css")
            .replace("{profile}", "none")
    }

    async fn send(
        &self,
        method: &str,
        route: &str,
        path: &str,
        headers: &[(&str, &str)],
        csrf: &str,
    ) -> Answer {
        let multipart = ["/desk/logs", "/desk/photos", "/desk/draft/{id}/photos"];
        let from_script = [
            "/sign-in/passkey",
            "/sign-in/passkey/begin",
            "/desk/account/passkeys",
            "/desk/account/passkeys/begin",
        ];
        let (kind, body) = if method == "GET" {
            ("text/plain", String::new())
        } else if path.starts_with("/api/") {
            ("application/json", "{}".to_owned())
        } else if from_script.contains(&route) {
            let message = serde_json::json!({ "csrf": csrf, "name": "phone" });
            ("application/json", message.to_string())
        } else if multipart.contains(&route) {
            let part = |name: &str, value: &str| {
                format!("--x\r\nContent-Disposition: form-data; {name}\r\n\r\n{value}\r\n")
            };
            let body = [
                part("name=\"csrf\"", csrf),
                part(
                    "name=\"log\"; filename=\"a.csv\"",
                    "time_s,power_w\n0,1\n1,1\n",
                ),
                part("name=\"photo\"; filename=\"a.jpg\"", "no picture"),
                part("name=\"whole\"", "1"),
                "--x--\r\n".to_owned(),
            ];
            ("multipart/form-data; boundary=x", body.concat())
        } else {
            let form = format!("csrf={csrf}&whole=1&id=999&role=reader&action=role");
            ("application/x-www-form-urlencoded", form)
        };
        let mut request = Request::builder()
            .method(method)
            .uri(path)
            .header(header::HOST, "bench.example")
            .header(header::CONTENT_TYPE, kind);
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        self.app.ask(request.body(Body::from(body)).unwrap()).await
    }
}

/// Was somebody let in? Whatever came of it then.
fn let_in(answer: &Answer) -> bool {
    let to_sign_in = answer.header("location").starts_with("/sign-in?next=");
    assert!(
        answer.status.as_u16() < 500,
        "{}: {}",
        answer.status,
        String::from_utf8_lossy(&answer.bytes)
    );
    !matches!(answer.status.as_u16(), 401 | 403) && !to_sign_in
}

#[tokio::test]
async fn each_role_gets_where_it_may_and_nowhere_else() {
    let cast = Cast::new().await;
    for &(method, route, needs) in TABLE {
        for asking in &cast.all {
            let told = format!("{method} {route} by {:?}", asking.role);
            let path = cast.path(route, asking).await;
            let (cookie, csrf) = match asking.role {
                Some(_) => cast.session(asking).await,
                None => (String::new(), "x".repeat(43)),
            };
            let headers = [("cookie", cookie.as_str())];
            let answer = cast.send(method, route, &path, &headers, &csrf).await;
            let status = answer.status.as_u16();
            match needs {
                Needs::Nothing => assert!(let_in(&answer), "{told}: {status}"),
                Needs::Form => assert_eq!(status, 403, "{told}"),
                Needs::Token(_) => assert_eq!(status, 401, "{told}"),
                Needs::Role(role) => match asking.role {
                    Some(has) if has >= role => {
                        assert!(let_in(&answer), "{told}: {status} {}", answer.words());
                    }
                    Some(_) => {
                        assert_eq!(status, 403, "{told}");
                        assert!(answer.words().contains("This needs the role"), "{told}");
                    }
                    None if method == "GET" => {
                        assert!(
                            answer.header("location").starts_with("/sign-in?next="),
                            "{told}"
                        );
                    }
                    None => assert_eq!(status, 401, "{told}"),
                },
            }
        }
    }
}

#[tokio::test]
async fn nothing_is_changed_without_the_sessions_own_token() {
    let cast = Cast::new().await;
    let owner = &cast.all[1];
    assert_eq!(owner.role, Some(Role::Owner));
    for &(method, route, needs) in TABLE {
        if method == "GET" || !matches!(needs, Needs::Role(_)) {
            continue;
        }
        let path = cast.path(route, owner).await;
        let (cookie, _) = cast.session(owner).await;
        let (_, of_another) = cast.session(owner).await;
        for wrong in ["", &of_another] {
            let headers = [("cookie", cookie.as_str())];
            let answer = cast.send(method, route, &path, &headers, wrong).await;
            assert_eq!(answer.status, 403, "{method} {route}: {}", answer.words());
        }
        let elsewhere = [
            ("cookie", cookie.as_str()),
            ("origin", "https://elsewhere.example"),
        ];
        let answer = cast.send(method, route, &path, &elsewhere, "").await;
        assert_eq!(answer.status, 403, "{method} {route}");
    }
}

#[tokio::test]
async fn a_token_opens_what_its_scopes_name_and_a_session_none_of_it() {
    let cast = Cast::new().await;
    let token_of = async |asking: &Asking, scopes: Scopes| {
        let token = auth::new_token();
        let new = api_tokens::New {
            token_hash: &auth::hash_of(&token),
            operator_id: asking.operator_id,
            label: "test",
            scopes,
            expires_at: None,
        };
        let mut tx = cast.app.site.db.write().await.unwrap();
        let now = cast.app.site.clock.now();
        api_tokens::insert(&mut tx, &new, now).await.unwrap();
        tx.commit().await.unwrap();
        format!("Bearer {token}")
    };
    for &(method, route, needs) in TABLE {
        let Needs::Token(scope) = needs else {
            continue;
        };
        let path = cast.path(route, &cast.all[0]).await;
        let path = format!("{path}?name=a.csv&reason=test");
        for asking in &cast.all[1..] {
            let only = token_of(asking, Scopes::new([scope])).await;
            let others = Scopes::new(Scope::ALL.into_iter().filter(|one| *one != scope));
            let others = token_of(asking, others).await;
            let told = format!("{method} {route} by {:?}", asking.role);

            let answer = cast
                .send(method, route, &path, &[("authorization", &only)], "")
                .await;
            let may = asking.role.is_some_and(|role| role >= scope.needs());
            assert_eq!(let_in(&answer), may, "{told}: {}", answer.status);

            let answer = cast
                .send(method, route, &path, &[("authorization", &others)], "")
                .await;
            assert_eq!(answer.status, 403, "{told}");
            let problem: serde_json::Value = serde_json::from_slice(&answer.bytes).unwrap();
            assert_eq!(problem["scope"], scope.id(), "{told}");
            assert_eq!(problem["type"], "urn:brickbook:problem:missing-scope");
            assert!(
                answer
                    .header("www-authenticate")
                    .contains("error=\"insufficient_scope\""),
                "{told}"
            );

            let (cookie, _) = cast.session(asking).await;
            let answer = cast
                .send(method, route, &path, &[("cookie", &cookie)], "")
                .await;
            assert_eq!(answer.status, 401, "{told} with a session");
        }
    }
}

// ---- what is noted ----

/// Functions that write without a line in the audit log, and why.
const NOT_NOTED: &[(&str, &str, &str)] = &[
    ("storage/db.rs", "write", "it is the door itself"),
    (
        "web/auth.rs",
        "signed",
        "notes that a session is used; changes nothing else",
    ),
    (
        "web/auth.rs",
        "end_session",
        "the session that a new sign-in replaces",
    ),
    ("web/auth.rs", "sign_in", "`begin_session` notes it"),
    (
        "web/entry/passkeys.rs",
        "sign_in",
        "`begin_session` notes it, with the passkey",
    ),
    (
        "web/api/bearer.rs",
        "from_request_parts",
        "notes that a token is used",
    ),
    (
        "web/api/units.rs",
        "publish",
        "`intake::submit::store` notes it",
    ),
    (
        "web/log_readings.rs",
        "keep",
        "what reading a log gave, computed again at will",
    ),
    ("intake/submit.rs", "submit", "`store` notes it"),
    (
        "storage/backup_schedule.rs",
        "note",
        "what the last backup came to: no data, no rights",
    ),
];

/// What a function that notes its change says: it writes the line itself, or calls the one that does.
const NOTES: [&str; 2] = ["audit ::", "commit_change_of_factors ("];

#[test]
fn whatever_opens_a_transaction_writes_into_the_audit_log() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    collect(&root, &mut files);
    let mut silent = BTreeSet::new();
    for file in files {
        let name = file.strip_prefix(&root).unwrap().display().to_string();
        let text = std::fs::read_to_string(&file).unwrap();
        let tokens: TokenStream = text.parse().unwrap();
        for (function, body) in functions(tokens) {
            let opens = body.contains(". write () . await") || body.contains(". write ( ) . await");
            if opens && !NOTES.iter().any(|words| body.contains(words)) {
                silent.insert((name.clone(), function));
            }
        }
    }
    let allowed: BTreeSet<(String, String)> = NOT_NOTED
        .iter()
        .map(|(file, function, _)| ((*file).to_owned(), (*function).to_owned()))
        .collect();
    let unexpected: Vec<_> = silent.difference(&allowed).collect();
    assert!(
        unexpected.is_empty(),
        "write without a line in the audit log: {unexpected:?}"
    );
}

/// Name and body, as text, of every function outside of tests.
fn functions(tokens: TokenStream) -> Vec<(String, String)> {
    let tokens: Vec<TokenTree> = tokens.into_iter().collect();
    let mut found = Vec::new();
    let mut name = None;
    let mut skip_module = false;
    for (at, token) in tokens.iter().enumerate() {
        match token {
            TokenTree::Ident(ident) if ident == "fn" => {
                name = tokens.get(at + 1).map(ToString::to_string);
            }
            TokenTree::Ident(ident) if ident == "mod" => {
                skip_module = tokens.get(at + 1).is_some_and(|t| t.to_string() == "tests");
            }
            TokenTree::Group(group) if group.delimiter() == Delimiter::Brace => {
                if std::mem::take(&mut skip_module) {
                    continue;
                }
                match name.take() {
                    Some(name) => found.push((name, group.stream().to_string())),
                    None => found.extend(functions(group.stream())),
                }
            }
            TokenTree::Punct(punct) if punct.as_char() == ';' => {
                name = None;
                skip_module = false;
            }
            _ => {}
        }
    }
    found
}

#[tokio::test]
async fn a_seed_record_is_there_for_the_table() {
    // The table asks for `brantholm-bh-65c`; were it gone, every answer would be 404 and prove little.
    let app = TestApp::empty().await;
    let published = app.publish(&seed("brantholm-bh-65c")).await;
    assert_eq!(published.slug, "brantholm-bh-65c");
}

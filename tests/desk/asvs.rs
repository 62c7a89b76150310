//! The table of OWASP ASVS 5.0 in `.docs/asvs.md`: whole, and nothing in it that is not there. Beside
//! it the checks that the table names and that belong nowhere else.

use crate::{
    app::TestApp,
    browser::{Browser, PASSWORD, form},
};
use brickbook::web::Config;
use std::{
    cell::RefCell,
    collections::{BTreeMap, BTreeSet},
    path::{Path, PathBuf},
    sync::Once,
};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn sources(folder: &Path, ending: &str, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, ending, found);
        } else if path.extension().is_some_and(|e| e == ending) {
            found.push(path);
        }
    }
}

/// Every function that is marked as a test.
fn tests_of_the_tree() -> BTreeSet<String> {
    let mut files = Vec::new();
    for folder in ["src", "tests"] {
        sources(&root().join(folder), "rs", &mut files);
    }
    let mut tests = BTreeSet::new();
    for file in files {
        let text = std::fs::read_to_string(&file).unwrap();
        let mut is_test = false;
        for line in text.lines().map(str::trim) {
            if line.starts_with("#[test]") || line.starts_with("#[tokio::test") {
                is_test = true;
            } else if let Some(rest) = line
                .strip_prefix("fn ")
                .or_else(|| line.strip_prefix("async fn "))
            {
                if std::mem::take(&mut is_test) {
                    tests.insert(rest.split(['(', '<']).next().unwrap().to_owned());
                }
            } else if line.starts_with("fn") || line.ends_with('{') && line.contains(" fn ") {
                is_test = false;
            }
        }
        // Property tests stand inside a macro, each with its mark.
    }
    tests
}

#[test]
fn the_table_of_the_verification_standard_is_whole_and_names_tests_that_exist() {
    let text = std::fs::read_to_string(root().join(".docs/asvs.md")).unwrap();
    let tests = tests_of_the_tree();
    let mut states: BTreeMap<String, usize> = BTreeMap::new();
    let mut levels = [0; 3];
    let mut last = (0, 0, 0);
    let table = text.split("## The table").nth(1).expect("there is a table");
    for line in table.lines().filter(|line| line.starts_with("| ")) {
        let cells: Vec<&str> = line.trim_matches('|').split('|').map(str::trim).collect();
        let [number, level, state, why] = cells[..] else {
            panic!("four cells: {line}");
        };
        let parts: Vec<u32> = number.split('.').filter_map(|n| n.parse().ok()).collect();
        let [chapter, section, item] = parts[..] else {
            assert_eq!(number, "requirement", "{line}");
            continue;
        };
        assert!(
            (chapter, section, item) > last,
            "in order, none twice: {line}"
        );
        last = (chapter, section, item);
        levels[level.parse::<usize>().unwrap()] += 1;
        *states.entry(state.to_owned()).or_default() += 1;
        assert!(!why.is_empty(), "{line}");
        let named: Vec<&str> = why.split('`').skip(1).step_by(2).collect();
        let mut held_by = 0;
        for name in named {
            let is_test = name.matches('_').count() >= 3 && !name.contains(['/', '-', ' ', '!']);
            if is_test {
                assert!(tests.contains(name), "{number}: there is no test {name}");
                held_by += 1;
            } else if name.starts_with("src/") {
                assert!(root().join(name).is_file(), "{number}: {name}");
                held_by += 1;
            }
        }
        match state {
            "met" => assert!(held_by > 0, "{number}: what holds it?"),
            "n/a" | "open" => {}
            other => panic!("{number}: {other}"),
        }
    }
    // OWASP ASVS 5.0.0: 70 requirements of level 1 and 183 of level 2.
    assert_eq!(levels[1..], [70, 183]);
    // What is open must not grow unseen, nor what is said of it in the head.
    let open = states["open"];
    assert!(
        text.contains(&format!("{open} are open")),
        "the head of the table says how many are open: {open}"
    );
}

#[test]
fn no_unsafe_code_of_our_own() {
    let library = std::fs::read_to_string(root().join("src/lib.rs")).unwrap();
    assert!(library.contains("#![deny(unsafe_code)]"));
    let mut files = Vec::new();
    sources(&root().join("src"), "rs", &mut files);
    for file in files {
        let text = std::fs::read_to_string(&file).unwrap();
        for line in text.lines() {
            let lifts = line.contains("allow(unsafe_code)") || line.contains("expect(unsafe_code)");
            assert!(!lifts, "{}: {line}", file.display());
        }
    }
}

#[test]
fn the_program_opens_no_connection_of_its_own() {
    let manifest = std::fs::read_to_string(root().join("Cargo.toml")).unwrap();
    let manifest: toml::Table = manifest.parse().unwrap();
    let dependencies = manifest["dependencies"].as_table().unwrap();
    for client in ["reqwest", "ureq", "isahc", "curl", "lettre"] {
        assert!(!dependencies.contains_key(client), "{client}");
    }
    let mut files = Vec::new();
    sources(&root().join("src"), "rs", &mut files);
    for file in files {
        let text = std::fs::read_to_string(&file).unwrap();
        for call in [
            "TcpStream::connect",
            "UdpSocket",
            "to_socket_addrs",
            "lookup_host",
        ] {
            assert!(!text.contains(call), "{}: {call}", file.display());
        }
    }
}

#[tokio::test]
async fn over_https_browsers_are_told_to_keep_to_it() {
    let plain = TestApp::empty().await;
    assert_eq!(plain.get("/").await.header("strict-transport-security"), "");
    let app = TestApp::with(Config {
        secure_cookies: true,
        ..Config::default()
    })
    .await;
    for path in [
        "/",
        "/nowhere",
        "/sign-in",
        "/api/v1/units",
        "/api/v1/nowhere",
    ] {
        for _ in 0..2 {
            assert_eq!(
                app.get(path).await.header("strict-transport-security"),
                "max-age=31536000; includeSubDomains",
                "{path}"
            );
        }
    }
}

#[tokio::test]
async fn password_fields_hide_what_is_typed_and_let_helpers_in() {
    let app = TestApp::empty().await;
    let mut pages = vec![app.get("/set-up").await.text()];
    let mut ada = Browser::set_up(&app).await;
    pages.push(ada.get("/desk/account").await.text());
    pages.push(Browser::new(&app).get("/sign-in").await.text());
    let mut fields = 0;
    for html in pages {
        for tag in html.split("<input").skip(1) {
            let tag = &tag[..tag.find('>').unwrap()];
            let name = tag
                .split("name=\"")
                .nth(1)
                .and_then(|t| t.split('"').next());
            if !matches!(name, Some("password" | "again" | "old")) {
                continue;
            }
            fields += 1;
            assert!(tag.contains("type=\"password\""), "{tag}");
            let helped = tag.contains("autocomplete=\"new-password\"")
                || tag.contains("autocomplete=\"current-password\"");
            assert!(helped, "{tag}");
            assert!(
                !tag.contains("onpaste") && !tag.contains("readonly"),
                "{tag}"
            );
        }
    }
    assert_eq!(fields, 7);
    let mut scripts = Vec::new();
    sources(&root().join("static"), "js", &mut scripts);
    for script in scripts {
        let text = std::fs::read_to_string(&script).unwrap();
        assert!(
            !text.contains("type=password") && !text.contains("type=\"password\""),
            "no script concerns itself with passwords: {}",
            script.display()
        );
    }
}

#[tokio::test]
async fn signing_out_clears_what_the_browser_keeps() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let desk = ada.get("/desk").await;
    let answer = ada.send(&form(&desk, "/sign-out"), None).await;
    assert_eq!(answer.header("clear-site-data"), "\"storage\"");
    assert!(!ada.cookies.contains_key("brickbook_session"));
}

// ---- the log ----

thread_local! {
    /// What the program would write on standard error at the finest level, on the thread of a test
    /// that wants to know it.
    static WRITTEN: RefCell<Option<Vec<u8>>> = const { RefCell::new(None) };
}

struct OfThisThread;

impl std::io::Write for OfThisThread {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        WRITTEN.with_borrow_mut(|written| {
            if let Some(written) = written {
                written.extend_from_slice(bytes);
            }
        });
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

/// Logs everything of this thread from now on. One subscriber for all threads: whether an event is
/// of interest is remembered for the whole process.
fn log_all() {
    use tracing_subscriber::{Layer, filter, layer::SubscriberExt};
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        let wanted = filter::dynamic_filter_fn(|_, _| WRITTEN.with_borrow(Option::is_some));
        let layer = tracing_subscriber::fmt::layer()
            .with_ansi(false)
            .with_writer(|| OfThisThread)
            .with_filter(wanted);
        let subscriber = tracing_subscriber::registry().with(layer);
        tracing::subscriber::set_global_default(subscriber).expect("nothing else logs here");
    });
    WRITTEN.set(Some(Vec::new()));
}

fn logged() -> String {
    let written = WRITTEN.take().expect("logging was switched on");
    String::from_utf8_lossy(&written).into_owned()
}

#[tokio::test]
async fn no_secret_reaches_the_log() {
    log_all();
    let app = TestApp::empty().await;
    let mut secrets = vec![
        PASSWORD.to_owned(),
        app.site.auth.set_up_secret().unwrap().to_owned(),
        "a wrong password".to_owned(),
    ];
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    ada.sign_in("Ada", "a wrong password").await;
    ada.sign_in("Ada", PASSWORD).await;
    secrets.extend(ada.cookies.values().cloned());
    let desk = ada.get("/desk").await;
    secrets.push(form(&desk, "/sign-out").value("csrf").to_owned());

    // A token for programs, and a request with it.
    let page = ada.get("/desk/tokens").await;
    let made = form(&page, "/desk/tokens").set("label", "script");
    let html = ada.send(&made, None).await.text();
    let at = html.find("value=\"bb_").expect("a token is shown") + 7;
    let token = html[at..at + 46].to_owned();
    let request = axum::http::Request::post("/api/v1/units")
        .header("host", "bench.example")
        .header("authorization", format!("Bearer {token}"))
        .header("content-type", "application/json")
        .body(axum::body::Body::from("{}"))
        .unwrap();
    assert_eq!(app.ask(request).await.status, 422);
    secrets.push(token);

    // An unlisted link, followed.
    let page = ada.get(&draft).await;
    ada.send(&form(&page, &format!("{draft}/links")), None)
        .await;
    let html = ada.get(&draft).await.text();
    let at = html.find("/preview/").expect("a link is shown") + 9;
    let link = html[at..at + 43].to_owned();
    assert_eq!(app.get(&format!("/preview/{link}")).await.status, 200);
    secrets.push(link);

    // A one-time link, followed.
    let page = ada.get("/desk/accounts").await;
    let asked = form(&page, "/desk/accounts").set("name", "Bea");
    let html = ada.send(&asked, None).await.text();
    let at = html.find("/invited/").expect("a link is shown") + 9;
    let invited = html[at..at + 43].to_owned();
    assert_eq!(app.get(&format!("/invited/{invited}")).await.status, 200);
    secrets.push(invited);

    // A second factor.
    let page = ada.get("/desk/account").await;
    let begun = form(&page, "/desk/account/codes").set("password", PASSWORD);
    let html = ada.send(&begun, None).await.text();
    let shown = html.split("<p><code>").nth(1).expect("a secret is shown");
    let shown = shown.split('<').next().unwrap().to_owned();
    secrets.push(shown.replace(' ', ""));
    secrets.push(shown);

    let log = logged();
    assert!(
        log.contains("signed in") && log.contains("request answered"),
        "{log}"
    );
    for secret in secrets {
        assert!(secret.len() >= 16, "{secret:?} would be found by chance");
        assert!(!log.contains(&secret), "{secret:?} stands in the log");
    }
}

#[tokio::test]
async fn sign_ins_that_succeed_and_that_fail_are_logged() {
    log_all();
    let app = TestApp::with(Config {
        trusted_proxies: vec!["0.0.0.0".parse().unwrap()],
        ..Config::default()
    })
    .await;
    let mut ada = Browser::set_up(&app).await;
    ada.sign_in("Ada", PASSWORD).await;
    let mut stranger = Browser::new(&app);
    stranger.address = Some("203.0.113.9");
    stranger.sign_in("Ada", "wrong").await;
    for _ in 0..25 {
        if stranger.sign_in("Ada", "wrong").await.status == 429 {
            break;
        }
    }
    let request = axum::http::Request::post("/desk/draft")
        .header("host", "bench.example")
        .header("origin", "https://elsewhere.example")
        .body(axum::body::Body::empty())
        .unwrap();
    assert_eq!(app.ask(request).await.status, 403);
    let log = logged();
    for event in [
        "signed in",
        "sign-in refused",
        "sign-in attempt put off",
        "begun by another site",
    ] {
        assert!(log.contains(event), "{event}: {log}");
    }
    assert!(log.contains("203.0.113.9"));
}

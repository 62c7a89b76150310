//! The site under test and the few ways to ask it.

use axum::{
    Router,
    body::Body,
    http::{HeaderMap, Request, StatusCode, header},
};
use brickbook::{
    evaluate::Method,
    intake::submit::{Submission, Submitted, Target, submit},
    storage::Db,
    web::{Clock, Config, Site},
};
use http_body_util::BodyExt;
use std::sync::Arc;
use tower::ServiceExt;

pub struct TestApp {
    pub site: Site,
    router: Router,
    // Dropped last: the database's folder.
    _folder: tempfile::TempDir,
}

/// What a browser gets.
pub struct Answer {
    pub status: StatusCode,
    pub headers: HeaderMap,
    pub bytes: Vec<u8>,
}

impl Answer {
    /// The body as text.
    pub fn text(&self) -> String {
        String::from_utf8(self.bytes.clone()).expect("the body is UTF-8")
    }

    pub fn header(&self, name: &str) -> &str {
        self.headers
            .get(name)
            .map_or("", |value| value.to_str().expect("a header is ASCII"))
    }

    /// What a person would read: without tags, entities decoded, spaces made one.
    pub fn words(&self) -> String {
        let html = self.text();
        let mut out = String::new();
        let mut inside_tag = false;
        for c in html.chars() {
            match c {
                '<' => {
                    inside_tag = true;
                    out.push(' ');
                }
                '>' if inside_tag => inside_tag = false,
                _ if inside_tag => {}
                '\u{202f}' | '\u{a0}' => out.push(' '),
                c => out.push(c),
            }
        }
        let out = out
            .replace("&#38;", "&")
            .replace("&#39;", "'")
            .replace("&#34;", "\"");
        out.split_whitespace().collect::<Vec<_>>().join(" ")
    }
}

impl TestApp {
    /// A site with nothing in it.
    pub async fn empty() -> TestApp {
        TestApp::with(Config::default()).await
    }

    pub async fn with(config: Config) -> TestApp {
        let folder = tempfile::tempdir().expect("a temporary folder can be made");
        let db = Db::open(&folder.path().join("test.db"))
            .await
            .expect("a new database opens");
        let site = Site::open(config, db, Arc::new(Method::standard()))
            .await
            .expect("an empty database can be read");
        TestApp::of(site, folder)
    }

    /// A site with nothing in it, by a clock of the test's choice.
    pub async fn on_clock(clock: Clock) -> TestApp {
        TestApp::with_clock(Config::default(), clock).await
    }

    pub async fn with_clock(config: Config, clock: Clock) -> TestApp {
        let folder = tempfile::tempdir().expect("a temporary folder can be made");
        let db = Db::open(&folder.path().join("test.db"))
            .await
            .expect("a new database opens");
        let method = Arc::new(Method::standard());
        let site = Site::with_clock(config, db, method, clock)
            .await
            .expect("an empty database can be read");
        TestApp::of(site, folder)
    }

    /// A site that the test has opened itself, on a database in `folder`.
    pub fn of(site: Site, folder: tempfile::TempDir) -> TestApp {
        let router = brickbook::web::app(site.clone());
        TestApp {
            site,
            router,
            _folder: folder,
        }
    }

    /// A site with these records of `seed-data/`, named without `.json`.
    pub async fn seeded(names: &[&str]) -> TestApp {
        let app = TestApp::empty().await;
        for name in names {
            app.publish(&seed(name)).await;
        }
        app.site.refresh().await.expect("the database can be read");
        app
    }

    /// Stores a record as a new unit, without telling the site.
    pub async fn publish(&self, text: &str) -> Submitted {
        self.submit(text, Target::New, "").await
    }

    /// Stores a revision, without telling the site.
    pub async fn revise(&self, slug: &str, text: &str, reason: &str) -> Submitted {
        self.submit(text, Target::Revise(slug.to_owned()), reason)
            .await
    }

    async fn submit(&self, text: &str, target: Target, reason: &str) -> Submitted {
        let submission = Submission {
            text,
            target,
            author: "tester",
            reason,
            now: time::macros::datetime!(2026-09-02 10:00 UTC),
        };
        submit(&self.site.db, &submission, &self.site.method)
            .await
            .expect("the record is valid")
    }

    pub async fn ask(&self, request: Request<Body>) -> Answer {
        let response = self
            .router
            .clone()
            .oneshot(request)
            .await
            .expect("the site always answers");
        let (parts, body) = response.into_parts();
        let bytes = body
            .collect()
            .await
            .expect("the body is whole")
            .to_bytes()
            .to_vec();
        Answer {
            status: parts.status,
            headers: parts.headers,
            bytes,
        }
    }

    pub async fn get(&self, path: &str) -> Answer {
        self.get_with(path, &[]).await
    }

    pub async fn get_with(&self, path: &str, headers: &[(&str, &str)]) -> Answer {
        let mut request = Request::get(path).header(header::HOST, "bench.example");
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        self.ask(request.body(Body::empty()).expect("a valid request"))
            .await
    }
}

/// A record of `seed-data/`.
pub fn seed(name: &str) -> String {
    let path =
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("seed-data/{name}.json"));
    std::fs::read_to_string(&path).unwrap_or_else(|cause| panic!("{}: {cause}", path.display()))
}

//! The site as files on a host that knows nothing but files: search, filters, orders, comparison,
//! wattages and trade-offs by keys, with the very words of the served site.

use crate::desk::{fill, follow_link, press_button};
use crate::driver::{Browser, PATIENCE, Width, key};
use crate::server::Server;
use axum::Router;
use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::{StatusCode, header};
use axum::response::Response;
use serde_json::Value;
use std::path::{Path, PathBuf};

/// The public site of some units: served by the program, and as files by a plain file server.
struct Both {
    live: Server,
    files: String,
    _folder: tempfile::TempDir,
}

impl Both {
    async fn start() -> Both {
        let seeds = Path::new(env!("CARGO_MANIFEST_DIR")).join("seed-data");
        let mut records: Vec<PathBuf> = std::fs::read_dir(seeds)
            .expect("the invented records")
            .map(|entry| entry.expect("an entry").path())
            .filter(|path| path.extension().is_some_and(|ending| ending == "json"))
            .collect();
        records.sort();
        // Some of every kind: each more takes its time.
        let some: Vec<PathBuf> = records.into_iter().step_by(6).collect();
        let live = Server::with_records(&some);
        let folder = tempfile::tempdir().expect("a temporary directory");
        let site = folder.path().join("site");
        live.publish_site(&site);
        let files = serve_files(site).await;
        Both {
            live,
            files,
            _folder: folder,
        }
    }

    fn file(&self, path: &str) -> String {
        format!("{}{path}", self.files)
    }
}

/// Path to file, a folder to its `index.html` (with the slash that belongs behind it), anything else
/// to `404.html`: what every static host does, and nothing more.
async fn serve_files(folder: PathBuf) -> String {
    let app = Router::new().fallback(file).with_state(folder);
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0")
        .await
        .expect("a free port");
    let address = listener.local_addr().expect("its address");
    tokio::spawn(async move { axum::serve(listener, app).await });
    format!("http://{address}")
}

async fn file(State(folder): State<PathBuf>, request: Request) -> Response {
    let path = request.uri().path();
    let decoded = percent_encoding::percent_decode_str(path)
        .decode_utf8()
        .expect("addresses of the site are UTF-8");
    let mut found = folder.join(decoded.trim_matches('/'));
    let mut response = Response::builder();
    if found.is_dir() && !path.ends_with('/') {
        let query = request.uri().query();
        let query = query.map_or(String::new(), |query| format!("?{query}"));
        return response
            .status(StatusCode::MOVED_PERMANENTLY)
            .header(header::LOCATION, format!("{path}/{query}"))
            .body(Body::empty())
            .expect("a redirection");
    }
    if found.is_dir() {
        found.push("index.html");
    }
    if !found.is_file() {
        response = response.status(StatusCode::NOT_FOUND);
        found = folder.join("404.html");
    }
    let kind = match found.extension().and_then(|ending| ending.to_str()) {
        Some("html") => "text/html; charset=utf-8",
        Some("css") => "text/css",
        Some("js") => "text/javascript",
        Some("json") => "application/json",
        Some("svg") => "image/svg+xml",
        Some("png") => "image/png",
        Some("jpg") => "image/jpeg",
        Some("xml") => "application/xml",
        _ => "application/octet-stream",
    };
    response
        .header(header::CONTENT_TYPE, kind)
        .body(Body::from(std::fs::read(found).expect("a file")))
        .expect("an answer")
}

/// The table of results as a person reads it: headings with their order, then the rows; and the
/// sentences around it that say what it is.
const RESULTS: &str = "
    const words = e => e ? e.textContent.replace(/\\s+/g, ' ').trim() : '';
    const table = document.querySelector('table.board, table.narrow');
    return {
        title: words(document.querySelector('h1')),
        count: words(document.getElementById('count')),
        caption: words(table?.querySelector('caption')),
        heads: [...(table?.querySelectorAll('thead th') ?? [])]
            .map(th => words(th) + (th.getAttribute('aria-sort') ?? '')),
        rows: [...(table?.querySelectorAll('tbody tr') ?? [])]
            .map(tr => (tr.className === 'best' ? '* ' : '')
                + [...tr.children].map(td => words(td)).join(' | ')),
        empty: words(document.querySelector('.empty p')),
        page: words(document.querySelector('.pager span:not(.off)')),
        lacking: [...document.querySelectorAll('section[aria-labelledby=lacking]:not([hidden]) li')].map(words),
    };";

/// The results of the page that is open, once they are `expected`; else fails and shows both.
async fn expect_results(browser: &Browser, expected: &Value, what: &str) {
    let deadline = tokio::time::Instant::now() + PATIENCE / 2;
    let mut seen = browser.ask(RESULTS).await;
    while seen != *expected && tokio::time::Instant::now() < deadline {
        tokio::time::sleep(std::time::Duration::from_millis(100)).await;
        seen = browser.ask(RESULTS).await;
    }
    assert_eq!(seen, *expected, "{what}: as files, and as served");
}

/// What the served site shows at an address.
async fn served(browser: &Browser, both: &Both, path: &str) -> Value {
    browser.open(&both.live.url(path)).await;
    let results = browser.ask(RESULTS).await;
    assert_ne!(results["title"], "", "{path}");
    results
}

/// Path and query of the page that is open, with the folders' slash taken off.
async fn address(browser: &Browser) -> String {
    let address = browser.address().await;
    let path = match address.path() {
        "/" => "/",
        other => other.trim_end_matches('/'),
    };
    match address.query() {
        Some(query) => format!("{path}?{query}"),
        None => path.to_owned(),
    }
}

/// The served site shows the same at the address that the site as files now has.
async fn expect_as_served(browser: &Browser, both: &Both, what: &str) {
    let here = address(browser).await;
    let expected = served(browser, both, &here).await;
    browser.open(&both.file(&here)).await;
    expect_results(browser, &expected, &format!("{what}, {here}")).await;
}

async fn wait_for_query(browser: &Browser, part: &str) {
    let script = format!("return location.search.includes({})", Value::from(part));
    browser
        .wait_until(&format!("the address has {part}"), &script)
        .await;
}

/// One test, as writing the site takes the longest.
#[tokio::test(flavor = "multi_thread")]
async fn the_site_works_from_a_plain_file_server_by_keys_as_it_does_when_served() {
    let both = Both::start().await;
    let browser = Browser::start().await;
    search_filters_orders_and_comparison(&both, &browser).await;
    wattages_and_trade_offs(&both, &browser).await;
    assert_eq!(browser.console_errors().await, Vec::<String>::new());
    every_width_and_scheme(&both, &browser).await;
}

async fn search_filters_orders_and_comparison(both: &Both, browser: &Browser) {
    let ready = "return !!document.querySelector('#chosen')?.textContent";

    browser.open(&both.file("/")).await;
    browser.wait_until("the page is ready", ready).await;
    expect_as_served(browser, both, "the ranking").await;

    fill(browser, "q", "fi").await;
    wait_for_query(browser, "q=fi").await;
    expect_as_served(browser, both, "a search").await;

    // A class by its first letters, and in the other order.
    browser.open(&both.file("/")).await;
    fill(browser, "class", "over 45").await;
    let in_class = "return location.pathname.startsWith('/class/')";
    browser.wait_until("a class is chosen", in_class).await;
    expect_as_served(browser, both, "a class").await;

    browser.open(&both.file("/")).await;
    browser.wait_until("the page is ready", ready).await;
    follow_link(browser, "No-load").await;
    wait_for_query(browser, "sort=no-load").await;
    expect_as_served(browser, both, "an order").await;
    follow_link(browser, "No-load▴").await;
    wait_for_query(browser, "dir=desc").await;
    expect_as_served(browser, both, "the other order").await;

    for query in [
        "/?usb_c=2&each_w=30",
        "/?regime=us_doe_level_vi&verdict=fails",
        "/?price=40&currency=EUR&sort=price",
        "/?sort=trip-margin&columns=trip-margin%2Crecovery%2Cvolume",
        "/?q=nothing-is-called-so",
        "/?from=2026-01-01&sort=tested-on&dir=asc",
        "/?sort=verdict",
        "/?ports=1",
        "/class/w15?sort=name",
    ] {
        let expected = served(browser, both, query).await;
        browser.open(&both.file(query)).await;
        expect_results(browser, &expected, query).await;
    }

    // Two are ticked and compared; their figures are those of the served table.
    browser.open(&both.file("/")).await;
    browser.wait_until("the page is ready", ready).await;
    let mut chosen = Vec::new();
    for _ in 0..2 {
        let not_yet = |f: &crate::driver::Focused| f.name == "unit" && !chosen.contains(&f.value);
        let box_of = browser.tab_to("a box to compare", not_yet).await;
        browser.press(&[key::SPACE]).await;
        chosen.push(box_of.value);
    }
    let two = "return document.getElementById('chosen').textContent === '2 chosen'";
    browser.wait_until("two are chosen", two).await;
    press_button(browser, "Compare the chosen ones").await;
    browser.wait_for_text("Efficiency as measured").await;
    let compared = browser.address().await;
    assert_eq!(compared.path(), "/compare/");
    let figures = browser.ask(COMPARED).await;
    browser.show_at(Width::Phone).await;
    assert_eq!(browser.overflow_px().await, 0, "the comparison on a phone");
    browser.show_at(Width::Desk).await;
    let drawn = "return document.querySelectorAll('.files-chart polyline').length === 2";
    assert_eq!(browser.ask(drawn).await, true);
    let columns = figures.as_object().expect("figures by label");
    assert!(columns.len() > 8, "{columns:?}");
    let mut held = 0;
    for (place, slug) in chosen.iter().enumerate() {
        let row = served_row(browser, both, slug).await;
        for (label, cells) in columns {
            if let Some(expected) = row.get(label) {
                assert_eq!(&cells[place], expected, "{label} of {slug}");
                held += 1;
            }
        }
    }
    assert!(held > 16, "{held} figures compared");
}

/// The figures of a comparison by their label, a cell a unit.
const COMPARED: &str = "
    const words = e => e.textContent.replace(/\\s+/g, ' ').trim();
    return Object.fromEntries([...document.querySelectorAll('section[aria-labelledby=figures] tbody tr')]
        .map(tr => [words(tr.children[0]), [...tr.children].slice(1).map(words)]));";

/// Every column of a unit in the served ranking, by its label.
async fn served_row(browser: &Browser, both: &Both, slug: &str) -> serde_json::Map<String, Value> {
    browser.open(&both.live.url("/")).await;
    let all = "return [...document.querySelectorAll('input[name=columns][type=checkbox]')]
        .map(box => box.value).join('%2C')";
    let columns = browser.ask(all).await;
    let columns = columns.as_str().expect("names of columns");
    browser
        .open(&both.live.url(&format!("/?columns={columns}")))
        .await;
    let script = format!(
        "const words = e => e.textContent.replace(/\\s+/g, ' ').trim();
         const row = document.querySelector('input[name=unit][value={}]').closest('tr');
         return Object.fromEntries([...row.querySelectorAll('td[data-label]')]
             .filter(td => !['Rank', 'Score', 'Verdicts'].includes(td.dataset.label))
             .map(td => [td.dataset.label, words(td)]));",
        Value::from(slug)
    );
    let row = browser.ask(&script).await;
    row.as_object().expect("cells by label").clone()
}

async fn wattages_and_trade_offs(both: &Both, browser: &Browser) {
    browser.open(&both.file("/at/")).await;
    fill(browser, "w", "27").await;
    browser.press(&[key::ENTER]).await;
    wait_for_query(browser, "w=27").await;
    let expected = served(browser, both, "/at?w=27").await;
    browser.open(&both.file("/at/")).await;
    fill(browser, "w", "27").await;
    browser.press(&[key::ENTER]).await;
    expect_results(browser, &expected, "a wattage that was typed").await;
    follow_link(browser, "Score").await;
    wait_for_query(browser, "sort=score").await;
    let expected = served(browser, both, "/at?w=27&sort=score").await;
    browser.open(&both.file("/at/?w=27&sort=score")).await;
    expect_results(browser, &expected, "a heading").await;

    for query in [
        "/at?w=20",
        "/at?w=0.4",
        "/at?w=7.5&sort=score&dir=asc",
        "/at?w=12.5&sort=price",
        "/at?w=65&sort=output-power&dir=desc",
        "/at?w=10&class=w30&sort=name&dir=desc",
        "/at?w=45&usb_c=2&each_w=20",
        "/at?w=900",
        "/trade-offs?x=price&y=score",
        "/trade-offs?x=mass&y=score",
        "/trade-offs?x=volume&y=hot-spot-rise",
        "/trade-offs?x=no-load&y=average-efficiency&q=o",
        "/trade-offs?x=output-power&y=power-density&usb_c=1",
        "/trade-offs?x=peak-efficiency&y=power-factor",
        "/trade-offs?x=score&y=score",
    ] {
        let mut expected = served(browser, both, query).await;
        browser.open(&both.file(query)).await;
        // Without any unit the served page has no table; here it stays, with its heads.
        if expected["rows"].as_array().is_some_and(Vec::is_empty) {
            let nothing = "return document.querySelectorAll('#main tbody tr').length === 0";
            browser.wait_until("no unit is shown", nothing).await;
            let seen = browser.ask(RESULTS).await;
            assert_eq!(seen["lacking"], expected["lacking"], "{query}");
            continue;
        }
        // The served list says where its rows end; here the caption does.
        expected["page"] = Value::from("");
        expect_results(browser, &expected, query).await;
        browser.show_at(Width::Phone).await;
        assert_eq!(browser.overflow_px().await, 0, "{query} on a phone");
        browser.show_at(Width::Desk).await;
    }
    let points = "return document.querySelectorAll('.files-chart .c-mark').length";
    browser
        .open(&both.file("/trade-offs/?x=mass&y=score"))
        .await;
    browser
        .wait_until(
            "the points are drawn",
            "return !!document.querySelector('.files-chart')",
        )
        .await;
    let drawn = browser.ask(points).await;
    let rows = browser.ask(RESULTS).await["rows"].as_array().map(Vec::len);
    assert_eq!(drawn.as_u64().map(|n| n as usize), rows);
}

async fn every_width_and_scheme(both: &Both, browser: &Browser) {
    let mut faults = Vec::new();
    for path in [
        "/",
        "/class/w100/",
        "/at/",
        "/trade-offs/",
        "/use/",
        "/use/phone-overnight/",
        "/coming/",
    ] {
        browser.open(&both.file(path)).await;
        faults.extend(crate::pages::look_over(browser).await);
    }
    assert_eq!(faults, Vec::<String>::new());
    browser.open(&both.file("/unit/nobody")).await;
    browser
        .wait_for_text("There is no page at this address")
        .await;
}

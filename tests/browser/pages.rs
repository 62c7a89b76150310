//! Every page, in light and dark, on a phone and on a desk: axe-core finds nothing serious, nothing
//! must be scrolled sideways, and the console stays silent.

use crate::accessibility;
use crate::driver::{Browser, Scheme, Width};
use crate::server::Server;
use serde_json::Value;

/// Looks at the page that is open in every width and scheme, and says what is wrong with it.
pub async fn look_over(browser: &Browser) -> Vec<String> {
    let address = browser.address().await;
    let page = match address.query() {
        Some(query) => format!("{}?{query}", address.path()),
        None => address.path().to_owned(),
    };
    let mut faults = Vec::new();
    for width in Width::ALL {
        browser.show_at(width).await;
        let overflow = browser.overflow_px().await;
        if overflow > 0 {
            let wide = browser.ask(WIDEST).await;
            faults.push(format!("{page} {width:?}: {overflow} px too wide: {wide}"));
        }
        for scheme in Scheme::ALL {
            browser.prefer(scheme).await;
            let found = accessibility::faults(browser).await;
            faults.extend(
                found
                    .into_iter()
                    .map(|f| format!("{page} {width:?} {scheme:?}: {f}")),
            );
        }
    }
    browser.show_at(Width::Desk).await;
    browser.prefer(Scheme::Light).await;
    let console = browser.console_errors().await;
    faults.extend(
        console
            .into_iter()
            .map(|line| format!("{page} console: {line}")),
    );
    faults
}

/// Elements that reach beyond the window and do not stand in something that scrolls by itself.
const WIDEST: &str = "
    const scrolls = e => { for (let p = e.parentElement; p; p = p.parentElement)
        if (getComputedStyle(p).overflowX !== 'visible') return true; return false; };
    return [...document.body.querySelectorAll('*')]
        .filter(e => e.getBoundingClientRect().right > innerWidth + 1 && !scrolls(e))
        .slice(0, 3).map(e => e.outerHTML.slice(0, 120)).join(' | ');";

#[tokio::test(flavor = "multi_thread")]
async fn every_public_page_is_accessible_fits_a_phone_and_keeps_the_console_silent() {
    let server = Server::demo();
    let browser = Browser::start().await;
    let slugs = slugs(&server).await;
    let unit = |place: usize| format!("/unit/{}", slugs[place]);
    let several = |count: usize| {
        let units: Vec<_> = slugs
            .iter()
            .take(count)
            .map(|slug| format!("unit={slug}"))
            .collect();
        format!("/compare?{}&at_w=10", units.join("&"))
    };
    let mut pages: Vec<String> = [
        "/",
        "/?q=nothing-is-called-so",
        "/?regime=us_doe_level_vi&verdict=fails&sort=no-load&dir=asc",
        "/?page=2",
        "/class/w100",
        "/class/w15?sort=price",
        "/compare",
        "/regimes",
        "/regime/us_doe_level_vi",
        "/regime/eu_2025_2052",
        "/method",
        "/sign-in",
        "/unit/nobody",
        "/there-is-no-such-page",
    ]
    .map(str::to_owned)
    .to_vec();
    pages.extend([several(2), several(6)]);
    // From every part of the ranking: the best, the middle, and the provisional one at the end.
    for place in [
        0,
        slugs.len() / 3,
        slugs.len() / 2,
        slugs.len() - 2,
        slugs.len() - 1,
    ] {
        pages.push(unit(place));
    }
    pages.push(format!("{}/revision/1", unit(0)));

    let mut faults = Vec::new();
    for page in &pages {
        browser.open(&server.url(page)).await;
        faults.extend(look_over(&browser).await);
    }
    // A missing page is itself an error in the console; that is how a browser tells it.
    faults.retain(|fault| !fault.contains("console: ") || !fault.contains("status of 404"));
    assert!(
        faults.is_empty(),
        "{} faults:\n{}",
        faults.len(),
        faults.join("\n")
    );
}

/// The units of the demonstration as they rank.
pub async fn slugs(server: &Server) -> Vec<String> {
    let answer = reqwest::get(server.url("/api/v1/ranking?per_page=200")).await;
    let text = answer
        .expect("the API answers")
        .text()
        .await
        .expect("a whole body");
    let ranking: Value = serde_json::from_str(&text).expect("the ranking is JSON");
    let units = ranking["units"].as_array().expect("units are a list");
    let slug = |unit: &Value| unit["slug"].as_str().expect("a slug is text").to_owned();
    units.iter().map(slug).collect()
}

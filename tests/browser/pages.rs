//! Every page, in light and dark, on a phone and on a desk: axe-core finds nothing serious, nothing
//! must be scrolled sideways, and the console stays silent.

use crate::accessibility;
use crate::desk::{self, begin_record, fill, follow_link, press_button};
use crate::driver::{Browser, Scheme, Width, key};
use crate::logs;
use crate::photos;
use crate::queue;
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
    // Each width and each scheme once: axe-core takes seconds for a long page, and colours are those
    // of the scheme at any width.
    for (width, scheme) in [(Width::Phone, Scheme::Dark), (Width::Desk, Scheme::Light)] {
        browser.show_at(width).await;
        let overflow = browser.overflow_px().await;
        if overflow > 0 {
            let wide = browser.ask(WIDEST).await;
            faults.push(format!("{page} {width:?}: {overflow} px too wide: {wide}"));
        }
        let cut = browser.ask(CUT_CARDS).await;
        if cut.as_str() != Some("") {
            faults.push(format!(
                "{page} {width:?}: a list's cards are cut off: {cut}"
            ));
        }
        browser.prefer(scheme).await;
        let found = accessibility::faults(browser).await;
        faults.extend(
            found
                .into_iter()
                .map(|f| format!("{page} {width:?} {scheme:?}: {f}")),
        );
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

/// Lists that stand as cards, wider than what holds them.
const CUT_CARDS: &str = "
    return [...document.querySelectorAll('.scroll > .board')]
        .filter(e => getComputedStyle(e).display === 'block')
        .map(e => e.parentElement)
        .filter(e => e.scrollWidth > e.clientWidth + 1)
        .map(e => `${e.scrollWidth} px in ${e.clientWidth} px`).join(', ');";

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
        "/?columns=trip-margin%2Crecovery%2Chot-spot-rise%2Cvolume",
        "/?sort=trip-margin",
        "/compare",
        "/regimes",
        "/regime/us_doe_level_vi",
        "/regime/eu_2025_2052",
        "/method",
        "/?usb_c=2&each_w=30",
        "/use",
        "/use/phone-overnight",
        "/use/laptop-by-day?class=w70&tariff=0.3&currency=EUR",
        "/use/own?load=15%3A2&load=0%3A16",
        "/at?w=27",
        "/trade-offs?x=price&y=score",
        "/trade-offs?x=volume&y=hot-spot-rise&class=w100",
        "/coming",
        "/suggest",
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
    // With several photos: a gallery.
    pages.push("/unit/larkfield-lf-100q".to_owned());
    pages.push("/compare?unit=larkfield-lf-100q&unit=castrelle-ct-100-nano".to_owned());
    // With evidence from logs: idle power, load points, waveforms.
    for slug in ["quillmere-qm-12a", "larkfield-lf-20c", "wexmoor-wx-100c"] {
        pages.push(format!("/unit/{slug}"));
    }
    // With capability lists, an extended range, sharing that is settled and that contradicts.
    for slug in [
        "tessawick-tw-65cca",
        "umbrefell-uf-140cc",
        "yarrowby-yb-140cca",
    ] {
        pages.push(format!("/unit/{slug}"));
    }

    // German words are long.
    pages.extend(
        [
            "/de/",
            "/de/?regime=us_doe_level_vi&verdict=fails&columns=trip-margin%2Crecovery%2Chold-up",
            "/de/class/w100",
            "/de/use/laptop-by-day?class=w70&tariff=0.3&currency=EUR",
            "/de/at?w=27",
            "/de/trade-offs?x=volume&y=hot-spot-rise&class=w100",
            "/de/there-is-no-such-page",
        ]
        .map(str::to_owned),
    );

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

#[tokio::test(flavor = "multi_thread")]
async fn every_page_behind_sign_in_is_accessible_fits_a_phone_and_keeps_the_console_silent() {
    let server = Server::start();
    let browser = Browser::start().await;
    let mut faults = Vec::new();
    // The ranking that nobody has put anything into yet, and the doors.
    for page in ["/", "/set-up"] {
        browser.open(&server.url(page)).await;
        faults.extend(look_over(&browser).await);
    }
    desk::set_up(&browser, &server).await;
    faults.extend(look_over(&browser).await);
    begin_record(&browser).await;
    faults.extend(look_over(&browser).await);
    for page in [
        "/desk/draft/1/publish",
        "/desk/draft/1/discard",
        "/desk/draft/1/plan",
    ] {
        browser.open(&server.url(page)).await;
        faults.extend(look_over(&browser).await);
    }
    browser.open(&server.url("/desk/draft/1")).await;
    fill(&browser, "unit.nameplate.output_power_w", "many").await;
    let complains = "return !!document.querySelector('#panel .problems')";
    browser.wait_until("the form complains", complains).await;
    faults.extend(look_over(&browser).await);
    desk::put_in_readings(&browser).await;
    faults.extend(look_over(&browser).await);
    browser.open(&server.url("/desk/draft/1/plan")).await;
    let open_all = "document.querySelectorAll('details').forEach(d => d.open = true)";
    browser.ask(open_all).await;
    faults.extend(look_over(&browser).await);
    browser.open(&server.url("/desk/draft/1")).await;
    faults.extend(look_over_photos(&browser).await);
    press_button(&browser, "Make a link").await;
    let link = "return document.querySelector('.links a')?.href ?? null";
    browser
        .wait_until(
            "there is a link",
            "return !!document.querySelector('.links a')",
        )
        .await;
    let link = browser.ask(link).await;
    faults.extend(look_over(&browser).await);
    browser.open(link.as_str().expect("a link is text")).await;
    faults.extend(look_over(&browser).await);
    browser.open(&server.url("/desk")).await;
    faults.extend(look_over(&browser).await);
    faults.extend(look_over_queue(&browser, &server).await);
    faults.extend(look_over_log_pages(&browser, &server).await);
    browser.open(&server.url("/desk/draft/1/publish")).await;
    faults.extend(look_over(&browser).await);
    fill(&browser, "reason", "first test").await;
    press_button(&browser, "Publish").await;
    let published = "return location.pathname.startsWith('/unit/')";
    browser.wait_until("the unit has its page", published).await;
    faults.extend(look_over(&browser).await);
    browser
        .open(&server.url("/desk/unit/larkfield-lf-30k-a"))
        .await;
    faults.extend(look_over(&browser).await);
    press_button(&browser, "Revise").await;
    browser
        .wait_until(
            "the bench form is open",
            "return !!document.getElementById('bench')",
        )
        .await;
    faults.extend(look_over(&browser).await);
    browser.open(&server.url("/desk/tokens")).await;
    faults.extend(look_over(&browser).await);
    fill(&browser, "label", "bench script").await;
    press_button(&browser, "Make a token").await;
    browser.wait_for_text("Copy the token now").await;
    faults.extend(look_over(&browser).await);

    desk::sign_out(&browser).await;
    browser.open(&server.url("/sign-in")).await;
    faults.extend(look_over(&browser).await);
    fill(&browser, "name", "nobody").await;
    fill(&browser, "password", "wrong password").await;
    press_button(&browser, "Sign in").await;
    browser
        .wait_until(
            "it is refused",
            "return !!document.querySelector('.problem')",
        )
        .await;
    faults.extend(look_over(&browser).await);

    // A refused sign-in is itself an error in the console; that is how a browser tells it.
    faults
        .retain(|fault| !fault.starts_with("/sign-in console: ") || !fault.contains("status of 4"));
    assert!(
        faults.is_empty(),
        "{} faults:\n{}",
        faults.len(),
        faults.join("\n")
    );
}

/// The queue empty, filled, with a question and with a reader's suggestion; a candidate by itself.
async fn look_over_queue(browser: &Browser, server: &Server) -> Vec<String> {
    let mut faults = Vec::new();
    browser.open(&server.url("/desk/queue")).await;
    faults.extend(look_over(browser).await);
    queue::add(browser, "Brackwater", "B-65C").await;
    queue::add(browser, "Brackwater", "B-100C").await;
    faults.extend(look_over(browser).await);
    fill(browser, "maker", "Brackwatre").await;
    fill(browser, "model", "B65C").await;
    browser.press(&[key::ENTER]).await;
    browser.wait_for_text("Not added yet").await;
    faults.extend(look_over(browser).await);
    browser.open(&server.url("/desk/queue/1")).await;
    faults.extend(look_over(browser).await);
    browser.open(&server.url("/suggest")).await;
    fill(browser, "maker", "Brackwater").await;
    fill(browser, "model", "B-65C black").await;
    fill(browser, "why", "It is sold everywhere.").await;
    press_button(browser, "Suggest it").await;
    browser.wait_for_text("The suggestion was taken in").await;
    faults.extend(look_over(browser).await);
    browser.open(&server.url("/desk/queue")).await;
    browser.wait_for_text("Suggested by readers").await;
    faults.extend(look_over(browser).await);
    browser.open(&server.url("/coming")).await;
    faults.extend(look_over(browser).await);
    faults
}

/// The bench form with photos and a file that is none, and the page of those that nothing names;
/// one photo is left in the draft.
async fn look_over_photos(browser: &Browser) -> Vec<String> {
    let folder = tempfile::tempdir().expect("a temporary directory");
    let front = photos::picture(folder.path(), "front.jpg", 90);
    let label = photos::picture(folder.path(), "label.jpg", 180);
    let notes = folder.path().join("notes.jpg");
    std::fs::write(&notes, "no picture").expect("a file is written");
    photos::choose(browser, &[&front, &label, &notes]).await;
    browser.wait_for_text("2 photos added.").await;
    let saved = "return /^Saved/.test(document.getElementById('saved').innerText)";
    browser.wait_until("they are saved", saved).await;
    let mut faults = look_over(browser).await;
    // A file that is refused is itself an error in the console; that is how a browser tells it.
    faults.retain(|fault| !fault.contains("console: ") || !fault.contains("status of 422"));
    let remove = "document.querySelector('[value=\"remove:photos[1]\"]').click()";
    browser.ask(remove).await;
    let removed = "return document.querySelectorAll('.photo-row').length === 1";
    browser.wait_until("one photo is left", removed).await;
    let mut address = browser.address().await;
    let draft = address.clone();
    address.set_path("/desk/photos");
    address.set_query(None);
    browser.open(address.as_str()).await;
    browser.wait_for_text("Photos that nothing names").await;
    faults.extend(look_over(browser).await);
    browser.open(draft.as_str()).await;
    faults
}

/// Every page about logs, with one that can be read and one that cannot; a section of the first is
/// left in the draft.
async fn look_over_log_pages(browser: &Browser, server: &Server) -> Vec<String> {
    let folder = tempfile::tempdir().expect("a temporary directory");
    let mut faults = Vec::new();
    browser.open(&server.url("/desk/logs")).await;
    faults.extend(look_over(browser).await);
    let prose = folder.path().join("prose.txt");
    std::fs::write(&prose, "no table at all\n".repeat(40)).expect("a file is written");
    logs::choose_file(browser, &prose).await;
    press_button(browser, "Upload").await;
    browser.wait_for_text("How it is read").await;
    faults.extend(look_over(browser).await);
    logs::upload(browser, server, &logs::no_load_log(folder.path())).await;
    faults.extend(look_over(browser).await);
    fill(browser, "from", "0:15:00").await;
    press_button(browser, "Show the section").await;
    browser.wait_for_text("The section by itself").await;
    press_button(browser, "What would it say?").await;
    browser
        .wait_for_text("Not written into the draft yet")
        .await;
    for summary in ["The chart as a table", "Encoding, cells, time and columns"] {
        let open = format!(
            "[...document.querySelectorAll('summary')].find(s => s.innerText === '{summary}')
                .parentElement.open = true"
        );
        browser.ask(&open).await;
    }
    faults.extend(look_over(browser).await);
    fill(browser, "name", "bench meter").await;
    press_button(browser, "Save the layout").await;
    browser.wait_for_text("bench meter").await;
    faults.extend(look_over(browser).await);
    browser.open(&server.url("/desk/logs")).await;
    browser.wait_for_text("noload-115.csv").await;
    faults.extend(look_over(browser).await);
    follow_link(browser, "Delete").await;
    browser.wait_for_text("Delete the log").await;
    faults.extend(look_over(browser).await);
    browser.open(&server.url("/desk/logs?draft=1")).await;
    follow_link(browser, "noload-115.csv").await;
    browser.wait_for_text("Cut a section").await;
    press_button(browser, "Use this section").await;
    let there = "return location.pathname === '/desk/draft/1'";
    browser.wait_until("the draft is open", there).await;
    faults.extend(look_over(browser).await);
    faults
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

/// What of the page a printer would get though it is of no use on paper.
const LEADING_AWAY: &str = "
    return [...document.querySelectorAll('header.site nav, .filter, .tabs, .contents, .pager, .embed, .pick, .skip')]
        .filter(e => getComputedStyle(e).display !== 'none').map(e => e.className || e.tagName);";

/// Tables and drawings that reach beyond the paper's edge, of which print shows nothing more.
const CUT_OFF: &str = "
    return [...document.querySelectorAll('main table, main svg, main img, main pre')]
        .filter(e => e.getClientRects().length > 0
            && (e.getBoundingClientRect().right > innerWidth + 1 || e.scrollWidth > e.clientWidth + 1 && e.tagName === 'PRE'))
        .map(e => `${e.tagName} ${e.className.baseVal ?? e.className}: ${Math.round(e.getBoundingClientRect().right)} of ${innerWidth}`);";

#[tokio::test(flavor = "multi_thread")]
async fn printed_pages_lead_nowhere_are_not_cut_off_and_are_dark_on_white() {
    let server = Server::demo();
    let browser = Browser::start().await;
    for path in [
        "/",
        "/class/w100",
        "/unit/larkfield-lf-100q",
        "/unit/wexmoor-wx-100c",
        "/unit/tessawick-tw-65cca",
        "/compare?unit=larkfield-lf-100q&unit=hollowick-hk-100c&unit=castrelle-ct-100-nano",
        "/method",
        "/use/phone-overnight",
    ] {
        browser.open(&server.url(path)).await;
        // A4 and Letter between the margins that the style sheet sets: 186 mm and 192 mm.
        for width in [703, 725] {
            browser.print_on(width).await;
            let away = browser.ask(LEADING_AWAY).await;
            assert_eq!(away, serde_json::json!([]), "{path}: stays on paper");
            let cut = browser.ask(CUT_OFF).await;
            assert_eq!(cut, serde_json::json!([]), "{path}: cut off");
            let ink = "const style = getComputedStyle(document.body);
                const chart = document.querySelector('.chart .c-text');
                return [style.color, style.backgroundColor, chart ? getComputedStyle(chart).fill : 'rgb(27, 29, 34)'];";
            let expected =
                serde_json::json!(["rgb(0, 0, 0)", "rgb(255, 255, 255)", "rgb(27, 29, 34)"]);
            assert_eq!(browser.ask(ink).await, expected, "{path}: ink");
        }
        browser.prefer(Scheme::Light).await;
        browser.show_at(Width::Desk).await;
    }
}

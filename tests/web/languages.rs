//! The public pages in every language: addresses, links, words and numbers.

use crate::app::{Answer, TestApp, seed};
use axum::http::StatusCode;
use brickbook::{
    text::{Language, messages},
    web::{Config, urls},
};
use std::collections::{BTreeMap, BTreeSet};

const THREE: [&str; 3] = ["larkfield-lf-100q", "larkfield-lf-20c", "quillmere-qm-12a"];

/// Pages of which every word comes from the catalogues.
const WHOLLY_TRANSLATED: &[&str] = &[
    "/",
    "/?q=lark&ports=x&sort=none&page=0",
    "/?usb_c=2&each_w=30",
    "/?sort=trip-margin&columns=trip-margin,recovery,ports,tested-on",
    "/method",
    "/compare",
    "/compare?unit=larkfield-lf-100q",
    "/compare?unit=larkfield-lf-100q&unit=larkfield-lf-20c&unit=quillmere-qm-12a&at_w=10",
    "/compare?unit=larkfield-lf-100q&unit=nobody&at_w=x&add=zzz",
    "/regimes",
    "/regime/us_doe_level_vi",
    "/regime/eu_2019_1782",
    "/regime/moon_2031",
    "/coming",
    "/suggest",
    "/class/w100",
    "/class/w15",
    "/class/w9",
    "/unit/larkfield-lf-100q",
    "/unit/larkfield-lf-20c",
    "/unit/quillmere-qm-12a",
    "/unit/larkfield-lf-100q/revision/1",
    "/unit/nobody",
    "/there-is-no-such-page",
    "/use",
    "/use?w=15&h=30",
    "/use/phone-overnight",
    "/use/us-charger-class-4?class=w100&tariff=0.3&currency=EUR",
    "/use/plugged-in?q=lark&tariff=x&sort=none&dir=up&page=0",
    "/use/own?load=15%3A2&load=0%3A16",
    "/use/own?load=x",
    "/use/knitting",
    "/at?w=50",
    "/at?w=x&sort=none",
    "/trade-offs?x=price&y=score",
    "/trade-offs?x=mass&y=current-thd&class=w100",
    "/trade-offs?x=none&y=none&currency=none",
];

async fn app() -> TestApp {
    TestApp::seeded(&THREE).await
}

/// The page at this address, or at the one that it leads on to.
async fn open(app: &TestApp, path: &str) -> Answer {
    let answer = app.get(path).await;
    match answer.header("location") {
        "" => answer,
        elsewhere => app.get(elsewhere).await,
    }
}

/// Addresses of links, without those that name another language.
fn links(html: &str) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    for tag in html.split('<').filter_map(|part| part.split_once('>')) {
        let tag = tag.0;
        let leads = tag.starts_with("a ") || tag.starts_with("form ");
        if !leads || tag.contains("hreflang=") || tag.contains("method=\"post\"") {
            continue;
        }
        for begin in [" href=\"", " action=\""] {
            if let Some((_, rest)) = tag.split_once(begin) {
                let address = rest.split('"').next().unwrap_or(rest);
                found.insert(address.replace("&#38;", "&"));
            }
        }
    }
    found
}

#[tokio::test]
async fn a_german_page_says_so_and_names_its_other_language() {
    let app = app().await;
    let answer = app.get("/de/class/w100").await;
    assert_eq!(answer.status, StatusCode::OK);
    let html = answer.text();
    for part in [
        "<html lang=\"de\">",
        "<link rel=\"canonical\" href=\"http://bench.example/de/class/w100\">",
        "<link rel=\"alternate\" hreflang=\"en\" href=\"http://bench.example/class/w100\">",
        "<link rel=\"alternate\" hreflang=\"de\" href=\"http://bench.example/de/class/w100\">",
        "<link rel=\"alternate\" hreflang=\"x-default\" href=\"http://bench.example/class/w100\">",
        "<meta property=\"og:locale\" content=\"de_DE\">",
        "<meta property=\"og:locale:alternate\" content=\"en_GB\">",
        "Netzteile über 70 bis 100 W",
    ] {
        assert!(html.contains(part), "{part}");
    }
    let english = app.get("/class/w100").await.text();
    for part in [
        "<html lang=\"en\">",
        "<link rel=\"canonical\" href=\"http://bench.example/class/w100\">",
        "hreflang=\"de\" href=\"http://bench.example/de/class/w100\"",
    ] {
        assert!(english.contains(part), "{part}");
    }
}

#[tokio::test]
async fn the_switch_leads_to_the_same_page_with_the_same_question() {
    let app = app().await;
    let html = app.get("/?q=lark&sort=price").await.text();
    assert!(
        html.contains(
            "<a href=\"/de/?q=lark&#38;sort=price\" hreflang=\"de\" lang=\"de\">Deutsch</a>"
        ),
        "{html}"
    );
    let html = app.get("/de/?q=lark&sort=price").await.text();
    assert!(
        html.contains(
            "<a href=\"/?q=lark&#38;sort=price\" hreflang=\"en\" lang=\"en\">English</a>"
        )
    );
    assert!(html.contains("hreflang=\"de\" lang=\"de\" aria-current=\"true\""));
    // The desk has one language.
    assert!(!app.get("/sign-in").await.text().contains("hreflang"));
}

#[tokio::test]
async fn what_a_german_page_leads_to_is_german_where_it_can_be() {
    let app = app().await;
    for page in [
        "/de/",
        "/de/class/w100",
        "/de/method",
        "/de/use",
        "/de/use/phone-overnight",
        "/de/at?w=20",
        "/de/trade-offs?x=price&y=score",
        "/de/no",
    ] {
        let links = links(&app.get(page).await.text());
        assert!(links.len() > 5, "{page}");
        for link in links.iter().filter(|link| link.starts_with('/')) {
            let (language, plain) = urls::language_of(link);
            let expected = if urls::has_languages(plain) {
                Language::German
            } else {
                Language::English
            };
            assert_eq!(language, expected, "{link}, from {page}");
        }
    }
}

#[tokio::test]
async fn an_address_that_is_not_as_it_should_be_leads_to_the_one_in_its_language() {
    let app = app().await;
    for (asked, known) in [
        ("/de", "/de/"),
        ("/de/?sort=score", "/de/"),
        ("/de/?class=w100", "/de/class/w100"),
        ("/?class=w100", "/class/w100"),
    ] {
        let answer = app.get(asked).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{asked}");
        assert_eq!(answer.header("location"), known);
    }
}

#[tokio::test]
async fn what_has_no_language_has_one_address() {
    let app = app().await;
    for path in [
        "/de/api/v1/units",
        "/de/sign-in",
        "/de/desk",
        "/de/unit/larkfield-lf-100q/record.json",
        "/de/table.csv",
        "/de/feed.atom",
        "/de/sitemap.xml",
        "/de/preview.png",
        "/de/de/",
        "/xx/",
        "/deutsch",
    ] {
        assert_eq!(app.get(path).await.status, StatusCode::NOT_FOUND, "{path}");
    }
}

#[tokio::test]
async fn a_language_that_is_switched_off_leads_nowhere_and_is_not_named() {
    let config = Config {
        languages: vec![Language::English],
        ..Config::default()
    };
    let app = TestApp::with(config).await;
    app.publish(&seed(THREE[0])).await;
    app.site.refresh().await.expect("the database can be read");
    for path in ["/de/", "/de", "/de/method"] {
        assert_eq!(app.get(path).await.status, StatusCode::NOT_FOUND, "{path}");
    }
    let html = app.get("/").await.text();
    assert!(!html.contains("hreflang") && !html.contains("Deutsch"));
    let map = app.get("/sitemap.xml").await.text();
    assert!(!map.contains("/de/") && !map.contains("hreflang"));
}

#[tokio::test]
async fn the_page_cache_never_gives_one_language_for_the_other() {
    let app = app().await;
    for _ in 0..3 {
        for (path, word) in [("/", "All adapters"), ("/de/", "Alle Netzteile")] {
            let answer = app.get(path).await;
            assert!(answer.text().contains(&format!("<h1>{word}</h1>")));
        }
    }
    let tag = app.get("/").await.header("etag").to_owned();
    let answer = app.get_with("/de/", &[("if-none-match", &tag)]).await;
    assert_eq!(answer.status, StatusCode::OK);
}

#[tokio::test]
async fn both_languages_show_the_same_numbers_each_in_its_way() {
    let app = app().await;
    // The table's cells: every number of the one is in the other, with the other mark.
    let cells = |answer: &Answer| -> Vec<String> {
        let html = answer.text();
        let table = html.split("<tbody>").nth(1).expect("a table").to_owned();
        let table = table.split("</table>").next().expect("its end").to_owned();
        let mut numbers = Vec::new();
        for cell in table.split("<td").skip(1) {
            let text = cell.split_once('>').map_or("", |(_, text)| text);
            let text = text.split("</td>").next().unwrap_or("");
            let tags = text
                .split('<')
                .map(|part| part.split_once('>').map_or(part, |p| p.1));
            let text: String = tags.collect::<Vec<_>>().join(" ");
            let words = text.split(|c: char| !(c.is_ascii_digit() || c == '.' || c == ','));
            numbers.extend(
                words
                    .map(|word| word.trim_matches(['.', ',']).to_owned())
                    .filter(|word| !word.is_empty()),
            );
        }
        numbers
    };
    let query = "?columns=average-efficiency,no-load,price,mass,volume,power-density,current-thd";
    let english = cells(&open(&app, &format!("/{query}")).await);
    let german = cells(&open(&app, &format!("/de/{query}")).await);
    assert!(
        english.iter().filter(|n| n.contains('.')).count() > 15,
        "{english:?}"
    );
    assert_eq!(german.len(), english.len());
    for (german, english) in german.iter().zip(&english) {
        assert_eq!(german.replace(',', "."), *english);
        assert!(!german.contains('.'), "{german}");
    }
    // What goes back into an address or a field keeps its point.
    let html = open(&app, "/de/?each_w=27.5&usb_c=1").await.text();
    assert!(html.contains("name=\"each_w\" value=\"27.5\""), "{html}");
    assert!(html.contains("27,5\u{202f}W"));
    assert!(html.contains("/table.csv?usb_c=1&amp;each_w=27.5"));
}

#[tokio::test]
async fn documents_are_the_same_whatever_language_leads_to_them() {
    let app = app().await;
    let in_page = |html: &str| -> String {
        let (_, rest) = html
            .split_once("application/ld+json\">")
            .expect("structured data");
        rest.split("</script>").next().unwrap_or("").to_owned()
    };
    let english = in_page(&app.get("/unit/larkfield-lf-100q").await.text());
    let german = in_page(&app.get("/de/unit/larkfield-lf-100q").await.text());
    let numbers = |json: &str| -> Vec<String> {
        let value: serde_json::Value = serde_json::from_str(json).expect("JSON");
        let mut found = Vec::new();
        fn walk(value: &serde_json::Value, found: &mut Vec<String>) {
            match value {
                serde_json::Value::Number(number) => found.push(number.to_string()),
                serde_json::Value::Array(all) => all.iter().for_each(|v| walk(v, found)),
                serde_json::Value::Object(all) => all.values().for_each(|v| walk(v, found)),
                _ => {}
            }
        }
        walk(&value, &mut found);
        found
    };
    assert!(numbers(&english).len() > 10);
    assert_eq!(numbers(&english), numbers(&german));
}

/// What a reader meets: text and the attributes that are shown or read out.
fn shown(html: &str) -> String {
    let mut out = String::new();
    let html = html
        .split("<script")
        .map(|part| part.split_once("</script>").map_or(part, |p| p.1));
    // Words of the evaluation document and of the tester are what they are.
    let html = html.collect::<String>();
    let html = match html.split_once("<div class=\"notes\">") {
        Some((before, after)) => match after.split_once("</section>") {
            Some((_, rest)) => format!("{before}{rest}"),
            None => before.to_owned(),
        },
        None => html,
    };
    let mut pieces = html.split("<span lang=\"en\">");
    let first = pieces.next().unwrap_or_default().to_owned();
    // What is marked as English may stand in the page's description as well.
    let mut english = Vec::new();
    let html = pieces.fold(first, |html, piece| {
        let (marked, rest) = piece.split_once("</span>").unwrap_or_default();
        english.push(marked);
        html + rest
    });
    for part in html.split('<').skip(1) {
        let (tag, text) = part.split_once('>').unwrap_or((part, ""));
        if tag.starts_with("a ") && tag.contains("hreflang=") {
            continue;
        }
        for name in [
            "title",
            "aria-label",
            "alt",
            "placeholder",
            "data-label",
            "content",
        ] {
            if let Some((_, rest)) = tag.split_once(&format!(" {name}=\"")) {
                out.push_str(rest.split('"').next().unwrap_or(rest));
                out.push('\n');
            }
        }
        // Words of addresses and documents are one in every language.
        if tag != "code" {
            out.push_str(text);
            out.push('\n');
        }
    }
    for marked in english.into_iter().filter(|marked| !marked.is_empty()) {
        out = out.replace(marked, "");
    }
    out.replace("&#38;", "&").replace("&#39;", "'")
}

#[tokio::test]
async fn no_english_is_left_on_a_german_page() {
    let app = app().await;
    let german: BTreeMap<_, _> = messages(Language::German).into_iter().collect();
    // The longest literal part of each message that is said otherwise in German.
    let parts: Vec<(&str, String)> = messages(Language::English)
        .into_iter()
        .filter(|(key, text)| german.get(key).is_some_and(|its| its != text))
        .filter_map(|(key, text)| {
            let part = text
                .split("{}")
                .flat_map(|part| part.split(['<', '>']))
                .map(str::trim)
                .max_by_key(|part| part.len())?
                .to_owned();
            (part.len() > 5).then_some((key, part))
        })
        .filter(|(_, part)| !german.values().any(|text| text.contains(part.as_str())))
        .collect();
    assert!(parts.len() > 200, "{}", parts.len());
    let as_word = |text: &str, part: &str| {
        text.match_indices(part).any(|(at, _)| {
            let before = text[..at].chars().next_back();
            let after = text[at + part.len()..].chars().next();
            let apart = |c: Option<char>| c.is_none_or(|c| !c.is_alphanumeric());
            apart(before) && apart(after)
        })
    };
    let mut faults = Vec::new();
    for page in WHOLLY_TRANSLATED {
        let text = shown(&open(&app, &format!("/de{page}")).await.text());
        for (key, part) in &parts {
            if as_word(&text, part) {
                faults.push(format!("{page}: {part:?} ({key})"));
            }
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    // And the other way about: these parts are what the English page says.
    let english = shown(&app.get("/class/w100").await.text());
    let said = parts
        .iter()
        .filter(|(_, part)| as_word(&english, part))
        .count();
    assert!(said > 40, "{said}");
}

#[tokio::test]
async fn a_use_profile_is_told_in_german_and_its_files_stay_english() {
    let app = app().await;
    let path = "/use/phone-overnight?class=w100&tariff=0.3&currency=EUR";
    let words = app.get(&format!("/de{path}")).await.words();
    for part in [
        "Handy über Nacht, Netzteil bleibt eingesteckt",
        "Täglich 0,5 h mit 15 W",
        "Quelle: unsere Annahme, ohne Quelle.",
        "Kosten im Jahr, EUR",
    ] {
        assert!(words.contains(part), "{part}: {words}");
    }
    let sent = app.get("/de/use?w=15&h=2").await;
    assert_eq!(sent.header("location"), "/de/use/own?load=15%3A2");
    let refused = app.get("/de/use/own?load=15%3A30").await;
    assert_eq!(refused.status, StatusCode::BAD_REQUEST);
    assert!(
        refused
            .words()
            .contains("erwartet werden 0 bis 24 Stunden am Tag")
    );
    let file = app.get("/use/phone-overnight/table.json").await.text();
    assert!(
        file.contains("Energy lost in a year: Phone overnight"),
        "{file}"
    );
}

#[tokio::test]
async fn the_sitemap_names_every_page_in_both_languages() {
    let app = app().await;
    let map = app.get("/sitemap.xml").await.text();
    for part in [
        "<loc>http://bench.example/unit/larkfield-lf-100q</loc>",
        "<loc>http://bench.example/de/unit/larkfield-lf-100q</loc>",
        "<xhtml:link rel=\"alternate\" hreflang=\"de\" href=\"http://bench.example/de/unit/larkfield-lf-100q\"/>",
        "<xhtml:link rel=\"alternate\" hreflang=\"x-default\" href=\"http://bench.example/\"/>",
    ] {
        assert!(map.contains(part), "{part}");
    }
    let places = map.matches("<loc>").count();
    assert_eq!(
        map.matches("<loc>http://bench.example/de/").count() * 2,
        places
    );
}

//! Every address of the site, built in one place. Templates and handlers use these and never
//! write a path themselves; text from records is percent-encoded here.
//!
//! A page has an address in every language: the same path behind the language's prefix. Functions
//! give that of the language spoken now; constants are plain paths, and [`page`] does the same for
//! them. Documents for programs, downloads, pictures and the desk have one address each.

use crate::text::Language;
use std::fmt::Write;

pub const HOME: &str = "/";
pub const COMPARE: &str = "/compare";
/// What adapters cost to use, by use profiles.
pub const USE: &str = "/use";
/// Efficiency and loss of all units at one wattage.
pub const AT: &str = "/at";
/// Any two figures against each other.
pub const TRADE_OFFS: &str = "/trade-offs";
pub const SITEMAP: &str = "/sitemap.xml";
pub const REGIMES: &str = "/regimes";
pub const METHOD: &str = "/method";
pub const SET_UP: &str = "/set-up";
pub const SIGN_IN: &str = "/sign-in";
/// The code after the password.
pub const SIGN_IN_SECOND: &str = "/sign-in/second";
/// What a passkey has signed.
pub const SIGN_IN_PASSKEY: &str = "/sign-in/passkey";
pub const SIGN_OUT: &str = "/sign-out";
pub const DESK: &str = "/desk";
pub const DESK_DRAFTS: &str = "/desk/draft";
pub const DESK_TOKENS: &str = "/desk/tokens";
pub const DESK_ACCOUNT: &str = "/desk/account";
pub const DESK_PASSKEYS: &str = "/desk/account/passkeys";
pub const DESK_ACCOUNTS: &str = "/desk/accounts";
pub const DESK_AUDIT: &str = "/desk/audit";
pub const DESK_LOGS: &str = "/desk/logs";
pub const DESK_LOG_LAYOUTS: &str = "/desk/logs/layouts";
pub const DESK_QUEUE: &str = "/desk/queue";
pub const DESK_QUEUE_ORDER: &str = "/desk/queue/order";
pub const DESK_SUGGESTIONS: &str = "/desk/queue/suggestion";
pub const DESK_QUEUE_ALIKE: &str = "/desk/queue/alike";
pub const COMING: &str = "/coming";
pub const COMING_CALENDAR: &str = "/coming.ics";
pub const FEED: &str = "/feed.atom";
pub const SUGGEST: &str = "/suggest";
pub const API_LOGS: &str = "/api/v1/logs";
pub const DESK_PHOTOS: &str = "/desk/photos";
/// The route of [`desk_draft_photos`].
pub const DESK_DRAFT_PHOTOS: &str = "/desk/draft/{id}/photos";
pub const API_PHOTOS: &str = "/api/v1/photos";
pub const API: &str = "/api/v1";
pub const OPENAPI: &str = "/api/v1/openapi.json";
pub const HOME_PREVIEW: &str = "/preview.png";
pub const ROBOTS: &str = "/robots.txt";
/// Everything that filters and comparisons need where no program answers.
pub const SITE_DATA: &str = "/data/units.json";

/// The address of the page at the plain path `path`, in the language spoken now.
pub fn page(path: &str) -> String {
    format!("{}{path}", Language::current().prefix())
}

/// The page of `address`, which may be in any language, in this one; what has no languages stays.
pub fn in_language(address: &str, language: Language) -> String {
    let (_, plain) = language_of(address);
    if has_languages(plain) {
        format!("{}{plain}", language.prefix())
    } else {
        address.to_owned()
    }
}

/// The language that an address begins with, and the rest: the plain address.
pub fn language_of(address: &str) -> (Language, &str) {
    for language in Language::ALL {
        let prefix = language.prefix();
        if !prefix.is_empty()
            && let Some(rest) = address.strip_prefix(prefix)
        {
            match rest.as_bytes().first() {
                Some(b'/') => return (language, rest),
                None => return (language, HOME),
                Some(_) => {}
            }
        }
    }
    (Language::English, address)
}

/// Does the page at this plain address exist in every language?
pub fn has_languages(address: &str) -> bool {
    let path = address.split(['?', '#']).next().unwrap_or(address);
    if path == SITE_DATA {
        return true;
    }
    let mut parts = path.split('/').skip(1);
    let is_own = matches!(
        parts.next(),
        Some("api" | "desk" | "sign-in" | "sign-out" | "set-up" | "preview" | "static" | "healthz")
    );
    // Raw logs go by names of their own, with or without an ending.
    let is_log = path.starts_with("/unit/") && parts.nth(1) == Some("log");
    let is_file = path
        .rsplit('/')
        .next()
        .is_some_and(|last| last.contains('.'));
    path.starts_with('/') && !is_own && !is_log && !is_file
}

/// `/class/{id}`
pub fn class(id: &str) -> String {
    page(&format!("/class/{}", segment(id)))
}

/// `/unit/{slug}`
pub fn unit(slug: &str) -> String {
    page(&plain_unit(slug))
}

fn plain_unit(slug: &str) -> String {
    format!("/unit/{}", segment(slug))
}

/// `/unit/{slug}/revision/{number}`
pub fn revision(slug: &str, number: i64) -> String {
    page(&plain_revision(slug, number))
}

fn plain_revision(slug: &str, number: i64) -> String {
    format!("/unit/{}/revision/{number}", segment(slug))
}

/// `/unit/{slug}/report.pdf`, or that of one revision.
pub fn unit_report(slug: &str, number: Option<i64>) -> String {
    match number {
        None => format!("{}/report.pdf", plain_unit(slug)),
        Some(number) => format!("{}/report.pdf", plain_revision(slug, number)),
    }
}

/// `/class/{id}/report.pdf`
pub fn class_report(id: &str) -> String {
    format!("/class/{}/report.pdf", segment(id))
}

/// `/preview/{token}/report.pdf`
pub fn draft_report(token: &str) -> String {
    format!("{}/report.pdf", draft_preview(token))
}

/// `/unit/{slug}/record.json`
pub fn unit_record(slug: &str) -> String {
    format!("/unit/{}/record.json", segment(slug))
}

/// `/unit/{slug}/evaluation.json`
pub fn unit_evaluation(slug: &str) -> String {
    format!("/unit/{}/evaluation.json", segment(slug))
}

/// `/unit/{slug}/log/{name}`, the raw log that the newest revision calls so.
pub fn unit_log(slug: &str, name: &str) -> String {
    format!("/unit/{}/log/{}", segment(slug), segment(name))
}

/// `/unit/{slug}/log/{sha256}/{name}`, exactly these bytes.
pub fn unit_log_exactly(slug: &str, name: &str, sha256: &str) -> String {
    format!(
        "/unit/{}/log/{}/{}",
        segment(slug),
        segment(sha256),
        segment(name)
    )
}

/// `/unit/{slug}/photo/{sha256}.jpg`
pub fn unit_photo(slug: &str, sha256: &str) -> String {
    format!("/unit/{}/photo/{}.jpg", segment(slug), segment(sha256))
}

/// `/unit/{slug}/thumb/{sha256}.jpg`
pub fn unit_thumbnail(slug: &str, sha256: &str) -> String {
    format!("/unit/{}/thumb/{}.jpg", segment(slug), segment(sha256))
}

/// `/unit/{slug}/preview.png`
pub fn unit_preview(slug: &str) -> String {
    format!("/unit/{}/preview.png", segment(slug))
}

/// `/class/{id}/preview.png`
pub fn class_preview(id: &str) -> String {
    format!("/class/{}/preview.png", segment(id))
}

/// `/preview.png?{query}`, the picture of a leaderboard view, class or comparison.
pub fn preview(query: &Query) -> String {
    query.on(HOME_PREVIEW)
}

/// Where a site that is files keeps the picture of an address with a query: a plain file server
/// knows none. `/preview.png?x=price&y=score` is `/previews/x-price-y-score.png`.
pub fn preview_file(address: &str) -> String {
    let Some((HOME_PREVIEW, query)) = address.split_once('?') else {
        return address.to_owned();
    };
    let name: String = query
        .chars()
        .map(|c| {
            if c.is_ascii_alphanumeric() || "-_".contains(c) {
                c
            } else {
                '-'
            }
        })
        .collect();
    format!("/previews/{name}.png")
}

/// `/unit/{slug}/badge.svg`
pub fn unit_badge(slug: &str) -> String {
    format!("/unit/{}/badge.svg", segment(slug))
}

/// `/unit/{slug}/chart.svg`
pub fn unit_chart(slug: &str) -> String {
    format!("/unit/{}/chart.svg", segment(slug))
}

/// `/class/{id}/chart.svg`
pub fn class_chart(id: &str) -> String {
    format!("/class/{}/chart.svg", segment(id))
}

/// `/use/{profile}`
pub fn use_profile(id: &str) -> String {
    page(&format!("{USE}/{}", segment(id)))
}

/// The table of the page at `path`, as a file: `table.csv` or `table.json` below its plain path.
pub fn table(path: &str, extension: &str) -> String {
    let (_, path) = language_of(path);
    format!("{}/table.{extension}", path.trim_end_matches('/'))
}

/// `/regime/{id}`
pub fn regime(id: &str) -> String {
    page(&format!("/regime/{}", segment(id)))
}

/// `/compare?unit=…&unit=…&at_w=…`
pub fn compare<'a>(slugs: impl IntoIterator<Item = &'a str>, at_w: Option<&str>) -> String {
    let mut query = Query::new();
    for slug in slugs {
        query.push("unit", slug);
    }
    if let Some(at_w) = at_w {
        query.push("at_w", at_w);
    }
    query.on(&page(COMPARE))
}

/// `/preview/{token}`, an unlisted draft.
pub fn draft_preview(token: &str) -> String {
    format!("/preview/{}", segment(token))
}

/// `/preview/{token}/photo/{sha256}.jpg`
pub fn draft_photo(token: &str, sha256: &str) -> String {
    format!("{}/photo/{}.jpg", draft_preview(token), segment(sha256))
}

/// `/preview/{token}/thumb/{sha256}.jpg`
pub fn draft_thumbnail(token: &str, sha256: &str) -> String {
    format!("{}/thumb/{}.jpg", draft_preview(token), segment(sha256))
}

/// `/invited/{token}`, where somebody chooses a password.
pub fn invited(token: &str) -> String {
    format!("/invited/{}", segment(token))
}

/// `/desk/account/passkeys/{id}/remove`
pub fn desk_passkey_remove(id: i64) -> String {
    format!("{DESK_PASSKEYS}/{id}/remove")
}

/// `/desk/accounts/{id}`
pub fn desk_account(id: i64) -> String {
    format!("{DESK_ACCOUNTS}/{id}")
}

/// `/desk/accounts/invitation/{id}`
pub fn desk_invitation(id: i64) -> String {
    format!("{DESK_ACCOUNTS}/invitation/{id}")
}

/// `/desk/draft/{id}/read`, anybody's draft as a reader sees it.
pub fn desk_read(id: i64) -> String {
    format!("/desk/draft/{id}/read")
}

/// `/desk/draft/{id}`
pub fn desk_draft(id: i64) -> String {
    format!("/desk/draft/{id}")
}

/// `/desk/draft/{id}/plan`, the bench sheet.
pub fn desk_plan(id: i64) -> String {
    format!("/desk/draft/{id}/plan")
}

/// `/desk/draft/{id}/publish`
pub fn desk_publish(id: i64) -> String {
    format!("/desk/draft/{id}/publish")
}

/// `/desk/draft/{id}/sharing`
pub fn desk_sharing(id: i64) -> String {
    format!("/desk/draft/{id}/sharing")
}

/// `/desk/logs/{sha256}`
pub fn desk_log(sha256: &str) -> String {
    format!("{DESK_LOGS}/{}", segment(sha256))
}

/// `/desk/queue/{id}`
pub fn desk_candidate(id: i64) -> String {
    format!("{DESK_QUEUE}/{id}")
}

/// `/desk/queue/suggestion/{id}`
pub fn desk_suggestion(id: i64) -> String {
    format!("{DESK_SUGGESTIONS}/{id}")
}

/// `/desk/draft/{id}/photos`
pub fn desk_draft_photos(id: i64) -> String {
    format!("/desk/draft/{id}/photos")
}

/// `/desk/photos/full/{sha256}.jpg`
pub fn desk_photo(sha256: &str) -> String {
    format!("{DESK_PHOTOS}/full/{}.jpg", segment(sha256))
}

/// `/desk/photos/thumb/{sha256}.jpg`
pub fn desk_thumbnail(sha256: &str) -> String {
    format!("{DESK_PHOTOS}/thumb/{}.jpg", segment(sha256))
}

/// Do uploads of logs or photos go to this route? They watch for themselves that they get on.
pub fn takes_uploads(route: &str) -> bool {
    matches!(
        route,
        DESK_LOGS | API_LOGS | DESK_PHOTOS | DESK_DRAFT_PHOTOS | API_PHOTOS
    )
}

/// `/desk/unit/{slug}`
pub fn desk_unit(slug: &str) -> String {
    format!("/desk/unit/{}", segment(slug))
}

/// The address of an embedded file, with its hash.
pub fn asset(name: &str) -> &'static str {
    super::assets::url(name)
}

/// A query string under construction, in the order pushed.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Query(String);

impl Query {
    pub fn new() -> Query {
        Query::default()
    }

    /// Adds `name=value`; both are encoded.
    pub fn push(&mut self, name: &str, value: &str) {
        if !self.0.is_empty() {
            self.0.push('&');
        }
        encode_into(&mut self.0, name);
        self.0.push('=');
        encode_into(&mut self.0, value);
    }

    /// With `name=value` added.
    pub fn with(mut self, name: &str, value: &str) -> Query {
        self.push(name, value);
        self
    }

    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// `path?query`, or `path` alone for an empty query.
    pub fn on(&self, path: &str) -> String {
        if self.0.is_empty() {
            path.to_owned()
        } else {
            format!("{path}?{}", self.0)
        }
    }
}

/// Percent-encodes one path segment.
pub fn segment(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    encode_into(&mut out, text);
    out
}

/// What [`segment`] encoded.
pub fn percent_decoded(segment: &str) -> String {
    percent_encoding::percent_decode_str(segment)
        .decode_utf8_lossy()
        .into_owned()
}

/// Percent-encodes all but the unreserved characters of RFC 3986, section 2.3.
fn encode_into(out: &mut String, text: &str) {
    for &byte in text.as_bytes() {
        match byte {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => {
                out.push(byte as char)
            }
            _ => write!(out, "%{byte:02X}").expect("a String takes any text"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slash_or_question_mark_in_a_name_cannot_leave_its_segment() {
        assert_eq!(unit("a/b?c"), "/unit/a%2Fb%3Fc");
        assert_eq!(unit("grün"), "/unit/gr%C3%BCn");
        assert_eq!(percent_decoded(&segment("a/b?c grün %")), "a/b?c grün %");
    }

    #[test]
    fn a_page_has_an_address_in_each_language_and_a_file_has_one() {
        let german = |address: &str| in_language(address, Language::German);
        assert_eq!(german("/"), "/de/");
        assert_eq!(german("/unit/a?x=1"), "/de/unit/a?x=1");
        assert_eq!(german("/de/unit/a"), "/de/unit/a");
        assert_eq!(german("/data/units.json"), "/de/data/units.json");
        for one in [
            "/desk/queue",
            "/api/v1/units",
            "/unit/a/report.pdf",
            "/unit/a/log/idle",
            "/unit/a/badge.svg",
            "/preview/0abc",
            "/sign-in",
            "/static/0/site.css",
            "/feed.atom",
            "https://example.org/",
        ] {
            assert_eq!(german(one), one);
        }
        assert_eq!(in_language("/de", Language::English), "/");
        assert_eq!(language_of("/demo"), (Language::English, "/demo"));
        Language::German.speak(|| {
            assert_eq!(unit("a"), "/de/unit/a");
            assert_eq!(page(HOME), "/de/");
            assert_eq!(table(&class("w15"), "csv"), "/class/w15/table.csv");
            assert_eq!(unit_report("a", Some(2)), "/unit/a/revision/2/report.pdf");
        });
    }

    #[test]
    fn an_empty_query_leaves_no_question_mark() {
        assert_eq!(Query::new().on("/"), "/");
        assert_eq!(
            compare(["a", "b"], Some("10")),
            "/compare?unit=a&unit=b&at_w=10"
        );
    }
}

//! `/sitemap.xml`: every public page in every language, with when its data last changed (sitemaps.org
//! protocol 0.9) and where its translations are (`xhtml:link`, as search engines read it).

use super::{Site, document};
use crate::{
    standards::usage,
    storage::rankings,
    text::{Language, escaped},
    web::{
        error::Error,
        extract::{Pairs, Visit},
        urls::{self, Query},
    },
};
use axum::{Router, response::Response, routing::get};
use std::{collections::BTreeMap, fmt::Write};
use time::{OffsetDateTime, format_description::well_known::Rfc3339};

pub fn routes() -> Router<Site> {
    Router::new().route("/sitemap.xml", get(sitemap))
}

/// Addresses that one file may hold.
const MOST: usize = 50_000;

const NAMESPACE: &str = "http://www.sitemaps.org/schemas/sitemap/0.9";
const XHTML: &str = "http://www.w3.org/1999/xhtml";

/// With more addresses than one file may hold, an index of `?part=1`, `?part=2` …
async fn sitemap(visit: Visit, pairs: Pairs) -> Result<Response, Error> {
    let pages = pages(&visit).await?;
    let languages = &visit.site.config.languages;
    let parts = (pages.len() * languages.len()).div_ceil(MOST);
    let asked = match pairs.last("part") {
        None => None,
        Some(text) => {
            let part = text.parse::<usize>().ok();
            let part = part.filter(|part| (1..=parts).contains(part));
            Some(part.ok_or_else(Error::no_page)?)
        }
    };
    let mut xml = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    if asked.is_none() && parts > 1 {
        let _ = writeln!(xml, "<sitemapindex xmlns=\"{NAMESPACE}\">");
        for part in 1..=parts {
            let query = Query::new().with("part", &part.to_string());
            let address = escaped(&visit.absolute(&query.on(urls::SITEMAP)));
            let _ = writeln!(xml, "<sitemap><loc>{address}</loc></sitemap>");
        }
        xml.push_str("</sitemapindex>\n");
    } else {
        let _ = writeln!(
            xml,
            "<urlset xmlns=\"{NAMESPACE}\" xmlns:xhtml=\"{XHTML}\">"
        );
        let skipped = (asked.unwrap_or(1) - 1) * MOST;
        let in_language =
            |path: &str, language| escaped(&visit.absolute(&urls::in_language(path, language)));
        let each = pages.iter().flat_map(|(path, changed)| {
            let languages = languages.iter();
            languages.map(move |language| (path, changed, *language))
        });
        for (path, changed, language) in each.skip(skipped).take(MOST) {
            let _ = write!(xml, "<url><loc>{}</loc>", in_language(path, language));
            for other in languages.iter().filter(|_| languages.len() > 1) {
                alternate(&mut xml, other.id(), &in_language(path, *other));
            }
            if languages.len() > 1 {
                alternate(&mut xml, "x-default", &in_language(path, Language::English));
            }
            if let Some(text) = changed.and_then(|moment| moment.format(&Rfc3339).ok()) {
                let _ = write!(xml, "<lastmod>{text}</lastmod>");
            }
            xml.push_str("</url>\n");
        }
        xml.push_str("</urlset>\n");
    }
    Ok(document("application/xml", xml))
}

fn alternate(xml: &mut String, language: &str, address: &str) {
    let _ = write!(
        xml,
        "<xhtml:link rel=\"alternate\" hreflang=\"{language}\" href=\"{address}\"/>"
    );
}

/// Path and last change. What follows from the program alone has no date.
async fn pages(visit: &Visit) -> Result<Vec<(String, Option<OffsetDateTime>)>, Error> {
    let site = &visit.site;
    let data = site.public();
    let revised = rankings::revised(&mut *site.db.read().await?).await?;
    let latest = revised.iter().map(|(_, moment)| *moment).max();
    let mut by_class: BTreeMap<&str, OffsetDateTime> = BTreeMap::new();
    for (slug, moment) in &revised {
        if let Some(row) = data.standings.row(slug) {
            let last = by_class.entry(&row.class.id).or_insert(*moment);
            *last = (*last).max(*moment);
        }
    }
    let mut pages = vec![(urls::HOME.to_owned(), latest)];
    for class in &site.method.classes {
        pages.push((
            urls::class(&class.id),
            by_class.get(class.id.as_str()).copied(),
        ));
    }
    pages.push((urls::USE.to_owned(), None));
    pages.extend(
        usage::profiles()
            .iter()
            .map(|profile| (urls::use_profile(&profile.id), latest)),
    );
    pages.push((super::at_wattage::usual_address(), latest));
    pages.push((super::trade_offs::usual_address(), latest));
    pages.push((urls::COMING.to_owned(), None));
    pages.push((urls::SUGGEST.to_owned(), None));
    // The comparison without units is only a form, and not worth finding.
    for path in [urls::REGIMES, urls::METHOD] {
        pages.push((path.to_owned(), None));
    }
    pages.extend(
        site.method
            .standards
            .regimes
            .iter()
            .map(|regime| (urls::regime(&regime.id), None)),
    );
    pages.extend(
        revised
            .into_iter()
            .filter(|(slug, _)| data.standings.row(slug).is_some())
            .map(|(slug, moment)| (urls::unit(&slug), Some(moment))),
    );
    Ok(pages)
}

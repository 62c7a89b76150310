//! `/feed.atom`: results as they are published and corrected (RFC 4287). One entry a unit; a
//! correction updates its entry and says why.
//!
//! Feed and entries are named by identifiers of their own, so that a change of address doesn't show
//! anybody everything anew.

use super::{Site, document};
use crate::{
    evaluate::evaluation::Outcome,
    standards::Role,
    storage::{
        publications::{self, Publication},
        settings,
    },
    web::{error::Error, extract::Visit, format, urls},
};
use atom_syndication::{
    CategoryBuilder, Entry, EntryBuilder, FeedBuilder, FixedDateTime, GeneratorBuilder, Link,
    LinkBuilder, PersonBuilder, Text,
};
use axum::{Router, response::Response, routing::get};
use sha2::{Digest, Sha256};
use time::{OffsetDateTime, UtcOffset, format_description::well_known::Rfc3339};

pub fn routes() -> Router<Site> {
    Router::new().route(urls::FEED, get(feed))
}

/// So many units are in the feed, the latest published or corrected first.
const ENTRIES: i64 = 50;

async fn feed(visit: Visit) -> Result<Response, Error> {
    let mut connection = visit.site.db.read().await?;
    let newest = publications::newest(&mut connection, ENTRIES).await?;
    let name = settings::get(&mut connection, settings::FEED_ID)
        .await?
        .ok_or_else(|| Error::internal("the database has no name for its feed"))?;
    let began = settings::get(&mut connection, settings::FEED_BEGAN)
        .await?
        .and_then(|text| text.parse().ok())
        .ok_or_else(|| Error::internal("the database does not say when its feed began"))?;
    drop(connection);
    let updated = match newest.first() {
        Some(first) => moment(first.revised_at)?,
        None => began,
    };
    let entries = newest
        .iter()
        .map(|publication| entry(publication, &name, &visit))
        .collect::<Result<Vec<Entry>, Error>>()?;
    let site_name = &visit.site.config.site_name;
    let feed = FeedBuilder::default()
        .lang("en".to_owned())
        .id(urn(&name, "feed"))
        .title(Text::plain(format!(
            "{site_name}: published and corrected results"
        )))
        .subtitle(Text::plain(
            "USB power adapters, measured by us on one sample each. Not a certification.",
        ))
        .updated(updated)
        .author(PersonBuilder::default().name(site_name.clone()).build())
        .generator(
            GeneratorBuilder::default()
                .value("Brickbook".to_owned())
                .version(env!("CARGO_PKG_VERSION").to_owned())
                .build(),
        )
        .links(vec![
            link("self", &visit.absolute(urls::FEED), "application/atom+xml"),
            link("alternate", &visit.absolute(urls::HOME), "text/html"),
        ])
        .entries(entries)
        .build();
    let mut body = Vec::new();
    feed.write_to(&mut body).map_err(Error::internal)?;
    Ok(document("application/atom+xml; charset=utf-8", body))
}

fn entry(publication: &Publication, feed: &str, visit: &Visit) -> Result<Entry, Error> {
    let row = &publication.row;
    let sample = match &row.sample {
        Some(sample) => format!(" (sample {sample})"),
        None => String::new(),
    };
    let corrected = if publication.revision > 1 {
        ", corrected"
    } else {
        ""
    };
    let revision = urls::revision(&row.slug, publication.revision);
    Ok(EntryBuilder::default()
        .id(urn(feed, &format!("unit {}", publication.unit_id)))
        .title(Text::plain(clean(&format!(
            "{}{sample}{corrected}",
            row.name()
        ))))
        .published(moment(publication.published_at)?)
        .updated(moment(publication.revised_at)?)
        .author(
            PersonBuilder::default()
                .name(clean(&publication.author))
                .build(),
        )
        .category(
            CategoryBuilder::default()
                .term(row.class.id.clone())
                .label(row.class.label.clone())
                .build(),
        )
        .summary(Text::plain(clean(&summary(publication, &visit.site))))
        .links(vec![
            link(
                "alternate",
                &visit.absolute(&urls::unit(&row.slug)),
                "text/html",
            ),
            link("related", &visit.absolute(&revision), "text/html"),
        ])
        .build())
}

/// Score, verdicts, and what changed.
fn summary(publication: &Publication, site: &Site) -> String {
    let row = &publication.row;
    let mut sentences = Vec::new();
    if publication.revision > 1 {
        sentences.push(format!(
            "Corrected (revision {}): {}.",
            publication.revision,
            publication.reason.trim().trim_end_matches('.')
        ));
    }
    let rated = format::rated_watts(row.output_power_w);
    sentences.push(match row.score {
        Some(score) => {
            let figure = format::PlusMinus::score(score, row.score_u);
            let provisional = if row.provisional { ", provisional" } else { "" };
            format!("{rated}. Score {figure} of 100{provisional}.")
        }
        None => format!("{rated}. No score yet."),
    });
    let regimes = &site.method.standards.regimes;
    for (id, outcome) in &row.verdicts {
        let Some(regime) = regimes.iter().find(|regime| regime.id == *id) else {
            continue;
        };
        let matters = matches!(regime.role, Role::Law | Role::Voluntary | Role::Pending);
        if matters && *outcome != Outcome::NotAssessed {
            sentences.push(format!("{}: {}.", regime.short, format::outcome(*outcome)));
        }
    }
    sentences.push("Measured by us on one sample.".to_owned());
    sentences.join(" ")
}

/// Without what XML 1.0 has no room for.
fn clean(text: &str) -> String {
    text.chars()
        .filter(|c| !c.is_control() || matches!(c, '\t' | '\n' | '\r'))
        .filter(|c| !matches!(c, '\u{fffe}' | '\u{ffff}'))
        .collect()
}

fn link(rel: &str, href: &str, kind: &str) -> Link {
    LinkBuilder::default()
        .rel(rel.to_owned())
        .href(href.to_owned())
        .mime_type(Some(kind.to_owned()))
        .build()
}

/// A name for something of this installation that stays the same whatever its address: a UUID of
/// version 8 (RFC 9562) from the SHA-256 of both.
fn urn(installation: &str, what: &str) -> String {
    let digest = Sha256::digest(format!("{installation}\n{what}"));
    let mut bytes = [0u8; 16];
    bytes.copy_from_slice(&digest[..16]);
    bytes[6] = bytes[6] & 0x0f | 0x80;
    bytes[8] = bytes[8] & 0x3f | 0x80;
    let hex = crate::quantity::words::hex(bytes);
    format!(
        "urn:uuid:{}-{}-{}-{}-{}",
        &hex[..8],
        &hex[8..12],
        &hex[12..16],
        &hex[16..20],
        &hex[20..]
    )
}

fn moment(moment: OffsetDateTime) -> Result<FixedDateTime, Error> {
    let text = moment
        .to_offset(UtcOffset::UTC)
        .format(&Rfc3339)
        .map_err(Error::internal)?;
    text.parse().map_err(Error::internal)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_unit_keeps_its_name_and_no_two_share_one() {
        let name = urn("abc", "unit 1");
        assert_eq!(name, urn("abc", "unit 1"));
        assert_ne!(name, urn("abc", "unit 2"));
        assert_ne!(name, urn("abd", "unit 1"));
        assert_eq!(name.len(), "urn:uuid:".len() + 36);
        assert_eq!(&name[23..24], "8", "the version");
    }

    #[test]
    fn what_xml_cannot_hold_is_left_out() {
        assert_eq!(clean("a\u{0}b\u{1b}\u{ffff}c\nd"), "abc\nd");
    }
}

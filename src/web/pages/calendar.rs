//! `/coming`: what is going to be tested, as far as the tester shows it; `/coming.ics`: the planned
//! dates as a calendar (RFC 5545).
//!
//! Both depend on the queue alone and not on the day, so that they can be kept. Everything that a
//! calendar dates its entries with (`DTSTAMP`, `LAST-MODIFIED`, `SEQUENCE`) comes from the data.

use super::{Site, document, public};
use crate::web::filters;
use crate::{
    storage::candidates::{self, Candidate, State},
    text::word,
    web::{
        chrome::{Chrome, Here},
        error::Error,
        extract::Visit,
        format, urls,
    },
};
use askama::Template;
use axum::{Router, response::Response, routing::get};
use icalendar::{Calendar, Component, Event, EventStatus, Property};
use time::{OffsetDateTime, UtcOffset, macros::format_description};

pub fn routes() -> Router<Site> {
    Router::new()
        .route(urls::COMING, get(coming))
        .route(urls::COMING_CALENDAR, get(calendar))
}

#[derive(Template)]
#[template(path = "pages/coming.html")]
struct ComingPage {
    chrome: Chrome,
    /// With a planned date, the earliest first.
    dated: Vec<Line>,
    /// Without one, what is nearest to done first.
    undated: Vec<Line>,
    /// From the queue, with a result by now.
    published: Vec<Line>,
    calendar_url: String,
}

struct Line {
    name: String,
    planned: String,
    state: &'static str,
    /// Of the published unit.
    url: Option<String>,
}

/// So many of those that have a result are named.
const MOST_PUBLISHED: usize = 12;

async fn coming(visit: Visit) -> Result<Response, Error> {
    let mut shown = shown(&visit.site).await?;
    let line = |one: &Candidate| Line {
        name: name_of(one),
        planned: one
            .entry
            .planned_on
            .as_deref()
            .map_or(String::new(), format::date),
        state: state_words(one.state),
        url: one.slug.as_deref().map(urls::unit),
    };
    let mut published: Vec<&Candidate> = shown
        .iter()
        .filter(|one| one.state == State::Published)
        .collect();
    published.sort_by_key(|one| std::cmp::Reverse(one.updated_at));
    let published = published
        .into_iter()
        .take(MOST_PUBLISHED)
        .map(line)
        .collect();
    shown.retain(|one| one.state.is_open());
    let mut dated: Vec<&Candidate> = shown
        .iter()
        .filter(|one| one.entry.planned_on.is_some())
        .collect();
    dated.sort_by(|one, other| one.entry.planned_on.cmp(&other.entry.planned_on));
    let mut undated: Vec<&Candidate> = shown
        .iter()
        .filter(|one| one.entry.planned_on.is_none())
        .collect();
    undated.sort_by_key(|one| std::cmp::Reverse(one.state));
    let chrome = visit
        .chrome(word("coming"))
        .describe(word("coming.description"))
        .canonical(urls::page(urls::COMING))
        .image(urls::preview(&urls::Query::new().with("about", "coming")))
        .here(Here::Coming);
    public(&ComingPage {
        dated: dated.into_iter().map(line).collect(),
        undated: undated.into_iter().map(line).collect(),
        published,
        calendar_url: visit.absolute(urls::COMING_CALENDAR),
        chrome,
    })
}

/// What the tester shows, in the tester's order.
pub async fn shown(site: &Site) -> Result<Vec<Candidate>, Error> {
    let mut all = candidates::list(&mut *site.db.read().await?).await?;
    all.retain(|one| one.entry.public);
    Ok(all)
}

pub fn name_of(candidate: &Candidate) -> String {
    format!("{} {}", candidate.entry.maker, candidate.entry.model)
}

/// A state for readers.
fn state_words(state: State) -> &'static str {
    match state {
        State::Wanted => word("coming-state-wanted"),
        State::Ordered => word("coming-state-ordered"),
        State::Here => word("coming-state-here"),
        State::OnTheBench => word("coming-state-on-the-bench"),
        State::Measured => word("coming-state-measured"),
        State::Published => word("coming-state-published"),
        State::Skipped => word("coming-state-skipped"),
    }
}

async fn calendar(visit: Visit) -> Result<Response, Error> {
    let shown = shown(&visit.site).await?;
    let events: Vec<Event> = shown
        .iter()
        .filter_map(|candidate| event(candidate, &visit))
        .collect();
    let mut calendar = Calendar::empty();
    for (name, value) in [
        ("VERSION", "2.0"),
        ("PRODID", "-//Brickbook//Coming results//EN"),
        ("CALSCALE", "GREGORIAN"),
        ("METHOD", "PUBLISH"),
    ] {
        calendar.append_property(Property::new(name, value));
    }
    calendar.name(&format!("{}: coming results", visit.site.config.site_name));
    let text = if events.is_empty() {
        with_nothing_planned(&calendar.to_string())
    } else {
        calendar.extend(events);
        calendar.to_string()
    };
    Ok(document("text/calendar; charset=utf-8", text))
}

/// The planned day of a candidate; none if it has no date.
fn event(candidate: &Candidate, visit: &Visit) -> Option<Event> {
    let day = candidate.entry.planned_on.as_deref()?.replace('-', "");
    let name = name_of(candidate);
    let status = match candidate.state {
        State::Wanted | State::Ordered | State::Here => EventStatus::Tentative,
        State::OnTheBench | State::Measured | State::Published => EventStatus::Confirmed,
        State::Skipped => EventStatus::Cancelled,
    };
    let page = match &candidate.slug {
        Some(slug) => urls::unit(slug),
        None => urls::COMING.to_owned(),
    };
    let changed = utc(candidate.updated_at);
    let mut event = Event::new();
    event
        .uid(&candidate.uid)
        .add_property("DTSTAMP", &changed)
        .add_property("CREATED", utc(candidate.created_at))
        .add_property("LAST-MODIFIED", &changed)
        .sequence(u32::try_from(candidate.sequence).unwrap_or(u32::MAX))
        .append_property(
            Property::new("DTSTART", day)
                .add_parameter("VALUE", "DATE")
                .done(),
        )
        .summary(&format!("{name}: test result"))
        .description(&format!("{name}: {}.", state_words(candidate.state)))
        .url(&visit.absolute(&page))
        .add_property("TRANSP", "TRANSPARENT")
        .status(status);
    Some(event.done())
}

/// A calendar must hold something (RFC 5545, section 3.6); a journal entry without a date takes no
/// room in anybody's week.
fn with_nothing_planned(empty: &str) -> String {
    empty.replace(
        "END:VCALENDAR",
        "BEGIN:VJOURNAL\r\nUID:nothing-is-planned\r\nDTSTAMP:20260101T000000Z\r\n\
         SUMMARY:Nothing is planned yet\r\nEND:VJOURNAL\r\nEND:VCALENDAR",
    )
}

/// `20260901T123456Z`
fn utc(moment: OffsetDateTime) -> String {
    moment
        .to_offset(UtcOffset::UTC)
        .format(format_description!(
            "[year][month][day]T[hour][minute][second]Z"
        ))
        .expect("every component of the format exists in an OffsetDateTime")
}

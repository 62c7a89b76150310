//! `/desk`: drafts, published units, and "already tested?". `/desk/unit/{slug}`: a published unit's
//! history and the way to revise it.

use super::{
    draft, publish,
    queue::{self, Next},
};
use crate::web::filters;
use crate::{
    bench::record::folded,
    ranking::Row,
    storage::{backup_schedule, drafts, instant, operators::Role, units},
    web::{
        Site,
        auth::{Editor, Signed},
        chrome::Chrome,
        error::Error,
        extract::{Form, Pairs, Path, Visit},
        format, pages, urls,
    },
};
use askama::Template;
use axum::{Router, response::Response, routing::get};
use serde::Deserialize;

pub fn routes() -> Router<Site> {
    Router::new()
        .route(urls::DESK, get(desk))
        .route("/desk/unit/{slug}", get(unit).post(revise))
}

/// So many units are listed; a search finds the others.
const MOST_LISTED: usize = 50;
/// So many of the latest drafts are looked at for those of others.
const MOST_OF_OTHERS: i64 = 100;

#[derive(Template)]
#[template(path = "entry/desk.html")]
struct DeskPage {
    chrome: Chrome,
    csrf: String,
    may_edit: bool,
    may_own: bool,
    drafts: Vec<DraftLine>,
    /// What others are working on, for reading.
    of_others: Vec<OtherDraft>,
    /// The next few of the queue, and how many it holds.
    next: Vec<Next>,
    waiting: usize,
    query: String,
    found: usize,
    units: Vec<UnitLine>,
    backup: Option<BackupLine>,
}

/// What became of the last backup, where the server makes them.
struct BackupLine {
    /// When the last one was made, and where it lies.
    last: Option<(String, String)>,
    /// What is wrong.
    fault: Option<String>,
}

struct DraftLine {
    title: String,
    url: String,
    discard_url: String,
    plan_url: String,
    revises: bool,
    changed: String,
}

struct OtherDraft {
    title: String,
    url: String,
    whose: String,
    changed: String,
}

struct UnitLine {
    name: String,
    sample: String,
    url: String,
    desk_url: String,
    power: String,
    tested: String,
}

async fn desk(visit: Visit, signed: Signed, query: Pairs) -> Result<Response, Error> {
    let site = &visit.site;
    let mut lines = Vec::new();
    for stored in drafts::list(&mut *site.db.read().await?, signed.operator_id).await? {
        lines.push(DraftLine {
            title: draft::title_of(&draft::fields_of(&stored)?),
            url: urls::desk_draft(stored.id),
            discard_url: format!("{}/discard", urls::desk_draft(stored.id)),
            plan_url: urls::desk_plan(stored.id),
            revises: stored.unit_id.is_some(),
            changed: format::moment(stored.updated_at),
        });
    }
    let mut of_others = Vec::new();
    for listed in drafts::list_of_all(&mut *site.db.read().await?, MOST_OF_OTHERS).await? {
        if listed.draft.operator_id != signed.operator_id {
            of_others.push(OtherDraft {
                title: draft::title_of(&draft::fields_of(&listed.draft)?),
                url: urls::desk_read(listed.draft.id),
                whose: listed.operator_name,
                changed: format::moment(listed.draft.updated_at),
            });
        }
    }
    let (next, waiting) = queue::next_few(site).await?;
    let wanted = query.last("q").unwrap_or("").to_owned();
    let public = site.public();
    let mut found: Vec<&Row> = public
        .standings
        .rows()
        .iter()
        .filter(|row| matches(row, &wanted))
        .collect();
    found.sort_by_key(|row| std::cmp::Reverse(row.unit_id));
    let page = DeskPage {
        chrome: super::chrome(&visit, &signed, "Desk"),
        csrf: signed.csrf.clone(),
        may_edit: signed.role >= Role::Editor,
        may_own: signed.role >= Role::Owner,
        drafts: lines,
        of_others,
        next,
        waiting,
        found: found.len(),
        units: found.into_iter().take(MOST_LISTED).map(line_of).collect(),
        query: wanted,
        backup: backup_line(site).await?,
    };
    pages::private(&page)
}

async fn backup_line(site: &Site) -> Result<Option<BackupLine>, Error> {
    let Some(every) = site.config.backup_every else {
        return Ok(None);
    };
    let outcome = backup_schedule::outcome(&mut *site.db.read().await?).await?;
    let made_at = outcome.made_at.as_deref().map(instant::from_text);
    let made_at = made_at.transpose()?;
    let overdue =
        made_at.is_some_and(|made_at| site.clock.now() - made_at > every + backup_schedule::LATE);
    let fault = match (outcome.failure, overdue) {
        (Some(failure), _) => {
            let when = outcome.failed_at.as_deref().map(instant::from_text);
            let when = when
                .transpose()?
                .map_or(String::new(), |when| format!("{}: ", format::moment(when)));
            Some(format!("{when}{failure}"))
        }
        (None, true) => Some("It is overdue.".to_owned()),
        (None, false) => None,
    };
    let last = made_at.map(|made_at| (format::moment(made_at), outcome.file.unwrap_or_default()));
    Ok(Some(BackupLine { last, fault }))
}

/// Does every word of the query stand in the unit's name?
fn matches(row: &Row, query: &str) -> bool {
    let name = folded(&format!(
        "{} {} {}",
        row.maker,
        row.model,
        row.sample.as_deref().unwrap_or("")
    ));
    folded(query).split(' ').all(|word| name.contains(word))
}

fn line_of(row: &Row) -> UnitLine {
    UnitLine {
        name: row.name(),
        sample: row.sample.clone().unwrap_or_default(),
        url: urls::unit(&row.slug),
        desk_url: urls::desk_unit(&row.slug),
        power: format::rated_watts(row.output_power_w),
        tested: row.tested_on.as_deref().map_or("—".into(), format::date),
    }
}

#[derive(Template)]
#[template(path = "entry/unit.html")]
struct UnitPage {
    chrome: Chrome,
    csrf: String,
    name: String,
    url: String,
    desk_url: String,
    drafts: Vec<DraftLine>,
    revisions: Vec<RevisionLine>,
}

struct RevisionLine {
    number: i64,
    url: String,
    when: String,
    author: String,
    reason: String,
}

async fn unit(visit: Visit, signed: Editor, Path(slug): Path<String>) -> Result<Response, Error> {
    let site = &visit.site;
    let mut connection = site.db.read().await?;
    let unit = units::find_by_slug(&mut connection, &slug).await?;
    let revisions = units::revisions(&mut connection, unit.id).await?;
    let mut own = Vec::new();
    for stored in drafts::list(&mut connection, signed.operator_id).await? {
        if stored.unit_id == Some(unit.id) {
            own.push(DraftLine {
                title: draft::title_of(&draft::fields_of(&stored)?),
                url: urls::desk_draft(stored.id),
                discard_url: format!("{}/discard", urls::desk_draft(stored.id)),
                plan_url: urls::desk_plan(stored.id),
                revises: true,
                changed: format::moment(stored.updated_at),
            });
        }
    }
    let public = site.public();
    let name = public
        .standings
        .row(&slug)
        .map_or_else(|| slug.clone(), Row::name);
    pages::private(&UnitPage {
        chrome: super::chrome(&visit, &signed, name.clone()),
        csrf: signed.csrf.clone(),
        name,
        url: urls::unit(&slug),
        desk_url: urls::desk_unit(&slug),
        drafts: own,
        revisions: revisions
            .into_iter()
            .map(|revision| RevisionLine {
                number: revision.number,
                url: urls::revision(&slug, revision.number),
                when: format::moment(revision.created_at),
                author: revision.author,
                reason: revision.reason,
            })
            .collect(),
    })
}

#[derive(Deserialize)]
struct Revise {
    #[serde(default)]
    csrf: String,
}

async fn revise(
    visit: Visit,
    signed: Editor,
    Path(slug): Path<String>,
    Form(form): Form<Revise>,
) -> Result<Response, Error> {
    signed.check(&form.csrf)?;
    publish::begin_revision(&visit.site, &signed, &slug).await
}

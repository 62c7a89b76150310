//! Units: the record as entered, its evaluation, its revisions, and publishing.

use super::bearer::{Bearer, Records};
use super::body::RecordText;
use super::problem::Problem;
use super::ranking::{Listing, ListingQuery};
use super::record_schema::Record;
use super::{PREFIX, json, json_text, kept};
use crate::evaluate::evaluation::{ClassRef, Evaluation};
use crate::intake::submit::{Change, Submission, Submitted, Target, judge, store};
use crate::storage::{self, evaluations, units};
use crate::web::extract::Pairs;
use crate::web::security::CachePolicy;
use crate::web::{Site, urls};
use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use time::format_description::well_known::Rfc3339;
use utoipa::ToSchema;

/// Longest reason for a revision, in characters.
const LONGEST_REASON: usize = 500;

/// One page of units.
#[derive(Debug, Serialize, ToSchema)]
struct UnitList {
    /// From 1.
    page: usize,
    per_page: usize,
    /// Units that the filter leaves, over all pages.
    total: usize,
    units: Vec<UnitSummary>,
}

/// A unit, briefly.
#[derive(Debug, Serialize, ToSchema)]
struct UnitSummary {
    slug: String,
    maker: String,
    model: String,
    sample: Option<String>,
    class: Class,
    /// By the label, all ports together.
    output_power_w: f64,
    /// Latest test date, ISO 8601.
    tested_on: Option<String>,
    links: UnitLinks,
}

/// A wattage class.
#[derive(Debug, Serialize, ToSchema)]
pub struct Class {
    pub id: String,
    pub label: String,
}

impl From<&ClassRef> for Class {
    fn from(class: &ClassRef) -> Class {
        Class {
            id: class.id.clone(),
            label: class.label.clone(),
        }
    }
}

/// Addresses about one unit, without scheme and host.
#[derive(Debug, Serialize, ToSchema)]
pub struct UnitLinks {
    /// The record, as entered.
    pub record: String,
    pub evaluation: String,
    pub revisions: String,
    /// The page for people.
    pub page: String,
}

impl UnitLinks {
    pub fn of(slug: &str) -> UnitLinks {
        UnitLinks {
            record: record_url(slug),
            evaluation: format!("{}/evaluation", record_url(slug)),
            revisions: format!("{}/revisions", record_url(slug)),
            page: urls::unit(slug),
        }
    }
}

/// Every published state of a unit's record, newest first.
#[derive(Debug, Serialize, ToSchema)]
struct RevisionList {
    slug: String,
    revisions: Vec<RevisionSummary>,
}

/// One published state of a record.
#[derive(Debug, Serialize, ToSchema)]
struct RevisionSummary {
    /// 1 for the first.
    number: i64,
    author: String,
    /// Why it was made; may be empty for the first.
    reason: String,
    /// RFC 3339, UTC.
    created_at: String,
    /// Address of the record as it was then.
    record: String,
}

/// What became of a record that was sent.
#[derive(Debug, Serialize, ToSchema)]
struct Published {
    slug: String,
    /// Number of the unit's newest revision.
    revision: i64,
    change: ChangeMade,
    evaluation: Evaluation,
    /// SHA-256 of photos that the record names and that are not at hand: upload them.
    missing_photos: Vec<String>,
    links: UnitLinks,
}

/// What a record that was sent changed.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
enum ChangeMade {
    /// A new unit.
    Published,
    /// Another revision of a unit.
    Revised,
    /// Nothing: the newest revision says exactly this.
    Unchanged,
}

/// List units
///
/// Takes the filters and orders of the leaderboard; a parameter that is not known is refused, so
/// that a misspelt filter never looks like an answer.
#[utoipa::path(
    get,
    path = "/units",
    tag = "units",
    params(ListingQuery),
    responses(
        (status = OK, description = "One page of units; the Link header leads to the others",
         body = UnitList, headers(("Link" = String, description = "Other pages (RFC 8288)"))),
        (status = 400, description = "The query cannot be read", body = Problem,
         content_type = "application/problem+json"),
    ),
)]
pub async fn list(State(site): State<Site>, Pairs(pairs): Pairs) -> Result<Response, Problem> {
    let listing = Listing::read(&site, pairs)?;
    let links = listing.links(&format!("{PREFIX}/units"));
    let rows = listing.rows();
    let list = UnitList {
        page: listing.paging.page,
        per_page: listing.paging.per_page,
        total: rows.total,
        units: rows
            .shown
            .into_iter()
            .map(|row| UnitSummary {
                slug: row.slug.clone(),
                maker: row.maker.clone(),
                model: row.model.clone(),
                sample: row.sample.clone(),
                class: Class::from(&row.class),
                output_power_w: row.output_power_w,
                tested_on: row.tested_on.clone(),
                links: UnitLinks::of(&row.slug),
            })
            .collect(),
    };
    Ok(kept(([(header::LINK, links)], json(list)).into_response()))
}

/// The newest record of a unit
///
/// Byte for byte as it was entered. The ETag names the revision; send it as If-Match to revise
/// exactly this one.
#[utoipa::path(
    get,
    path = "/units/{slug}",
    tag = "units",
    params(("slug" = String, Path, description = "The unit's part of its address")),
    responses(
        (status = OK, description = "The record document", body = Record,
         headers(("ETag" = String, description = "Names the revision"))),
        (status = 404, description = "No such unit", body = Problem,
         content_type = "application/problem+json"),
    ),
)]
pub async fn record(
    State(site): State<Site>,
    Path(slug): Path<String>,
    headers: HeaderMap,
) -> Result<Response, Problem> {
    let mut connection = site.db.read().await?;
    let unit = find(&mut connection, &slug).await?;
    let newest = units::newest_record_text(&mut connection, unit.id).await?;
    Ok(document(
        &headers,
        revision_etag(newest.revision.number),
        newest.text,
    ))
}

/// Publish a new unit
///
/// The record is evaluated and stored with its evaluation, all or nothing. Sending the same record
/// again changes nothing and is answered with 200.
#[utoipa::path(
    post,
    path = "/units",
    tag = "units",
    security(("token" = [])),
    request_body = Record,
    responses(
        (status = 201, description = "Published", body = Published,
         headers(("Location" = String, description = "Address of the record"))),
        (status = OK, description = "This very record is published already", body = Published),
        (status = 400, description = "The body cannot be read", body = Problem,
         content_type = "application/problem+json"),
        (status = 401, description = "No valid token", body = Problem,
         content_type = "application/problem+json"),
        (status = 403, description = "The token lacks the scope `records`", body = Problem,
         content_type = "application/problem+json"),
        (status = 409, description = "Another record of this maker, model and sample is published",
         body = Problem, content_type = "application/problem+json",
         headers(("Link" = String, description = "The published unit"))),
        (status = 413, description = "Larger than the site takes", body = Problem,
         content_type = "application/problem+json"),
        (status = 415, description = "Not sent as JSON", body = Problem,
         content_type = "application/problem+json"),
        (status = 422, description = "The record is refused, with all its faults", body = Problem,
         content_type = "application/problem+json"),
    ),
)]
pub async fn create(
    State(site): State<Site>,
    writer: Bearer<Records>,
    RecordText(text): RecordText,
) -> Result<Response, Problem> {
    let submitted = publish(&site, text, Target::New, writer, String::new(), None).await?;
    let location = HeaderValue::from_str(&record_url(&submitted.slug))
        .expect("a percent-encoded address is a header value");
    Ok(answer(submitted, Some(location)))
}

/// Publish another revision of a unit
///
/// The former record is kept. Why it changes is said in the header `Brickbook-Reason` or in the
/// query, and is public. A record that says what the newest revision says changes nothing.
#[utoipa::path(
    put,
    path = "/units/{slug}",
    tag = "units",
    security(("token" = [])),
    params(
        ("slug" = String, Path, description = "The unit's part of its address"),
        ("reason" = Option<String>, Query, description = "Why the record changes, if no header says so"),
        ("Brickbook-Reason" = Option<String>, Header, description = "Why the record changes, in UTF-8"),
        ("If-Match" = Option<String>, Header,
         description = "ETag of the revision that this one replaces; any other is answered with 412"),
    ),
    request_body = Record,
    responses(
        (status = OK, description = "Revised, or unchanged", body = Published),
        (status = 400, description = "No reason, or the body cannot be read", body = Problem,
         content_type = "application/problem+json"),
        (status = 401, description = "No valid token", body = Problem,
         content_type = "application/problem+json"),
        (status = 403, description = "The token lacks the scope `records`", body = Problem,
         content_type = "application/problem+json"),
        (status = 404, description = "No such unit", body = Problem,
         content_type = "application/problem+json"),
        (status = 409, description = "Maker, model and sample are those of another unit",
         body = Problem, content_type = "application/problem+json",
         headers(("Link" = String, description = "The other unit"))),
        (status = 412, description = "Somebody else revised the unit since", body = Problem,
         content_type = "application/problem+json"),
        (status = 413, description = "Larger than the site takes", body = Problem,
         content_type = "application/problem+json"),
        (status = 415, description = "Not sent as JSON", body = Problem,
         content_type = "application/problem+json"),
        (status = 422, description = "The record is refused, with all its faults", body = Problem,
         content_type = "application/problem+json"),
    ),
)]
pub async fn revise(
    State(site): State<Site>,
    writer: Bearer<Records>,
    Path(slug): Path<String>,
    pairs: Pairs,
    headers: HeaderMap,
    RecordText(text): RecordText,
) -> Result<Response, Problem> {
    let reason = reason(&headers, &pairs)?;
    let if_match = headers.get(header::IF_MATCH).cloned();
    let submitted = publish(&site, text, Target::Revise(slug), writer, reason, if_match).await?;
    Ok(answer(submitted, None))
}

/// What the newest record of a unit says
#[utoipa::path(
    get,
    path = "/units/{slug}/evaluation",
    tag = "units",
    params(("slug" = String, Path, description = "The unit's part of its address")),
    responses(
        (status = OK, description = "The evaluation document", body = Evaluation),
        (status = 404, description = "No such unit", body = Problem,
         content_type = "application/problem+json"),
    ),
)]
pub async fn evaluation(
    State(site): State<Site>,
    Path(slug): Path<String>,
    headers: HeaderMap,
) -> Result<Response, Problem> {
    let mut connection = site.db.read().await?;
    let unit = find(&mut connection, &slug).await?;
    let stored = evaluations::current_of_unit(&mut connection, unit.id).await?;
    let etag = format!("\"evaluation-{}\"", stored.id);
    Ok(document(&headers, etag, stored.document))
}

/// Every published state of a unit's record
#[utoipa::path(
    get,
    path = "/units/{slug}/revisions",
    tag = "units",
    params(("slug" = String, Path, description = "The unit's part of its address")),
    responses(
        (status = OK, description = "The revisions, newest first", body = RevisionList),
        (status = 404, description = "No such unit", body = Problem,
         content_type = "application/problem+json"),
    ),
)]
pub async fn revisions(
    State(site): State<Site>,
    Path(slug): Path<String>,
) -> Result<Response, Problem> {
    let mut connection = site.db.read().await?;
    let unit = find(&mut connection, &slug).await?;
    let revisions = units::revisions(&mut connection, unit.id)
        .await?
        .into_iter()
        .map(|revision| RevisionSummary {
            number: revision.number,
            author: revision.author,
            reason: revision.reason,
            created_at: revision
                .created_at
                .format(&Rfc3339)
                .expect("a stored moment has a four-digit year"),
            record: format!("{}/revisions/{}", record_url(&slug), revision.number),
        })
        .collect();
    Ok(json(RevisionList {
        slug: unit.slug,
        revisions,
    }))
}

/// A unit's record as one revision says it
///
/// Byte for byte as it was entered.
#[utoipa::path(
    get,
    path = "/units/{slug}/revisions/{number}",
    tag = "units",
    params(
        ("slug" = String, Path, description = "The unit's part of its address"),
        ("number" = i64, Path, description = "1 for the first", minimum = 1),
    ),
    responses(
        (status = OK, description = "The record document", body = Record,
         headers(("ETag" = String, description = "Names the revision"))),
        (status = 404, description = "No such unit or revision", body = Problem,
         content_type = "application/problem+json"),
    ),
)]
pub async fn revision(
    State(site): State<Site>,
    Path((slug, number)): Path<(String, String)>,
    headers: HeaderMap,
) -> Result<Response, Problem> {
    let no_revision = || Problem::not_found(format!("unit {slug:?} has no revision {number:?}"));
    let wanted: i64 = number.parse().map_err(|_| no_revision())?;
    let mut connection = site.db.read().await?;
    let unit = find(&mut connection, &slug).await?;
    let found = units::record_text(&mut connection, unit.id, wanted)
        .await
        .map_err(|error| match error {
            storage::Error::NotFound => no_revision(),
            other => other.into(),
        })?;
    Ok(document(&headers, revision_etag(wanted), found.text))
}

/// The evaluation as it is stored and served everywhere.
pub fn evaluation_text(evaluation: &Evaluation) -> Result<String, Problem> {
    serde_json::to_string(evaluation).map_err(Problem::internal)
}

/// Judges and stores; the pages know it before the answer is sent.
async fn publish(
    site: &Site,
    text: String,
    target: Target,
    writer: Bearer<Records>,
    reason: String,
    if_match: Option<HeaderValue>,
) -> Result<Submitted, Problem> {
    let (site_, text_) = (site.clone(), text.clone());
    let judged = tokio::task::spawn_blocking(move || judge(&text_, &site_.method, site_.db.logs()))
        .await
        .map_err(Problem::internal)?
        .map_err(Problem::refused)?;
    let submission = Submission {
        text: &text,
        target,
        author: &writer.operator_name,
        reason: &reason,
        now: site.clock.now(),
    };
    let mut transaction = site.db.write().await?;
    if let (Target::Revise(slug), Some(if_match)) = (&submission.target, if_match) {
        let unit = find(&mut transaction, slug).await?;
        let newest = units::newest_record_text(&mut transaction, unit.id).await?;
        let etag = revision_etag(newest.revision.number);
        if !names(&if_match, &etag) {
            return Err(Problem::plain(
                StatusCode::PRECONDITION_FAILED,
                format!("the unit's newest revision is {etag}, not {if_match:?}; look at it first"),
            ));
        }
    }
    let submitted = store(
        &mut transaction,
        &writer.who(),
        &submission,
        judged,
        &site.method,
    )
    .await?;
    transaction.commit().await?;
    site.refresh().await?;
    Ok(submitted)
}

fn answer(submitted: Submitted, location: Option<HeaderValue>) -> Response {
    let change = match submitted.change {
        Change::Published => ChangeMade::Published,
        Change::Revised => ChangeMade::Revised,
        Change::Unchanged => ChangeMade::Unchanged,
    };
    let status = match change {
        ChangeMade::Published => StatusCode::CREATED,
        ChangeMade::Revised | ChangeMade::Unchanged => StatusCode::OK,
    };
    let mut response = json(Published {
        links: UnitLinks::of(&submitted.slug),
        slug: submitted.slug,
        revision: submitted.revision,
        change,
        evaluation: submitted.evaluation,
        missing_photos: submitted.missing_photos.into_iter().collect(),
    });
    *response.status_mut() = status;
    if let Some(location) = location {
        response.headers_mut().insert(header::LOCATION, location);
    }
    response
}

/// Why a revision is made, from the header or else the query.
fn reason(headers: &HeaderMap, pairs: &Pairs) -> Result<String, Problem> {
    let refused = |what: &str| {
        Problem::plain(
            StatusCode::BAD_REQUEST,
            format!(
                "{what}; say why the record changes, in 1 to {LONGEST_REASON} characters of UTF-8, \
                 in the header Brickbook-Reason or the query parameter reason"
            ),
        )
    };
    let from_header = match headers.get("brickbook-reason") {
        Some(value) => Some(
            std::str::from_utf8(value.as_bytes())
                .map_err(|_| refused("Brickbook-Reason is not UTF-8"))?,
        ),
        None => None,
    };
    let reason = from_header.or(pairs.last("reason")).unwrap_or("").trim();
    match reason.chars().count() {
        0 => Err(refused("a revision needs a reason")),
        n if n > LONGEST_REASON => Err(refused(&format!("the reason has {n} characters"))),
        _ => Ok(reason.to_owned()),
    }
}

async fn find(connection: &mut storage::Connection, slug: &str) -> Result<units::Unit, Problem> {
    units::find_by_slug(connection, slug)
        .await
        .map_err(|error| match error {
            storage::Error::NotFound => Problem::no_such_unit(slug),
            other => other.into(),
        })
}

fn record_url(slug: &str) -> String {
    format!("{PREFIX}/units/{}", urls::segment(slug))
}

fn revision_etag(number: i64) -> String {
    format!("\"revision-{number}\"")
}

/// Does `If-Match` or `If-None-Match` name `etag`?
fn names(given: &HeaderValue, etag: &str) -> bool {
    given.to_str().is_ok_and(|given| {
        given
            .split(',')
            .map(str::trim)
            .any(|one| one == "*" || one.strip_prefix("W/").unwrap_or(one) == etag)
    })
}

/// A stored document with its ETag, or 304 where the client has it already.
fn document(headers: &HeaderMap, etag: String, text: String) -> Response {
    let unchanged = headers
        .get(header::IF_NONE_MATCH)
        .is_some_and(|given| names(given, &etag));
    let mut response = if unchanged {
        (StatusCode::NOT_MODIFIED, Body::empty()).into_response()
    } else {
        json_text(text)
    };
    let etag =
        HeaderValue::from_str(&etag).expect("an ETag of letters and digits is a header value");
    response.headers_mut().insert(header::ETAG, etag);
    response
        .headers_mut()
        .insert(header::CACHE_CONTROL, CachePolicy::Revalidate.header());
    response
}

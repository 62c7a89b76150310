//! Reports as PDF: of a unit, of one of its revisions, of a class.
//!
//! A report is built on a thread for such work, one at a time (where the site is written as files,
//! one on each core). A small one is kept like a page; a
//! large one is built anew, and only its tag is remembered, so that a browser that has it already
//! costs nothing.

use super::{Site, unit};
use crate::{
    bench::record::Record,
    paper::{Document, Paper, pdf},
    quantity::words,
    ranking::{Filter, SortKey},
    storage::{Connection, Db, evaluations, photos, units},
    web::{
        cache::{Storable, matches},
        error::Error,
        extract::{Pairs, Path, Visit},
        format,
        report::{
            self, ClassReport, ClassUnit, Issuer, Photos, Publication, RevisionLine, UnitReport,
            class_document, unit_document,
        },
        security::CachePolicy,
    },
};
use axum::{
    Router,
    body::Body,
    http::{HeaderMap, HeaderValue, StatusCode, header},
    response::Response,
    routing::get,
};
use sha2::{Digest, Sha256};
use std::sync::Arc;

pub fn routes() -> Router<Site> {
    Router::new()
        .route("/unit/{slug}/report.pdf", get(of_unit))
        .route(
            "/unit/{slug}/revision/{number}/report.pdf",
            get(of_revision),
        )
        .route("/class/{id}/report.pdf", get(of_class))
}

/// What building reports shares: who is at it, and the tags of those built.
pub struct Reports {
    /// Building one takes a core and some tens of megabytes.
    turn: tokio::sync::Semaphore,
    /// By everything that a report is made of.
    tags: quick_cache::sync::Cache<String, HeaderValue>,
}

impl Reports {
    /// With so many built at a time.
    pub fn new(at_once: usize) -> Reports {
        Reports {
            turn: tokio::sync::Semaphore::new(at_once),
            tags: quick_cache::sync::Cache::new(2_000),
        }
    }
}

/// Larger reports are not kept in memory.
const LARGEST_KEPT: usize = 512 << 10;

async fn of_unit(
    visit: Visit,
    Path(slug): Path<String>,
    pairs: Pairs,
    headers: HeaderMap,
) -> Result<Response, Error> {
    unit_answer(&visit, &slug, None, &pairs, &headers).await
}

async fn of_revision(
    visit: Visit,
    Path((slug, number)): Path<(String, i64)>,
    pairs: Pairs,
    headers: HeaderMap,
) -> Result<Response, Error> {
    unit_answer(&visit, &slug, Some(number), &pairs, &headers).await
}

async fn unit_answer(
    visit: &Visit,
    slug: &str,
    number: Option<i64>,
    pairs: &Pairs,
    headers: &HeaderMap,
) -> Result<Response, Error> {
    let site = &visit.site;
    let issuer = issuer(site, pairs)?;
    let data = site.public();
    let mut moment = site.db.snapshot().await?;
    let ranks = match number {
        None => unit::ranks_view(&data, slug),
        Some(_) => None,
    };
    let inputs = unit_inputs(&mut moment, slug, number, ranks).await?;
    drop(moment);
    let name = format!("{slug}-r{}.pdf", inputs.publication.revision);
    let basis = format!("{issuer:?}{inputs:?}");
    let (method, pictures) = (site.method.clone(), photos_of(&site.db));
    answer(site, basis, &name, headers, move || {
        Ok(unit_document(&inputs.report(method, issuer, pictures)))
    })
    .await
}

/// What storage holds of a unit for its report.
#[derive(Debug)]
pub struct UnitInputs {
    text: String,
    record: Record,
    /// Photos that the record names and that are not kept here.
    missing_photos: Vec<String>,
    evaluation: crate::evaluate::evaluation::Evaluation,
    pub publication: Publication,
}

impl UnitInputs {
    pub fn report(
        self,
        method: Arc<crate::evaluate::Method>,
        issuer: Issuer,
        photos: Photos,
    ) -> UnitReport {
        UnitReport {
            record: self.record,
            record_text: self.text,
            evaluation: self.evaluation,
            method,
            issuer,
            publication: Some(self.publication),
            draft_saved_at: None,
            photos,
            missing_photos: self.missing_photos,
        }
    }
}

/// Reads a unit's newest revision, or the one of that number.
///
/// # Errors
/// There is no such unit or revision; the database cannot be read.
pub async fn unit_inputs(
    connection: &mut Connection,
    slug: &str,
    number: Option<i64>,
    ranks: Option<unit::RanksView>,
) -> Result<UnitInputs, Error> {
    let found = unit::find_revision(connection, slug, number).await?;
    let revisions = units::revisions(connection, found.unit.id).await?;
    let scores = evaluations::history(connection, found.unit.id).await?;
    let revision = found.text.revision;
    let record = unit::decoded(&found.text.text)?;
    let missing = photos::missing(connection, &record.photos).await?;
    Ok(UnitInputs {
        missing_photos: missing.into_iter().collect(),
        record,
        evaluation: found.stored.evaluation()?,
        text: found.text.text,
        publication: Publication {
            slug: slug.to_owned(),
            revision: revision.number,
            newest: revisions.first().map_or(revision.number, |r| r.number),
            published_at: revision.created_at,
            author: revision.author,
            evaluated_at: found.stored.created_at,
            method_digest: found.stored.method_digest,
            ranks,
            history: revisions
                .into_iter()
                .map(|r| RevisionLine {
                    number: r.number,
                    when: format::moment(r.created_at),
                    scores: unit::scores_of(&scores, r.number),
                    author: r.author,
                    reason: unit::reason_words(r.reason),
                })
                .collect(),
        },
    })
}

/// Photos as the database keeps them, each read when its page is drawn. To be called on the
/// runtime; the photos are then read on a thread for blocking work.
pub fn photos_of(db: &Db) -> Photos {
    let (db, runtime) = (db.clone(), tokio::runtime::Handle::current());
    Photos(Arc::new(move |sha256| {
        runtime
            .block_on(async {
                let mut connection = db.read().await?;
                photos::jpeg(&mut connection, sha256).await
            })
            .map_err(|cause| cause.to_string())
    }))
}

async fn of_class(
    visit: Visit,
    Path(id): Path<String>,
    pairs: Pairs,
    headers: HeaderMap,
) -> Result<Response, Error> {
    let site = &visit.site;
    let issuer = issuer(site, &pairs)?;
    let data = site.public();
    let mut moment = site.db.snapshot().await?;
    let report = class_report(&mut moment, &site.method, &data.standings, &id, issuer).await?;
    drop(moment);
    let basis = format!(
        "{:?}{:?}{:?}{:?}{}",
        report.issuer,
        report.class,
        report.units,
        report.best,
        report.method.digest()
    );
    let name = format!("class-{id}.pdf");
    answer(site, basis, &name, &headers, move || {
        Ok(class_document(&report))
    })
    .await
}

/// Gathers what a class's report is made of.
///
/// # Errors
/// There is no such class; the database cannot be read.
pub async fn class_report(
    connection: &mut Connection,
    method: &Arc<crate::evaluate::Method>,
    standings: &crate::ranking::Standings,
    id: &str,
    issuer: Issuer,
) -> Result<ClassReport, Error> {
    let class = method.classes.iter().find(|class| class.id == id);
    let class = class
        .ok_or_else(|| Error::NotFound(format!("There is no wattage class called “{id}”.")))?
        .clone();
    let filter = Filter {
        class: Some(class.id.clone()),
        ..Filter::default()
    };
    let all = standings.all(&filter, SortKey::Score, true);
    let mut best = Vec::new();
    for row in all.iter().filter(|row| !row.provisional).take(report::BEST) {
        let unit = units::find_by_slug(connection, &row.slug).await?;
        let evaluation = evaluations::current_of_unit(connection, unit.id)
            .await?
            .evaluation()?;
        let run = evaluation
            .runs
            .into_iter()
            .find(|run| row.run.as_deref() == Some(run.name.as_str()));
        best.extend(run.map(|run| (row.name(), run)));
    }
    let mut listed = Vec::with_capacity(all.len());
    for row in all {
        let newest = units::newest_record_text(connection, row.unit_id).await?;
        listed.push(ClassUnit {
            ranks: standings.ranks(&row.slug),
            revision: newest.revision.number,
            published_at: newest.revision.created_at,
            record_sha256: words::hex(Sha256::digest(newest.text.as_bytes())),
            row: row.clone(),
        });
    }
    Ok(ClassReport {
        class,
        method: method.clone(),
        issuer,
        units: listed,
        best,
    })
}

/// `?paper=a4` or `letter`, and what the site says of itself.
pub fn issuer(site: &Site, pairs: &Pairs) -> Result<Issuer, Error> {
    let paper = match pairs.last("paper") {
        None => Paper::default(),
        Some(id) => Paper::from_id(id).ok_or_else(|| {
            let id: String = id.chars().take(40).collect();
            Error::Invalid(format!("paper: “{id}” is none; expected a4 or letter."))
        })?,
    };
    Ok(Issuer {
        site_name: site.config.site_name.clone(),
        public_url: site.config.public_url.clone(),
        tester: site.config.tester.clone(),
        demo: site.is_demo(),
        paper,
    })
}

/// Builds a document on a thread for such work, when it is its turn.
pub async fn built(
    site: &Site,
    document: impl FnOnce() -> Result<Document, Error> + Send + 'static,
) -> Result<Vec<u8>, Error> {
    let _turn = site.reports.turn.acquire().await.map_err(Error::internal)?;
    tokio::task::spawn_blocking(move || pdf(document()?).map_err(Error::internal))
        .await
        .map_err(Error::internal)?
}

/// A public report. `basis` is all that it is made of.
async fn answer(
    site: &Site,
    basis: String,
    name: &str,
    headers: &HeaderMap,
    document: impl FnOnce() -> Result<Document, Error> + Send + 'static,
) -> Result<Response, Error> {
    let basis = words::hex(Sha256::digest(basis.as_bytes()));
    let given = headers.get(header::IF_NONE_MATCH);
    if let (Some(given), Some(tag)) = (given, site.reports.tags.get(&basis))
        && matches(given, &tag)
    {
        return Ok(unchanged(tag));
    }
    let bytes = built(site, document).await?;
    let tag = words::hex(&Sha256::digest(&bytes)[..12]);
    let tag = HeaderValue::from_str(&format!("\"{tag}\"")).map_err(Error::internal)?;
    site.reports.tags.insert(basis, tag.clone());
    if given.is_some_and(|given| matches(given, &tag)) {
        return Ok(unchanged(tag));
    }
    let small = bytes.len() <= LARGEST_KEPT;
    let mut response = file(bytes, name)?;
    let to = response.headers_mut();
    to.insert(header::ETAG, tag);
    to.insert(header::CACHE_CONTROL, CachePolicy::Revalidate.header());
    if small {
        response.extensions_mut().insert(Storable);
    }
    Ok(response)
}

fn unchanged(tag: HeaderValue) -> Response {
    let mut response = Response::new(Body::empty());
    *response.status_mut() = StatusCode::NOT_MODIFIED;
    let to = response.headers_mut();
    to.insert(header::ETAG, tag);
    to.insert(header::CACHE_CONTROL, CachePolicy::Revalidate.header());
    response
}

/// A PDF that a browser shows, and saves under `name`.
pub fn file(bytes: Vec<u8>, name: &str) -> Result<Response, Error> {
    let mut response = Response::new(Body::from(bytes));
    let to = response.headers_mut();
    to.insert(
        header::CONTENT_TYPE,
        HeaderValue::from_static("application/pdf"),
    );
    // Names come from slugs and ids, but a header must never hold more than it should.
    let name: String = name
        .chars()
        .filter(|c| c.is_ascii_alphanumeric() || "-._".contains(*c))
        .collect();
    to.insert(
        header::CONTENT_DISPOSITION,
        HeaderValue::from_str(&format!("inline; filename=\"{name}\"")).map_err(Error::internal)?,
    );
    Ok(response)
}

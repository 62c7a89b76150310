//! `/desk/logs`: raw logs of the instruments: uploading, what is kept, deleting. One bench, one
//! shelf: a log that one operator uploads serves all of them.

mod cut;
mod layouts;
mod log;
mod steps;

use super::on_to;
use crate::web::filters;
use crate::{
    bench::record::Layout,
    storage::{
        self,
        audit::{self, Change},
        drafts, logs as stored,
        logs::LogFile,
    },
    web::{
        Site,
        auth::{Editor, Signed},
        chrome::Chrome,
        error::Error,
        extract::{Form, Pairs, Path, Visit},
        format,
        incoming::{self, Source, TakenIn},
        pages, urls,
    },
};
use askama::Template;
use axum::{
    Json, Router,
    body::Bytes,
    extract::{DefaultBodyLimit, FromRequest, Multipart, Request},
    http::{HeaderMap, StatusCode, header},
    response::{IntoResponse, Response},
    routing::{get, post},
};
use serde::Deserialize;

pub fn routes() -> Router<Site> {
    Router::new()
        .route(
            urls::DESK_LOGS,
            get(list)
                .post(upload)
                // The site's own limit is for forms and records; uploads count their bytes.
                .layer(DefaultBodyLimit::disable()),
        )
        .route("/desk/logs/{sha256}/delete", get(ask_delete).post(delete))
        .merge(layouts::routes())
        .merge(log::routes())
        .merge(cut::routes())
        .merge(steps::routes())
        .route("/desk/logs/{sha256}/progress", get(progress))
        .route("/desk/logs/{sha256}/read", post(read_again))
}

/// So many logs are listed.
const MOST_LISTED: i64 = 200;

#[derive(Template)]
#[template(path = "entry/logs.html")]
struct LogsPage {
    chrome: Chrome,
    csrf: String,
    /// The draft that a section is wanted for.
    draft: Option<DraftLink>,
    limit: String,
    limit_bytes: u64,
    logs: Vec<LogLine>,
    all_shown: bool,
}

struct DraftLink {
    id: i64,
    title: String,
    url: String,
}

struct LogLine {
    name: String,
    url: String,
    delete_url: String,
    size: String,
    when: String,
    /// How it is read, in short.
    read: String,
    /// It cannot be.
    fault: bool,
    published: Option<PublishedBy>,
}

struct PublishedBy {
    slug: String,
    url: String,
}

async fn list(visit: Visit, signed: Editor, query: Pairs) -> Result<Response, Error> {
    let site = &visit.site;
    let draft = draft_asked_for(site, &signed, &query).await?;
    let suffix = match &draft {
        Some(draft) => format!("?draft={}", draft.id),
        None => String::new(),
    };
    let mut connection = site.db.read().await?;
    let newest = stored::newest(&mut connection, MOST_LISTED + 1).await?;
    let all_shown = newest.len() <= MOST_LISTED as usize;
    let mut lines = Vec::new();
    for file in newest.into_iter().take(MOST_LISTED as usize) {
        let published = stored::published_by(&mut connection, &file.sha256).await?;
        let url = urls::desk_log(&file.sha256);
        lines.push(LogLine {
            delete_url: format!("{url}/delete"),
            url: format!("{url}{suffix}"),
            size: format::bytes(file.size_bytes),
            when: format::moment(file.created_at),
            read: how_read(&file),
            fault: file.fault.is_some(),
            published: published.map(|slug| PublishedBy {
                url: urls::unit(&slug),
                slug,
            }),
            name: file.name,
        });
    }
    pages::private(&LogsPage {
        chrome: super::chrome(&visit, &signed, "Logs").script("logs.js"),
        csrf: signed.csrf.clone(),
        draft,
        limit: format::bytes(site.config.log_limit_bytes),
        limit_bytes: site.config.log_limit_bytes,
        logs: lines,
        all_shown,
    })
}

/// The operator's draft that the query names, if there is one.
async fn draft_asked_for(
    site: &Site,
    signed: &Signed,
    query: &Pairs,
) -> Result<Option<DraftLink>, Error> {
    let Some(id) = query.last("draft").and_then(|text| text.parse().ok()) else {
        return Ok(None);
    };
    match drafts::find(&mut *site.db.read().await?, id, signed.operator_id).await {
        Ok(draft) => Ok(Some(DraftLink {
            id,
            title: super::draft::title_of(&super::draft::fields_of(&draft)?),
            url: urls::desk_draft(id),
        })),
        Err(storage::Error::NotFound) => Ok(None),
        Err(cause) => Err(cause.into()),
    }
}

/// The layout that a log is read by, as far as it is known.
fn layout_of(file: &LogFile) -> Option<Layout> {
    serde_json::from_str(file.layout.as_deref()?).ok()
}

/// "input power, input current; time in seconds".
fn how_read(file: &LogFile) -> String {
    match layout_of(file) {
        None => "not known yet".to_owned(),
        Some(layout) if layout.columns.is_empty() => "no column named yet".to_owned(),
        Some(layout) => layout
            .columns
            .iter()
            .map(|column| {
                let (name, _) = format::log_quantity(column.quantity);
                match &column.port {
                    Some(port) => format!("{name} {port}"),
                    None => name.to_owned(),
                }
            })
            .collect::<Vec<_>>()
            .join(", "),
    }
}

/// A kept log.
async fn find(site: &Site, sha256: &str) -> Result<LogFile, Error> {
    match stored::find(&mut *site.db.read().await?, sha256).await {
        Err(storage::Error::NotFound) => Err(Error::NotFound(
            "This log is not kept here (any more).".into(),
        )),
        other => Ok(other?),
    }
}

// ---- uploading ----

/// A log from the page's form. The script asks for JSON: where the log's page is, or what was wrong.
async fn upload(visit: Visit, signed: Editor, request: Request) -> Response {
    let wants_json = accepts_json(request.headers());
    match taken_in(&visit.site, &signed, request).await {
        Ok((taken, draft)) => {
            let mut query = urls::Query::new();
            if let Some(draft) = draft {
                query.push("draft", &draft.to_string());
            }
            if let Some(name) = &taken.used_saved {
                query.push("saved-layout", name);
            }
            let url = query.on(&urls::desk_log(&taken.file.sha256));
            if wants_json {
                Json(serde_json::json!({ "url": url })).into_response()
            } else {
                on_to(&url).into_response()
            }
        }
        Err(error) if wants_json => {
            let status = error.status();
            let words = in_words(&visit.site, error);
            (
                status,
                Json(serde_json::json!({ "fault": words.to_string() })),
            )
                .into_response()
        }
        Err(error) => in_words(&visit.site, error).into_response(),
    }
}

/// The size that the site takes belongs into the words about a log that is larger.
fn in_words(site: &Site, error: Error) -> Error {
    match error {
        Error::TooLarge => Error::TooLargeFor(format!(
            "The log is larger than the {} that this site takes, so nothing was kept. Compress it with gzip, or cut it at the instrument.",
            format::bytes(site.config.log_limit_bytes)
        )),
        other => other,
    }
}

fn accepts_json(headers: &HeaderMap) -> bool {
    headers
        .get(header::ACCEPT)
        .and_then(|value| value.to_str().ok())
        .is_some_and(|value| value.contains("application/json"))
}

/// The log, and the draft that it is wanted for.
async fn taken_in(
    site: &Site,
    signed: &Signed,
    request: Request,
) -> Result<(TakenIn, Option<i64>), Error> {
    let mut parts = Multipart::from_request(request, site)
        .await
        .map_err(|_| Error::Invalid("The form cannot be read: expected a file.".into()))?;
    let (mut checked, mut draft) = (false, None);
    loop {
        let next = tokio::time::timeout(site.config.request_timeout, parts.next_field()).await;
        let field = match next {
            Err(_) => return Err(Error::TookTooLong),
            Ok(Err(cause)) => return Err(incoming::cut_short(&cause)),
            Ok(Ok(None)) => {
                return Err(Error::Invalid(
                    "No file was chosen, so nothing was uploaded.".into(),
                ));
            }
            Ok(Ok(Some(field))) => field,
        };
        match field.name() {
            Some("csrf") => {
                signed.check(&text_of(Source::Field(Box::new(field))).await?)?;
                checked = true;
            }
            Some("draft") => draft = text_of(Source::Field(Box::new(field))).await?.parse().ok(),
            // The token stands before the file on our page.
            Some("log") if !checked => return Err(super::super::auth::stale_form()),
            Some("log") => {
                let given = field.file_name().unwrap_or_default().to_owned();
                if given.is_empty() {
                    return Err(Error::Invalid(
                        "No file was chosen, so nothing was uploaded.".into(),
                    ));
                }
                let name = incoming::name_of(&given);
                let source = Source::Field(Box::new(field));
                let taken = incoming::take_in(site, name, source, signed.who()).await?;
                return Ok((taken, draft));
            }
            _ => {}
        }
    }
}

/// A short text field of the form.
async fn text_of(mut source: Source<'_>) -> Result<String, Error> {
    const LONGEST: usize = 1000;
    let mut text = Vec::new();
    while let Some(bytes) = source.next().await? {
        let bytes: Bytes = bytes;
        if text.len() + bytes.len() > LONGEST {
            return Err(Error::Invalid("The form cannot be read.".into()));
        }
        text.extend_from_slice(&bytes);
    }
    Ok(String::from_utf8_lossy(&text).into_owned())
}

// ---- deleting ----

#[derive(Template)]
#[template(path = "entry/logs_delete.html")]
struct DeletePage {
    chrome: Chrome,
    csrf: String,
    name: String,
    url: String,
    size: String,
    published: Option<PublishedBy>,
    /// Drafts that name it.
    drafts: usize,
}

async fn ask_delete(
    visit: Visit,
    signed: Editor,
    Path(sha256): Path<String>,
) -> Result<Response, Error> {
    let file = find(&visit.site, &sha256).await?;
    let mut connection = visit.site.db.read().await?;
    let published = stored::published_by(&mut connection, &sha256).await?;
    pages::private(&DeletePage {
        chrome: super::chrome(&visit, &signed, "Delete a log"),
        csrf: signed.csrf.clone(),
        url: urls::desk_log(&sha256),
        size: format::bytes(file.size_bytes),
        name: file.name,
        published: published.map(|slug| PublishedBy {
            url: urls::unit(&slug),
            slug,
        }),
        drafts: drafts::naming_log(&mut connection, &sha256).await?,
    })
}

#[derive(Deserialize)]
struct Confirmed {
    #[serde(default)]
    csrf: String,
}

async fn delete(
    visit: Visit,
    signed: Editor,
    Path(sha256): Path<String>,
    Form(form): Form<Confirmed>,
) -> Result<Response, Error> {
    signed.check(&form.csrf)?;
    let site = &visit.site;
    let mut tx = site.db.write().await?;
    if let Some(slug) = stored::published_by(&mut tx, &sha256).await? {
        return Err(Error::Conflict(format!(
            "Nothing was deleted: the published unit {slug} names this log, and whoever reads its page must be able to check the figures."
        )));
    }
    stored::remove(&mut tx, &sha256).await?;
    let change = Change::new("log.deleted", format!("log {sha256}"));
    audit::write(&mut tx, &signed.who(), change, site.clock.now()).await?;
    tx.commit().await?;
    let files = site.db.logs().clone();
    tokio::task::spawn_blocking(move || files.remove(&sha256))
        .await
        .map_err(Error::internal)?
        .map_err(Error::internal)?;
    on_to(urls::DESK_LOGS)
}

// ---- reading ----

/// How far a log is read, for the script.
async fn progress(
    visit: Visit,
    _signed: Editor,
    Path(sha256): Path<String>,
) -> Result<Response, Error> {
    let progress = visit.site.log_readings.progress(&sha256);
    Ok(Json(serde_json::json!({
        "reading": progress.is_some(),
        "percent": progress.map(|progress| progress.percent()),
    }))
    .into_response())
}

/// Reads a log that was not read to its end, because the program was stopped on the way.
async fn read_again(
    visit: Visit,
    signed: Editor,
    Path(sha256): Path<String>,
    Form(form): Form<Confirmed>,
) -> Result<Response, Error> {
    signed.check(&form.csrf)?;
    let file = find(&visit.site, &sha256).await?;
    if let Some(layout) = layout_of(&file) {
        log::read_whole(&visit.site, &signed, &file, layout).await?;
    }
    on_to(&urls::desk_log(&sha256))
}

/// A page with a status of its own.
fn with_status(status: StatusCode, page: &impl Template) -> Result<Response, Error> {
    Ok((status, pages::private(page)?).into_response())
}

//! Photos at the desk: uploading them into a draft, looking at them, and deleting those that
//! nothing names. One bench, one shelf: a photo serves every operator.
//!
//! Without script a draft's whole form is sent together with the chosen files, so that nothing that
//! was typed is lost. The script sends one file at a time and gets back the row to put into the
//! form.

use super::{
    bench_form::{self, IN_A_ROW, PhotoRow},
    draft, on_to,
};
use crate::web::filters;
use crate::{
    intake::form::Fields,
    storage::{
        self,
        audit::{self, Change},
        photos as stored,
        photos::{NamedBy, Photo},
    },
    web::{
        Site,
        auth::{self, Editor, Signed},
        chrome::Chrome,
        error::Error,
        extract::{Form, Path, Visit},
        format,
        incoming::{self, Source},
        incoming_photos::{self, TakenIn},
        pages::{
            self,
            photos::{Size, hash_of, picture, within},
        },
        security::CachePolicy,
        urls,
    },
};
use askama::Template;
use axum::{
    Json, Router,
    extract::{
        DefaultBodyLimit, FromRequest, Multipart, Request,
        multipart::{Field, MultipartError},
    },
    http::{HeaderMap, StatusCode},
    response::{IntoResponse, Response},
    routing::{get, post},
};
use serde::Deserialize;

pub fn routes() -> Router<Site> {
    Router::new()
        .route(
            urls::DESK_PHOTOS,
            get(list)
                .post(upload_one)
                // The site's own limit is for forms and records; each photo has its own.
                .layer(DefaultBodyLimit::disable()),
        )
        .route(
            urls::DESK_DRAFT_PHOTOS,
            get(back_to_form)
                .post(upload_with_form)
                .layer(DefaultBodyLimit::disable()),
        )
        .route("/desk/photos/full/{file}", get(full))
        .route("/desk/photos/thumb/{file}", get(small))
        .route("/desk/photos/delete", post(delete))
}

/// Name of the file field, on the page and from the script.
const FILE: &str = "photo";
/// So many unused photos are listed.
const MOST_LISTED: i64 = 200;
/// Longest short field beside a file.
const LONGEST_TEXT: usize = 1000;

// ---- seeing ----

async fn full(
    visit: Visit,
    _signed: Signed,
    Path(file): Path<String>,
    headers: HeaderMap,
) -> Result<Response, Error> {
    show(&visit.site, &file, Size::Full, &headers).await
}

async fn small(
    visit: Visit,
    _signed: Signed,
    Path(file): Path<String>,
    headers: HeaderMap,
) -> Result<Response, Error> {
    show(&visit.site, &file, Size::Thumbnail, &headers).await
}

async fn show(site: &Site, file: &str, size: Size, headers: &HeaderMap) -> Result<Response, Error> {
    let mut connection = site.db.read().await?;
    picture(
        &mut connection,
        hash_of(file)?,
        size,
        CachePolicy::NoStore,
        headers,
    )
    .await
}

// ---- uploading ----

#[derive(Template)]
#[template(path = "entry/photo_row.html")]
struct RowPage {
    row: PhotoRow,
}

/// One file of the script's: answered with the row that goes into the form.
async fn upload_one(visit: Visit, signed: Editor, request: Request) -> Response {
    match one(&visit.site, &signed, request).await {
        Ok(answer) => answer,
        Err(error) => {
            if let Error::Internal(cause) = &error {
                tracing::error!(%cause, "a photo could not be taken in");
            }
            let fault = serde_json::json!({ "fault": error.to_string() });
            (error.status(), Json(fault)).into_response()
        }
    }
}

async fn one(site: &Site, signed: &Signed, request: Request) -> Result<Response, Error> {
    let mut parts = parts_of(site, request).await?;
    let (mut checked, mut row) = (false, 0);
    while let Some(field) = next_part(site, &mut parts).await? {
        match field.name() {
            Some("csrf") => {
                signed.check(&text_of(site, field, LONGEST_TEXT).await?)?;
                checked = true;
            }
            Some("row") => {
                row = text_of(site, field, LONGEST_TEXT)
                    .await?
                    .parse()
                    .unwrap_or(0);
            }
            Some(FILE) if !checked => return Err(auth::stale_form()),
            Some(FILE) => {
                let taken = take_in(site, signed, field).await?;
                let mut fields = Fields::new();
                bench_form::put_photo(&mut fields, row, &taken.photo);
                let row = RowPage {
                    row: bench_form::photo_row(&fields, row),
                };
                let answer = serde_json::json!({
                    "sha256": taken.photo.sha256,
                    "was_here": taken.was_here,
                    "row": row.render()?,
                });
                return Ok(Json(answer).into_response());
            }
            _ => {}
        }
    }
    Err(no_file())
}

/// The draft's whole form with files: what is typed is saved as by any other of its buttons, and
/// each photo that could be taken stands in it.
async fn upload_with_form(
    visit: Visit,
    signed: Editor,
    Path(id): Path<i64>,
    request: Request,
) -> Result<Response, Error> {
    let site = &visit.site;
    let mut parts = parts_of(site, request).await?;
    let mut pairs = Vec::new();
    let mut typed = 0;
    let mut checked = false;
    let (mut taken, mut refused) = (Vec::new(), Vec::new());
    while let Some(field) = next_part(site, &mut parts).await? {
        let name = field.name().unwrap_or_default().to_owned();
        if name == FILE {
            let chosen = field.file_name().is_some_and(|name| !name.is_empty());
            // The token stands before the files on our page. Without the present one nothing is
            // kept, and the form is shown again as it was typed.
            if !checked || !chosen {
                continue;
            }
            match take_in(site, &signed, field).await {
                Ok(TakenIn { photo, .. }) => taken.push(photo),
                Err(error @ (Error::Unprocessable(_) | Error::TooLargeFor(_))) => {
                    refused.push(error.to_string());
                }
                Err(other) => return Err(other),
            }
            continue;
        }
        let text = text_of(site, field, site.config.body_limit_bytes).await?;
        typed += name.len() + text.len();
        if typed > site.config.body_limit_bytes {
            return Err(Error::TooLarge);
        }
        if name == "csrf" {
            checked = signed.sent(&text);
        }
        pairs.push((name, text));
    }
    draft::with_photos(visit, signed, id, pairs, &taken, &refused).await
}

async fn take_in(site: &Site, signed: &Signed, field: Field<'_>) -> Result<TakenIn, Error> {
    let given = field.file_name().unwrap_or_default();
    if given.is_empty() {
        return Err(no_file());
    }
    let name = incoming::name_of(given);
    let source = Source::Field(Box::new(field));
    incoming_photos::take_in(site, name, source, &signed.who()).await
}

fn no_file() -> Error {
    Error::Invalid("No file was chosen, so nothing was uploaded.".into())
}

async fn parts_of(site: &Site, request: Request) -> Result<Multipart, Error> {
    Multipart::from_request(request, site)
        .await
        .map_err(|_| Error::Invalid("The form cannot be read: expected files.".into()))
}

async fn next_part<'a>(site: &Site, parts: &'a mut Multipart) -> Result<Option<Field<'a>>, Error> {
    let next = tokio::time::timeout(site.config.request_timeout, parts.next_field()).await;
    match next {
        Err(_) => Err(Error::TookTooLong),
        Ok(next) => next.map_err(|cause: MultipartError| incoming::cut_short(&cause)),
    }
}

/// A text field of the form.
async fn text_of(site: &Site, field: Field<'_>, longest: usize) -> Result<String, Error> {
    let mut source = Source::Field(Box::new(field));
    let mut text = Vec::new();
    loop {
        let next = tokio::time::timeout(site.config.request_timeout, source.next()).await;
        match next {
            Err(_) => return Err(Error::TookTooLong),
            Ok(piece) => match piece? {
                None => break,
                Some(bytes) if text.len() + bytes.len() > longest => return Err(Error::TooLarge),
                Some(bytes) => text.extend_from_slice(&bytes),
            },
        }
    }
    String::from_utf8(text).map_err(|_| Error::Invalid("The form is not UTF-8.".into()))
}

// ---- what nothing names ----

#[derive(Template)]
#[template(path = "entry/photos.html")]
struct PhotosPage {
    chrome: Chrome,
    csrf: String,
    photos: Vec<UnusedPhoto>,
    all_shown: bool,
    /// Why one could not be deleted, and what names it.
    refusal: Option<Refusal>,
}

struct Refusal {
    why: String,
    links: Vec<Link>,
}

struct Link {
    text: String,
    url: String,
}

struct UnusedPhoto {
    sha256: String,
    name: String,
    facts: String,
    full: String,
    thumbnail: String,
    width: u32,
    height: u32,
    /// Earlier revisions that show it.
    earlier: Vec<Link>,
}

async fn list(visit: Visit, signed: Editor) -> Result<Response, Error> {
    pages::private(&page(&visit, &signed, None).await?)
}

async fn page(
    visit: &Visit,
    signed: &Signed,
    refusal: Option<Refusal>,
) -> Result<PhotosPage, Error> {
    let mut connection = visit.site.db.read().await?;
    let mut unused = stored::unused(&mut connection, MOST_LISTED + 1).await?;
    let all_shown = unused.len() <= MOST_LISTED as usize;
    unused.truncate(MOST_LISTED as usize);
    let mut photos = Vec::new();
    for photo in unused {
        let named = stored::named_by(&mut connection, &photo.sha256).await?;
        photos.push(UnusedPhoto::of(photo, named.earlier));
    }
    Ok(PhotosPage {
        chrome: super::chrome(visit, signed, "Photos"),
        csrf: signed.csrf.clone(),
        photos,
        all_shown,
        refusal,
    })
}

impl UnusedPhoto {
    fn of(photo: Photo, earlier: Vec<(String, i64)>) -> UnusedPhoto {
        let (width, height) = within(photo.width_px, photo.height_px, IN_A_ROW);
        UnusedPhoto {
            facts: format!(
                "{} × {} pixels, {}, {}",
                photo.width_px,
                photo.height_px,
                format::bytes(photo.size_bytes),
                format::moment(photo.created_at)
            ),
            full: urls::desk_photo(&photo.sha256),
            thumbnail: urls::desk_thumbnail(&photo.sha256),
            width,
            height,
            earlier: earlier
                .into_iter()
                .map(|(slug, number)| Link {
                    text: format!("{slug}, revision {number}"),
                    url: urls::revision(&slug, number),
                })
                .collect(),
            name: photo.name,
            sha256: photo.sha256,
        }
    }
}

#[derive(Deserialize)]
struct Delete {
    #[serde(default)]
    csrf: String,
    #[serde(default)]
    sha256: String,
}

async fn delete(visit: Visit, signed: Editor, Form(form): Form<Delete>) -> Result<Response, Error> {
    signed.check(&form.csrf)?;
    let mut tx = visit.site.db.write().await?;
    match stored::remove(&mut tx, &form.sha256).await {
        // Pressed twice: it is gone, as was wanted.
        Ok(()) => {
            let change = Change::new("photo.deleted", format!("photo {}", form.sha256));
            audit::write(&mut tx, &signed.who(), change, visit.site.clock.now()).await?;
        }
        Err(storage::Error::NotFound) => {}
        Err(storage::Error::Conflict(_)) => {
            let refusal = refusal(stored::named_by(&mut tx, &form.sha256).await?, &signed);
            drop(tx);
            let page = page(&visit, &signed, Some(refusal)).await?;
            return Ok((StatusCode::CONFLICT, pages::private(&page)?).into_response());
        }
        Err(other) => return Err(other.into()),
    }
    tx.commit().await?;
    // The pages of earlier revisions may have shown it.
    visit.site.refresh().await?;
    on_to(urls::DESK_PHOTOS)
}

/// What names a photo, with the way to each of one's own.
fn refusal(named: NamedBy, signed: &Signed) -> Refusal {
    let mut links: Vec<Link> = named
        .units
        .iter()
        .map(|slug| Link {
            text: format!("the published unit {slug}"),
            url: urls::unit(slug),
        })
        .collect();
    let mut others = 0;
    for draft in named.drafts {
        if draft.operator_id == signed.operator_id {
            links.push(Link {
                text: format!("your draft {}", draft.id),
                url: urls::desk_draft(draft.id),
            });
        } else {
            others += 1;
        }
    }
    let others = match others {
        0 => String::new(),
        n => format!(
            " {} of other operators {} it.",
            format::counted(n, "draft", "drafts"),
            if n == 1 { "names" } else { "name" }
        ),
    };
    Refusal {
        why: format!(
            "Nothing was deleted: the photo is still in use. Take it out of the draft, or publish a revision without it, first.{others}"
        ),
        links,
    }
}

/// A reload after an upload leads back to the form.
async fn back_to_form(_signed: Editor, Path(id): Path<i64>) -> Result<Response, Error> {
    on_to(&urls::desk_draft(id))
}

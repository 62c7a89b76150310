//! Photos of a unit: the pictures themselves, and how a page shows them.

use super::Site;
use crate::{
    bench::record::Record,
    photo,
    storage::{self, photos},
    text::{t, word},
    web::{
        cache,
        error::Error,
        extract::{Path, Visit},
        security::CachePolicy,
    },
};
use axum::{
    Router,
    http::{HeaderMap, HeaderValue, StatusCode, header},
    response::{IntoResponse, Response},
    routing::get,
};

pub fn routes() -> Router<Site> {
    Router::new()
        .route("/unit/{slug}/photo/{file}", get(full))
        .route("/unit/{slug}/thumb/{file}", get(small))
}

/// A photo as a page shows it.
pub struct PhotoView {
    pub sha256: String,
    pub caption: Option<String>,
    /// What the picture shows, for whoever does not see it.
    pub alt: String,
    /// Size of the thumbnail, so that nothing moves when it comes in.
    pub width: u32,
    pub height: u32,
    /// Size of the thumbnail in the head of the page.
    pub head_width: u32,
    pub head_height: u32,
    /// Where the picture is; `None` if it is not at hand.
    pub pictures: Option<Pictures>,
}

/// Room for the photo in the head of a page, in pixels.
const HEAD: (u32, u32) = (320, 240);

/// Width and height of a picture within a room, never enlarged.
pub fn within(width: u32, height: u32, (most_width, most_height): (u32, u32)) -> (u32, u32) {
    let (width, height) = (width.max(1), height.max(1));
    let scale = (f64::from(most_width) / f64::from(width))
        .min(f64::from(most_height) / f64::from(height))
        .min(1.0);
    let part = |side: u32| ((f64::from(side) * scale).round() as u32).max(1);
    (part(width), part(height))
}

pub struct Pictures {
    pub full: String,
    pub thumbnail: String,
}

impl PhotoView {
    /// The photos of a record in its order, none of them at hand yet.
    pub fn of(record: &Record) -> Vec<PhotoView> {
        let unit = &record.unit;
        record
            .photos
            .iter()
            .enumerate()
            .map(|(place, photo)| {
                let caption = photo
                    .caption
                    .as_deref()
                    .map(str::trim)
                    .filter(|caption| !caption.is_empty());
                let (width, height) = photo::thumbnail_size(photo.width_px, photo.height_px);
                let (head_width, head_height) = within(width, height, HEAD);
                PhotoView {
                    head_width,
                    head_height,
                    sha256: photo.sha256.clone(),
                    alt: caption.map_or_else(
                        || {
                            t("photo-alt")
                                .with("number", place + 1)
                                .with("unit", format!("{} {}", unit.maker, unit.model))
                                .to_string()
                        },
                        str::to_owned,
                    ),
                    caption: caption.map(str::to_owned),
                    width,
                    height,
                    pictures: None,
                }
            })
            .collect()
    }
}

/// Says where each photo that is at hand can be seen.
pub async fn place(
    connection: &mut storage::Connection,
    views: &mut [PhotoView],
    at: impl Fn(&str) -> Pictures,
) -> Result<(), Error> {
    for view in views {
        view.pictures = match photos::find(connection, &view.sha256).await {
            Ok(_) => Some(at(&view.sha256)),
            Err(storage::Error::NotFound) => None,
            Err(other) => return Err(other.into()),
        };
    }
    Ok(())
}

/// Which of its two forms a photo is asked for in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Size {
    Full,
    Thumbnail,
}

/// The SHA-256 of `{sha256}.jpg`.
pub fn hash_of(file: &str) -> Result<&str, Error> {
    let hash = file.strip_suffix(".jpg").ok_or_else(Error::no_page)?;
    let is_hash = hash.len() == 64 && hash.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'));
    if is_hash {
        Ok(hash)
    } else {
        Err(Error::no_page())
    }
}

async fn full(
    visit: Visit,
    Path((slug, file)): Path<(String, String)>,
    headers: HeaderMap,
) -> Result<Response, Error> {
    of_unit(&visit.site, &slug, &file, Size::Full, &headers).await
}

async fn small(
    visit: Visit,
    Path((slug, file)): Path<(String, String)>,
    headers: HeaderMap,
) -> Result<Response, Error> {
    of_unit(&visit.site, &slug, &file, Size::Thumbnail, &headers).await
}

async fn of_unit(
    site: &Site,
    slug: &str,
    file: &str,
    size: Size,
    headers: &HeaderMap,
) -> Result<Response, Error> {
    let sha256 = hash_of(file)?;
    let mut connection = site.db.read().await?;
    if !photos::is_of_unit(&mut connection, slug, sha256).await? {
        return Err(no_such_photo());
    }
    picture(
        &mut connection,
        sha256,
        size,
        // Not for good, though its address names its content: it may be withdrawn.
        CachePolicy::Revalidate,
        headers,
    )
    .await
}

fn no_such_photo() -> Error {
    Error::NotFound(word("no-photo").into())
}

/// The bytes of a photo, or "not modified". Whoever asks for it must have been let in before.
pub async fn picture(
    connection: &mut storage::Connection,
    sha256: &str,
    size: Size,
    policy: CachePolicy,
    headers: &HeaderMap,
) -> Result<Response, Error> {
    let bytes = match size {
        Size::Full => photos::jpeg(connection, sha256).await,
        Size::Thumbnail => photos::thumbnail(connection, sha256).await,
    };
    let bytes = match bytes {
        Err(storage::Error::NotFound) => return Err(no_such_photo()),
        found => found?,
    };
    let form = match size {
        Size::Full => "",
        Size::Thumbnail => "-thumb",
    };
    let etag = HeaderValue::from_str(&format!("\"{sha256}{form}\"")).map_err(Error::internal)?;
    let unchanged = headers
        .get(header::IF_NONE_MATCH)
        .is_some_and(|given| cache::matches(given, &etag));
    let mut response = if unchanged {
        StatusCode::NOT_MODIFIED.into_response()
    } else {
        let kind = [(header::CONTENT_TYPE, "image/jpeg")];
        (kind, bytes).into_response()
    };
    let own = response.headers_mut();
    own.insert(header::ETAG, etag);
    own.insert(header::CACHE_CONTROL, policy.header());
    Ok(response)
}

//! The files of `static/`, embedded in the program, addressed by their content's hash, so that
//! browsers may keep them for ever. Compressed once, at first use.

use super::{cache, error::Error, security::CachePolicy};
use crate::quantity::words::hex;
use axum::{
    body::Body,
    extract::Path,
    http::{HeaderMap, HeaderValue, header},
    response::{IntoResponse, Response},
};
use bytes::Bytes;
use rust_embed::RustEmbed;
use sha2::{Digest, Sha256};
use std::{
    collections::BTreeMap,
    sync::{LazyLock, OnceLock},
};

#[derive(RustEmbed)]
#[folder = "static/"]
struct Files;

struct Asset {
    hash: String,
    url: String,
    content_type: &'static str,
    bytes: Bytes,
    packed: OnceLock<Packed>,
}

struct Packed {
    brotli: Bytes,
    gzip: Bytes,
}

static ASSETS: LazyLock<BTreeMap<String, Asset>> = LazyLock::new(|| {
    Files::iter()
        .map(|name| {
            let data = Files::get(&name).expect("a listed file is embedded").data;
            let bytes = Bytes::from(data.into_owned());
            let hash = hex(&Sha256::digest(&bytes)[..6]);
            let asset = Asset {
                url: format!("/static/{hash}/{name}"),
                content_type: content_type(&name),
                hash,
                bytes,
                packed: OnceLock::new(),
            };
            (name.into_owned(), asset)
        })
        .collect()
});

/// The address of `static/{name}`.
///
/// Panics if there is no such file: names come from templates, never from a request.
pub fn url(name: &str) -> &'static str {
    match ASSETS.get(name) {
        Some(asset) => &asset.url,
        None => panic!("no file static/{name} is embedded"),
    }
}

/// The addresses of all files.
pub fn urls() -> impl Iterator<Item = &'static str> {
    ASSETS.values().map(|asset| asset.url.as_str())
}

/// `GET /static/{hash}/{file}`
pub async fn serve_asset(
    path: Result<Path<(String, String)>, axum::extract::rejection::PathRejection>,
    headers: HeaderMap,
) -> Result<Response, Error> {
    let Ok(Path((hash, file))) = path else {
        return Err(Error::no_page());
    };
    let asset = ASSETS.get(&file).ok_or_else(Error::no_page)?;
    // A page from before an upgrade still gets a file, but must not keep it under the old hash.
    let policy = if asset.hash == hash {
        CachePolicy::Immutable
    } else {
        CachePolicy::NoStore
    };
    let encoding = if is_text(asset.content_type) {
        cache::Encoding::accepted(headers.get(header::ACCEPT_ENCODING))
    } else {
        cache::Encoding::Identity
    };
    let body = match encoding {
        cache::Encoding::Identity => asset.bytes.clone(),
        packed => {
            let both = asset.packed.get_or_init(|| Packed {
                brotli: cache::brotli(&asset.bytes, 9),
                gzip: cache::gzip(&asset.bytes, 9),
            });
            if packed == cache::Encoding::Brotli {
                both.brotli.clone()
            } else {
                both.gzip.clone()
            }
        }
    };
    let mut response = Body::from(body).into_response();
    let to = response.headers_mut();
    to.insert(
        header::CONTENT_TYPE,
        HeaderValue::from_static(asset.content_type),
    );
    to.insert(header::CACHE_CONTROL, policy.header());
    if is_text(asset.content_type) {
        to.insert(header::VARY, HeaderValue::from_static("accept-encoding"));
        if let Some(name) = encoding.name() {
            to.insert(header::CONTENT_ENCODING, name);
        }
    }
    Ok(response)
}

fn is_text(content_type: &str) -> bool {
    content_type.starts_with("text/") || content_type.starts_with("image/svg")
}

fn content_type(name: &str) -> &'static str {
    match name.rsplit_once('.').map(|(_, extension)| extension) {
        Some("css") => "text/css; charset=utf-8",
        Some("js") => "text/javascript; charset=utf-8",
        Some("svg") => "image/svg+xml",
        Some("png") => "image/png",
        Some("woff2") => "font/woff2",
        Some("ttf") => "font/ttf",
        Some("txt" | "md") => "text/plain; charset=utf-8",
        _ => "application/octet-stream",
    }
}

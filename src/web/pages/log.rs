//! A raw log for download: the bytes as the instrument wrote them, whatever their number. They
//! are unpacked piece by piece as the visitor takes them; no thread waits for a slow one.

use super::Site;
use crate::storage::{log_files::Verifying, logs};
use crate::web::{
    cache,
    error::Error,
    extract::{Pairs, Path, Visit},
    security::CachePolicy,
};
use axum::{
    Router,
    body::{Body, Bytes, HttpBody},
    http::{HeaderMap, HeaderValue, StatusCode, header},
    response::{IntoResponse, Response},
    routing::get,
};
use hyper::body::{Frame, SizeHint};
use std::{
    future::Future,
    io::{self, Cursor, Read},
    pin::Pin,
    task::{Context, Poll},
};
use tokio::task::JoinHandle;

pub fn routes() -> Router<Site> {
    Router::new()
        .route("/unit/{slug}/log/{name}", get(by_name))
        .route("/unit/{slug}/log/{sha256}/{name}", get(exactly))
}

/// Bytes unpacked at a time.
const PIECE: usize = 256 << 10;

/// The newest revision that has a log of this name decides; links from before logs had addresses of
/// their own name one by `?sha256=`.
async fn by_name(
    visit: Visit,
    Path((slug, name)): Path<(String, String)>,
    pairs: Pairs,
    headers: HeaderMap,
) -> Result<Response, Error> {
    download(&visit, &slug, &name, pairs.last("sha256"), &headers).await
}

/// The log of this name that some revision, perhaps an earlier one, meant.
async fn exactly(
    visit: Visit,
    Path((slug, sha256, name)): Path<(String, String, String)>,
    headers: HeaderMap,
) -> Result<Response, Error> {
    download(&visit, &slug, &name, Some(&sha256), &headers).await
}

async fn download(
    visit: &Visit,
    slug: &str,
    name: &str,
    wanted: Option<&str>,
    headers: &HeaderMap,
) -> Result<Response, Error> {
    let no_such_log = || {
        let name: String = name.chars().take(60).collect();
        Error::NotFound(format!("This unit has no log called “{name}”."))
    };
    let site = &visit.site;
    let mut connection = site.db.read().await?;
    let sha256 = match wanted {
        Some(sha256) if logs::is_of_unit(&mut connection, slug, name, sha256).await? => {
            sha256.to_owned()
        }
        Some(_) => return Err(no_such_log()),
        None => match logs::of_unit(&mut connection, slug, name).await {
            Err(crate::storage::Error::NotFound) => return Err(no_such_log()),
            found => found?,
        },
    };
    let size_bytes = match logs::find(&mut connection, &sha256).await {
        Ok(file) => Some(file.size_bytes),
        Err(crate::storage::Error::NotFound) => None,
        Err(other) => return Err(other.into()),
    };
    drop(connection);

    let etag = HeaderValue::from_str(&format!("\"{sha256}\"")).map_err(Error::internal)?;
    let policy = match wanted {
        Some(_) => CachePolicy::Immutable,
        None => CachePolicy::Revalidate,
    };
    let unchanged = headers
        .get(header::IF_NONE_MATCH)
        .is_some_and(|given| cache::matches(given, &etag));
    let mut response = if unchanged {
        StatusCode::NOT_MODIFIED.into_response()
    } else {
        let files = site.db.logs().clone();
        let opened = tokio::task::spawn_blocking(move || open(&files, &sha256))
            .await
            .map_err(Error::internal)?
            .map_err(Error::internal)?;
        let Some((content_type, bytes)) = opened else {
            return Err(Error::NotFound(
                "This log is named in the record, but its bytes are not kept here.".into(),
            ));
        };
        let mut response = Response::new(Body::new(Pieces {
            state: State::Idle(bytes),
            left: size_bytes,
        }));
        let own = response.headers_mut();
        own.insert(header::CONTENT_TYPE, HeaderValue::from_static(content_type));
        own.insert(header::CONTENT_DISPOSITION, attachment(name));
        response
    };
    let own = response.headers_mut();
    own.insert(header::ETAG, etag);
    own.insert(header::CACHE_CONTROL, policy.header());
    Ok(response)
}

type Reader = Box<dyn Read + Send>;

/// The bytes and what they are; `None` if the log is not kept.
fn open(
    files: &crate::storage::LogFiles,
    sha256: &str,
) -> io::Result<Option<(&'static str, Reader)>> {
    let Some(bytes) = files.read(sha256)? else {
        return Ok(None);
    };
    let mut bytes = Verifying::new(bytes, sha256);
    let mut first = Vec::new();
    (&mut bytes).take(2).read_to_end(&mut first)?;
    let content_type = if first == [0x1f, 0x8b] {
        "application/gzip"
    } else {
        "text/csv"
    };
    let whole = Cursor::new(first).chain(bytes);
    Ok(Some((content_type, Box::new(whole))))
}

/// Saved, not shown, under the log's own name. The plain form has only characters that no file
/// system minds; the other one is RFC 8187's.
fn attachment(name: &str) -> HeaderValue {
    let plain: String = name
        .chars()
        .take(120)
        .map(|c| match c {
            'a'..='z' | 'A'..='Z' | '0'..='9' | '.' | '-' | '_' => c,
            _ => '_',
        })
        .collect();
    let plain = plain.trim_start_matches('.');
    let plain = if plain.is_empty() { "log" } else { plain };
    // Slashes would be taken for folders even when encoded.
    let whole = crate::web::urls::segment(&name.replace(['/', '\\'], "_"));
    HeaderValue::from_str(&format!(
        "attachment; filename=\"{plain}\"; filename*=UTF-8''{whole}"
    ))
    .expect("letters, digits and percent signs are a header value")
}

/// A body that is read on a thread for such work, one piece whenever the connection takes one.
struct Pieces {
    state: State,
    /// Bytes still to come, where the size is known.
    left: Option<u64>,
}

enum State {
    Idle(Reader),
    Reading(JoinHandle<(Reader, io::Result<Bytes>)>),
    Done,
}

impl HttpBody for Pieces {
    type Data = Bytes;
    type Error = io::Error;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, io::Error>>> {
        loop {
            match std::mem::replace(&mut self.state, State::Done) {
                State::Done => return Poll::Ready(None),
                State::Idle(mut reader) => {
                    self.state = State::Reading(tokio::task::spawn_blocking(move || {
                        let mut piece = Vec::with_capacity(PIECE);
                        let read = (&mut reader).take(PIECE as u64).read_to_end(&mut piece);
                        let piece = read.map(|_| Bytes::from(piece));
                        (reader, piece)
                    }));
                }
                State::Reading(mut reading) => {
                    let Poll::Ready(finished) = Pin::new(&mut reading).poll(context) else {
                        self.state = State::Reading(reading);
                        return Poll::Pending;
                    };
                    let (reader, piece) = finished.map_err(io::Error::other)?;
                    return match piece {
                        Ok(piece) if piece.is_empty() => Poll::Ready(None),
                        Ok(piece) => {
                            self.state = State::Idle(reader);
                            self.left = self
                                .left
                                .map(|left| left.saturating_sub(piece.len() as u64));
                            Poll::Ready(Some(Ok(Frame::data(piece))))
                        }
                        Err(cause) => {
                            tracing::error!(%cause, "a kept log could not be read");
                            Poll::Ready(Some(Err(cause)))
                        }
                    };
                }
            }
        }
    }

    fn size_hint(&self) -> SizeHint {
        self.left
            .map_or_else(SizeHint::default, SizeHint::with_exact)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_name_can_neither_leave_its_folder_nor_its_header() {
        let shown = |name| attachment(name).to_str().unwrap().to_owned();
        assert_eq!(
            shown("idle 115.csv"),
            "attachment; filename=\"idle_115.csv\"; filename*=UTF-8''idle%20115.csv"
        );
        let odd = shown("../..\\etc/\"passwd\"\r\nX: y");
        assert!(
            odd.starts_with("attachment; filename=\"_.._etc__passwd___X__y\""),
            "{odd}"
        );
        assert!(
            !odd.contains('/') && !odd.contains("%2F") && !odd.contains('\\'),
            "{odd}"
        );
        assert!(shown("…").contains("filename=\"_\""));
        assert!(shown("...").contains("filename=\"log\""));
    }
}

//! A log on its way in: a request's body, of any length, to the disk while it is read.
//!
//! Such a request has no deadline of its own; instead it is given up when nothing has come in for
//! as long as any other request may take altogether. A body that stops half-way, or is given up,
//! leaves nothing.

use super::{Site, error::Error};
use crate::{
    bench::decode::{is_name_of_file, turns_text},
    intake::logs::{self, Imported},
    storage::{
        self,
        audit::{self, Change, Who},
        logs::{self as stored, LogFile},
    },
};
use axum::{
    body::{Body, Bytes},
    extract::multipart::{Field, MultipartError},
};
use http_body_util::BodyExt;
use std::io::{self, Read};
use tokio::sync::mpsc;

/// Chunks between the network and whoever reads them.
const UNDER_WAY: usize = 16;

/// Longest name of a log, in characters.
const LONGEST_NAME: usize = 200;

/// Where the bytes come from.
pub enum Source<'a> {
    Body(Body),
    Field(Box<Field<'a>>),
}

impl Source<'_> {
    /// The next bytes, `None` at the end.
    pub async fn next(&mut self) -> Result<Option<Bytes>, Error> {
        match self {
            Source::Field(field) => field.chunk().await.map_err(|cause| cut_short(&cause)),
            Source::Body(body) => loop {
                match body.frame().await {
                    None => return Ok(None),
                    Some(Err(_)) => return Err(ended_early()),
                    Some(Ok(frame)) => {
                        if let Ok(bytes) = frame.into_data() {
                            return Ok(Some(bytes));
                        }
                    }
                }
            },
        }
    }
}

/// What a broken multipart body is told as.
pub fn cut_short(_: &MultipartError) -> Error {
    ended_early()
}

fn ended_early() -> Error {
    Error::Invalid("The upload ended early, so nothing was kept. Please send it again.".into())
}

/// A log that was taken in and entered.
pub struct TakenIn {
    pub file: LogFile,
    /// Name of the saved layout that it was read by.
    pub used_saved: Option<String>,
    /// The same bytes were here before.
    pub was_here: bool,
}

/// Takes a log in: its bytes to the disk, what reading them gave to the database.
///
/// # Errors
/// The body ends early, stalls, or is larger than the site takes; the disk is full. Nothing is
/// kept then.
pub async fn take_in(
    site: &Site,
    name: String,
    mut source: Source<'_>,
    who: Who,
) -> Result<TakenIn, Error> {
    let saved = stored::saved_layouts(&mut *site.db.read().await?).await?;
    let (sender, chunks) = mpsc::channel(UNDER_WAY);
    let (files, task_site) = (site.db.logs().clone(), site.clone());
    // A task of its own: once the last byte is here, the log is entered even if nobody waits for
    // the answer any more.
    let keeping = tokio::spawn(async move {
        let imported = tokio::task::spawn_blocking(move || {
            let arriving = Arriving {
                chunks,
                present: Bytes::new(),
                ended: false,
            };
            logs::import(&files, arriving, None, &saved, &mut |_| {})
        })
        .await
        .map_err(Error::internal)?
        .map_err(not_kept)?;
        enter(&task_site, name, imported, &who).await
    });
    let sent = forward(site, &mut source, &sender).await;
    drop(sender);
    let kept = keeping.await.map_err(Error::internal)?;
    match sent {
        // Whoever keeps the log went away first, and knows why.
        Ok(()) | Err(Error::Internal(_)) => kept,
        Err(why) => {
            if matches!(why, Error::TooLarge) {
                discard(site, &mut source).await;
            }
            Err(why)
        }
    }
}

/// Hands the bytes on as they come.
async fn forward(
    site: &Site,
    source: &mut Source<'_>,
    sender: &mpsc::Sender<Piece>,
) -> Result<(), Error> {
    let mut size = 0u64;
    loop {
        let piece = match unless_stalled(site, source).await? {
            Some(bytes) => {
                size += bytes.len() as u64;
                if size > site.config.log_limit_bytes {
                    return Err(Error::TooLarge);
                }
                Piece::Bytes(bytes)
            }
            None => Piece::End,
        };
        let ended = matches!(piece, Piece::End);
        sender.send(piece).await.map_err(Error::internal)?;
        if ended {
            return Ok(());
        }
    }
}

async fn unless_stalled(site: &Site, source: &mut Source<'_>) -> Result<Option<Bytes>, Error> {
    match tokio::time::timeout(site.config.request_timeout, source.next()).await {
        Ok(next) => next,
        Err(_) => Err(Error::TookTooLong),
    }
}

/// Reads on without keeping anything, because a browser shows an answer only when it has sent
/// everything; at most as much again as the site takes.
async fn discard(site: &Site, source: &mut Source<'_>) {
    let mut size = 0u64;
    while let Ok(Some(bytes)) = unless_stalled(site, source).await {
        size += bytes.len() as u64;
        if size > site.config.log_limit_bytes {
            return;
        }
    }
}

fn not_kept(cause: io::Error) -> Error {
    match cause.kind() {
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => Error::NoRoom,
        io::ErrorKind::ConnectionAborted => ended_early(),
        _ => Error::internal(cause),
    }
}

/// Enters what came in. A log that was here and could be read stays as it was understood then:
/// somebody may have corrected how it is read. The desk lists it under its first name; whoever
/// sends it again is answered with the name that was sent, which a record may refer to it by.
async fn enter(site: &Site, name: String, imported: Imported, who: &Who) -> Result<TakenIn, Error> {
    let layout = imported.layout.as_ref().map(serde_json::to_string);
    let summary = imported.summary.as_ref().ok().map(serde_json::to_string);
    let file = LogFile {
        sha256: imported.kept.sha256,
        name: name.clone(),
        size_bytes: imported.kept.size_bytes,
        stored_bytes: imported.kept.stored_bytes,
        layout: layout.transpose().map_err(Error::internal)?,
        summary: summary.transpose().map_err(Error::internal)?,
        fault: imported.summary.err(),
        created_at: site.clock.now(),
    };
    let mut tx = site.db.write().await?;
    let before = match stored::find(&mut tx, &file.sha256).await {
        Ok(before) => Some(before),
        Err(storage::Error::NotFound) => None,
        Err(cause) => return Err(cause.into()),
    };
    if let Some(before) = before.clone().filter(|before| before.summary.is_some()) {
        return Ok(TakenIn {
            file: LogFile { name, ..before },
            used_saved: None,
            was_here: true,
        });
    }
    stored::enter(&mut tx, &file, who.operator_id).await?;
    let change = Change::new("log.kept", format!("log {}", file.sha256)).detail(&name);
    audit::write(&mut tx, who, change, file.created_at).await?;
    let entered = stored::find(&mut tx, &file.sha256).await?;
    let file = LogFile { name, ..entered };
    tx.commit().await?;
    Ok(TakenIn {
        file,
        used_saved: imported.used_saved,
        was_here: before.is_some(),
    })
}

/// What a log is called, from the name of its file: without folders, on one line, not too long.
pub fn name_of(given: &str) -> String {
    let name: String = given
        .rsplit(['/', '\\'])
        .next()
        .unwrap_or_default()
        .chars()
        .filter(|c| !c.is_control() && !turns_text(*c))
        .collect();
    let name = name.trim();
    let length = name.chars().count();
    if name.is_empty() || !is_name_of_file(name) {
        "log.csv".to_owned()
    } else if length > LONGEST_NAME {
        // The end tells what kind of file it is.
        name.chars().skip(length - LONGEST_NAME).collect()
    } else {
        name.to_owned()
    }
}

enum Piece {
    Bytes(Bytes),
    /// The log is whole.
    End,
}

/// Reads what comes in, on a thread that may wait for it.
struct Arriving {
    chunks: mpsc::Receiver<Piece>,
    present: Bytes,
    ended: bool,
}

impl Read for Arriving {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        while self.present.is_empty() && !self.ended {
            match self.chunks.blocking_recv() {
                Some(Piece::Bytes(bytes)) => self.present = bytes,
                Some(Piece::End) => self.ended = true,
                // The sender went away before the end.
                None => return Err(io::ErrorKind::ConnectionAborted.into()),
            }
        }
        let count = self.present.len().min(buffer.len());
        buffer[..count].copy_from_slice(&self.present.split_to(count));
        Ok(count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_the_last_part_of_a_path_on_one_line() {
        assert_eq!(name_of("C:\\bench\\no load.csv"), "no load.csv");
        assert_eq!(name_of("../../etc/passwd"), "passwd");
        assert_eq!(name_of("a\nb\u{0}.csv"), "ab.csv");
        assert_eq!(name_of(" / "), "log.csv");
        assert_eq!(name_of("logs/.."), "log.csv");
        assert_eq!(name_of("."), "log.csv");
        assert_eq!(name_of("a\u{202e}vsc\u{2069}.csv"), "avsc.csv");
        let long = format!("{}.csv", "x".repeat(400));
        assert_eq!(name_of(&long).chars().count(), LONGEST_NAME);
        assert!(name_of(&long).ends_with(".csv"));
    }

    #[test]
    fn a_reader_gets_every_byte_and_then_the_end_or_learns_that_there_was_none() {
        let (sender, chunks) = mpsc::channel(8);
        let arriving = |chunks| Arriving {
            chunks,
            present: Bytes::new(),
            ended: false,
        };
        for piece in ["ab", "", "cde"] {
            sender.blocking_send(Piece::Bytes(piece.into())).ok();
        }
        sender.blocking_send(Piece::End).ok();
        let mut text = String::new();
        arriving(chunks).read_to_string(&mut text).unwrap();
        assert_eq!(text, "abcde");

        let (sender, chunks) = mpsc::channel(8);
        sender.blocking_send(Piece::Bytes("ab".into())).ok();
        drop(sender);
        let cause = arriving(chunks).read_to_string(&mut text).unwrap_err();
        assert_eq!(cause.kind(), io::ErrorKind::ConnectionAborted);
    }
}

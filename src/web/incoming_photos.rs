//! A photo on its way in: from a form or the API to the database, decoded and encoded anew on the
//! way. One picture is worked on at a time, whoever sends it: decoding one may take some hundred
//! megabytes for a second.

use super::{Site, error::Error, incoming::Source};
use crate::{
    photo::{self, LARGEST_FILE_BYTES},
    storage::{
        audit::{self, Change, Who},
        photos::{self, Photo},
    },
};
use tokio::sync::Semaphore;

static ONE_AT_A_TIME: Semaphore = Semaphore::const_new(1);

/// A photo that was taken in and entered.
pub struct TakenIn {
    pub photo: Photo,
    /// The same picture was here before.
    pub was_here: bool,
}

/// Takes a photo in. Nothing is kept unless this succeeds.
///
/// # Errors
/// The body ends early, stalls or is larger than 20 MB; the file is no picture that is taken, said
/// in words with the file's name.
pub async fn take_in(
    site: &Site,
    name: String,
    mut source: Source<'_>,
    who: &Who,
) -> Result<TakenIn, Error> {
    let bytes = match whole(site, &mut source).await {
        Err(Error::TooLarge) => {
            discard(site, &mut source).await;
            return Err(Error::TooLargeFor(format!(
                "“{name}” is larger than the {} MB that a photo may have, so it was not kept.",
                LARGEST_FILE_BYTES / 1_000_000
            )));
        }
        bytes => bytes?,
    };
    let turn = ONE_AT_A_TIME.acquire().await.map_err(Error::internal)?;
    let made = tokio::task::spawn_blocking(move || photo::take_in(&bytes)).await;
    drop(turn);
    let kept = match made {
        Ok(Ok(kept)) => kept,
        Ok(Err(why)) => {
            return Err(Error::Unprocessable(format!(
                "“{name}” was not kept: {}; expected {}.",
                why.found, why.expected
            )));
        }
        // A decoder that gives up on such bytes must not take more with it than this answer.
        Err(cause) if cause.is_panic() => {
            tracing::error!("a picture's decoder panicked");
            return Err(Error::Unprocessable(format!(
                "“{name}” was not kept: it cannot be read; expected a whole JPEG, PNG or WebP picture."
            )));
        }
        Err(cause) => return Err(Error::internal(cause)),
    };
    let mut tx = site.db.write().await?;
    let now = site.clock.now();
    let is_new = photos::enter(&mut tx, &kept, &name, who.operator_id, now).await?;
    if is_new {
        let change = Change::new("photo.kept", format!("photo {}", kept.sha256())).detail(&name);
        audit::write(&mut tx, who, change, now).await?;
    }
    let entered = photos::find(&mut tx, &kept.sha256()).await?;
    tx.commit().await?;
    // A published page may have waited for it.
    site.refresh().await?;
    Ok(TakenIn {
        photo: Photo { name, ..entered },
        was_here: !is_new,
    })
}

/// The bytes of a file that is not larger than a photo may be.
async fn whole(site: &Site, source: &mut Source<'_>) -> Result<Vec<u8>, Error> {
    let mut bytes = Vec::new();
    while let Some(piece) = next(site, source).await? {
        if (bytes.len() + piece.len()) as u64 > LARGEST_FILE_BYTES {
            return Err(Error::TooLarge);
        }
        bytes.extend_from_slice(&piece);
    }
    Ok(bytes)
}

async fn next(site: &Site, source: &mut Source<'_>) -> Result<Option<bytes::Bytes>, Error> {
    match tokio::time::timeout(site.config.request_timeout, source.next()).await {
        Ok(next) => next,
        Err(_) => Err(Error::TookTooLong),
    }
}

/// Reads on without keeping anything, because a browser shows an answer only when it has sent
/// everything; at most some times as much as a photo may have.
async fn discard(site: &Site, source: &mut Source<'_>) {
    let mut size = 0;
    while let Ok(Some(piece)) = next(site, source).await {
        size += piece.len() as u64;
        if size > 5 * LARGEST_FILE_BYTES {
            return;
        }
    }
}

//! What can go wrong with the store, as far as a caller treats it differently.

use std::path::PathBuf;

#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// What was asked for is not there.
    #[error("not found")]
    NotFound,
    /// It would break a rule that the store holds, such as one unit per identity; the text says which.
    #[error("{0}")]
    Conflict(String),
    /// Another process holds the database; trying again later may succeed.
    #[error("the database is busy: another process is writing to it; try again in a moment")]
    Busy,
    /// The file cannot be opened as a database of this program; the text says why and what to do.
    #[error("cannot use the database {}: {why}", path.display())]
    Unusable { path: PathBuf, why: String },
    /// There is no room left on the disk; nothing was written.
    #[error("the disk that holds the database is full; nothing was written")]
    NoRoom,
    /// The database, its folder or its disk cannot be written to.
    #[error(
        "the database cannot be written to: its file, its folder or its disk is read-only; \
             see to the owner and the permissions of the data directory, and to how its disk is mounted"
    )]
    ReadOnly,
    /// Anything else. The cause is for the log, not for visitors.
    #[error("the database failed: {0}")]
    Failed(#[source] sqlx::Error),
    /// A stored document does not read as what it should be.
    #[error("a stored {what} cannot be read: {cause}")]
    Corrupt { what: &'static str, cause: String },
}

impl Error {
    /// Would the same call, made later, have a chance?
    pub fn is_retriable(&self) -> bool {
        matches!(self, Error::Busy)
    }
}

/// Whether a statement met what it was meant for.
///
/// # Errors
/// [`Error::NotFound`] if it met nothing.
pub(super) fn found(done: &sqlx::sqlite::SqliteQueryResult) -> Result<(), Error> {
    match done.rows_affected() {
        0 => Err(Error::NotFound),
        _ => Ok(()),
    }
}

/// Primary result codes of SQLite: the low byte of the extended code that sqlx reports
/// (`SQLITE_BUSY_SNAPSHOT` is 517 = 5 + 2 * 256).
const SQLITE_BUSY: i32 = 5;
const SQLITE_LOCKED: i32 = 6;
const SQLITE_READONLY: i32 = 8;
const SQLITE_FULL: i32 = 13;
/// Extended code: the index of the write-ahead log could not grow.
const SQLITE_IOERR_SHMSIZE: i32 = 4874;

impl From<sqlx::Error> for Error {
    fn from(error: sqlx::Error) -> Self {
        match &error {
            sqlx::Error::RowNotFound => Error::NotFound,
            sqlx::Error::PoolTimedOut => Error::Busy,
            sqlx::Error::Database(cause) if cause.is_unique_violation() => {
                Error::Conflict(cause.message().to_string())
            }
            sqlx::Error::Database(cause) => {
                let code = cause
                    .code()
                    .and_then(|code| code.parse::<i32>().ok())
                    .unwrap_or(0);
                if code == SQLITE_IOERR_SHMSIZE {
                    return Error::NoRoom;
                }
                match code & 0xff {
                    SQLITE_BUSY | SQLITE_LOCKED => Error::Busy,
                    SQLITE_READONLY => Error::ReadOnly,
                    SQLITE_FULL => Error::NoRoom,
                    _ => Error::Failed(error),
                }
            }
            _ => Error::Failed(error),
        }
    }
}

//! SQL lives here and only here; knows the domain, not HTTP.
//!
//! Functions take a connection and compose; the caller opens it with [`Db::write`] (one
//! `BEGIN IMMEDIATE` transaction at a time) or [`Db::read`]. Compute first, then write: nothing
//! slow happens inside a transaction.

pub mod db;
pub mod error;
pub mod hold;
pub mod inspection;
pub mod instant;

pub mod units;

pub mod evaluations;
pub mod publications;
pub mod rankings;

pub mod log_files;
pub mod logs;

pub mod photos;

pub mod published;

pub mod audit;

pub mod operators;
pub mod sessions;

pub mod api_tokens;
pub mod invitations;
pub mod passkeys;
pub mod second_factors;

pub mod drafts;
pub mod preview_links;

pub mod candidates;
pub mod suggestions;

pub mod public_change;
pub mod settings;

pub mod archive;
pub mod backup;
pub mod backup_schedule;
pub mod exchange;
pub mod soundness;

pub use db::{Db, Transaction};
pub use error::Error;
pub use log_files::LogFiles;
/// What storage functions work on: a reader, or a transaction of the writer.
pub use sqlx::SqliteConnection as Connection;

/// Makes a data folder, with those above it, if it is not there.
///
/// # Errors
/// It cannot be made.
pub fn make_data_dir(path: &std::path::Path) -> std::io::Result<()> {
    let mut folder = std::fs::DirBuilder::new();
    folder.recursive(true);
    // It holds password hashes: for nobody else's eyes.
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut folder, 0o700);
    folder.create(path)
}

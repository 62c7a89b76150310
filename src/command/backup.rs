//! `backup` and `restore`: the whole data folder as one archive, and back.

use super::{Failure, open_to_read};
use crate::config::Config;
use crate::quantity::words::counted;
use crate::storage::backup::{self, BackupError};
use std::io::Write;
use std::path::PathBuf;
use time::OffsetDateTime;

/// Copy everything into one archive, while the server runs
///
/// The archive (ZIP) holds the database with accounts, drafts and photos, and every raw log, all of
/// one moment, each with its SHA-256. It appears under its name only when it was read back and
/// found whole. Keep it where only you can read it. `serve` can make backups by itself: see the
/// settings backup_dir, backup_every_h, backup_keep_days and backup_keep_weeks.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  \
    brickbook backup /mnt/elsewhere/bricks-monday.zip")]
pub struct Backup {
    /// The archive to write; a file that is there is left alone
    #[arg(value_name = "FILE")]
    archive: PathBuf,
}

impl Backup {
    pub async fn run(self, config: &Config) -> Result<(), Failure> {
        let db = open_to_read(config).await?;
        let about = backup::write(&db, &self.archive, OffsetDateTime::now_utc()).await?;
        db.close().await;
        for sha256 in &about.missing_logs {
            eprintln!("warning: the log {sha256} is not at hand; the backup is without it");
        }
        let bytes = std::fs::metadata(&self.archive)?.len();
        writeln!(
            std::io::stdout(),
            "{}: {} and {}, {:.1} MB, read back and whole",
            self.archive.display(),
            counted(usize::try_from(about.units).unwrap_or(0), "unit", "units"),
            counted(about.logs, "raw log", "raw logs"),
            bytes as f64 / 1e6,
        )?;
        Ok(())
    }
}

/// Put a backup in place
///
/// The archive is checked from end to end before anything is touched, and the server must be
/// stopped. The data directory must be empty; with --replace, what is in it is moved into a folder
/// replaced-… there and nothing is deleted. Accounts, sessions and tokens are those of the time of
/// the backup: what was revoked since must be revoked again.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    brickbook restore bricks-monday.zip --data-dir /var/lib/brickbook\n  \
    brickbook restore bricks-monday.zip --replace")]
pub struct Restore {
    /// The archive that `brickbook backup` wrote
    #[arg(value_name = "FILE")]
    archive: PathBuf,

    /// Move what the data directory holds aside
    #[arg(long)]
    replace: bool,
}

impl Restore {
    pub async fn run(self, config: &Config) -> Result<(), Failure> {
        let now = OffsetDateTime::now_utc();
        let restored = backup::restore(&self.archive, &config.data_dir, self.replace, now)
            .await
            .map_err(|cause| match cause {
                BackupError::Unsound(why) => {
                    Failure::Failed(format!("{}: {why}", self.archive.display()))
                }
                cause => cause.into(),
            })?;
        let about = restored.about;
        let mut out = std::io::stdout().lock();
        writeln!(
            out,
            "{}: {} and {} as of {}",
            config.data_dir.display(),
            counted(usize::try_from(about.units).unwrap_or(0), "unit", "units"),
            counted(about.logs, "raw log", "raw logs"),
            about.made_at,
        )?;
        if let Some(aside) = restored.moved_aside {
            writeln!(out, "what was there before lies in {}", aside.display())?;
        }
        Ok(())
    }
}

impl From<BackupError> for Failure {
    fn from(error: BackupError) -> Self {
        match error {
            BackupError::Exists(_) | BackupError::Occupied(_) => Failure::Input(error.to_string()),
            error => Failure::Failed(error.to_string()),
        }
    }
}

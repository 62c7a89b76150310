//! `bundle` and `verify`: everything that a unit's figures rest on as one archive, and the check
//! that they follow from it.

use super::{Failure, open_existing};
use crate::config::Config;
use crate::intake::bundle::{self, BundleError, Contents};
use crate::storage::{self, instant, photos, units};
use std::io::Write;
use std::path::PathBuf;

/// Write one archive with a unit's record, photos, raw logs, evaluation and citations
///
/// The archive is a ZIP file that `brickbook verify` checks and computes again on any machine.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    brickbook bundle larkfield-lf-100q\n  \
    brickbook bundle larkfield-lf-100q --revision 1 -o first.zip\n  \
    brickbook verify larkfield-lf-100q.r2.zip")]
pub struct Bundle {
    /// The published unit (the last part of its address)
    #[arg(value_name = "UNIT")]
    slug: String,

    /// Which revision [default: the newest]
    #[arg(long, value_name = "NUMBER")]
    revision: Option<i64>,

    /// Where to write; a file that is there is left alone [default: UNIT.rN.zip]
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
}

impl Bundle {
    pub async fn run(self, config: &Config) -> Result<(), Failure> {
        let db = open_existing(config).await?;
        let mut connection = db.read().await?;
        let unit = units::find_by_slug(&mut connection, &self.slug)
            .await
            .map_err(|cause| missing(cause, format!("there is no unit {}", self.slug)))?;
        let record = match self.revision {
            None => units::newest_record_text(&mut connection, unit.id).await?,
            Some(number) => units::record_text(&mut connection, unit.id, number)
                .await
                .map_err(|cause| {
                    missing(cause, format!("{} has no revision {number}", self.slug))
                })?,
        };
        let photos = photos::of_revision(&mut connection, record.revision.id).await?;
        drop(connection);
        let number = record.revision.number;
        let path = self
            .output
            .unwrap_or_else(|| PathBuf::from(format!("{}.r{number}.zip", self.slug)));
        let contents = Contents {
            record_text: &record.text,
            slug: &unit.slug,
            revision: number,
            author: &record.revision.author,
            published_at: instant::to_text(record.revision.created_at),
            photos: &photos,
        };
        let about = bundle::write(&path, &contents, db.logs(), &config.method())
            .map_err(|cause| Failure::Failed(format!("{}: {cause}", path.display())))?;
        for sha256 in &about.missing_logs {
            eprintln!("warning: the log {sha256} is not kept here; the archive is without it");
        }
        for sha256 in &about.missing_photos {
            eprintln!("warning: the photo {sha256} is not kept here; the archive is without it");
        }
        writeln!(
            std::io::stdout(),
            "{}: {} revision {number}",
            path.display(),
            unit.slug
        )?;
        db.close().await;
        Ok(())
    }
}

fn missing(cause: storage::Error, words: String) -> Failure {
    match cause {
        storage::Error::NotFound => Failure::Input(words),
        cause => cause.into(),
    }
}

/// Check an archive of `brickbook bundle` and compute every figure again
///
/// Says whether any byte was changed since the archive was made, whether photos and raw logs are
/// those that the record names, and whether every figure follows from them. Needs no database. The exit
/// code is 0 if all is sound, 1 if not.
#[derive(Debug, clap::Args)]
pub struct Verify {
    /// The archive
    archive: PathBuf,
}

impl Verify {
    pub fn run(self) -> Result<(), Failure> {
        let shown = self.archive.display();
        let verified = bundle::verify(&self.archive).map_err(|cause| match cause {
            BundleError::Io(cause) => Failure::Input(format!("{shown}: {cause}")),
            BundleError::Unsound(cause) => Failure::Failed(format!("{shown}: {cause}")),
        })?;
        for note in &verified.notes {
            eprintln!("note: {note}");
        }
        for fault in &verified.faults {
            eprintln!("{fault}");
        }
        let about = &verified.about;
        let mut out = std::io::stdout().lock();
        writeln!(
            out,
            "{} revision {} by {}, published {}, engine {}",
            about.slug, about.revision, about.author, about.published_at, about.engine
        )?;
        writeln!(out, "archive SHA-256 {}", verified.archive_sha256)?;
        let last_digits = match verified.last_digits {
            0 => String::new(),
            count => format!(", {count} of them but for the last digits"),
        };
        let photos = match verified.photos {
            0 => String::new(),
            1 => " and 1 photo".to_owned(),
            count => format!(" and {count} photos"),
        };
        let lacking: Vec<String> = [
            (verified.missing_logs, verified.logs, "raw logs"),
            (verified.missing_photos, verified.photos, "photos"),
        ]
        .into_iter()
        .filter(|(missing, ..)| *missing > 0)
        .map(|(missing, held, what)| format!("{missing} of {} {what}", missing + held))
        .collect();
        if verified.faults.is_empty() && !lacking.is_empty() {
            writeln!(
                out,
                "unchanged, but {} are not in it: {} figures follow from what it holds{last_digits}",
                lacking.join(" and "),
                verified.figures
            )?;
            return Ok(());
        }
        if verified.faults.is_empty() {
            writeln!(
                out,
                "sound: {} raw logs{photos} as named, {} figures computed again and equal{last_digits}",
                verified.logs, verified.figures
            )?;
            return Ok(());
        }
        Err(Failure::Failed(format!(
            "{shown} is not sound: {}",
            match verified.faults.len() {
                1 => "1 fault".to_owned(),
                count => format!("{count} faults"),
            }
        )))
    }
}

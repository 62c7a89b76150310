//! `export`: every record out of the database, as it was entered.

use super::rescore::Progress;
use super::{Failure, open_existing};
use crate::config::Config;
use crate::intake::exchange;
use crate::intake::file::{on_one_line, revision_line};
use crate::storage::{Db, photos, units};
use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

/// Units read at once.
const AT_ONCE: i64 = 100;

/// Write all records out, without loss
///
/// With --everything, writes a folder that holds all but the accounts in an open format: every
/// revision, evaluation, photo and raw log, the queue, suggestions, drafts and saved layouts; its
/// file format.md explains it. `brickbook import` reads it. Without it:
///
/// Writes JSON lines: one record a line, in the order of publication, exactly as entered except
/// that a record which was entered on several lines loses the white space between its tokens;
/// numbers and texts stay as they were written. With --all-revisions each line holds one revision
/// (format brickbook-revision/1) with its author, reason and time. `brickbook add` reads both.
///
/// With -o and a folder, each record becomes a file of its own that is byte for byte what was
/// entered: SLUG.json, or SLUG.rN.json for every revision N with --all-revisions, beside a file
/// history.jsonl with authors, reasons and times. The photos that these records name stand in its
/// folder photos, where `brickbook add` finds them.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    brickbook export > records.jsonl\n  \
    brickbook export --all-revisions -o backup.jsonl\n  \
    brickbook export -o records/        one file a unit, byte for byte\n\n\
    brickbook export --everything -o all/    for another database, or another program\n\n\
    Accounts and tokens are never exported; `brickbook backup` copies them as well.")]
pub struct Export {
    /// All but the accounts, in a new folder that explains itself
    #[arg(long, conflicts_with = "all_revisions", requires = "output")]
    everything: bool,

    /// Every revision with its author, reason and time, not only the newest
    #[arg(long)]
    all_revisions: bool,

    /// Where to write: a file, a folder (one that exists, or a name ending in /), or - [default: standard output]
    #[arg(short, long, value_name = "FILE|DIR")]
    output: Option<PathBuf>,
}

impl Export {
    pub async fn run(self, config: &Config) -> Result<(), Failure> {
        if let (true, Some(folder)) = (self.everything, &self.output) {
            return write_everything(config, folder).await;
        }
        let db = open_existing(config).await?;
        let output = self
            .output
            .as_deref()
            .filter(|path| path.as_os_str() != "-");
        let count = match output {
            None => {
                let mut out = BufWriter::new(io::stdout().lock());
                let count = self.write_lines(&db, &mut out).await?;
                out.flush()?;
                count
            }
            Some(path) if is_folder(path) => self.write_folder(&db, path).await?,
            Some(path) => self.write_file(&db, path).await?,
        };
        db.close().await;
        eprintln!(
            "exported {count} {}",
            if self.all_revisions {
                "revisions"
            } else {
                "records"
            }
        );
        Ok(())
    }

    /// A file appears under its name only when it is whole.
    async fn write_file(&self, db: &Db, path: &Path) -> Result<u64, Failure> {
        let unfinished = PathBuf::from(format!("{}.unfinished", path.display()));
        let told = |cause: io::Error| Failure::Failed(format!("{}: {cause}", path.display()));
        let mut out = BufWriter::new(File::create(&unfinished).map_err(told)?);
        let count = self.write_lines(db, &mut out).await?;
        let file = out.into_inner().map_err(|error| told(error.into_error()))?;
        file.sync_all().map_err(told)?;
        fs::rename(&unfinished, path).map_err(told)?;
        Ok(count)
    }

    async fn write_lines(&self, db: &Db, out: &mut impl Write) -> Result<u64, Failure> {
        let mut count = 0;
        self.each(db, |slug, record| {
            count += 1;
            if self.all_revisions {
                writeln!(out, "{}", revision_line(slug, record))
            } else {
                writeln!(out, "{}", on_one_line(&record.text))
            }
        })
        .await?;
        Ok(count)
    }

    async fn write_folder(&self, db: &Db, folder: &Path) -> Result<u64, Failure> {
        let told = |cause: io::Error| Failure::Failed(format!("{}: {cause}", folder.display()));
        fs::create_dir_all(folder).map_err(told)?;
        let mut history = match self.all_revisions {
            true => Some(BufWriter::new(
                File::create(folder.join("history.jsonl")).map_err(told)?,
            )),
            false => None,
        };
        let mut count = 0;
        let mut revisions = Vec::new();
        self.each(db, |slug, record| {
            count += 1;
            let name = match &mut history {
                None => format!("{slug}.json"),
                Some(history) => {
                    let name = format!("{slug}.r{}.json", record.revision.number);
                    let line = serde_json::json!({
                        "file": name,
                        "slug": slug,
                        "revision": record.revision.number,
                        "author": record.revision.author,
                        "reason": record.revision.reason,
                        "created_at": crate::storage::instant::to_text(record.revision.created_at),
                    });
                    writeln!(history, "{line}")?;
                    name
                }
            };
            revisions.push(record.revision.id);
            fs::write(folder.join(name), &record.text)
        })
        .await
        .map_err(|failure| match failure {
            Failure::Failed(cause) => Failure::Failed(format!("{}: {cause}", folder.display())),
            other => other,
        })?;
        if let Some(mut history) = history {
            history.flush().map_err(told)?;
        }
        write_photos(db, &revisions, &folder.join("photos")).await?;
        Ok(count)
    }

    /// Hands over every record that is asked for, all from one state of the database.
    async fn each(
        &self,
        db: &Db,
        mut take: impl FnMut(&str, &units::RecordText) -> io::Result<()>,
    ) -> Result<(), Failure> {
        let mut snapshot = db.snapshot().await?;
        let mut last_unit = 0;
        loop {
            let page = units::page(&mut snapshot, last_unit, AT_ONCE).await?;
            let Some(last) = page.last() else {
                return Ok(());
            };
            last_unit = last.id;
            for unit in &page {
                let newest = units::newest_record_text(&mut snapshot, unit.id).await?;
                if self.all_revisions {
                    for number in 1..newest.revision.number {
                        take(
                            &unit.slug,
                            &units::record_text(&mut snapshot, unit.id, number).await?,
                        )?;
                    }
                }
                take(&unit.slug, &newest)?;
            }
        }
    }
}

async fn write_everything(config: &Config, folder: &Path) -> Result<(), Failure> {
    let db = open_existing(config).await?;
    let mut progress = Progress::new("units");
    let written = exchange::export(&db, folder, |done, total| progress.tell(done, total)).await;
    progress.finish();
    let (counts, missing_logs) = written?;
    db.close().await;
    for sha256 in missing_logs {
        eprintln!("warning: the log {sha256} is not at hand; the export is without it");
    }
    eprintln!("exported {}", super::import::in_words(&counts));
    Ok(())
}

/// Writes the photos that these revisions name, each once, named by its SHA-256.
async fn write_photos(db: &Db, revisions: &[i64], folder: &Path) -> Result<(), Failure> {
    let told = |cause: io::Error| Failure::Failed(format!("{}: {cause}", folder.display()));
    let mut connection = db.read().await?;
    for revision in revisions {
        for picture in photos::of_revision(&mut connection, *revision).await? {
            let path = folder.join(format!("{}.jpg", picture.sha256));
            if !path.exists() {
                fs::create_dir_all(folder).map_err(told)?;
                fs::write(path, picture.jpeg).map_err(told)?;
            }
        }
    }
    Ok(())
}

/// A folder that exists, or a name that can only be meant as one.
fn is_folder(path: &Path) -> bool {
    path.is_dir()
        || path
            .to_string_lossy()
            .ends_with(['/', std::path::MAIN_SEPARATOR])
}

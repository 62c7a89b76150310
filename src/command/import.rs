//! `import`: an export back into a database.

use super::rescore::Progress;
use super::{Failure, open_or_make, read_text};
use crate::config::Config;
use crate::intake::exchange::{self, Counts, ExchangeError, Incoming};
use crate::quantity::words::counted;
use std::io::Write;
use std::path::PathBuf;
use time::OffsetDateTime;

/// Read back what `export` wrote
///
/// Takes a folder of `brickbook export --everything`, or a file of `brickbook export
/// --all-revisions`, with authors, reasons and times as they were. What is here already is left as
/// it is; what contradicts it is named, and then nothing is written: everything comes in, or
/// nothing. Figures of the present method are computed again and must be equal. Accounts are not
/// part of an export: make those whose drafts come in first.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    brickbook import all/ --data-dir new-data\n  \
    brickbook import revisions.jsonl")]
pub struct Import {
    /// The folder or file; - reads standard input
    #[arg(value_name = "DIR|FILE")]
    from: PathBuf,

    /// Leave out drafts, and who brought in photos and logs
    #[arg(long)]
    without_accounts: bool,
}

impl Import {
    pub async fn run(self, config: &Config) -> Result<(), Failure> {
        let incoming = if self.from.is_dir() {
            Incoming::folder(&self.from)?
        } else {
            Incoming::file(&read_text(&self.from)?)?
        };
        let db = open_or_make(config).await?;
        let mut progress = Progress::new("units");
        let imported = exchange::import(
            &db,
            &incoming,
            &config.method(),
            self.without_accounts,
            OffsetDateTime::now_utc(),
            |done, total| progress.tell(done, total),
        )
        .await;
        progress.finish();
        db.close().await;
        let imported = imported?;
        for note in &imported.notes {
            eprintln!("note: {note}");
        }
        writeln!(std::io::stdout(), "new here: {}", in_words(&imported.new))?;
        Ok(())
    }
}

/// What there is of each.
pub(super) fn in_words(counts: &Counts) -> String {
    [
        counted(counts.units, "unit", "units"),
        counted(counts.revisions, "revision", "revisions"),
        counted(counts.evaluations, "evaluation", "evaluations"),
        counted(counts.photos, "photo", "photos"),
        counted(counts.logs, "raw log", "raw logs"),
        counted(counts.layouts, "layout", "layouts"),
        counted(counts.candidates, "candidate", "candidates"),
        counted(counts.suggestions, "suggestion", "suggestions"),
        counted(counts.drafts, "draft", "drafts"),
    ]
    .join(", ")
}

impl From<ExchangeError> for Failure {
    fn from(error: ExchangeError) -> Self {
        match error {
            ExchangeError::Refused(_) => Failure::Input(error.to_string()),
            error => Failure::Failed(error.to_string()),
        }
    }
}

//! `check`: is everything that is stored whole?

use super::rescore::Progress;
use super::{Failure, open_to_read};
use crate::config::Config;
use crate::intake::check;
use crate::quantity::words::counted;
use std::io::Write;

/// Find out whether everything that is stored is whole
///
/// Checks the database file, every reference in it, every photo and raw log against its SHA-256,
/// every evaluation against one computed anew, and every row of the ranking against what it is
/// derived from. Reads only, also while the server runs. Evaluations of an earlier method are
/// counted; `brickbook rescore` renews those that are shown. The exit code is 0 if all is whole, 1
/// with a list of what is not.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  \
    brickbook check --data-dir /var/lib/brickbook")]
pub struct Check {}

impl Check {
    pub async fn run(self, config: &Config) -> Result<(), Failure> {
        let db = open_to_read(config).await?;
        let mut progress = Progress::new("checked");
        let checked = check::check(&db, &config.method(), |done, total| {
            progress.tell(done, total);
        })
        .await?;
        progress.finish();
        db.close().await;
        for note in &checked.notes {
            eprintln!("note: {note}");
        }
        for fault in &checked.faults {
            eprintln!("{fault}");
        }
        let number = |count: u64| usize::try_from(count).unwrap_or(usize::MAX);
        let mut out = std::io::stdout().lock();
        writeln!(
            out,
            "{} with {}, {} computed again and equal, {} of an earlier method, {} and {} read",
            counted(number(checked.units), "unit", "units"),
            counted(number(checked.revisions), "revision", "revisions"),
            counted(number(checked.evaluations), "evaluation", "evaluations"),
            checked.earlier_evaluations,
            counted(number(checked.photos), "photo", "photos"),
            counted(number(checked.logs), "raw log", "raw logs"),
        )?;
        if checked.faults.is_empty() {
            writeln!(out, "all is whole")?;
            return Ok(());
        }
        Err(Failure::Failed(format!(
            "{} found",
            counted(checked.faults.len(), "fault", "faults")
        )))
    }
}

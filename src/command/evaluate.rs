//! `evaluate`: what a record says, without a database.

use super::{Failure, read_text};
use crate::config::Config;
use crate::evaluate::warnings::future_dates;
use crate::evaluate::{Logs, NoLogs};
use crate::intake;
use crate::storage::log_files::LogFolder;
use std::io::Write;
use std::path::PathBuf;
use time::OffsetDateTime;

/// Work out what a record says, without storing it
///
/// Reads one record (format brickbook-record/1), writes its evaluation (format
/// brickbook-evaluation/1) as JSON to standard output. A record with faults is refused with all of
/// them, one a line, on standard error. Needs no database; only the settings score_line and classes
/// matter.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    brickbook evaluate my-adapter.json\n  \
    brickbook evaluate --score-line 230/50 my-adapter.json\n  \
    brickbook evaluate --logs bench-logs/ my-adapter.json\n  \
    cat my-adapter.json | brickbook evaluate - > evaluation.json")]
pub struct Evaluate {
    /// The record, or - for standard input
    file: PathBuf,

    /// Folder with the raw logs that the record names; they are found by their SHA-256
    #[arg(long, value_name = "DIR")]
    logs: Option<PathBuf>,
}

impl Evaluate {
    pub fn run(self, config: &Config) -> Result<(), Failure> {
        let text = read_text(&self.file)?;
        let text = text.strip_prefix('\u{feff}').unwrap_or(&text);
        let logs: Box<dyn Logs> = match &self.logs {
            None => Box::new(NoLogs),
            Some(folder) => Box::new(LogFolder::open(folder).map_err(|cause| {
                Failure::Input(format!("--logs {}: {cause}", folder.display()))
            })?),
        };
        let judged = intake::judge(text, &config.method(), &*logs).map_err(|problems| {
            for problem in &problems {
                eprintln!("{problem}");
            }
            Failure::Input(format!(
                "{}: refused, {}",
                self.file.display(),
                match problems.len() {
                    1 => "1 fault".to_string(),
                    faults => format!("{faults} faults"),
                }
            ))
        })?;
        let today = OffsetDateTime::now_utc().date().to_string();
        for warning in future_dates(&judged.record, &today) {
            eprintln!("warning: {}: {}", warning.path, warning.message);
        }
        let mut out = std::io::stdout().lock();
        serde_json::to_writer_pretty(&mut out, &judged.evaluation).map_err(std::io::Error::from)?;
        writeln!(out)?;
        Ok(())
    }
}

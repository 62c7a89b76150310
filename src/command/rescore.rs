//! `rescore`: all units again, when the method has changed.

use super::{Failure, open_existing};
use crate::config::Config;
use crate::intake;
use indicatif::{ProgressBar, ProgressStyle};
use std::io::{IsTerminal, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use time::OffsetDateTime;

/// Evaluate all units again after the method has changed
///
/// Needed after an upgrade that brings a new engine, limits or score formula, and after a change of
/// the settings score_line or classes. Evaluates the newest revision of every unit whose shown
/// evaluation was made by another method. Old evaluations are kept and stay visible in the unit's
/// history. It may be interrupted at any time, and run while the server runs; a second call goes
/// on where the first stopped.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  \
    brickbook rescore --score-line 230/50    (serve with the same setting afterwards)")]
pub struct Rescore {}

impl Rescore {
    pub async fn run(self, config: &Config) -> Result<(), Failure> {
        let db = open_existing(config).await?;
        let stopped = Arc::new(AtomicBool::new(false));
        let stop = Arc::clone(&stopped);
        tokio::spawn(async move {
            if tokio::signal::ctrl_c().await.is_ok() {
                stop.store(true, Ordering::Relaxed);
            }
        });

        let mut progress = Progress::new("units");
        let mut left = 0;
        let result = intake::rescore(
            &db,
            &config.method(),
            OffsetDateTime::now_utc(),
            |done, total| {
                progress.tell(done, total);
                left = total - done;
                !stopped.load(Ordering::Relaxed)
            },
        )
        .await?;
        progress.finish();
        db.close().await;

        for (slug, problems) in &result.refused {
            for problem in problems {
                eprintln!("{slug}: this version refuses the stored record: {problem}");
            }
        }
        let mut out = std::io::stdout().lock();
        writeln!(
            out,
            "{} units evaluated again, {} scores changed",
            result.units, result.changed
        )?;
        if let Some(largest) = &result.largest {
            writeln!(
                out,
                "largest change: {} from {:.1} to {:.1} ({:+.1})",
                largest.slug,
                largest.before,
                largest.after,
                largest.after - largest.before
            )?;
        }
        if stopped.load(Ordering::Relaxed) && left > 0 {
            return Err(Failure::Failed(format!(
                "interrupted with {left} units left; run rescore again to go on"
            )));
        }
        match result.refused.len() {
            0 => Ok(()),
            refused => Err(Failure::Failed(format!(
                "{refused} units keep their old evaluation because their record is refused"
            ))),
        }
    }
}

/// A bar on a terminal, a line now and then elsewhere.
pub(super) enum Progress {
    Bar(ProgressBar),
    Lines {
        what: &'static str,
        /// Tenths told so far.
        told: u64,
    },
}

impl Progress {
    /// `what` stands behind the numbers.
    pub fn new(what: &'static str) -> Progress {
        if !std::io::stderr().is_terminal() {
            return Progress::Lines { what, told: 0 };
        }
        let template = format!("{{bar:40}} {{pos}} of {{len}} {what}, {{eta}} left");
        let style = ProgressStyle::with_template(&template).expect("the template is well-formed");
        Progress::Bar(ProgressBar::new(0).with_style(style))
    }

    pub fn tell(&mut self, done: u64, total: u64) {
        match self {
            Progress::Bar(bar) => {
                bar.set_length(total);
                bar.set_position(done);
            }
            Progress::Lines { what, told } => {
                let tenths = (done * 10).checked_div(total).unwrap_or(0);
                if tenths > *told {
                    *told = tenths;
                    eprintln!("{done} of {total} {what}");
                }
            }
        }
    }

    pub fn finish(&self) {
        if let Progress::Bar(bar) = self {
            bar.finish_and_clear();
        }
    }
}

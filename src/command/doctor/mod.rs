//! `doctor`: what is wrong with an installation, why it matters, and what to do about it.

mod backups;
mod database;
mod folder;
mod network;
mod said;

use super::Failure;
use crate::config::{Config, Given, Origin};
use crate::quantity::words::counted;
use serde::Serialize;
use std::io::{self, Write};
use time::OffsetDateTime;

/// Look for what is wrong with this installation
///
/// Reads the settings, the folder of the data, the database, the clock, the ports, and the newest of
/// the backups that the server makes (from end to end), and changes no data. May be called while the
/// program serves. Each finding says what was found, why it matters and what to do. Exit code: 0 if
/// there is no fault (advice is none), else 1.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    brickbook doctor\n  \
    brickbook doctor --config /etc/brickbook.toml\n  \
    brickbook doctor --json   for a program that watches over it")]
pub struct Doctor {
    /// Write facts and findings as one JSON document
    #[arg(long)]
    json: bool,
}

/// How bad it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Grade {
    /// Something does not work, or is about to be lost.
    Fault,
    /// It works, and could be better.
    Advice,
}

/// Something that was found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Finding {
    pub grade: Grade,
    pub what: String,
    pub why: String,
    pub to_do: String,
}

/// What was looked at, and what was found.
#[derive(Debug, Default, Serialize)]
pub struct Report {
    /// What is so, in a word for each thing that was looked at.
    facts: Vec<(String, String)>,
    findings: Vec<Finding>,
}

impl Report {
    pub fn fact(&mut self, thing: impl Into<String>, state: impl Into<String>) {
        self.facts.push((thing.into(), state.into()));
    }

    pub fn fault(
        &mut self,
        what: impl Into<String>,
        why: impl Into<String>,
        to_do: impl Into<String>,
    ) {
        self.find(Grade::Fault, what, why, to_do);
    }

    pub fn advice(
        &mut self,
        what: impl Into<String>,
        why: impl Into<String>,
        to_do: impl Into<String>,
    ) {
        self.find(Grade::Advice, what, why, to_do);
    }

    fn find(
        &mut self,
        grade: Grade,
        what: impl Into<String>,
        why: impl Into<String>,
        to_do: impl Into<String>,
    ) {
        self.findings.push(Finding {
            grade,
            what: what.into(),
            why: why.into(),
            to_do: to_do.into(),
        });
    }

    fn count(&self, grade: Grade) -> usize {
        self.findings.iter().filter(|f| f.grade == grade).count()
    }

    fn write(&self, out: &mut impl Write) -> io::Result<()> {
        let width = self.facts.iter().map(|(thing, _)| thing.chars().count());
        let width = width.max().unwrap_or(0);
        for (thing, state) in &self.facts {
            writeln!(out, "{thing:width$}  {state}")?;
        }
        for finding in &self.findings {
            let grade = match finding.grade {
                Grade::Fault => "FAULT",
                Grade::Advice => "advice",
            };
            writeln!(out, "\n{grade}: {}", finding.what)?;
            writeln!(out, "  why:   {}", finding.why)?;
            writeln!(out, "  to do: {}", finding.to_do)?;
        }
        Ok(())
    }
}

impl Doctor {
    pub async fn run(self, given: &Given) -> Result<(), Failure> {
        let reading = Config::read(given);
        let config = &reading.config;
        let mut report = Report::default();

        for stated in &reading.stated {
            if let (Some(text), true) = (&stated.text, stated.origin != Origin::Default) {
                let value = format!("{text} (from {})", stated.origin());
                report.fact(stated.setting.key, value);
            }
        }
        for fault in &reading.faults {
            report.fault(
                fault.clone(),
                "the program does not start with a setting that it does not understand",
                "correct it; `brickbook settings --reference` lists what each setting takes",
            );
        }
        said::look(config, &mut report);
        let now = OffsetDateTime::now_utc();
        if folder::look(config, &mut report) {
            database::look(config, now, &mut report).await;
        }
        backups::look(config, now, &mut report).await;
        network::look(config, &mut report);

        let mut out = io::stdout().lock();
        if self.json {
            let text = serde_json::to_string_pretty(&report).expect("texts are JSON");
            writeln!(out, "{text}")?;
        } else {
            report.write(&mut out)?;
        }
        match report.count(Grade::Fault) {
            0 => {
                if !self.json {
                    writeln!(out, "\nNo fault was found.")?;
                }
                Ok(())
            }
            faults => Err(Failure::Failed(format!(
                "{} found",
                counted(faults, "fault", "faults")
            ))),
        }
    }
}

/// What a look at something finds, for tests.
#[cfg(test)]
fn found(look: impl FnOnce(&mut Report)) -> Vec<(Grade, String)> {
    let mut report = Report::default();
    look(&mut report);
    let findings = report.findings.into_iter();
    findings.map(|f| (f.grade, f.what)).collect()
}

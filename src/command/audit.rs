//! `audit`: what was changed, by whom and when.

use super::{Failure, open_existing};
use crate::config::Config;
use crate::storage::audit::{self, Line, Wanted};
use serde_json::json;
use std::io::Write;
use time::format_description::well_known::Rfc3339;

/// Print the log of changes of data and rights, newest first
///
/// Each line: time, who, by what door and from where, action, object, and what else there is to
/// say. Documents stand in it as SHA-256 alone.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    brickbook audit\n  \
    brickbook audit --action account --lines 1000\n  \
    brickbook audit --who ada --object \"draft 3\" --json")]
pub struct Audit {
    /// Only what this account did
    #[arg(long, value_name = "NAME")]
    who: Option<String>,

    /// Only actions that begin so, such as `account` or `unit.revised`
    #[arg(long, value_name = "ACTION")]
    action: Option<String>,

    /// Only objects whose name contains this, such as `draft 3`
    #[arg(long, value_name = "OBJECT")]
    object: Option<String>,

    /// How many lines at most
    #[arg(long, value_name = "NUMBER", default_value_t = 100)]
    lines: u32,

    /// One JSON object a line
    #[arg(long)]
    json: bool,
}

impl Audit {
    pub async fn run(self, config: &Config) -> Result<(), Failure> {
        let db = open_existing(config).await?;
        let wanted = Wanted {
            who: self.who,
            action: self.action,
            object: self.object,
            ..Wanted::default()
        };
        let lines = audit::list(&mut *db.read().await?, &wanted, self.lines.into()).await?;
        db.close().await;
        let mut out = std::io::stdout().lock();
        for line in lines {
            let text = if self.json {
                as_json(&line)
            } else {
                as_text(&line)
            };
            writeln!(out, "{text}")?;
        }
        Ok(())
    }
}

fn at(line: &Line) -> String {
    line.at
        .format(&Rfc3339)
        .expect("a stored time has a year of four digits")
}

fn as_text(line: &Line) -> String {
    let from = match &line.address {
        Some(address) => format!("{} {address}", line.via),
        None => line.via.clone(),
    };
    let mut text = format!(
        "{}  {} ({from})  {}  {}",
        at(line),
        line.who,
        line.action,
        line.object
    );
    if !line.detail.is_empty() {
        text.push_str(&format!("  {}", line.detail));
    }
    // What somebody typed stays on its line, and cannot steer the terminal.
    text.chars()
        .map(|c| if c.is_control() { '\u{fffd}' } else { c })
        .collect()
}

fn as_json(line: &Line) -> String {
    json!({
        "number": line.id,
        "at": at(line),
        "account": line.operator_id,
        "who": line.who,
        "via": line.via,
        "address": line.address,
        "action": line.action,
        "object": line.object,
        "before_sha256": line.before_sha256,
        "after_sha256": line.after_sha256,
        "detail": line.detail,
    })
    .to_string()
}

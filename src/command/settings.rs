//! `settings`: what is set, where it comes from, and the reference of all settings.

use super::Failure;
use crate::config::{Config, Given, Origin, reference};
use std::io::{self, Write};

/// Show every setting, its value and where it comes from
///
/// What is printed can be kept as a configuration file: settings that have their default, or none,
/// stand there as comments.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    brickbook settings\n  \
    brickbook settings --reference   all settings with default, bounds and meaning, as Markdown")]
pub struct Settings {
    /// Print what settings there are instead: default, what it takes and what it is
    #[arg(long)]
    reference: bool,
}

impl Settings {
    pub fn run(self, given: &Given) -> Result<(), Failure> {
        let mut out = io::stdout().lock();
        if self.reference {
            write!(out, "{}", reference())?;
            return Ok(());
        }
        let reading = Config::read(given);
        for stated in &reading.stated {
            let key = stated.setting.key;
            // As TOML writes text, quotes and backslashes included.
            let value = stated
                .text
                .as_deref()
                .map(|text| toml::Value::from(text).to_string());
            match (value, &stated.origin) {
                (None, _) => writeln!(out, "# {key} is not set")?,
                (Some(value), Origin::Default) => writeln!(out, "# {key} = {value} (default)")?,
                (Some(value), _) => writeln!(out, "{key} = {value} # {}", stated.origin())?,
            }
        }
        if reading.faults.is_empty() {
            Ok(())
        } else {
            Err(Failure::Input(reading.faults.join("\n")))
        }
    }
}

//! `licences`: what the program is made of, and on which terms.

use super::Failure;
use std::io::Write;

/// Print the libraries and fonts in this program with their licences
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  brickbook licences")]
pub struct Licences {}

/// Kept true by a test, which also writes it.
const LIBRARIES: &str = include_str!("licences.txt");
const FONTS: &str = include_str!("../paper/fonts/DejaVu-LICENSE.txt");

impl Licences {
    pub fn run(self) -> Result<(), Failure> {
        let mut out = std::io::stdout().lock();
        writeln!(
            out,
            "Libraries, each with its licence; their texts and sources are on https://crates.io.\n"
        )?;
        out.write_all(LIBRARIES.as_bytes())?;
        writeln!(out, "\nFonts: DejaVu.\n")?;
        out.write_all(FONTS.as_bytes())?;
        Ok(())
    }
}

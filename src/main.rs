//! Flags in, one command run; nothing else.

use brickbook::command::{self, Cli};
use clap::Parser;
use std::process::ExitCode;

fn main() -> ExitCode {
    command::run(Cli::parse())
}

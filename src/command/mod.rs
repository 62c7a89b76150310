//! What the program can be told to do. Results go to standard output, everything else to standard
//! error; the exit code is 0 (done), 1 (failed) or 2 (the input or the call is at fault).

mod add;
mod audit;
mod backup;
mod bundle;
mod check;
mod doctor;
mod evaluate;
mod export;
mod import;
mod import_log;
mod licences;
mod publish_site;
mod report;
mod rescore;
mod serve;
mod settings;
mod user;

use crate::config::{Config, Faults, Given, LogFormat};
use crate::storage::{self, Db};
use crate::web;
use clap::{Parser, Subcommand};
use std::io::{self, IsTerminal};
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Duration;

#[derive(Debug, Parser)]
#[command(
    name = "brickbook",
    version,
    about = "Bench notebook, calculator and public leaderboard for tested USB power adapters",
    long_about = "Bench notebook, calculator and public leaderboard for tested USB power adapters.\n\n\
        Enter what you measured; Brickbook works out efficiency, no-load power and a score, compares \
        them with energy rules, ranks the units by wattage class and serves the pages.",
    after_help = "Examples:\n  \
        brickbook serve --demo              try it with invented data, then open http://127.0.0.1:8080\n  \
        brickbook evaluate my-adapter.json  see what the numbers say; needs no database\n  \
        brickbook add my-adapter.json       publish it\n  \
        brickbook export -o records.jsonl   take all records out again\n  \
        brickbook backup monday.zip         copy everything, accounts and drafts too\n\n\
        Exit codes: 0 done, 1 failed, 2 the input or the call is at fault."
)]
pub struct Cli {
    #[command(subcommand)]
    command: Command,

    #[command(flatten)]
    given: Given,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Serve the pages, the bench desk and the API
    Serve(serve::Serve),
    /// Work out what a record says, without storing it
    Evaluate(evaluate::Evaluate),
    /// Publish records from files
    Add(add::Add),
    /// Copy everything into one archive, while the server runs
    Backup(backup::Backup),
    /// Put such a copy in place
    Restore(backup::Restore),
    /// Find out whether everything that is stored is whole
    Check(check::Check),
    /// Write all records out, without loss
    Export(export::Export),
    /// Read back what export wrote
    Import(import::Import),
    /// Keep a raw instrument log and read it
    ImportLog(import_log::ImportLog),
    /// Write one archive with a unit's record, raw logs, evaluation and citations
    Bundle(bundle::Bundle),
    /// Check such an archive and compute every figure again
    Verify(bundle::Verify),
    /// Write a unit's or a class's printable report (PDF)
    Report(report::Report),
    /// Write the whole public site as files
    PublishSite(publish_site::PublishSite),
    /// Evaluate all units again after the method has changed
    Rescore(rescore::Rescore),
    /// Look for what is wrong with this installation
    Doctor(doctor::Doctor),
    /// Show every setting, its value and where it comes from
    Settings(settings::Settings),
    /// Manage who may sign in
    #[command(subcommand)]
    User(user::User),
    /// Print the log of changes of data and rights
    Audit(audit::Audit),
    /// Print the libraries and fonts in this program with their licences
    Licences(licences::Licences),
}

/// Why a command ended without success.
#[derive(Debug)]
pub enum Failure {
    /// What the user gave is at fault: exit code 2.
    Input(String),
    /// Everything else: exit code 1.
    Failed(String),
    /// Whoever read our standard output has gone, as `head` does: no failure of ours.
    OutputClosed,
}

/// Runs the command that the flags name.
pub fn run(cli: Cli) -> ExitCode {
    let failure = match dispatch(cli) {
        Ok(()) | Err(Failure::OutputClosed) => return ExitCode::SUCCESS,
        Err(failure) => failure,
    };
    let (message, code) = match failure {
        Failure::Input(message) => (message, 2),
        Failure::Failed(message) => (message, 1),
        Failure::OutputClosed => unreachable!("answered above"),
    };
    for line in message.lines() {
        eprintln!("brickbook: {line}");
    }
    ExitCode::from(code)
}

fn dispatch(cli: Cli) -> Result<(), Failure> {
    let command = match cli.command {
        // Tells of settings that are at fault, too.
        Command::Settings(command) => return command.run(&cli.given),
        Command::Doctor(command) => {
            let runtime = tokio::runtime::Builder::new_current_thread()
                .enable_all()
                .build()?;
            return runtime.block_on(command.run(&cli.given));
        }
        command => command,
    };
    let config = Config::load(&cli.given)?;
    start_log(&command, &config);
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()?;
    let done = runtime.block_on(async {
        match command {
            Command::Serve(command) => command.run(&config).await,
            Command::Evaluate(command) => command.run(&config),
            Command::Add(command) => command.run(&config).await,
            Command::Backup(command) => command.run(&config).await,
            Command::Restore(command) => command.run(&config).await,
            Command::Check(command) => command.run(&config).await,
            Command::Export(command) => command.run(&config).await,
            Command::Import(command) => command.run(&config).await,
            Command::ImportLog(command) => command.run(&config).await,
            Command::Bundle(command) => command.run(&config).await,
            Command::Verify(command) => command.run(),
            Command::Report(command) => command.run(&config).await,
            Command::PublishSite(command) => command.run(&config).await,
            Command::Rescore(command) => command.run(&config).await,
            Command::Settings(_) | Command::Doctor(_) => unreachable!("answered above"),
            Command::User(command) => command.run(&config).await,
            Command::Audit(command) => command.run(&config).await,
            Command::Licences(command) => command.run(),
        }
    });
    // A backup under way must not hold up whoever stops the server; it leaves nothing unfinished.
    runtime.shutdown_timeout(Duration::from_secs(1));
    done
}

fn start_log(command: &Command, config: &Config) {
    use tracing_subscriber::EnvFilter;
    let usual = match command {
        Command::Serve(_) => "info",
        _ => "warn",
    };
    let filter = EnvFilter::new(config.log.as_deref().unwrap_or(usual));
    let log = tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_writer(io::stderr)
        .with_ansi(io::stderr().is_terminal());
    match config.log_format {
        LogFormat::Text => log.init(),
        LogFormat::Json => log.json().init(),
    }
}

/// The settings of pages.
fn web_config(config: &Config) -> web::Config {
    web::Config {
        listen: config.listen,
        public_url: config.public_url.clone(),
        secure_cookies: config.secure_cookies(),
        trusted_proxies: config.trusted_proxies.clone(),
        site_name: config.site_name.clone(),
        languages: config.languages.clone(),
        shared_cache_s: config.shared_cache_s,
        tariff: config.tariff.clone(),
        licence: config.licence.clone(),
        log_limit_bytes: u64::from(config.log_limit_mb) * 1_000_000,
        tester: config.tester.clone(),
        metrics_listen: config.metrics_listen,
        disk_reserve_bytes: u64::from(config.disk_reserve_mb) * 1_000_000,
        shutdown_deadline: Duration::from_secs(u64::from(config.stop_within_s)),
        limits: config.limits.clone(),
        max_connections: config.max_connections as usize,
        audit_keep: time::Duration::days(config.audit_keep_days.into()),
        backup_every: config
            .backup_dir
            .is_some()
            .then(|| hours(config.backup_every_h)),
        ..web::Config::default()
    }
}

fn hours(number: u32) -> Duration {
    Duration::from_secs(u64::from(number) * 3600)
}

/// Opens the database, making folder and file if they are not there.
async fn open_or_make(config: &Config) -> Result<Db, Failure> {
    storage::make_data_dir(&config.data_dir).map_err(|cause| {
        Failure::Failed(format!(
            "cannot make the data directory {}: {cause}",
            config.data_dir.display()
        ))
    })?;
    Ok(Db::open(&config.database_path()).await?)
}

/// Opens the database that must be there already.
async fn open_existing(config: &Config) -> Result<Db, Failure> {
    Ok(Db::open(&present(config)?).await?)
}

/// Opens the database that must be there already, without changing anything in it.
async fn open_to_read(config: &Config) -> Result<Db, Failure> {
    Ok(Db::open_to_read(&present(config)?).await?)
}

/// The database file, which must be there already.
fn present(config: &Config) -> Result<PathBuf, Failure> {
    let path = config.database_path();
    if !path.exists() && !config.data_dir.join(storage::hold::UNDER_WAY).exists() {
        return Err(Failure::Failed(format!(
            "there is no database at {}; name the right folder with --data-dir, or make one with `brickbook add` or `brickbook serve`",
            path.display()
        )));
    }
    Ok(path)
}

/// A file's text, or what comes in on standard input for `-`.
fn read_text(path: &std::path::Path) -> Result<String, Failure> {
    let bytes = if path.as_os_str() == "-" {
        let mut bytes = Vec::new();
        io::Read::read_to_end(&mut io::stdin().lock(), &mut bytes).map(|_| bytes)
    } else {
        std::fs::read(path)
    };
    let bytes = bytes.map_err(|cause| Failure::Input(format!("{}: {cause}", path.display())))?;
    String::from_utf8(bytes).map_err(|cause| {
        Failure::Input(format!(
            "{}: byte {} is not UTF-8; expected a text file in UTF-8",
            path.display(),
            cause.utf8_error().valid_up_to()
        ))
    })
}

impl From<Faults> for Failure {
    fn from(faults: Faults) -> Self {
        Failure::Input(faults.to_string())
    }
}

impl From<storage::Error> for Failure {
    fn from(error: storage::Error) -> Self {
        Failure::Failed(error.to_string())
    }
}

/// For what is written to standard output.
impl From<io::Error> for Failure {
    fn from(error: io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::BrokenPipe => Failure::OutputClosed,
            _ => Failure::Failed(error.to_string()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_consistent() {
        Cli::command().debug_assert();
    }
}

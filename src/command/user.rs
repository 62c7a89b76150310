//! `user`: who may sign in to the bench desk.

use super::{Failure, open_existing, open_or_make};
use crate::config::Config;
use crate::storage::{self, operators};
use crate::web::auth::{check_new_operator, hash_password};
use std::io::{BufRead, IsTerminal, Write};
use time::OffsetDateTime;

/// Manage who may sign in to enter and publish measurements
///
/// The first account can also be made in the browser, at /set-up, with the code that
/// `brickbook serve` prints. These commands work while the server runs.
#[derive(Debug, clap::Subcommand)]
pub enum User {
    /// Add an account; the password is asked for and not shown
    #[command(after_help = "Examples:\n  \
        brickbook user add ada\n  \
        brickbook user add ada --password-stdin < password-file")]
    Add(Account),
    /// Give an account another password and end its sessions
    #[command(after_help = "Example:\n  brickbook user password ada")]
    Password(Account),
    /// List the accounts
    #[command(after_help = "Example:\n  brickbook user list")]
    List,
}

#[derive(Debug, clap::Args)]
pub struct Account {
    /// Name to sign in with; upper and lower case are the same
    name: String,

    /// Take the password from the first line of standard input instead of asking
    #[arg(long)]
    password_stdin: bool,
}

impl User {
    pub async fn run(self, config: &Config) -> Result<(), Failure> {
        match self {
            User::Add(account) => account.add(config).await,
            User::Password(account) => account.change_password(config).await,
            User::List => list(config).await,
        }
    }
}

impl Account {
    async fn add(self, config: &Config) -> Result<(), Failure> {
        let hash = self.new_password_hash()?;
        let db = open_or_make(config).await?;
        let mut tx = db.write().await?;
        let added =
            operators::insert(&mut tx, self.name.trim(), &hash, OffsetDateTime::now_utc()).await;
        match added {
            Ok(_) => tx.commit().await?,
            Err(storage::Error::Conflict(message)) => {
                return Err(Failure::Input(format!(
                    "{message}; `brickbook user password` gives it another password"
                )));
            }
            Err(error) => return Err(error.into()),
        }
        db.close().await;
        writeln!(std::io::stdout(), "{} may sign in now", self.name.trim())?;
        Ok(())
    }

    async fn change_password(self, config: &Config) -> Result<(), Failure> {
        let db = open_existing(config).await?;
        let known = operators::credentials(&mut *db.read().await?, self.name.trim()).await?;
        let Some(known) = known else {
            return Err(Failure::Input(format!(
                "there is no account {}; `brickbook user list` shows all",
                self.name.trim()
            )));
        };
        let hash = self.new_password_hash()?;
        let mut tx = db.write().await?;
        operators::set_password(&mut tx, known.operator_id, &hash).await?;
        tx.commit().await?;
        db.close().await;
        writeln!(
            std::io::stdout(),
            "{} has the new password and is signed out everywhere",
            self.name.trim()
        )?;
        Ok(())
    }

    /// Asks for a password and turns it into what is stored.
    fn new_password_hash(&self) -> Result<String, Failure> {
        let password = if self.password_stdin {
            piped_password()?
        } else {
            asked_password()?
        };
        check_new_operator(&self.name, &password).map_err(Failure::Input)?;
        hash_password(&password)
            .map_err(|cause| Failure::Failed(format!("the password cannot be hashed: {cause}")))
    }
}

async fn list(config: &Config) -> Result<(), Failure> {
    let db = open_existing(config).await?;
    let accounts = operators::list(&mut *db.read().await?).await?;
    db.close().await;
    let mut out = std::io::stdout().lock();
    for account in accounts {
        writeln!(
            out,
            "{} (since {})",
            account.name,
            account.created_at.date()
        )?;
    }
    Ok(())
}

/// The first line of standard input, without its line break.
fn piped_password() -> Result<String, Failure> {
    let mut line = String::new();
    std::io::stdin()
        .lock()
        .read_line(&mut line)
        .map_err(|cause| Failure::Input(format!("standard input: {cause}")))?;
    Ok(line.trim_end_matches(['\n', '\r']).to_string())
}

/// Asks twice on the terminal, without showing what is typed.
fn asked_password() -> Result<String, Failure> {
    if !std::io::stdin().is_terminal() {
        return Err(Failure::Input(
            "there is no terminal to ask for the password; give it with --password-stdin"
                .to_string(),
        ));
    }
    let terminal = console::Term::stderr();
    let ask = |question: &str| {
        terminal
            .write_str(question)
            .and_then(|()| terminal.read_secure_line())
            .map_err(|cause| Failure::Failed(format!("the password cannot be read: {cause}")))
    };
    let password = ask("Password: ")?;
    if ask("Once more: ")? != password {
        return Err(Failure::Input("the two passwords differ".to_string()));
    }
    Ok(password)
}

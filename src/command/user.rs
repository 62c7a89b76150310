//! `user`: who may sign in to the bench desk.

use super::{Failure, open_existing, open_or_make};
use crate::config::Config;
use crate::storage::{
    self, Db,
    audit::{self, Change, Who},
    operators::{self, Operator, Role},
    second_factors, sessions,
};
use crate::web::auth::account;
use crate::web::passwords::{check_new_operator, hash_password};
use clap::ValueEnum;
use std::io::{BufRead, IsTerminal, Write};
use time::OffsetDateTime;

/// Manage who may sign in to enter and publish measurements
///
/// The first account can also be made in the browser, at /set-up, with the code that
/// `brickbook serve` prints; the first account is always an owner. These commands work while the
/// server runs.
#[derive(Debug, clap::Subcommand)]
pub enum User {
    /// Add an account; the password is asked for and not shown
    #[command(after_help = "Examples:\n  \
        brickbook user add ada\n  \
        brickbook user add bea --role reader\n  \
        brickbook user add ada --password-stdin < password-file")]
    Add(Add),
    /// Change what an account may do, and end its sessions
    #[command(after_help = "Example:\n  brickbook user role bea owner")]
    Role(ChangeRole),
    /// Give an account another password and end its sessions
    #[command(after_help = "Example:\n  brickbook user password ada")]
    Password(Account),
    /// Let an account sign in no more, end its sessions and revoke its tokens
    #[command(after_help = "Example:\n  brickbook user deactivate bea")]
    Deactivate(Named),
    /// Let a deactivated account sign in again
    #[command(after_help = "Example:\n  brickbook user reactivate bea")]
    Reactivate(Named),
    /// Take an account's second factor and passkeys away, when phone and recovery codes are lost
    #[command(after_help = "Example:\n  brickbook user second-factor-remove ada")]
    SecondFactorRemove(Named),
    /// List the accounts
    #[command(after_help = "Example:\n  brickbook user list")]
    List,
}

/// What an account may do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum RoleName {
    /// Gives and takes rights, and all that an editor may
    Owner,
    /// Enters and publishes
    Editor,
    /// Reads drafts
    Reader,
}

impl From<RoleName> for Role {
    fn from(name: RoleName) -> Role {
        match name {
            RoleName::Owner => Role::Owner,
            RoleName::Editor => Role::Editor,
            RoleName::Reader => Role::Reader,
        }
    }
}

#[derive(Debug, clap::Args)]
pub struct Account {
    /// Name to sign in with; upper and lower case are the same
    name: String,

    /// Take the password from the first line of standard input instead of asking
    #[arg(long)]
    password_stdin: bool,
}

#[derive(Debug, clap::Args)]
pub struct Add {
    #[command(flatten)]
    account: Account,

    /// What the account may do [default: owner for the first one, else editor]
    #[arg(long, value_enum)]
    role: Option<RoleName>,
}

#[derive(Debug, clap::Args)]
pub struct ChangeRole {
    /// Name of the account
    name: String,

    /// What it may do from now on
    #[arg(value_enum)]
    role: RoleName,
}

#[derive(Debug, clap::Args)]
pub struct Named {
    /// Name of the account
    name: String,
}

impl User {
    pub async fn run(self, config: &Config) -> Result<(), Failure> {
        match self {
            User::Add(add) => add.run(config).await,
            User::Role(change) => change.run(config).await,
            User::Password(account) => account.change_password(config).await,
            User::Deactivate(named) => named.deactivate(config).await,
            User::Reactivate(named) => named.reactivate(config).await,
            User::SecondFactorRemove(named) => named.remove_second_factor(config).await,
            User::List => list(config).await,
        }
    }
}

impl Add {
    async fn run(self, config: &Config) -> Result<(), Failure> {
        let hash = self.account.new_password_hash()?;
        let name = self.account.name.trim();
        let db = open_or_make(config).await?;
        let now = OffsetDateTime::now_utc();
        let mut tx = db.write().await?;
        let role = match (operators::exist(&mut tx).await?, self.role) {
            (false, None | Some(RoleName::Owner)) => Role::Owner,
            (false, Some(_)) => {
                return Err(Failure::Input(
                    "the first account must be an owner, who can give rights".to_owned(),
                ));
            }
            (true, role) => role.map_or(Role::Editor, Role::from),
        };
        match operators::insert(&mut tx, name, &hash, role, now).await {
            Ok(_) => {}
            Err(storage::Error::Conflict(message)) => {
                return Err(Failure::Input(format!(
                    "{message}; `brickbook user password` gives it another password"
                )));
            }
            Err(error) => return Err(error.into()),
        }
        let change = Change::new("account.added", account(name)).detail(role.id());
        audit::write(&mut tx, &Who::command(), change, now).await?;
        tx.commit().await?;
        db.close().await;
        writeln!(
            std::io::stdout(),
            "{name} may sign in now ({})",
            role.words()
        )?;
        Ok(())
    }
}

impl ChangeRole {
    async fn run(self, config: &Config) -> Result<(), Failure> {
        let (db, known) = open_with(config, &self.name).await?;
        let role = Role::from(self.role);
        let mut tx = db.write().await?;
        refused(operators::set_role(&mut tx, known.id, role).await)?;
        let words = format!("from {} to {}", known.role.id(), role.id());
        let change = Change::new("account.role-set", account(&known.name)).detail(words);
        audit::write(&mut tx, &Who::command(), change, OffsetDateTime::now_utc()).await?;
        tx.commit().await?;
        db.close().await;
        writeln!(
            std::io::stdout(),
            "{} is {} now and signed out everywhere",
            known.name,
            role.words()
        )?;
        Ok(())
    }
}

impl Named {
    async fn deactivate(self, config: &Config) -> Result<(), Failure> {
        let (db, known) = open_with(config, &self.name).await?;
        let now = OffsetDateTime::now_utc();
        let mut tx = db.write().await?;
        refused(operators::deactivate(&mut tx, known.id, now).await)?;
        let change = Change::new("account.deactivated", account(&known.name));
        audit::write(&mut tx, &Who::command(), change, now).await?;
        tx.commit().await?;
        db.close().await;
        writeln!(std::io::stdout(), "{} may not sign in any more", known.name)?;
        Ok(())
    }

    async fn remove_second_factor(self, config: &Config) -> Result<(), Failure> {
        let (db, known) = open_with(config, &self.name).await?;
        let mut tx = db.write().await?;
        if !second_factors::remove_all(&mut tx, known.id).await? {
            return Err(Failure::Input(format!(
                "{} has neither a second factor nor passkeys",
                known.name
            )));
        }
        sessions::end_all(&mut tx, known.id).await?;
        let change =
            Change::new("second-factor.removed", account(&known.name)).detail("codes and passkeys");
        audit::write(&mut tx, &Who::command(), change, OffsetDateTime::now_utc()).await?;
        tx.commit().await?;
        db.close().await;
        writeln!(
            std::io::stdout(),
            "{} signs in with the password alone now",
            known.name
        )?;
        Ok(())
    }

    async fn reactivate(self, config: &Config) -> Result<(), Failure> {
        let (db, known) = open_with(config, &self.name).await?;
        let mut tx = db.write().await?;
        operators::reactivate(&mut tx, known.id).await?;
        let change = Change::new("account.reactivated", account(&known.name));
        audit::write(&mut tx, &Who::command(), change, OffsetDateTime::now_utc()).await?;
        tx.commit().await?;
        db.close().await;
        writeln!(std::io::stdout(), "{} may sign in again", known.name)?;
        Ok(())
    }
}

impl Account {
    async fn change_password(self, config: &Config) -> Result<(), Failure> {
        let (db, known) = open_with(config, &self.name).await?;
        let hash = self.new_password_hash()?;
        let mut tx = db.write().await?;
        operators::set_password(&mut tx, known.id, &hash).await?;
        let change = Change::new("account.password-set", account(&known.name));
        audit::write(&mut tx, &Who::command(), change, OffsetDateTime::now_utc()).await?;
        tx.commit().await?;
        db.close().await;
        writeln!(
            std::io::stdout(),
            "{} has the new password and is signed out everywhere",
            known.name
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

/// The database, and the account of this name in it.
async fn open_with(config: &Config, name: &str) -> Result<(Db, Operator), Failure> {
    let db = open_existing(config).await?;
    let known = operators::find_by_name(&mut *db.read().await?, name.trim()).await?;
    match known {
        Some(known) => Ok((db, known)),
        None => Err(Failure::Input(format!(
            "there is no account {}; `brickbook user list` shows all",
            name.trim()
        ))),
    }
}

/// What the call asks for cannot be, such as doing without any owner.
fn refused<T>(result: Result<T, storage::Error>) -> Result<T, Failure> {
    result.map_err(|error| match error {
        storage::Error::Conflict(why) => Failure::Input(why),
        other => other.into(),
    })
}

async fn list(config: &Config) -> Result<(), Failure> {
    let db = open_existing(config).await?;
    let accounts = operators::list(&mut *db.read().await?).await?;
    db.close().await;
    let mut out = std::io::stdout().lock();
    for account in accounts {
        let since = account.created_at.date();
        let until = match account.deactivated_at {
            Some(at) => format!(", deactivated {}", at.date()),
            None => String::new(),
        };
        writeln!(
            out,
            "{} ({}, since {since}{until})",
            account.name,
            account.role.words()
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

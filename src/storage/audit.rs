//! The audit log: every change of data or rights, who made it, when, from where and by what door.
//! It is written in the transaction of the change, so that neither is there without the other; the
//! database refuses to change or, for 90 days, delete a line. Documents stand in it as SHA-256 alone.
//!
//! What somebody types into a draft is saved every second or so. Of these saves the first of each
//! opened page is noted, and then one every ten minutes; begun, published and discarded drafts are
//! noted always.

use super::{Error, instant};
use crate::quantity::words::hex;
use sha2::{Digest, Sha256};
use sqlx::SqliteConnection;
use std::net::IpAddr;
use time::{Duration, OffsetDateTime};

/// Lines younger than this cannot be deleted; the database's trigger holds it.
pub const LEAST_RETENTION: Duration = Duration::days(90);

/// Saves of one draft from one opened page are noted this far apart.
const BETWEEN_SAVES: Duration = Duration::minutes(10);

/// Longest free text of a line, in characters.
const LONGEST_DETAIL: usize = 500;

/// By what door a change came.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Via {
    /// A page of the desk.
    Desk,
    /// The JSON API, by a token.
    Api,
    /// `brickbook` on the command line of the computer.
    Command,
    /// The program by itself.
    Program,
    /// A public page, without an account.
    Reader,
}

impl Via {
    pub fn id(self) -> &'static str {
        match self {
            Via::Desk => "desk",
            Via::Api => "api",
            Via::Command => "command",
            Via::Program => "program",
            Via::Reader => "reader",
        }
    }
}

/// Who makes a change.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Who {
    pub operator_id: Option<i64>,
    /// Name of the account, or what acts in place of one.
    pub name: String,
    pub via: Via,
    /// Where the request came from; of IPv6 the /64 network.
    pub address: Option<IpAddr>,
}

impl Who {
    /// Whoever may run commands on this computer.
    pub fn command() -> Who {
        Who {
            operator_id: None,
            name: "command line".to_owned(),
            via: Via::Command,
            address: None,
        }
    }

    /// The program, in the name of nobody in particular.
    pub fn program() -> Who {
        Who {
            operator_id: None,
            name: "brickbook".to_owned(),
            via: Via::Program,
            address: None,
        }
    }

    /// A visitor without an account; nothing is kept about them.
    pub fn reader() -> Who {
        Who {
            operator_id: None,
            name: "a reader".to_owned(),
            via: Via::Reader,
            address: None,
        }
    }
}

/// What was changed. Made by [`Change::new`] and its companions.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Change {
    action: &'static str,
    object: String,
    before: Option<String>,
    after: Option<String>,
    detail: String,
}

impl Change {
    /// `action` as `kind.what-was-done`, such as `draft.discarded`; `object` as `draft 3`.
    pub fn new(action: &'static str, object: impl Into<String>) -> Change {
        Change {
            action,
            object: object.into(),
            before: None,
            after: None,
            detail: String::new(),
        }
    }

    /// The document as it was; only its SHA-256 is noted.
    pub fn before(mut self, document: &str) -> Change {
        self.before = Some(digest(document));
        self
    }

    /// The document as it is now; only its SHA-256 is noted.
    pub fn after(mut self, document: &str) -> Change {
        self.after = Some(digest(document));
        self
    }

    /// What else there is to say. Never a secret.
    pub fn detail(mut self, text: impl AsRef<str>) -> Change {
        self.detail = text.as_ref().chars().take(LONGEST_DETAIL).collect();
        self
    }
}

fn digest(document: &str) -> String {
    hex(Sha256::digest(document.as_bytes()))
}

/// A line of the log.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    pub id: i64,
    pub at: OffsetDateTime,
    pub operator_id: Option<i64>,
    pub who: String,
    pub via: String,
    pub address: Option<String>,
    pub action: String,
    pub object: String,
    pub before_sha256: Option<String>,
    pub after_sha256: Option<String>,
    pub detail: String,
}

/// Writes a line. Call it inside the transaction of the change.
pub async fn write(
    connection: &mut SqliteConnection,
    who: &Who,
    change: Change,
    now: OffsetDateTime,
) -> Result<(), Error> {
    let at = instant::to_text(now);
    let via = who.via.id();
    let address = who.address.map(|address| address.to_string());
    let object: String = change.object.chars().take(300).collect();
    sqlx::query!(
        "INSERT INTO audit (at, operator_id, who, via, address, action, object, before_sha256, after_sha256, detail)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        at,
        who.operator_id,
        who.name,
        via,
        address,
        change.action,
        object,
        change.before,
        change.after,
        change.detail
    )
    .execute(connection)
    .await?;
    Ok(())
}

/// Notes that what is typed into a draft was saved, unless the same opened page was noted within the
/// last ten minutes. `before` is the state that was noted last.
pub async fn write_draft_save(
    connection: &mut SqliteConnection,
    who: &Who,
    draft_id: i64,
    editor: &str,
    fields: &str,
    now: OffsetDateTime,
) -> Result<(), Error> {
    let object = format!("draft {draft_id}");
    // The name of an opened page is no secret, but nobody's business either.
    let page = &digest(editor)[..12];
    let last = sqlx::query!(
        "SELECT at,
                after_sha256,
                detail
         FROM audit
         WHERE object = ?
         ORDER BY id DESC
         LIMIT 1",
        object
    )
    .fetch_optional(&mut *connection)
    .await?;
    let detail = format!("saved from the opened page {page}");
    let mut change = Change::new("draft.saved", object).after(fields);
    if let Some(last) = last {
        let since = now - instant::from_text(&last.at)?;
        if last.detail == detail && since < BETWEEN_SAVES && !since.is_negative() {
            return Ok(());
        }
        change.before = last.after_sha256;
    }
    write(connection, who, change.detail(detail), now).await
}

/// Which lines are wanted; what is `None` does not narrow.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Wanted {
    /// Name of whoever did it, as it stands in the log.
    pub who: Option<String>,
    /// Beginning of the action, such as `draft` or `account.role`.
    pub action: Option<String>,
    /// What stands in the object's name.
    pub object: Option<String>,
    /// Not before.
    pub from: Option<OffsetDateTime>,
    /// Before.
    pub until: Option<OffsetDateTime>,
    /// Only lines older than the one of this number.
    pub before_id: Option<i64>,
}

/// Lines, newest first, at most so many.
pub async fn list(
    connection: &mut SqliteConnection,
    wanted: &Wanted,
    most: i64,
) -> Result<Vec<Line>, Error> {
    let from = wanted.from.map(instant::to_text);
    let until = wanted.until.map(instant::to_text);
    sqlx::query!(
        r#"SELECT id AS "id!",
                  at,
                  operator_id,
                  who,
                  via,
                  address,
                  action,
                  object,
                  before_sha256,
                  after_sha256,
                  detail
           FROM audit
           WHERE (?1 IS NULL OR who = ?1 COLLATE NOCASE)
             AND (?2 IS NULL OR substr(action, 1, length(?2)) = ?2)
             AND (?3 IS NULL OR instr(object, ?3) > 0)
             AND (?4 IS NULL OR at >= ?4)
             AND (?5 IS NULL OR at < ?5)
             AND (?6 IS NULL OR id < ?6)
           ORDER BY id DESC
           LIMIT ?7"#,
        wanted.who,
        wanted.action,
        wanted.object,
        from,
        until,
        wanted.before_id,
        most
    )
    .fetch_all(connection)
    .await?
    .into_iter()
    .map(|row| {
        Ok(Line {
            id: row.id,
            at: instant::from_text(&row.at)?,
            operator_id: row.operator_id,
            who: row.who,
            via: row.via,
            address: row.address,
            action: row.action,
            object: row.object,
            before_sha256: row.before_sha256,
            after_sha256: row.after_sha256,
            detail: row.detail,
        })
    })
    .collect()
}

/// Deletes lines older than `keep` (at least [`LEAST_RETENTION`]) and says how many. That is noted
/// itself.
pub async fn prune(
    connection: &mut SqliteConnection,
    keep: Duration,
    now: OffsetDateTime,
) -> Result<u64, Error> {
    let keep = keep.max(LEAST_RETENTION);
    let oldest = instant::to_text(now - keep);
    // By the database's clock as well, which is the one that its trigger goes by.
    let deleted = sqlx::query!(
        "DELETE FROM audit
         WHERE at < ?
           AND at <= strftime('%Y-%m-%dT%H:%M:%fZ', 'now', '-90 days')",
        oldest
    )
    .execute(&mut *connection)
    .await?
    .rows_affected();
    if deleted > 0 {
        let change = Change::new("audit.pruned", "audit").detail(format!(
            "{deleted} lines older than {} days",
            keep.whole_days()
        ));
        write(connection, &Who::program(), change, now).await?;
    }
    Ok(deleted)
}

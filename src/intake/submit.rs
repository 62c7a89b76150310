//! One record through the door. [`submit`] is the whole way; [`judge`] and [`store`] are its two
//! halves for callers that write more in the same transaction.

use crate::bench::decode::{decode, decode_stored};
use crate::bench::problem::Problem;
use crate::bench::record::Record;
use crate::evaluate::evaluation::Evaluation;
use crate::evaluate::{Evidence, Logs, Method, evaluate_with};
use crate::ranking::Row;
use crate::storage::{
    self, Db,
    audit::{self, Who},
    evaluations, logs, photos, rankings, units,
};
use std::collections::BTreeSet;
use time::OffsetDateTime;

/// Is it a unit that was never published, or a new state of one that was?
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Target {
    New,
    /// The slug of the published unit.
    Revise(String),
}

/// A document on its way in.
#[derive(Debug, Clone)]
pub struct Submission<'a> {
    /// The record as entered; stored byte for byte.
    pub text: &'a str,
    pub target: Target,
    pub author: &'a str,
    /// Why; may be empty for a new unit.
    pub reason: &'a str,
    pub now: OffsetDateTime,
}

/// A document that was understood and evaluated, not stored yet.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    pub record: Record,
    pub evaluation: Evaluation,
    /// SHA-256 of logs that the record names and that were not at hand.
    pub missing_logs: Vec<String>,
}

impl Judged {
    /// Names what the evaluation rests on besides the record: the method, and which logs were
    /// missing. Once a missing log has come in, re-scoring sees that the evaluation is outdated.
    pub fn basis(&self, method_digest: &str) -> String {
        match self.missing_logs.len() {
            0 => method_digest.to_owned(),
            _ => format!("{method_digest} without {}", self.missing_logs.join(" ")),
        }
    }
}

#[derive(Debug, Clone, PartialEq)]
pub struct Submitted {
    pub unit_id: i64,
    pub slug: String,
    /// Number of the unit's newest revision: the new one, or the one that said the same already.
    pub revision: i64,
    pub change: Change,
    pub evaluation: Evaluation,
    /// SHA-256 of photos that the record names and that are not at hand (yet).
    pub missing_photos: BTreeSet<String>,
}

/// What a submission did to the store.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Change {
    /// A new unit was published.
    Published,
    /// A unit got another revision.
    Revised,
    /// The unit's newest revision says exactly this; nothing was written.
    Unchanged,
}

#[derive(Debug, thiserror::Error)]
pub enum SubmitError {
    /// The document is no valid record; all faults are listed.
    #[error("refused: {}", problems_in_words(.0))]
    Refused(Vec<Problem>),
    /// Another unit has this maker, model and sample.
    #[error(
        "this maker, model and sample are already published as {slug}; revise that unit, or give this sample another name"
    )]
    AlreadyTested { slug: String },
    /// The unit to be revised is not there.
    #[error("there is no unit {slug} to revise")]
    NoSuchUnit { slug: String },
    #[error(transparent)]
    Storage(#[from] storage::Error),
}

fn problems_in_words(problems: &[Problem]) -> String {
    problems
        .iter()
        .map(Problem::to_string)
        .collect::<Vec<_>>()
        .join("; ")
}

/// Decodes, evaluates and stores one record: unit, revision, evaluation and ranking row commit
/// together or not at all.
///
/// A record with the content of the unit's newest revision changes nothing and is answered with
/// [`Change::Unchanged`].
pub async fn submit(
    db: &Db,
    submission: &Submission<'_>,
    method: &Method,
) -> Result<Submitted, SubmitError> {
    let judged = judge(submission.text, method, db.logs()).map_err(SubmitError::Refused)?;
    let mut tx = db.write().await?;
    let who = Who {
        name: submission.author.to_owned(),
        ..Who::program()
    };
    let submitted = store(&mut tx, &who, submission, judged, method).await?;
    tx.commit().await?;
    Ok(submitted)
}

/// The first half: computation, to be done before a transaction is opened. Reads the logs that the
/// record names, where nobody has yet; that may take seconds for a log of a gigabyte.
///
/// # Errors
/// All faults of the document.
pub fn judge(text: &str, method: &Method, logs: &dyn Logs) -> Result<Judged, Vec<Problem>> {
    Ok(judged(decode(text)?, method, logs))
}

/// As [`judge`], of a record that was taken in before.
///
/// # Errors
/// All faults of the document.
pub fn judge_stored(text: &str, method: &Method, logs: &dyn Logs) -> Result<Judged, Vec<Problem>> {
    Ok(judged(decode_stored(text)?, method, logs))
}

fn judged(record: Record, method: &Method, logs: &dyn Logs) -> Judged {
    let evidence = Evidence::gather(&record, logs, method);
    let evaluation = evaluate_with(&record, &evidence, method);
    let missing_logs = record
        .logs
        .iter()
        .filter(|log| matches!(logs.open(&log.sha256), Ok(None)))
        .map(|log| log.sha256.clone())
        .collect();
    Judged {
        record,
        evaluation,
        missing_logs,
    }
}

/// The second half: writes what was judged. `judged` must come from `submission.text` and `method`.
///
/// A refusal ([`SubmitError::AlreadyTested`], [`SubmitError::NoSuchUnit`]) is found before anything
/// is written, so that the transaction may go on with other submissions.
pub async fn store(
    connection: &mut storage::Connection,
    who: &Who,
    submission: &Submission<'_>,
    judged: Judged,
    method: &Method,
) -> Result<Submitted, SubmitError> {
    let basis = judged.basis(method.digest());
    let Judged {
        record, evaluation, ..
    } = judged;
    let identity_key = record.unit.identity_key();
    let same_identity = units::find_by_identity(connection, &identity_key).await?;

    let revised = match &submission.target {
        Target::New => match same_identity {
            None => None,
            Some(unit) => {
                let slug = unit.slug.clone();
                return unchanged(connection, unit, &record, evaluation)
                    .await?
                    .ok_or(SubmitError::AlreadyTested { slug });
            }
        },
        Target::Revise(slug) => {
            let unit =
                units::find_by_slug(connection, slug)
                    .await
                    .map_err(|error| match error {
                        storage::Error::NotFound => SubmitError::NoSuchUnit { slug: slug.clone() },
                        other => SubmitError::Storage(other),
                    })?;
            if let Some(other) = same_identity.filter(|other| other.id != unit.id) {
                return Err(SubmitError::AlreadyTested { slug: other.slug });
            }
            if let Some(submitted) =
                unchanged(connection, unit.clone(), &record, evaluation.clone()).await?
            {
                return Ok(submitted);
            }
            Some(unit)
        }
    };

    let (unit, change, noted) = match revised {
        None => {
            let unit = units::insert(connection, &record.unit, submission.now).await?;
            let noted = audit::Change::new("unit.published", format!("unit {}", unit.slug));
            (unit, Change::Published, noted)
        }
        Some(unit) => {
            let former = units::newest_record_text(connection, unit.id).await?;
            let noted = audit::Change::new("unit.revised", format!("unit {}", unit.slug))
                .before(&former.text);
            if unit.identity_key != identity_key {
                units::set_identity(connection, unit.id, &record.unit).await?;
            }
            (unit, Change::Revised, noted)
        }
    };
    let revision = units::add_revision(
        connection,
        unit.id,
        submission.text,
        submission.author,
        submission.reason,
        submission.now,
    )
    .await?;
    logs::name_in_revision(connection, revision.id, &record.logs).await?;
    photos::name_in_revision(connection, revision.id, &record.photos).await?;
    let missing_photos = photos::missing(connection, &record.photos).await?;
    let evaluation_id =
        evaluations::insert(connection, revision.id, &evaluation, &basis, submission.now).await?;
    let row = Row::of(unit.id, &unit.slug, &record, &evaluation, method);
    rankings::write(connection, &row, revision.id, evaluation_id).await?;
    let noted = noted.after(submission.text).detail(format!(
        "revision {}: {}",
        revision.number, submission.reason
    ));
    audit::write(connection, who, noted, submission.now).await?;
    Ok(Submitted {
        unit_id: unit.id,
        slug: unit.slug,
        revision: revision.number,
        change,
        evaluation,
        missing_photos,
    })
}

/// The answer for a record whose content, white space and spelling of numbers aside, is the unit's
/// newest revision; `None` for any other.
async fn unchanged(
    connection: &mut storage::Connection,
    unit: units::Unit,
    record: &Record,
    evaluation: Evaluation,
) -> Result<Option<Submitted>, storage::Error> {
    let newest = units::newest_record_text(connection, unit.id).await?;
    // A text that this version no longer reads differs from one that it does.
    if !decode(&newest.text).is_ok_and(|stored| stored == *record) {
        return Ok(None);
    }
    Ok(Some(Submitted {
        unit_id: unit.id,
        slug: unit.slug,
        revision: newest.revision.number,
        change: Change::Unchanged,
        evaluation,
        missing_photos: photos::missing(connection, &record.photos).await?,
    }))
}

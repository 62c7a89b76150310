//! All units again, when the engine, the score formula, the limits or the classes have changed.

use super::submit::{Judged, judge_stored};
use crate::bench::problem::Problem;
use crate::evaluate::{ENGINE, Method};
use crate::ranking::Row;
use crate::storage::evaluations::{self, Basis, Outdated};
use crate::storage::{self, Db, audit, rankings, units};
use time::OffsetDateTime;

/// Units per transaction: few enough that other writers hardly wait and an interrupted run loses
/// little work, many enough that the disk is not the bottleneck.
const AT_ONCE: i64 = 50;

/// What a run of re-scoring did.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Rescored {
    /// Units evaluated anew.
    pub units: u64,
    /// Of these, units whose score is another than before, or appeared or vanished.
    pub changed: u64,
    pub largest: Option<ScoreChange>,
    /// Units whose stored record this version refuses; their old evaluation stays.
    pub refused: Vec<(String, Vec<Problem>)>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct ScoreChange {
    pub slug: String,
    pub before: f64,
    pub after: f64,
}

impl ScoreChange {
    /// Size of the change in points.
    pub fn size(&self) -> f64 {
        (self.after - self.before).abs()
    }
}

/// Evaluates the newest revision of every unit whose shown evaluation comes from another engine,
/// score version or method, and shows the new one; the old rows are kept.
///
/// A few units at a time are one transaction, so it can be killed at any moment; a later call goes
/// on with what is left. `progress` is told (done, of so many) after each transaction; when it
/// answers `false` the run stops there and returns what was done.
pub async fn rescore(
    db: &Db,
    method: &Method,
    now: OffsetDateTime,
    mut progress: impl FnMut(u64, u64) -> bool,
) -> Result<Rescored, storage::Error> {
    let digest = method.digest();
    let basis = basis(method, digest);
    let total = outdated(db, method).await?;

    let mut result = Rescored::default();
    let mut seen = 0;
    let mut last_unit = 0;
    if !progress(0, total) {
        return Ok(result);
    }
    loop {
        let batch =
            evaluations::outdated(&mut *db.read().await?, basis, last_unit, AT_ONCE).await?;
        let Some(last) = batch.last() else {
            return Ok(result);
        };
        last_unit = last.unit_id;
        seen += batch.len() as u64;

        let judged: Vec<_> = batch
            .into_iter()
            .map(|unit| (judge_stored(&unit.record, method, db.logs()), unit))
            .collect();
        let mut renewed = 0;
        let mut tx = db.write().await?;
        for (judged, unit) in judged {
            match judged {
                Err(problems) => result.refused.push((unit.slug, problems)),
                Ok(judged) => {
                    if show(&mut tx, &unit, &judged, method, digest, now).await? {
                        renewed += 1;
                        result.note(unit, judged.evaluation.score.value);
                    }
                }
            }
        }
        let change = audit::Change::new("evaluations.renewed", "units")
            .detail(format!("{renewed} units by the method {digest}"));
        if renewed > 0 {
            audit::write(&mut tx, &audit::Who::command(), change, now).await?;
        }
        tx.commit().await?;
        if !progress(seen, total.max(seen)) {
            return Ok(result);
        }
    }
}

/// How many units show an evaluation that another method made.
pub async fn outdated(db: &Db, method: &Method) -> Result<u64, storage::Error> {
    let digest = method.digest();
    let count = evaluations::count_outdated(&mut *db.read().await?, basis(method, digest)).await?;
    Ok(u64::try_from(count).unwrap_or(0))
}

fn basis<'a>(method: &Method, digest: &'a str) -> Basis<'a> {
    Basis {
        engine: ENGINE,
        score_version: method.formula.version,
        method_digest: digest,
    }
}

/// Stores the evaluation and makes it the unit's shown one, unless the unit was revised meanwhile.
async fn show(
    connection: &mut storage::Connection,
    unit: &Outdated,
    judged: &Judged,
    method: &Method,
    digest: &str,
    now: OffsetDateTime,
) -> Result<bool, storage::Error> {
    let newest = units::newest_record_text(connection, unit.unit_id).await?;
    if newest.revision.id != unit.revision_id {
        return Ok(false);
    }
    let evaluation_id = evaluations::insert(
        connection,
        unit.revision_id,
        &judged.evaluation,
        &judged.basis(digest),
        now,
    )
    .await?;
    let row = Row::of(
        unit.unit_id,
        &unit.slug,
        &judged.record,
        &judged.evaluation,
        method,
    );
    rankings::write(connection, &row, unit.revision_id, evaluation_id).await?;
    Ok(true)
}

impl Rescored {
    fn note(&mut self, unit: Outdated, after: Option<f64>) {
        self.units += 1;
        if unit.score == after {
            return;
        }
        self.changed += 1;
        if let (Some(before), Some(after)) = (unit.score, after) {
            let change = ScoreChange {
                slug: unit.slug,
                before,
                after,
            };
            if self
                .largest
                .as_ref()
                .is_none_or(|largest| change.size() > largest.size())
            {
                self.largest = Some(change);
            }
        }
    }
}

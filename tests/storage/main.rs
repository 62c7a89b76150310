//! The store on a real file with its real settings: opening and upgrading, several at once,
//! submitting, re-scoring.

mod audit;
mod clock;
mod earlier_schemas;
mod opening;
mod photos;
mod queue;
mod rescoring;
mod sample;
mod several_at_once;
mod submitting;

use brickbook::evaluate::Method;
use brickbook::intake::{self, Submission, SubmitError, Submitted, Target};
use brickbook::storage::Db;
use tempfile::TempDir;
use time::OffsetDateTime;
use time::macros::datetime;

const NOW: OffsetDateTime = datetime!(2026-09-02 08:00 UTC);

/// A new database in a folder of its own.
async fn new_db() -> (TempDir, Db) {
    let folder = tempfile::tempdir().unwrap();
    let db = Db::open(&folder.path().join("test.db")).await.unwrap();
    (folder, db)
}

async fn submit(db: &Db, text: &str, target: Target) -> Result<Submitted, SubmitError> {
    let submission = Submission {
        text,
        target,
        author: "Ada",
        reason: "why",
        now: NOW,
    };
    intake::submit(db, &submission, &Method::standard()).await
}

/// Publishes an invented unit and returns its slug.
async fn publish(db: &Db, model: &str) -> String {
    let text = sample::record_text("Larkfield", model, None);
    submit(db, &text, Target::New).await.unwrap().slug
}

/// One number out of the database.
async fn number(db: &Db, sql: &'static str) -> i64 {
    sqlx::query_scalar(sql)
        .fetch_one(&mut *db.read().await.unwrap())
        .await
        .unwrap()
}

/// The file is sound, every reference leads somewhere, and no unit is half there.
async fn assert_sound(db: &Db) {
    let mut read = db.read().await.unwrap();
    let verdict: String = sqlx::query_scalar("PRAGMA integrity_check")
        .fetch_one(&mut *read)
        .await
        .unwrap();
    assert_eq!(verdict, "ok");
    let broken = sqlx::query("PRAGMA foreign_key_check")
        .fetch_all(&mut *read)
        .await
        .unwrap();
    assert!(broken.is_empty());
    drop(read);
    let half = "SELECT count(*) FROM unit
                LEFT JOIN ranking ON ranking.unit_id = unit.id
                LEFT JOIN revision ON revision.id = ranking.revision_id AND revision.unit_id = unit.id
                LEFT JOIN evaluation ON evaluation.id = ranking.evaluation_id
                                    AND evaluation.revision_id = revision.id
                WHERE evaluation.id IS NULL";
    assert_eq!(
        number(db, half).await,
        0,
        "units without revision, evaluation or ranking row"
    );
}

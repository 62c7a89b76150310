//! A clock that is set back: what came later stays later, and nothing is refused or lost for it.

use crate::{NOW, assert_sound, new_db, sample, submit};
use brickbook::evaluate::Method;
use brickbook::intake::{self, Submission, Target, check::check};
use brickbook::storage::{
    evaluations,
    operators::{self, Role},
    rankings, sessions, suggestions, units,
};
use time::{Duration, OffsetDateTime};

const EARLIER: OffsetDateTime = NOW.saturating_sub(Duration::days(400));

#[tokio::test]
async fn a_revision_with_an_earlier_time_is_the_newest_all_the_same() {
    let (_folder, db) = new_db().await;
    let text = sample::record_text("Larkfield", "LF-30", None);
    let first = submit(&db, &text, Target::New).await.unwrap();
    let changed = text.replace("115.1", "115.2");
    let revision = Submission {
        text: &changed,
        target: Target::Revise(first.slug.clone()),
        author: "Ada",
        reason: "typing error",
        now: EARLIER,
    };
    intake::submit(&db, &revision, &Method::standard())
        .await
        .unwrap();
    let mut reader = db.read().await.unwrap();
    let newest = units::newest_record_text(&mut reader, first.unit_id)
        .await
        .unwrap();
    assert_eq!((newest.revision.number, newest.text), (2, changed));
    let revisions = units::revisions(&mut reader, first.unit_id).await.unwrap();
    assert_eq!(revisions[0].number, 2);
    let shown = evaluations::current_of_unit(&mut reader, first.unit_id)
        .await
        .unwrap();
    assert_eq!(shown.revision_number, 2);
    assert_eq!(rankings::revised(&mut reader).await.unwrap().len(), 1);
    drop(reader);
    let checked = check(&db, &Method::standard(), |_, _| {}).await.unwrap();
    assert_eq!(checked.faults, Vec::<String>::new());
    assert_sound(&db).await;
}

#[tokio::test]
async fn a_session_outlives_a_clock_that_goes_back_and_ends_when_its_time_has_come() {
    let (_folder, db) = new_db().await;
    let mut tx = db.write().await.unwrap();
    let ada = operators::insert(&mut tx, "Ada", "x", Role::Owner, NOW)
        .await
        .unwrap();
    let ends = NOW + Duration::hours(12);
    let begun = sessions::New {
        token_hash: &[7; 32],
        operator_id: ada,
        csrf_token: "token",
        expires_at: ends,
        address: None,
        client: "",
    };
    sessions::begin(&mut tx, &begun, NOW).await.unwrap();
    tx.commit().await.unwrap();
    let mut reader = db.read().await.unwrap();
    for (now, lives) in [(NOW, true), (EARLIER, true), (ends, false)] {
        let found = sessions::find(&mut reader, &[7; 32], now).await.unwrap();
        assert_eq!(found.is_some(), lives, "{now}");
    }
}

#[tokio::test]
async fn what_readers_suggest_keeps_the_order_in_which_it_came() {
    let (_folder, db) = new_db().await;
    let mut tx = db.write().await.unwrap();
    for (model, now) in [("one", NOW), ("two", EARLIER), ("three", NOW)] {
        suggestions::insert(&mut tx, "Fernhill", model, None, "", now)
            .await
            .unwrap();
    }
    tx.commit().await.unwrap();
    let waiting = suggestions::undecided(&mut db.read().await.unwrap())
        .await
        .unwrap();
    let models: Vec<_> = waiting.iter().map(|one| one.model.as_str()).collect();
    assert_eq!(models, ["one", "two", "three"]);
}

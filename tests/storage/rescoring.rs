use crate::{NOW, assert_sound, new_db, number, publish, sample, submit};
use brickbook::evaluate::Method;
use brickbook::intake::{Rescored, Target, rescore};
use brickbook::storage::{Db, evaluations, rankings, units};

/// A method of another score line: the sample's run on 115 V no longer counts.
fn other_method() -> Method {
    let mut method = Method::standard();
    method.formula.line.voltage_v = 230.0;
    method.formula.line.frequency_hz = 50.0;
    method
}

/// A method that differs in name only: same scores, other digest.
fn renamed_method() -> Method {
    let mut method = Method::standard();
    method.classes[0].label.push_str(" (small)");
    method
}

async fn rescore_all(db: &Db, method: &Method) -> Rescored {
    rescore(db, method, NOW, |_, _| true).await.unwrap()
}

#[tokio::test]
async fn nothing_is_evaluated_again_while_the_method_is_the_same() {
    let (_folder, db) = new_db().await;
    publish(&db, "LF-30").await;
    assert_eq!(
        rescore_all(&db, &Method::standard()).await,
        Rescored::default()
    );
    assert_eq!(number(&db, "SELECT count(*) FROM evaluation").await, 1);
}

#[tokio::test]
async fn another_method_gives_every_unit_a_new_evaluation_and_keeps_the_old() {
    let (_folder, db) = new_db().await;
    for model in ["LF-30", "LF-31"] {
        publish(&db, model).await;
    }
    let before = rankings::all(&mut db.read().await.unwrap()).await.unwrap();
    let result = rescore_all(&db, &other_method()).await;
    assert_eq!((result.units, result.changed), (2, 2));

    let mut read = db.read().await.unwrap();
    let after = rankings::all(&mut read).await.unwrap();
    assert_ne!(before[0].score, after[0].score);
    let unit = units::find_by_slug(&mut read, "larkfield-lf-30")
        .await
        .unwrap();
    let history = evaluations::history(&mut read, unit.id).await.unwrap();
    let scores: Vec<_> = history
        .iter()
        .map(|past| (past.score, past.current))
        .collect();
    assert_eq!(scores, [(after[0].score, true), (before[0].score, false)]);
    drop(read);
    assert_sound(&db).await;
}

#[tokio::test]
async fn back_to_the_first_method_shows_the_first_evaluation_again() {
    let (_folder, db) = new_db().await;
    publish(&db, "LF-30").await;
    let before = rankings::all(&mut db.read().await.unwrap()).await.unwrap();
    rescore_all(&db, &other_method()).await;
    rescore_all(&db, &Method::standard()).await;
    let mut read = db.read().await.unwrap();
    assert_eq!(rankings::all(&mut read).await.unwrap(), before);
    let current = evaluations::current_of_unit(&mut read, before[0].unit_id)
        .await
        .unwrap();
    assert_eq!(current.method_digest, Method::standard().digest());
    let of_revision = evaluations::newest_of_revision(&mut read, current.revision_id)
        .await
        .unwrap();
    assert_eq!(of_revision.id, current.id);
    drop(read);
    assert_eq!(number(&db, "SELECT count(*) FROM evaluation").await, 2);
}

#[tokio::test]
async fn a_run_that_was_stopped_goes_on_where_it_was() {
    let (_folder, db) = new_db().await;
    for number in 0..120 {
        publish(&db, &format!("LF-{number}")).await;
    }
    let method = renamed_method();
    let mut told = Vec::new();
    let first = rescore(&db, &method, NOW, |done, total| {
        told.push((done, total));
        done < 50
    })
    .await
    .unwrap();
    assert_eq!(told, [(0, 120), (50, 120)]);
    assert_eq!((first.units, first.changed, &first.largest), (50, 0, &None));
    assert_sound(&db).await;

    let second = rescore_all(&db, &method).await;
    assert_eq!(second.units, 70);
    assert_eq!(rescore_all(&db, &method).await.units, 0);
    assert_eq!(number(&db, "SELECT count(*) FROM evaluation").await, 240);
    assert_sound(&db).await;
}

#[tokio::test]
async fn only_the_newest_revision_is_evaluated_again() {
    let (_folder, db) = new_db().await;
    let slug = publish(&db, "LF-30").await;
    let text = sample::record_text("Larkfield", "LF-30", None).replace("0.05", "0.09");
    submit(&db, &text, Target::Revise(slug)).await.unwrap();
    rescore_all(&db, &renamed_method()).await;
    let sql = "SELECT count(*) FROM evaluation JOIN revision ON revision.id = revision_id WHERE number = 2";
    assert_eq!(number(&db, sql).await, 2);
    assert_eq!(number(&db, "SELECT count(*) FROM evaluation").await, 3);
}

#[tokio::test]
async fn a_stored_record_that_is_refused_now_keeps_its_old_evaluation_and_is_named() {
    let (_folder, db) = new_db().await;
    publish(&db, "LF-30").await;
    publish(&db, "LF-31").await;
    let mut write = db.write().await.unwrap();
    sqlx::query("UPDATE revision SET record = '{}' WHERE unit_id = 1")
        .execute(&mut *write)
        .await
        .unwrap();
    write.commit().await.unwrap();
    let result = rescore_all(&db, &renamed_method()).await;
    assert_eq!(result.units, 1);
    let [(slug, problems)] = &result.refused[..] else {
        panic!("{result:?}")
    };
    assert_eq!(slug, "larkfield-lf-30");
    assert!(!problems.is_empty());
    assert_eq!(
        rankings::all(&mut db.read().await.unwrap())
            .await
            .unwrap()
            .len(),
        2
    );
}

#[tokio::test]
async fn the_largest_change_of_score_is_named() {
    let (_folder, db) = new_db().await;
    publish(&db, "LF-30").await;
    let text = sample::record_text("Larkfield", "LF-31", None).replace("0.05", "0.2");
    submit(&db, &text, Target::New).await.unwrap();
    let mut method = Method::standard();
    // Only the no-load term decides: the unit that idles worst loses most.
    method.formula.no_load.weight = 1000.0;
    let before = rankings::all(&mut db.read().await.unwrap()).await.unwrap();
    let result = rescore_all(&db, &method).await;
    let after = rankings::all(&mut db.read().await.unwrap()).await.unwrap();
    assert_eq!(result.changed, 2);
    let sizes: Vec<_> = before
        .iter()
        .zip(&after)
        .map(|(before, after)| (after.score.unwrap() - before.score.unwrap()).abs())
        .collect();
    assert_ne!(sizes[0], sizes[1]);
    let worst = usize::from(sizes[1] > sizes[0]);
    let largest = result.largest.unwrap();
    assert_eq!(largest.slug, after[worst].slug);
    assert_eq!(largest.size(), sizes[worst]);
}

/// What a version before the overload and temperature figures left in the database: its rows know
/// none of them, and its evaluations are of another method.
#[tokio::test]
async fn a_row_of_an_earlier_version_reads_and_gets_the_newer_figures_by_rescoring() {
    let (_folder, db) = new_db().await;
    let mut record = sample::record("Larkfield", "LF-30", None);
    record["overloads"] = serde_json::json!([
        {"port": "C1", "voltage_v": 20, "trip_current_a": 1.8, "recovery": "auto"}]);
    record["measurements"] = serde_json::json!([
        {"quantity": "ripple_mv", "value": 74, "voltage_v": 5}]);
    submit(&db, &record.to_string(), Target::New).await.unwrap();
    let mut tx = db.write().await.unwrap();
    sqlx::query(
        "UPDATE ranking SET row = json_remove(row, '$.trip_margin_percent',
             '$.trip_margin_u_percent', '$.recovery', '$.touch_temperature_c',
             '$.touch_temperature_u', '$.others')",
    )
    .execute(&mut *tx)
    .await
    .unwrap();
    sqlx::query("UPDATE evaluation SET engine = '0.1.0', method_digest = 'earlier'")
        .execute(&mut *tx)
        .await
        .unwrap();
    tx.commit().await.unwrap();

    let method = Method::standard();
    let row = async || {
        let mut rows = rankings::all(&mut db.read().await.unwrap()).await.unwrap();
        rows.pop().unwrap()
    };
    let old = row().await;
    assert_eq!((old.trip_margin_percent, old.recovery), (None, None));
    assert!(old.others.is_empty(), "unknown, not zero");
    assert_eq!(
        brickbook::intake::rescore::outdated(&db, &method)
            .await
            .unwrap(),
        1,
        "the program says so at its start"
    );
    assert_eq!(rescore_all(&db, &method).await.units, 1);
    let new = row().await;
    assert!((new.trip_margin_percent.unwrap() - 20.0).abs() < 1e-9);
    assert_eq!(new.recovery.map(|r| r.id()), Some("auto"));
    assert_eq!(new.others[0].value, 74.0);
    assert_eq!(new.score, old.score);
    assert_sound(&db).await;
}

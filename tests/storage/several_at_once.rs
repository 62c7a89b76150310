use crate::{assert_sound, new_db, number, publish, sample, submit};
use brickbook::intake::{SubmitError, Target};
use brickbook::storage::{Db, Error, public_change, settings};

#[tokio::test(flavor = "multi_thread")]
async fn two_writers_with_their_own_handles_lose_nothing() {
    let (_folder, first) = new_db().await;
    let second = Db::open(first.path()).await.unwrap();
    let write_all = |db: Db, name: &'static str| async move {
        for number in 0..20 {
            publish(&db, &format!("{name}-{number}")).await;
        }
    };
    let (one, two) = tokio::join!(
        tokio::spawn(write_all(first.clone(), "A")),
        tokio::spawn(write_all(second, "B"))
    );
    one.unwrap();
    two.unwrap();
    assert_eq!(number(&first, "SELECT count(*) FROM ranking").await, 40);
    assert_sound(&first).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn of_two_who_publish_the_same_unit_at_once_one_is_told_of_the_other() {
    let (_folder, db) = new_db().await;
    let first = sample::record_text("Larkfield", "LF-30", None);
    let second = first.replace("0.05", "0.06");
    let (one, two) = tokio::join!(
        submit(&db, &first, Target::New),
        submit(&db, &second, Target::New)
    );
    let refused = match (one, two) {
        (Ok(_), Err(refused)) | (Err(refused), Ok(_)) => refused,
        other => panic!("{other:?}"),
    };
    assert!(matches!(refused, SubmitError::AlreadyTested { slug } if slug == "larkfield-lf-30"));
    assert_eq!(number(&db, "SELECT count(*) FROM revision").await, 1);
}

#[tokio::test]
async fn a_reader_sees_the_last_commit_while_a_writer_is_at_work() {
    let (_folder, db) = new_db().await;
    let mut write = db.write().await.unwrap();
    settings::set(&mut write, "key", "new").await.unwrap();

    let mut read = db.read().await.unwrap();
    assert_eq!(settings::get(&mut read, "key").await.unwrap(), None);
    write.commit().await.unwrap();
    assert_eq!(
        settings::get(&mut read, "key").await.unwrap().as_deref(),
        Some("new")
    );
}

#[tokio::test]
async fn a_snapshot_stays_as_it_was_while_others_write() {
    let (_folder, db) = new_db().await;
    let mut snapshot = db.snapshot().await.unwrap();
    let before = public_change::count(&mut snapshot).await.unwrap();
    publish(&db, "LF-30").await;
    assert_eq!(public_change::count(&mut snapshot).await.unwrap(), before);
    let after = public_change::count(&mut db.read().await.unwrap())
        .await
        .unwrap();
    assert!(after > before);
}

#[tokio::test]
async fn a_transaction_that_is_dropped_leaves_nothing() {
    let (_folder, db) = new_db().await;
    let mut write = db.write().await.unwrap();
    settings::set(&mut write, "key", "value").await.unwrap();
    drop(write);
    let mut next = db.write().await.unwrap();
    assert_eq!(settings::get(&mut next, "key").await.unwrap(), None);
}

#[tokio::test]
async fn a_writer_may_read_first_although_another_handle_wrote_in_between() {
    let (_folder, db) = new_db().await;
    let other = Db::open(db.path()).await.unwrap();
    for round in 0..10 {
        for db in [&db, &other] {
            let mut write = db.write().await.unwrap();
            let before = settings::get(&mut write, "count").await.unwrap();
            let before: u32 = before.map_or(0, |text| text.parse().unwrap());
            settings::set(&mut write, "count", &(before + 1).to_string())
                .await
                .unwrap();
            write.commit().await.unwrap();
        }
        let count = settings::get(&mut db.read().await.unwrap(), "count")
            .await
            .unwrap();
        assert_eq!(count, Some((2 * (round + 1)).to_string()));
    }
}

#[tokio::test]
async fn a_lock_that_is_not_given_in_time_is_busy_and_may_be_tried_again() {
    let (_folder, db) = new_db().await;
    let _write = db.write().await.unwrap();
    let impatient = sqlx::sqlite::SqliteConnectOptions::new()
        .filename(db.path())
        .busy_timeout(std::time::Duration::ZERO);
    let pool = sqlx::SqlitePool::connect_with(impatient).await.unwrap();
    let error = Error::from(pool.begin_with("BEGIN IMMEDIATE").await.unwrap_err());
    assert!(error.is_retriable(), "{error:?}");
}

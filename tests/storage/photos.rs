use crate::{NOW, assert_sound, new_db, number, publish, sample, submit};
use brickbook::intake::Target;
use brickbook::photo::{self, Kept};
use brickbook::storage::{Db, Error, drafts, operators, photos, public_change};
use serde_json::json;
use sqlx::migrate::Migrator;
use std::path::Path;

/// A plain picture of one colour: each colour has a SHA-256 of its own.
fn picture(colour: u8) -> Kept {
    photo::drawn(60, 40, vec![colour; 60 * 40 * 3])
}

async fn enter(db: &Db, kept: &Kept) {
    let mut tx = db.write().await.unwrap();
    photos::enter(&mut tx, kept, "front.jpg", None, NOW)
        .await
        .unwrap();
    tx.commit().await.unwrap();
}

fn with_photos(model: &str, kept: &[&Kept]) -> String {
    let mut record = sample::record("Larkfield", model, None);
    record["photos"] = kept
        .iter()
        .map(|kept| json!({"sha256": kept.sha256(), "width_px": 60, "height_px": 40}))
        .collect();
    record.to_string()
}

async fn revision_of(db: &Db, slug: &str) -> i64 {
    sqlx::query_scalar(
        "SELECT ranking.revision_id FROM ranking JOIN unit ON unit.id = unit_id WHERE slug = ?",
    )
    .bind(slug)
    .fetch_one(&mut *db.read().await.unwrap())
    .await
    .unwrap()
}

#[tokio::test]
async fn a_revision_gives_its_photos_with_their_bytes_in_the_order_of_its_page() {
    let (_folder, db) = new_db().await;
    let (first, second) = (picture(10), picture(200));
    enter(&db, &second).await;
    enter(&db, &first).await;
    let submitted = submit(&db, &with_photos("LF-30", &[&first, &second]), Target::New)
        .await
        .unwrap();
    assert!(submitted.missing_photos.is_empty());

    let mut read = db.read().await.unwrap();
    let found = photos::of_revision(&mut read, revision_of(&db, &submitted.slug).await)
        .await
        .unwrap();
    let hashes: Vec<&str> = found.iter().map(|p| p.sha256.as_str()).collect();
    assert_eq!(hashes, [first.sha256(), second.sha256()]);
    assert_eq!(found[0].jpeg, first.jpeg);
    assert_eq!(found[1].thumbnail, second.thumbnail);
    assert_eq!((found[0].width_px, found[0].height_px), (60, 40));
    let shown = photos::first_of_unit(&mut read, &submitted.slug).await;
    assert_eq!(shown.unwrap().unwrap().sha256, first.sha256());
}

#[tokio::test]
async fn a_photo_of_a_draft_or_of_nobody_is_not_public() {
    let (_folder, db) = new_db().await;
    let (named, other) = (picture(10), picture(20));
    enter(&db, &named).await;
    enter(&db, &other).await;
    let slug = submit(&db, &with_photos("LF-30", &[&named]), Target::New)
        .await
        .unwrap()
        .slug;
    let second = publish(&db, "LF-31").await;
    let mut read = db.read().await.unwrap();
    for (slug, kept, public) in [
        (&slug, &named, true),
        (&slug, &other, false),
        (&second, &named, false),
    ] {
        let found = photos::is_of_unit(&mut read, slug, &kept.sha256()).await;
        assert_eq!(found.unwrap(), public);
    }
}

#[tokio::test]
async fn a_photo_that_is_not_at_hand_is_told_and_shows_once_it_has_come_in() {
    let (_folder, db) = new_db().await;
    let (present, absent) = (picture(10), picture(20));
    enter(&db, &present).await;
    let text = with_photos("LF-30", &[&absent, &present]);
    let submitted = submit(&db, &text, Target::New).await.unwrap();
    let missing: Vec<String> = submitted.missing_photos.into_iter().collect();
    assert_eq!(missing, [absent.sha256()]);
    let again = submit(&db, &text, Target::New).await.unwrap();
    assert_eq!(again.missing_photos.len(), 1, "also where nothing changed");

    let mut read = db.read().await.unwrap();
    let first = photos::first_of_unit(&mut read, &submitted.slug).await;
    assert_eq!(first.unwrap().unwrap().sha256, present.sha256());
    let before = public_change::count(&mut read).await.unwrap();
    drop(read);
    enter(&db, &absent).await;
    let mut read = db.read().await.unwrap();
    assert!(public_change::count(&mut read).await.unwrap() > before);
    let first = photos::first_of_unit(&mut read, &submitted.slug).await;
    assert_eq!(first.unwrap().unwrap().sha256, absent.sha256());
}

#[tokio::test]
async fn the_same_photo_again_keeps_its_first_name() {
    let (_folder, db) = new_db().await;
    let kept = picture(10);
    enter(&db, &kept).await;
    let mut tx = db.write().await.unwrap();
    let is_new = photos::enter(&mut tx, &kept, "other.png", None, NOW).await;
    assert!(!is_new.unwrap());
    tx.commit().await.unwrap();
    let mut read = db.read().await.unwrap();
    let found = photos::find(&mut read, &kept.sha256()).await.unwrap();
    assert_eq!(found.name, "front.jpg");
    assert_eq!(found.size_bytes, kept.jpeg.len() as u64);
}

#[tokio::test]
async fn only_a_photo_that_neither_a_unit_nor_a_draft_names_can_be_deleted() {
    let (_folder, db) = new_db().await;
    let (published, drafted, unused) = (picture(10), picture(20), picture(30));
    for kept in [&published, &drafted, &unused] {
        enter(&db, kept).await;
    }
    submit(&db, &with_photos("LF-30", &[&published]), Target::New)
        .await
        .unwrap();
    let mut tx = db.write().await.unwrap();
    let operator = operators::insert(&mut tx, "Ada", "hash", operators::Role::Owner, NOW)
        .await
        .unwrap();
    let fields = json!({"photos[0].sha256": drafted.sha256()}).to_string();
    drafts::insert(&mut tx, operator, None, &fields, NOW)
        .await
        .unwrap();

    let listed = photos::unused(&mut tx, 10).await.unwrap();
    let listed: Vec<String> = listed.into_iter().map(|photo| photo.sha256).collect();
    assert_eq!(listed, [unused.sha256()]);

    let refused = photos::remove(&mut tx, &published.sha256()).await;
    let words = refused.unwrap_err().to_string();
    assert!(words.contains("larkfield-lf-30"), "{words}");
    let refused = photos::remove(&mut tx, &drafted.sha256()).await;
    assert!(matches!(refused, Err(Error::Conflict(_))));
    photos::remove(&mut tx, &unused.sha256()).await.unwrap();
    let gone = photos::remove(&mut tx, &unused.sha256()).await;
    assert!(matches!(gone, Err(Error::NotFound)));
    tx.commit().await.unwrap();
    assert_eq!(number(&db, "SELECT count(*) FROM photo").await, 2);
}

#[tokio::test]
async fn a_photo_that_only_an_earlier_revision_names_can_be_deleted_and_is_then_missing_there() {
    let (_folder, db) = new_db().await;
    let (withdrawn, kept) = (picture(10), picture(20));
    enter(&db, &withdrawn).await;
    enter(&db, &kept).await;
    let text = with_photos("LF-30", &[&withdrawn, &kept]);
    let slug = submit(&db, &text, Target::New).await.unwrap().slug;
    let mut tx = db.write().await.unwrap();
    let refused = photos::remove(&mut tx, &withdrawn.sha256()).await;
    assert!(matches!(refused, Err(Error::Conflict(_))));
    drop(tx);
    let text = with_photos("LF-30", &[&kept]);
    submit(&db, &text, Target::Revise(slug.clone()))
        .await
        .unwrap();

    let mut tx = db.write().await.unwrap();
    let named = photos::named_by(&mut tx, &withdrawn.sha256())
        .await
        .unwrap();
    assert!(!named.keeps_it());
    assert_eq!(named.earlier, [(slug.clone(), 1)]);
    let named = photos::named_by(&mut tx, &kept.sha256()).await.unwrap();
    assert_eq!(named.units, std::slice::from_ref(&slug));
    let listed = photos::unused(&mut tx, 10).await.unwrap();
    assert_eq!(listed.len(), 1);
    assert_eq!(listed[0].sha256, withdrawn.sha256());
    let before = public_change::count(&mut tx).await.unwrap();
    photos::remove(&mut tx, &withdrawn.sha256()).await.unwrap();
    let after = public_change::count(&mut tx).await.unwrap();
    assert!(after > before, "the earlier revision's page changes");
    let refused = photos::remove(&mut tx, &kept.sha256()).await;
    assert!(matches!(refused, Err(Error::Conflict(_))));
    tx.commit().await.unwrap();
    assert_sound(&db).await;
}

#[tokio::test]
async fn a_refused_revision_names_no_photo() {
    let (_folder, db) = new_db().await;
    let kept = picture(10);
    enter(&db, &kept).await;
    let text = with_photos("LF-30", &[&kept]).replace("\"width_px\":60", "\"width_px\":0");
    assert!(submit(&db, &text, Target::New).await.is_err());
    assert_eq!(number(&db, "SELECT count(*) FROM revision_photo").await, 0);
    assert_sound(&db).await;
}

#[tokio::test]
async fn a_database_from_before_photos_opens_with_its_units_and_takes_photos() {
    let (folder, db) = new_db().await;
    let slug = publish(&db, "LF-30").await;
    db.close().await;

    // The schema as it was released before, with the rows that the unit above has.
    let old = folder.path().join("old.db");
    let migrations = folder.path().join("migrations");
    std::fs::create_dir(&migrations).unwrap();
    let released = Path::new(env!("CARGO_MANIFEST_DIR")).join("migrations");
    for name in [
        "0001_house.sql",
        "0002_links_outlive_drafts.sql",
        "0003_logs.sql",
    ] {
        std::fs::copy(released.join(name), migrations.join(name)).unwrap();
    }
    let options = sqlx::sqlite::SqliteConnectOptions::new()
        .filename(&old)
        .create_if_missing(true);
    let pool = sqlx::SqlitePool::connect_with(options).await.unwrap();
    let migrator = Migrator::new(migrations.as_path()).await.unwrap();
    migrator.run(&pool).await.unwrap();
    let mut connection = pool.acquire().await.unwrap();
    sqlx::query("ATTACH ? AS newer")
        .bind(db.path().to_str().unwrap())
        .execute(&mut *connection)
        .await
        .unwrap();
    for copy in [
        "INSERT INTO unit SELECT * FROM newer.unit",
        "INSERT INTO revision SELECT * FROM newer.revision",
        "INSERT INTO evaluation SELECT * FROM newer.evaluation",
        "INSERT INTO ranking SELECT * FROM newer.ranking",
    ] {
        sqlx::query(copy).execute(&mut *connection).await.unwrap();
    }
    drop(connection);
    pool.close().await;

    let db = Db::open(&old).await.unwrap();
    assert_eq!(number(&db, "SELECT count(*) FROM ranking").await, 1);
    assert_sound(&db).await;
    let kept = picture(10);
    enter(&db, &kept).await;
    let text = with_photos("LF-30", &[&kept]);
    let revised = submit(&db, &text, Target::Revise(slug.clone()))
        .await
        .unwrap();
    assert_eq!(revised.revision, 2);
    let mut read = db.read().await.unwrap();
    let first = photos::first_of_unit(&mut read, &slug).await.unwrap();
    assert_eq!(first.unwrap().sha256, kept.sha256());
}

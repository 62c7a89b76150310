use crate::{NOW, assert_sound, new_db, number, publish, sample, submit};
use brickbook::bench::decode::decode;
use brickbook::evaluate::{ENGINE, Method, evaluate};
use brickbook::intake::{Change, SubmitError, Target};
use brickbook::ranking::Row;
use brickbook::storage::{Error, evaluations, public_change, rankings, units};

#[tokio::test]
async fn a_record_is_kept_byte_for_byte_with_its_evaluation_and_row() {
    let (_folder, db) = new_db().await;
    let text = format!(
        " \t{}\r\n\n",
        sample::record_text("Łark \\u00e9", "Größe 30", Some("A")).replace("30,", "30.00e0 ,")
    );
    let submitted = submit(&db, &text, Target::New).await.unwrap();
    assert_eq!(
        (submitted.revision, submitted.change),
        (1, Change::Published)
    );

    let mut read = db.read().await.unwrap();
    let unit = units::find_by_slug(&mut read, &submitted.slug)
        .await
        .unwrap();
    assert_eq!((unit.id, unit.created_at), (submitted.unit_id, NOW));
    let stored = units::record_text(&mut read, unit.id, 1).await.unwrap();
    assert_eq!(stored.text, text);
    assert_eq!(
        (&*stored.revision.author, &*stored.revision.reason),
        ("Ada", "why")
    );

    let record = decode(&text).unwrap();
    let method = Method::standard();
    let evaluation = evaluate(&record, &method);
    let current = evaluations::current_of_unit(&mut read, unit.id)
        .await
        .unwrap();
    assert_eq!(current.evaluation().unwrap(), evaluation);
    assert_eq!(
        current.document,
        serde_json::to_string(&evaluation).unwrap()
    );
    assert_eq!(current.method_digest, method.digest());
    let row = Row::of(unit.id, &unit.slug, &record, &evaluation, &method);
    assert_eq!(rankings::all(&mut read).await.unwrap(), [row]);
    drop(read);
    assert_sound(&db).await;
}

#[tokio::test]
async fn a_refused_record_names_every_fault_and_writes_nothing() {
    let (_folder, db) = new_db().await;
    let text = sample::record_text("Larkfield", "LF-30", None)
        .replace("\"power_w\": 0.05", "\"power_w\": -1, \"watts\": 2");
    let SubmitError::Refused(problems) = submit(&db, &text, Target::New).await.unwrap_err() else {
        panic!()
    };
    let paths: Vec<_> = problems.iter().map(|problem| &*problem.path).collect();
    assert!(paths.contains(&"runs[0].no_load.power_w"), "{paths:?}");
    assert!(paths.contains(&"runs[0].no_load.watts"), "{paths:?}");
    assert_eq!(number(&db, "SELECT count(*) FROM unit").await, 0);
}

#[tokio::test]
async fn a_published_unit_entered_as_new_is_named_and_left_alone() {
    let (_folder, db) = new_db().await;
    publish(&db, "LF-30").await;
    let before = public_change::count(&mut db.read().await.unwrap())
        .await
        .unwrap();
    let other = sample::record_text(" larkfield ", "lf-30", None).replace("0.05", "0.06");
    let error = submit(&db, &other, Target::New).await.unwrap_err();
    assert!(matches!(&error, SubmitError::AlreadyTested { slug } if slug == "larkfield-lf-30"));
    assert!(error.to_string().contains("larkfield-lf-30"));
    let after = public_change::count(&mut db.read().await.unwrap())
        .await
        .unwrap();
    assert_eq!(before, after);
    assert_eq!(number(&db, "SELECT count(*) FROM revision").await, 1);
}

#[tokio::test]
async fn the_same_content_again_changes_nothing_and_says_so() {
    let (_folder, db) = new_db().await;
    let slug = publish(&db, "LF-30").await;
    let respelt = sample::record("Larkfield", "LF-30", None).to_string();
    for target in [Target::New, Target::Revise(slug.clone())] {
        let again = submit(&db, &respelt, target).await.unwrap();
        assert_eq!(
            (&*again.slug, again.revision, again.change),
            (&*slug, 1, Change::Unchanged)
        );
    }
    assert_eq!(number(&db, "SELECT count(*) FROM revision").await, 1);
    assert_eq!(number(&db, "SELECT count(*) FROM evaluation").await, 1);
}

#[tokio::test]
async fn a_revision_is_added_and_the_first_stays_readable() {
    let (_folder, db) = new_db().await;
    let slug = publish(&db, "LF-30").await;
    let first = sample::record_text("Larkfield", "LF-30", None);
    let second = first.replace("0.05", "0.09");
    let revised = submit(&db, &second, Target::Revise(slug.clone()))
        .await
        .unwrap();
    assert_eq!(
        (&*revised.slug, revised.revision, revised.change),
        (&*slug, 2, Change::Revised)
    );

    let mut read = db.read().await.unwrap();
    let numbers: Vec<_> = units::revisions(&mut read, revised.unit_id)
        .await
        .unwrap()
        .iter()
        .map(|revision| revision.number)
        .collect();
    assert_eq!(numbers, [2, 1]);
    let old = units::record_text(&mut read, revised.unit_id, 1)
        .await
        .unwrap();
    assert_eq!(old.text, first);
    let newest = units::newest_record_text(&mut read, revised.unit_id)
        .await
        .unwrap();
    assert_eq!(newest.text, second);
    let missing = units::record_text(&mut read, revised.unit_id, 3)
        .await
        .unwrap_err();
    assert!(matches!(missing, Error::NotFound));

    let rows = rankings::all(&mut read).await.unwrap();
    assert_eq!(rows.len(), 1);
    assert_eq!(rows[0].no_load_w, Some(0.09));
    let history = evaluations::history(&mut read, revised.unit_id)
        .await
        .unwrap();
    let seen: Vec<_> = history
        .iter()
        .map(|past| (past.revision_number, past.current))
        .collect();
    assert_eq!(seen, [(2, true), (1, false)]);
    assert_eq!(history[0].engine, ENGINE);
    let old_evaluation = evaluations::newest_of_revision(&mut read, old.revision.id)
        .await
        .unwrap();
    assert_eq!(old_evaluation.revision_number, 1);
}

#[tokio::test]
async fn a_revision_may_correct_the_name_and_the_address_stays() {
    let (_folder, db) = new_db().await;
    let slug = publish(&db, "LF-3O").await;
    let corrected = sample::record_text("Larkfield", "LF-30", None);
    let revised = submit(&db, &corrected, Target::Revise(slug.clone()))
        .await
        .unwrap();
    assert_eq!(revised.slug, slug);
    // The wrong name is free again, the right one taken.
    assert_eq!(publish(&db, "LF-3O").await, format!("{slug}-2"));
    let taken = submit(&db, &corrected.replace("0.05", "0.06"), Target::New)
        .await
        .unwrap_err();
    assert!(matches!(taken, SubmitError::AlreadyTested { slug: at } if at == slug));
}

#[tokio::test]
async fn a_revision_may_not_take_the_name_of_another_unit() {
    let (_folder, db) = new_db().await;
    publish(&db, "LF-30").await;
    let slug = publish(&db, "LF-31").await;
    let text = sample::record_text("Larkfield", "LF-30", None);
    let error = submit(&db, &text, Target::Revise(slug)).await.unwrap_err();
    assert!(matches!(error, SubmitError::AlreadyTested { slug } if slug == "larkfield-lf-30"));
    assert_eq!(number(&db, "SELECT count(*) FROM revision").await, 2);
}

#[tokio::test]
async fn a_revision_of_a_unit_that_is_not_there_is_told() {
    let (_folder, db) = new_db().await;
    let text = sample::record_text("Larkfield", "LF-30", None);
    let error = submit(&db, &text, Target::Revise("nowhere".into()))
        .await
        .unwrap_err();
    assert!(matches!(error, SubmitError::NoSuchUnit { slug } if slug == "nowhere"));
    assert_eq!(number(&db, "SELECT count(*) FROM unit").await, 0);
}

#[tokio::test]
async fn names_that_look_alike_in_an_address_get_numbers() {
    let (_folder, db) = new_db().await;
    assert_eq!(publish(&db, "LF 30").await, "larkfield-lf-30");
    assert_eq!(publish(&db, "LF/30").await, "larkfield-lf-30-2");
    assert_eq!(publish(&db, "LF_30").await, "larkfield-lf-30-3");
}

#[tokio::test]
async fn other_samples_of_a_model_are_found_by_maker_and_model() {
    let (_folder, db) = new_db().await;
    for sample in [None, Some("A"), Some("B")] {
        let text = sample::record_text("Larkfield", "LF-30", sample);
        submit(&db, &text, Target::New).await.unwrap();
    }
    publish(&db, "LF-31").await;
    let key = decode(&sample::record_text("LARKFIELD", "lf-30", Some("C"))).unwrap();
    let mut read = db.read().await.unwrap();
    let found = units::find_by_model(&mut read, &key.unit.model_key())
        .await
        .unwrap();
    let slugs: Vec<_> = found.iter().map(|unit| &*unit.slug).collect();
    assert_eq!(
        slugs,
        ["larkfield-lf-30", "larkfield-lf-30-a", "larkfield-lf-30-b"]
    );
    let none = units::find_by_identity(&mut read, &key.unit.identity_key())
        .await
        .unwrap();
    assert_eq!(none, None);
}

#[tokio::test]
async fn units_are_paged_in_the_order_of_publication() {
    let (_folder, db) = new_db().await;
    for number in 0..5 {
        publish(&db, &format!("LF-{number}")).await;
    }
    let mut read = db.read().await.unwrap();
    let first = units::page(&mut read, 0, 3).await.unwrap();
    let rest = units::page(&mut read, first[2].id, 3).await.unwrap();
    let slugs: Vec<_> = first.iter().chain(&rest).map(|unit| &*unit.slug).collect();
    assert_eq!(
        slugs,
        [
            "larkfield-lf-0",
            "larkfield-lf-1",
            "larkfield-lf-2",
            "larkfield-lf-3",
            "larkfield-lf-4"
        ]
    );
    assert_eq!(units::count(&mut read).await.unwrap(), 5);
}

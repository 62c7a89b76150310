//! Candidates and suggestions: their order, their history, what makes public pages stale.

use crate::{NOW, assert_sound, new_db, number, publish};
use brickbook::storage::candidates::{self, Entry, State};
use brickbook::storage::suggestions::{self, Decision, MOST_UNDECIDED};
use brickbook::storage::{Db, Error, drafts, operators};

fn entry(model: &str, public: bool) -> Entry {
    Entry {
        maker: "Larkfield".into(),
        model: model.into(),
        link: None,
        price: Some(("24.90".into(), "EUR".into())),
        planned_on: Some("2026-10-01".into()),
        public,
        note: String::new(),
        label: r#"{"unit.nameplate.output_power_w":"20"}"#.into(),
    }
}

async fn add(db: &Db, model: &str, public: bool) -> i64 {
    let mut tx = db.write().await.unwrap();
    let uid = format!("a-name-for-calendars-{model}");
    let entry = entry(model, public);
    let id = candidates::insert(&mut tx, &uid, &entry, State::Wanted, "Ada", NOW)
        .await
        .unwrap();
    tx.commit().await.unwrap();
    id
}

async fn models(db: &Db) -> Vec<String> {
    let all = candidates::list(&mut db.read().await.unwrap())
        .await
        .unwrap();
    all.into_iter().map(|one| one.entry.model).collect()
}

async fn changes(db: &Db) -> i64 {
    number(db, "SELECT count FROM public_change").await
}

#[tokio::test]
async fn a_candidate_is_read_back_as_it_was_entered_and_remembers_its_way() {
    let (_folder, db) = new_db().await;
    let id = add(&db, "LF-20C", true).await;
    let mut tx = db.write().await.unwrap();
    let later = NOW + time::Duration::days(3);
    candidates::set_state(&mut tx, id, State::Ordered, "Grace", later)
        .await
        .unwrap();
    candidates::set_state(&mut tx, id, State::Ordered, "Grace", later)
        .await
        .unwrap();
    tx.commit().await.unwrap();
    let mut read = db.read().await.unwrap();
    let one = candidates::find(&mut read, id).await.unwrap();
    assert_eq!(
        (one.entry, one.state, one.sequence),
        (entry("LF-20C", true), State::Ordered, 1)
    );
    assert_eq!((one.created_at, one.updated_at), (NOW, later));
    let steps = candidates::steps(&mut read, id).await.unwrap();
    let steps: Vec<_> = steps
        .iter()
        .map(|step| (step.state, step.author.as_str(), step.at))
        .collect();
    assert_eq!(
        steps,
        [
            (State::Wanted, "Ada", NOW),
            (State::Ordered, "Grace", later)
        ]
    );
}

#[tokio::test]
async fn candidates_stand_where_they_were_put() {
    let (_folder, db) = new_db().await;
    let mut ids = Vec::new();
    for model in ["A", "B", "C", "D"] {
        ids.push(add(&db, model, false).await);
    }
    let mut tx = db.write().await.unwrap();
    candidates::put_before(&mut tx, ids[3], Some(ids[0]))
        .await
        .unwrap();
    candidates::put_before(&mut tx, ids[0], None).await.unwrap();
    candidates::put_before(&mut tx, ids[1], Some(ids[1]))
        .await
        .unwrap();
    let missing = candidates::put_before(&mut tx, ids[0], Some(99)).await;
    assert!(matches!(missing, Err(Error::NotFound)));
    candidates::move_by_one(&mut tx, ids[2], true)
        .await
        .unwrap();
    tx.commit().await.unwrap();
    assert_eq!(models(&db).await, ["D", "C", "B", "A"]);
    let mut tx = db.write().await.unwrap();
    candidates::delete(&mut tx, ids[2]).await.unwrap();
    tx.commit().await.unwrap();
    add(&db, "E", false).await;
    assert_eq!(models(&db).await, ["D", "B", "A", "E"]);
    assert_eq!(
        number(
            &db,
            "SELECT count(*) FROM candidate_step WHERE candidate_id = 3"
        )
        .await,
        0
    );
}

#[tokio::test]
async fn public_pages_become_stale_with_what_they_show_and_not_with_the_rest() {
    let (_folder, db) = new_db().await;
    let hidden = add(&db, "A", false).await;
    let mut tx = db.write().await.unwrap();
    candidates::set_state(&mut tx, hidden, State::Here, "Ada", NOW)
        .await
        .unwrap();
    tx.commit().await.unwrap();
    assert_eq!(changes(&db).await, 0);
    let shown = add(&db, "B", true).await;
    let before = changes(&db).await;
    assert_eq!(before, 1);
    let mut tx = db.write().await.unwrap();
    candidates::update(&mut tx, shown, &entry("B", false), NOW)
        .await
        .unwrap();
    tx.commit().await.unwrap();
    assert!(changes(&db).await > before, "it is hidden now");
    let before = changes(&db).await;
    let mut tx = db.write().await.unwrap();
    candidates::delete(&mut tx, hidden).await.unwrap();
    tx.commit().await.unwrap();
    assert_eq!(changes(&db).await, before);
}

#[tokio::test]
async fn a_draft_leads_its_candidate_to_the_unit_and_a_discarded_one_back() {
    let (_folder, db) = new_db().await;
    let slug = publish(&db, "LF-30").await;
    let id = add(&db, "LF-30", false).await;
    let other = add(&db, "LF-31", false).await;
    let mut tx = db.write().await.unwrap();
    let ada = operators::insert_first(&mut tx, "Ada", "no hash", NOW)
        .await
        .unwrap()
        .unwrap();
    let draft = drafts::insert(&mut tx, ada, None, "{}", NOW).await.unwrap();
    let discarded = drafts::insert(&mut tx, ada, None, "{}", NOW).await.unwrap();
    candidates::go_on_the_bench(&mut tx, id, draft, "Ada", NOW)
        .await
        .unwrap();
    candidates::go_on_the_bench(&mut tx, other, discarded, "Ada", NOW)
        .await
        .unwrap();
    candidates::become_unit(&mut tx, draft, 1, "Ada", NOW)
        .await
        .unwrap();
    drafts::become_unit(&mut tx, draft, ada, 1, NOW)
        .await
        .unwrap();
    candidates::leave_the_bench(&mut tx, discarded, "Ada", NOW)
        .await
        .unwrap();
    drafts::delete(&mut tx, discarded, ada).await.unwrap();
    // A draft that is nobody's record changes nothing.
    candidates::become_unit(&mut tx, 99, 1, "Ada", NOW)
        .await
        .unwrap();
    tx.commit().await.unwrap();
    let mut read = db.read().await.unwrap();
    let one = candidates::find(&mut read, id).await.unwrap();
    assert_eq!(
        (one.state, one.slug, one.draft_id),
        (State::Published, Some(slug), None)
    );
    let other = candidates::find(&mut read, other).await.unwrap();
    assert_eq!(
        (other.state, other.slug, other.draft_id),
        (State::Here, None, None)
    );
    drop(read);
    assert_sound(&db).await;
}

#[tokio::test]
async fn a_suggestion_is_decided_once() {
    let (_folder, db) = new_db().await;
    let mut tx = db.write().await.unwrap();
    let first = suggestions::insert(&mut tx, "Larkfield", "LF-20C", None, "why", NOW)
        .await
        .unwrap();
    let second = suggestions::insert(
        &mut tx,
        "Wexmoor",
        "WX-5C",
        Some("https://a.example"),
        "",
        NOW,
    )
    .await
    .unwrap();
    suggestions::count_again(&mut tx, second).await.unwrap();
    tx.commit().await.unwrap();
    let waiting = suggestions::undecided(&mut db.read().await.unwrap())
        .await
        .unwrap();
    let order: Vec<_> = waiting.iter().map(|one| (one.id, one.times)).collect();
    assert_eq!(
        order,
        [(second, 2), (first, 1)],
        "what most readers want comes first"
    );
    let candidate = add(&db, "LF-20C", false).await;
    let mut tx = db.write().await.unwrap();
    suggestions::decide(&mut tx, first, Decision::Accepted(candidate), NOW)
        .await
        .unwrap();
    suggestions::decide(&mut tx, second, Decision::Declined, NOW)
        .await
        .unwrap();
    let again = suggestions::decide(&mut tx, first, Decision::Declined, NOW).await;
    assert!(matches!(again, Err(Error::NotFound)));
    tx.commit().await.unwrap();
    assert!(
        suggestions::undecided(&mut db.read().await.unwrap())
            .await
            .unwrap()
            .is_empty()
    );
}

#[tokio::test]
async fn strangers_cannot_fill_the_disk_with_suggestions() {
    let (_folder, db) = new_db().await;
    let mut tx = db.write().await.unwrap();
    for number in 0..MOST_UNDECIDED {
        let model = format!("M-{number}");
        suggestions::insert(&mut tx, "Larkfield", &model, None, "", NOW)
            .await
            .unwrap();
    }
    let one_more = suggestions::insert(&mut tx, "Larkfield", "M", None, "", NOW).await;
    assert!(matches!(one_more, Err(Error::Conflict(_))));
    suggestions::decide(&mut tx, 1, Decision::Declined, NOW)
        .await
        .unwrap();
    suggestions::insert(&mut tx, "Larkfield", "M", None, "", NOW)
        .await
        .unwrap();
}

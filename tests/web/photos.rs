//! Photos on public pages: who may see which, and how they are shown.

use crate::app::{TestApp, seed};
use axum::http::StatusCode;
use brickbook::photo::{self, Kept};
use brickbook::storage::photos;
use serde_json::{Value, json};

const SLUG: &str = "hollowick-hk-100c";

/// A plain picture of its own colour.
fn picture(colour: u8) -> Kept {
    photo::drawn(600, 400, vec![colour; 600 * 400 * 3])
}

async fn enter(app: &TestApp, kept: &Kept) {
    let mut tx = app.site.db.write().await.unwrap();
    let now = time::macros::datetime!(2026-09-02 10:00 UTC);
    photos::enter(&mut tx, kept, "front.jpg", None, now)
        .await
        .unwrap();
    tx.commit().await.unwrap();
}

fn named(kept: &Kept, caption: Option<&str>) -> Value {
    json!({
        "sha256": kept.sha256(), "width_px": kept.width_px, "height_px": kept.height_px,
        "caption": caption
    })
}

/// A seed record with these photos.
fn record_with(name: &str, photos: &[Value]) -> String {
    let mut record: Value = serde_json::from_str(&seed(name)).unwrap();
    record["photos"] = json!(photos);
    record.to_string()
}

async fn published(app: &TestApp, photos: &[Value]) {
    app.publish(&record_with(SLUG, photos)).await;
    app.site.refresh().await.unwrap();
}

#[tokio::test]
async fn a_page_shows_the_first_photo_in_its_head_and_all_of_them_with_size_and_words() {
    let app = TestApp::empty().await;
    let (front, label) = (picture(10), picture(200));
    for kept in [&front, &label] {
        enter(&app, kept).await;
    }
    published(
        &app,
        &[named(&front, Some("Front & <ports>")), named(&label, None)],
    )
    .await;
    let page = app.get(&format!("/unit/{SLUG}")).await.text();
    let thumbnail = |kept: &Kept, (width, height), alt: &str| {
        format!(
            "<img src=\"/unit/{SLUG}/thumb/{}.jpg\" width=\"{width}\" height=\"{height}\" alt=\"{alt}\"",
            kept.sha256()
        )
    };
    let words = "Front &#38; &#60;ports&#62;";
    let first = thumbnail(&front, (480, 320), words);
    assert_eq!(page.matches(&first).count(), 1);
    let in_the_head = thumbnail(&front, (320, 213), words);
    assert!(page.find(&in_the_head) < page.find(&first));
    let second = thumbnail(&label, (480, 320), "Photo 2 of Hollowick HK-100C");
    assert_eq!(page.matches(&second).count(), 1);
    let full = format!("<a href=\"/unit/{SLUG}/photo/{}.jpg\">", label.sha256());
    assert!(page.contains(&full));
    let revision = app.get(&format!("/unit/{SLUG}/revision/1")).await.text();
    assert!(revision.contains(&first));
}

#[tokio::test]
async fn caches_ask_each_time_whether_a_photo_is_still_there() {
    let app = TestApp::empty().await;
    let kept = picture(10);
    enter(&app, &kept).await;
    published(&app, &[named(&kept, None)]).await;
    let sha256 = kept.sha256();
    for (path, bytes) in [
        (format!("/unit/{SLUG}/photo/{sha256}.jpg"), &kept.jpeg),
        (format!("/unit/{SLUG}/thumb/{sha256}.jpg"), &kept.thumbnail),
    ] {
        let answer = app.get(&path).await;
        assert_eq!(answer.status, StatusCode::OK);
        assert_eq!(&answer.bytes, bytes);
        assert_eq!(answer.header("content-type"), "image/jpeg");
        assert_eq!(answer.header("x-content-type-options"), "nosniff");
        assert_eq!(
            answer.header("cache-control"),
            "public, max-age=0, must-revalidate"
        );
        let etag = answer.header("etag").to_owned();
        assert!(etag.contains(&sha256));
        let again = app.get_with(&path, &[("if-none-match", &etag)]).await;
        assert_eq!(again.status, StatusCode::NOT_MODIFIED);
        assert!(again.bytes.is_empty());
    }
}

#[tokio::test]
async fn only_a_photo_that_a_revision_of_the_very_unit_names_is_public() {
    let app = TestApp::seeded(&["larkfield-lf-20c"]).await;
    let (named_one, unnamed) = (picture(10), picture(20));
    enter(&app, &named_one).await;
    enter(&app, &unnamed).await;
    published(&app, &[named(&named_one, None)]).await;
    let (a, b) = (named_one.sha256(), unnamed.sha256());
    for path in [
        format!("/unit/{SLUG}/photo/{b}.jpg"),
        format!("/unit/{SLUG}/thumb/{b}.jpg"),
        format!("/unit/larkfield-lf-20c/photo/{a}.jpg"),
        format!("/unit/nobody/photo/{a}.jpg"),
        format!("/unit/{SLUG}/photo/{a}"),
        format!("/unit/{SLUG}/photo/{a}.png"),
        format!("/unit/{SLUG}/photo/{}.jpg", a.to_uppercase()),
        format!("/unit/{SLUG}/photo/..%2F{a}.jpg"),
        format!("/preview/there-is-no-such-link-1234/photo/{a}.jpg"),
    ] {
        let answer = app.get(&path).await;
        assert_eq!(answer.status, StatusCode::NOT_FOUND, "{path}");
        assert_eq!(answer.header("cache-control"), "no-store", "{path}");
    }
    for path in [
        format!("/desk/photos/full/{a}.jpg"),
        format!("/desk/photos/thumb/{b}.jpg"),
    ] {
        let answer = app.get(&path).await;
        assert_ne!(answer.status, StatusCode::OK, "{path}: nobody signed in");
    }

    // Once a later revision leaves it out, the earlier one still shows it.
    app.revise(SLUG, &record_with(SLUG, &[]), "no photo").await;
    app.site.refresh().await.unwrap();
    assert!(!app.get(&format!("/unit/{SLUG}")).await.text().contains(&a));
    let old = app.get(&format!("/unit/{SLUG}/revision/1")).await.text();
    assert!(old.contains(&a));
    let picture = app.get(&format!("/unit/{SLUG}/photo/{a}.jpg")).await;
    assert_eq!(picture.status, StatusCode::OK);
    let etag = picture.header("etag").to_owned();

    // Once it is deleted, it is gone from there as well, also for who has seen it.
    let mut tx = app.site.db.write().await.unwrap();
    photos::remove(&mut tx, &a).await.unwrap();
    tx.commit().await.unwrap();
    app.site.refresh().await.unwrap();
    for size in ["photo", "thumb"] {
        let path = format!("/unit/{SLUG}/{size}/{a}.jpg");
        let answer = app.get_with(&path, &[("if-none-match", &etag)]).await;
        assert_eq!(answer.status, StatusCode::NOT_FOUND, "{path}");
    }
    let old = app.get(&format!("/unit/{SLUG}/revision/1")).await;
    assert!(old.words().contains("not at hand"), "{}", old.words());
}

#[tokio::test]
async fn a_photo_that_is_not_at_hand_is_said_to_be_missing_until_it_comes_in() {
    let app = TestApp::empty().await;
    let kept = picture(10);
    published(&app, &[named(&kept, Some("Front"))]).await;
    let page = app.get(&format!("/unit/{SLUG}")).await;
    assert!(page.words().contains("Front: not at hand."));
    assert!(!page.text().contains("/thumb/"));
    let path = format!("/unit/{SLUG}/photo/{}.jpg", kept.sha256());
    assert_eq!(app.get(&path).await.status, StatusCode::NOT_FOUND);
    enter(&app, &kept).await;
    app.site.refresh().await.unwrap();
    let page = app.get(&format!("/unit/{SLUG}")).await.text();
    assert!(page.contains("/thumb/"));
    assert_eq!(app.get(&path).await.status, StatusCode::OK);
}

#[tokio::test]
async fn thirty_photos_stand_in_order_and_load_as_they_come_into_sight() {
    let app = TestApp::empty().await;
    let mut photos = Vec::new();
    for place in 0..30u8 {
        let kept = picture(place * 8);
        enter(&app, &kept).await;
        photos.push(named(&kept, Some(&format!("View {place}"))));
    }
    published(&app, &photos).await;
    let page = app.get(&format!("/unit/{SLUG}")).await.text();
    let gallery = &page[page.find("class=\"gallery\"").unwrap()..];
    let gallery = &gallery[..gallery.find("</ul>").unwrap()];
    let places: Vec<usize> = photos
        .iter()
        .map(|photo| gallery.find(photo["sha256"].as_str().unwrap()).unwrap())
        .collect();
    assert!(places.is_sorted());
    assert_eq!(gallery.matches("loading=\"lazy\"").count(), 30);
}

#[tokio::test]
async fn compared_units_and_the_picture_for_links_show_the_first_photo() {
    let app = TestApp::seeded(&["larkfield-lf-20c"]).await;
    let kept = picture(10);
    published(&app, &[named(&kept, None)]).await;
    let preview = format!("/unit/{SLUG}/preview.png");
    let without = app.get(&preview).await.bytes;
    enter(&app, &kept).await;
    app.site.refresh().await.unwrap();
    assert_ne!(app.get(&preview).await.bytes, without);
    let compared = format!("/compare?unit={SLUG}&unit=larkfield-lf-20c");
    let page = app.get(&compared).await.text();
    let thumbnail = format!("src=\"/unit/{SLUG}/thumb/{}.jpg\"", kept.sha256());
    assert!(page.contains(&thumbnail));
    assert!(!app.get("/").await.text().contains("/thumb/"));
}

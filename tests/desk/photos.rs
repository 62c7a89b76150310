//! Photos at the desk: uploaded with what is typed, captioned, put in order, shown to whoever may
//! see the draft, and kept as long as something names them.

use crate::{
    app::{Answer, TestApp, seed},
    browser::{Browser, PageForm, form},
};
use axum::{
    body::Body,
    http::{Request, StatusCode, header},
};
use brickbook::photo;
use serde_json::Value;

const BOUNDARY: &str = "between-the-parts";

/// A plain picture of its own colour, as a camera might send it.
fn picture(colour: u8) -> Vec<u8> {
    let mut jpeg = photo::drawn(120, 80, vec![colour; 120 * 80 * 3]).jpeg;
    // A comment, so that it is not kept as it is.
    let comment = b"\xff\xfe\x00\x0etaken at 48N";
    jpeg.splice(2..2, comment.iter().copied());
    jpeg
}

/// The SHA-256 that the picture is kept under.
fn kept(colour: u8) -> String {
    photo::take_in(&picture(colour)).unwrap().sha256()
}

fn part(name: &str, file: Option<&str>, content: &[u8]) -> Vec<u8> {
    let file = file.map_or(String::new(), |file| format!("; filename=\"{file}\""));
    let head =
        format!("--{BOUNDARY}\r\ncontent-disposition: form-data; name=\"{name}\"{file}\r\n\r\n");
    [head.as_bytes(), content, b"\r\n"].concat()
}

async fn post(browser: &Browser<'_>, path: &str, parts: &[Vec<u8>]) -> Answer {
    let cookies: Vec<String> = browser
        .cookies
        .iter()
        .map(|(name, value)| format!("{name}={value}"))
        .collect();
    let mut body = parts.concat();
    body.extend_from_slice(format!("--{BOUNDARY}--\r\n").as_bytes());
    let request = Request::post(path)
        .header(header::HOST, "bench.example")
        .header(header::COOKIE, cookies.join("; "))
        .header(
            header::CONTENT_TYPE,
            format!("multipart/form-data; boundary={BOUNDARY}"),
        )
        .body(Body::from(body))
        .expect("a valid request");
    browser.app.ask(request).await
}

/// Presses "Upload" on the bench form with these files chosen.
async fn upload(
    browser: &Browser<'_>,
    draft: &str,
    bench: &PageForm,
    files: &[(&str, Vec<u8>)],
) -> Answer {
    let mut parts = Vec::new();
    for (name, value) in &bench.fields {
        if name == "photo" {
            for (file, bytes) in files {
                parts.push(part("photo", Some(file), bytes));
            }
        } else {
            parts.push(part(name, None, value.as_bytes()));
        }
    }
    parts.push(part("action", None, b"upload-photos"));
    post(browser, &format!("{draft}/photos"), &parts).await
}

async fn count(app: &TestApp) -> i64 {
    sqlx::query_scalar("SELECT count(*) FROM photo")
        .fetch_one(&mut *app.site.db.read().await.unwrap())
        .await
        .unwrap()
}

#[tokio::test]
async fn several_photos_are_uploaded_at_once_and_what_was_typed_is_kept() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let bench = ada.bench_form(&draft).await.set("unit.maker", "Larkfield");
    let files = [("front.jpg", picture(10)), ("label.jpg", picture(200))];
    let answer = upload(&ada, &draft, &bench, &files).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.words());
    assert_eq!(
        answer.header("location"),
        format!("{draft}?focus=photos%5B0%5D.caption")
    );
    let bench = ada.bench_form(&draft).await;
    assert_eq!(bench.value("unit.maker"), "Larkfield");
    assert_eq!(bench.value("photos[0].sha256"), kept(10));
    assert_eq!(bench.value("photos[1].sha256"), kept(200));
    assert_eq!(bench.value("photos[1].width_px"), "120");
    let shown = ada
        .get(&format!("/desk/photos/full/{}.jpg", kept(10)))
        .await;
    assert_eq!(shown.header("content-type"), "image/jpeg");
    assert_eq!(shown.header("cache-control"), "no-store");
    assert!(!shown.bytes.windows(5).any(|part| part == b"taken"));
}

#[tokio::test]
async fn a_file_that_is_no_photo_is_told_by_name_and_the_others_are_taken() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let bench = ada.bench_form(&draft).await.set("unit.model", "LF-20");
    let files = [
        ("notes.txt", b"no picture".to_vec()),
        ("front.jpg", picture(10)),
        ("huge.png", vec![0; 20_000_001]),
    ];
    let answer = upload(&ada, &draft, &bench, &files).await;
    assert_eq!(answer.status, StatusCode::OK);
    let words = answer.words();
    for told in [
        "“notes.txt” was not kept: a file of another kind; expected a JPEG, PNG or WebP picture.",
        "“huge.png” is larger than the 20 MB",
    ] {
        assert!(words.contains(told), "{told}: {words}");
    }
    let bench = ada.bench_form(&draft).await;
    assert_eq!(bench.value("photos[0].sha256"), kept(10));
    assert_eq!(bench.value("unit.model"), "LF-20");

    // With nothing but that, the form comes back as it was typed.
    let bench = bench.set("unit.model", "LF-21");
    let answer = upload(&ada, &draft, &bench, &[("a.gif", b"GIF89a".to_vec())]).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(answer.words().contains("a GIF; expected"));
    assert!(answer.text().contains("value=\"LF-21\""));
    let bench = ada.bench_form(&draft).await;
    let answer = upload(&ada, &draft, &bench, &[("", vec![])]).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(answer.words().contains("No photo was chosen"));
    assert_eq!(count(&app).await, 1);
}

#[tokio::test]
async fn without_the_sessions_token_nothing_is_kept_and_what_was_typed_is_shown_again() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let bench = ada.bench_form(&draft).await;
    let stale = bench.set("csrf", "stale").set("unit.maker", "Larkfield");
    let answer = upload(&ada, &draft, &stale, &[("front.jpg", picture(10))]).await;
    assert_eq!(answer.status, StatusCode::FORBIDDEN);
    assert!(answer.text().contains("value=\"Larkfield\""));
    assert_eq!(count(&app).await, 0);
    // A form whose file stands before its token is none of our pages'.
    let parts = [
        part("photo", Some("a.jpg"), &picture(10)),
        part("csrf", None, stale.value("csrf").as_bytes()),
    ];
    let answer = post(&ada, "/desk/photos", &parts).await;
    assert_eq!(answer.status, StatusCode::FORBIDDEN);
    let stranger = Browser::new(&app);
    let answer = post(&stranger, "/desk/photos", &parts).await;
    assert_ne!(answer.status, StatusCode::OK);
    assert_eq!(count(&app).await, 0);
}

#[tokio::test]
async fn a_script_gets_the_row_to_put_into_the_form_or_what_was_wrong() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let csrf = ada.bench_form(&draft).await.value("csrf").to_owned();
    let send = async |name: &str, bytes: &[u8]| {
        let parts = [
            part("csrf", None, csrf.as_bytes()),
            part("row", None, b"4"),
            part("photo", Some(name), bytes),
        ];
        let answer = post(&ada, "/desk/photos", &parts).await;
        let told: Value = serde_json::from_slice(&answer.bytes).unwrap();
        (answer.status.as_u16(), told)
    };
    let (status, told) = send("front.jpg", &picture(10)).await;
    assert_eq!(status, 200, "{told}");
    assert_eq!(told["sha256"], kept(10));
    let row = told["row"].as_str().unwrap();
    for part in [
        format!("name=\"photos[4].sha256\" value=\"{}\"", kept(10)),
        format!("src=\"/desk/photos/thumb/{}.jpg\"", kept(10)),
        "name=\"photos[4].caption\"".to_owned(),
        "value=\"up:photos[4]\"".to_owned(),
    ] {
        assert!(row.contains(&part), "{part}: {row}");
    }
    let (status, told) = send("notes.txt", b"no picture").await;
    assert_eq!(status, 422);
    assert!(told["fault"].as_str().unwrap().contains("notes.txt"));
    let (status, _) = send("huge.jpg", &vec![0xff; 20_000_001]).await;
    assert_eq!(status, 413);
}

#[tokio::test]
async fn photos_are_captioned_and_put_in_order_by_buttons_and_published_so() {
    let app = TestApp::seeded(&["larkfield-lf-20c"]).await;
    let mut ada = Browser::set_up(&app).await;
    let record: Value = serde_json::from_str(&seed("hollowick-hk-100c")).unwrap();
    let mut fields = brickbook::intake::form::fields(&record);
    fields.set("unit.sample", "P");
    let draft = ada.new_draft().await;
    let first = ada.bench_form(&draft).await;
    let files: Vec<(String, Vec<u8>)> = [10, 100, 200]
        .iter()
        .map(|colour| (format!("{colour}.jpg"), picture(*colour)))
        .collect();
    let files: Vec<(&str, Vec<u8>)> = files
        .iter()
        .map(|(name, bytes)| (name.as_str(), bytes.clone()))
        .collect();
    let mut whole = PageForm {
        action: first.action.clone(),
        fields: first
            .fields
            .iter()
            .filter(|(name, _)| {
                ["csrf", "version", "editor", "editor_save", "photo"].contains(&name.as_str())
            })
            .cloned()
            .collect(),
    };
    whole.fields.extend(
        fields
            .iter()
            .map(|(path, text)| (path.to_owned(), text.to_owned())),
    );
    whole.fields.push(("whole".to_owned(), "1".to_owned()));
    let answer = upload(&ada, &draft, &whole, &files).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.words());

    let bench = ada.bench_form(&draft).await;
    let bench = bench.set("photos[2].caption", "The label");
    let moved = ada.send(&bench, Some("up:photos[2]")).await;
    assert_eq!(
        moved.header("location"),
        format!("{draft}?focus=photos%5B1%5D.up"),
        "the keyboard moves along"
    );
    let bench = ada.bench_form(&draft).await;
    ada.send(&bench, Some("up:photos[1]")).await;
    let bench = ada.bench_form(&draft).await;
    ada.send(&bench, Some("remove:photos[1]")).await;
    let bench = ada.bench_form(&draft).await;
    assert_eq!(bench.value("photos[0].sha256"), kept(200));
    assert_eq!(bench.value("photos[0].caption"), "The label");
    assert_eq!(bench.value("photos[1].sha256"), kept(100));
    assert_eq!(bench.value("photos[2].sha256"), "");

    let page = ada.get(&format!("{draft}/publish")).await;
    let publish = form(&page, &format!("{draft}/publish"));
    let published = ada.send(&publish, None).await;
    assert_eq!(
        published.status,
        StatusCode::SEE_OTHER,
        "{}",
        published.words()
    );
    let unit = published.header("location").to_owned();
    let page = app.get(&unit).await.text();
    assert!(page.contains("alt=\"The label\""));
    let shown = app.get(&format!("{unit}/photo/{}.jpg", kept(200))).await;
    assert_eq!(shown.status, StatusCode::OK);
    let left_out = app.get(&format!("{unit}/photo/{}.jpg", kept(10))).await;
    assert_eq!(left_out.status, StatusCode::NOT_FOUND);

    // What was taken out is listed and can be deleted; what is published cannot.
    let list = ada.get("/desk/photos").await;
    assert!(list.text().contains(&kept(10)) && !list.text().contains(&kept(200)));
    let delete = form(&list, "/desk/photos/delete");
    let refused = ada
        .send(&delete.clone().set("sha256", &kept(200)), None)
        .await;
    assert_eq!(refused.status, StatusCode::CONFLICT);
    assert!(refused.words().contains("still in use"));
    assert!(refused.text().contains(&format!("<a href=\"{unit}\">")));
    assert!(refused.text().contains("/desk/photos/delete"));
    let done = ada.send(&delete.set("sha256", &kept(10)), None).await;
    assert_eq!(done.status, StatusCode::SEE_OTHER);
    assert_eq!(count(&app).await, 2);
    assert!(ada.get("/desk/photos").await.words().contains("None."));
}

#[tokio::test]
async fn whoever_has_the_link_of_a_draft_sees_its_photos_and_no_others() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let bench = ada
        .bench_form(&draft)
        .await
        .set("unit.maker", "Larkfield")
        .set("unit.model", "LF-20")
        .set("unit.nameplate.output_power_w", "20")
        .set("unit.ports[0].label", "C1")
        .set("unit.ports[0].modes[0].voltage_v", "5")
        .set("unit.ports[0].modes[0].current_a", "3");
    upload(&ada, &draft, &bench, &[("front.jpg", picture(10))]).await;
    let csrf = bench.value("csrf").to_owned();
    let parts = [
        part("csrf", None, csrf.as_bytes()),
        part("photo", Some("other.jpg"), &picture(20)),
    ];
    assert_eq!(
        post(&ada, "/desk/photos", &parts).await.status,
        StatusCode::OK
    );

    let page = ada.get(&draft).await;
    ada.send(&form(&page, &format!("{draft}/links")), None)
        .await;
    let page = ada.get(&draft).await.text();
    let at = page.find("http://bench.example/preview/").unwrap();
    let link = &page[at..at + page[at..].find('"').unwrap()];
    let path = link.trim_start_matches("http://bench.example").to_owned();

    let seen = app.get(&path).await.text();
    assert!(
        seen.contains(&format!("{path}/thumb/{}.jpg", kept(10))),
        "{seen}"
    );
    for size in ["photo", "thumb"] {
        let shown = app.get(&format!("{path}/{size}/{}.jpg", kept(10))).await;
        assert_eq!(shown.status, StatusCode::OK);
        assert_eq!(shown.header("content-type"), "image/jpeg");
        assert_eq!(shown.header("cache-control"), "no-store");
        let other = app.get(&format!("{path}/{size}/{}.jpg", kept(20))).await;
        assert_eq!(other.status, StatusCode::NOT_FOUND);
    }
    let page = ada.get(&draft).await;
    let text = page.text();
    let at = text.find("/links/").unwrap();
    let start = text[..at].rfind('"').unwrap() + 1;
    let revoke = text[start..at + text[at..].find('"').unwrap()].to_owned();
    ada.send(&form(&page, &revoke), None).await;
    let shown = app.get(&format!("{path}/photo/{}.jpg", kept(10))).await;
    assert_eq!(shown.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn a_photo_that_the_draft_names_and_that_is_not_at_hand_is_said_to_be_missing() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let mut bench = ada.bench_form(&draft).await;
    let end = bench.fields.len() - 1;
    for (key, value) in [
        ("sha256", kept(10)),
        ("width_px", "120".to_owned()),
        ("height_px", "80".to_owned()),
    ] {
        bench
            .fields
            .insert(end, (format!("photos[0].{key}"), value));
    }
    ada.send(&bench, Some("save")).await;
    let words = ada.get(&draft).await.words();
    assert!(words.contains("is not at hand here"), "{words}");
}

#[tokio::test]
async fn what_names_a_photo_is_told_before_and_when_it_cannot_be_deleted() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let bench = ada.bench_form(&draft).await;
    let files = [("front.jpg", picture(10)), ("spare.jpg", picture(20))];
    upload(&ada, &draft, &bench, &files).await;
    let bench = ada.bench_form(&draft).await;
    ada.send(&bench, Some("remove:photos[1]")).await;
    let delete = form(&ada.get("/desk/photos").await, "/desk/photos/delete");
    let refused = ada.send(&delete.set("sha256", &kept(10)), None).await;
    assert_eq!(refused.status, StatusCode::CONFLICT);
    assert!(refused.text().contains(&format!("<a href=\"{draft}\">")));
    assert_eq!(count(&app).await, 2);
    // A reload after an upload leads back to the form.
    let reloaded = ada.get(&format!("{draft}/photos")).await;
    assert_eq!(reloaded.status, StatusCode::SEE_OTHER);
    assert_eq!(reloaded.header("location"), draft);

    // A published unit that has left the photo out keeps it in its first revision only.
    let mut record: Value = serde_json::from_str(&seed("hollowick-hk-100c")).unwrap();
    record["photos"] = serde_json::json!([{"sha256": kept(20), "width_px": 120, "height_px": 80}]);
    app.publish(&record.to_string()).await;
    let listed = ada.get("/desk/photos").await;
    assert!(!listed.text().contains(&kept(20)), "the newest revision");
    record["photos"] = serde_json::json!([]);
    app.revise("hollowick-hk-100c", &record.to_string(), "no photo")
        .await;
    app.site.refresh().await.unwrap();
    let listed = ada.get("/desk/photos").await;
    let words = listed.words();
    assert!(
        words.contains("Still public in hollowick-hk-100c, revision 1"),
        "{words}"
    );
    let earlier = "/unit/hollowick-hk-100c/revision/1";
    assert!(app.get(earlier).await.text().contains(&kept(20)));
    let done = ada.send(&form(&listed, "/desk/photos/delete"), None).await;
    assert_eq!(done.status, StatusCode::SEE_OTHER);
    assert!(app.get(earlier).await.words().contains("not at hand"));
}

#[tokio::test]
async fn photos_that_are_missing_or_named_twice_are_told_on_the_form_and_before_publishing() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let bench = ada
        .bench_form(&draft)
        .await
        .set("unit.maker", "Larkfield")
        .set("unit.model", "LF-20");
    let files = [("front.jpg", picture(10)), ("again.jpg", picture(10))];
    upload(&ada, &draft, &bench, &files).await;
    let mut bench = ada.bench_form(&draft).await;
    let end = bench.fields.len() - 1;
    for (key, value) in [
        ("sha256", kept(200)),
        ("width_px", "120".to_owned()),
        ("height_px", "80".to_owned()),
    ] {
        bench
            .fields
            .insert(end, (format!("photos[2].{key}"), value));
    }
    ada.send(&bench, Some("save")).await;
    for path in [draft.clone(), format!("{draft}/publish")] {
        let words = ada.get(&path).await.words();
        for told in [
            "Photo 2 is the same picture as photo 1",
            "Photo 3 is not at hand",
        ] {
            assert!(words.contains(told), "{path}: {told}: {words}");
        }
        assert!(!words.contains("Photo 1 is not"), "{path}");
    }
}

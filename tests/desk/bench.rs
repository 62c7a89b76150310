//! Entering a record: the plain form from the first field to the published page.

use crate::{
    app::{TestApp, seed},
    browser::{Browser, PageForm, form},
};
use axum::http::StatusCode;
use brickbook::{bench::decode::decode, intake::form as bench_form};

/// A small unit, filled in as far as publishing needs.
async fn filled(browser: &mut Browser<'_>, draft: &str, model: &str) -> PageForm {
    browser
        .bench_form(draft)
        .await
        .set("unit.maker", "Larkfield")
        .set("unit.model", model)
        .set("unit.nameplate.output_power_w", "20 W")
        .set("unit.ports[0].label", "C1")
        .set("runs[0].rated_outputs[0].voltage_v", "9 V")
        .set("runs[0].rated_outputs[0].current_a", "2,22 A")
        .set("runs[0].points[0].input.power_w", "22.8")
        .set("runs[0].points[0].outputs[0].voltage_v", "9.02")
        .set("runs[0].points[0].outputs[0].current_a", "2.22")
        .set("runs[0].no_load.power_w", "43 mW")
}

async fn publish(browser: &mut Browser<'_>, draft: &str) -> crate::app::Answer {
    let page = browser.get(&format!("{draft}/publish")).await;
    browser
        .send(&form(&page, &format!("{draft}/publish")), None)
        .await
}

#[tokio::test]
async fn a_unit_is_entered_judged_and_published_without_script() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let form = filled(&mut ada, &draft, "LF-20").await;
    let saved = ada.send(&form, Some("save")).await;
    assert_eq!(
        (saved.status, saved.header("location")),
        (StatusCode::SEE_OTHER, draft.as_str())
    );

    let page = ada.get(&draft).await;
    let words = page.words();
    assert!(words.contains("Mains voltage kills"));
    assert!(words.contains("43 mW"), "the no-load power is in the panel");
    assert!(
        words.contains("115 V 60 Hz: efficiency at"),
        "what is missing is named: {words}"
    );
    assert!(page.text().contains(">1.665 A<"), "75 % of 2.22 A");
    assert_eq!(
        crate::browser::form(&page, &draft).value("runs[0].no_load.power_w"),
        "43 mW",
        "kept as typed"
    );

    let published = publish(&mut ada, &draft).await;
    assert_eq!(
        (published.status, published.header("location")),
        (StatusCode::SEE_OTHER, "/unit/larkfield-lf-20")
    );
    let unit = ada.get("/unit/larkfield-lf-20").await;
    assert_eq!(unit.status, StatusCode::OK);
    assert!(unit.words().contains("LF-20"));
    assert_eq!(ada.get(&draft).await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn publishing_twice_publishes_once_and_leads_to_the_same_page() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let filled = filled(&mut ada, &draft, "LF-20").await;
    ada.send(&filled, Some("save")).await;
    let path = format!("{draft}/publish");
    let confirm = form(&ada.get(&path).await, &path);
    let mut other = Browser {
        app: &app,
        cookies: ada.cookies.clone(),
        address: None,
    };
    let (first, second) = tokio::join!(ada.send(&confirm, None), other.send(&confirm, None));
    for answer in [
        first,
        second,
        ada.send(&confirm, None).await,
        ada.get(&path).await,
    ] {
        assert_eq!(
            (answer.status, answer.header("location")),
            (StatusCode::SEE_OTHER, "/unit/larkfield-lf-20")
        );
    }
    let history = ada.get("/desk/unit/larkfield-lf-20").await.words();
    assert!(
        history.contains("1 ") && history.contains("first publication") && !history.contains("2 2"),
        "{history}"
    );
    assert_eq!(app.site.public().standings.rows().len(), 1);
}

#[tokio::test]
async fn a_revision_keeps_all_and_adds_to_the_history() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let filled = filled(&mut ada, &draft, "LF-20").await;
    ada.send(&filled, Some("save")).await;
    publish(&mut ada, &draft).await;

    let revision = ada.revise("larkfield-lf-20").await;
    let changed = ada
        .bench_form(&revision)
        .await
        .set("runs[0].no_load.power_w", "0.051");
    ada.send(&changed, Some("save")).await;
    let path = format!("{revision}/publish");
    let confirm = form(&ada.get(&path).await, &path);
    assert_eq!(
        confirm.value("reason"),
        "",
        "a revision needs a reason of its own"
    );
    let refused = ada.send(&confirm, None).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    let done = ada
        .send(&confirm.set("reason", "read the meter wrong"), None)
        .await;
    assert_eq!(done.header("location"), "/unit/larkfield-lf-20");
    let history = ada.get("/desk/unit/larkfield-lf-20").await.words();
    assert!(history.contains("read the meter wrong") && history.contains("first publication"));
}

#[tokio::test]
async fn a_revision_that_changes_nothing_is_refused_in_words_and_the_draft_stays() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let filled = filled(&mut ada, &draft, "LF-20").await;
    ada.send(&filled, Some("save")).await;
    publish(&mut ada, &draft).await;

    let revision = ada.revise("larkfield-lf-20").await;
    let path = format!("{revision}/publish");
    let confirm = form(&ada.get(&path).await, &path).set("reason", "read again");
    let refused = ada.send(&confirm, None).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        refused
            .words()
            .contains("Nothing differs from what is published")
    );
    assert_eq!(ada.get(&revision).await.status, StatusCode::OK);
    let history = ada.get("/desk/unit/larkfield-lf-20").await.words();
    assert!(!history.contains("read again"));
}

#[tokio::test]
async fn every_record_survives_the_way_through_the_page_and_back() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("seed-data");
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .filter_map(|entry| {
            entry
                .unwrap()
                .file_name()
                .to_str()?
                .strip_suffix(".json")
                .map(str::to_owned)
        })
        .collect();
    names.sort();
    assert!(names.len() >= 60);
    let app = TestApp::empty().await;
    let mut slugs = Vec::new();
    for name in &names {
        slugs.push(app.publish(&crate::app::seed(name)).await.slug);
    }
    app.site.refresh().await.unwrap();
    let mut ada = Browser::set_up(&app).await;
    for (name, slug) in names.iter().zip(&slugs) {
        let draft = ada.revise(slug).await;
        let sent = ada.bench_form(&draft).await;
        assert_eq!(
            ada.send(&sent, Some("save")).await.status,
            StatusCode::SEE_OTHER,
            "{name}"
        );
        let fields: bench_form::Fields = ada
            .bench_form(&draft)
            .await
            .fields
            .into_iter()
            .filter(|(path, _)| bench_form::is_field(path))
            .map(|(path, text)| (path, text.replace("\r\n", "\n")))
            .collect();
        let document = bench_form::document(&fields);
        assert_eq!(document.unreadable, [], "{name}");
        let before = decode(&crate::app::seed(name)).unwrap();
        assert_eq!(
            decode(&document.value.to_string()).as_ref(),
            Ok(&before),
            "{name}"
        );
    }
}

#[tokio::test]
async fn nothing_typed_is_lost_however_wrong_it_is() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let odd = "<b>\"12 & W'\u{202e}</textarea>";
    let form = ada
        .bench_form(&draft)
        .await
        .set("unit.nameplate.output_power_w", odd)
        .set("notes", "\r\n two\r\n\r\nlines ");
    ada.send(&form, Some("save")).await;
    let page = ada.get(&draft).await;
    let again = crate::browser::form(&page, &draft);
    assert_eq!(again.value("unit.nameplate.output_power_w"), odd);
    assert_eq!(again.value("notes"), "\r\n two\r\n\r\nlines ");
    let html = page.text();
    assert!(html.contains("aria-invalid=\"true\"") && html.contains("Expected a power such as"));
    assert!(
        html.contains("href=\"#f-unit-nameplate-output_power_w\""),
        "the summary leads to the field"
    );
    let refused = ada.get(&format!("{draft}/publish")).await;
    assert!(refused.words().contains("It cannot be published yet"));
}

#[tokio::test]
async fn buttons_add_copy_and_remove_rows_and_typing_goes_on_there() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    for (button, field) in [
        ("add:unit.ports", "unit.ports[1].label"),
        ("add:unit.ports[1].modes", "unit.ports[1].modes[1].kind"),
        ("add:runs[0].points", "runs[0].points[5].load_percent"),
        ("copy:runs[0]", "runs[1].name"),
        ("add:temperatures", "temperatures[0].load_w"),
        ("remove:unit.ports[1]", "add:unit.ports"),
        ("remove:runs[1]", "add:runs"),
        ("copy:runs[0]", "runs[1].name"),
    ] {
        let form = ada.bench_form(&draft).await;
        let answer = ada.send(&form, Some(button)).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{button}");
        let html = ada.get(answer.header("location")).await.text();
        let at = html
            .find(&format!("name=\"{field}\""))
            .or_else(|| html.find(&format!("value=\"{field}\"")))
            .unwrap_or_else(|| panic!("{field} is on the page"));
        let tag = &html[at..at + html[at..].find('>').unwrap()];
        assert!(tag.contains("autofocus"), "{button}: {tag}");
        assert_eq!(html.matches(" autofocus").count(), 1, "{button}");
    }
    let form = ada.bench_form(&draft).await.set("runs[1].name", "copied");
    ada.send(&form, Some("remove:runs[0]")).await;
    let left = ada.bench_form(&draft).await;
    assert_eq!(left.value("runs[0].name"), "copied");
    assert_eq!(left.value("runs[1].name"), "230 V 50 Hz");
}

#[tokio::test]
async fn a_pasted_block_fills_the_points_and_a_bad_one_stays_in_its_box() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let block =
        "load %\tinput (mW)\tout V\tout A\r\n100\t22800\t9.02\t2.22\r\n10\t2600\t9.05\t0.222";
    let form = ada.bench_form(&draft).await.set("runs[0].pasted", block);
    assert_eq!(
        ada.send(&form, Some("fill:runs[0]")).await.status,
        StatusCode::SEE_OTHER
    );
    let filled = ada.bench_form(&draft).await;
    assert_eq!(filled.value("runs[0].points[0].input.power_w"), "22800 mW");
    assert_eq!(
        filled.value("runs[0].points[4].outputs[0].voltage_v"),
        "9.05 V"
    );
    assert_eq!(filled.value("runs[0].pasted"), "");

    let bad = filled.set("runs[0].pasted", "colour,taste\r\n1,2");
    let answer = ada.send(&bad, Some("fill:runs[0]")).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(answer.words().contains("None of the headings is known"));
    assert_eq!(
        ada.bench_form(&draft).await.value("runs[0].pasted"),
        "colour,taste\r\n1,2",
        "saved as well"
    );
}

#[tokio::test]
async fn another_tab_cannot_overwrite_a_newer_save_unseen() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let first = ada.bench_form(&draft).await.set("unit.maker", "First");
    let second = ada.bench_form(&draft).await.set("unit.maker", "Second");
    assert_eq!(
        ada.send(&second, Some("save")).await.status,
        StatusCode::SEE_OTHER
    );

    let refused = ada.send(&first, Some("save")).await;
    assert_eq!(refused.status, StatusCode::CONFLICT);
    assert!(refused.words().contains("Not saved."));
    let shown = crate::browser::form_in(&refused.text(), &draft);
    assert_eq!(
        shown.value("unit.maker"),
        "First",
        "what was typed is still there"
    );
    assert_eq!(
        ada.bench_form(&draft).await.value("unit.maker"),
        "Second",
        "and so is what was saved"
    );

    let own = ada.send(&shown, Some("as-new")).await;
    assert_eq!(
        ada.bench_form(own.header("location"))
            .await
            .value("unit.maker"),
        "First"
    );
    assert_eq!(
        ada.send(&shown, Some("save")).await.status,
        StatusCode::SEE_OTHER,
        "chosen with open eyes"
    );
    assert_eq!(ada.bench_form(&draft).await.value("unit.maker"), "First");
}

#[tokio::test]
async fn one_page_may_save_again_without_having_heard_of_its_last_save_but_not_backwards() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let autosave = format!("{draft}/autosave");
    let page = ada.bench_form(&draft).await;
    let mut save = async |count: &str, maker: &str| {
        let form = page
            .clone()
            .set("editor_save", count)
            .set("unit.maker", maker);
        ada.post(&autosave, &form.fields, &[]).await
    };
    let answer = save("2", "one").await;
    assert_eq!(answer.status, StatusCode::OK);
    let told: serde_json::Value = serde_json::from_slice(&answer.bytes).unwrap();
    assert_eq!(told["version"], 2);
    assert!(told["panel"].as_str().unwrap().contains("Still missing"));
    assert_eq!(
        save("4", "three").await.status,
        StatusCode::OK,
        "its last answer was lost on the way"
    );
    assert_eq!(
        save("3", "two").await.status,
        StatusCode::OK,
        "overtaken on the way"
    );
    assert_eq!(ada.bench_form(&draft).await.value("unit.maker"), "three");
}

#[tokio::test]
async fn a_page_without_script_that_is_gone_back_to_saves_what_was_typed_since() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let page = ada.bench_form(&draft).await;
    for maker in ["Larkfeild", "Larkfield"] {
        let typed = page.clone().set("unit.maker", maker);
        let answer = ada.send(&typed, Some("save")).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER);
        assert_eq!(ada.bench_form(&draft).await.value("unit.maker"), maker);
    }
}

#[tokio::test]
async fn a_form_that_arrives_cut_short_is_not_stored() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let mut form = ada.bench_form(&draft).await;
    form.fields.truncate(20);
    assert_eq!(
        ada.send(&form, Some("save")).await.status,
        StatusCode::BAD_REQUEST
    );
    assert_eq!(
        ada.bench_form(&draft).await.value("runs[1].name"),
        "230 V 50 Hz"
    );
}

#[tokio::test]
async fn a_form_from_before_another_sign_in_is_shown_again_with_all_that_was_typed() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let typed = ada
        .bench_form(&draft)
        .await
        .set("unit.maker", "Typed before");
    ada.sign_in("Ada", crate::browser::PASSWORD).await;
    let shown = ada.send(&typed, Some("save")).await;
    assert_eq!(shown.status, StatusCode::FORBIDDEN);
    let again = crate::browser::form_in(&shown.text(), &draft);
    assert_eq!(again.value("unit.maker"), "Typed before");
    assert_eq!(
        ada.send(&again, Some("save")).await.status,
        StatusCode::SEE_OTHER
    );
    assert_eq!(
        ada.bench_form(&draft).await.value("unit.maker"),
        "Typed before"
    );
}

#[tokio::test]
async fn whoever_enters_a_known_model_is_told_with_a_link() {
    let app = TestApp::seeded(&["larkfield-lf-65c"]).await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let form = ada
        .bench_form(&draft)
        .await
        .set("unit.maker", "larkfield ")
        .set("unit.model", "lf-65C");
    ada.send(&form, Some("save")).await;
    let page = ada.get(&draft).await;
    assert!(page.words().contains("is published already"));
    assert!(page.text().contains("href=\"/desk/unit/larkfield-lf-65c"));

    let other = ada.new_draft().await;
    let form = ada
        .bench_form(&other)
        .await
        .set("unit.maker", "Larkfield")
        .set("unit.model", "LF-65c");
    ada.send(&form, Some("save")).await;
    assert!(
        ada.get(&other)
            .await
            .words()
            .contains("You have another draft of this model.")
    );
}

#[tokio::test]
async fn a_preview_link_shows_the_draft_until_it_is_revoked() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let filled = filled(&mut ada, &draft, "LF-20").await;
    ada.send(&filled, Some("save")).await;
    let page = ada.get(&draft).await;
    ada.send(&form(&page, &format!("{draft}/links")), None)
        .await;
    let html = ada.get(&draft).await.text();
    let at = html.find("/preview/").unwrap();
    let path = &html[at..at + html[at..].find('"').unwrap()];

    let mut stranger = Browser::new(&app);
    let seen = stranger.get(path).await;
    assert_eq!(
        (seen.status, seen.header("cache-control")),
        (StatusCode::OK, "no-store")
    );
    assert!(seen.words().contains("Unpublished preview") && seen.words().contains("LF-20"));
    assert!(
        seen.text()
            .contains("<meta name=\"robots\" content=\"noindex\">")
    );
    assert_eq!(
        stranger.get("/unit/larkfield-lf-20").await.status,
        StatusCode::NOT_FOUND
    );

    let page = ada.get(&draft).await;
    let revoke = form(&page, &format!("{draft}/links/1/revoke"));
    assert_eq!(ada.send(&revoke, None).await.status, StatusCode::SEE_OTHER);
    assert_eq!(stranger.get(path).await.status, StatusCode::NOT_FOUND);
    assert_eq!(
        stranger.get("/preview/unknown").await.status,
        StatusCode::NOT_FOUND
    );
}

#[tokio::test]
async fn a_preview_link_leads_on_to_the_unit_that_its_draft_became() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let filled = filled(&mut ada, &draft, "LF-20").await;
    ada.send(&filled, Some("save")).await;
    let mut paths = Vec::new();
    for _ in 0..2 {
        let page = ada.get(&draft).await;
        ada.send(&form(&page, &format!("{draft}/links")), None)
            .await;
        let html = ada.get(&draft).await.text();
        let at = html.find("/preview/").unwrap();
        paths.push(html[at..at + html[at..].find('"').unwrap()].to_owned());
    }
    let page = ada.get(&draft).await;
    ada.send(&form(&page, &format!("{draft}/links/1/revoke")), None)
        .await;
    publish(&mut ada, &draft).await;

    let mut stranger = Browser::new(&app);
    let led_on = stranger.get(&paths[1]).await;
    assert_eq!(
        (led_on.status, led_on.header("location")),
        (StatusCode::SEE_OTHER, "/unit/larkfield-lf-20")
    );
    assert_eq!(
        stranger.get(&paths[0]).await.status,
        StatusCode::NOT_FOUND,
        "a revoked link stays revoked"
    );
}

#[tokio::test]
async fn a_new_record_starts_with_the_instruments_of_the_last_one() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let filled = filled(&mut ada, &draft, "LF-20")
        .await
        .set("instruments[0].name", "old analyser")
        .set("instruments[0].reading_percent", "0.1")
        .set("instruments[0].range", "150 W");
    ada.send(&filled, Some("save")).await;
    publish(&mut ada, &draft).await;
    let next = ada.new_draft().await;
    let form = ada.bench_form(&next).await;
    assert_eq!(form.value("instruments[0].name"), "old analyser");
    assert_eq!(form.value("instruments[0].range"), "150");
    assert_eq!(form.value("unit.maker"), "");
}

#[tokio::test]
async fn whoever_revises_is_told_when_another_revision_came_first() {
    let app = TestApp::seeded(&["larkfield-lf-65c"]).await;
    let mut ada = Browser::set_up(&app).await;
    let slug = app.site.public().standings.rows()[0].slug.clone();
    let late = ada.revise(&slug).await;
    assert!(
        !ada.get(&late)
            .await
            .words()
            .contains("it lacks those changes")
    );
    let changed = ada.bench_form(&late).await.set("notes", "slower");
    ada.send(&changed, Some("save")).await;
    let late_path = format!("{late}/publish");
    let opened_before = crate::browser::form(&ada.get(&late_path).await, &late_path);
    let early = ada.revise(&slug).await;
    let form = ada.bench_form(&early).await.set("notes", "quicker");
    ada.send(&form, Some("save")).await;
    let path = format!("{early}/publish");
    let confirm = crate::browser::form(&ada.get(&path).await, &path).set("reason", "quicker");
    assert_eq!(ada.send(&confirm, None).await.status, StatusCode::SEE_OTHER);
    let words = ada.get(&format!("{late}/publish")).await.words();
    assert!(words.contains("has published revision 2 of this unit since you began this draft"));

    // The page that was opened before knows nothing of revision 2: it must not replace it unseen.
    let refused = ada.send(&opened_before.set("reason", "slower"), None).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.words().contains("since this page was opened"));
    let again = crate::browser::form(&ada.get(&late_path).await, &late_path);
    let done = ada.send(&again.set("reason", "slower, still"), None).await;
    assert_eq!(done.status, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn a_preview_tells_first_how_long_must_still_be_recorded() {
    let app = TestApp::empty().await;
    let text = seed("quillmere-qm-12a");
    let record: serde_json::Value = serde_json::from_str(&text).unwrap();
    for log in record["logs"].as_array().unwrap() {
        let name = log["name"].as_str().unwrap();
        let place = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("seed-data/logs");
        let bytes = std::fs::read(place.join(name)).unwrap();
        let mut incoming = app.site.db.logs().begin().unwrap();
        std::io::Write::write_all(&mut incoming, &bytes).unwrap();
        incoming.finish().unwrap();
    }
    app.publish(&text).await;
    app.site.refresh().await.unwrap();
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.revise("quillmere-qm-12a").await;
    let page = ada.get(&draft).await;
    ada.send(&form(&page, &format!("{draft}/links")), None)
        .await;
    let html = ada.get(&draft).await.text();
    let at = html.find("/preview/").unwrap();
    let path = &html[at..at + html[at..].find('"').unwrap()];

    let words = ada.get(path).await.words();
    let notice = words
        .find("How long must still be recorded?")
        .expect("the tester is told");
    let answer = "US DOE Level VI, 100 mW: Never at this instrument's uncertainty";
    assert!(words[notice..].contains(answer), "{words}");
    assert!(notice < words.find("Plugged in with nothing connected").unwrap());
    assert!(words.contains("qm-12a-idle-115v.csv for download once published"));
}

#[tokio::test]
async fn overload_heat_and_measurements_are_entered_pasted_and_published() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let page = filled(&mut ada, &draft, "LF-20").await;
    for button in ["add:overloads", "add:temperatures", "add:measurements"] {
        let form = if button == "add:overloads" {
            page.clone()
        } else {
            ada.bench_form(&draft).await
        };
        let answer = ada.send(&form, Some(button)).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{button}");
    }
    let words = ada.get(&draft).await.words();
    assert!(words.contains("These tests are for people who are qualified for them"));
    assert!(words.contains("Leave them to people who are qualified for it"));

    let form = ada
        .bench_form(&draft)
        .await
        .set("overloads[0].voltage_v", "9 V")
        .set("overloads[0].rated_current_a", "2,22 A")
        .set("overloads[0].recovery", "replug")
        .set("overloads[0].recovery_s", "2 s")
        .set("overloads[0].short_circuit_input_power_w", "840 mW")
        .set(
            "overloads[0].pasted",
            "set A\tflowed (mA)\tV\tstate\r\n2.22\t2220\t9.02\ton\r\n2.4\t2400\t9.0\ton\r\n2.6\t0\t0\toff",
        );
    let answer = ada.send(&form, Some("fill:overloads[0]")).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.words());
    let filled = ada.bench_form(&draft).await;
    assert_eq!(filled.value("overloads[0].steps[1].current_a"), "2400 mA");
    assert_eq!(filled.value("overloads[0].steps[2].state"), "off");
    assert_eq!(filled.value("overloads[0].pasted"), "");

    let form = filled
        .set("temperatures[0].load_w", "20 W")
        .set("temperatures[0].material", "plastic")
        .set("temperatures[0].where", "top face")
        .set(
            "temperatures.pasted",
            "40\t23.9\t51.0\n50\t24.0\t51.3\n60\t24.0\t51.4",
        );
    assert_eq!(
        ada.send(&form, Some("fill:temperatures")).await.status,
        StatusCode::SEE_OTHER
    );
    let form = ada.bench_form(&draft).await;
    assert_eq!(form.value("temperatures[2].surface_c"), "51.4");
    assert_eq!(form.value("temperatures[2].where"), "top face");
    let form = form
        .set("measurements[0].quantity", "ripple_mv")
        .set("measurements[0].value", "0,074 V")
        .set("measurements[0].accuracy", "5 mV")
        .set("measurements[0].voltage_v", "5")
        .set("unit.cord.length_m", "150 cm")
        .set("unit.cord.fixing", "detachable");
    ada.send(&form, Some("save")).await;
    let page = ada.get(&draft).await;
    assert!(!page.text().contains("aria-invalid"), "{}", page.words());
    publish(&mut ada, &draft).await;
    let unit = ada.get("/unit/larkfield-lf-20").await.words();
    for said in [
        "C1 at 9 V ✓ delivers its rating",
        "shut-off: off at 2.6 A",
        "Surface, top face, at 20 W",
        "Ripple and noise, peak to peak, 20 MHz (74.0 ± 5.8) mV 5 V none known",
        "detachable, 1.5 m",
    ] {
        assert!(unit.contains(said), "{said}: {unit}");
    }
}

#[tokio::test]
async fn a_bad_block_of_steps_stays_in_its_box_and_a_wrong_unit_is_named() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    for button in ["add:overloads", "add:measurements"] {
        let form = ada.bench_form(&draft).await;
        ada.send(&form, Some(button)).await;
    }
    let bad = ada
        .bench_form(&draft)
        .await
        .set("overloads[0].pasted", "colour,taste\r\n1,2");
    let answer = ada.send(&bad, Some("fill:overloads[0]")).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    let form = ada.bench_form(&draft).await;
    assert_eq!(
        form.value("overloads[0].pasted"),
        "colour,taste\r\n1,2",
        "saved as well"
    );
    let form = form
        .set("measurements[0].quantity", "hold_up_ms")
        .set("measurements[0].value", "18 mV");
    ada.send(&form, Some("save")).await;
    let words = ada.get(&draft).await.words();
    assert!(
        words.contains("a time in milliseconds such as 18"),
        "{words}"
    );
}

//! The queue: adding, ordering, the way to the bench and to publication; its public calendar, the
//! feed of results, and what readers suggest.

use crate::{
    app::{Answer, TestApp},
    browser::{Browser, PASSWORD, PageForm, form, form_in},
};
use axum::http::StatusCode;
use brickbook::storage::operators;

const QUEUE: &str = "/desk/queue";

/// Adds a candidate and gives the path of its page.
async fn add(browser: &mut Browser<'_>, maker: &str, model: &str, more: &[(&str, &str)]) -> String {
    let answer = try_to_add(browser, maker, model, more, "add").await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.words());
    let id = answer.header("location").rsplit('=').next().unwrap();
    format!("{QUEUE}/{id}")
}

async fn try_to_add(
    browser: &mut Browser<'_>,
    maker: &str,
    model: &str,
    more: &[(&str, &str)],
    action: &str,
) -> Answer {
    let page = browser.get(QUEUE).await;
    let mut line = form(&page, QUEUE).set("maker", maker).set("model", model);
    for (name, text) in more {
        line = line.set(name, text);
    }
    browser.send(&line, Some(action)).await
}

/// Presses a button of a candidate on the list.
async fn press(browser: &mut Browser<'_>, candidate: &str, action: &str) -> Answer {
    let page = browser.get(QUEUE).await;
    let row = form(&page, candidate);
    browser.send(&row, Some(action)).await
}

/// The models on the list, in their order.
async fn order(browser: &mut Browser<'_>) -> Vec<String> {
    let text = browser.get(QUEUE).await.text();
    let mut names = Vec::new();
    for part in text.split("data-name=\"").skip(1) {
        let name = &part[..part.find('"').unwrap()];
        names.push(name.rsplit(' ').next().unwrap().to_owned());
    }
    names
}

/// Publishes the least that a draft of a 20 W unit needs.
async fn publish(browser: &mut Browser<'_>, draft: &str) -> Answer {
    let filled = browser
        .bench_form(draft)
        .await
        .set("unit.nameplate.output_power_w", "20 W")
        .set("unit.ports[0].label", "C1")
        .set("runs[0].rated_outputs[0].voltage_v", "9 V")
        .set("runs[0].rated_outputs[0].current_a", "2,22 A")
        .set("runs[0].points[0].input.power_w", "22.8")
        .set("runs[0].points[0].outputs[0].voltage_v", "9.02")
        .set("runs[0].points[0].outputs[0].current_a", "2.22")
        .set("runs[0].no_load.power_w", "43 mW");
    browser.send(&filled, Some("save")).await;
    let path = format!("{draft}/publish");
    let confirm = form(&browser.get(&path).await, &path);
    browser.send(&confirm, None).await
}

#[tokio::test]
async fn a_candidate_goes_from_the_queue_to_the_bench_and_to_its_published_page() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let candidate = add(
        &mut ada,
        "Larkfield",
        "LF-20C",
        &[
            ("link", "https://shop.example/lf-20c"),
            ("price", "24,90 eur"),
            ("planned_on", "2026-10-01"),
        ],
    )
    .await;
    let list = ada.get(QUEUE).await;
    assert!(
        list.words().contains("planned 1 Oct 2026"),
        "{}",
        list.words()
    );
    assert!(list.words().contains("24.90 EUR"));
    let edited = form(&ada.get(&candidate).await, &format!("{candidate}/edit"))
        .set("unit.nameplate.input_current_a", "0.6")
        .set("unit.ports[0].label", "C1")
        .set("unit.ports[0].connector", "usb-c")
        .set("note", "borrowed");
    assert_eq!(ada.send(&edited, None).await.status, StatusCode::SEE_OTHER);
    assert!(
        ada.get("/desk")
            .await
            .words()
            .contains("Larkfield LF-20C wanted")
    );

    let begun = press(&mut ada, &candidate, "bench").await;
    let draft = begun
        .header("location")
        .split('?')
        .next()
        .unwrap()
        .to_owned();
    assert!(draft.starts_with("/desk/draft/"), "{draft}");
    let bench = ada.bench_form(&draft).await;
    for (path, text) in [
        ("unit.maker", "Larkfield"),
        ("unit.model", "LF-20C"),
        ("unit.price.amount", "24.90"),
        ("unit.price.currency", "EUR"),
        ("unit.buy_url", "https://shop.example/lf-20c"),
        ("unit.nameplate.input_current_a", "0.6"),
        ("unit.ports[0].label", "C1"),
        ("unit.ports[0].connector", "usb-c"),
    ] {
        assert_eq!(bench.value(path), text, "{path}");
    }
    // Its own place in the queue is no reason to warn of it.
    assert!(!ada.get(&draft).await.words().contains("Perhaps"));
    assert!(ada.get(QUEUE).await.words().contains("Open the record"));
    let again = press(&mut ada, &candidate, "bench").await;
    assert_eq!(again.header("location"), draft, "there is one record of it");

    let published = publish(&mut ada, &draft).await;
    assert_eq!(published.header("location"), "/unit/larkfield-lf-20c");
    let page = ada.get(&candidate).await.words();
    assert!(page.contains("State: published. Published page"), "{page}");
    let way: Vec<usize> = ["wanted", "on the bench", "published"]
        .map(|state| page.rfind(&format!(" {state} ")).unwrap_or(0))
        .to_vec();
    assert!(
        way.is_sorted() && way[0] > 0,
        "the history is in order: {page}"
    );
}

#[tokio::test]
async fn a_discarded_record_puts_its_candidate_back() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let candidate = add(&mut ada, "Larkfield", "LF-20C", &[]).await;
    let begun = press(&mut ada, &candidate, "bench").await;
    let draft = begun
        .header("location")
        .split('?')
        .next()
        .unwrap()
        .to_owned();
    let discard = format!("{draft}/discard");
    let confirm = form(&ada.get(&discard).await, &discard);
    ada.send(&confirm, None).await;
    let page = ada.get(&candidate).await.words();
    assert!(page.contains("State: here."), "{page}");
    assert!(page.contains("Start the bench record"));
}

#[tokio::test]
async fn another_operator_sees_whose_bench_a_candidate_is_on() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let candidate = add(&mut ada, "Larkfield", "LF-20C", &[]).await;
    let row = form(&ada.get(QUEUE).await, &candidate);
    press(&mut ada, &candidate, "bench").await;

    let hash = brickbook::web::auth::hash_password(PASSWORD).unwrap();
    let mut tx = app.site.db.write().await.unwrap();
    let now = app.site.clock.now();
    operators::insert(&mut tx, "Bea", &hash, operators::Role::Editor, now)
        .await
        .unwrap();
    tx.commit().await.unwrap();
    let mut bea = Browser::new(&app);
    bea.sign_in("Bea", PASSWORD).await;
    let list = bea.get(QUEUE).await.words();
    assert!(
        list.contains("on the bench of Ada") && !list.contains("Open the record"),
        "{list}"
    );
    let own = form(&bea.get(QUEUE).await, &candidate);
    let pressed = PageForm {
        fields: own.fields,
        ..row
    };
    let refused = bea.send(&pressed, Some("bench")).await;
    assert_eq!(refused.status, StatusCode::CONFLICT, "{}", refused.words());
}

#[tokio::test]
async fn what_looks_like_a_tested_drafted_or_queued_unit_is_shown_before_it_is_added() {
    let app = TestApp::seeded(&["larkfield-lf-100q"]).await;
    let mut ada = Browser::set_up(&app).await;
    add(&mut ada, "Castrelle", "CT-45 Nano", &[]).await;
    let draft = ada.new_draft().await;
    let typed = ada
        .bench_form(&draft)
        .await
        .set("unit.maker", "Wexmoor")
        .set("unit.model", "WX-65C");
    ada.send(&typed, Some("save")).await;

    for (maker, model, link, words) in [
        (
            "Larkfeild",
            "LF 1OO Q",
            "/unit/larkfield-lf-100q",
            "Larkfield LF-100Q , tested:",
        ),
        (
            "castrele",
            "ct45 nano",
            "/desk/queue/1",
            "Castrelle CT-45 Nano , in the queue: wanted:",
        ),
        (
            "Wexmor",
            "WX65C",
            draft.as_str(),
            "Wexmoor WX-65C , in a draft of yours:",
        ),
    ] {
        let asked = try_to_add(&mut ada, maker, model, &[("price", "9 EUR")], "add").await;
        assert_eq!(asked.status, StatusCode::OK);
        let text = asked.words();
        assert!(
            text.contains("Not added yet") && text.contains(words),
            "{text}"
        );
        assert!(
            asked.text().contains(&format!("<a href=\"{link}\">")),
            "{link}"
        );
        let again = form(&asked, QUEUE);
        assert_eq!(again.value("price"), "9 EUR", "what was typed stays");
        assert_eq!(order(&mut ada).await.len(), 1, "nothing was added");
        let fragment = ada
            .get(&format!(
                "{QUEUE}/alike?maker={maker}&model={}",
                model.replace(' ', "+")
            ))
            .await;
        assert!(
            fragment.words().contains(words),
            "while one types: {}",
            fragment.words()
        );
    }
    let added = try_to_add(&mut ada, "Larkfeild", "LF 1OO Q", &[], "add-anyway").await;
    assert_eq!(added.status, StatusCode::SEE_OTHER);
    assert_eq!(order(&mut ada).await.len(), 2);
    let other = try_to_add(&mut ada, "Larkfield", "LF-120Q", &[], "add").await;
    assert_eq!(
        other.status,
        StatusCode::SEE_OTHER,
        "another rating is another unit"
    );
}

#[tokio::test]
async fn starting_the_record_of_a_tested_model_asks_first() {
    let app = TestApp::seeded(&["larkfield-lf-100q"]).await;
    let mut ada = Browser::set_up(&app).await;
    let sent = try_to_add(&mut ada, "Larkfield", "LF100Q", &[], "add-anyway").await;
    let id = sent
        .header("location")
        .rsplit('=')
        .next()
        .unwrap()
        .to_owned();
    let candidate = format!("{QUEUE}/{id}");
    let asked = press(&mut ada, &candidate, "bench").await;
    assert_eq!(asked.status, StatusCode::OK);
    assert!(
        asked.words().contains("No record was started yet"),
        "{}",
        asked.words()
    );
    assert!(
        asked
            .text()
            .contains("<a href=\"/unit/larkfield-lf-100q\">")
    );
    let begun = ada
        .send(&form_in(&asked.text(), &candidate), Some("bench-anyway"))
        .await;
    assert!(begun.header("location").starts_with("/desk/draft/"));
}

#[tokio::test]
async fn a_draft_is_warned_of_units_that_are_spelled_a_little_differently() {
    let app = TestApp::seeded(&["larkfield-lf-100q"]).await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let typed = ada
        .bench_form(&draft)
        .await
        .set("unit.maker", "Larkfeild")
        .set("unit.model", "LF-100Q");
    ada.send(&typed, Some("save")).await;
    let page = ada.get(&draft).await;
    assert!(
        page.words()
            .contains("Perhaps Larkfield LF-100Q, tested: the maker is written differently"),
        "{}",
        page.words()
    );
    let other = ada.bench_form(&draft).await.set("unit.model", "LF-65Q");
    ada.send(&other, Some("save")).await;
    assert!(!ada.get(&draft).await.words().contains("Perhaps"));
}

#[tokio::test]
async fn the_order_is_changed_without_script_and_by_it() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let mut paths = Vec::new();
    for model in ["A-10", "B-20", "C-30", "D-40"] {
        paths.push(add(&mut ada, "Larkfield", model, &[]).await);
    }
    press(&mut ada, &paths[2], "up").await;
    assert_eq!(order(&mut ada).await, ["A-10", "C-30", "B-20", "D-40"]);
    press(&mut ada, &paths[0], "down").await;
    assert_eq!(order(&mut ada).await, ["C-30", "A-10", "B-20", "D-40"]);
    press(&mut ada, &paths[2], "up").await;
    press(&mut ada, &paths[3], "down").await;
    assert_eq!(
        order(&mut ada).await,
        ["C-30", "A-10", "B-20", "D-40"],
        "at the ends nothing moves"
    );

    // One of another state in between is stepped over.
    let row = form(&ada.get(QUEUE).await, &paths[1]).set("state", "skipped");
    ada.send(&row, Some("state")).await;
    press(&mut ada, &paths[3], "up").await;
    assert_eq!(order(&mut ada).await, ["C-30", "D-40", "A-10", "B-20"]);

    let id = |path: &str| path.rsplit('/').next().unwrap().to_owned();
    let csrf = row.value("csrf").to_owned();
    let mut place = async |fields: &[(&str, String)]| {
        let mut sent = vec![("csrf".to_owned(), csrf.clone())];
        sent.extend(
            fields
                .iter()
                .map(|(name, value)| (name.to_string(), value.clone())),
        );
        ada.post("/desk/queue/order", &sent, &[]).await.status
    };
    let done = place(&[("id", id(&paths[0])), ("before", id(&paths[2]))]).await;
    assert_eq!(done, StatusCode::NO_CONTENT);
    let last = place(&[("id", id(&paths[2])), ("after", id(&paths[3]))]).await;
    assert_eq!(last, StatusCode::NO_CONTENT);
    let nowhere = place(&[("id", id(&paths[2])), ("after", "99".into())]).await;
    assert_eq!(nowhere, StatusCode::NOT_FOUND);
    let nonsense = place(&[("id", "first".into())]).await;
    assert_eq!(nonsense, StatusCode::BAD_REQUEST);
    assert_eq!(order(&mut ada).await, ["A-10", "D-40", "C-30", "B-20"]);
}

#[tokio::test]
async fn a_line_with_mistakes_names_them_all_and_keeps_what_was_typed() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let more = [
        ("link", "shop.example"),
        ("price", "cheap"),
        ("planned_on", "soon"),
    ];
    let refused = try_to_add(&mut ada, "Larkfield", "LF-20C", &more, "add").await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    let words = refused.words();
    for part in [
        "Link: “shop.example”: expected an address that begins with https://",
        "Price: “cheap”: expected an amount with its currency",
        "Planned for: “soon”: expected a calendar date",
    ] {
        assert!(words.contains(part), "{part}: {words}");
    }
    assert_eq!(form_in(&refused.text(), QUEUE).value("price"), "cheap");
    assert!(order(&mut ada).await.is_empty());
}

#[tokio::test]
async fn nobody_without_a_session_or_with_the_token_of_another_changes_the_queue() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let candidate = add(&mut ada, "Larkfield", "LF-20C", &[]).await;
    let row = form(&ada.get(QUEUE).await, &candidate);
    let mut stranger = Browser::new(&app);
    for path in [QUEUE, &candidate, "/desk/queue/alike?model=a"] {
        let answer = stranger.get(path).await;
        assert_ne!(answer.status, StatusCode::OK, "{path}");
        assert!(!answer.words().contains("LF-20C"));
    }
    let answer = stranger.send(&row, Some("delete")).await;
    assert!(!answer.status.is_success() || answer.status == StatusCode::SEE_OTHER);
    let forged = PageForm {
        fields: vec![("csrf".into(), "x".repeat(43))],
        ..row.clone()
    };
    assert_eq!(
        ada.send(&forged, Some("delete")).await.status,
        StatusCode::FORBIDDEN
    );
    assert_eq!(order(&mut ada).await, ["LF-20C"]);
    assert_eq!(
        ada.send(&row, Some("delete")).await.status,
        StatusCode::SEE_OTHER
    );
    assert!(order(&mut ada).await.is_empty());
}

// ---- what readers see ----

/// Without the folding of lines (RFC 5545, section 3.1).
fn unfolded(calendar: &str) -> String {
    calendar.replace("\r\n ", "")
}

#[tokio::test]
async fn readers_see_what_the_tester_shows_and_nothing_else() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let shown = [
        ("public", "yes"),
        ("planned_on", "2026-10-01"),
        ("price", "24.90 EUR"),
        ("link", "https://shop.example/x"),
    ];
    add(&mut ada, "Larkfield", "LF-20C, new; \\ edition", &shown).await;
    add(&mut ada, "Castrelle", "CT-45 Nano", &[("public", "yes")]).await;
    add(&mut ada, "Secretum", "S-1", &[("planned_on", "2026-10-02")]).await;

    let page = app.get("/coming").await;
    let words = page.words();
    assert!(
        words.contains("Larkfield LF-20C, new; \\ edition 1 Oct 2026 wanted, not bought yet"),
        "{words}"
    );
    assert!(words.contains("Castrelle CT-45 Nano"));
    let calendar = app.get("/coming.ics").await;
    assert_eq!(
        calendar.header("content-type"),
        "text/calendar; charset=utf-8"
    );
    let text = unfolded(&calendar.text());
    for line in [
        "BEGIN:VCALENDAR\r\n",
        "\r\nVERSION:2.0\r\n",
        "\r\nDTSTART;VALUE=DATE:20261001\r\n",
        "\r\nSUMMARY:Larkfield LF-20C\\, new\\; \\\\ edition: test result\r\n",
        "\r\nSTATUS:TENTATIVE\r\n",
        "\r\nSEQUENCE:0\r\n",
    ] {
        assert!(text.contains(line), "{line:?}: {text}");
    }
    assert!(
        calendar.text().split("\r\n").all(|line| line.len() <= 75),
        "lines are folded"
    );
    let listed: serde_json::Value =
        serde_json::from_str(&app.get("/api/v1/coming").await.text()).unwrap();
    assert_eq!(listed["candidates"].as_array().unwrap().len(), 2);
    assert_eq!(listed["candidates"][0]["planned_on"], "2026-10-01");
    for path in ["/coming", "/coming.ics", "/api/v1/coming"] {
        let text = app.get(path).await.text();
        for secret in ["Secretum", "S-1", "24.90", "shop.example"] {
            assert!(!text.contains(secret), "{secret} on {path}");
        }
    }
}

#[tokio::test]
async fn a_calendar_entry_keeps_its_name_and_counts_its_changes() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let shown = [("public", "yes"), ("planned_on", "2026-10-01")];
    let candidate = add(&mut ada, "Larkfield", "LF-20C", &shown).await;
    let first = app.get("/coming.ics").await;
    let uid = |text: &str| {
        let at = text.find("UID:").unwrap();
        text[at..at + text[at..].find("\r\n").unwrap()].to_owned()
    };
    let name = uid(&unfolded(&first.text()));
    assert_eq!(
        app.get("/coming.ics").await.bytes,
        first.bytes,
        "the clock changes nothing"
    );
    let unchanged = app
        .get_with("/coming.ics", &[("if-none-match", first.header("etag"))])
        .await;
    assert_eq!(unchanged.status, StatusCode::NOT_MODIFIED);

    let moved = form(&ada.get(&candidate).await, &format!("{candidate}/edit"))
        .set("planned_on", "2026-11-05");
    ada.send(&moved, None).await;
    let row = form(&ada.get(QUEUE).await, &candidate).set("state", "on-the-bench");
    ada.send(&row, Some("state")).await;
    let second = app.get("/coming.ics").await;
    assert_ne!(second.header("etag"), first.header("etag"));
    let text = unfolded(&second.text());
    assert_eq!(uid(&text), name);
    for line in [
        "DTSTART;VALUE=DATE:20261105\r\n",
        "SEQUENCE:2\r\n",
        "STATUS:CONFIRMED\r\n",
    ] {
        assert!(text.contains(line), "{line}: {text}");
    }
    let row = form(&ada.get(QUEUE).await, &candidate).set("state", "skipped");
    ada.send(&row, Some("state")).await;
    assert!(
        app.get("/coming.ics")
            .await
            .text()
            .contains("STATUS:CANCELLED")
    );
    assert!(!app.get("/coming").await.words().contains("LF-20C"));
}

#[tokio::test]
async fn an_empty_calendar_and_an_empty_feed_are_whole_documents() {
    let app = TestApp::empty().await;
    let calendar = app.get("/coming.ics").await.text();
    assert!(calendar.starts_with("BEGIN:VCALENDAR\r\n") && calendar.ends_with("END:VCALENDAR\r\n"));
    assert!(
        calendar.contains("BEGIN:VJOURNAL"),
        "a calendar must hold something"
    );
    let feed = app.get("/feed.atom").await;
    assert_eq!(
        feed.header("content-type"),
        "application/atom+xml; charset=utf-8"
    );
    assert!(feed.text().contains("<updated>20"), "{}", feed.text());
    assert!(
        app.get("/coming")
            .await
            .words()
            .contains("No date is planned at present.")
    );
}

#[tokio::test]
async fn the_feed_tells_of_results_and_of_corrections_with_their_reason() {
    let app = TestApp::seeded(&["larkfield-lf-100q", "castrelle-ct-100-nano"]).await;
    let feed = app.get("/feed.atom").await;
    let text = feed.text();
    assert_eq!(text.matches("<entry>").count(), 2);
    assert!(
        text.contains("href=\"http://bench.example/unit/larkfield-lf-100q\""),
        "{text}"
    );
    assert!(
        text.contains("Score ") && text.contains("US DOE Level VI"),
        "{text}"
    );
    let id_of = |text: &str, title: &str| {
        let entry = text
            .split("<entry>")
            .find(|part| part.contains(title))
            .unwrap();
        let at = entry.find("<id>").unwrap();
        entry[at..at + entry[at..].find("</id>").unwrap()].to_owned()
    };
    let id = id_of(&text, "Larkfield LF-100Q");
    let linked = app.get("/").await.text();
    assert!(
        linked.contains("type=\"application/atom+xml\""),
        "found from every page"
    );

    let mut record: serde_json::Value =
        serde_json::from_str(&crate::app::seed("larkfield-lf-100q")).unwrap();
    record["notes"] = "Weighed again.".into();
    app.revise(
        "larkfield-lf-100q",
        &record.to_string(),
        "scale was <off> & wrong",
    )
    .await;
    app.site.refresh().await.unwrap();
    let corrected = app.get("/feed.atom").await;
    assert_ne!(corrected.header("etag"), feed.header("etag"));
    let text = corrected.text();
    assert_eq!(text.matches("<entry>").count(), 2, "a unit is one entry");
    assert_eq!(id_of(&text, "Larkfield LF-100Q"), id);
    assert!(
        text.contains("Corrected (revision 2): scale was &lt;off&gt; &amp; wrong."),
        "{text}"
    );
}

// ---- suggestions ----

async fn suggest(reader: &mut Browser<'_>, maker: &str, model: &str, why: &str) -> Answer {
    let page = reader.get("/suggest").await;
    let filled = form(&page, "/suggest")
        .set("maker", maker)
        .set("model", model)
        .set("why", why);
    reader.send(&filled, Some("suggest")).await
}

#[tokio::test]
async fn a_suggestion_waits_for_the_tester_and_becomes_a_candidate() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let mut reader = Browser::new(&app);
    let thanks = suggest(&mut reader, "Larkfield", "LF-20C", "My <own> one buzzes.").await;
    assert!(
        thanks.words().contains("The suggestion was taken in"),
        "{}",
        thanks.words()
    );
    suggest(&mut reader, "larkfield", "lf 20c", "").await;
    suggest(&mut reader, "Wexmoor", "WX-65C", "").await;
    let list = ada.get(QUEUE).await;
    assert!(
        list.words().contains("Larkfield LF-20C , by 2 readers"),
        "{}",
        list.words()
    );
    assert!(list.text().contains("My &#60;own&#62; one buzzes."));

    let accept = form(&list, "/desk/queue/suggestion/1");
    assert_eq!(
        ada.send(&accept, Some("accept")).await.status,
        StatusCode::SEE_OTHER
    );
    let decline = form(&list, "/desk/queue/suggestion/2");
    assert_eq!(
        ada.send(&decline, Some("decline")).await.status,
        StatusCode::SEE_OTHER
    );
    assert_eq!(
        ada.send(&accept, Some("accept")).await.status,
        StatusCode::NOT_FOUND,
        "once only"
    );
    assert_eq!(order(&mut ada).await, ["LF-20C"]);
    assert!(
        !ada.get(QUEUE)
            .await
            .words()
            .contains("Suggested by readers")
    );
    for model in ["N-1", "N-2"] {
        suggest(&mut reader, "Nonsense", model, "").await;
    }
    let all = form(&ada.get(QUEUE).await, "/desk/queue/suggestion");
    ada.send(&all, None).await;
    assert!(!ada.get(QUEUE).await.words().contains("Nonsense"));
    assert!(
        ada.get("/desk/queue/1")
            .await
            .text()
            .contains("Suggested by a reader: My")
    );
}

#[tokio::test]
async fn a_reader_hears_of_what_is_tested_or_shown_but_not_of_what_is_kept_back() {
    let app = TestApp::seeded(&["larkfield-lf-100q"]).await;
    let mut ada = Browser::set_up(&app).await;
    add(&mut ada, "Castrelle", "CT-45 Nano", &[("public", "yes")]).await;
    add(&mut ada, "Wexmoor", "WX-65C", &[]).await;
    let mut reader = Browser::new(&app);
    let known = suggest(&mut reader, "Larkfeild", "LF100Q", "").await;
    assert!(known.words().contains("Not sent yet"), "{}", known.words());
    assert!(
        known
            .text()
            .contains("<a href=\"/unit/larkfield-lf-100q\">")
    );
    let queued = suggest(&mut reader, "Castrelle", "CT-45 Nnao", "").await;
    assert!(
        queued.words().contains("in the queue"),
        "{}",
        queued.words()
    );
    assert!(!queued.text().contains("/desk/queue"));
    let kept_back = suggest(&mut reader, "Wexmoor", "WX-65C", "").await;
    assert!(kept_back.words().contains("The suggestion was taken in"));
    let list = ada.get(QUEUE).await.words();
    assert!(
        list.contains("May be one that you have"),
        "the tester hears of it: {list}"
    );
    let anyway = form_in(&known.text(), "/suggest");
    let thanks = reader.send(&anyway, Some("anyway")).await;
    assert!(thanks.words().contains("The suggestion was taken in"));
}

#[tokio::test]
async fn a_suggestion_on_a_german_page_is_answered_in_german_and_kept_as_any_other() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let mut reader = Browser::new(&app);
    let filled = form(&reader.get("/de/suggest").await, "/de/suggest")
        .set("maker", "Larkfield")
        .set("model", &"x".repeat(81));
    let long = reader.send(&filled, Some("suggest")).await;
    assert_eq!(long.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        long.words()
            .contains("Modell: erwartet wird eine Zeile mit 1 bis 80 Zeichen."),
        "{}",
        long.words()
    );
    let filled = form_in(&long.text(), "/de/suggest").set("model", "LF-20C");
    let thanks = reader.send(&filled, Some("suggest")).await;
    assert!(
        thanks.words().contains("Der Vorschlag ist angekommen"),
        "{}",
        thanks.words()
    );
    assert!(ada.get(QUEUE).await.words().contains("Larkfield LF-20C"));
}

#[tokio::test]
async fn suggestions_are_refused_when_they_are_too_long_too_many_or_from_elsewhere() {
    let app = TestApp::empty().await;
    let mut reader = Browser::new(&app);
    let long = suggest(&mut reader, "Larkfield", &"x".repeat(81), &"y".repeat(501)).await;
    assert_eq!(long.status, StatusCode::UNPROCESSABLE_ENTITY);
    let words = long.words();
    assert!(
        words.contains("Model: expected one line of 1 to 80") && words.contains("Why: expected"),
        "{words}"
    );

    let filled = form(&reader.get("/suggest").await, "/suggest")
        .set("maker", "Larkfield")
        .set("model", "LF-20C");
    let elsewhere = reader
        .post(
            "/suggest",
            &filled.fields,
            &[("origin", "https://evil.example")],
        )
        .await;
    assert_eq!(elsewhere.status, StatusCode::FORBIDDEN);
    let mut stranger = Browser::new(&app);
    assert_eq!(
        stranger.send(&filled, None).await.status,
        StatusCode::FORBIDDEN,
        "no cookie"
    );

    let mut last = StatusCode::OK;
    for number in 0..7 {
        let answer = suggest(&mut reader, "Larkfield", &format!("LF-{number}0C"), "").await;
        last = answer.status;
        if last == StatusCode::TOO_MANY_REQUESTS {
            assert!(!answer.header("retry-after").is_empty());
        }
    }
    assert_eq!(last, StatusCode::TOO_MANY_REQUESTS);
}

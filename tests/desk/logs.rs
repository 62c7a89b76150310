//! Raw logs at the desk: uploaded, understood or corrected, cut, and kept as long as a published
//! unit needs them.

use crate::{
    app::{Answer, TestApp},
    browser::{Browser, PageForm, form, form_in},
};
use axum::{
    body::{Body, Bytes, HttpBody},
    http::{Request, StatusCode, header},
};
use brickbook::{
    bench::decode::decode, intake::form as bench_form, storage::operators, web::Config,
};
use std::{
    convert::Infallible,
    pin::Pin,
    task::{Context, Poll},
    time::Duration,
};

const BOUNDARY: &str = "between-the-parts";

/// Twenty minutes of an invented meter at one row a second.
fn steady() -> String {
    let mut text = String::from("Time (s),Power (mW),Current (mA)\n");
    for second in 0..1200 {
        let power = 61.0 + f64::from(second % 7) * 0.1;
        text.push_str(&format!("{second},{power:.2},3.1\n"));
    }
    text
}

fn part_head(name: &str, file: Option<&str>) -> String {
    let file = file.map_or(String::new(), |file| format!("; filename=\"{file}\""));
    format!("--{BOUNDARY}\r\ncontent-disposition: form-data; name=\"{name}\"{file}\r\n\r\n")
}

/// The begin of an upload's body, up to the first byte of the file.
fn before_file(csrf: &str, name: &str) -> String {
    format!(
        "{}{csrf}\r\n{}",
        part_head("csrf", None),
        part_head("log", Some(name))
    )
}

fn upload_request(browser: &Browser<'_>, body: Body) -> Request<Body> {
    let cookies: Vec<String> = browser
        .cookies
        .iter()
        .map(|(name, value)| format!("{name}={value}"))
        .collect();
    Request::post("/desk/logs")
        .header(header::HOST, "bench.example")
        .header(header::COOKIE, cookies.join("; "))
        .header(
            header::CONTENT_TYPE,
            format!("multipart/form-data; boundary={BOUNDARY}"),
        )
        .body(body)
        .expect("a valid request")
}

async fn csrf(browser: &mut Browser<'_>) -> String {
    form(&browser.get("/desk/logs").await, "/desk/logs")
        .value("csrf")
        .to_owned()
}

async fn upload(browser: &mut Browser<'_>, name: &str, bytes: &[u8]) -> Answer {
    let mut body = before_file(&csrf(browser).await, name).into_bytes();
    body.extend_from_slice(bytes);
    body.extend_from_slice(format!("\r\n--{BOUNDARY}--\r\n").as_bytes());
    let request = upload_request(browser, Body::from(body));
    browser.app.ask(request).await
}

/// Uploads a log and gives the path of its page.
async fn uploaded(browser: &mut Browser<'_>, name: &str, bytes: &[u8]) -> String {
    let answer = upload(browser, name, bytes).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.words());
    let to = answer.header("location").to_owned();
    assert!(to.starts_with("/desk/logs/"), "{to}");
    to
}

/// Files in the store of logs, half-written ones included.
fn files_of(app: &TestApp) -> usize {
    fn count(folder: &std::path::Path) -> usize {
        std::fs::read_dir(folder)
            .into_iter()
            .flatten()
            .map(|entry| entry.expect("the folder is listed").path())
            .map(|path| if path.is_dir() { count(&path) } else { 1 })
            .sum()
    }
    count(app.site.db.logs().folder())
}

/// A body that begins well and then breaks, or says nothing more.
struct Breaking {
    first: Option<Bytes>,
    stalls: bool,
}

impl HttpBody for Breaking {
    type Data = Bytes;
    type Error = std::io::Error;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        _: &mut Context<'_>,
    ) -> Poll<Option<Result<hyper::body::Frame<Bytes>, std::io::Error>>> {
        match self.first.take() {
            Some(bytes) => Poll::Ready(Some(Ok(hyper::body::Frame::data(bytes)))),
            None if self.stalls => Poll::Pending,
            None => Poll::Ready(Some(Err(std::io::Error::other("the tab was closed")))),
        }
    }
}

/// The form of a log's page that says how it is read.
async fn layout_form(browser: &mut Browser<'_>, log: &str) -> PageForm {
    form(&browser.get(log).await, &format!("{log}/layout"))
}

async fn cut_form(browser: &mut Browser<'_>, log: &str, draft: &str) -> PageForm {
    let id = draft.rsplit('/').next().expect("a path has parts");
    let page = browser.get(&format!("{log}?draft={id}")).await;
    form(&page, &format!("{log}/cut"))
}

#[tokio::test]
async fn a_log_is_uploaded_understood_and_listed() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    assert!(ada.get("/desk/logs").await.words().contains("None yet"));
    let log = uploaded(&mut ada, "C:\\bench\\noload 115.csv", steady().as_bytes()).await;
    let page = ada.get(&log).await;
    let words = page.words();
    for told in [
        "noload 115.csv",
        "Rows 1 200",
        "input power 61.30 mW",
        "Cut a section",
        "How it is read",
    ] {
        assert!(words.contains(told), "{told}: {words}");
    }
    assert_eq!(page.header("cache-control"), "no-store");
    assert!(page.text().contains("<svg"));
    let list = ada.get("/desk/logs").await.words();
    assert!(
        list.contains("noload 115.csv") && list.contains("input power, input current"),
        "{list}"
    );
    // The very same bytes under another name are the same log.
    assert_eq!(
        uploaded(&mut ada, "again.csv", steady().as_bytes()).await,
        log
    );
}

#[tokio::test]
async fn a_script_is_told_where_the_log_is_or_what_was_wrong_as_json() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let token = csrf(&mut ada).await;
    for (token, status, key) in [(token.as_str(), 200, "url"), ("stale", 403, "fault")] {
        let body = format!(
            "{}{}\r\n--{BOUNDARY}--\r\n",
            before_file(token, "a.csv"),
            steady()
        );
        let mut request = upload_request(&ada, Body::from(body));
        request
            .headers_mut()
            .insert(header::ACCEPT, "application/json".parse().unwrap());
        let answer = app.ask(request).await;
        assert_eq!(answer.status.as_u16(), status);
        let told: serde_json::Value = serde_json::from_slice(&answer.bytes).unwrap();
        assert!(told[key].is_string(), "{told}");
    }
}

#[tokio::test]
async fn a_log_larger_than_a_form_may_be_is_taken() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let mut text = String::from("Time (s),Power (W)\n");
    let mut second = 0;
    while text.len() <= app.site.config.body_limit_bytes {
        text.push_str(&format!("{second},0.06\n"));
        second += 1;
    }
    let log = uploaded(&mut ada, "long.csv", text.as_bytes()).await;
    assert!(ada.get(&log).await.words().contains("input power"));
}

#[tokio::test]
async fn a_log_larger_than_the_site_takes_is_refused_in_words_and_leaves_nothing() {
    let app = TestApp::with(Config {
        log_limit_bytes: 5_000,
        ..Config::default()
    })
    .await;
    let mut ada = Browser::set_up(&app).await;
    let refused = upload(&mut ada, "long.csv", steady().as_bytes()).await;
    assert_eq!(refused.status, StatusCode::PAYLOAD_TOO_LARGE);
    assert!(
        refused.words().contains("larger than the 5.00 kB"),
        "{}",
        refused.words()
    );
    assert_eq!(files_of(&app), 0);
    assert!(ada.get("/desk/logs").await.words().contains("None yet"));
}

#[tokio::test]
async fn an_upload_that_breaks_off_or_stalls_leaves_nothing() {
    let app = TestApp::with(Config {
        request_timeout: Duration::from_millis(300),
        ..Config::default()
    })
    .await;
    let mut ada = Browser::set_up(&app).await;
    let begin = before_file(&csrf(&mut ada).await, "a.csv") + &steady();
    for (stalls, status) in [
        (false, StatusCode::BAD_REQUEST),
        (true, StatusCode::SERVICE_UNAVAILABLE),
    ] {
        let body = Breaking {
            first: Some(begin.clone().into()),
            stalls,
        };
        let answer = app.ask(upload_request(&ada, Body::new(body))).await;
        assert_eq!(answer.status, status, "{}", answer.words());
        assert_eq!(files_of(&app), 0);
    }
    assert!(ada.get("/desk/logs").await.words().contains("None yet"));
}

#[tokio::test]
async fn only_a_form_of_the_session_uploads_and_only_the_signed_in_see_logs() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let log = uploaded(&mut ada, "a.csv", steady().as_bytes()).await;
    let body = format!("{}t,p\n--{BOUNDARY}--\r\n", before_file("guessed", "b.csv"));
    let answer = app.ask(upload_request(&ada, Body::from(body))).await;
    assert_eq!(answer.status, StatusCode::FORBIDDEN);
    // The file before the token: it cannot be checked in time.
    let body = format!(
        "{}t,p\r\n--{BOUNDARY}--\r\n",
        part_head("log", Some("b.csv"))
    );
    let answer = app.ask(upload_request(&ada, Body::from(body))).await;
    assert_eq!(answer.status, StatusCode::FORBIDDEN);
    assert_eq!(files_of(&app), 1);

    let mut stranger = Browser::new(&app);
    for path in [
        "/desk/logs",
        &log,
        "/desk/logs/layouts",
        &format!("{log}/delete"),
    ] {
        let answer = stranger.get(path).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{path}");
        assert!(answer.header("location").starts_with("/sign-in"), "{path}");
    }
    let answer = app
        .ask(upload_request(&stranger, Body::from("anything")))
        .await;
    assert_eq!(answer.status, StatusCode::UNAUTHORIZED);
}

#[tokio::test]
async fn a_form_without_a_file_says_so() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let answer = upload(&mut ada, "", b"").await;
    assert_eq!(answer.status, StatusCode::BAD_REQUEST);
    assert!(answer.words().contains("No file was chosen"));
}

#[tokio::test]
async fn bad_rows_are_shown_with_their_lines_and_more_than_one_per_cent_are_refused() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let few = steady().replacen("700,61.00", "700,over <b>range", 1);
    let log = uploaded(&mut ada, "few.csv", few.as_bytes()).await;
    let words = ada.get(&log).await.words();
    assert!(
        words.contains("1 of the rows cannot be read (0.083 %)"),
        "{words}"
    );
    assert!(
        words.contains("702") && words.contains("over &#60;b&#62;range")
            || words.contains("over <b>range"),
        "{words}"
    );

    let many = steady().replace(",61.10,", ",overload,");
    let log = uploaded(&mut ada, "many.csv", many.as_bytes()).await;
    let words = ada.get(&log).await.words();
    assert!(
        words.contains("It cannot be used as it is read now") && words.contains("at most 1 %"),
        "{words}"
    );
    assert!(!words.contains("Cut a section"));
    assert_eq!(files_of(&app), 2, "it stays until it is deleted");
    let list = ada.get("/desk/logs").await.words();
    assert!(list.contains("many.csv") && list.contains("Cannot be read as it is"));
}

#[tokio::test]
async fn a_log_that_nobody_can_guess_is_read_as_the_tester_says() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let mut text = String::from("session 12\n");
    for row in 0..300 {
        text.push_str(&format!("{row};0,0{};230,1\n", 50 + row % 3));
    }
    let log = uploaded(&mut ada, "bare.txt", text.as_bytes()).await;
    let page = ada.get(&log).await;
    assert!(!page.words().contains("Cut a section"), "{}", page.words());
    assert!(page.words().contains("session 12"), "the preamble is shown");
    let asked = form(&page, &format!("{log}/layout"));
    assert_eq!(asked.value("delimiter"), "semicolon");
    assert_eq!(asked.value("decimal"), "comma");

    // Nothing chosen, a factor that is no number, one quantity twice: each is said.
    let wrong = asked
        .clone()
        .set("quantity-2", "input_power_w")
        .set("quantity-3", "input_power_w")
        .set("factor-2", "a lot");
    let refused = ada.send(&wrong, Some("read")).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    let words = refused.words();
    assert!(
        words.contains("Factor of column 2") && words.contains("Columns 2 and 3 are both called"),
        "{words}"
    );
    let shown = form_in(&refused.text(), &format!("{log}/layout"));
    assert_eq!(
        shown.value("factor-2"),
        "a lot",
        "what was typed is still there"
    );

    let right = shown
        .set("time_form", "seconds")
        .set("time_column", "1")
        .set("quantity-3", "input_voltage_v")
        .set("factor-2", "1");
    let done = ada.send(&right, Some("read")).await;
    assert_eq!(done.status, StatusCode::SEE_OTHER, "{}", done.words());
    let words = ada.get(&log).await.words();
    assert!(
        words.contains("Rows 300") && words.contains("input voltage 230.1 V"),
        "{words}"
    );
}

#[tokio::test]
async fn cells_that_are_cut_in_another_way_are_asked_about_before_they_are_read() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let log = uploaded(&mut ada, "a.csv", steady().as_bytes()).await;
    let wrong = layout_form(&mut ada, &log)
        .await
        .set("delimiter", "semicolon");
    let answer = ada.send(&wrong, Some("read")).await;
    assert_ne!(
        answer.status,
        StatusCode::SEE_OTHER,
        "one column holds no quantity"
    );
    // The log is still read as before.
    assert!(ada.get(&log).await.words().contains("Rows 1 200"));
    let found = layout_form(&mut ada, &log).await;
    let answer = ada.send(&found, Some("find")).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER);
    assert!(ada.get(&log).await.words().contains("Rows 1 200"));
}

#[tokio::test]
async fn a_factor_that_was_wrong_is_corrected_and_a_saved_layout_serves_the_next_log() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let log = uploaded(&mut ada, "a.csv", steady().as_bytes()).await;
    let asked = layout_form(&mut ada, &log).await;
    assert_eq!(asked.value("factor-2"), "0.001");
    let corrected = asked.set("factor-2", "0.01").set("quantity-3", "");
    assert_eq!(
        ada.send(&corrected, Some("read")).await.status,
        StatusCode::SEE_OTHER
    );
    let page = ada.get(&log).await;
    assert!(
        page.words().contains("input power 613.0 mW"),
        "{}",
        page.words()
    );
    let save = form(&page, &format!("{log}/save-layout")).set("name", "bench meter ×10");
    assert_eq!(
        ada.send(&save, None).await.header("location"),
        "/desk/logs/layouts"
    );

    let next = steady() + "1200,61.00,3.1\n";
    let answer = upload(&mut ada, "b.csv", next.as_bytes()).await;
    let page = ada.get(answer.header("location")).await.words();
    assert!(page.contains("bench meter ×10"), "{page}");
    assert!(
        page.contains("input power 613.0 mW") && !page.contains("input current 3.100 mA"),
        "{page}"
    );

    let layouts = ada.get("/desk/logs/layouts").await;
    assert!(layouts.words().contains("2: input power"));
    let forget = form(&layouts, "/desk/logs/layouts/forget");
    ada.send(&forget, None).await;
    assert!(
        ada.get("/desk/logs/layouts")
            .await
            .words()
            .contains("None yet")
    );
}

#[tokio::test]
async fn a_section_goes_into_the_draft_and_the_form_keeps_it() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let log = uploaded(&mut ada, "a.csv", steady().as_bytes()).await;
    let cut = cut_form(&mut ada, &log, &draft)
        .await
        .set("from", "0:05:00")
        .set("to", "1100")
        .set("place", "1:no_load");
    let shown = ada.send(&cut, Some("show")).await;
    assert_eq!(shown.status, StatusCode::SEE_OTHER);
    let page = ada
        .get(shown.header("location").split('#').next().unwrap())
        .await;
    assert!(page.words().contains("801 rows over"), "{}", page.words());

    let cut = form(&page, &format!("{log}/cut"));
    assert_eq!(
        (cut.value("from"), cut.value("place")),
        ("0:05:00", "1:no_load")
    );
    let used = ada.send(&cut, Some("use")).await;
    assert_eq!(
        (used.status, used.header("location")),
        (
            StatusCode::SEE_OTHER,
            format!("{draft}?focus=runs%5B1%5D.no_load.log").as_str()
        ),
        "{}",
        used.words()
    );
    // Saving the form anew keeps all of it, the layout that has no visible field included.
    let sent = ada.bench_form(&draft).await;
    assert_eq!(sent.value("runs[1].no_load.log"), "a.csv");
    assert_eq!(sent.value("runs[1].no_load.log_from_s"), "300");
    let sent = sent
        .set("unit.maker", "Larkfield")
        .set("unit.model", "LF-20")
        .set("unit.nameplate.output_power_w", "20");
    ada.send(&sent, Some("save")).await;
    let fields: bench_form::Fields = ada
        .bench_form(&draft)
        .await
        .fields
        .into_iter()
        .filter(|(path, _)| bench_form::is_field(path))
        .collect();
    let record = decode(&bench_form::document(&fields).value.to_string()).expect("it is whole");
    assert_eq!(record.logs.len(), 1);
    assert_eq!(record.logs[0].layout.columns[0].factor, Some(0.001));
    let no_load = record.runs[0].no_load.as_ref().expect("the run has a log");
    assert_eq!(
        (no_load.log_from_s, no_load.log_to_s),
        (Some(300.0), Some(1100.0))
    );
    let page = ada.get(&draft).await;
    assert!(
        page.text().contains(&format!("{log}?draft=")),
        "the log is linked"
    );
}

/// An hour of an invented adapter of 20 V and 1.5 A, loaded in steps of ten minutes.
fn stepped() -> String {
    let mut text = String::from("Time (s);Input power (W);Output voltage (V);Output current (A)\n");
    for (step, load) in [1.0, 0.75, 0.5, 0.25, 0.1].into_iter().enumerate() {
        for second in 0..600 {
            let ripple = 1.0 + 0.0004 * (second % 5) as f64;
            let output_a = 1.5 * load;
            let input_w = (20.0 * output_a / 0.91 + 0.12) * ripple;
            text.push_str(&format!(
                "{};{input_w:.4};20.00;{output_a:.4}\n",
                step * 600 + second
            ));
        }
    }
    text
}

#[tokio::test]
async fn the_steps_of_a_stepped_load_become_load_points_at_once() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let log = uploaded(&mut ada, "steps.csv", stepped().as_bytes()).await;
    // Before the record says what 100 % is, nothing is offered.
    let cut = cut_form(&mut ada, &log, &draft).await;
    let asked = ada.send(&cut, Some("steps")).await;
    let steps_url = asked
        .header("location")
        .split('#')
        .next()
        .unwrap()
        .to_owned();
    let page = ada.get(&steps_url).await;
    assert!(
        page.words().contains("Give the run's rated outputs"),
        "{}",
        page.words()
    );
    let steps = form(&page, &format!("{log}/steps"));
    assert_eq!(steps.value("place-1"), "");
    let refused = ada.send(&steps, None).await;
    assert_eq!(refused.status, StatusCode::BAD_REQUEST);

    let sent = ada
        .bench_form(&draft)
        .await
        .set("unit.maker", "Larkfield")
        .set("unit.model", "LF-30")
        .set("unit.nameplate.output_power_w", "30")
        .set("unit.ports[0].label", "C1")
        .set("runs[0].rated_outputs[0].voltage_v", "20")
        .set("runs[0].rated_outputs[0].current_a", "1.5");
    // The 10 % point is taken out: its step makes it anew.
    ada.send(&sent, Some("remove:runs[0].points[4]")).await;
    let page = ada.get(&steps_url).await;
    let steps = form(&page, &format!("{log}/steps"));
    let offered: Vec<String> = (1..=5)
        .map(|n| steps.value(&format!("place-{n}")).to_owned())
        .collect();
    assert_eq!(
        offered,
        ["point:0", "point:1", "point:2", "point:3", "new:10"]
    );
    assert!(page.words().contains("✓ stable"), "{}", page.words());

    let twice = steps.clone().set("place-2", "point:0");
    let refused = ada.send(&twice, None).await;
    assert_eq!(refused.status, StatusCode::BAD_REQUEST);
    assert_eq!(
        ada.bench_form(&draft).await.value("runs[0].points[0].log"),
        ""
    );

    let used = ada.send(&steps, None).await;
    assert_eq!(
        used.header("location"),
        format!("{draft}?focus=runs%5B0%5D.points%5B0%5D.log"),
        "{}",
        used.words()
    );
    let page = ada.get(&draft).await;
    let fields = form(&page, &draft);
    assert_eq!(fields.value("runs[0].points[4].load_percent"), "10");
    assert_eq!(fields.value("runs[0].points[4].log"), "steps.csv");
    assert_eq!(fields.value("logs[0].layout.columns[1].port"), "C1");
    let words = page.words();
    assert!(
        words.contains("Evidence from logs") && words.contains("75 % load, from steps.csv"),
        "{words}"
    );
    assert!(
        !words.contains("115 V 60 Hz: efficiency at"),
        "all loads are there: {words}"
    );
}

#[tokio::test]
async fn a_no_load_section_is_judged_before_it_is_used() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let log = uploaded(&mut ada, "a.csv", steady().as_bytes()).await;
    let cut = cut_form(&mut ada, &log, &draft).await;
    let preview = async |ada: &mut Browser<'_>| {
        let asked = ada.send(&cut, Some("preview")).await;
        let to = asked
            .header("location")
            .split('#')
            .next()
            .unwrap()
            .to_owned();
        ada.get(&to).await.words()
    };
    assert!(
        preview(&mut ada)
            .await
            .contains("maker, model and nameplate output power come first")
    );
    let sent = ada
        .bench_form(&draft)
        .await
        .set("unit.maker", "Larkfield")
        .set("unit.model", "LF-30")
        .set("unit.nameplate.output_power_w", "30")
        .set("instruments[1].reading_percent", "0.1");
    ada.send(&sent, Some("save")).await;
    let words = preview(&mut ada).await;
    assert!(
        words.contains("no load, from a.csv")
            && words.contains("US DOE Level VI: pass, measured by us"),
        "{words}"
    );
    assert!(
        words.contains("mW by the") && words.contains("Not written into the draft yet"),
        "{words}"
    );
    assert_eq!(
        ada.bench_form(&draft).await.value("runs[0].no_load.log"),
        ""
    );
}

#[tokio::test]
async fn a_section_of_what_is_no_time_or_no_load_changes_nothing() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let log = uploaded(&mut ada, "a.csv", steady().as_bytes()).await;
    let before = ada.bench_form(&draft).await.fields;
    let cut = cut_form(&mut ada, &log, &draft).await;
    for (wrong, told) in [
        (cut.clone().set("from", "soon"), "expected a time such as"),
        (cut.clone().set("from", "90").set("to", "0:01:00"), "after"),
        (
            cut.clone().set("place", "0:waveform"),
            "expected a percentage",
        ),
        (cut.clone().set("place", "9:no_load"), "not in the draft"),
    ] {
        let answer = ada.send(&wrong, Some("use")).await;
        assert_eq!(answer.status, StatusCode::BAD_REQUEST);
        assert!(answer.words().contains(told), "{told}: {}", answer.words());
    }
    let after = ada.bench_form(&draft).await.fields;
    let texts = |fields: Vec<(String, String)>| -> Vec<_> {
        fields
            .into_iter()
            .filter(|(name, _)| name != "editor")
            .collect()
    };
    assert_eq!(texts(after), texts(before));
    let shown = ada.send(&cut.set("from", "soon"), Some("show")).await;
    let page = ada
        .get(shown.header("location").split('#').next().unwrap())
        .await;
    assert!(page.words().contains("expected a time such as"));
}

#[tokio::test]
async fn a_draft_that_was_saved_meanwhile_is_not_written_into_unseen() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let log = uploaded(&mut ada, "a.csv", steady().as_bytes()).await;
    let cut = cut_form(&mut ada, &log, &draft).await;
    let typed = ada.bench_form(&draft).await.set("unit.maker", "Larkfield");
    ada.send(&typed, Some("remove:runs[0]")).await;
    let refused = ada.send(&cut, Some("use")).await;
    assert_eq!(refused.status, StatusCode::CONFLICT);
    assert!(
        !ada.bench_form(&draft)
            .await
            .value("runs[0].no_load.log")
            .contains("a.csv")
    );
    let again = cut_form(&mut ada, &log, &draft).await;
    assert_eq!(
        ada.send(&again, Some("use")).await.status,
        StatusCode::SEE_OTHER
    );
    assert_eq!(
        ada.bench_form(&draft).await.value("unit.maker"),
        "Larkfield"
    );
}

#[tokio::test]
async fn another_operator_uses_the_log_but_not_the_first_one_s_draft() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let log = uploaded(&mut ada, "a.csv", steady().as_bytes()).await;
    let password = "another long password";
    let hash = brickbook::web::auth::hash_password(password).unwrap();
    let mut tx = app.site.db.write().await.unwrap();
    operators::insert(
        &mut tx,
        "Bea",
        &hash,
        operators::Role::Editor,
        app.site.clock.now(),
    )
    .await
    .unwrap();
    tx.commit().await.unwrap();
    let mut bea = Browser::new(&app);
    bea.sign_in("Bea", password).await;
    assert!(bea.get("/desk/logs").await.words().contains("a.csv"));
    let own = bea.new_draft().await;
    let mut cut = cut_form(&mut bea, &log, &own).await;
    let used = bea.send(&cut, Some("use")).await;
    assert!(
        used.header("location").starts_with(&own),
        "{}",
        used.words()
    );
    for (name, value) in &mut cut.fields {
        if name == "draft" {
            draft.rsplit('/').next().unwrap().clone_into(value);
        }
    }
    assert_eq!(
        bea.send(&cut, Some("use")).await.status,
        StatusCode::NOT_FOUND
    );
    assert_eq!(
        ada.bench_form(&draft).await.value("runs[0].no_load.log"),
        ""
    );
}

#[tokio::test]
async fn a_log_is_deleted_with_confirmation_unless_a_published_unit_names_it() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    let draft = ada.new_draft().await;
    let log = uploaded(&mut ada, "a.csv", steady().as_bytes()).await;
    let other = uploaded(&mut ada, "b.csv", (steady() + "1200,61,3\n").as_bytes()).await;
    let cut = cut_form(&mut ada, &log, &draft).await;
    ada.send(&cut, Some("use")).await;
    let delete = ada.get(&format!("{log}/delete")).await;
    assert!(
        delete.words().contains("1 draft names it"),
        "{}",
        delete.words()
    );

    let sent = ada
        .bench_form(&draft)
        .await
        .set("unit.maker", "Larkfield")
        .set("unit.model", "LF-20")
        .set("unit.nameplate.output_power_w", "20");
    ada.send(&sent, Some("save")).await;
    let publish = format!("{draft}/publish");
    let page = ada.get(&publish).await;
    let done = ada.send(&form(&page, &publish), None).await;
    assert_eq!(
        done.header("location"),
        "/unit/larkfield-lf-20",
        "{}",
        done.words()
    );

    let confirm = form(&delete, &format!("{log}/delete"));
    let refused = ada.send(&confirm, None).await;
    assert_eq!(refused.status, StatusCode::CONFLICT);
    assert!(refused.words().contains("larkfield-lf-20"));
    let page = ada.get(&format!("{log}/delete")).await.words();
    assert!(
        page.contains("stays") && !page.contains("Delete the log"),
        "{page}"
    );
    assert!(
        ada.get(&log)
            .await
            .words()
            .contains("Used by the published unit")
    );

    let confirm = form(
        &ada.get(&format!("{other}/delete")).await,
        &format!("{other}/delete"),
    );
    assert_eq!(
        ada.send(&confirm, None).await.header("location"),
        "/desk/logs"
    );
    assert_eq!(ada.get(&other).await.status, StatusCode::NOT_FOUND);
    assert_eq!(files_of_logs(&app), 1);

    // A revision keeps the log and its layout without anybody looking at them.
    let revision = ada.revise("larkfield-lf-20").await;
    let changed = ada
        .bench_form(&revision)
        .await
        .set("notes", "looked at again");
    ada.send(&changed, Some("save")).await;
    let publish = format!("{revision}/publish");
    let confirm = form(&ada.get(&publish).await, &publish).set("reason", "notes");
    let done = ada.send(&confirm, None).await;
    assert_eq!(
        done.header("location"),
        "/unit/larkfield-lf-20",
        "{}",
        done.words()
    );
    let record = ada.get("/unit/larkfield-lf-20/record.json").await.text();
    let record = decode(&record).expect("a published record is valid");
    assert_eq!(record.logs.len(), 1);
    assert_eq!(
        record.runs[0].no_load.as_ref().unwrap().log.as_deref(),
        Some("a.csv")
    );
}

/// Kept logs, without what was remembered of reading them.
fn files_of_logs(app: &TestApp) -> usize {
    std::fs::read_dir(app.site.db.logs().folder())
        .expect("logs are kept")
        .map(|entry| entry.expect("the folder is listed").path())
        .filter(|path| path.file_name().is_some_and(|name| name.len() == 2))
        .map(|path| std::fs::read_dir(path).expect("a folder of logs").count())
        .sum()
}

#[tokio::test]
async fn addresses_of_logs_that_are_not_there_are_pages_that_say_so() {
    let app = TestApp::empty().await;
    let mut ada = Browser::set_up(&app).await;
    for sha256 in ["0".repeat(64), "..%2F..%2Fetc".to_owned(), "x".to_owned()] {
        for end in ["", "/delete"] {
            let answer = ada.get(&format!("/desk/logs/{sha256}{end}")).await;
            assert_eq!(answer.status, StatusCode::NOT_FOUND, "{sha256}{end}");
        }
    }
}

#[tokio::test]
async fn a_body_is_read_to_its_end_before_too_large_is_said() {
    // A browser shows an answer only when it has sent everything.
    let app = TestApp::with(Config {
        log_limit_bytes: 1_000,
        ..Config::default()
    })
    .await;
    let mut ada = Browser::set_up(&app).await;
    let token = csrf(&mut ada).await;
    let (body, seen) = Watched::new(vec![
        before_file(&token, "a.csv"),
        "x".repeat(1_500),
        "y".repeat(400),
        format!("\r\n--{BOUNDARY}--\r\n"),
    ]);
    let answer = app.ask(upload_request(&ada, Body::new(body))).await;
    assert_eq!(answer.status, StatusCode::PAYLOAD_TOO_LARGE);
    assert_eq!(seen.load(std::sync::atomic::Ordering::Relaxed), 4);
}

/// A body that counts the pieces that were taken from it.
struct Watched {
    pieces: std::vec::IntoIter<String>,
    seen: std::sync::Arc<std::sync::atomic::AtomicUsize>,
}

impl Watched {
    fn new(pieces: Vec<String>) -> (Watched, std::sync::Arc<std::sync::atomic::AtomicUsize>) {
        let seen = std::sync::Arc::new(std::sync::atomic::AtomicUsize::new(0));
        let body = Watched {
            pieces: pieces.into_iter(),
            seen: seen.clone(),
        };
        (body, seen)
    }
}

impl HttpBody for Watched {
    type Data = Bytes;
    type Error = Infallible;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        _: &mut Context<'_>,
    ) -> Poll<Option<Result<hyper::body::Frame<Bytes>, Infallible>>> {
        let next = self.pieces.next();
        if next.is_some() {
            self.seen.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
        }
        Poll::Ready(next.map(|piece| Ok(hyper::body::Frame::data(piece.into()))))
    }
}

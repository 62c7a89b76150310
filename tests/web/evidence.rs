//! Raw logs: their evidence on a unit's page, and their bytes for download.

use crate::app::{Answer, TestApp, seed};
use axum::http::StatusCode;
use brickbook::{
    evaluate::{
        NoLogs,
        evaluation::{
            FiveMinute, LongerRecording, MethodTried, NoLoadAgainstLimit, NoLoadLog, PointLog,
            PowerTrace, PowerWindow, QuantityScatter, Requirement,
        },
    },
    intake::submit::{Submission, Target, judge, store},
};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use std::io::Write;

const SLUG: &str = "hollowick-hk-100c";

/// Keeps bytes as the desk would and returns their SHA-256.
fn keep(app: &TestApp, bytes: &[u8]) -> String {
    let mut incoming = app.site.db.logs().begin().expect("the folder can be made");
    incoming.write_all(bytes).expect("the disk takes them");
    incoming.finish().expect("the disk takes them").sha256
}

/// An entry of a record's `logs`: time in seconds, then power in milliwatts.
fn log_entry(name: &str, bytes: &[u8]) -> Value {
    let digest = Sha256::digest(bytes);
    let sha256: String = digest.iter().map(|byte| format!("{byte:02x}")).collect();
    json!({
        "name": name,
        "sha256": sha256,
        "size_bytes": bytes.len(),
        "layout": {
            "encoding": "utf-8",
            "delimiter": "semicolon",
            "decimal": "comma",
            "first_line": 2,
            "time": {"form": "seconds", "column": 1},
            "columns": [{"column": 2, "quantity": "input_power_w", "factor": 0.001}],
        },
    })
}

/// The record of an invented unit with these logs.
fn record_with(logs: &[Value]) -> Value {
    let mut record: Value = serde_json::from_str(&seed(SLUG)).expect("seed data is JSON");
    record["logs"] = logs.into();
    record
}

async fn published(logs: &[(&str, &[u8])]) -> TestApp {
    let app = TestApp::empty().await;
    let entries: Vec<Value> = logs
        .iter()
        .map(|(name, bytes)| {
            keep(&app, bytes);
            log_entry(name, bytes)
        })
        .collect();
    app.publish(&record_with(&entries).to_string()).await;
    app.site.refresh().await.expect("the database can be read");
    app
}

/// A short log: half an hour, one sample a second.
fn idle_log() -> Vec<u8> {
    let mut text = String::from("t;P/mW\r\n");
    for second in 0..1_800 {
        let tenths = 739 + (second * 7_919) % 11;
        text.push_str(&format!("{second};{},{}\r\n", tenths / 10, tenths % 10));
    }
    text.into_bytes()
}

fn not_found(answer: &Answer, said: &str) {
    assert_eq!(answer.status, StatusCode::NOT_FOUND);
    assert!(answer.words().contains(said), "{}", answer.words());
}

#[tokio::test]
async fn a_log_is_given_out_byte_for_byte_as_a_file_of_its_name() {
    let bytes = idle_log();
    let app = published(&[("idle 115 V.csv", &bytes)]).await;
    let answer = app
        .get(&format!("/unit/{SLUG}/log/idle%20115%20V.csv"))
        .await;
    assert_eq!(answer.status, StatusCode::OK);
    assert_eq!(answer.bytes, bytes);
    assert_eq!(answer.header("content-type"), "text/csv");
    assert_eq!(answer.header("x-content-type-options"), "nosniff");
    assert_eq!(
        answer.header("content-disposition"),
        "attachment; filename=\"idle_115_V.csv\"; filename*=UTF-8''idle%20115%20V.csv"
    );
    let etag = answer.header("etag").to_owned();
    let digest = Sha256::digest(&bytes);
    let hex: String = digest.iter().map(|byte| format!("{byte:02x}")).collect();
    assert_eq!(etag, format!("\"{hex}\""));
    assert!(answer.header("cache-control").contains("must-revalidate"));

    let again = app
        .get_with(
            &format!("/unit/{SLUG}/log/idle%20115%20V.csv"),
            &[("if-none-match", &etag)],
        )
        .await;
    assert_eq!(again.status, StatusCode::NOT_MODIFIED);
    assert!(again.bytes.is_empty());
    assert_eq!(again.header("etag"), etag);
}

#[tokio::test]
async fn a_log_that_the_instrument_packed_stays_packed() {
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::default());
    packer.write_all(&idle_log()).unwrap();
    let bytes = packer.finish().unwrap();
    let app = published(&[("idle.csv.gz", &bytes)]).await;
    let answer = app.get(&format!("/unit/{SLUG}/log/idle.csv.gz")).await;
    assert_eq!(answer.bytes, bytes);
    assert_eq!(answer.header("content-type"), "application/gzip");
    assert_eq!(answer.header("content-encoding"), "");
}

#[tokio::test]
async fn a_log_of_many_pieces_comes_whole() {
    // Noise, so that packed pieces and unpacked ones have nothing to do with each other.
    let mut state = 1u64;
    let bytes: Vec<u8> = std::iter::repeat_with(|| {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        (state >> 56) as u8
    })
    .take(3_000_001)
    .collect();
    let app = published(&[("noise.bin", &bytes)]).await;
    let answer = app.get(&format!("/unit/{SLUG}/log/noise.bin")).await;
    assert_eq!(answer.bytes.len(), bytes.len());
    assert!(answer.bytes == bytes);
}

#[tokio::test]
async fn only_logs_that_a_published_revision_names_are_given_out() {
    let app = published(&[("idle.csv", &idle_log())]).await;
    let secret = keep(&app, b"t;P\n0;1\n");
    let none = "This unit has no log called";
    for path in [
        format!("/unit/{SLUG}/log/other.csv"),
        format!("/unit/{SLUG}/log/{secret}"),
        format!("/unit/{SLUG}/log/idle.csv?sha256={secret}"),
        format!("/unit/{SLUG}/log/..%2F..%2Fbrickbook.db"),
        "/unit/nobody/log/idle.csv".to_owned(),
    ] {
        not_found(&app.get(&path).await, none);
    }
    // The right bytes under a name that the record doesn't give them.
    let digest = Sha256::digest(idle_log());
    let hex: String = digest.iter().map(|byte| format!("{byte:02x}")).collect();
    let path = format!("/unit/{SLUG}/log/invoice.exe?sha256={hex}");
    not_found(&app.get(&path).await, none);
}

#[tokio::test]
async fn a_log_that_is_named_but_not_kept_is_said_to_be_so() {
    let app = TestApp::empty().await;
    let record = record_with(&[log_entry("lost.csv", b"t;P\n0;1\n")]);
    app.publish(&record.to_string()).await;
    app.site.refresh().await.unwrap();
    let page = app.get(&format!("/unit/{SLUG}")).await;
    assert!(page.words().contains("lost.csv not kept here"));
    assert!(!page.text().contains("/log/lost.csv"));
    let answer = app.get(&format!("/unit/{SLUG}/log/lost.csv")).await;
    not_found(&answer, "its bytes are not kept here");
}

#[tokio::test]
async fn an_earlier_revision_leads_to_its_own_log_of_the_same_name() {
    let (first, second) = (b"t;P\n0;1\n".as_slice(), b"t;P\n0;2\n".as_slice());
    let app = published(&[("idle.csv", first)]).await;
    keep(&app, second);
    let record = record_with(&[log_entry("idle.csv", second)]);
    app.revise(SLUG, &record.to_string(), "recorded again")
        .await;
    app.site.refresh().await.unwrap();

    let newest = app.get(&format!("/unit/{SLUG}/log/idle.csv")).await;
    assert_eq!(newest.bytes, second);
    let page = app.get(&format!("/unit/{SLUG}/revision/1")).await.text();
    let sha256 = log_entry("idle.csv", first)["sha256"]
        .as_str()
        .unwrap()
        .to_owned();
    let link = format!("/unit/{SLUG}/log/{sha256}/idle.csv");
    assert!(page.contains(&link), "the earlier log is linked");
    // So were logs addressed before each had a path of its own.
    for link in [link, format!("/unit/{SLUG}/log/idle.csv?sha256={sha256}")] {
        let earlier = app.get(&link).await;
        assert_eq!(earlier.bytes, first, "{link}");
        assert!(earlier.header("cache-control").contains("immutable"));
    }
}

#[tokio::test]
async fn a_page_lists_each_log_with_its_full_hash_and_how_it_is_read() {
    let bytes = idle_log();
    let app = published(&[("idle.csv", &bytes)]).await;
    let page = app.get(&format!("/unit/{SLUG}")).await;
    let words = page.words();
    let entry = log_entry("idle.csv", &bytes);
    for part in [
        "Raw logs",
        entry["sha256"].as_str().unwrap(),
        "columns between semicolons; decimal comma; data from line 2",
        "column 1: time in seconds",
        "column 2: input power in W, its numbers times 0.001",
        &format!("{:.1} kB", bytes.len() as f64 / 1e3),
    ] {
        assert!(words.contains(part), "{part}: {words}");
    }
    let href = format!("href=\"/unit/{SLUG}/log/idle.csv\"");
    assert!(page.text().contains(&href));
    // A record without logs has no such section.
    let plain = TestApp::seeded(&[SLUG]).await;
    assert!(
        !plain
            .get(&format!("/unit/{SLUG}"))
            .await
            .words()
            .contains("Raw logs")
    );
}

/// What an evaluation says of half an hour that settles from above a limit of 75 mW to below it.
fn settling() -> NoLoadLog {
    let power = |t: f64| 0.0738 + 0.03 * (-t / 180.0).exp();
    let mean_w: Vec<f64> = (0..600).map(|i| power(f64::from(i) * 3.0 + 1.5)).collect();
    let windows = (0..6)
        .map(|n| PowerWindow {
            from_s: f64::from(n) * 300.0,
            to_s: f64::from(n + 1) * 300.0,
            mean_w: power(f64::from(n) * 300.0 + 120.0),
        })
        .collect();
    let tried = |method: &str, used, why: &str, power_w| MethodTried {
        method: method.to_owned(),
        used,
        applies: used,
        why: why.to_owned(),
        power_w,
    };
    NoLoadLog {
        name: "idle.csv".to_owned(),
        sha256: "0".repeat(64),
        from_s: 0.0,
        to_s: 1_800.0,
        samples: 1_800,
        interval_s: 1.0,
        used_from_s: 600.0,
        used_to_s: 1_800.0,
        settled_at_s: Some(540.0),
        slope_w_per_h: -0.0021,
        slope_limit_w_per_h: 0.010,
        slope_u_w_per_h: 0.0013,
        cycle: None,
        instrument_u_w: Some(0.00078),
        scatter_u_w: 0.00012,
        scatter_degrees_of_freedom: 18.0,
        long_enough: true,
        block_s: 12.0,
        degrees_of_freedom: Some(34_567.0),
        coverage_factor: 1.96,
        allowed_uncertainty_w: None,
        current_peak_a: Some(0.112),
        current_a: Some(0.0312),
        power_factor: Some(0.021),
        known: String::new(),
        methods: vec![
            tried(
                "sampling",
                true,
                "the slope over the last two thirds is within 10 mW/h (IEC 62301, 5.3.2)",
                Some(0.0739),
            ),
            tried("cyclic", false, "no cycle was found", None),
            tried(
                "average",
                false,
                "sampling applies and is preferred",
                Some(0.07391),
            ),
        ],
        five_minute: Some(FiveMinute {
            from_s: 1_500.0,
            to_s: 1_800.0,
            drift_percent: 0.42,
            drift_limit_percent: 5.0,
            stable: true,
            power_w: 0.07384,
            why: "stable, so the value at the end counts".to_owned(),
        }),
        windows,
        limits: vec![
            NoLoadAgainstLimit {
                regimes: vec!["eu_coc_v5_tier2".to_owned()],
                limit_w: 0.075,
                windows_above: 2.0 / 6.0,
                longer: LongerRecording {
                    answer: "after".to_owned(),
                    further_s: Some(5_400.0),
                    message: "record 1 h 30 min more and the verdict will be clear".to_owned(),
                },
            },
            NoLoadAgainstLimit {
                regimes: vec!["us_doe_level_vi".to_owned(), "eu_2019_1782".to_owned()],
                limit_w: 0.210,
                windows_above: 0.0,
                longer: LongerRecording {
                    answer: "clear".to_owned(),
                    further_s: None,
                    message: "the verdict is clear already".to_owned(),
                },
            },
        ],
        trace: PowerTrace {
            from_s: 0.0,
            cell_s: 3.0,
            min_w: mean_w.iter().map(|w| Some(w - 0.0008)).collect(),
            max_w: mean_w.iter().map(|w| Some(w + 0.0009)).collect(),
            mean_w: mean_w.into_iter().map(Some).collect(),
        },
    }
}

/// A unit whose first run has a no-load log and a load point that was not stable.
async fn with_evidence() -> TestApp {
    let app = TestApp::empty().await;
    let bytes = idle_log();
    keep(&app, &bytes);
    let text = record_with(&[log_entry("idle.csv", &bytes)]).to_string();
    let method = &app.site.method;
    let mut judged = judge(&text, method, &NoLogs).expect("the record is valid");
    let run = &mut judged.evaluation.runs[0];
    let no_load = run.no_load.as_mut().expect("the run has a no-load reading");
    no_load.power_w = 0.0739;
    no_load.power_u = Some(0.00079);
    no_load.method = "sampling".to_owned();
    no_load.expanded_uncertainty_w = Some(0.00155);
    no_load.log = Some(settling());
    run.points[0].log = Some(PointLog {
        name: "steps.csv".to_owned(),
        sha256: "1".repeat(64),
        from_s: 60.0,
        to_s: 360.0,
        samples: 300,
        stable: false,
        stability: "the input power drifts by 7.1 % over the section, allowed 5 %".to_owned(),
        scatter: vec![QuantityScatter {
            quantity: "output_voltage_v".to_owned(),
            port: Some("C1".to_owned()),
            mean: 20.051,
            u: Some(0.0007),
            degrees_of_freedom: Some(22.0),
        }],
    });
    let name = run.name.clone();
    for verdict in &mut judged.evaluation.verdicts {
        if verdict.requirement == Requirement::NoLoad && verdict.regime == "eu_coc_v5_tier2" {
            verdict.run = Some(name.clone());
            verdict.limit = Some(0.075);
        }
    }
    let submission = Submission {
        text: &text,
        target: Target::New,
        author: "tester",
        reason: "",
        now: time::macros::datetime!(2026-09-02 10:00 UTC),
    };
    let mut tx = app.site.db.write().await.unwrap();
    let who = brickbook::storage::audit::Who::program();
    store(&mut tx, &who, &submission, judged, method)
        .await
        .unwrap();
    tx.commit().await.unwrap();
    app.site.refresh().await.unwrap();
    app
}

#[tokio::test]
async fn a_no_load_log_says_first_in_plain_words_then_in_full_what_it_bears_out() {
    let app = with_evidence().await;
    let page = app.get(&format!("/unit/{SLUG}")).await;
    if let Ok(path) = std::env::var("BRICKBOOK_TEST_PAGE") {
        std::fs::write(path, page.text()).unwrap();
    }
    let words = page.words();
    for part in [
        "No-load power over time",
        "Plugged in with nothing connected, it drew (73.9 ± 1.6) mW on average: the mean of \
         20 min out of a recording of 30 min.",
        "It had settled 9 min after the recording began; the first 10 min were left out.",
        "Record 1 h 30 min more and the verdict will be clear.",
        "2 of 6 (33 %)",
        "The verdict is clear already.",
        "−2.1 mW/h, known to ±2.6 mW/h; allowed below 10 mW/h",
        "u from the instrument 0.78 mW",
        "u from the scatter 0.12 mW (18 degrees of freedom; blocks of 12 s",
        "1.6 mW = k · u with k = 1.96 for 95 %, practically unlimited degrees of freedom",
        "Largest peak current 112 mA",
        "No cycle was found.",
        "The slope over the last two thirds is within 10 mW/h (IEC 62301, 5.3.2).",
        "Five-minute method of the US procedure, beside it: 73.84 mW",
        "from a log, sampling method",
        "not stable",
        "The input power drifts by 7.1 % over the section, allowed 5 %.",
        "output voltage of C1 20.051 V, u = 0.00070 V from the scatter",
    ] {
        assert!(words.contains(part), "{part}: {words}");
    }
    let plain = words.find("Plugged in with nothing").unwrap();
    assert!(plain < words.find("u from the scatter").unwrap());
    // What a tester should do next is no notice for buyers.
    assert!(!words.contains("How long must still be recorded?"));
}

/// A site with a unit of `seed-data/` and the logs that it names.
async fn seeded_with_logs(slug: &str) -> TestApp {
    let app = TestApp::empty().await;
    let text = seed(slug);
    let record: Value = serde_json::from_str(&text).expect("seed data is JSON");
    for log in record["logs"].as_array().expect("the unit has logs") {
        let name = log["name"].as_str().expect("a log has a name");
        assert_eq!(keep(&app, &seed_log(name)), log["sha256"], "{name}");
    }
    app.publish(&text).await;
    app.site.refresh().await.expect("the database can be read");
    app
}

/// A raw log of `seed-data/`.
fn seed_log(name: &str) -> Vec<u8> {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("seed-data/logs");
    std::fs::read(path.join(name)).unwrap_or_else(|cause| panic!("{name}: {cause}"))
}

#[tokio::test]
async fn an_idle_power_that_flickers_about_its_limit_is_said_to_be_undecidable() {
    let app = seeded_with_logs("quillmere-qm-12a").await;
    let words = app.get("/unit/quillmere-qm-12a").await.words();
    for part in [
        "Never at this instrument's uncertainty",
        "conditional pass",
        "2 of 18 (11 %)",
        "gave the figure",
        "The power does not repeat itself with a period",
        "qm-12a-idle-115v.csv",
        "no load, 5 V on 115 V",
    ] {
        assert!(words.contains(part), "{part}: {words}");
    }
}

#[tokio::test]
async fn an_idle_power_that_cycles_is_averaged_over_whole_cycles() {
    let app = seeded_with_logs("dunmarrow-dm-20-travel").await;
    let words = app.get("/unit/dunmarrow-dm-20-travel").await.words();
    assert!(
        words.contains("Its power goes up and down in a cycle of 42 s; 48 whole cycles"),
        "{words}"
    );
    assert!(words.contains("from a log, whole cycles"));
    assert!(words.contains("9 of 9 (100 %)"));
}

#[tokio::test]
async fn load_points_cut_from_a_log_are_marked_and_say_why_they_are_stable() {
    let app = seeded_with_logs("larkfield-lf-20c").await;
    let page = app.get("/unit/larkfield-lf-20c").await;
    let words = page.words();
    assert!(words.contains("Load points that are averages of a log"));
    assert!(
        words.contains(
            "100 % (stable): mean of 150 samples of lf-20c-steps-115v.csv, 30 min to 35 min."
        ),
        "{words}"
    );
    assert_eq!(page.text().matches(">stable</span>").count(), 10);
    assert!(!words.contains("not stable"));
}

#[tokio::test]
async fn a_waveform_is_screened_and_never_called_conforming() {
    let app = seeded_with_logs("wexmoor-wx-100c").await;
    let page = app.get("/unit/wexmoor-wx-100c").await;
    let words = page.words();
    let section = &words[words.find("Waveforms and harmonics").expect("the section")..];
    for part in [
        "One short record is a screening, never a verdict of conformity.",
        "Harmonic currents, screened by us:",
        "Harmonic currents by order:",
        "Class A limit",
        "Class D limit",
        "The analyser saw the same",
        "Displacement",
        "measured by us",
    ] {
        assert!(
            section.to_lowercase().contains(&part.to_lowercase()),
            "{part}: {section}"
        );
    }
    for never in ["certified", "complies", "conforms to"] {
        assert!(!section.contains(never), "{never}");
    }
    assert!(
        page.text()
            .contains("id=\"waveform-1-harmonics-wide-title\"")
    );
}

//! Many readers while somebody publishes without a pause: no error, and never half a state.

use crate::{Bench, Running, sample};
use brickbook::evaluate::Method;
use brickbook::intake::submit::{Submission, Target, submit};
use brickbook::storage::Db;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use time::OffsetDateTime;

const READERS: usize = 50;

/// Requests of one reader.
const ROUNDS: usize = 36;

/// As many fit on one page of the API; then the last one is corrected again and again.
const MOST_UNITS: usize = 180;

/// What an unoptimised build may take at its most, kB.
const MOST_MEMORY_KB: u64 = 400_000;

#[test]
fn fifty_readers_see_whole_states_and_no_error_while_units_are_published() {
    let bench = Bench::new();
    bench.write("a.json", &sample::record_text("Larkfield", "LF-0", None));
    bench.write("b.json", &sample::record_text("Larkfield", "LF-1", None));
    bench.call(&["add", "a.json", "b.json"]).succeeds();
    let server = Running::start(&bench, &[]);
    let base = format!("http://{}", server.address);
    let database = bench.path("brickbook-data").join("brickbook.db");

    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .unwrap();
    let published = Arc::new(AtomicUsize::new(2));
    let done = Arc::new(AtomicBool::new(false));
    let writer = {
        let (published, done) = (published.clone(), done.clone());
        std::thread::spawn(move || {
            let runtime = tokio::runtime::Builder::new_current_thread()
                .enable_all()
                .build()
                .unwrap();
            runtime.block_on(publish(database, published, done))
        })
    };
    runtime.block_on(async {
        let readers: Vec<_> = (0..READERS)
            .map(|number| tokio::spawn(read(base.clone(), number, published.clone())))
            .collect();
        for reader in readers {
            reader.await.unwrap();
        }
    });
    done.store(true, Ordering::SeqCst);
    let writes = writer.join().unwrap();
    assert!(writes > 10, "only {writes} writes while they read");
    println!(
        "{} requests while {writes} revisions were published",
        READERS * ROUNDS
    );

    if let Some(most) = server.most_memory_kb() {
        println!("at most {most} kB of memory were held");
        assert!(most <= MOST_MEMORY_KB, "{most} kB");
    }
    server.tell_to_stop();
    let said = server.ended();
    for never in ["panicked", "ERROR", "WARN"] {
        assert!(!said.contains(never), "{said}");
    }
    bench.assert_sound("brickbook-data");
}

/// Publishes from another process than the server's until the readers are done.
async fn publish(
    database: std::path::PathBuf,
    published: Arc<AtomicUsize>,
    done: Arc<AtomicBool>,
) -> usize {
    let db = Db::open(&database).await.unwrap();
    let method = Method::standard();
    let mut writes = 0;
    while !done.load(Ordering::SeqCst) {
        let number = published.load(Ordering::SeqCst).min(MOST_UNITS - 1);
        let text = sample::record_text("Larkfield", &format!("LF-{number}"), None);
        let (text, target) = if published.load(Ordering::SeqCst) < MOST_UNITS {
            (text, Target::New)
        } else {
            // Another record each time: one that says the same is refused.
            let mut record: serde_json::Value = serde_json::from_str(&text).unwrap();
            record["runs"][0]["no_load"]["power_w"] = (0.03 + writes as f64 * 1e-6).into();
            let slug = format!("larkfield-lf-{number}");
            (record.to_string(), Target::Revise(slug))
        };
        let is_new = matches!(target, Target::New);
        let submission = Submission {
            text: &text,
            target,
            author: "tester",
            reason: if is_new { "" } else { "read off again" },
            now: OffsetDateTime::now_utc(),
        };
        submit(&db, &submission, &method).await.unwrap();
        writes += 1;
        if is_new {
            published.fetch_add(1, Ordering::SeqCst);
        }
    }
    db.close().await;
    writes
}

/// Asks in turn for what readers ask for, and holds every answer against what it says elsewhere.
async fn read(base: String, number: usize, published: Arc<AtomicUsize>) {
    let client = reqwest::Client::new();
    let mut seen = 0;
    for round in 0..ROUNDS {
        let targets = [
            "/",
            "/api/v1/ranking?per_page=200",
            "/unit/larkfield-lf-0",
            "/class/w30",
            "/compare?unit=larkfield-lf-0&unit=larkfield-lf-1",
            "/at?w=20",
            "/table.csv",
            "/feed.atom",
            "/unit/larkfield-lf-1/chart.svg",
            "/use/phone-overnight",
            "/trade-offs?x=no-load&y=score",
            "/api/v1/units/larkfield-lf-0/evaluation",
        ];
        let target = targets[(round + number) % targets.len()];
        let answer = client.get(format!("{base}{target}")).send().await.unwrap();
        assert_eq!(answer.status(), 200, "{target}");
        let text = answer.text().await.unwrap();
        match target {
            "/api/v1/ranking?per_page=200" => {
                let before = published.load(Ordering::SeqCst);
                let ranking: serde_json::Value = serde_json::from_str(&text).unwrap();
                let units = ranking["units"].as_array().unwrap();
                assert_eq!(ranking["total"], units.len(), "as many as it says");
                assert!(units.len() >= seen, "none is lost again");
                assert!(units.len() <= before + 1, "none that was not published");
                seen = units.len();
                // Whatever is listed is there whole.
                let slug = units[(number * 7 + round) % units.len()]["slug"]
                    .as_str()
                    .unwrap();
                for of in ["", "/record.json", "/evaluation.json"] {
                    let address = format!("{base}/unit/{slug}{of}");
                    let answer = client.get(&address).send().await.unwrap();
                    assert_eq!(answer.status(), 200, "{address}");
                }
            }
            "/table.csv" => {
                let mut table = csv::ReaderBuilder::new()
                    .flexible(false)
                    .from_reader(text.as_bytes());
                assert!(table.records().all(|row| row.is_ok()), "{text}");
            }
            "/feed.atom" => assert!(text.trim_end().ends_with("</feed>")),
            "/unit/larkfield-lf-1/chart.svg" => assert!(text.trim_end().ends_with("</svg>")),
            _ if target.starts_with("/api/") => {
                serde_json::from_str::<serde_json::Value>(&text).unwrap();
            }
            _ => assert!(text.trim_end().ends_with("</html>"), "{target}"),
        }
    }
}

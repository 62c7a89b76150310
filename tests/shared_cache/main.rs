//! The site behind Debian's nginx as a shared cache, with the very configuration that the README
//! gives: what readers ask for comes from the cache, what is private never does, and a correction
//! is seen within the time stated.

mod nginx;

use nginx::{Behind, Status};
use reqwest::{Client, redirect};
use serde_json::Value;
use std::time::{Duration, Instant};

/// Reads in the mixed load.
const READS: usize = 6000;

fn reader() -> Client {
    Client::builder()
        .redirect(redirect::Policy::none())
        .gzip(true)
        .brotli(true)
        .build()
        .expect("a client needs nothing")
}

/// What readers follow from the front page: rankings, units, comparisons, pictures, documents.
async fn addresses(client: &Client, behind: &Behind) -> Vec<String> {
    let mut all = vec![
        "/".to_owned(),
        "/?sort=no-load".to_owned(),
        "/?q=larkfield".to_owned(),
        "/method".to_owned(),
        "/regimes".to_owned(),
        "/preview.png".to_owned(),
    ];
    let classes: Value = get(client, behind, "/api/v1/classes").await;
    for class in classes["classes"].as_array().expect("a list") {
        all.push(format!("/class/{}", class["id"].as_str().expect("an id")));
    }
    let units: Value = get(client, behind, "/api/v1/units?per_page=40").await;
    let slugs: Vec<&str> = units["units"]
        .as_array()
        .expect("a list")
        .iter()
        .filter_map(|unit| unit["slug"].as_str())
        .collect();
    assert!(slugs.len() >= 20, "{}", slugs.len());
    for slug in &slugs[..20] {
        all.push(format!("/unit/{slug}"));
    }
    for slug in &slugs[..5] {
        all.push(format!("/unit/{slug}/record.json"));
        all.push(format!("/unit/{slug}/preview.png"));
    }
    for pair in slugs[..10].chunks_exact(2) {
        all.push(format!("/compare?unit={}&unit={}", pair[0], pair[1]));
    }
    all
}

async fn get(client: &Client, behind: &Behind, path: &str) -> Value {
    let answer = client.get(behind.url(path)).send().await.expect(path);
    assert_eq!(answer.status(), 200, "{path}");
    let text = answer.text().await.expect(path);
    serde_json::from_str(&text).expect(path)
}

#[tokio::test]
async fn ninety_nine_of_a_hundred_reads_never_reach_the_program() {
    let behind = Behind::start(60);
    let client = reader();
    let addresses = addresses(&client, &behind).await;
    behind.forget_log();
    // Every reader follows another order; small steps that share no factor with the number of pages.
    let mut tasks = tokio::task::JoinSet::new();
    for reader_number in 0..20 {
        let (client, addresses) = (client.clone(), addresses.clone());
        let base = behind.url("");
        tasks.spawn(async move {
            for i in 0..READS / 20 {
                let path = &addresses[(i * 7 + reader_number * 3) % addresses.len()];
                let answer = client
                    .get(format!("{base}{path}"))
                    .send()
                    .await
                    .expect(path);
                assert_eq!(answer.status(), 200, "{path}");
                assert!(!answer.bytes().await.expect(path).is_empty(), "{path}");
            }
        });
    }
    while let Some(done) = tasks.join_next().await {
        done.expect("no reader failed");
    }
    let log = behind.log(READS);
    let kept = log.iter().filter(|line| line.status == Status::Hit).count();
    println!(
        "{kept} of {} reads of {} addresses came from the cache ({:.2} %)",
        log.len(),
        addresses.len(),
        100.0 * kept as f64 / log.len() as f64
    );
    assert!(kept * 100 >= log.len() * 99, "{kept} of {}", log.len());
}

#[tokio::test]
async fn a_page_of_the_desk_or_of_somebody_signed_in_is_never_kept() {
    let behind = Behind::start(60);
    let operator = Client::builder()
        .cookie_store(true)
        .redirect(redirect::Policy::none())
        .build()
        .expect("a client needs nothing");
    let page = operator
        .get(behind.url("/set-up"))
        .send()
        .await
        .expect("set-up");
    let page = page.text().await.expect("a text");
    let (_, after) = page.split_once("name=\"csrf\" value=\"").expect("a token");
    let (token, _) = after.split_once('"').expect("the token ends");
    let form = [
        ("csrf", token),
        ("secret", behind.secret.as_str()),
        ("name", "Quillemina"),
        ("password", "a long enough passphrase"),
        ("again", "a long enough passphrase"),
    ];
    let made = operator
        .post(behind.url("/set-up"))
        .header("origin", behind.url(""))
        .form(&form)
        .send()
        .await
        .expect("set-up");
    assert_eq!(made.status(), 303, "{}", made.text().await.expect("a text"));
    behind.forget_log();
    let private = [
        "/desk",
        "/desk/tokens",
        "/desk/logs",
        "/",
        "/method",
        "/desk",
    ];
    for path in private {
        let page = operator.get(behind.url(path)).send().await.expect(path);
        assert_eq!(page.status(), 200, "{path}");
        let text = page.text().await.expect(path);
        assert!(text.contains("Desk"), "{path} does not know its operator");
    }
    for line in behind.log(private.len()) {
        assert_ne!(line.status, Status::Hit, "{}", line.path);
    }
    // A stranger after them, at the same addresses.
    let stranger = reader();
    for path in private {
        let page = stranger.get(behind.url(path)).send().await.expect(path);
        let text = page.text().await.expect(path);
        assert!(
            !text.contains("Quillemina") && !text.contains(">Desk<"),
            "{path}"
        );
    }
    let kept = behind.kept_files();
    assert!(!kept.is_empty(), "the public pages are kept");
    for (file, text) in kept {
        assert!(!text.contains("Quillemina"), "{file}");
        assert!(!text.to_lowercase().contains("set-cookie"), "{file}");
    }
}

#[tokio::test]
async fn a_correction_is_seen_within_the_time_stated() {
    const STATED: Duration = Duration::from_secs(2);
    let behind = Behind::start(STATED.as_secs());
    let client = reader();
    let units: Value = get(&client, &behind, "/api/v1/units?per_page=1").await;
    let slug = units["units"][0]["slug"]
        .as_str()
        .expect("a slug")
        .to_owned();
    let path = format!("/unit/{slug}");
    let page = || async {
        let answer = client
            .get(behind.url(&path))
            .send()
            .await
            .expect("the page");
        answer.text().await.expect("a text")
    };
    // Kept by the cache before the correction.
    for _ in 0..3 {
        assert!(!page().await.contains("the range was misread"));
    }
    let mut record: Value = get(&client, &behind, &format!("{path}/record.json")).await;
    record["notes"] = Value::from("Corrected. All of it is invented.");
    behind.correct(&slug, &record.to_string(), "the range was misread");
    let published = Instant::now();
    loop {
        let asked = published.elapsed();
        if page().await.contains("the range was misread") {
            println!("seen {:.1} s after it was published", asked.as_secs_f64());
            break;
        }
        // nginx counts whole seconds, and the program looks for other processes' changes each second.
        assert!(
            asked <= STATED + Duration::from_secs(2),
            "asked {asked:?} after the correction, and the old page came"
        );
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
}

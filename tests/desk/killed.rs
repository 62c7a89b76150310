//! A server that is killed while a tester works: whatever it acknowledged is there afterwards, and
//! nothing is half written.

use crate::browser::form_in;
use rand::{RngExt, SeedableRng, rngs::StdRng};
use std::{
    io::{BufRead, BufReader},
    path::Path,
    process::{Child, Command, Stdio},
    sync::atomic::{AtomicU32, Ordering},
};

const NAME: &str = "Ada";
const PASSWORD: &str = "a rather long password";
const ROUNDS: u32 = 16;

struct Server {
    process: Child,
    base: String,
    secret: Option<String>,
}

impl Server {
    fn start(data: &Path) -> Server {
        let mut process = Command::new(env!("CARGO_BIN_EXE_brickbook"))
            .args(["serve", "--listen", "127.0.0.1:0", "--data-dir"])
            .arg(data)
            .env("BRICKBOOK_LOG", "info")
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program starts");
        let mut lines =
            BufReader::new(process.stderr.take().expect("standard error is ours")).lines();
        let mut secret = None;
        let base = loop {
            let line = lines
                .next()
                .expect("the program says where it serves")
                .expect("its words are UTF-8");
            if let Some((_, rest)) = line.split_once("one-time secret: ") {
                secret = Some(rest.trim().to_owned());
            }
            if let Some((_, rest)) = line.split_once("serving on ") {
                break rest.trim().trim_end_matches('/').to_owned();
            }
        };
        // Somebody has to read on, or the program stops when the pipe is full.
        std::thread::spawn(move || lines.for_each(drop));
        Server {
            process,
            base,
            secret,
        }
    }

    /// SIGKILL: nothing is tidied up.
    fn kill(&mut self) {
        self.process.kill().expect("the process is ours");
        self.process.wait().expect("the process ends");
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

struct Tester {
    client: reqwest::Client,
}

type Fields = Vec<(String, String)>;

fn with(fields: &Fields, changes: &[(&str, &str)]) -> Fields {
    let mut fields = fields.clone();
    for (name, value) in changes {
        fields
            .iter_mut()
            .find(|(known, _)| known == name)
            .expect("the field is on the form")
            .1 = (*value).to_owned();
    }
    fields
}

fn value<'a>(fields: &'a Fields, name: &str) -> &'a str {
    fields
        .iter()
        .find(|(known, _)| known == name)
        .map_or("", |(_, value)| value)
}

impl Tester {
    fn new() -> Tester {
        let client = reqwest::Client::builder()
            .cookie_store(true)
            .redirect(reqwest::redirect::Policy::none())
            // A killed server's connection must not be used for the next one.
            .pool_max_idle_per_host(0)
            .build()
            .expect("a client without TLS can be built");
        Tester { client }
    }

    async fn page(&self, server: &Server, path: &str) -> (u16, String) {
        let answer = self
            .client
            .get(format!("{}{path}", server.base))
            .send()
            .await
            .expect("the server answers");
        (
            answer.status().as_u16(),
            answer.text().await.expect("the page is whole"),
        )
    }

    /// Status and where it leads; `None` if the server went away before it answered.
    async fn send(&self, base: &str, path: &str, fields: &Fields) -> Option<(u16, String)> {
        let answer = self
            .client
            .post(format!("{base}{path}"))
            .form(fields)
            .send()
            .await
            .ok()?;
        let to = answer
            .headers()
            .get("location")
            .map_or(String::new(), |l| l.to_str().unwrap().to_owned());
        let status = answer.status().as_u16();
        answer.bytes().await.ok()?;
        Some((status, to))
    }

    async fn form(&self, server: &Server, page: &str, action: &str) -> Fields {
        let (status, html) = self.page(server, page).await;
        assert_eq!(status, 200, "{page}");
        form_in(&html, action).fields
    }

    async fn new_draft(&self, server: &Server) -> String {
        let begin = self.form(server, "/desk", "/desk/draft").await;
        let (status, to) = self
            .send(&server.base, "/desk/draft", &begin)
            .await
            .expect("the server answers");
        assert_eq!(status, 303);
        to.split('?').next().unwrap().to_owned()
    }
}

/// Lets other tasks run a random number of times: where the kill falls is up to the seed and the
/// machine.
async fn a_moment(random: &mut StdRng) {
    for _ in 0..random.random_range(0..300_000) {
        tokio::task::yield_now().await;
    }
}

/// Becomes the first operator.
async fn set_up(tester: &Tester, server: &Server) {
    let set_up = tester.form(server, "/set-up", "/set-up").await;
    let secret = server
        .secret
        .clone()
        .expect("the first start prints the secret");
    let set_up = with(
        &set_up,
        &[
            ("secret", &secret),
            ("name", NAME),
            ("password", PASSWORD),
            ("again", PASSWORD),
        ],
    );
    assert_eq!(
        tester
            .send(&server.base, "/set-up", &set_up)
            .await
            .expect("the server answers")
            .0,
        303
    );
}

/// A body that begins and then says nothing more.
struct Silent(Option<String>);

impl axum::body::HttpBody for Silent {
    type Data = axum::body::Bytes;
    type Error = std::io::Error;

    fn poll_frame(
        mut self: std::pin::Pin<&mut Self>,
        _: &mut std::task::Context<'_>,
    ) -> std::task::Poll<Option<Result<hyper::body::Frame<Self::Data>, Self::Error>>> {
        match self.0.take() {
            Some(text) => std::task::Poll::Ready(Some(Ok(hyper::body::Frame::data(text.into())))),
            None => std::task::Poll::Pending,
        }
    }
}

/// Names of logs that are still coming in.
fn incoming(data: &Path) -> Vec<String> {
    std::fs::read_dir(data.join("logs"))
        .into_iter()
        .flatten()
        .filter_map(|entry| entry.ok()?.file_name().into_string().ok())
        .filter(|name| name.starts_with("incoming-"))
        .collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_upload_cut_off_by_kill_minus_nine_is_gone_after_the_next_start() {
    let folder = tempfile::tempdir().unwrap();
    let tester = Tester::new();
    let mut server = Server::start(folder.path());
    set_up(&tester, &server).await;
    let csrf = tester.form(&server, "/desk/logs", "/desk/logs").await;
    let part = |name: &str| format!("--b\r\ncontent-disposition: form-data; name=\"{name}\"");
    let rows = "0,0.06\n".repeat(20_000);
    let body = format!(
        "{}\r\n\r\n{}\r\n{}; filename=\"a.csv\"\r\n\r\nTime (s),Power (W)\n{rows}",
        part("csrf"),
        value(&csrf, "csrf"),
        part("log")
    );
    let request = tester
        .client
        .post(format!("{}/desk/logs", server.base))
        .header("content-type", "multipart/form-data; boundary=b")
        .body(reqwest::Body::wrap(Silent(Some(body))));
    let upload = tokio::spawn(request.send());
    let deadline = std::time::Instant::now() + std::time::Duration::from_secs(30);
    while incoming(folder.path()).is_empty() {
        assert!(std::time::Instant::now() < deadline, "nothing comes in");
        tokio::task::yield_now().await;
    }
    server.kill();
    assert!(upload.await.unwrap().is_err(), "nothing was acknowledged");
    assert_eq!(incoming(folder.path()).len(), 1, "killed in the middle");

    let server = Server::start(folder.path());
    assert_eq!(incoming(folder.path()), Vec::<String>::new());
    let tester = Tester::new();
    let door = tester.form(&server, "/sign-in", "/sign-in").await;
    let door = with(&door, &[("name", NAME), ("password", PASSWORD)]);
    assert_eq!(
        tester
            .send(&server.base, "/sign-in", &door)
            .await
            .unwrap()
            .0,
        303
    );
    let (_, list) = tester.page(&server, "/desk/logs").await;
    assert!(list.contains("None yet"));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_was_acknowledged_survives_kill_minus_nine() {
    let folder = tempfile::tempdir().unwrap();
    let mut random = StdRng::seed_from_u64(20_260_901);
    let tester = std::sync::Arc::new(Tester::new());

    let mut server = Server::start(folder.path());
    set_up(&tester, &server).await;
    let mut draft = tester.new_draft(&server).await;
    let mut published: Vec<String> = Vec::new();

    for round in 0..ROUNDS {
        // Saves, each with one number in two fields, until some time after the chosen acknowledgement.
        let page = tester.form(&server, &draft, &draft).await;
        let autosave = format!("{draft}/autosave");
        let save = |number: u32| {
            let count = &(number + 1).to_string();
            let number = format!("{round}-{number}");
            with(
                &page,
                &[
                    ("unit.sample", &number),
                    ("notes", &number),
                    ("editor_save", count),
                ],
            )
        };
        let stop_after = random.random_range(1..8);
        for number in 1..=stop_after {
            let (status, _) = tester
                .send(&server.base, &autosave, &save(number))
                .await
                .expect("nobody kills it yet");
            assert_eq!(status, 200);
        }
        let fields = save(stop_after + 1);
        let in_flight = tokio::spawn({
            let (tester, base, autosave) = (tester.clone(), server.base.clone(), autosave.clone());
            async move { tester.send(&base, &autosave, &fields).await }
        });
        a_moment(&mut random).await;
        server.kill();
        let last_heard = in_flight
            .await
            .unwrap()
            .is_some_and(|(status, _)| status == 200);

        server = Server::start(folder.path());
        assert_eq!(server.secret, None, "there is an operator");
        let found = tester.form(&server, &draft, &draft).await;
        let sample = value(&found, "unit.sample").to_owned();
        assert_eq!(sample, value(&found, "notes"), "half of a save is there");
        let number: u32 = sample
            .strip_prefix(&format!("{round}-"))
            .expect("a save of this round")
            .parse()
            .unwrap();
        let least = if last_heard {
            stop_after + 1
        } else {
            stop_after
        };
        assert!(
            number >= least,
            "save {least} was acknowledged, {number} is there"
        );

        // Publish, and kill at some moment around it.
        let model = format!("LF-{round}");
        let ready = with(
            &found,
            &[
                ("unit.maker", "Larkfield"),
                ("unit.model", &model),
                ("unit.sample", ""),
                ("unit.nameplate.output_power_w", "20"),
            ],
        );
        assert_eq!(
            tester
                .send(&server.base, &draft, &ready)
                .await
                .expect("nobody kills it yet")
                .0,
            303
        );
        let publish = format!("{draft}/publish");
        let confirm = tester.form(&server, &publish, &publish).await;
        let in_flight = tokio::spawn({
            let (tester, base, publish) = (tester.clone(), server.base.clone(), publish.clone());
            async move { tester.send(&base, &publish, &confirm).await }
        });
        if random.random_bool(0.5) {
            a_moment(&mut random).await;
            server.kill();
        }
        let heard = in_flight.await.unwrap();
        server.kill();

        server = Server::start(folder.path());
        let unit = format!("/unit/larkfield-lf-{round}");
        let is_public = tester.page(&server, &unit).await.0 == 200;
        let is_draft = tester.page(&server, &draft).await.0 == 200;
        assert_ne!(
            is_public, is_draft,
            "round {round}: either a draft or published, never both or neither"
        );
        if let Some((status, to)) = heard {
            assert_eq!((status, to.as_str()), (303, unit.as_str()));
            assert!(is_public, "round {round}: the publication was acknowledged");
        }
        if !is_public {
            let confirm = tester.form(&server, &publish, &publish).await;
            assert_eq!(
                tester.send(&server.base, &publish, &confirm).await,
                Some((303, unit.clone()))
            );
        }
        published.push(unit);
        for unit in &published {
            assert_eq!(tester.page(&server, unit).await.0, 200, "{unit}");
        }
        let (status, evaluation) = tester
            .page(&server, &format!("{}/evaluation.json", published[0]))
            .await;
        assert_eq!(status, 200);
        serde_json::from_str::<serde_json::Value>(&evaluation).expect("a whole document");
        draft = tester.new_draft(&server).await;
    }
    server.kill();
}

/// So many kills, each in the midst of several writers.
const KILLS: u32 = 200;

/// Acknowledgements that one writer has heard.
type Count = std::sync::Arc<AtomicU32>;

/// Waits until so many were heard, or until the writer gave up.
async fn heard_so_many(count: &Count, least: u32, gave_up: impl Fn() -> bool) {
    while count.load(Ordering::SeqCst) < least && !gave_up() {
        tokio::time::sleep(std::time::Duration::from_millis(1)).await;
    }
}

/// What three writers heard back in one round.
#[derive(Default)]
struct Heard {
    /// The last save of the draft.
    saved: Option<u32>,
    candidates: Vec<String>,
    units: Vec<String>,
}

/// Saves the draft again and again until the server is gone; the last save that it acknowledged.
async fn keep_saving(
    tester: std::sync::Arc<Tester>,
    base: String,
    draft: String,
    page: Fields,
    round: u32,
) -> Option<u32> {
    let autosave = format!("{draft}/autosave");
    let mut last = None;
    for number in 1.. {
        let text = format!("{round}-{number}");
        let count = number.to_string();
        let fields = [
            ("unit.sample", text.as_str()),
            ("notes", &text),
            ("editor_save", &count),
        ];
        match tester.send(&base, &autosave, &with(&page, &fields)).await {
            Some((200, _)) => last = Some(number),
            Some(other) => panic!("{other:?}"),
            None => break,
        }
    }
    last
}

/// Adds to the queue until the server is gone; the models that it acknowledged.
async fn keep_queueing(
    tester: std::sync::Arc<Tester>,
    base: String,
    csrf: String,
    round: u32,
    count: Count,
) -> Vec<String> {
    let mut heard = Vec::new();
    for number in 1.. {
        let model = format!("Q{round}X{number}");
        let fields = [
            ("csrf", csrf.as_str()),
            ("maker", "Fernhill"),
            ("model", &model),
            ("action", "add-anyway"),
        ];
        let fields = fields.map(|(name, value)| (name.to_owned(), value.to_owned()));
        match tester.send(&base, "/desk/queue", &fields.to_vec()).await {
            Some((303, _)) => {
                heard.push(model);
                count.fetch_add(1, Ordering::SeqCst);
            }
            Some(other) => panic!("{other:?}"),
            None => break,
        }
    }
    heard
}

/// `brickbook add` of many records beside the server: its process, and what it acknowledged once
/// that has ended.
fn keep_adding(
    data: &Path,
    round: u32,
    count: Count,
) -> (Child, std::thread::JoinHandle<Vec<String>>) {
    let records = data.join("records.jsonl");
    let lines: Vec<String> = (0..40)
        .map(|number| {
            serde_json::json!({
                "format": "brickbook-record/1",
                "unit": {"maker": "Larkfield", "model": format!("K{round}X{number}"),
                         "nameplate": {"output_power_w": 30}}
            })
            .to_string()
        })
        .collect();
    std::fs::write(&records, lines.join("\n")).unwrap();
    let mut process = Command::new(env!("CARGO_BIN_EXE_brickbook"))
        .args(["add", "--data-dir"])
        .arg(data)
        .arg(&records)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("the program starts");
    let out = BufReader::new(process.stdout.take().expect("standard output is ours"));
    let heard = std::thread::spawn(move || {
        out.split(b'\n')
            .map_while(Result::ok)
            .filter_map(|line| {
                let line = String::from_utf8(line).ok()?;
                let slug = line
                    .split_whitespace()
                    .find(|word| word.starts_with("larkfield-"))?;
                // What was cut off is no acknowledgement.
                line.contains("revision 1").then(|| slug.to_owned())
            })
            .inspect(|_| {
                count.fetch_add(1, Ordering::SeqCst);
            })
            .collect()
    });
    (process, heard)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn two_hundred_kills_under_concurrent_writers_lose_nothing_that_was_acknowledged() {
    let seed: u64 = std::env::var("BRICKBOOK_TEST_SEED")
        .ok()
        .and_then(|seed| seed.parse().ok())
        .unwrap_or_else(rand::random);
    println!("BRICKBOOK_TEST_SEED={seed}");
    let mut random = StdRng::seed_from_u64(seed);
    let folder = tempfile::tempdir().unwrap();
    let tester = std::sync::Arc::new(Tester::new());
    let mut server = Server::start(folder.path());
    set_up(&tester, &server).await;
    let draft = tester.new_draft(&server).await;
    let queue = tester.form(&server, "/desk/queue", "/desk/queue").await;
    let csrf = value(&queue, "csrf").to_owned();
    let mut expected = Heard::default();
    let mut last_saved = String::new();

    for round in 0..KILLS {
        let page = tester.form(&server, &draft, &draft).await;
        let saving = tokio::spawn(keep_saving(
            tester.clone(),
            server.base.clone(),
            draft.clone(),
            page,
            round,
        ));
        let (queued, added) = (Count::default(), Count::default());
        let queueing = tokio::spawn(keep_queueing(
            tester.clone(),
            server.base.clone(),
            csrf.clone(),
            round,
            queued.clone(),
        ));
        // The other process writes every few rounds, so that both kinds of rounds are met.
        let adding = (round % 4 == 0).then(|| keep_adding(folder.path(), round, added.clone()));
        // How much is under way at the kill must not depend on how quick the machine is: so many
        // acknowledgements, none in some rounds, and then a moment.
        heard_so_many(&queued, random.random_range(0..5), || {
            queueing.is_finished()
        })
        .await;
        // It commits many at once: in half of its rounds the kill falls before the first are told.
        let mut moment = 30;
        if let Some((_, heard)) = &adding {
            if random.random_bool(0.5) {
                heard_so_many(&added, 1, || heard.is_finished()).await;
            } else {
                moment = 200;
            }
        }
        let moment = random.random_range(0..moment);
        tokio::time::sleep(std::time::Duration::from_millis(moment)).await;
        server.kill();
        if let Some((mut process, heard)) = adding {
            process.kill().expect("the process is ours");
            process.wait().expect("the process ends");
            expected.units.extend(heard.join().unwrap());
        }
        if let Some(number) = saving.await.unwrap() {
            expected.saved = Some(number);
            last_saved = format!("{round}-");
        } else {
            expected.saved = None;
        }
        expected.candidates.extend(queueing.await.unwrap());

        // Before the next start: what a reader finds in the files as they were left.
        let found = stored(folder.path()).await;
        let lost: Vec<_> = expected
            .candidates
            .iter()
            .filter(|model| !found.candidates.contains(*model))
            .chain(
                expected
                    .units
                    .iter()
                    .filter(|slug| !found.units.contains(*slug)),
            )
            .collect();
        assert!(
            lost.is_empty(),
            "round {round}: {lost:?} were acknowledged and are gone"
        );
        if let Some(least) = expected.saved {
            let sample = &found.sample;
            assert_eq!(
                sample, &found.notes,
                "round {round}: half of a save is there"
            );
            let number = sample
                .strip_prefix(&last_saved)
                .map(|n| n.parse::<u32>().unwrap());
            assert!(
                number >= Some(least),
                "round {round}: save {least} of {sample} is gone"
            );
        }
        if round % 20 == 19 || round + 1 == KILLS {
            let checked = Command::new(env!("CARGO_BIN_EXE_brickbook"))
                .args(["check", "--data-dir"])
                .arg(folder.path())
                .output()
                .unwrap();
            assert!(checked.status.success(), "round {round}: {checked:?}");
        }
        server = Server::start(folder.path());
    }
    println!(
        "{KILLS} kills, {} candidates and {} units acknowledged, none lost",
        expected.candidates.len(),
        expected.units.len()
    );
    assert!(expected.candidates.len() > 100 && expected.units.len() > 100);
    server.kill();
}

struct Stored {
    sample: String,
    notes: String,
    candidates: std::collections::BTreeSet<String>,
    units: std::collections::BTreeSet<String>,
}

/// Reads the database as it lies there, write-ahead log and all.
async fn stored(data: &Path) -> Stored {
    let options = sqlx::sqlite::SqliteConnectOptions::new()
        .filename(data.join("brickbook.db"))
        .read_only(true);
    let mut connection = sqlx::ConnectOptions::connect(&options).await.unwrap();
    let (sample, notes): (Option<String>, Option<String>) =
        sqlx::query_as("SELECT fields ->> '$.\"unit.sample\"', fields ->> '$.notes' FROM draft")
            .fetch_one(&mut connection)
            .await
            .unwrap();
    let candidates: Vec<String> = sqlx::query_scalar("SELECT model FROM candidate")
        .fetch_all(&mut connection)
        .await
        .unwrap();
    let units: Vec<String> = sqlx::query_scalar("SELECT slug FROM unit")
        .fetch_all(&mut connection)
        .await
        .unwrap();
    sqlx::Connection::close(connection).await.unwrap();
    Stored {
        sample: sample.unwrap_or_default(),
        notes: notes.unwrap_or_default(),
        candidates: candidates.into_iter().collect(),
        units: units.into_iter().collect(),
    }
}

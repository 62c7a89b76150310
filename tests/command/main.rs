//! The program as it is called: exit codes, what stands on which output, files in and out, and
//! what is left when it is killed.

mod accounts;
mod adding;
mod backing_up;
mod calling;
mod checking;
mod crowd;
mod deploying;
mod doctor;
mod evaluating;
mod exporting;
mod faults;
mod importing;
mod killing;
mod licences;
mod logs;
mod odd_addresses;
mod photos;
mod publishing;
mod reporting;
#[path = "../storage/sample.rs"]
mod sample;
mod serving;

use std::io::{BufRead, BufReader, Read};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use tempfile::TempDir;

/// A folder in which the program is called, with nothing of our own environment.
struct Bench {
    folder: TempDir,
}

/// What a call left.
#[derive(Debug)]
struct Answer {
    code: Option<i32>,
    out: String,
    err: String,
}

impl Bench {
    /// Writes everything that a data folder holds into another one, in the open format.
    fn export_everything(&self, data_dir: &str, folder: &str) {
        let all = [
            "export",
            "--everything",
            "-o",
            folder,
            "--data-dir",
            data_dir,
        ];
        self.call(&all).succeeds();
    }

    fn new() -> Bench {
        Bench {
            folder: tempfile::tempdir().unwrap(),
        }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn write(&self, name: &str, text: &str) -> &Bench {
        std::fs::write(self.path(name), text).unwrap();
        self
    }

    fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.path(name)).unwrap()
    }

    /// A call that is not made yet.
    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_brickbook"));
        for (name, _) in std::env::vars().filter(|(name, _)| name.starts_with("BRICKBOOK_")) {
            command.env_remove(name);
        }
        command
            .args(arguments)
            .current_dir(self.folder.path())
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        command
    }

    fn call(&self, arguments: &[&str]) -> Answer {
        Answer::of(self.command(arguments).output().unwrap())
    }

    /// A call with text on standard input.
    fn call_with(&self, arguments: &[&str], input: &str) -> Answer {
        use std::io::Write;
        let mut child = self
            .command(arguments)
            .stdin(Stdio::piped())
            .spawn()
            .unwrap();
        // A program that refuses its arguments does not read: a closed pipe is its answer.
        let _ = child.stdin.take().unwrap().write_all(input.as_bytes());
        Answer::of(child.wait_with_output().unwrap())
    }

    /// One number out of the database of a data directory.
    fn number(&self, data_dir: &str, sql: &str) -> i64 {
        self.texts(data_dir, sql)[0].parse().unwrap()
    }

    /// The first column of a query as text.
    fn texts(&self, data_dir: &str, sql: &str) -> Vec<String> {
        use sqlx::Row;
        let path = self.path(data_dir).join("brickbook.db");
        let sql = sqlx::AssertSqlSafe(sql.to_string());
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .unwrap();
        runtime.block_on(async move {
            let options = sqlx::sqlite::SqliteConnectOptions::new().filename(path);
            let pool = sqlx::SqlitePool::connect_with(options).await.unwrap();
            let rows = sqlx::query(sql).fetch_all(&pool).await.unwrap();
            pool.close().await;
            rows.iter()
                .map(|row| match row.try_get::<i64, _>(0) {
                    Ok(number) => number.to_string(),
                    Err(_) => row.get::<String, _>(0),
                })
                .collect()
        })
    }

    /// The file is sound, every reference leads somewhere, and no unit is half there.
    fn assert_sound(&self, data_dir: &str) {
        let check = "SELECT integrity_check FROM pragma_integrity_check";
        assert_eq!(self.texts(data_dir, check), ["ok"]);
        assert_eq!(
            self.number(data_dir, "SELECT count(*) FROM pragma_foreign_key_check"),
            0
        );
        let half = "SELECT count(*) FROM unit
                    LEFT JOIN ranking ON ranking.unit_id = unit.id
                    LEFT JOIN revision ON revision.id = ranking.revision_id AND revision.unit_id = unit.id
                    LEFT JOIN evaluation ON evaluation.id = ranking.evaluation_id
                                        AND evaluation.revision_id = revision.id
                    WHERE evaluation.id IS NULL";
        assert_eq!(
            self.number(data_dir, half),
            0,
            "units without revision, evaluation or row"
        );
    }
}

impl Answer {
    fn of(output: Output) -> Answer {
        Answer {
            code: output.status.code(),
            out: String::from_utf8(output.stdout).unwrap(),
            err: String::from_utf8(output.stderr).unwrap(),
        }
    }

    #[track_caller]
    fn succeeds(self) -> Answer {
        assert_eq!(self.code, Some(0), "{self:#?}");
        self
    }

    #[track_caller]
    fn fails_with(self, code: i32) -> Answer {
        assert_eq!(self.code, Some(code), "{self:#?}");
        self
    }
}

/// One of everything that a database can hold: accounts, revised units with a photo and a raw log,
/// a draft, candidates, suggestions, a saved layout. Made once and copied.
fn whole() -> Bench {
    static MADE: std::sync::LazyLock<Bench> = std::sync::LazyLock::new(make_whole);
    let bench = Bench::new();
    for (name, bytes) in contents(MADE.folder.path()) {
        let path = bench.path(&name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, bytes).unwrap();
    }
    bench
}

fn make_whole() -> Bench {
    let bench = Bench::new();
    bench
        .call_with(
            &["user", "add", "Ada", "--password-stdin"],
            "correct horse battery\n",
        )
        .succeeds();
    bench.write("noload.csv", &logs::log(1800));
    let entry = bench
        .call(&["import-log", "--json", "noload.csv"])
        .succeeds();
    let entry: serde_json::Value = serde_json::from_str(&entry.out).unwrap();
    let jpeg = photos::picture(90);
    std::fs::create_dir(bench.path("photos")).unwrap();
    std::fs::write(bench.path("photos/front.jpg"), &jpeg).unwrap();
    let mut record = sample::record("Larkfield", "LF-30W", None);
    record["logs"] = serde_json::json!([entry]);
    record["instruments"] = serde_json::json!([{
        "quantity": "no_load_power_w", "reading_percent": 0.1, "range_percent": 0.1, "range": 3, "fixed": 0
    }]);
    record["runs"][0]["no_load"] = serde_json::json!({"log": "noload.csv"});
    record["photos"] = serde_json::json!([{
        "sha256": brickbook::photo::sha256(&jpeg), "width_px": 90, "height_px": 60
    }]);
    let text = serde_json::to_string_pretty(&record).unwrap();
    bench.write("first.json", &text);
    bench.write("second.json", &text.replace("115.1", "115.2"));
    bench.write("lines.jsonl", &many_records(2));
    let add = ["add", "--author", "Ada \"A\"", "first.json", "lines.jsonl"];
    bench.call(&add).succeeds();
    let revise = [
        "add",
        "--revise",
        "larkfield-lf-30w",
        "--reason",
        "typing error\nin run 1",
        "second.json",
    ];
    bench.call(&revise).succeeds();
    for sql in [
        "INSERT INTO draft (id, operator_id, unit_id, fields, editor, editor_save, created_at, updated_at)
         SELECT 7, id, 1, '{\"unit.maker\":\"Größe\",\"notes\":\"a\\nb\"}', '', 0,
                '2026-09-01T10:00:00.000Z', '2026-09-01T11:00:00.000Z' FROM operator",
        "INSERT INTO candidate (id, uid, maker, model, state, place, link, price_amount, price_currency,
                                planned_on, public, note, label, draft_id, unit_id, sequence, created_at, updated_at)
         VALUES (3, '0123456789abcdef-a', 'Fernhill', 'FH-65', 'on-the-bench', 2, 'https://shop.example/65',
                 '59.00', 'EUR', '2026-12-24', 1, 'quiet?', '{\"unit.maker\":\"Fernhill\"}', 7, NULL, 4,
                 '2026-09-01T10:00:00.000Z', '2026-09-02T10:00:00.000Z'),
                (9, '0123456789abcdef-b', 'Larkfield', 'LF-30W', 'published', 1, NULL, NULL, NULL, NULL, 0,
                 '', '{}', NULL, 1, 0, '2026-09-01T10:00:00.000Z', '2026-09-02T10:00:00.000Z')",
        "INSERT INTO candidate_step (candidate_id, state, author, created_at)
         VALUES (3, 'wanted', 'Ada', '2026-09-01T10:00:00.000Z'),
                (3, 'on-the-bench', 'Ada', '2026-09-02T10:00:00.000Z')",
        "INSERT INTO suggestion (id, maker, model, link, why, times, state, candidate_id, created_at, decided_at)
         VALUES (2, 'Fernhill', 'FH-65', NULL, 'it hums', 3, 'accepted', 3, '2026-08-01T10:00:00.000Z',
                 '2026-09-01T10:00:00.000Z'),
                (5, 'Tessawick', 'TW-1', 'https://shop.example', '', 1, 'new', NULL, '2026-08-02T10:00:00.000Z', NULL)",
        "INSERT INTO log_layout (name, layout, headings, updated_at)
         SELECT 'my meter', layout, '[\"Time [s]\"]', '2026-09-01T10:00:00.000Z' FROM log_file",
        "UPDATE photo SET operator_id = (SELECT id FROM operator)",
    ] {
        bench.texts("brickbook-data", sql);
    }
    bench
}

/// Every file below a folder, by its path there.
fn contents(folder: &Path) -> std::collections::BTreeMap<String, Vec<u8>> {
    let mut found = std::collections::BTreeMap::new();
    let mut folders = vec![folder.to_path_buf()];
    while let Some(next) = folders.pop() {
        for entry in std::fs::read_dir(next).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let name = path.strip_prefix(folder).unwrap().display().to_string();
                found.insert(name, std::fs::read(&path).unwrap());
            }
        }
    }
    found
}

/// JSON lines of that many invented units.
fn many_records(count: usize) -> String {
    (0..count)
        .map(|number| sample::record("Larkfield", &format!("LF-{number}"), None).to_string() + "\n")
        .collect()
}

fn files_in(folder: &Path) -> Vec<String> {
    let mut names: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

/// A server that runs until it has been told to stop, or until this value is gone.
struct Running {
    child: std::process::Child,
    log: BufReader<std::process::ChildStderr>,
    /// What it has said so far.
    said: String,
    /// How much of it [`Running::until`] has looked at, bytes.
    looked_at: usize,
    /// Where it serves.
    address: String,
}

impl Running {
    fn start(bench: &Bench, arguments: &[&str]) -> Running {
        Running::of(bench.command(&[&["serve", "--listen", "127.0.0.1:0"], arguments].concat()))
    }

    /// A call of `serve`, however it is made.
    fn of(mut command: Command) -> Running {
        let mut child = command
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut log = BufReader::new(child.stderr.take().unwrap());
        let mut said = String::new();
        let address = loop {
            let mut line = String::new();
            assert!(log.read_line(&mut line).unwrap() > 0, "{said}");
            said += &line;
            if let Some((_, address)) = line.split_once("serving on http://") {
                break address
                    .chars()
                    .take_while(|c| !"/\"".contains(*c))
                    .collect();
            }
        };
        Running {
            child,
            log,
            said,
            looked_at: 0,
            address,
        }
    }

    /// The next line of its log that holds these words.
    fn until(&mut self, words: &str) -> String {
        loop {
            if self.looked_at == self.said.len() {
                let read = self.log.read_line(&mut self.said).unwrap();
                assert!(read > 0, "it ended before it said {words:?}: {}", self.said);
            }
            let rest = &self.said[self.looked_at..];
            let line = rest.split_inclusive('\n').next().unwrap_or(rest);
            self.looked_at += line.len();
            if line.contains(words) {
                return line.trim_end().to_owned();
            }
        }
    }

    /// SIGTERM, and what it said that was not looked at yet.
    fn stop(self) -> String {
        self.tell_to_stop();
        let looked_at = self.looked_at;
        self.ended().split_off(looked_at)
    }

    /// SIGKILL: nothing is tidied up.
    fn kill(&mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }

    fn tell_to_stop(&self) {
        let pid = self.child.id().to_string();
        assert!(Command::new("kill").arg(pid).status().unwrap().success());
    }

    /// The most memory that it has held in RAM so far (`VmHWM` of proc(5)); none where that is not
    /// told.
    fn most_memory_kb(&self) -> Option<u64> {
        let path = format!("/proc/{}/status", self.child.id());
        let status = std::fs::read_to_string(path).ok()?;
        let line = status
            .lines()
            .find_map(|line| line.strip_prefix("VmHWM:"))?;
        line.trim().strip_suffix(" kB")?.parse().ok()
    }

    /// What it said until it ended well.
    fn ended(mut self) -> String {
        self.log.read_to_string(&mut self.said).unwrap();
        let status = self.child.wait().unwrap();
        assert!(status.success(), "{status}: {}", self.said);
        std::mem::take(&mut self.said)
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

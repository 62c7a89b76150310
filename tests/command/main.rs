//! The program as it is called: exit codes, what stands on which output, files in and out, and
//! what is left when it is killed.

mod accounts;
mod adding;
mod calling;
mod crowd;
mod deploying;
mod doctor;
mod evaluating;
mod exporting;
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

/// A server that runs until it has been told to stop; its log is read to the end.
struct Running {
    child: std::process::Child,
    log: BufReader<std::process::ChildStderr>,
    /// What it has said so far.
    said: String,
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
            address,
        }
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
        self.said
    }
}

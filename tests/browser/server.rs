//! The real binary, serving on a free port with a folder of its own.

use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

pub struct Server {
    /// `http://host:port`
    pub base: String,
    /// The one-time secret of `/set-up`, where there is no operator yet.
    pub secret: Option<String>,
    process: Child,
    folder: tempfile::TempDir,
}

impl Server {
    /// With an empty database.
    pub fn start() -> Server {
        Server::start_with(&[])
    }

    /// With the invented units.
    pub fn demo() -> Server {
        Server::start_with(&["--demo"])
    }

    /// With these records of `seed-data/`.
    pub fn with_records(files: &[PathBuf]) -> Server {
        let folder = tempfile::tempdir().expect("a temporary directory");
        let mut add = program(folder.path());
        add.arg("add").arg("--data-dir").arg(folder.path());
        let added = add.args(files).stdout(Stdio::null()).status();
        assert!(added.expect("the program starts").success());
        let (process, base, secret) = serve(folder.path(), "127.0.0.1:0", &[]);
        Server {
            base,
            secret,
            process,
            folder,
        }
    }

    /// Writes the public site as files.
    pub fn publish_site(&self, to: &Path) {
        let written = program(self.folder.path())
            .args(["publish-site", "--public-url", "https://bricks.example"])
            .arg("--data-dir")
            .arg(self.folder.path())
            .arg(to)
            .stdout(Stdio::null())
            .status();
        assert!(written.expect("the program starts").success());
    }

    fn start_with(flags: &[&str]) -> Server {
        let folder = tempfile::tempdir().expect("a temporary directory");
        let (process, base, secret) = serve(folder.path(), "127.0.0.1:0", flags);
        Server {
            base,
            secret,
            process,
            folder,
        }
    }

    /// Ends the program as a power cut would, and starts it again at the same address.
    pub fn kill_and_start_again(&mut self) {
        self.process.kill().expect("the program was running");
        self.process.wait().expect("it has ended");
        let address = self.base.trim_start_matches("http://").to_owned();
        let (process, base, _) = serve(self.folder.path(), &address, &[]);
        assert_eq!(base, self.base);
        self.process = process;
    }

    /// By a name instead of a number from now on: browsers bind nothing to numbers.
    pub fn at_localhost(mut self) -> Server {
        self.base = self.base.replace("127.0.0.1", "localhost");
        self
    }

    /// An address of the site.
    pub fn url(&self, path: &str) -> String {
        format!("{}{path}", self.base)
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// The program, to be called in a folder.
fn program(folder: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_brickbook"));
    // Settings of the person who runs the tests stay out of them.
    for (name, _) in std::env::vars().filter(|(name, _)| name.starts_with("BRICKBOOK_")) {
        command.env_remove(name);
    }
    command.current_dir(folder);
    command
}

/// Starts the program and waits until it serves: the process, its address, its one-time secret.
fn serve(folder: &Path, listen: &str, flags: &[&str]) -> (Child, String, Option<String>) {
    let mut process = program(folder)
        .args(["serve", "--listen", listen, "--data-dir"])
        .arg(folder)
        .args(flags)
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    let log = process.stderr.take().expect("the log was asked for");
    let mut lines = BufReader::new(log).lines();
    let (mut told, mut secret) = (String::new(), None);
    for line in lines.by_ref().map_while(Result::ok) {
        if let Some((_, after)) = line.split_once("one-time secret: ") {
            secret = Some(after.trim().to_owned());
        }
        if let Some((_, address)) = line.split_once("serving on ") {
            let base = address.trim().trim_end_matches('/').to_owned();
            // Nobody reads the rest, but a full pipe would stop the program.
            std::thread::spawn(move || lines.for_each(drop));
            return (process, base, secret);
        }
        told.push_str(&line);
        told.push('\n');
    }
    let ended = process.wait();
    panic!("the program does not serve ({ended:?}):\n{told}");
}

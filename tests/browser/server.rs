//! The real binary, serving on a free port with a folder of its own.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};

pub struct Server {
    /// `http://host:port`
    pub base: String,
    /// The one-time secret of `/set-up`, where there is no operator yet.
    pub secret: Option<String>,
    process: Child,
    _folder: tempfile::TempDir,
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

    fn start_with(flags: &[&str]) -> Server {
        let folder = tempfile::tempdir().expect("a temporary directory");
        let mut process = brickbook(folder.path())
            .arg("serve")
            .args(["--listen", "127.0.0.1:0"])
            .args(flags)
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program starts");
        let log = process.stderr.take().expect("the log was asked for");
        let mut lines = BufReader::new(log).lines();
        let (mut told, mut base, mut secret) = (String::new(), None, None);
        for line in lines.by_ref().map_while(Result::ok) {
            if let Some((_, after)) = line.split_once("secret: ") {
                secret = Some(after.trim().to_owned());
            }
            if let Some((_, address)) = line.split_once("serving on ") {
                base = Some(address.trim().trim_end_matches('/').to_owned());
                break;
            }
            told.push_str(&line);
            told.push('\n');
        }
        // Nobody reads the rest, but a full pipe would stop the program.
        std::thread::spawn(move || lines.for_each(drop));
        Server {
            base: base.unwrap_or_else(|| panic!("the program does not serve:\n{told}")),
            secret,
            process,
            _folder: folder,
        }
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

fn brickbook(folder: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_brickbook"));
    command.args(["--data-dir", &folder.display().to_string()]);
    // Settings of the person who runs the tests stay out of them.
    for (name, _) in std::env::vars().filter(|(name, _)| name.starts_with("BRICKBOOK_")) {
        command.env_remove(name);
    }
    command.current_dir(folder);
    command
}

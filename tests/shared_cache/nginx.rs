//! The program with invented data, and nginx before it as the README configures it.

use std::io::{BufRead, BufReader};
use std::net::TcpListener;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

pub struct Behind {
    /// The one-time secret of `/set-up`.
    pub secret: String,
    base: String,
    program: Child,
    nginx: Child,
    folder: tempfile::TempDir,
}

/// What nginx says of where an answer came from.
#[derive(Debug, PartialEq, Eq)]
pub enum Status {
    Hit,
    /// Not from the cache, or not without asking.
    Asked(String),
}

pub struct Line {
    pub status: Status,
    pub path: String,
}

impl Behind {
    /// Waits until both answer. `shared_cache_s` is the program's setting.
    pub fn start(shared_cache_s: u64) -> Behind {
        let folder = tempfile::tempdir().expect("a temporary directory");
        let port = TcpListener::bind("127.0.0.1:0")
            .and_then(|listener| listener.local_addr())
            .expect("a free port")
            .port();
        let base = format!("http://127.0.0.1:{port}");
        let (program, upstream, secret) = serve(folder.path(), &base, shared_cache_s);
        let configuration = configuration(folder.path(), &upstream, port);
        let file = folder.path().join("nginx.conf");
        std::fs::write(&file, configuration).expect("the folder takes a file");
        let nginx = Command::new("nginx")
            .arg("-c")
            .arg(&file)
            .arg("-p")
            .arg(folder.path())
            .args(["-e", "stderr"])
            .stdout(Stdio::null())
            .spawn()
            .expect("nginx is installed (Debian: nginx-light)");
        let began = Instant::now();
        while std::net::TcpStream::connect(("127.0.0.1", port)).is_err() {
            assert!(
                began.elapsed() < Duration::from_secs(30),
                "nginx does not answer"
            );
            std::thread::sleep(Duration::from_millis(20));
        }
        Behind {
            secret,
            base,
            program,
            nginx,
            folder,
        }
    }

    /// An address as readers see it: nginx's.
    pub fn url(&self, path: &str) -> String {
        format!("{}{path}", self.base)
    }

    fn log_file(&self) -> std::path::PathBuf {
        self.folder.path().join("access.log")
    }

    /// Begins the access log anew.
    pub fn forget_log(&self) {
        std::fs::File::create(self.log_file()).expect("the log can be emptied");
    }

    /// Lines of the access log since it was begun, once there are `expected` of them.
    pub fn log(&self, expected: usize) -> Vec<Line> {
        let began = Instant::now();
        loop {
            let text = std::fs::read_to_string(self.log_file()).expect("a log");
            if text.lines().count() >= expected {
                return text.lines().map(line).collect();
            }
            assert!(
                began.elapsed() < Duration::from_secs(30),
                "lines are missing:\n{text}"
            );
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    /// Everything the cache holds on the disk.
    pub fn kept_files(&self) -> Vec<(String, String)> {
        let mut found = Vec::new();
        let mut folders = vec![self.folder.path().join("cache")];
        while let Some(folder) = folders.pop() {
            for entry in std::fs::read_dir(&folder).expect("the cache's folder") {
                let path = entry.expect("an entry").path();
                if path.is_dir() {
                    folders.push(path);
                } else {
                    let bytes = std::fs::read(&path).expect("a kept page");
                    found.push((
                        path.display().to_string(),
                        String::from_utf8_lossy(&bytes).into_owned(),
                    ));
                }
            }
        }
        found
    }

    /// Publishes this record as a correction of the unit, from another process.
    pub fn correct(&self, slug: &str, record: &str, reason: &str) {
        let file = self.folder.path().join("correction.json");
        std::fs::write(&file, record).expect("the folder takes a file");
        let out = Command::new(env!("CARGO_BIN_EXE_brickbook"))
            .args(["add", "--revise", slug, "--reason", reason])
            .arg(&file)
            .arg("--data-dir")
            .arg(self.folder.path())
            .output()
            .expect("the program starts");
        let said = String::from_utf8_lossy(&out.stderr);
        assert!(out.status.success(), "{said}");
    }
}

impl Drop for Behind {
    fn drop(&mut self) {
        for process in [&mut self.nginx, &mut self.program] {
            let _ = process.kill();
            let _ = process.wait();
        }
    }
}

fn line(text: &str) -> Line {
    let (status, path) = text.split_once(' ').expect("status and path");
    Line {
        status: match status {
            "HIT" => Status::Hit,
            other => Status::Asked(other.to_owned()),
        },
        path: path.to_owned(),
    }
}

/// The README's configuration with this test's addresses, in the frame that a process of its own
/// needs where nobody is root.
fn configuration(folder: &Path, upstream: &str, port: u16) -> String {
    let readme = include_str!("../../README.md");
    let (_, after) = readme
        .split_once("```nginx\n")
        .expect("the README configures nginx");
    let (given, _) = after.split_once("```").expect("the block ends");
    let mut own = given.to_owned();
    let folder = folder.display();
    for (theirs, ours) in [
        ("/var/cache/nginx/brickbook", format!("{folder}/cache")),
        ("listen 443 ssl;", format!("listen 127.0.0.1:{port};")),
        ("http://127.0.0.1:8080", upstream.to_owned()),
        ("proxy_set_header X-Forwarded-Proto https;", String::new()),
    ] {
        assert!(own.contains(theirs), "the README no longer says {theirs}");
        own = own.replace(theirs, &ours);
    }
    // Certificates are the reader's own.
    let own: String = own
        .lines()
        .filter(|line| !line.trim_start().starts_with("ssl_certificate"))
        .map(|line| format!("    {line}\n"))
        .collect();
    format!(
        "daemon off;\nmaster_process off;\npid {folder}/nginx.pid;\nevents {{}}\nhttp {{\n    \
         log_format test '$upstream_cache_status $request_uri';\n    access_log {folder}/access.log test;\n    \
         client_body_temp_path {folder}/body;\n    proxy_temp_path {folder}/proxy;\n    \
         fastcgi_temp_path {folder}/fastcgi;\n    uwsgi_temp_path {folder}/uwsgi;\n    \
         scgi_temp_path {folder}/scgi;\n{own}}}\n"
    )
}

/// Starts the program with invented data: the process, its address, its one-time secret.
fn serve(folder: &Path, public_url: &str, shared_cache_s: u64) -> (Child, String, String) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_brickbook"));
    // Settings of the person who runs the tests stay out of them.
    for (name, _) in std::env::vars().filter(|(name, _)| name.starts_with("BRICKBOOK_")) {
        command.env_remove(name);
    }
    let mut process = command
        .current_dir(folder)
        .args([
            "serve",
            "--demo",
            "--listen",
            "127.0.0.1:0",
            "--public-url",
            public_url,
        ])
        .args(["--trusted-proxies", "127.0.0.1", "--shared-cache-s"])
        .arg(shared_cache_s.to_string())
        .arg("--data-dir")
        .arg(folder)
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
            return (process, base, secret.expect("nobody has an account yet"));
        }
        told.push_str(&line);
        told.push('\n');
    }
    let ended = process.wait();
    panic!("the program does not serve ({ended:?}):\n{told}");
}

//! What is given to whoever runs this on a server agrees with the program, and the program needs
//! nothing beside itself.

use crate::{Bench, Running};
use std::collections::BTreeMap;
use std::io::{Read, Write};
use std::process::Command;

fn file(name: &str) -> String {
    let path = format!("{}/{name}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(&path).unwrap_or_else(|cause| panic!("{path}: {cause}"))
}

/// Keys and defaults of all settings, as the program tells them.
fn settings() -> BTreeMap<String, String> {
    let table = Bench::new()
        .call(&["settings", "--reference"])
        .succeeds()
        .out;
    table
        .lines()
        .skip(2)
        .map(|line| {
            let cells: Vec<&str> = line.split('|').map(str::trim).collect();
            let plain = |cell: &str| cell.trim_matches('`').to_owned();
            (plain(cells[1]), plain(cells[2]))
        })
        .collect()
}

#[test]
fn service_and_container_set_what_there_is_to_set() {
    let known = settings();
    let mut found = 0;
    for name in [
        ".deploy/brickbook.service",
        ".deploy/Containerfile",
        "README.md",
    ] {
        let text = file(name);
        for part in text.split("BRICKBOOK_").skip(1) {
            let variable: String = part
                .chars()
                .take_while(|c| c.is_ascii_uppercase() || *c == '_')
                .collect();
            // `BRICKBOOK_…` for any of them, and the file that is named outside of it.
            if variable.is_empty() || variable == "CONFIG" {
                continue;
            }
            found += 1;
            assert!(
                known.contains_key(&variable.to_lowercase()),
                "{name}: BRICKBOOK_{variable}"
            );
        }
    }
    assert!(found >= 6, "{found}");
}

#[test]
fn the_service_waits_longer_for_the_end_than_the_program_takes() {
    let stop_within: u32 = settings()["stop_within_s"].parse().unwrap();
    let unit = file(".deploy/brickbook.service");
    let timeout = unit
        .lines()
        .find_map(|line| line.strip_prefix("TimeoutStopSec="))
        .unwrap();
    assert!(timeout.parse::<u32>().unwrap() > stop_within);
    let readme = file("README.md");
    let (_, after) = readme.split_once("--stop-timeout ").unwrap();
    let timeout: u32 = after.split(' ').next().unwrap().parse().unwrap();
    assert!(timeout > stop_within, "of the container");
}

#[test]
fn the_readme_names_the_files_and_sends_proxies_where_the_program_listens() {
    let readme = file("README.md");
    for name in [".deploy/brickbook.service", ".deploy/Containerfile"] {
        assert!(readme.contains(&format!("]({name})")), "{name}");
    }
    let listen = &settings()["listen"];
    let proxies = [
        format!("proxy_pass http://{listen};"),
        format!("reverse_proxy {listen} {{"),
    ];
    for proxy in proxies {
        assert!(readme.contains(&proxy), "{proxy}");
    }
}

/// Debug builds are linked to the system's C library, which is put beside the program here; nothing
/// else is.
#[cfg(target_os = "linux")]
#[test]
fn the_program_runs_where_there_is_no_other_file() {
    let bench = Bench::new();
    let root = bench.path("root");
    let program = env!("CARGO_BIN_EXE_brickbook");
    std::fs::create_dir_all(root.join("data")).unwrap();
    std::fs::copy(program, root.join("brickbook")).unwrap();
    let libraries = Command::new("ldd").arg(program).output().unwrap();
    let libraries = String::from_utf8(libraries.stdout).unwrap();
    for word in libraries.split_whitespace().filter(|w| w.starts_with('/')) {
        let to = root.join(word.trim_start_matches('/'));
        std::fs::create_dir_all(to.parent().unwrap()).unwrap();
        std::fs::copy(word, &to).unwrap();
        let name = to.file_name().unwrap().to_str().unwrap();
        let c_library = [
            "ld-linux",
            "libc.",
            "libm.",
            "libgcc_s.",
            "libdl.",
            "libpthread.",
        ];
        assert!(
            c_library.iter().any(|begin| name.starts_with(begin)),
            "{name} is not part of the C library"
        );
    }
    // As root as it is, else as root of a name space of one's own.
    let is_root = Command::new("id").arg("-u").output().unwrap().stdout == b"0\n";
    let mut command = if is_root {
        Command::new("chroot")
    } else {
        let mut command = Command::new("unshare");
        command.args(["--map-root-user", "chroot"]);
        command
    };
    command
        .arg(&root)
        .args(["/brickbook", "serve", "--demo"])
        .args(["--data-dir", "/data", "--listen", "127.0.0.1:0"])
        .env_clear()
        .env("PATH", std::env::var_os("PATH").unwrap_or_default());
    let server = Running::of(command);
    let get = |path: &str| {
        let mut connection = std::net::TcpStream::connect(&server.address).unwrap();
        write!(
            connection,
            "GET {path} HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"
        )
        .unwrap();
        let mut answer = Vec::new();
        connection.read_to_end(&mut answer).unwrap();
        answer
    };
    let home = String::from_utf8(get("/")).unwrap();
    assert!(home.starts_with("HTTP/1.1 200"), "{home}");
    let (_, style) = home.split_once("href=\"/static/").unwrap();
    let style = format!("/static/{}", style.split('"').next().unwrap());
    let class = "/class/w100";
    // Templates, styles, tables of limits, drawn text and a report with its fonts.
    for path in [
        &style,
        class,
        "/regimes",
        "/preview.png",
        "/class/w100/report.pdf",
    ] {
        assert!(get(path).starts_with(b"HTTP/1.1 200"), "{path}");
    }
    server.tell_to_stop();
    server.ended();
}

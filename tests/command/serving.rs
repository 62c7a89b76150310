use crate::{Bench, sample};
use std::io::{BufRead, BufReader, Read, Write};
use std::process::Command;

/// Starts the server, waits until it says that it serves, asks it to stop, and gives what it logged.
fn served(bench: &Bench, arguments: &[&str]) -> String {
    visited(bench, arguments, |_| ())
}

/// As [`served`], with a visit of the given address before it is asked to stop.
fn visited(bench: &Bench, arguments: &[&str], visit: impl Fn(&str)) -> String {
    let mut child = bench
        .command(&[&["serve", "--listen", "127.0.0.1:0"], arguments].concat())
        .spawn()
        .unwrap();
    let mut log = BufReader::new(child.stderr.take().unwrap());
    let mut said = String::new();
    let mut asked = false;
    while log.read_line(&mut said).unwrap() > 0 {
        if !asked && let Some((_, address)) = said.split_once("serving on http://") {
            visit(address.trim_end().trim_end_matches('/'));
            let pid = child.id().to_string();
            assert!(Command::new("kill").arg(pid).status().unwrap().success());
            asked = true;
        }
    }
    let status = child.wait().unwrap();
    assert!(asked && status.success(), "{status}: {said}");
    said
}

/// A page as a plain browser would get it.
fn page(address: &str, path: &str) -> String {
    let mut connection = std::net::TcpStream::connect(address).unwrap();
    write!(
        connection,
        "GET {path} HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n"
    )
    .unwrap();
    let mut answer = String::new();
    connection.read_to_string(&mut answer).unwrap();
    assert!(answer.starts_with("HTTP/1.1 200"), "{answer}");
    answer
}

#[test]
fn the_demonstration_fills_an_empty_database_once() {
    let bench = Bench::new();
    served(&bench, &["--demo"]);
    let count = || bench.number("brickbook-data", "SELECT count(*) FROM ranking");
    let first = count();
    assert!(first >= 60, "{first}");
    assert_eq!(
        bench.texts(
            "brickbook-data",
            "SELECT value FROM setting WHERE key = 'demo'"
        ),
        ["1"]
    );
    bench.assert_sound("brickbook-data");

    served(&bench, &["--demo"]);
    served(&bench, &[]);
    assert_eq!(count(), first);
    assert_eq!(
        bench.number("brickbook-data", "SELECT count(*) FROM revision"),
        first
    );
}

#[test]
fn the_demonstration_is_not_mixed_with_real_measurements() {
    let bench = Bench::new();
    bench.write("a.json", &sample::record_text("Larkfield", "LF-30", None));
    bench.call(&["add", "a.json"]).succeeds();
    let refused = bench
        .call(&["serve", "--demo", "--listen", "127.0.0.1:0"])
        .fails_with(1);
    assert!(refused.err.contains("must not be mixed"), "{}", refused.err);
    assert_eq!(
        bench.number("brickbook-data", "SELECT count(*) FROM ranking"),
        1
    );
    assert_eq!(
        bench.number("brickbook-data", "SELECT count(*) FROM candidate"),
        0
    );
    assert_eq!(
        bench.number(
            "brickbook-data",
            "SELECT count(*) FROM setting WHERE key = 'demo'"
        ),
        0
    );
}

#[test]
fn whoever_adds_to_a_demonstration_is_warned() {
    let bench = Bench::new();
    served(&bench, &["--demo"]);
    bench.write("a.json", &sample::record_text("Larkfield", "LF-30", None));
    let answer = bench.call(&["add", "a.json"]).succeeds();
    assert!(
        answer.err.contains("invented demonstration data"),
        "{}",
        answer.err
    );
}

#[test]
fn an_address_that_is_taken_is_a_failure_that_names_it() {
    let bench = Bench::new();
    let taken = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let address = taken.local_addr().unwrap().to_string();
    let answer = bench.call(&["serve", "--listen", &address]).fails_with(1);
    assert!(answer.err.contains(&address), "{}", answer.err);
}

#[test]
fn units_of_another_method_are_mentioned_at_start_until_they_are_rescored() {
    let bench = Bench::new();
    bench.write("a.json", &sample::record_text("Larkfield", "LF-30", None));
    bench.call(&["add", "a.json"]).succeeds();
    let other = ["--score-line", "230/50"];
    assert!(!served(&bench, &[]).contains("brickbook rescore"));
    assert!(served(&bench, &other).contains("brickbook rescore"));
    bench.call(&[&["rescore"], &other[..]].concat()).succeeds();
    assert!(!served(&bench, &other).contains("brickbook rescore"));
}

#[test]
fn pages_carry_the_name_of_the_site_and_the_units_of_the_database() {
    let bench = Bench::new();
    bench.write("brickbook.toml", "site_name = \"Ada & Co\"\n");
    bench.write("a.json", &sample::record_text("Larkfield", "LF-30", None));
    bench.call(&["add", "a.json"]).succeeds();
    visited(&bench, &[], |address| {
        let home = page(address, "/");
        assert!(home.contains("Ada &#38; Co</title>") || home.contains("Ada &amp; Co</title>"));
        assert!(home.contains("LF-30"), "{home}");
        assert!(page(address, "/unit/larkfield-lf-30").contains("Ada &"));
    });
}

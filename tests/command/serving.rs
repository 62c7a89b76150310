use crate::{Bench, Running, sample};
use std::io::{BufRead, BufReader, Read, Write};
use std::process::Command;

/// Starts the server, waits until it says that it serves, asks it to stop, and gives what it logged.
fn served(bench: &Bench, arguments: &[&str]) -> String {
    visited(bench, arguments, |_| ())
}

/// As [`served`], with a visit of the given address before it is asked to stop.
fn visited(bench: &Bench, arguments: &[&str], visit: impl Fn(&str)) -> String {
    heard(bench, arguments, "serving on http://", visit)
}

/// As [`visited`], asked to stop once it has said this.
fn heard(bench: &Bench, arguments: &[&str], last: &str, visit: impl Fn(&str)) -> String {
    let mut child = bench
        .command(&[&["serve", "--listen", "127.0.0.1:0"], arguments].concat())
        .spawn()
        .unwrap();
    let mut log = BufReader::new(child.stderr.take().unwrap());
    let mut said = String::new();
    let (mut visited, mut asked) = (false, false);
    while log.read_line(&mut said).unwrap() > 0 {
        if !visited && let Some((_, address)) = said.split_once("serving on http://") {
            visit(address.trim_end().trim_end_matches('/'));
            visited = true;
        }
        if !asked && visited && said.contains(last) {
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
    // It looks when pages are served already, and says what it found, whatever that is.
    let said = |arguments: &[&str]| heard(&bench, arguments, "evaluation", |_| ());
    assert!(!said(&[]).contains("brickbook rescore"));
    assert!(said(&other).contains("brickbook rescore"));
    bench.call(&[&["rescore"], &other[..]].concat()).succeeds();
    assert!(!said(&other).contains("brickbook rescore"));
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

/// The whole answer to a request written by hand, as far as it comes.
fn answer_to(connection: &mut std::net::TcpStream) -> String {
    let mut answer = String::new();
    // A connection that is cut ends the reading, too.
    let _ = connection.read_to_string(&mut answer);
    answer
}

/// A record for the API, in two halves.
fn halves() -> (String, String) {
    let text = sample::record_text("Larkfield", "LF-30", None);
    let (head, body) = text.split_at(text.len() / 2);
    (head.to_owned(), body.to_owned())
}

#[test]
fn a_slow_request_under_way_is_finished_when_told_to_stop() {
    let bench = Bench::new();
    let server = Running::start(&bench, &["--stop-within-s", "60"]);
    let (first, second) = halves();
    let mut slow = std::net::TcpStream::connect(&server.address).unwrap();
    write!(
        slow,
        "POST /api/v1/evaluate HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: {}\r\n\r\n{first}",
        first.len() + second.len()
    )
    .unwrap();
    // The head has been read when another connection was answered: they are accepted in turn.
    page(&server.address, "/health/live");
    server.tell_to_stop();
    // Nobody new is let in while it stops.
    while std::net::TcpStream::connect(&server.address).is_ok() {
        std::thread::sleep(std::time::Duration::from_millis(10));
    }
    slow.write_all(second.as_bytes()).unwrap();
    let answer = answer_to(&mut slow);
    assert!(answer.starts_with("HTTP/1.1 200"), "{answer}");
    assert!(answer.trim_end().ends_with('}'), "whole: {answer}");
    assert!(server.ended().contains("stopped"));
}

#[test]
fn a_request_that_hangs_is_cut_after_the_stated_time() {
    let bench = Bench::new();
    let server = Running::start(&bench, &["--stop-within-s", "1"]);
    let (first, second) = halves();
    let mut hanging = std::net::TcpStream::connect(&server.address).unwrap();
    write!(
        hanging,
        "POST /api/v1/evaluate HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: {}\r\n\r\n{first}",
        first.len() + second.len()
    )
    .unwrap();
    page(&server.address, "/health/live");
    server.tell_to_stop();
    let said = server.ended();
    assert!(
        said.contains("stopped with requests still under way"),
        "{said}"
    );
    assert_eq!(answer_to(&mut hanging), "");
}

#[test]
fn figures_are_served_on_their_own_address_alone_and_the_log_may_be_json() {
    let bench = Bench::new();
    let server = Running::start(
        &bench,
        &[
            "--metrics-listen",
            "127.0.0.1:0",
            "--log-format",
            "json",
            "--log",
            "info,brickbook::web=debug",
        ],
    );
    let metrics = server.said.lines().find_map(|line| {
        let (_, address) = line.split_once("metrics on http://")?;
        Some(address.split('/').next()?.to_owned())
    });
    let metrics = metrics.expect("the address of the metrics is logged");
    let home = page(&server.address, "/");
    let id = home
        .lines()
        .find_map(|line| line.strip_prefix("x-request-id: "))
        .expect("an id")
        .to_owned();
    assert!(page(&metrics, "/metrics").contains("brickbook_http_requests_total{route=\"/\""));
    for (address, path) in [(&metrics, "/"), (&server.address, "/metrics")] {
        let mut connection = std::net::TcpStream::connect(address).unwrap();
        write!(
            connection,
            "GET {path} HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"
        )
        .unwrap();
        assert!(
            answer_to(&mut connection).starts_with("HTTP/1.1 404"),
            "{path}"
        );
    }
    server.tell_to_stop();
    let said = server.ended();
    // One object a line; only the invitation to set up stands before them as text.
    let lines: Vec<serde_json::Value> = said
        .lines()
        .filter(|line| line.starts_with('{'))
        .map(|line| serde_json::from_str(line).unwrap_or_else(|cause| panic!("{cause}: {line}")))
        .collect();
    let answered = lines
        .iter()
        .find(|line| line["fields"]["request"] == id.as_str())
        .unwrap_or_else(|| panic!("no line of {id} in {said}"));
    assert_eq!(answered["fields"]["route"], "/");
    assert_eq!(answered["fields"]["status"], 200);
    assert_eq!(answered["level"], "DEBUG");
}

//! Any query on any address of the site: an answer in words, never a fault of ours, and within
//! bounds of size and memory. The program runs as it is, so that what the HTTP library refuses and
//! what it costs is seen as well.
//!
//! Addresses and names of parameters are read out of the sources and the API's description, so that
//! a new one is asked without being listed here.

use crate::{Bench, Running};
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use std::collections::BTreeSet;
use std::io::{Read, Write};
use std::path::Path;

/// No answer to a reader is larger, of three units; the cache keeps none that is.
const LARGEST_ANSWER: usize = 2 << 20;

/// What an unoptimised build may take at its most, kB. The pages that it keeps take 8 MB; a preview
/// picture and a report are drawn one at a time.
const MOST_MEMORY_KB: u64 = 400_000;

#[test]
fn odd_queries_on_every_address_are_answered_in_words_and_within_bounds() {
    let bench = Bench::new();
    for name in ["larkfield-lf-100q", "hollowick-hk-100c", "quillmere-qm-12a"] {
        let file = format!("{}/seed-data/{name}.json", env!("CARGO_MANIFEST_DIR"));
        bench.call(&["add", &file]).succeeds();
    }
    let server = Running::start(&bench, &["--log", "warn,brickbook=info"]);

    let description = get(&server.address, "/api/v1/openapi.json");
    let description: serde_json::Value = serde_json::from_str(&description.body).unwrap();
    let mut paths = known_paths();
    let mut names = known_names();
    let plain = paths.len();
    for (path, item) in description["paths"].as_object().unwrap() {
        if let Some(get) = item.get("get") {
            paths.insert(filled(&format!("/api/v1{path}")));
            for parameter in get["parameters"].as_array().into_iter().flatten() {
                if parameter["in"] == "query" {
                    names.insert(parameter["name"].as_str().unwrap().to_owned());
                }
            }
        }
    }
    // What is read out of sources must not run dry unnoticed.
    assert!(plain >= 40 && paths.len() >= plain + 10, "{paths:#?}");
    for name in [
        "w", "each_w", "sort", "page", "per_page", "class", "q", "unit", "tariff",
    ] {
        assert!(names.contains(name), "{name}: {names:?}");
    }

    let paths: Vec<String> = paths.into_iter().collect();
    // Each address once as it is.
    for path in &paths {
        let answer = get(&server.address, path);
        assert!(
            (200..500).contains(&answer.status),
            "{path}: {}",
            answer.status
        );
    }
    let names: Vec<String> = names.into_iter().chain(["colour".to_owned()]).collect();
    let pairs = prop::collection::vec((prop::sample::select(names), value()), 0..6);
    let ends = prop::sample::select(vec![
        "", "", "", "&", "&&==&=", "%", "%zz=%ff", "?", "\u{e4}",
    ]);
    let mut runner = TestRunner::new(Config {
        cases: 600,
        failure_persistence: None,
        ..Config::default()
    });
    runner
        .run(
            &(prop::sample::select(paths), pairs, ends, any::<bool>()),
            |(path, pairs, end, repeated)| {
                let mut query: String = pairs
                    .iter()
                    .map(|(name, value)| format!("{name}={value}&"))
                    .collect();
                if repeated {
                    query = query.repeat(2);
                }
                let target = format!("{path}?{query}{end}");
                let answer = get(&server.address, &target);
                let shown: String = target.chars().take(300).collect();
                prop_assert!(
                    (200..500).contains(&answer.status),
                    "{}: {} {}",
                    shown,
                    answer.status,
                    answer.body
                );
                prop_assert!(
                    answer.size <= LARGEST_ANSWER,
                    "{}: {} bytes",
                    shown,
                    answer.size
                );
                Ok(())
            },
        )
        .unwrap();

    if let Some(most) = server.most_memory_kb() {
        println!("at most {most} kB of memory were held");
        assert!(most <= MOST_MEMORY_KB, "{most} kB");
    }
    server.tell_to_stop();
    let said = server.ended();
    for never in ["panicked", "ERROR"] {
        assert!(!said.contains(never), "{said}");
    }
}

/// A value as it stands in an address.
fn value() -> impl Strategy<Value = String> {
    let long = |text: &str| text.repeat(8192 / text.len());
    let odd = [
        "",
        "0",
        "-1",
        "-0",
        "1",
        "2",
        "27",
        "NaN",
        "inf",
        "-inf",
        "1e400",
        "1e-320",
        "1e308",
        "0x10",
        "1_000",
        "999999999999999999999",
        "18446744073709551616",
        "-9223372036854775808",
        "0.30",
        "0,30",
        "+",
        "true",
        "null",
        "[]",
        "{}",
        "'",
        "%22",
        "%3Cb%3E",
        "%00",
        "%",
        "%zz",
        "%ff%fe",
        "%C3%28",
        "%E2%82%AC",
        "%F0%9D%9F%99",
        "%D9%A3",
        "%E2%80%AE",
        "%0d%0a",
        "..%2F..%2Fetc%2Fpasswd",
        "w100",
        "w65",
        "price",
        "score",
        "no-load",
        "total",
        "name",
        "desc",
        "asc",
        "EUR",
        "eur",
        "XTS",
        "passes",
        "us_doe_level_vi",
        "larkfield-lf-100q",
        "hollowick-hk-100c",
        "larkfield-lf-100q,hollowick-hk-100c",
        "15:2",
        "15%3A2",
        "0:24",
        "15:25",
        "15:2:3",
        ":",
        "trip-margin,touch-temperature",
        ",,,",
        "letter",
        "a4",
        "9;9",
    ];
    prop_oneof![
        8 => prop::sample::select(odd.map(str::to_owned).to_vec()),
        1 => prop::sample::select(vec![long("a"), long("9"), long("%41"), long("%E2%82%AC"), long("15:2,"), long("w100,")]),
        4 => ".{0,20}".prop_map(|text| encoded(&text)),
        1 => any::<f64>().prop_map(|number| number.to_string()),
        1 => any::<i64>().prop_map(|number| number.to_string()),
    ]
}

fn encoded(text: &str) -> String {
    text.bytes().map(|byte| format!("%{byte:02X}")).collect()
}

/// Names of parameters that pages ask their query for.
fn known_names() -> BTreeSet<String> {
    let mut names = BTreeSet::new();
    each_source(&mut |text| {
        for call in [".last(\"", ".all(\""] {
            for part in text.split(call).skip(1) {
                names.extend(part.split('"').next().map(str::to_owned));
            }
        }
    });
    names
}

/// Routes, and addresses that are named as constants, with something in the place of what varies.
fn known_paths() -> BTreeSet<String> {
    let mut paths = BTreeSet::new();
    each_source(&mut |text| {
        for part in text.split('"').skip(1).step_by(2) {
            let is_path = part.starts_with('/')
                && part
                    .bytes()
                    .all(|b| b.is_ascii_alphanumeric() || b"/{}_*.-".contains(&b));
            // Signing out and the like are not for reading, and answer so.
            if is_path && !part.starts_with("//") {
                paths.insert(filled(part));
            }
        }
    });
    paths
}

/// Something in the place of what varies: what is there, where that is known.
fn filled(pattern: &str) -> String {
    let mut filled = String::new();
    let mut rest = pattern;
    while let Some((before, after)) = rest.split_once('{') {
        let (name, after) = after.split_once('}').unwrap_or((after, ""));
        filled += before;
        filled += match name {
            "slug" => "larkfield-lf-100q",
            "profile" => "phone-overnight",
            "id" if before.ends_with("/class/") => "w100",
            "id" if before.ends_with("/regime/") || before.ends_with("/regimes/") => {
                "us_doe_level_vi"
            }
            "number" | "revision" => "1",
            _ => "x",
        };
        rest = after;
    }
    filled + rest
}

fn each_source(look: &mut impl FnMut(&str)) {
    fn walk(folder: &Path, look: &mut impl FnMut(&str)) {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                walk(&path, look);
            } else if path.extension().is_some_and(|e| e == "rs") {
                let text = std::fs::read_to_string(&path).unwrap();
                // Tests at the end of a file ask for addresses of their own.
                look(text.split("#[cfg(test)]").next().unwrap_or(""));
            }
        }
    }
    walk(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src/web"), look);
}

struct Answer {
    status: u16,
    size: usize,
    body: String,
}

/// Asks as somebody would who writes requests by hand.
fn get(address: &str, target: &str) -> Answer {
    let mut connection = std::net::TcpStream::connect(address).unwrap();
    // An answer may come before all of a request that is too long was sent.
    let _ = write!(
        connection,
        "GET {target} HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n"
    );
    let mut bytes = Vec::new();
    let _ = connection.read_to_end(&mut bytes);
    let text = String::from_utf8_lossy(&bytes);
    let status = text
        .strip_prefix("HTTP/1.1 ")
        .and_then(|rest| rest.get(..3)?.parse().ok())
        .unwrap_or_else(|| {
            let shown: String = target.chars().take(300).collect();
            panic!("{shown}: no answer but {text:?}")
        });
    let body = text.split_once("\r\n\r\n").map_or("", |(_, body)| body);
    Answer {
        status,
        size: bytes.len(),
        body: body.to_owned(),
    }
}

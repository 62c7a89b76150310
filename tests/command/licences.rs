//! What the program is made of: every dependency is of a licence that may be passed on with it, and
//! comes from one registry; the list that `brickbook licences` prints is the true one.

use crate::Bench;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::process::Command;

/// As in `.deny.toml`.
const ALLOWED: &[&str] = &[
    "MIT",
    "Apache-2.0",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSL-1.0",
    "ISC",
    "MPL-2.0",
    "Unicode-3.0",
    "Unlicense",
    "Zlib",
    "0BSD",
    "MIT-0",
];

const REGISTRY: &str = "registry+https://github.com/rust-lang/crates.io-index";

fn metadata() -> Value {
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--locked", "--format-version", "1"])
        .args(["--filter-platform", "x86_64-unknown-linux-gnu"])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("cargo is there, as it runs this test");
    let told = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{told}");
    serde_json::from_slice(&output.stdout).expect("cargo writes JSON")
}

fn text<'a>(value: &'a Value, key: &str) -> &'a str {
    value[key].as_str().unwrap_or_default()
}

#[test]
fn every_dependency_is_of_an_allowed_licence_and_source() {
    let metadata = metadata();
    let packages = metadata["packages"].as_array().unwrap();
    assert!(packages.len() > 100, "the whole tree is looked at");
    for package in packages {
        let name = format!("{} {}", text(package, "name"), text(package, "version"));
        if text(package, "name") == "brickbook" {
            assert_eq!(package["publish"], serde_json::json!([]), "never published");
            continue;
        }
        assert_eq!(text(package, "source"), REGISTRY, "{name}");
        // A slash is how "or" was written before SPDX expressions.
        let licence = text(package, "license").replace('/', " OR ");
        let expression = spdx::Expression::parse(&licence)
            .unwrap_or_else(|cause| panic!("{name}: {licence:?}: {cause}"));
        let allowed = expression.evaluate(|wanted| {
            let id = wanted.license.id().map(|id| id.name);
            id.is_some_and(|id| ALLOWED.contains(&id))
        });
        assert!(allowed, "{name}: {licence}");
    }
}

#[test]
fn the_two_lists_of_allowed_licences_are_one() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(".deny.toml");
    let table: toml::Table = std::fs::read_to_string(path).unwrap().parse().unwrap();
    let listed: BTreeSet<&str> = table["licenses"]["allow"]
        .as_array()
        .unwrap()
        .iter()
        .map(|licence| licence.as_str().unwrap())
        .collect();
    assert_eq!(listed, ALLOWED.iter().copied().collect());
}

/// What the program itself is made of, without what only builds or tests it.
fn list() -> String {
    let metadata = metadata();
    let packages: BTreeMap<&str, &Value> = metadata["packages"]
        .as_array()
        .unwrap()
        .iter()
        .map(|package| (text(package, "id"), package))
        .collect();
    let nodes: BTreeMap<&str, &Value> = metadata["resolve"]["nodes"]
        .as_array()
        .unwrap()
        .iter()
        .map(|node| (text(node, "id"), node))
        .collect();
    let mut found = BTreeSet::new();
    let mut to_do = vec![text(&metadata["resolve"], "root")];
    while let Some(id) = to_do.pop() {
        for dependency in nodes[id]["deps"].as_array().unwrap() {
            let kinds = dependency["dep_kinds"].as_array().unwrap();
            let id = text(dependency, "pkg");
            if kinds.iter().any(|kind| kind["kind"].is_null()) && found.insert(id) {
                to_do.push(id);
            }
        }
    }
    let lines: BTreeSet<String> = found
        .into_iter()
        .map(|id| {
            let package = packages[id];
            let [name, version, licence] =
                ["name", "version", "license"].map(|key| text(package, key));
            format!("{name} {version}: {licence}\n")
        })
        .collect();
    lines.into_iter().collect()
}

#[test]
fn the_list_of_licences_that_is_printed_is_the_true_one() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/command/licences.txt");
    let list = list();
    if std::env::var_os("BRICKBOOK_WRITE_LICENCES").is_some() {
        std::fs::write(&path, &list).unwrap();
    }
    let stored = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        stored == list,
        "dependencies have changed: run BRICKBOOK_WRITE_LICENCES=1 cargo test --test command licences"
    );
}

#[test]
fn the_licences_are_printed_with_the_fonts() {
    let bench = Bench::new();
    let out = bench.call(&["licences"]).succeeds().out;
    assert!(out.contains("axum "), "{out}");
    assert!(out.contains("DejaVu"), "{out}");
}

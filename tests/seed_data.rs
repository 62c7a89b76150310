//! The files of `seed-data/` are what the model invents, byte for byte, and every kind of unit and
//! flaw that they promise is really found by the evaluation.
//!
//! `BRICKBOOK_WRITE_SEED_DATA=1 cargo test --test seed_data` writes the files anew.

use brickbook::bench::record::Record;
use brickbook::demo;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("seed-data")
}

/// File name by document, for the whole collection.
fn documents() -> BTreeMap<String, String> {
    demo::collection()
        .iter()
        .map(|record| (demo::file_name(record), document(record)))
        .collect()
}

fn document(record: &Record) -> String {
    let mut text = serde_json::to_string_pretty(record).expect("a record is JSON");
    text.push('\n');
    text
}

fn files() -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder())
        .expect("seed-data is there")
        .map(|entry| {
            entry
                .expect("readable")
                .file_name()
                .to_string_lossy()
                .into_owned()
        })
        .filter(|name| name.ends_with(".json"))
        .collect();
    names.sort();
    names
}

#[test]
fn the_seed_data_is_what_the_model_invents() {
    let wanted = documents();
    if std::env::var_os("BRICKBOOK_WRITE_SEED_DATA").is_some_and(|v| v == "1") {
        for name in files() {
            fs::remove_file(folder().join(name)).expect("an old file can be removed");
        }
        for (name, text) in &wanted {
            fs::write(folder().join(name), text).expect("seed-data can be written");
        }
    }
    assert_eq!(files(), wanted.keys().cloned().collect::<Vec<_>>());
    for (name, text) in wanted {
        let found = fs::read_to_string(folder().join(&name)).expect("readable");
        assert!(found == text, "{name} differs from what the model invents");
    }
}

#[test]
fn every_record_says_that_it_is_invented() {
    for record in demo::collection() {
        let notes = record.notes.expect("a seed record has notes");
        assert!(
            notes.contains("Invented for demonstration"),
            "{}",
            record.unit.model
        );
    }
}

//! Raw logs by the command line: kept and read, refused, interrupted; bundled and verified.

use crate::{Bench, sample};
use serde_json::{Value, json};
use std::io::Write;
use std::path::{Path, PathBuf};

/// Thirty minutes of an invented meter at no load, one reading a second.
pub fn log(readings: usize) -> String {
    let mut text = "Time [s];U [V];I [mA];P [mW]\r\n".to_owned();
    for second in 0..readings {
        // 50 mW with a small ripple of known mean.
        let power_mw = 50 + [0, 1, 0, -1][second % 4];
        text += &format!("{second};230,1;3,2;{power_mw},0\r\n");
    }
    text
}

fn kept_files(bench: &Bench) -> Vec<PathBuf> {
    fn walk(folder: &Path, found: &mut Vec<PathBuf>) {
        for entry in std::fs::read_dir(folder).into_iter().flatten() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                walk(&path, found);
            } else {
                found.push(path);
            }
        }
    }
    let mut found = Vec::new();
    walk(&bench.path("brickbook-data/logs"), &mut found);
    found.retain(|path| !path.to_string_lossy().contains("findings"));
    found
}

/// Publishes a unit whose no-load figure comes from the log; gives its slug.
fn publish_with_log(bench: &Bench) -> String {
    bench.write("noload.csv", &log(1800));
    let entry = bench
        .call(&["import-log", "--json", "noload.csv"])
        .succeeds();
    let entry: Value = serde_json::from_str(&entry.out).unwrap();
    let mut record = sample::record("Larkfield", "LF-30L", None);
    record["logs"] = json!([entry]);
    record["instruments"] = json!([{
        "quantity": "no_load_power_w", "reading_percent": 0.1, "range_percent": 0.1, "range": 3, "fixed": 0
    }]);
    record["runs"][0]["no_load"] = json!({"log": "noload.csv"});
    bench.write("record.json", &record.to_string());
    bench.call(&["add", "record.json"]).succeeds();
    "larkfield-lf-30l".to_owned()
}

#[test]
fn a_log_is_kept_once_and_told_of() {
    let bench = Bench::new();
    bench.write("noload.csv", &log(600));
    let told = bench.call(&["import-log", "noload.csv"]).succeeds().out;
    for words in [
        "600 good, 0 bad",
        "semicolon",
        "decimal comma",
        "input_power_w: mean 0.05",
        "input_current_a",
    ] {
        assert!(told.contains(words), "{words} in {told}");
    }
    let again = bench.call(&["import-log", "noload.csv"]).succeeds().out;
    assert!(again.contains("was here already"));
    assert_eq!(kept_files(&bench).len(), 1);
    assert_eq!(
        bench.number("brickbook-data", "SELECT count(*) FROM log_file"),
        1
    );
}

#[test]
fn a_gzip_that_ends_early_and_a_name_that_is_no_file_s_are_refused_and_not_kept() {
    let bench = Bench::new();
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::default());
    packer.write_all(log(20_000).as_bytes()).unwrap();
    let packed = packer.finish().unwrap();
    std::fs::write(bench.path("cut.csv.gz"), &packed[..packed.len() / 2]).unwrap();
    let refused = bench.call(&["import-log", "cut.csv.gz"]).fails_with(2);
    assert!(
        refused.err.contains("incomplete or damaged"),
        "{}",
        refused.err
    );
    assert!(refused.err.contains("nothing was kept"), "{}", refused.err);

    bench.write("noload.csv", &log(100));
    for name in ["..", "a\u{202e}vsc.csv"] {
        let refused = bench.call(&["import-log", "--name", name, "noload.csv"]);
        let refused = refused.fails_with(2);
        assert!(
            refused.err.contains("expected a file name"),
            "{}",
            refused.err
        );
    }
    assert!(kept_files(&bench).is_empty());
}

#[test]
fn a_log_of_which_more_than_one_per_cent_is_bad_is_refused_and_not_kept() {
    let bench = Bench::new();
    let text: String = log(1000)
        .lines()
        .enumerate()
        .map(|(i, line)| match i {
            0 => format!("{line}\r\n"),
            i if i % 20 == 0 => format!("{};230,1;3,2;overrange\r\n", i - 1),
            _ => format!("{line}\r\n"),
        })
        .collect();
    bench.write("noload.csv", &text);
    let refused = bench.call(&["import-log", "noload.csv"]).fails_with(2);
    assert!(refused.err.contains("overrange"), "{}", refused.err);
    assert!(refused.err.contains("nothing was kept"), "{}", refused.err);
    assert!(kept_files(&bench).is_empty());
    assert_eq!(
        bench.number("brickbook-data", "SELECT count(*) FROM log_file"),
        0
    );
}

#[test]
fn a_few_bad_rows_are_shown_with_their_lines() {
    let bench = Bench::new();
    let text = log(1000).replacen("\n500;", "\nfive hundred;", 1);
    bench.write("noload.csv", &text);
    let answer = bench.call(&["import-log", "noload.csv"]).succeeds();
    assert!(answer.out.contains("999 good, 1 bad"), "{}", answer.out);
    assert!(answer.err.contains("line 502:"), "{}", answer.err);
}

#[test]
fn a_killed_import_leaves_no_half_log() {
    let bench = Bench::new();
    bench.write("small.csv", &log(10));
    for bytes in [0, 100, 300_000, 2_000_000] {
        let mut child = bench
            .command(&["import-log", "-", "--name", "noload.csv"])
            .stdin(std::process::Stdio::piped())
            .spawn()
            .unwrap();
        let text = log(200_000);
        let mut input = child.stdin.take().unwrap();
        input.write_all(&text.as_bytes()[..bytes]).unwrap();
        input.flush().unwrap();
        child.kill().unwrap();
        child.wait().unwrap();
        drop(input);
    }
    // The next call clears away what the killed ones left.
    bench.call(&["import-log", "small.csv"]).succeeds();
    assert_eq!(kept_files(&bench).len(), 1, "{:?}", kept_files(&bench));
    assert_eq!(
        bench.number("brickbook-data", "SELECT count(*) FROM log_file"),
        1
    );
}

#[test]
fn a_saved_layout_is_used_for_the_next_log_of_its_kind() {
    let bench = Bench::new();
    bench
        .write("first.csv", &log(100))
        .write("next.csv", &log(200));
    bench
        .call(&["import-log", "--save-layout", "bench meter", "first.csv"])
        .succeeds();
    let next = bench.call(&["import-log", "next.csv"]).succeeds();
    assert!(next.out.contains("bench meter"), "{}", next.out);
    let unknown = bench
        .call(&["import-log", "--layout", "other", "next.csv"])
        .fails_with(2);
    assert!(unknown.err.contains("bench meter"), "{}", unknown.err);
}

#[test]
fn a_published_log_gives_the_no_load_figure_and_can_be_computed_again_elsewhere() {
    let bench = Bench::new();
    let slug = publish_with_log(&bench);
    bench.call(&["bundle", &slug, "-o", "unit.zip"]).succeeds();
    // Another machine: no database, only the archive.
    let elsewhere = Bench::new();
    std::fs::copy(bench.path("unit.zip"), elsewhere.path("unit.zip")).unwrap();
    let verified = elsewhere.call(&["verify", "unit.zip"]).succeeds();
    assert!(
        verified.out.contains("sound: 1 raw logs"),
        "{}",
        verified.out
    );
    let figures: usize = verified
        .out
        .split_whitespace()
        .zip(verified.out.split_whitespace().skip(1))
        .find(|(_, next)| *next == "figures")
        .map(|(count, _)| count.parse().unwrap())
        .unwrap();
    assert!(figures > 100, "{}", verified.out);

    // The same from the record and a folder of raw logs.
    let evaluated = bench
        .call(&["evaluate", "--logs", ".", "record.json"])
        .succeeds();
    let evaluation: Value = serde_json::from_str(&evaluated.out).unwrap();
    let no_load = &evaluation["runs"][0]["no_load"];
    assert_eq!(no_load["method"], "sampling", "{no_load}");
    let power_w = no_load["power_w"].as_f64().unwrap();
    assert!((power_w - 0.05).abs() < 1e-9, "{power_w}");
}

#[test]
fn the_same_unit_gives_the_same_archive_and_one_that_is_there_is_left_alone() {
    let bench = Bench::new();
    let slug = publish_with_log(&bench);
    bench.call(&["bundle", &slug, "-o", "a.zip"]).succeeds();
    bench.call(&["bundle", &slug, "-o", "b.zip"]).succeeds();
    let bytes = |name: &str| std::fs::read(bench.path(name)).unwrap();
    assert_eq!(bytes("a.zip"), bytes("b.zip"));
    bench.write("theirs.zip", "something else");
    bench
        .call(&["bundle", &slug, "-o", "theirs.zip"])
        .fails_with(1);
    assert_eq!(bench.read("theirs.zip"), "something else");
}

#[test]
fn a_changed_byte_anywhere_in_an_archive_is_found() {
    let bench = Bench::new();
    let slug = publish_with_log(&bench);
    bench.call(&["bundle", &slug, "-o", "unit.zip"]).succeeds();
    let whole = std::fs::read(bench.path("unit.zip")).unwrap();
    let places = (0..40).map(|i| i * (whole.len() - 1) / 39);
    for place in places {
        let mut changed = whole.clone();
        changed[place] ^= 0x01;
        std::fs::write(bench.path("changed.zip"), &changed).unwrap();
        let answer = bench.call(&["verify", "changed.zip"]);
        assert_ne!(answer.code, Some(0), "byte {place} of {}", whole.len());
    }
    std::fs::write(bench.path("short.zip"), &whole[..whole.len() / 2]).unwrap();
    assert_ne!(bench.call(&["verify", "short.zip"]).code, Some(0));
}

#[test]
fn a_log_that_is_not_at_hand_is_named() {
    let bench = Bench::new();
    let slug = publish_with_log(&bench);
    std::fs::remove_file(&kept_files(&bench)[0]).unwrap();
    let bundled = bench.call(&["bundle", &slug, "-o", "unit.zip"]).succeeds();
    assert!(bundled.err.contains("not kept here"), "{}", bundled.err);
    let verified = bench.call(&["verify", "unit.zip"]).succeeds();
    assert!(verified.err.contains("not at hand"), "{}", verified.err);
    assert!(
        verified.out.contains("1 of 1 raw logs are not in it") && !verified.out.contains("sound"),
        "{}",
        verified.out
    );
}

#[test]
fn a_unit_that_was_published_before_its_log_came_in_is_judged_by_it_after_rescoring() {
    let bench = Bench::new();
    let slug = publish_with_log(&bench);
    let elsewhere = Bench::new();
    for name in ["record.json", "noload.csv"] {
        elsewhere.write(name, &bench.read(name));
    }
    elsewhere.call(&["add", "record.json"]).succeeds();
    let judged_by = || {
        elsewhere.texts(
            "brickbook-data",
            "SELECT coalesce(document ->> '$.runs[0].no_load.method', 'nothing')
             FROM ranking JOIN evaluation ON evaluation.id = evaluation_id",
        )
    };
    assert_eq!(judged_by(), ["nothing"], "{slug}");
    elsewhere.call(&["import-log", "noload.csv"]).succeeds();
    elsewhere.call(&["rescore"]).succeeds();
    assert_eq!(judged_by(), ["sampling"]);
}

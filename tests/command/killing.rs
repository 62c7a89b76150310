//! `kill -9` at moments that differ from run to run of a loop and are the same from test to test.

use crate::{Bench, many_records};
use rand::{RngExt, SeedableRng, rngs::StdRng};
use std::collections::BTreeSet;
use std::io::{BufRead, BufReader};

/// Lets a call run until it has written so many lines on the output that `take` picks, kills it,
/// and gives every whole line that came out, those of the last moment too.
fn kill_after(
    mut child: std::process::Child,
    lines: usize,
    take: fn(&mut std::process::Child) -> Box<dyn std::io::Read>,
) -> Vec<String> {
    let mut output = BufReader::new(take(&mut child));
    let mut seen = Vec::new();
    let mut killed = false;
    loop {
        if seen.len() >= lines && !killed {
            child.kill().unwrap();
            killed = true;
        }
        let mut line = String::new();
        if output.read_line(&mut line).unwrap() == 0 || !line.ends_with('\n') {
            break;
        }
        seen.push(line.trim_end().to_string());
    }
    child.wait().unwrap();
    seen
}

#[test]
fn a_killed_add_loses_nothing_that_it_acknowledged() {
    const RECORDS: usize = 700;
    let bench = Bench::new();
    bench.write("many.jsonl", &many_records(RECORDS));
    let mut chance = StdRng::seed_from_u64(20260902);
    let mut acknowledged = BTreeSet::new();
    for round in 0..8 {
        // The first is killed while it opens the database, or before.
        let lines = if round == 0 {
            0
        } else {
            chance.random_range(1..RECORDS)
        };
        let child = bench.command(&["add", "many.jsonl"]).spawn().unwrap();
        for line in kill_after(child, lines, |child| Box::new(child.stdout.take().unwrap())) {
            let slug = line
                .split_whitespace()
                .find(|word| word.starts_with("larkfield-"));
            acknowledged.insert(slug.unwrap().to_string());
        }
        if !bench.path("brickbook-data/brickbook.db").exists() {
            continue;
        }
        if bench.call(&["export"]).code == Some(0) {
            bench.assert_sound("brickbook-data");
            let sql = "SELECT slug FROM ranking JOIN unit ON unit.id = unit_id";
            let stored: BTreeSet<_> = bench.texts("brickbook-data", sql).into_iter().collect();
            let lost: Vec<_> = acknowledged.difference(&stored).collect();
            assert!(lost.is_empty(), "round {round}: {lost:?}");
        } else {
            assert!(
                acknowledged.is_empty(),
                "round {round}: the database cannot be opened"
            );
        }
    }
    assert!(!acknowledged.is_empty());
    bench.call(&["add", "many.jsonl"]).succeeds();
    assert_eq!(
        bench.number("brickbook-data", "SELECT count(*) FROM ranking"),
        RECORDS as i64
    );
    assert_eq!(
        bench.number("brickbook-data", "SELECT count(*) FROM revision"),
        RECORDS as i64
    );
    bench.assert_sound("brickbook-data");
}

#[test]
fn a_killed_rescore_goes_on_where_it_stopped() {
    const RECORDS: i64 = 600;
    let bench = Bench::new();
    bench.write("many.jsonl", &many_records(RECORDS as usize));
    bench.call(&["add", "many.jsonl"]).succeeds();
    let evaluations = || bench.number("brickbook-data", "SELECT count(*) FROM evaluation");
    let rescore = ["rescore", "--score-line", "230/50"];

    let mut kills_before_the_end = 0;
    for tenths in [1, 2, 1] {
        let child = bench.command(&rescore).spawn().unwrap();
        let told = kill_after(child, tenths, |child| {
            Box::new(child.stderr.take().unwrap())
        });
        assert!(!told.is_empty());
        bench.assert_sound("brickbook-data");
        kills_before_the_end += i64::from(evaluations() < 2 * RECORDS);
    }
    assert!(
        kills_before_the_end > 0,
        "every run came to its end before it was killed"
    );

    let left = 2 * RECORDS - evaluations();
    let rest = bench.call(&rescore).succeeds();
    assert!(
        rest.out
            .starts_with(&format!("{left} units evaluated again")),
        "{left}: {}",
        rest.out
    );
    assert_eq!(evaluations(), 2 * RECORDS, "old evaluations are kept");
    let again = bench.call(&rescore).succeeds();
    assert!(
        again.out.starts_with("0 units evaluated again"),
        "{}",
        again.out
    );
    bench.assert_sound("brickbook-data");
}

use crate::{Bench, many_records, sample};

#[test]
fn each_file_is_stored_or_refused_on_its_own() {
    let bench = Bench::new();
    let good = sample::record_text("Larkfield", "LF-30", None);
    bench.write("good.json", &good);
    bench.write(
        "bad.json",
        &good.replace("\"power_w\": 0.05", "\"power_w\": -1, \"watt\": 2"),
    );
    bench.write(
        "other.json",
        &sample::record_text("Larkfield", "LF-31", None),
    );
    let answer = bench
        .call(&["add", "good.json", "bad.json", "missing.json", "other.json"])
        .fails_with(2);
    let out: Vec<_> = answer.out.lines().collect();
    assert_eq!(out.len(), 2, "{answer:?}");
    assert!(out[0].starts_with("good.json: published larkfield-lf-30 revision 1, score "));
    assert!(out[1].starts_with("other.json: published larkfield-lf-31 revision 1, score "));
    for part in [
        "bad.json: runs[0].no_load.power_w: -1",
        "bad.json: runs[0].no_load.watt: ",
        "missing.json: ",
        "2 of 4 refused",
    ] {
        assert!(answer.err.contains(part), "{part}: {}", answer.err);
    }
    assert_eq!(
        bench.number("brickbook-data", "SELECT count(*) FROM unit"),
        2
    );
    bench.assert_sound("brickbook-data");
}

#[test]
fn a_record_that_is_there_already_changes_nothing() {
    let bench = Bench::new();
    bench.write("a.json", &sample::record_text("Larkfield", "LF-30", None));
    bench.call(&["add", "a.json"]).succeeds();
    let again = bench.call(&["add", "a.json"]).succeeds();
    assert!(again.out.contains("unchanged"), "{}", again.out);
    assert_eq!(
        bench.number("brickbook-data", "SELECT count(*) FROM revision"),
        1
    );
}

#[test]
fn other_readings_of_a_published_unit_need_revise() {
    let bench = Bench::new();
    let first = sample::record_text("Larkfield", "LF-30", None);
    bench.write("first.json", &first);
    bench.write("second.json", &first.replace("0.05", "0.09"));
    bench.call(&["add", "first.json"]).succeeds();
    let refused = bench.call(&["add", "second.json"]).fails_with(2);
    assert!(
        refused.err.contains("already published as larkfield-lf-30"),
        "{}",
        refused.err
    );

    let revise = [
        "add",
        "--revise",
        "larkfield-lf-30",
        "--author",
        "Ada",
        "--reason",
        "read again",
        "second.json",
    ];
    let revised = bench.call(&revise).succeeds();
    assert!(
        revised.out.contains("revised larkfield-lf-30 revision 2"),
        "{}",
        revised.out
    );
    let history = bench.texts(
        "brickbook-data",
        "SELECT author || ': ' || reason FROM revision ORDER BY number",
    );
    assert_eq!(history, ["command line: ", "Ada: read again"]);

    let nowhere = bench
        .call(&["add", "--revise", "nowhere", "second.json"])
        .fails_with(2);
    assert!(nowhere.err.contains("no unit nowhere"), "{}", nowhere.err);
    let two = bench
        .call(&[
            "add",
            "--revise",
            "larkfield-lf-30",
            "first.json",
            "second.json",
        ])
        .fails_with(2);
    assert!(two.err.contains("exactly one record"), "{}", two.err);
}

#[test]
fn a_file_may_hold_an_array_or_lines_and_a_bad_one_is_named_by_its_place() {
    let bench = Bench::new();
    let records = many_records(3);
    let lines: Vec<_> = records.lines().collect();
    bench.write(
        "lines.jsonl",
        &format!("{}\n\n{{broken\n{}\n", lines[0], lines[1]),
    );
    bench.write(
        "array.json",
        &format!("[{},\n{{\"format\": 1}},\n{}]", lines[1], lines[2]),
    );
    let answer = bench
        .call(&["add", "lines.jsonl", "array.json"])
        .fails_with(2);
    let places: Vec<_> = answer
        .out
        .lines()
        .map(|line| line.split(", ").next().unwrap())
        .collect();
    assert_eq!(
        places,
        [
            "lines.jsonl: line 1: published larkfield-lf-0 revision 1",
            "lines.jsonl: line 4: published larkfield-lf-1 revision 1",
            "array.json: record 1: unchanged",
            "array.json: record 3: published larkfield-lf-2 revision 1",
        ]
    );
    assert!(
        answer.err.contains("lines.jsonl: line 3: "),
        "{}",
        answer.err
    );
    assert!(
        answer.err.contains("array.json: record 2: "),
        "{}",
        answer.err
    );
}

#[test]
fn two_calls_at_once_on_a_folder_that_is_not_there_yet_both_succeed() {
    let bench = Bench::new();
    let records = many_records(40);
    let lines: Vec<_> = records.lines().collect();
    bench.write("a.jsonl", &lines[..20].join("\n"));
    bench.write("b.jsonl", &lines[20..].join("\n"));
    let calls = ["a.jsonl", "b.jsonl"].map(|file| bench.command(&["add", file]).spawn().unwrap());
    for call in calls {
        let output = call.wait_with_output().unwrap();
        assert!(
            output.status.success(),
            "{}",
            String::from_utf8_lossy(&output.stderr)
        );
    }
    assert_eq!(
        bench.number("brickbook-data", "SELECT count(*) FROM ranking"),
        40
    );
    bench.assert_sound("brickbook-data");
}

#[cfg(unix)]
#[test]
fn nobody_else_may_look_into_the_data_directory() {
    use std::os::unix::fs::PermissionsExt;
    let bench = Bench::new();
    bench.write("a.json", &sample::record_text("Larkfield", "LF-30", None));
    bench.call(&["add", "a.json"]).succeeds();
    let mode = std::fs::metadata(bench.path("brickbook-data"))
        .unwrap()
        .permissions()
        .mode();
    assert_eq!(mode & 0o077, 0, "{mode:o}");
}

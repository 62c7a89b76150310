use crate::{Bench, sample};

#[test]
fn a_record_is_evaluated_without_a_database() {
    let bench = Bench::new();
    let record = sample::record_text("Larkfield", "LF-30", None);
    bench.write("a.json", &record);
    let from_file = bench.call(&["evaluate", "a.json"]).succeeds();
    let from_input = bench.call_with(&["evaluate", "-"], &record).succeeds();
    assert_eq!(from_file.out, from_input.out);
    assert_eq!(from_file.err, "");
    let evaluation: serde_json::Value = serde_json::from_str(&from_file.out).unwrap();
    assert_eq!(evaluation["format"], "brickbook-evaluation/1");
    assert_eq!(evaluation["class"]["id"], "w30");
    let efficiency = evaluation["runs"][0]["average_efficiency"]
        .as_f64()
        .unwrap();
    assert!((0.88..0.95).contains(&efficiency), "{efficiency}");
    assert_eq!(crate::files_in(bench.folder.path()), ["a.json"]);
}

#[test]
fn all_faults_of_a_bad_record_are_listed_one_a_line() {
    let bench = Bench::new();
    let record = sample::record_text("Larkfield", "LF-30", None)
        .replace("\"output_power_w\": 30", "\"output_power_w\": \"30 W\"")
        .replace("\"power_w\": 0.05", "\"power_w\": -0.05")
        .replace(
            "\"frequency_hz\": 60",
            "\"frequency_hz\": 60, \"colour\": \"red\"",
        );
    let answer = bench.call_with(&["evaluate", "-"], &record).fails_with(2);
    assert_eq!(answer.out, "");
    for path in [
        "unit.nameplate.output_power_w: ",
        "runs[0].no_load.power_w: -0.05",
        "runs[0].line.colour: ",
    ] {
        let lines = answer
            .err
            .lines()
            .filter(|line| line.starts_with(path))
            .count();
        assert_eq!(lines, 1, "{path}: {}", answer.err);
    }
    assert!(answer.err.contains("3 faults"), "{}", answer.err);
}

#[test]
fn a_date_in_the_future_is_warned_of_and_the_record_still_evaluated() {
    let bench = Bench::new();
    let record =
        sample::record_text("Larkfield", "LF-30", None).replace("2026-09-01", "2999-09-01");
    let answer = bench.call_with(&["evaluate", "-"], &record).succeeds();
    assert!(
        answer.err.contains("warning: runs[0].tested_on: "),
        "{}",
        answer.err
    );
    assert!(answer.err.contains("2999-09-01"), "{}", answer.err);
    assert!(answer.out.starts_with('{'));
}

#[test]
fn the_score_line_of_the_settings_decides_which_runs_are_scored() {
    let bench = Bench::new();
    bench.write("a.json", &sample::record_text("Larkfield", "LF-30", None));
    let score = |arguments: &[&str]| {
        let out = bench.call(arguments).succeeds().out;
        serde_json::from_str::<serde_json::Value>(&out).unwrap()["score"]["coverage"]
            .as_f64()
            .unwrap()
    };
    let on_115 = score(&["evaluate", "a.json"]);
    let on_230 = score(&["evaluate", "--score-line", "230/50", "a.json"]);
    assert!(on_115 > on_230, "{on_115} {on_230}");
}

#[test]
fn what_cannot_be_read_as_text_is_told_with_code_2() {
    let bench = Bench::new();
    let answer = bench.call(&["evaluate", "nowhere.json"]).fails_with(2);
    assert!(answer.err.contains("nowhere.json"), "{}", answer.err);
    std::fs::write(bench.path("a.json"), b"{\"a\": \"\xff\"}").unwrap();
    let answer = bench.call(&["evaluate", "a.json"]).fails_with(2);
    assert!(answer.err.contains("byte 7 is not UTF-8"), "{}", answer.err);
    let answer = bench
        .call_with(&["evaluate", "-"], "not json")
        .fails_with(2);
    assert!(answer.err.contains("valid JSON"), "{}", answer.err);
}

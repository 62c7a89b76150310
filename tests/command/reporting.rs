//! Printed reports by the command line.

use crate::{Bench, files_in, many_records};

/// Two published units.
fn filled() -> Bench {
    let bench = Bench::new();
    bench.write("lines.jsonl", &many_records(2));
    bench.call(&["add", "lines.jsonl"]).succeeds();
    bench
}

fn is_pdf(bytes: &[u8]) -> bool {
    bytes.starts_with(b"%PDF-1.7") && bytes.trim_ascii_end().ends_with(b"%%EOF")
}

#[test]
fn a_unit_s_report_is_written_and_once_more_is_the_same() {
    let bench = filled();
    let told = bench.call(&["report", "larkfield-lf-0"]).succeeds().out;
    assert!(told.starts_with("larkfield-lf-0-r1.pdf: "), "{told}");
    let first = std::fs::read(bench.path("larkfield-lf-0-r1.pdf")).unwrap();
    assert!(is_pdf(&first));
    bench
        .call(&["report", "larkfield-lf-0", "-o", "again.pdf"])
        .succeeds();
    assert!(first == std::fs::read(bench.path("again.pdf")).unwrap());
    let set = ["--tester-name", "Fernhill bench", "--paper", "letter"];
    bench
        .call(&[&["report", "larkfield-lf-0", "-o", "named.pdf"][..], &set].concat())
        .succeeds();
    assert!(first != std::fs::read(bench.path("named.pdf")).unwrap());
    let left = files_in(bench.folder.path());
    assert!(
        !left.iter().any(|name| name.contains("unfinished")),
        "{left:?}"
    );
}

#[test]
fn a_class_s_report_goes_to_a_file_or_to_standard_output() {
    let bench = filled();
    let class = "w30";
    bench
        .call(&["report", "--class", class, "-o", "class.pdf"])
        .succeeds();
    let written = std::fs::read(bench.path("class.pdf")).unwrap();
    assert!(is_pdf(&written));
    let piped = bench
        .command(&["report", "--class", class, "-o", "-"])
        .output()
        .unwrap();
    assert!(piped.status.success());
    assert!(piped.stdout == written);
}

#[test]
fn what_is_not_there_is_named_and_nothing_is_written() {
    let bench = filled();
    let unknown = bench.call(&["report", "no-such"]).fails_with(2);
    assert!(unknown.err.contains("no-such"), "{}", unknown.err);
    let revision = bench
        .call(&["report", "larkfield-lf-0", "--revision", "7"])
        .fails_with(2);
    assert!(revision.err.contains("revision 7"), "{}", revision.err);
    let class = bench.call(&["report", "--class", "w1"]).fails_with(2);
    assert!(class.err.contains("w1"), "{}", class.err);
    bench.call(&["report"]).fails_with(2);
    let nowhere = bench
        .call(&["report", "larkfield-lf-0", "-o", "nowhere/a.pdf"])
        .fails_with(1);
    assert!(nowhere.err.contains("nowhere/a.pdf"), "{}", nowhere.err);
    assert!(
        !files_in(bench.folder.path())
            .iter()
            .any(|name| name.ends_with(".pdf"))
    );
}

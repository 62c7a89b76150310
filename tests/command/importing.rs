//! Everything out in the open format, and in again.

use crate::{Bench, contents, many_records, whole};
use std::fs;

fn account(bench: &Bench, data_dir: &str) {
    let add = [
        "user",
        "add",
        "Ada",
        "--password-stdin",
        "--data-dir",
        data_dir,
    ];
    bench.call_with(&add, "another long password\n").succeeds();
}

#[test]
fn an_export_of_everything_imported_exports_the_same_bytes() {
    let bench = whole();
    bench.export_everything("brickbook-data", "all");
    let first = contents(&bench.path("all"));
    assert_eq!(
        first["larkfield-lf-30w.r1.json"],
        fs::read(bench.path("first.json")).unwrap()
    );
    assert!(first.keys().any(|name| name.starts_with("logs/")));
    assert!(first.keys().any(|name| name.starts_with("photos/")));
    account(&bench, "new");
    let told = bench
        .call(&["import", "all", "--data-dir", "new"])
        .succeeds();
    assert_eq!(
        told.out,
        "new here: 3 units, 4 revisions, 4 evaluations, 1 photo, 1 raw log, 1 layout, 2 candidates, \
         2 suggestions, 1 draft\n"
    );
    bench.export_everything("new", "again");
    let second = contents(&bench.path("again"));
    assert_eq!(
        first.keys().collect::<Vec<_>>(),
        second.keys().collect::<Vec<_>>()
    );
    for (name, bytes) in &first {
        assert!(second[name] == *bytes, "{name} differs");
    }
    let checked = bench.call(&["check", "--data-dir", "new"]).succeeds();
    assert!(
        checked
            .out
            .contains("4 evaluations computed again and equal, 0 of"),
        "{}",
        checked.out
    );
    let pages = "SELECT row || published_at || revised_at FROM ranking ORDER BY unit_id";
    assert_eq!(
        bench.texts("brickbook-data", pages),
        bench.texts("new", pages)
    );

    // Once more: everything is there.
    let told = bench
        .call(&["import", "all/", "--data-dir", "new"])
        .succeeds();
    assert!(
        told.out
            .starts_with("new here: 0 units, 0 revisions, 0 evaluations, 0 photos, 0 raw logs")
    );
    bench.export_everything("new", "third");
    assert!(contents(&bench.path("third")) == first);
}

#[test]
fn a_file_of_revisions_comes_in_with_its_history() {
    let bench = whole();
    let lines = bench.call(&["export", "--all-revisions"]).succeeds().out;
    bench.write("all.jsonl", &lines);
    bench
        .call(&["import", "all.jsonl", "--data-dir", "new"])
        .succeeds();
    let again = bench
        .call(&["export", "--all-revisions", "--data-dir", "new"])
        .succeeds();
    assert_eq!(again.out, lines);
    // The raw log is not part of such a file: the figure that it bears out waits for it.
    let checked = bench.call(&["check", "--data-dir", "new"]).succeeds();
    assert!(
        checked.err.contains("which is not at hand"),
        "{}",
        checked.err
    );
    let plain = bench
        .call(&["import", "first.json", "--data-dir", "new"])
        .fails_with(2);
    assert!(
        plain.err.contains("`brickbook add` publishes it"),
        "{}",
        plain.err
    );
}

#[test]
fn what_is_missing_is_added_and_what_is_here_stays() {
    let bench = whole();
    bench.export_everything("brickbook-data", "all");
    bench.write("own.jsonl", &many_records(3));
    account(&bench, "other");
    bench
        .call(&["add", "own.jsonl", "--data-dir", "other"])
        .succeeds();
    let refused = bench
        .call(&["import", "all", "--data-dir", "other"])
        .fails_with(2);
    for slug in ["larkfield-lf-0", "larkfield-lf-1"] {
        let words = format!("revision 1 of {slug} is here and says something else");
        assert!(refused.err.contains(&words), "{}", refused.err);
    }
    assert_eq!(bench.number("other", "SELECT count(*) FROM unit"), 3);
    assert_eq!(bench.number("other", "SELECT count(*) FROM draft"), 0);
    assert!(!bench.path("other/logs").exists() || contents(&bench.path("other/logs")).is_empty());

    for model in ["lf-0", "lf-1"] {
        let sql = format!("DELETE FROM unit WHERE slug = 'larkfield-{model}'");
        bench.texts("other", &format!("PRAGMA foreign_keys = ON; {sql}"));
    }
    bench
        .call(&["import", "all", "--data-dir", "other"])
        .succeeds();
    assert_eq!(bench.number("other", "SELECT count(*) FROM unit"), 4);
    bench.call(&["check", "--data-dir", "other"]).succeeds();
    let places = bench.texts("other", "SELECT uid FROM candidate ORDER BY place");
    assert_eq!(places, ["0123456789abcdef-b", "0123456789abcdef-a"]);
}

#[test]
fn contradictions_are_told_by_name_and_nothing_is_written() {
    let bench = whole();
    bench.export_everything("brickbook-data", "all");
    for (sql, words) in [
        (
            "UPDATE candidate SET note = 'loud' WHERE id = 3",
            "the candidate Fernhill FH-65 is here",
        ),
        (
            "UPDATE suggestion SET why = '' WHERE id = 2",
            "the suggestion of Fernhill FH-65 is here",
        ),
        (
            "UPDATE draft SET fields = '{}'",
            "the draft of Ada begun at 2026-09-01",
        ),
        (
            "UPDATE log_layout SET headings = '[]'",
            "the layout \"my meter\" is here",
        ),
        (
            "INSERT INTO setting VALUES ('demo', '1')",
            "invented demonstration data",
        ),
        (
            "UPDATE unit SET slug = 'another' WHERE id = 2",
            "are those of another, which is here",
        ),
    ] {
        let bench_dir = tempfile::tempdir().unwrap();
        let data_dir = bench_dir.path().join("data");
        let data_dir = data_dir.to_str().unwrap();
        bench.call(&["backup", "now.zip"]).succeeds();
        bench
            .call(&["restore", "now.zip", "--data-dir", data_dir])
            .succeeds();
        fs::remove_file(bench.path("now.zip")).unwrap();
        bench.texts(data_dir, sql);
        let count = "SELECT (SELECT count(*) FROM unit) + (SELECT count(*) FROM draft)";
        let before = bench.number(data_dir, count);
        let refused = bench
            .call(&["import", "all", "--data-dir", data_dir])
            .fails_with(2);
        assert!(refused.err.contains(words), "{sql}: {}", refused.err);
        assert_eq!(bench.number(data_dir, count), before);
    }
}

#[test]
fn a_folder_that_was_changed_or_cut_is_refused_with_the_place() {
    let bench = whole();
    for (file, from, to, words) in [
        (
            "history.jsonl",
            "\"revision\":2",
            "\"revision\":3",
            "revision 3 of larkfield-lf-30w; expected revision 2",
        ),
        (
            "units.jsonl",
            "larkfield-lf-0",
            "../../lf-0",
            "expected small letters, digits and hyphens",
        ),
        (
            "queue.jsonl",
            "\"maker\":",
            "\"marker\":",
            "queue.jsonl: line 1: unknown field `marker`",
        ),
        (
            "suggestions.jsonl",
            "{\"number\":5",
            "",
            "suggestions.jsonl: line 2",
        ),
        (
            "drafts.jsonl",
            "\"number\":7",
            "\"number\":\"7\"",
            "drafts.jsonl: line 1",
        ),
        (
            "export.json",
            "brickbook-export/1",
            "brickbook-export/9",
            "expected \"brickbook-export/1\"",
        ),
        ("settings.json", "{", "[", "settings.json"),
        (
            "larkfield-lf-0.r1.json",
            "30",
            "\"x\"",
            "larkfield-lf-0 revision 1: ",
        ),
        (
            "larkfield-lf-1.evaluations.jsonl",
            "\"output_power_w\":",
            "\"outputs_power_w\":",
            "larkfield-lf-1 revision 1: evaluation: ",
        ),
        (
            "photos.jsonl",
            "\"created_at\":\"2",
            "\"created_at\":\"x2",
            "expected a time as",
        ),
        (
            "units.jsonl",
            "\"created_at\":\"2",
            "\"created_at\":\"02",
            "expected a time as",
        ),
    ] {
        let folder = format!("all-{}", file.replace('.', "-"));
        let _ = fs::remove_dir_all(bench.path(&folder));
        bench.export_everything("brickbook-data", &folder);
        let path = format!("{folder}/{file}");
        let text = bench.read(&path);
        assert!(text.contains(from), "{path}: {text}");
        bench.write(&path, &text.replacen(from, to, 1));
        let refused = bench
            .call(&["import", &folder, "--data-dir", "new", "--without-accounts"])
            .fails_with(2);
        assert!(refused.err.contains(words), "{file}: {}", refused.err);
        if bench.path("new/brickbook.db").exists() {
            assert_eq!(bench.number("new", "SELECT count(*) FROM unit"), 0);
            assert_eq!(bench.number("new", "SELECT count(*) FROM photo"), 0);
        }
    }
    // A line short, a file short, another picture.
    bench.export_everything("brickbook-data", "cut");
    let text = bench.read("cut/suggestions.jsonl");
    bench.write("cut/suggestions.jsonl", text.lines().next().unwrap());
    let refused = bench
        .call(&["import", "cut", "--data-dir", "new"])
        .fails_with(2);
    assert!(
        refused
            .err
            .contains("suggestions.jsonl has 1 lines; export.json says 2")
    );
    bench.write("cut/suggestions.jsonl", &text);
    let photo = contents(&bench.path("cut/photos"))
        .into_keys()
        .next()
        .unwrap();
    fs::write(
        bench.path("cut/photos").join(&photo),
        crate::photos::picture(91),
    )
    .unwrap();
    let refused = bench
        .call(&["import", "cut", "--data-dir", "new", "--without-accounts"])
        .fails_with(2);
    assert!(
        refused.err.contains("are not those that its name says"),
        "{}",
        refused.err
    );
    fs::remove_file(bench.path("cut/export.json")).unwrap();
    let refused = bench
        .call(&["import", "cut", "--data-dir", "new"])
        .fails_with(2);
    assert!(
        refused.err.contains("there is no export.json"),
        "{}",
        refused.err
    );
}

#[test]
fn accounts_that_are_not_here_are_named_and_may_be_left_out() {
    let bench = whole();
    bench.export_everything("brickbook-data", "all");
    let refused = bench
        .call(&["import", "all", "--data-dir", "new"])
        .fails_with(2);
    assert!(
        refused.err.contains("there is none here for Ada"),
        "{}",
        refused.err
    );
    let told = bench
        .call(&["import", "all", "--data-dir", "new", "--without-accounts"])
        .succeeds();
    assert!(told.err.contains("1 draft was left out"), "{}", told.err);
    assert_eq!(bench.number("new", "SELECT count(*) FROM unit"), 3);
    bench.call(&["check", "--data-dir", "new"]).succeeds();
    // No secret leaves in an export.
    let hash = &bench.texts("brickbook-data", "SELECT password_hash FROM operator")[0];
    for (name, bytes) in contents(&bench.path("all")) {
        let text = String::from_utf8_lossy(&bytes);
        assert!(!text.contains(hash.as_str()), "{name}");
    }
}

#[test]
fn an_export_does_not_mix_with_what_is_in_a_folder() {
    let bench = whole();
    fs::create_dir(bench.path("all")).unwrap();
    bench.write("all/mine.txt", "mine");
    let refused = bench
        .call(&["export", "--everything", "-o", "all"])
        .fails_with(2);
    assert!(refused.err.contains("is not empty"), "{}", refused.err);
    bench.call(&["export", "--everything"]).fails_with(2);
}

use crate::{Bench, files_in, many_records, sample};
use std::io::Read;

/// Three units, one of them revised twice, entered in several ways.
fn filled() -> Bench {
    let bench = Bench::new();
    let first =
        sample::record_text("Łark", "Größe \\\"30\\\"", Some("A")).replace("30,", "30.00 ,");
    bench.write("first.json", &first);
    bench.write(
        "second.json",
        &first
            .replace("0.05", "5.0e-2")
            .replace("19.9,", "19.90,")
            .replace("115.1", "115.3"),
    );
    bench.write("third.json", &first.replace("0.05", "0.07"));
    bench.write("lines.jsonl", &many_records(2));
    bench
        .call(&["add", "--author", "Ada \"A\"", "first.json", "lines.jsonl"])
        .succeeds();
    for file in ["second.json", "third.json"] {
        let answer = bench.call(&[
            "add",
            "--revise",
            "lark-groesse-30-a",
            "--reason",
            "again\nand again",
            file,
        ]);
        answer.succeeds();
    }
    bench
}

#[test]
fn an_export_added_to_an_empty_database_exports_the_same() {
    let bench = filled();
    for flags in [&["export"][..], &["export", "--all-revisions"]] {
        let name = format!("copy-{}", flags.len());
        let exported = bench.call(flags).succeeds().out;
        bench
            .call_with(&["add", "--data-dir", &name, "-"], &exported)
            .succeeds();
        let again = bench
            .call(&[flags, &["--data-dir", &name]].concat())
            .succeeds()
            .out;
        assert_eq!(again, exported);
        bench.assert_sound(&name);
        // Once more: everything is there already.
        let more = bench
            .call_with(&["add", "--data-dir", &name, "-"], &exported)
            .succeeds();
        assert!(
            more.out.lines().all(|line| line.contains("unchanged")),
            "{}",
            more.out
        );
    }
    let whole = |folder: &str| {
        let sql = "SELECT slug || number || author || reason || revision.created_at
                   FROM revision JOIN unit ON unit.id = unit_id ORDER BY revision.id";
        let mut all = bench.texts(folder, sql);
        all.sort();
        all
    };
    assert_eq!(whole("brickbook-data"), whole("copy-2"));
    assert_eq!(whole("copy-2").len(), 5);
}

#[test]
fn one_line_of_an_export_is_one_record_with_its_numbers_as_entered() {
    let bench = filled();
    let answer = bench.call(&["export"]).succeeds();
    let lines: Vec<_> = answer.out.lines().collect();
    assert_eq!(lines.len(), 3);
    assert!(
        lines[0].contains("\"output_power_w\":30.00,"),
        "{}",
        lines[0]
    );
    assert_eq!(
        &lines[1..],
        bench.read("lines.jsonl").lines().collect::<Vec<_>>()
    );
    assert!(answer.err.contains("exported 3 records"));
}

#[test]
fn a_folder_gets_one_file_a_unit_byte_for_byte() {
    let bench = filled();
    bench.call(&["export", "-o", "out/"]).succeeds();
    assert_eq!(
        files_in(&bench.path("out")),
        [
            "lark-groesse-30-a.json",
            "larkfield-lf-0.json",
            "larkfield-lf-1.json"
        ]
    );
    assert_eq!(
        bench.read("out/lark-groesse-30-a.json"),
        bench.read("third.json")
    );

    bench
        .call(&["export", "--all-revisions", "-o", "all/"])
        .succeeds();
    for (number, entered) in [(1, "first.json"), (2, "second.json"), (3, "third.json")] {
        assert_eq!(
            bench.read(&format!("all/lark-groesse-30-a.r{number}.json")),
            bench.read(entered)
        );
    }
    let history = bench.read("all/history.jsonl");
    let second: serde_json::Value = serde_json::from_str(history.lines().nth(1).unwrap()).unwrap();
    assert_eq!(
        (&second["revision"], &second["reason"]),
        (&2.into(), &"again\nand again".into())
    );
}

#[test]
fn a_file_gets_what_standard_output_would() {
    let bench = filled();
    bench.call(&["export", "-o", "out.jsonl"]).succeeds();
    assert_eq!(
        bench.read("out.jsonl"),
        bench.call(&["export", "-o", "-"]).succeeds().out
    );
    assert!(
        !files_in(bench.folder.path())
            .iter()
            .any(|name| name.contains("unfinished"))
    );
    let nowhere = bench
        .call(&["export", "-o", "nowhere/out.jsonl"])
        .fails_with(1);
    assert!(nowhere.err.contains("nowhere/out.jsonl"), "{}", nowhere.err);
}

#[test]
fn a_reader_that_leaves_early_is_no_failure() {
    let bench = Bench::new();
    bench.write("many.jsonl", &many_records(150));
    bench.call(&["add", "many.jsonl"]).succeeds();
    let mut child = bench.command(&["export"]).spawn().unwrap();
    let mut first = [0; 1];
    let mut out = child.stdout.take().unwrap();
    out.read_exact(&mut first).unwrap();
    drop(out);
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success(), "{output:?}");
}

#[test]
fn revisions_without_the_ones_before_them_are_refused() {
    let bench = filled();
    let exported = bench.call(&["export", "--all-revisions"]).succeeds().out;
    let second = exported.lines().nth(1).unwrap();
    let answer = bench
        .call_with(&["add", "--data-dir", "new", "-"], second)
        .fails_with(2);
    assert!(
        answer
            .err
            .contains("revision 1 of lark-groesse-30-a before it"),
        "{}",
        answer.err
    );
}

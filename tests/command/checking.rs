//! `check`: every kind of damage is found and named, and nothing else is.

use crate::{Bench, contents, whole};
use std::fs;

fn check(bench: &Bench) -> crate::Answer {
    bench.call(&["check"])
}

#[test]
fn a_whole_database_is_found_whole_and_nothing_in_it_is_changed() {
    let bench = whole();
    let before = fs::read(bench.path("brickbook-data/brickbook.db")).unwrap();
    let checked = check(&bench).succeeds();
    assert_eq!(
        checked.out,
        "3 units with 4 revisions, 4 evaluations computed again and equal, 0 of an earlier method, \
         1 photo and 1 raw log read\nall is whole\n"
    );
    assert_eq!(checked.err.matches("note:").count(), 0, "{}", checked.err);
    assert_eq!(
        fs::read(bench.path("brickbook-data/brickbook.db")).unwrap(),
        before
    );
}

#[test]
fn every_kind_of_damage_is_named() {
    // What is done to the database, and what the check says of it.
    for (sql, words) in [
        (
            "UPDATE photo SET jpeg = CAST(substr(jpeg, 1, 400) || x'00' || substr(jpeg, 402) AS BLOB)",
            "its bytes have SHA-256",
        ),
        (
            "UPDATE photo SET thumbnail = substr(thumbnail, 1, 200)",
            "its thumbnail cannot be read",
        ),
        ("UPDATE photo SET width_px = 91", "expected 91 by 60"),
        (
            "UPDATE evaluation SET document = replace(document, '19.9', '19.8') WHERE id = 1",
            "larkfield-lf-30w revision 1: evaluation: ",
        ),
        (
            "UPDATE evaluation SET score = 99.5 WHERE id = 2",
            "the score noted is Some(99.5)",
        ),
        (
            "UPDATE ranking SET row = replace(row, '\"output_power_w\":30', '\"output_power_w\":31') WHERE unit_id = 1",
            "larkfield-lf-30w: row of the ranking: output_power_w is 31.0, computed anew 30.0",
        ),
        (
            "DELETE FROM ranking WHERE unit_id = 2",
            "it is not in the ranking",
        ),
        (
            "UPDATE ranking SET revised_at = '2020-01-01T00:00:00.000Z' WHERE unit_id = 1",
            "the times in the ranking",
        ),
        (
            "UPDATE ranking SET revision_id = (SELECT min(id) FROM revision WHERE unit_id = 1),
                                evaluation_id = 1 WHERE unit_id = 1",
            "the ranking shows an earlier revision",
        ),
        (
            "UPDATE unit SET identity_key = 'x' WHERE id = 2",
            "are not those of its newest record",
        ),
        (
            "UPDATE revision SET number = 5 WHERE number = 2",
            "revision 2 is missing",
        ),
        ("DELETE FROM revision_log", "the logs noted are not those"),
        (
            "DELETE FROM revision_photo",
            "the photos noted are not those",
        ),
        ("UPDATE log_file SET size_bytes = 7", "expected 7"),
        (
            "PRAGMA foreign_keys = OFF; DROP TRIGGER operator_last_owner_is_not_deleted;
             DELETE FROM operator",
            "refers to something in operator that is not there",
        ),
    ] {
        let bench = whole();
        bench.texts("brickbook-data", sql);
        let found = check(&bench).fails_with(1);
        assert!(found.err.contains(words), "{sql}: {}", found.err);
        assert!(found.err.contains("found"), "{}", found.err);
    }
}

#[test]
fn damage_to_the_files_is_named_and_strangers_are_told_and_left_alone() {
    let bench = whole();
    let logs = bench.path("brickbook-data/logs");
    let name = contents(&logs)
        .into_keys()
        .find(|name| name.ends_with(".zst"))
        .unwrap();
    let path = logs.join(&name);
    let good = fs::read(&path).unwrap();

    fs::write(logs.join("notes.txt"), "mine").unwrap();
    let told = check(&bench).succeeds();
    assert!(
        told.err.contains("notes.txt lies among the logs"),
        "{}",
        told.err
    );
    assert!(logs.join("notes.txt").exists());

    let mut bad = good.clone();
    let middle = bad.len() / 2;
    bad[middle] ^= 4;
    fs::write(&path, &bad).unwrap();
    let found = check(&bench).fails_with(1);
    assert!(found.err.contains("log \"noload.csv\""), "{}", found.err);

    fs::remove_file(&path).unwrap();
    let found = check(&bench).fails_with(1);
    assert!(found.err.contains("its file is missing"), "{}", found.err);
    fs::write(&path, &good).unwrap();

    let db = bench.path("brickbook-data/brickbook.db");
    let whole_file = fs::read(&db).unwrap();
    let mut cut = whole_file.clone();
    let page = cut.len() / 2 / 4096 * 4096;
    cut[page..page + 4096].fill(0xff);
    fs::write(&db, &cut).unwrap();
    check(&bench).fails_with(1);
    fs::write(&db, &whole_file).unwrap();
    check(&bench).succeeds();
}

#[test]
fn evaluations_of_an_earlier_method_are_counted_until_they_are_renewed() {
    let bench = whole();
    bench.texts(
        "brickbook-data",
        "UPDATE evaluation SET engine = '0.2.0', document = replace(document, '19.9', '19.8')",
    );
    let told = check(&bench).succeeds();
    assert!(
        told.out
            .contains("0 evaluations computed again and equal, 4 of an earlier method")
    );
    bench.call(&["rescore"]).succeeds();
    let told = check(&bench).succeeds();
    assert!(
        told.out
            .contains("3 evaluations computed again and equal, 4 of an earlier method"),
        "{}",
        told.out
    );
}

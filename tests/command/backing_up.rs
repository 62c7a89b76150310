//! Copies of everything while others write, their way back, and those that the server makes by
//! itself.

use crate::{Bench, Running, contents, files_in, many_records, whole};
use rand::{RngExt, SeedableRng, rngs::StdRng};
use std::fs;
use std::path::Path;

fn exported(bench: &Bench, data_dir: &str, folder: &str) -> Vec<(String, Vec<u8>)> {
    bench.export_everything(data_dir, folder);
    contents(&bench.path(folder)).into_iter().collect()
}

#[test]
fn a_backup_brings_everything_back_accounts_too() {
    let bench = whole();
    let made = bench.call(&["backup", "monday.zip"]).succeeds();
    assert!(made.out.contains("3 units and 1 raw log"), "{}", made.out);
    bench
        .call(&["restore", "monday.zip", "--data-dir", "new/data"])
        .succeeds();
    assert_eq!(
        exported(&bench, "brickbook-data", "a"),
        exported(&bench, "new/data", "b")
    );
    for sql in [
        "SELECT name || password_hash FROM operator",
        "SELECT id || created_at FROM evaluation",
        "SELECT value FROM setting WHERE key = 'feed_id'",
    ] {
        assert_eq!(
            bench.texts("brickbook-data", sql),
            bench.texts("new/data", sql)
        );
    }
    let checked = bench.call(&["check", "--data-dir", "new/data"]).succeeds();
    assert!(checked.out.contains("all is whole"), "{}", checked.out);
    // An archive that other programs open, for its owner's eyes only.
    let listed = zip::ZipArchive::new(fs::File::open(bench.path("monday.zip")).unwrap()).unwrap();
    assert!(listed.file_names().any(|name| name == "brickbook.db.zst"));
    use std::os::unix::fs::PermissionsExt;
    for private in ["monday.zip", "new/data"] {
        let mode = fs::metadata(bench.path(private))
            .unwrap()
            .permissions()
            .mode();
        assert_eq!(mode & 0o077, 0, "{private}");
    }
}

#[test]
fn a_file_that_is_there_and_a_folder_that_is_not_are_refused_and_nothing_is_left() {
    let bench = whole();
    bench.write("there.zip", "mine");
    let taken = bench.call(&["backup", "there.zip"]).fails_with(2);
    assert!(taken.err.contains("is there already"), "{}", taken.err);
    assert_eq!(bench.read("there.zip"), "mine");
    let nowhere = bench.call(&["backup", "nowhere/a.zip"]).fails_with(1);
    assert!(nowhere.err.contains("nowhere"), "{}", nowhere.err);
    let unfinished = |name: &String| name.contains("unfinished") || name.starts_with(".brickbook");
    assert!(!files_in(bench.folder.path()).iter().any(unfinished));
}

#[test]
fn two_backups_are_never_made_at_once() {
    let bench = whole();
    let turn = fs::File::create(bench.path("brickbook-data/backup-turn")).unwrap();
    turn.lock().unwrap();
    let refused = bench.call(&["backup", "a.zip"]).fails_with(1);
    assert!(
        refused.err.contains("another backup of this data folder"),
        "{}",
        refused.err
    );
    assert!(!bench.path("a.zip").exists());
    drop(turn);
    bench.call(&["backup", "a.zip"]).succeeds();
}

#[test]
fn backups_made_while_others_write_hold_one_moment_each() {
    let bench = Bench::new();
    bench.write("first.jsonl", &many_records(3));
    bench.call(&["add", "first.jsonl"]).succeeds();
    bench.write("many.jsonl", &many_records(250));
    let mut writer = bench.command(&["add", "many.jsonl"]).spawn().unwrap();
    let mut units = Vec::new();
    for number in 0..4 {
        let archive = format!("{number}.zip");
        let folder = format!("data-{number}");
        bench.call(&["backup", &archive]).succeeds();
        bench
            .call(&["restore", &archive, "--data-dir", &folder])
            .succeeds();
        bench.assert_sound(&folder);
        units.push(bench.number(&folder, "SELECT count(*) FROM ranking"));
    }
    assert!(writer.wait().unwrap().success());
    assert!(units.is_sorted(), "{units:?}");
    assert!(units[0] >= 3 && units[3] <= 250, "{units:?}");
    bench.call(&["check", "--data-dir", "data-3"]).succeeds();
}

#[test]
fn what_was_changed_in_an_archive_is_never_restored() {
    let bench = whole();
    bench.call(&["backup", "good.zip"]).succeeds();
    bench
        .call(&["restore", "good.zip", "--data-dir", "good"])
        .succeeds();
    let expected = fs::read(bench.path("good/brickbook.db")).unwrap();
    let good = fs::read(bench.path("good.zip")).unwrap();
    let seed = rand::random();
    println!("seed {seed}");
    let mut chance = StdRng::seed_from_u64(seed);
    let mut refused = 0;
    for round in 0..24 {
        let mut bytes = good.clone();
        let place = chance.random_range(0..bytes.len());
        match round % 3 {
            0 => bytes.truncate(place),
            _ => bytes[place] ^= 1 << chance.random_range(0..8),
        }
        fs::write(bench.path("bad.zip"), &bytes).unwrap();
        let answer = bench.call(&["restore", "bad.zip", "--data-dir", "bad"]);
        match answer.code {
            // Fields of a ZIP that nobody reads, such as its times: the contents are whole.
            Some(0) => {
                assert_eq!(fs::read(bench.path("bad/brickbook.db")).unwrap(), expected);
                fs::remove_dir_all(bench.path("bad")).unwrap();
            }
            Some(1) => {
                refused += 1;
                assert!(answer.err.contains("bad.zip"), "{}", answer.err);
                assert!(!bench.path("bad/brickbook.db").exists());
            }
            _ => panic!("byte {place}: {answer:?}"),
        }
    }
    assert!(refused >= 16, "{refused}");
}

#[test]
fn nothing_is_replaced_without_being_asked_nor_while_a_server_runs() {
    let bench = whole();
    bench.call(&["backup", "old.zip"]).succeeds();
    bench.write("more.jsonl", &many_records(4));
    bench.call(&["add", "more.jsonl"]).succeeds();
    let units = |folder: &str| bench.number(folder, "SELECT count(*) FROM unit");

    let occupied = bench.call(&["restore", "old.zip"]).fails_with(2);
    assert!(occupied.err.contains("--replace"), "{}", occupied.err);

    let mut server = Running::start(&bench, &[]);
    let in_use = bench
        .call(&["restore", "old.zip", "--replace"])
        .fails_with(1);
    assert!(
        in_use.err.contains("is in use: stop the server"),
        "{}",
        in_use.err
    );
    server.kill();
    assert_eq!(units("brickbook-data"), 5);

    // A killed server holds nothing.
    let told = bench.call(&["restore", "old.zip", "--replace"]).succeeds();
    assert_eq!(units("brickbook-data"), 3);
    let aside = told.out.split("lies in ").nth(1).unwrap().trim();
    assert_eq!(units(aside), 5);
    bench.call(&["check"]).succeeds();
}

#[test]
fn a_program_without_our_lock_that_has_the_database_open_is_noticed_too() {
    let bench = whole();
    bench.call(&["backup", "old.zip"]).succeeds();
    let path = bench.path("brickbook-data/brickbook.db");
    let runtime = tokio::runtime::Runtime::new().unwrap();
    let mut other: sqlx::SqliteConnection = runtime.block_on(async {
        let url = format!("sqlite://{}", path.display());
        let mut other: sqlx::SqliteConnection =
            <sqlx::SqliteConnection as sqlx::Connection>::connect(&url)
                .await
                .unwrap();
        let units: i64 = sqlx::query_scalar("SELECT count(*) FROM unit")
            .fetch_one(&mut other)
            .await
            .unwrap();
        assert_eq!(units, 3);
        other
    });
    let in_use = bench
        .call(&["restore", "old.zip", "--replace"])
        .fails_with(1);
    assert!(in_use.err.contains("is in use"), "{}", in_use.err);
    let units: i64 = runtime.block_on(async {
        let units = sqlx::query_scalar("SELECT count(*) FROM unit");
        units.fetch_one(&mut other).await.unwrap()
    });
    assert_eq!(units, 3);
}

#[test]
fn a_damaged_database_does_not_hinder_its_replacement() {
    let bench = whole();
    bench.call(&["backup", "old.zip"]).succeeds();
    fs::write(
        bench.path("brickbook-data/brickbook.db"),
        vec![0x5a; 40_000],
    )
    .unwrap();
    bench.call(&["check"]).fails_with(1);
    bench.call(&["restore", "old.zip", "--replace"]).succeeds();
    bench.call(&["check"]).succeeds();
}

#[test]
fn a_restore_killed_at_any_moment_is_told_and_brought_to_its_end() {
    let bench = whole();
    bench.call(&["backup", "old.zip"]).succeeds();
    bench.write("more.jsonl", &many_records(4));
    bench.call(&["add", "more.jsonl"]).succeeds();
    let restore = ["restore", "old.zip", "--replace"];
    let began = std::time::Instant::now();
    bench.call(&restore).succeeds();
    let whole_run = began.elapsed();
    let seed = rand::random();
    println!("seed {seed}");
    let mut chance = StdRng::seed_from_u64(seed);
    let mut killed = 0;
    for _ in 0..12 {
        let mut child = bench.command(&restore).spawn().unwrap();
        std::thread::sleep(whole_run.mul_f64(chance.random_range(0.3..1.1)));
        killed += i32::from(child.kill().is_ok());
        child.wait().unwrap();
        let looked = bench.call(&["export"]);
        match looked.code {
            Some(0) => assert_eq!(looked.out.lines().count(), 3),
            _ => assert!(
                looked.err.contains("interrupted half-way"),
                "{}",
                looked.err
            ),
        }
    }
    assert!(killed > 0);
    // Between two renames, which no kill hits for certain.
    fs::rename(
        bench.path("brickbook-data/brickbook.db"),
        bench.path("brickbook-data/aside.db"),
    )
    .unwrap();
    fs::write(bench.path("brickbook-data/restore-under-way"), "").unwrap();
    for command in [&["export"][..], &["check"], &["add", "more.jsonl"]] {
        let told = bench.call(command).fails_with(1);
        assert!(told.err.contains("interrupted half-way"), "{}", told.err);
    }
    assert!(!bench.path("brickbook-data/brickbook.db").exists());
    bench.call(&restore).succeeds();
    let checked = bench.call(&["check"]).succeeds();
    assert!(checked.out.starts_with("3 units"), "{}", checked.out);
    let left = files_in(&bench.path("brickbook-data"));
    assert!(
        !left.iter().any(|name| name.starts_with("restoring-")),
        "{left:?}"
    );
}

fn zips(folder: &Path) -> Vec<String> {
    let mut names = files_in(folder);
    names.retain(|name| name.ends_with(".zip"));
    names
}

#[test]
fn the_server_makes_backups_by_itself_and_remembers_over_a_restart_when_the_next_is_due() {
    let bench = whole();
    let arguments = ["--backup-dir", "kept", "--backup-every-h", "6"];
    let mut server = Running::start(&bench, &arguments);
    server.until("made a backup");
    server.stop();
    let first = zips(&bench.path("kept"));
    assert_eq!(first.len(), 1);
    bench
        .call(&[
            "restore",
            &format!("kept/{}", first[0]),
            "--data-dir",
            "copy",
        ])
        .succeeds();
    bench.call(&["check", "--data-dir", "copy"]).succeeds();

    // Half an hour later nothing is due, seven hours later the next one is.
    let renamed = |hours: i64| {
        let made_at = time::OffsetDateTime::now_utc() - time::Duration::hours(hours);
        let names = zips(&bench.path("kept"));
        let (begin, _) = names[0].split_at(names[0].len() - "2026-09-01T120000Z.zip".len());
        let (date, time) = (made_at.date(), made_at.time());
        let name = format!(
            "{begin}{date}T{:02}{:02}{:02}Z.zip",
            time.hour(),
            time.minute(),
            time.second()
        );
        fs::rename(
            bench.path("kept").join(&names[0]),
            bench.path("kept").join(name),
        )
        .unwrap();
    };
    renamed(1);
    let server = Running::start(&bench, &arguments);
    std::thread::sleep(std::time::Duration::from_millis(300));
    assert!(!server.stop().contains("made a backup"));
    assert_eq!(zips(&bench.path("kept")).len(), 1);
    renamed(7);
    let mut server = Running::start(&bench, &arguments);
    server.until("made a backup");
    server.stop();
    assert_eq!(zips(&bench.path("kept")).len(), 2);
}

#[test]
fn a_backup_that_cannot_be_made_is_logged_and_the_server_goes_on() {
    let bench = whole();
    bench.write("kept", "a file, not a folder");
    let mut server = Running::start(&bench, &["--backup-dir", "kept"]);
    let line = server.until("no backup was made");
    assert!(line.contains("ERROR") && line.contains("kept"), "{line}");
    server.until_noted(&bench);
    server.stop();
    let outcome = bench.texts(
        "brickbook-data",
        "SELECT value FROM setting WHERE key = 'backup_outcome'",
    );
    assert!(outcome[0].contains("\"failure\":\"kept"), "{outcome:?}");
    bench.call(&["check"]).succeeds();
}

impl Running {
    /// Waits until the outcome of a backup stands in the database.
    fn until_noted(&self, bench: &Bench) {
        let sql = "SELECT count(*) FROM setting WHERE key = 'backup_outcome'";
        while bench.number("brickbook-data", sql) == 0 {
            std::thread::sleep(std::time::Duration::from_millis(20));
        }
    }
}

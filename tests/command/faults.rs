//! Disks that are full or read-only, damage to the write-ahead log, and programs and databases of
//! different age. After each the program starts, `check` finds all whole, and what was acknowledged
//! is there.

use crate::{Answer, Bench, Running, contents, files_in, many_records, whole};
use rand::{RngExt, SeedableRng, rngs::StdRng};
use std::collections::BTreeSet;
use std::fs;
use std::io::Write;
use std::process::{Command, Stdio};

/// Runs a script that may mount file systems of its own, which nobody else sees: as an ordinary
/// user through a user namespace. `None`, said loudly, where the system allows neither.
fn with_own_mounts(bench: &Bench, script: &str) -> Option<Answer> {
    let flags = ["-rm", "-m"].into_iter().find(|flags| {
        Command::new("unshare")
            .args([flags, "mount", "-t", "tmpfs", "tmpfs", "/mnt"])
            .stderr(Stdio::null())
            .status()
            .is_ok_and(|status| status.success())
    });
    let Some(flags) = flags else {
        // Not by a macro: the harness hides what those print when a test passes.
        let _ = writeln!(
            std::io::stderr(),
            "\n*** SKIPPED: this system lets nobody mount a file system (unshare -rm, unshare -m); \
             full and read-only disks were NOT tested\n"
        );
        return None;
    };
    let output = Command::new("unshare")
        .args([flags, "bash", "-euc", script])
        .env("BRICKBOOK", env!("CARGO_BIN_EXE_brickbook"))
        .current_dir(bench.folder.path())
        .stdin(Stdio::null())
        .output()
        .unwrap();
    Some(Answer::of(output))
}

fn slugs_in(text: &str) -> BTreeSet<String> {
    text.split_whitespace()
        .filter(|word| word.starts_with("larkfield-"))
        .map(str::to_owned)
        .collect()
}

#[test]
fn a_full_disk_stops_writing_with_its_name_and_loses_nothing() {
    let bench = Bench::new();
    bench.write("many.jsonl", &many_records(400));
    bench.write("noload.csv", &crate::logs::log(200_000));
    let script = r#"
        mkdir disk kept
        mount -t tmpfs -o size=3m tmpfs disk
        set +e
        "$BRICKBOOK" --data-dir disk/data add many.jsonl > added.txt 2> add.txt; echo $? > add.code
        "$BRICKBOOK" --data-dir disk/data backup disk/full.zip > backup.txt 2>&1; echo $? > backup.code
        "$BRICKBOOK" --data-dir disk/data import-log noload.csv > log.txt 2>&1; echo $? > log.code
        set -e
        ls -A disk > disk.txt
        cp -a disk/data kept/data
    "#;
    let Some(done) = with_own_mounts(&bench, script) else {
        return;
    };
    done.succeeds();
    assert_eq!(bench.read("add.code"), "1\n", "{}", bench.read("add.txt"));
    let told = bench.read("add.txt");
    assert!(
        told.contains("disk that holds the database is full"),
        "{told}"
    );
    for (what, file) in [("backup", "full.zip"), ("log", "")] {
        assert_eq!(bench.read(&format!("{what}.code")), "1\n");
        let told = bench.read(&format!("{what}.txt"));
        assert!(
            told.contains("No space left") || told.contains("full"),
            "{what}: {told}"
        );
        assert!(file.is_empty() || !bench.read("disk.txt").contains(file));
    }
    assert_eq!(bench.read("disk.txt"), "data\n");
    let acknowledged = slugs_in(&bench.read("added.txt"));
    assert!(!acknowledged.is_empty() && acknowledged.len() < 400);

    // With room again.
    let checked = bench.call(&["check", "--data-dir", "kept/data"]).succeeds();
    assert!(!checked.err.contains("note:"), "{}", checked.err);
    let stored = bench.texts("kept/data", "SELECT slug FROM unit");
    let stored: BTreeSet<String> = stored.into_iter().collect();
    let lost: Vec<_> = acknowledged.difference(&stored).collect();
    assert!(lost.is_empty(), "{lost:?}");
    bench
        .call(&["add", "many.jsonl", "--data-dir", "kept/data"])
        .succeeds();
    assert_eq!(
        bench.number("kept/data", "SELECT count(*) FROM ranking"),
        400
    );
}

#[test]
fn a_read_only_disk_is_named_as_such() {
    let bench = whole();
    let script = r#"
        mount --bind brickbook-data brickbook-data
        mount -o remount,bind,ro brickbook-data
        set +e
        for command in "add lines.jsonl" "serve --listen 127.0.0.1:0" "rescore" "export" "check" "backup b.zip"; do
            "$BRICKBOOK" $command > told.txt 2>&1 < /dev/null
            echo "$command: $? $(tr '\n' ' ' < told.txt)"
        done
        ls -A brickbook-data
    "#;
    let before = contents(&bench.path("brickbook-data"));
    let Some(done) = with_own_mounts(&bench, script) else {
        return;
    };
    let told = done.succeeds().out;
    for line in told.lines().filter(|line| line.contains(": ")) {
        assert!(line.contains(": 1 "), "{line}");
        assert!(
            line.contains("read-only") || line.contains("Read-only"),
            "{line}"
        );
    }
    assert_eq!(
        told.lines().filter(|line| line.contains(": 1 ")).count(),
        6,
        "{told}"
    );
    assert!(contents(&bench.path("brickbook-data")) == before);
    bench.call(&["check"]).succeeds();
}

/// A data folder with a write-ahead log that was not folded into the database, as a killed server
/// leaves it, and how many units were acknowledged.
fn left_by_a_kill() -> (Bench, i64) {
    let bench = Bench::new();
    let mut server = Running::start(&bench, &[]);
    bench.write("many.jsonl", &many_records(12));
    let added = bench.call(&["add", "many.jsonl"]).succeeds();
    assert_eq!(slugs_in(&added.out).len(), 12);
    server.kill();
    assert!(
        fs::metadata(bench.path("brickbook-data/brickbook.db-wal"))
            .unwrap()
            .len()
            > 100_000
    );
    (bench, 12)
}

#[test]
fn of_a_damaged_write_ahead_log_all_whole_transactions_before_the_damage_are_there() {
    let (bench, acknowledged) = left_by_a_kill();
    let left = contents(&bench.path("brickbook-data"));
    let wal = left["brickbook.db-wal"].clone();
    let seed = rand::random();
    println!("seed {seed}");
    let mut chance = StdRng::seed_from_u64(seed);
    let mut found = Vec::new();
    for round in 0..20 {
        let folder = format!("round-{round}");
        fs::create_dir(bench.path(&folder)).unwrap();
        let mut damaged = wal.clone();
        let place = chance.random_range(0..wal.len());
        match round {
            // As it is.
            0 => {}
            // The tail is missing.
            _ if round % 2 == 0 => damaged.truncate(place),
            // The tail is rubbish.
            _ => chance.fill(&mut damaged[place..]),
        }
        for (name, bytes) in &left {
            // The index is made anew from the log, as after a power cut.
            if !name.ends_with("-shm") && !name.ends_with("-wal") {
                fs::write(bench.path(&folder).join(name), bytes).unwrap();
            }
        }
        fs::write(bench.path(&folder).join("brickbook.db-wal"), &damaged).unwrap();
        // A log whose beginning is gone holds nothing: then there is no schema either.
        let opened = bench.call(&["export", "--data-dir", &folder]).succeeds();
        let checked = bench.call(&["check", "--data-dir", &folder]).succeeds();
        assert!(checked.out.contains("all is whole"), "{}", checked.out);
        let units = opened.out.lines().count() as i64;
        let whole = if round == 0 { wal.len() } else { place };
        found.push((whole, units));
    }
    assert_eq!(found[0].1, acknowledged, "undamaged, all is there");
    found.sort_unstable();
    assert!(
        found.is_sorted_by_key(|(_, units)| *units),
        "the later the damage, the more is there: {found:?}"
    );
}

#[test]
fn an_older_program_leaves_a_newer_database_alone_whatever_it_is_told() {
    let bench = whole();
    bench.call(&["backup", "now.zip"]).succeeds();
    bench.texts(
        "brickbook-data",
        "INSERT INTO _sqlx_migrations (version, description, success, checksum, execution_time)
         VALUES (9999, 'of tomorrow', 1, x'00', 1)",
    );
    bench.call_with(&["user", "list"], "").fails_with(1);
    let before = contents(&bench.path("brickbook-data"));
    for command in [
        &["serve", "--listen", "127.0.0.1:0"][..],
        &["add", "lines.jsonl"],
        &["export"],
        &["check"],
        &["rescore"],
        &["backup", "later.zip"],
    ] {
        let refused = bench.call(command).fails_with(1);
        let words =
            "was written by a newer version of brickbook (schema 9999, this program knows up to";
        assert!(refused.err.contains(words), "{command:?}: {}", refused.err);
    }
    let after = contents(&bench.path("brickbook-data"));
    assert_eq!(before["brickbook.db"], after["brickbook.db"]);
    assert!(!files_in(bench.folder.path()).contains(&"later.zip".to_owned()));
    // The way out that the message names.
    bench.call(&["restore", "now.zip", "--replace"]).succeeds();
    bench.call(&["check"]).succeeds();
}

#[test]
fn writes_wait_for_another_process_and_then_say_that_it_is_busy() {
    let bench = whole();
    let runtime = tokio::runtime::Runtime::new().unwrap();
    let path = bench.path("brickbook-data/brickbook.db");
    let mut other: sqlx::SqliteConnection = runtime.block_on(async {
        let url = format!("sqlite://{}", path.display());
        let mut other: sqlx::SqliteConnection =
            <sqlx::SqliteConnection as sqlx::Connection>::connect(&url)
                .await
                .unwrap();
        sqlx::query("BEGIN IMMEDIATE")
            .execute(&mut other)
            .await
            .unwrap();
        other
    });
    // Neither reading, checking nor a backup needs the lock.
    bench.call(&["check"]).succeeds();
    bench.call(&["backup", "meanwhile.zip"]).succeeds();
    bench.write("more.jsonl", &many_records(4));
    let busy = bench.call(&["add", "more.jsonl"]).fails_with(1);
    assert!(
        busy.err.contains("another process is writing to it"),
        "{}",
        busy.err
    );
    runtime.block_on(async {
        sqlx::query("ROLLBACK").execute(&mut other).await.unwrap();
        sqlx::Connection::close(other).await.unwrap();
    });
    bench.call(&["add", "more.jsonl"]).succeeds();
    bench.call(&["check"]).succeeds();
}

#[test]
fn another_process_may_read_the_write_ahead_log_and_fold_it_while_we_write() {
    use sqlx::Connection;
    let bench = Bench::new();
    let mut server = Running::start(&bench, &[]);
    bench.write("many.jsonl", &many_records(120));
    let path = bench.path("brickbook-data/brickbook.db");
    let url = format!("sqlite://{}", path.display());
    let mut writer = bench.command(&["add", "many.jsonl"]).spawn().unwrap();
    let runtime = tokio::runtime::Runtime::new().unwrap();
    runtime.block_on(async {
        // What replicating tools do: hold a reading transaction so that the log is not begun anew,
        // copy its frames, fold it into the database themselves, and begin again.
        let mut reader = sqlx::SqliteConnection::connect(&url).await.unwrap();
        let mut folder = sqlx::SqliteConnection::connect(&url).await.unwrap();
        while writer.try_wait().unwrap().is_none() {
            sqlx::query("BEGIN").execute(&mut reader).await.unwrap();
            let before: i64 = sqlx::query_scalar("SELECT count(*) FROM unit")
                .fetch_one(&mut reader)
                .await
                .unwrap();
            let frames = fs::read(path.with_extension("db-wal")).unwrap();
            assert!(
                frames.is_empty() || frames[..3] == [0x37, 0x7f, 0x06],
                "no write-ahead log"
            );
            tokio::time::sleep(std::time::Duration::from_millis(15)).await;
            let after: i64 = sqlx::query_scalar("SELECT count(*) FROM unit")
                .fetch_one(&mut reader)
                .await
                .unwrap();
            assert_eq!(before, after, "a reading transaction sees one state");
            sqlx::query("COMMIT").execute(&mut reader).await.unwrap();
            for mode in ["PASSIVE", "RESTART", "TRUNCATE"] {
                let sql = format!("PRAGMA wal_checkpoint({mode})");
                sqlx::query(sqlx::AssertSqlSafe(sql))
                    .fetch_all(&mut folder)
                    .await
                    .unwrap();
            }
        }
        let settings: (String, i64, i64) = (
            sqlx::query_scalar("PRAGMA journal_mode")
                .fetch_one(&mut reader)
                .await
                .unwrap(),
            sqlx::query_scalar("PRAGMA page_size")
                .fetch_one(&mut reader)
                .await
                .unwrap(),
            sqlx::query_scalar("SELECT count(*) FROM ranking")
                .fetch_one(&mut reader)
                .await
                .unwrap(),
        );
        assert_eq!(settings, ("wal".to_owned(), 4096, 120));
    });
    assert!(writer.wait().unwrap().success());
    server.kill();
    bench.call(&["check"]).succeeds();
}

#[test]
fn an_upgrade_killed_at_any_moment_is_made_at_the_next_start() {
    let bench = Bench::new();
    let archive = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/tests/storage/schemas/schema-2.zip"
    );
    bench
        .call(&["restore", archive, "--data-dir", "old"])
        .succeeds();
    let old = contents(&bench.path("old"));
    let earlier = bench.call(&["check", "--data-dir", "old"]).fails_with(1);
    assert!(
        earlier.err.contains("was written by an earlier version"),
        "{}",
        earlier.err
    );
    let records = "SELECT record FROM revision ORDER BY id";
    let expected = bench.texts("old", records);
    let newest = brickbook::storage::db::newest_schema();
    let schema = "SELECT max(version) FROM _sqlx_migrations";

    let began = std::time::Instant::now();
    bench
        .call(&["user", "list", "--data-dir", "old"])
        .succeeds();
    let whole_run = began.elapsed();
    assert_eq!(bench.number("old", schema), newest);
    let seed = rand::random();
    println!("seed {seed}");
    let mut chance = StdRng::seed_from_u64(seed);
    let mut before = 0;
    for round in 0..40 {
        let folder = format!("round-{round}");
        fs::create_dir(bench.path(&folder)).unwrap();
        for (name, bytes) in &old {
            if !name.contains('/') {
                fs::write(bench.path(&folder).join(name), bytes).unwrap();
            }
        }
        let mut child = bench
            .command(&["user", "list", "--data-dir", &folder])
            .spawn()
            .unwrap();
        std::thread::sleep(whole_run.mul_f64(chance.random_range(0.0..1.0)));
        let _ = child.kill();
        child.wait().unwrap();
        // All of it or nothing of it.
        let found = bench.number(&folder, schema);
        assert!(
            found == 2 || found == newest,
            "round {round}: schema {found}"
        );
        before += i32::from(found == 2);
        bench
            .call(&["user", "list", "--data-dir", &folder])
            .succeeds();
        assert_eq!(bench.number(&folder, schema), newest);
        assert_eq!(bench.texts(&folder, records), expected);
        bench.assert_sound(&folder);
    }
    assert!(before > 0, "no kill came before the upgrade was made");
    bench.call(&["rescore", "--data-dir", "round-0"]).succeeds();
    bench.call(&["check", "--data-dir", "round-0"]).succeeds();
}

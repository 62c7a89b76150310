//! Each thing that may be wrong with an installation is brought about and must be found.

use crate::{Bench, Running, sample};
use serde_json::Value;
use std::io::{Seek, SeekFrom, Write};

/// On a port of its own choice: the usual one may be in use where the tests run.
const CALL: [&str; 4] = ["doctor", "--json", "--listen", "127.0.0.1:0"];

/// Findings of that grade, as `what` texts. The exit code must follow from them.
fn found(bench: &Bench, grade: &str, arguments: &[&str]) -> Vec<String> {
    let answer = bench.call(&[&CALL[..], arguments].concat());
    let report: Value = serde_json::from_str(&answer.out).unwrap_or_else(|cause| {
        panic!("{cause}: {answer:#?}");
    });
    let findings = report["findings"].as_array().unwrap();
    for finding in findings {
        for text in ["what", "why", "to_do"] {
            assert!(finding[text].as_str().unwrap().len() > 10, "{finding}");
        }
    }
    let faults = findings.iter().filter(|f| f["grade"] == "fault").count();
    assert_eq!(answer.code, Some(i32::from(faults > 0)), "{answer:#?}");
    findings
        .iter()
        .filter(|f| f["grade"] == grade)
        .map(|f| f["what"].as_str().unwrap().to_owned())
        .collect()
}

#[track_caller]
fn only_fault(bench: &Bench, arguments: &[&str], part: &str) {
    let faults = found(bench, "fault", arguments);
    assert_eq!(faults.len(), 1, "{faults:#?}");
    assert!(faults[0].contains(part), "{faults:#?}");
}

#[track_caller]
fn advises(bench: &Bench, arguments: &[&str], part: &str) {
    let advice = found(bench, "advice", arguments);
    assert!(advice.iter().any(|a| a.contains(part)), "{advice:#?}");
}

/// A sound installation with one unit and an operator.
fn sound() -> Bench {
    let bench = Bench::new();
    bench.write("a.json", &sample::record_text("Larkfield", "LF-30", None));
    bench.call(&["add", "a.json"]).succeeds();
    let add = ["user", "add", "Ada", "--password-stdin"];
    bench.call_with(&add, "correct horse battery\n").succeeds();
    bench
}

fn change(bench: &Bench, sql: &str) {
    bench.texts("brickbook-data", sql);
}

#[test]
fn a_sound_installation_has_no_fault_and_is_left_as_it_is() {
    let bench = sound();
    let database = bench.path("brickbook-data").join("brickbook.db");
    let before = std::fs::read(&database).unwrap();
    assert_eq!(found(&bench, "fault", &[]), [""; 0]);
    let advice = found(&bench, "advice", &[]);
    for never in ["older method", "no operator", "mode", "WAL", "schema"] {
        assert!(!advice.iter().any(|a| a.contains(never)), "{advice:#?}");
    }
    assert_eq!(std::fs::read(&database).unwrap(), before);
    let words = bench
        .call(&["doctor", "--listen", "127.0.0.1:0"])
        .succeeds();
    for part in ["No fault was found.", "data folder", "units", "clock"] {
        assert!(words.out.contains(part), "{part}: {}", words.out);
    }
}

#[test]
fn findings_say_what_why_and_what_to_do() {
    let bench = Bench::new();
    let answer = bench
        .call(&["doctor", "--listen", "127.0.0.1:0"])
        .fails_with(1);
    for part in ["FAULT: there is no folder", "  why:   ", "  to do: "] {
        assert!(answer.out.contains(part), "{part}: {}", answer.out);
    }
    assert!(answer.err.contains("1 fault found"), "{}", answer.err);
}

#[test]
fn settings_at_fault_are_told_with_where_they_come_from() {
    let bench = sound();
    bench.write(
        "brickbook.toml",
        "shared_cache_s = 99999\nsite_name = \"Ada\"\nlissten = \"x\"\n",
    );
    let faults = found(&bench, "fault", &[]);
    assert_eq!(faults.len(), 2, "{faults:#?}");
    let all = faults.join("\n");
    assert!(
        all.contains("unknown setting lissten") && all.contains("shared_cache_s in brickbook.toml")
    );
    let words = bench.call(&["doctor", "--listen", "127.0.0.1:0"]).out;
    assert!(words.contains("Ada (from brickbook.toml)"), "{words}");
}

#[test]
fn a_missing_folder_or_database_is_a_fault() {
    let bench = Bench::new();
    only_fault(&bench, &[], "there is no folder");
    std::fs::create_dir(bench.path("brickbook-data")).unwrap();
    only_fault(&bench, &[], "there is no database in");
    bench.write("file", "x");
    only_fault(&bench, &["--data-dir", "file"], "is not a folder");
}

#[cfg(unix)]
#[test]
fn a_folder_that_others_may_enter_is_told() {
    use std::os::unix::fs::PermissionsExt;
    let bench = sound();
    let folder = bench.path("brickbook-data");
    std::fs::set_permissions(&folder, std::fs::Permissions::from_mode(0o755)).unwrap();
    advises(&bench, &[], "mode 755");
}

#[test]
fn files_that_are_no_database_of_ours_are_faults() {
    let bench = sound();
    let database = bench.path("brickbook-data").join("brickbook.db");
    std::fs::write(
        &database,
        "not a database, but some text of a certain length",
    )
    .unwrap();
    only_fault(&bench, &[], "cannot be read");
    std::fs::remove_file(&database).unwrap();
    std::fs::File::create(&database).unwrap();
    change(&bench, "CREATE TABLE other (id INTEGER)");
    let faults = found(&bench, "fault", &[]);
    assert!(faults[0].contains("of another program"), "{faults:#?}");
}

#[test]
fn the_schema_of_another_version_is_told() {
    let bench = sound();
    change(
        &bench,
        "INSERT INTO _sqlx_migrations (version, description, success, checksum, execution_time)
         VALUES (9999, 'later', 1, x'00', 0)",
    );
    only_fault(&bench, &[], "schema 9999");
    change(&bench, "DELETE FROM _sqlx_migrations WHERE version > 1");
    advises(&bench, &[], "has schema 1, and this program makes it");
}

#[test]
fn damage_is_found() {
    let bench = sound();
    let place = "SELECT (rootpage - 1) * (SELECT page_size FROM pragma_page_size)
                 FROM sqlite_schema WHERE name = 'ranking'";
    let place = bench.number("brickbook-data", place);
    let database = bench.path("brickbook-data").join("brickbook.db");
    let mut file = std::fs::OpenOptions::new()
        .write(true)
        .open(&database)
        .unwrap();
    file.seek(SeekFrom::Start(place as u64)).unwrap();
    file.write_all(&[0xff; 512]).unwrap();
    drop(file);
    only_fault(&bench, &[], "the database is damaged");
}

#[test]
fn rows_that_refer_to_nothing_are_found() {
    let bench = sound();
    change(
        &bench,
        "PRAGMA foreign_keys = OFF; DELETE FROM evaluation; PRAGMA foreign_keys = ON",
    );
    only_fault(&bench, &[], "1 row refers to something that is not there");
}

#[test]
fn another_journal_mode_and_a_log_that_grew_are_told() {
    let bench = sound();
    change(&bench, "PRAGMA journal_mode = DELETE");
    advises(&bench, &[], "the journal mode is delete");
    let wal = bench.path("brickbook-data").join("brickbook.db-wal");
    let file = std::fs::File::create(&wal).unwrap();
    file.set_len(70_000_000).unwrap();
    advises(&bench, &[], "the write-ahead log has grown to 70 MB");
}

#[test]
fn who_locks_the_database_is_named() {
    let bench = sound();
    let path = bench.path("brickbook-data").join("brickbook.db");
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .unwrap();
    runtime.block_on(async {
        let options = sqlx::sqlite::SqliteConnectOptions::new().filename(path);
        let pool = sqlx::SqlitePool::connect_with(options).await.unwrap();
        let held = pool.begin_with("BEGIN IMMEDIATE").await.unwrap();
        let faults = found(&bench, "fault", &[]);
        assert_eq!(faults.len(), 1, "{faults:#?}");
        assert!(faults[0].contains("locked"), "{faults:#?}");
        let own = format!("process {}", std::process::id());
        if cfg!(target_os = "linux") {
            assert!(faults[0].contains(&own), "{own}: {faults:#?}");
        }
        held.rollback().await.unwrap();
        pool.close().await;
    });
    assert_eq!(found(&bench, "fault", &[]), [""; 0]);
}

#[test]
fn a_clock_that_goes_behind_what_was_published_is_a_fault() {
    let bench = sound();
    change(
        &bench,
        "UPDATE ranking SET revised_at = '29' || substr(revised_at, 3)",
    );
    only_fault(&bench, &[], "and the last publication was at 29");
}

#[test]
fn raw_logs_that_are_gone_cut_or_unknown_are_told() {
    let bench = sound();
    let mut rows = "time s,input power W\n".to_owned();
    for second in 0..600 {
        rows += &format!("{second},0.0{}\n", 50 + second % 7);
    }
    bench.write("noload.csv", &rows);
    bench.call(&["import-log", "noload.csv"]).succeeds();
    assert_eq!(found(&bench, "fault", &[]), [""; 0]);
    let sha256 = bench.texts("brickbook-data", "SELECT sha256 FROM log_file");
    let logs = bench.path("brickbook-data").join("logs");
    let file = logs
        .join(&sha256[0][..2])
        .join(format!("{}.zst", sha256[0]));
    let bytes = std::fs::read(&file).unwrap();
    std::fs::write(&file, &bytes[..bytes.len() / 2]).unwrap();
    only_fault(&bench, &[], "1 raw log has another size");
    std::fs::remove_file(&file).unwrap();
    only_fault(&bench, &[], "1 raw log is not in");
    std::fs::write(&file, &bytes).unwrap();
    let stray = logs.join("00");
    std::fs::create_dir_all(&stray).unwrap();
    std::fs::write(stray.join(format!("{}.zst", "0".repeat(64))), "x").unwrap();
    advises(&bench, &[], "1 raw log lies in");
}

#[test]
fn units_of_another_method_and_a_house_without_operator_are_told() {
    let bench = sound();
    advises(
        &bench,
        &["--score-line", "230/50"],
        "1 unit shows an evaluation by an older method",
    );
    change(
        &bench,
        "DROP TRIGGER operator_last_owner_is_not_deleted; DELETE FROM operator",
    );
    advises(&bench, &[], "there is no operator");
}

#[test]
fn a_port_is_free_or_served_from_here_or_taken_by_somebody_who_is_named() {
    let bench = sound();
    let taken = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let address = taken.local_addr().unwrap().to_string();
    let answer = bench.call(&["doctor", "--listen", &address]).fails_with(1);
    assert!(answer.out.contains("is in use by"), "{}", answer.out);
    if cfg!(target_os = "linux") {
        let own = format!("process {}", std::process::id());
        assert!(answer.out.contains(&own), "{own}: {}", answer.out);
    }
    drop(taken);

    let server = Running::start(&bench, &[]);
    let address = server.address.clone();
    let answer = bench.call(&["doctor", "--listen", &address]).succeeds();
    assert!(answer.out.contains("served by process"), "{}", answer.out);
    server.tell_to_stop();
    server.ended();
    let answer = bench.call(&["doctor", "--listen", &address]).succeeds();
    assert!(answer.out.contains("free"), "{}", answer.out);
}

const KEPT: [&str; 2] = ["--backup-dir", "kept"];

/// What is told of the thing, in words.
fn fact(bench: &Bench, thing: &str) -> String {
    let answer = bench.call(&[&CALL[..], &KEPT].concat());
    let report: Value = serde_json::from_str(&answer.out).unwrap();
    let facts = report["facts"].as_array().unwrap();
    let found = facts.iter().find(|fact| fact[0] == thing);
    found
        .map_or("", |fact| fact[1].as_str().unwrap())
        .to_owned()
}

/// Has the server make a backup, and gives its name.
fn backed_up(bench: &Bench) -> String {
    let mut server = Running::start(bench, &KEPT);
    server.until("made a backup");
    // Nor is it stopped before it has noted that.
    let sql = "SELECT count(*) FROM setting
               WHERE key = 'backup_outcome' AND value LIKE '%\"failure\":null%'";
    while bench.number("brickbook-data", sql) == 0 {
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    server.stop();
    let names = crate::files_in(&bench.path("kept"));
    names.last().unwrap().clone()
}

#[test]
fn backups_that_are_made_are_read_and_told_with_age_and_size() {
    let bench = sound();
    advises(&bench, &[], "backup_dir is not set");
    only_fault(&bench, &KEPT, "no backup has been made in");
    let name = backed_up(&bench);
    assert_eq!(found(&bench, "fault", &KEPT), [""; 0]);
    // The folder of this test is on one disk.
    advises(&bench, &KEPT, "kept is on the same disk as the data");
    let told = fact(&bench, "newest backup");
    for part in [
        name.as_str(),
        " s old, ",
        " MB, whole, with 1 unit and 0 raw logs",
    ] {
        assert!(told.contains(part), "{part}: {told}");
    }
    assert!(fact(&bench, "backups").starts_with("1 in /"));
    let advice = found(&bench, "advice", &KEPT);
    assert!(!advice.iter().any(|a| a.contains("backup_dir is not set")));
}

#[test]
fn a_backup_that_is_late_damaged_or_gone_is_a_fault() {
    let bench = sound();
    let first = bench.path("kept").join(backed_up(&bench));
    // As if it were from long ago: only the name says when it was made.
    let name = first.file_name().unwrap().to_str().unwrap();
    const LONG_AGO: &str = "2020-09-01T120000Z.zip";
    let (begin, _) = name.split_at(name.len() - LONG_AGO.len());
    let old = bench.path("kept").join(format!("{begin}{LONG_AGO}"));
    std::fs::rename(&first, &old).unwrap();
    only_fault(&bench, &KEPT, "old; one is due every 24 h");

    // The server finds it late, too, and makes the next.
    let second = bench.path("kept").join(backed_up(&bench));
    assert_eq!(found(&bench, "fault", &KEPT), [""; 0]);
    let whole = std::fs::read(&second).unwrap();
    std::fs::write(&second, &whole[..whole.len() / 2]).unwrap();
    only_fault(&bench, &KEPT, "is not whole");
    let mut changed = whole.clone();
    changed[whole.len() / 2] ^= 1;
    std::fs::write(&second, &changed).unwrap();
    let words = bench.call(&[&CALL[..1], &CALL[2..], &KEPT].concat()).out;
    assert!(words.contains("was changed"), "{words}");
    let instead = format!("of the older ones {} is whole", old.display());
    assert!(words.contains(&instead), "{instead}: {words}");

    std::fs::remove_file(&second).unwrap();
    std::fs::remove_file(&old).unwrap();
    only_fault(&bench, &KEPT, "though one was made at");
    std::fs::remove_dir(bench.path("kept")).unwrap();
    only_fault(&bench, &KEPT, "though one was made at");
    bench.write("kept", "a file");
    only_fault(&bench, &KEPT, "kept is not a folder");
}

#[test]
fn backups_that_fail_are_a_fault_with_their_cause() {
    let bench = sound();
    bench.write("kept", "a file");
    let mut server = Running::start(&bench, &KEPT);
    server.until("no backup was made");
    let sql = "SELECT count(*) FROM setting WHERE key = 'backup_outcome'";
    while bench.number("brickbook-data", sql) == 0 {
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    server.stop();
    std::fs::remove_file(bench.path("kept")).unwrap();
    only_fault(&bench, &KEPT, "the last backup failed at 2");
    backed_up(&bench);
    assert_eq!(found(&bench, "fault", &KEPT), [""; 0]);
}

#[test]
fn where_the_database_is_lost_the_newest_backup_is_told_all_the_same() {
    let bench = sound();
    let name = backed_up(&bench);
    std::fs::write(bench.path("brickbook-data/brickbook.db"), [0x5a; 40_000]).unwrap();
    only_fault(&bench, &KEPT, "the database cannot be read");
    let told = fact(&bench, "newest backup");
    assert!(told.contains(&name) && told.contains("whole"), "{told}");
}

//! The database and the raw logs beside it.

use super::Report;
use crate::config::Config;
use crate::host;
use crate::intake::rescore;
use crate::quantity::words::counted;
use crate::storage::db::newest_schema;
use crate::storage::inspection::{self, Contents, Inspection, Kind};
use crate::storage::{self, Db};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::time::Duration;
use time::OffsetDateTime;
use time::format_description::well_known::Rfc3339;

/// A write-ahead log is folded into the file from about 4 MB on (SQLite's default of 1,000 pages)
/// and cut to 16 MB then; one this large was not folded for long.
const LARGE_WAL_BYTES: u64 = 64_000_000;

/// So long a writer may take; `serve` itself waits for 10 s.
const PATIENCE: Duration = Duration::from_secs(3);

/// Bytes of `-shm` and of the file by which SQLite marks who writes ("WAL-mode File Format", 2.3,
/// and "File Locking And Concurrency", as `os_unix.c` places them).
const WAL_WRITE_LOCK: u64 = 120;
const PENDING_LOCK: u64 = 0x4000_0000;

/// Looks at a database that is there.
pub async fn look(config: &Config, now: OffsetDateTime, report: &mut Report) {
    let path = config.database_path();
    report.fact("database", size(&path));
    // Before anybody opens it: whoever closes a database last may fold the log into it.
    wal(&beside(&path, "-wal"), report);
    let inspection = match inspection::inspect(&path).await {
        Ok(inspection) => inspection,
        Err(cause) => {
            report.fault(
                format!("the database cannot be read: {cause}"),
                "it is not a SQLite database, or this user may not read it; the program does not start with it",
                "call as the user that serves; if the file itself is damaged, restore a backup",
            );
            return;
        }
    };
    of_file(&inspection, report);
    lock(&path, report).await;
    if inspection.is_current() && inspection.damage.is_empty() {
        let found = match Db::open_read_only(&path).await {
            Ok(db) => {
                let found = of_contents(&db, config, now, report).await;
                db.close().await;
                found
            }
            Err(cause) => Err(cause),
        };
        if let Err(cause) = found {
            report.fault(
                format!("the rows of the database cannot be read: {cause}"),
                "pages that need them fail",
                "restore a backup, or report this with the text above",
            );
        }
    }
}

fn of_file(inspection: &Inspection, report: &mut Report) {
    let known = newest_schema();
    match inspection.kind {
        Kind::Empty => report.fact("schema", "none yet"),
        Kind::Foreign => report.fault(
            "the database is of another program",
            "this program leaves it alone and does not start",
            "set data_dir to a folder of Brickbook's own",
        ),
        Kind::Ours(schema) => {
            report.fact("schema", format!("{schema}; this program knows {known}"));
            if schema > known {
                report.fault(
                    format!(
                        "the database has schema {schema}, and this program knows up to {known}"
                    ),
                    "a newer version of the program has been here; this one does not start",
                    "start the newer version, or restore a backup from before the upgrade",
                );
            } else if schema < known {
                report.advice(
                    format!("the database has schema {schema}, and this program makes it {known} at its next start"),
                    "an older version of the program cannot read it afterwards",
                    "make a backup before the first start of the new version",
                );
            }
        }
    }
    if !inspection.damage.is_empty() {
        report.fault(
            format!("the database is damaged: {}", inspection.damage.join("; ")),
            "records may be lost or wrong, and it may get worse",
            "stop the program, keep a copy of the folder as it is, and restore the newest sound backup",
        );
    }
    if inspection.dangling > 0 {
        let rows = counted(inspection.dangling as usize, "row refers", "rows refer");
        report.fault(
            format!("{rows} to something that is not there"),
            "pages that need it fail; another program has probably written to the database",
            "restore a backup, or take the records out with `brickbook export` and add them to a new database",
        );
    }
    if !inspection.journal_mode.eq_ignore_ascii_case("wal") && inspection.kind != Kind::Empty {
        report.advice(
            format!("the journal mode is {}, not WAL", inspection.journal_mode),
            "readers wait for writers until the program has set it again at its start; another program has changed it",
            "start Brickbook, and let no other program write to its database",
        );
    }
}

fn wal(path: &Path, report: &mut Report) {
    let bytes = std::fs::metadata(path).map_or(0, |file| file.len());
    report.fact("write-ahead log", format!("{} kB", bytes.div_ceil(1000)));
    if bytes >= LARGE_WAL_BYTES {
        report.advice(
            format!("the write-ahead log has grown to {} MB", bytes / 1_000_000),
            "it is folded into the database only when nobody reads an older state: some program keeps a transaction open",
            "end other programs that have the database open, or start Brickbook anew",
        );
    }
}

async fn lock(path: &Path, report: &mut Report) {
    match inspection::try_to_write(path, PATIENCE).await {
        Ok(()) => report.fact("writing", "possible"),
        Err(storage::Error::Busy) => {
            let holders = writers(path);
            let who = if holders.is_empty() {
                "another process".to_owned()
            } else {
                holders.into_iter().collect::<Vec<_>>().join(", ")
            };
            report.fault(
                format!(
                    "the database has been locked for {} s by {who}",
                    PATIENCE.as_secs()
                ),
                "nothing can be saved meanwhile, and those who try are told that it is busy",
                "let it finish if it is a long import or rescore; else end that process: what it had not committed is undone",
            );
        }
        Err(cause) => report.fault(
            format!("the database cannot be written to: {cause}"),
            "nothing can be saved",
            "give the user that serves the right to write to the folder and all files in it",
        ),
    }
}

/// Processes that hold the lock of a writer.
fn writers(path: &Path) -> BTreeSet<String> {
    let by_wal = host::held(&beside(path, "-shm"))
        .into_iter()
        .filter(|held| held.exclusive && held.covers(WAL_WRITE_LOCK));
    let by_file = host::held(path)
        .into_iter()
        .filter(|held| held.exclusive && held.from >= PENDING_LOCK);
    by_wal
        .chain(by_file)
        .map(|held| held.by.to_string())
        .collect()
}

async fn of_contents(
    db: &Db,
    config: &Config,
    now: OffsetDateTime,
    report: &mut Report,
) -> Result<(), storage::Error> {
    let contents = inspection::contents(db).await?;
    report.fact("units", contents.units.to_string());
    if contents.operators == 0 {
        report.advice(
            "nobody can sign in: there is no operator",
            "whoever reads the one-time secret in the log of the server may make the first account at /set-up",
            "open /set-up with that secret, or call `brickbook user add NAME`",
        );
    }
    clock(&contents, now, report);
    logs(db, &contents, report);
    let outdated = rescore::outdated(db, &config.method()).await?;
    if outdated > 0 {
        let units = counted(outdated as usize, "unit shows", "units show");
        report.advice(
            format!("{units} an evaluation by an older method or other settings"),
            "their figures do not compare with those of the others",
            "call `brickbook rescore`; it may be interrupted",
        );
    }
    Ok(())
}

fn clock(contents: &Contents, now: OffsetDateTime, report: &mut Report) {
    let text = |time: OffsetDateTime| time.format(&Rfc3339).unwrap_or_default();
    let second = now.replace_nanosecond(0).unwrap_or(now);
    report.fact("clock", text(second));
    if let Some(newest) = contents.newest
        && newest > now
    {
        report.fault(
            format!(
                "the clock says {}, and the last publication was at {}",
                text(second),
                text(newest)
            ),
            "dates of results are public; feeds and caches take what is new for old, and sessions end at the wrong time",
            "set the clock (timedatectl set-ntp true); if a result was dated by a wrong clock, publish a correction",
        );
    }
}

fn logs(db: &Db, contents: &Contents, report: &mut Report) {
    let files = db.logs();
    report.fact("raw logs", contents.logs.len().to_string());
    let missing: Vec<&str> = contents
        .logs
        .iter()
        .map(|(sha256, _)| sha256.as_str())
        .filter(|sha256| !files.is_kept(sha256))
        .collect();
    if let Some(first) = missing.first() {
        report.fault(
            format!(
                "{} not in {} ({first} first)",
                counted(missing.len(), "raw log is", "raw logs are"),
                files.folder().display()
            ),
            "figures that were taken from them can no longer be computed again or shown to be true",
            "copy the folder `logs` back from a backup, or bring the same files in again with `brickbook import-log`",
        );
    }
    let other: Vec<&str> = contents
        .logs
        .iter()
        .filter(|(sha256, bytes)| {
            let stored = files.stored(sha256).ok().flatten();
            let stored = stored.and_then(|file| file.metadata().ok());
            stored.is_some_and(|file| file.len() != *bytes)
        })
        .map(|(sha256, _)| sha256.as_str())
        .collect();
    if let Some(first) = other.first() {
        report.fault(
            format!(
                "{} another size than when kept ({first} first)",
                counted(other.len(), "raw log has", "raw logs have")
            ),
            "the bytes were changed or cut, so that its figures cannot be computed again",
            "copy the folder `logs` back from a backup",
        );
    }
    let known: BTreeSet<&str> = contents
        .logs
        .iter()
        .map(|(sha256, _)| sha256.as_str())
        .collect();
    let unknown = files.present().unwrap_or_default().logs;
    let unknown = unknown
        .iter()
        .filter(|sha256| !known.contains(sha256.as_str()))
        .count();
    if unknown > 0 {
        report.advice(
            format!(
                "{} in {} that the database does not know",
                counted(unknown, "raw log lies", "raw logs lie"),
                files.folder().display()
            ),
            "they take room; an import was interrupted, or the folder is newer than the database",
            "bring them in again if they are wanted; else they may be deleted while nothing is being imported",
        );
    }
}

fn size(path: &Path) -> String {
    let bytes = std::fs::metadata(path).map_or(0, |file| file.len());
    format!("{} kB", bytes.div_ceil(1000))
}

fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    PathBuf::from(name)
}

#[cfg(test)]
mod tests {
    use super::super::{Grade, found};
    use super::*;

    #[test]
    fn each_state_of_a_file_is_told_as_what_it_is() {
        let sound = Inspection {
            kind: Kind::Ours(newest_schema()),
            journal_mode: "wal".into(),
            damage: Vec::new(),
            dangling: 0,
        };
        let look = |change: &dyn Fn(&mut Inspection)| {
            let mut inspection = sound.clone();
            change(&mut inspection);
            found(|report| of_file(&inspection, report))
        };
        assert_eq!(look(&|_| {}), []);
        let only = |change: &dyn Fn(&mut Inspection), grade, part: &str| {
            let found = look(change);
            assert_eq!(found.len(), 1, "{found:?}");
            assert!(
                found[0].0 == grade && found[0].1.contains(part),
                "{found:?}"
            );
        };
        only(&|i| i.kind = Kind::Foreign, Grade::Fault, "another program");
        only(&|i| i.kind = Kind::Ours(9999), Grade::Fault, "schema 9999");
        only(&|i| i.kind = Kind::Ours(1), Grade::Advice, "schema 1");
        only(
            &|i| i.damage = vec!["row missing".into()],
            Grade::Fault,
            "damaged: row missing",
        );
        only(&|i| i.dangling = 2, Grade::Fault, "2 rows refer");
        only(
            &|i| i.journal_mode = "delete".into(),
            Grade::Advice,
            "delete, not WAL",
        );
    }

    #[test]
    fn a_clock_before_the_last_publication_is_a_fault() {
        let contents = Contents {
            units: 1,
            operators: 1,
            newest: Some(time::macros::datetime!(2026-09-02 10:00 UTC)),
            logs: Vec::new(),
        };
        let at = |now| found(|report| clock(&contents, now, report));
        assert_eq!(at(time::macros::datetime!(2026-09-02 10:00 UTC)), []);
        let early = at(time::macros::datetime!(2026-09-02 09:59:59 UTC));
        assert_eq!(early[0].0, Grade::Fault);
        assert!(early[0].1.contains("2026-09-02T10:00:00Z"), "{early:?}");
    }
}

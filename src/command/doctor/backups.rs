//! The backups that the server makes by itself: are they made, is the newest one whole, and does it
//! lie where it outlives the data?

use super::Report;
use crate::command::hours;
use crate::config::Config;
use crate::host;
use crate::quantity::words::{counted, duration};
use crate::storage::backup::{self, About};
use crate::storage::backup_schedule::{self as schedule, Kept, LATE, Noted, Outcome};
use crate::storage::{Db, instant};
use std::fs;
use std::io::ErrorKind;
use std::path::Path;
use std::time::Duration;
use time::OffsetDateTime;

/// Looks at the folder of the backups, and reads the newest one from end to end.
pub async fn look(config: &Config, now: OffsetDateTime, report: &mut Report) {
    let Some(folder) = &config.backup_dir else {
        report.fact("backups", "none that the server makes by itself");
        report.advice(
            "backup_dir is not set, so the server makes no backups by itself",
            "one broken disk takes every measurement with it, unless somebody remembers to copy them",
            "set backup_dir to a folder on another disk, or have `brickbook backup FILE` called every day",
        );
        return;
    };
    let shown = std::path::absolute(folder).unwrap_or_else(|_| folder.clone());
    let noted = noted(&config.database_path()).await;
    let kept = match &noted {
        Some(noted) => schedule::kept(&shown, &noted.installation),
        // When the database is lost, knowing what there is to restore matters most.
        None => schedule::kept_of_all(&shown),
    };
    let kept = match kept {
        Ok(kept) => kept,
        Err(cause) => {
            report.fact("backups", shown.display().to_string());
            let what = match cause.kind() {
                ErrorKind::NotADirectory => format!("{} is not a folder", shown.display()),
                _ => format!("{} cannot be read: {cause}", shown.display()),
            };
            report.fault(
                what,
                "no backup is made there",
                "set backup_dir to a folder that the user who serves may read and write",
            );
            return;
        }
    };
    report.fact("backups", format!("{} in {}", kept.len(), shown.display()));
    let outcome = noted.as_ref().map(|noted| &noted.outcome);
    let failing = outcome.is_some_and(|outcome| failed(outcome, &shown, report));
    if let Ok(is_same) = host::is_one_file_system(&shown, &config.data_dir) {
        place(is_same, &shown, report);
    }
    let Some((newest, older)) = kept.split_first() else {
        if !failing {
            none(outcome, &shown, report);
        }
        return;
    };
    age(newest, hours(config.backup_every_h), failing, now, report);
    let bytes = contents(newest, older, now, report);
    if let Ok(free) = host::free_bytes(&shown) {
        let database = fs::metadata(config.database_path()).map_or(0, |file| file.len());
        room(free, database + bytes, &shown, report);
    }
}

/// What the database says of backups, where it can be asked.
async fn noted(database: &Path) -> Option<Noted> {
    if !database.exists() {
        return None;
    }
    let db = Db::open_read_only(database).await.ok()?;
    let noted = schedule::noted(&db).await.ok();
    db.close().await;
    noted.filter(|noted| !noted.installation.is_empty())
}

/// Tells of a last try that failed; answers whether it did.
fn failed(outcome: &Outcome, shown: &Path, report: &mut Report) -> bool {
    let Some(cause) = &outcome.failure else {
        return false;
    };
    let when = outcome.failed_at.as_deref().unwrap_or("an unknown time");
    let how_often = match outcome.failures {
        0 | 1 => String::new(),
        number => format!(", and so did all {number} since the last that was made"),
    };
    report.fault(
        format!("the last backup failed at {when}{how_often}: {cause}"),
        "what was entered since the newest one exists only once",
        format!(
            "make room in {}, or give the user that serves the right to write there (under systemd, ReadWritePaths= as well); it is tried again every hour, and at the next start",
            shown.display()
        ),
    );
    true
}

fn place(is_same: bool, shown: &Path, report: &mut Report) {
    if is_same {
        report.advice(
            format!("{} is on the same disk as the data", shown.display()),
            "when that disk breaks, the backups are gone with the data",
            "set backup_dir to a folder on another disk or on a mounted share",
        );
    }
}

/// Tells that there is no backup at all.
fn none(outcome: Option<&Outcome>, shown: &Path, report: &mut Report) {
    let shown = shown.display();
    if let Some((made_at, file)) =
        outcome.and_then(|outcome| outcome.made_at.as_ref().zip(outcome.file.as_ref()))
    {
        report.fault(
            format!("no backup lies in {shown}, though one was made at {made_at}: {file}"),
            "the disk or share is not mounted, or the backups were moved: nothing can be restored from there",
            "mount it, or move them back; a server that is started anew makes one within a minute",
        );
    } else {
        report.fault(
            format!("no backup has been made in {shown} yet"),
            "everything exists only once",
            "start `brickbook serve` with this setting: the first is made within a minute",
        );
    }
}

fn age(newest: &Kept, every: Duration, failing: bool, now: OffsetDateTime, report: &mut Report) {
    let age = now - newest.made_at;
    if age.is_negative() {
        report.advice(
            format!(
                "the newest backup is from the future: {}",
                instant::to_text(newest.made_at)
            ),
            "the clock was wrong when it was made, or is wrong now",
            "set the clock (timedatectl set-ntp true); backups are numbered, and the next one follows this one all the same",
        );
    } else if age > every + LATE && !failing {
        report.fault(
            format!(
                "the newest backup is {} old; one is due every {}",
                duration(age.as_seconds_f64()),
                duration(every.as_secs_f64())
            ),
            "what was entered since exists only once",
            "start the server with this setting; if it runs, its log says what holds the backups up",
        );
    }
}

/// Reads the newest backup, and older ones only if it is damaged; answers its size in bytes.
fn contents(newest: &Kept, older: &[Kept], now: OffsetDateTime, report: &mut Report) -> u64 {
    let bytes = fs::metadata(&newest.path).map_or(0, |file| file.len());
    let age = duration((now - newest.made_at).as_seconds_f64());
    let size = format!("{:.1} MB", bytes as f64 / 1e6);
    let name = newest.path.display();
    match whole(&newest.path) {
        Ok(about) => {
            let units = counted(usize::try_from(about.units).unwrap_or(0), "unit", "units");
            let logs = counted(about.logs, "raw log", "raw logs");
            report.fact(
                "newest backup",
                format!("{name}, {age} old, {size}, whole, with {units} and {logs}"),
            );
        }
        Err(fault) => {
            report.fact("newest backup", format!("{name}, {age} old, {size}"));
            let sound = older.iter().find(|one| whole(&one.path).is_ok());
            let instead = match sound {
                Some(one) => format!("of the older ones {} is whole", one.path.display()),
                None => "none of the older ones is whole either".to_owned(),
            };
            report.fault(
                format!("the newest backup, {name}, is not whole: {fault}"),
                "it was whole when it was made and cannot be restored now",
                format!("make one elsewhere with `brickbook backup FILE` and have that disk looked at; {instead}"),
            );
        }
    }
    bytes
}

/// Reads an archive from end to end.
fn whole(path: &Path) -> Result<About, String> {
    let verified = backup::verify(path).map_err(|cause| cause.to_string())?;
    match verified.faults.into_iter().next() {
        None => Ok(verified.about),
        Some(fault) => Err(fault),
    }
}

/// While a backup is made, a copy of the database lies beside the archive that is written.
fn room(free_bytes: u64, needed_bytes: u64, shown: &Path, report: &mut Report) {
    if free_bytes < needed_bytes {
        report.fault(
            format!(
                "{} MB are left in {}, and the next backup needs about {} MB",
                free_bytes / 1_000_000,
                shown.display(),
                needed_bytes.div_ceil(1_000_000)
            ),
            "old backups go only after a new one was made, so none will be made",
            "make room there, or keep fewer (backup_keep_days, backup_keep_weeks)",
        );
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Grade, found};
    use super::*;
    use time::macros::datetime;

    const NOW: OffsetDateTime = datetime!(2026-11-30 12:00 UTC);
    const DAY: Duration = Duration::from_secs(86_400);

    fn made(made_at: OffsetDateTime) -> Kept {
        Kept {
            path: "/kept/a.zip".into(),
            number: 1,
            made_at,
        }
    }

    #[test]
    fn a_backup_that_is_late_is_a_fault_and_one_from_the_future_is_told() {
        fn of(made_at: OffsetDateTime, failing: bool) -> Vec<(Grade, String)> {
            found(|report| age(&made(made_at), DAY, failing, NOW, report))
        }
        let after = |time: Duration, failing| of(NOW - time, failing);
        assert_eq!(after(DAY, false), []);
        assert_eq!(after(DAY + LATE, false), []);
        let late = after(DAY * 2, false);
        assert_eq!(late[0].0, Grade::Fault);
        assert!(
            late[0].1.contains("2 d old; one is due every 24 h"),
            "{late:?}"
        );
        // Why it is late is told already.
        assert_eq!(after(DAY * 2, true), []);
        let future = of(NOW + DAY, false);
        assert_eq!(future[0].0, Grade::Advice);
        assert!(future[0].1.contains("2026-12-01T12:00:00"), "{future:?}");
    }

    #[test]
    fn the_same_disk_and_too_little_room_are_told() {
        let kept = Path::new("/kept");
        assert_eq!(found(|r| place(false, kept, r)), []);
        let same = found(|r| place(true, kept, r));
        assert_eq!(same[0].0, Grade::Advice);
        assert_eq!(found(|r| room(5_000_000, 5_000_000, kept, r)), []);
        let low = found(|r| room(4_999_999, 5_000_000, kept, r));
        assert_eq!(low[0].0, Grade::Fault);
        assert!(low[0].1.contains("4 MB are left in /kept"), "{low:?}");
    }

    #[test]
    fn failures_are_counted_and_their_cause_is_told() {
        let failing = Outcome {
            failed_at: Some("2026-11-30T11:00:00.000Z".into()),
            failure: Some("/kept: no room".into()),
            failures: 3,
            ..Outcome::default()
        };
        let told = found(|r| assert!(failed(&failing, Path::new("/kept"), r)));
        assert_eq!(told[0].0, Grade::Fault);
        for part in ["11:00:00", "all 3 since", "no room"] {
            assert!(told[0].1.contains(part), "{part}: {told:?}");
        }
        assert_eq!(
            found(|r| assert!(!failed(&Outcome::default(), Path::new("/kept"), r))),
            []
        );
    }
}

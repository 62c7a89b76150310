//! Backups that the server makes by itself: when the next one is due, which old ones may go, and
//! what became of the last one.
//!
//! Nothing here trusts the clock alone. Backups are numbered, and the number tells which is newer;
//! while the program runs, a clock that does not jump says when the next one is due.

use super::backup::{self, About, BackupError};
use super::{Db, Error, instant, settings};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};
use std::{fs, io};
use time::format_description::BorrowedFormatItem;
use time::macros::format_description;
use time::{OffsetDateTime, PrimitiveDateTime};

/// After a failure the next try comes this soon, if no sooner one is planned.
const TRY_AGAIN: Duration = Duration::from_secs(3600);

/// How often it is looked whether a backup is due: a computer that slept is noticed so soon.
const LOOK_EVERY: Duration = Duration::from_secs(60);

/// This many of the newest stay in any case.
const ALWAYS: usize = 2;

/// A backup may be late by this much before that is told: it takes its time, and after a failure it
/// is tried again within the hour.
pub const LATE: Duration = Duration::from_secs(2 * 3600);

/// Where backups go, how often one is made, and which ones stay.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Plan {
    pub folder: PathBuf,
    pub every: Duration,
    /// Of this many days the last backup stays.
    pub keep_days: u32,
    /// Of this many weeks (ISO 8601) the last backup stays.
    pub keep_weeks: u32,
}

/// A backup that lies in the folder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Kept {
    pub path: PathBuf,
    /// The larger is the newer.
    pub number: u64,
    /// When it was made, as the clock of that time said.
    pub made_at: OffsetDateTime,
}

/// What became of the last backups, as the desk shows it.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Outcome {
    /// RFC 3339 time of the last that was made.
    pub made_at: Option<String>,
    /// Its file.
    pub file: Option<String>,
    /// RFC 3339 time of a failure since.
    pub failed_at: Option<String>,
    /// Why it failed.
    pub failure: Option<String>,
    /// How many have failed since the last that was made.
    #[serde(default)]
    pub failures: u64,
}

/// Whose backups they are, and what became of the last ones, as the database says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Noted {
    /// Name of the installation; the names of its backups begin with it.
    pub installation: String,
    pub outcome: Outcome,
}

/// How the backups stand, for whoever watches over the program while it runs; clones see the same.
#[derive(Debug, Clone, Default)]
pub struct Watch(Arc<Mutex<Standing>>);

/// How the backups stand.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Standing {
    /// When the newest one in the folder was made, and its size in bytes; none where there is none.
    pub newest: Option<(OffsetDateTime, u64)>,
    /// How many have failed since the program started.
    pub failures: u64,
}

impl Watch {
    pub fn standing(&self) -> Standing {
        *self.lock()
    }

    fn lock(&self) -> MutexGuard<'_, Standing> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

const STAMP: &[BorrowedFormatItem] =
    format_description!("[year]-[month]-[day]T[hour][minute][second]Z");

/// Begin of the names of an installation's backups, so that two may share a folder.
fn begin(installation: &str) -> String {
    let digits: String = installation.chars().take(8).collect();
    format!("brickbook-{digits}-")
}

fn file_name(installation: &str, number: u64, now: OffsetDateTime) -> String {
    let stamp = now
        .to_offset(time::UtcOffset::UTC)
        .format(STAMP)
        .expect("every component of the format exists in an OffsetDateTime");
    format!("{}{number:06}-{stamp}.zip", begin(installation))
}

/// Number and time in the name of a backup of this installation, or of any.
fn read_name(installation: Option<&str>, name: &str) -> Option<(u64, OffsetDateTime)> {
    let rest = match installation {
        Some(installation) => name.strip_prefix(&begin(installation))?,
        None => name.strip_prefix("brickbook-")?.split_once('-')?.1,
    };
    let (number, stamp) = rest.strip_suffix(".zip")?.split_once('-')?;
    let made_at = PrimitiveDateTime::parse(stamp, STAMP).ok()?.assume_utc();
    Some((number.parse().ok()?, made_at))
}

/// The backups of an installation in a folder, the newest first.
///
/// # Errors
/// The folder is there but cannot be listed.
pub fn kept(folder: &Path, installation: &str) -> io::Result<Vec<Kept>> {
    let mut kept = list(folder, Some(installation))?;
    kept.sort_by_key(|kept| std::cmp::Reverse(kept.number));
    Ok(kept)
}

/// The backups of all installations in a folder, the newest first as the clock of that time said:
/// for where the database does not say which installation it is.
///
/// # Errors
/// The folder is there but cannot be listed.
pub fn kept_of_all(folder: &Path) -> io::Result<Vec<Kept>> {
    let mut kept = list(folder, None)?;
    kept.sort_by_key(|kept| std::cmp::Reverse((kept.made_at, kept.number)));
    Ok(kept)
}

fn list(folder: &Path, installation: Option<&str>) -> io::Result<Vec<Kept>> {
    let entries = match fs::read_dir(folder) {
        Err(cause) if cause.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        entries => entries?,
    };
    let mut kept = Vec::new();
    for entry in entries {
        let path = entry?.path();
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        if let Some((number, made_at)) = read_name(installation, &name) {
            kept.push(Kept {
                number,
                made_at,
                path,
            });
        }
    }
    Ok(kept)
}

/// Is one due, as far as the clock and the newest backup tell? One from the future is no reason to
/// wait: the clock was wrong then, or is now.
fn is_due(newest: Option<OffsetDateTime>, now: OffsetDateTime, every: Duration) -> bool {
    newest.is_none_or(|newest| {
        let age = now - newest;
        age >= every || age < time::Duration::seconds(-60)
    })
}

/// Which of the backups, the newest first, may go: all but the last of each of the newest days and
/// weeks that there are backups of. Days without a backup do not count, so that neither a pause nor
/// a wrong clock makes old ones go.
pub fn superfluous(kept: &[Kept], keep_days: u32, keep_weeks: u32) -> Vec<&Kept> {
    let mut days = BTreeSet::new();
    let mut weeks = BTreeSet::new();
    let mut go = Vec::new();
    for (place, one) in kept.iter().enumerate() {
        let day = one.made_at.date();
        let (year, week, _) = day.to_iso_week_date();
        let of_day = days.len() < keep_days as usize && days.insert(day);
        let of_week = weeks.len() < keep_weeks as usize && weeks.insert((year, week));
        if place >= ALWAYS && !of_day && !of_week {
            go.push(one);
        }
    }
    go
}

/// Makes the next backup, and only then lets old ones go.
///
/// # Errors
/// None was made, and none has gone.
pub async fn make(
    db: &Db,
    plan: &Plan,
    now: OffsetDateTime,
) -> Result<(PathBuf, About), BackupError> {
    let in_folder = |cause| BackupError::Io {
        path: plan.folder.clone(),
        cause,
    };
    let installation = installation(db).await?;
    super::make_data_dir(&plan.folder).map_err(in_folder)?;
    let newest = kept(&plan.folder, &installation).map_err(in_folder)?;
    let number = newest.first().map_or(1, |newest| newest.number + 1);
    let path = plan.folder.join(file_name(&installation, number, now));
    let about = backup::write(db, &path, now).await?;
    let all = kept(&plan.folder, &installation).map_err(in_folder)?;
    for old in superfluous(&all, plan.keep_days, plan.keep_weeks) {
        match fs::remove_file(&old.path) {
            Ok(()) => tracing::info!(file = %old.path.display(), "removed an old backup"),
            Err(cause) => {
                tracing::warn!(file = %old.path.display(), %cause, "could not remove an old backup");
            }
        }
    }
    Ok((path, about))
}

/// Makes backups by the plan for as long as it is let, and keeps `watch` at how they stand.
pub async fn keep_making(db: Db, plan: Plan, watch: Watch, now: impl Fn() -> OffsetDateTime) {
    let mut last: Option<Try> = None;
    loop {
        let newest = look(&db, &plan, &watch).await;
        let due = match &last {
            None => is_due(newest, now(), plan.every),
            // The clock may jump; time that has passed cannot. A computer that slept is late by
            // the clock alone.
            Some(last) => {
                let late = || newest.is_some_and(|newest| now() - newest >= plan.every);
                last.began.elapsed() >= last.wait || last.succeeded && late()
            }
        };
        if due {
            let began = Instant::now();
            let made = make(&db, &plan, now()).await;
            match &made {
                Ok((path, about)) => {
                    tracing::info!(file = %path.display(), units = about.units, logs = about.logs, "made a backup");
                }
                Err(cause) => {
                    watch.lock().failures += 1;
                    tracing::error!(%cause, folder = %plan.folder.display(), "no backup was made");
                }
            }
            look(&db, &plan, &watch).await;
            last = Some(Try {
                began,
                succeeded: made.is_ok(),
                wait: match made {
                    Ok(_) => plan.every,
                    Err(_) => plan.every.min(TRY_AGAIN),
                },
            });
            let made = made.as_ref().map(|(path, _)| path.as_path());
            if let Err(cause) = note(&db, made, now()).await {
                tracing::warn!(%cause, "could not note what became of the backup");
            }
        }
        tokio::time::sleep(LOOK_EVERY.min(plan.every)).await;
    }
}

/// A backup that this process made or failed to make.
struct Try {
    began: Instant,
    succeeded: bool,
    wait: Duration,
}

/// When the newest backup was made, where there is one that can be seen. While nothing can be seen
/// the watch stays as it was, and shows one that grows old.
async fn look(db: &Db, plan: &Plan, watch: &Watch) -> Option<OffsetDateTime> {
    let installation = installation(db).await.ok()?;
    let all = kept(&plan.folder, &installation).ok()?;
    let newest = all.first().map(|newest| {
        let bytes = fs::metadata(&newest.path).map_or(0, |file| file.len());
        (newest.made_at, bytes)
    });
    watch.lock().newest = newest;
    newest.map(|(made_at, _)| made_at)
}

async fn installation(db: &Db) -> Result<String, Error> {
    let mut connection = db.read().await?;
    let id = settings::get(&mut connection, settings::FEED_ID).await?;
    Ok(id.unwrap_or_default())
}

/// Notes what became of a backup, for the desk.
async fn note(
    db: &Db,
    made: Result<&Path, &BackupError>,
    now: OffsetDateTime,
) -> Result<(), Error> {
    let mut tx = db.write().await?;
    let outcome = match made {
        Ok(path) => Outcome {
            made_at: Some(instant::to_text(now)),
            file: Some(path.display().to_string()),
            ..Outcome::default()
        },
        Err(cause) => {
            let before = outcome(&mut tx).await?;
            Outcome {
                failed_at: Some(instant::to_text(now)),
                failure: Some(cause.to_string()),
                failures: before.failures.saturating_add(1),
                ..before
            }
        }
    };
    let text = serde_json::to_string(&outcome).expect("texts are JSON");
    settings::set(&mut tx, settings::BACKUP_OUTCOME, &text).await?;
    tx.commit().await
}

/// What the database says of backups.
///
/// # Errors
/// It cannot be read.
pub async fn noted(db: &Db) -> Result<Noted, Error> {
    Ok(Noted {
        installation: installation(db).await?,
        outcome: outcome(&mut *db.read().await?).await?,
    })
}

/// What became of the last backups.
pub async fn outcome(connection: &mut super::Connection) -> Result<Outcome, Error> {
    let text = settings::get(connection, settings::BACKUP_OUTCOME).await?;
    Ok(text
        .and_then(|text| serde_json::from_str(&text).ok())
        .unwrap_or_default())
}

#[cfg(test)]
mod tests {
    use super::*;
    use time::macros::datetime;

    const DAY: Duration = Duration::from_secs(86_400);

    fn of(number: u64, made_at: OffsetDateTime) -> Kept {
        Kept {
            path: PathBuf::from(file_name("0123456789", number, made_at)),
            number,
            made_at,
        }
    }

    /// Numbers that stay when backups with these times are made one after the other.
    fn stay(times: impl IntoIterator<Item = OffsetDateTime>, days: u32, weeks: u32) -> Vec<u64> {
        let mut all: Vec<Kept> = Vec::new();
        for (number, time) in (1..).zip(times) {
            all.insert(0, of(number, time));
            let go: Vec<u64> = superfluous(&all, days, weeks)
                .iter()
                .map(|old| old.number)
                .collect();
            assert!(!go.contains(&number), "the newest never goes");
            all.retain(|one| !go.contains(&one.number));
        }
        all.iter().map(|one| one.number).collect()
    }

    #[test]
    fn a_name_says_installation_number_and_time() {
        let now = datetime!(2026-11-30 14:05:09 +1);
        let name = file_name("0123456789abcdef", 42, now);
        assert_eq!(name, "brickbook-01234567-000042-2026-11-30T130509Z.zip");
        assert_eq!(read_name(Some("0123456789abcdef"), &name), Some((42, now)));
        assert_eq!(read_name(None, &name), Some((42, now)));
        assert_eq!(read_name(Some("fedcba98"), &name), None);
        for other in ["brickbook-01234567-x.zip", "brickbook-x.zip", "x.zip"] {
            assert_eq!(read_name(Some("01234567"), other), None);
            assert_eq!(read_name(None, other), None);
        }
    }

    #[test]
    fn days_and_weeks_stay_as_planned() {
        // Twice a day for sixty days from a Monday on: number 2k + 1 and 2k + 2 are of day k.
        let begin = datetime!(2026-08-31 06:00 UTC);
        let times = (0..120).map(|half| begin + DAY / 2 * half);
        let stay = stay(times, 7, 4);
        // Sixty days are 8 weeks and 4 days. Days 53 to 59 with their later one, the last two in
        // any case, and the ends of the weeks before: days 55 (within the seven), 48 and 41.
        assert_eq!(stay, [120, 119, 118, 116, 114, 112, 110, 108, 98, 84]);
    }

    #[test]
    fn a_clock_that_jumps_makes_no_good_backup_go() {
        // Ten good days, then the clock stands in 1980 and later in 2099.
        let good = (0..10).map(|day| datetime!(2026-11-01 06:00 UTC) + DAY * day);
        let wrong = [
            datetime!(1980-01-01 00:00 UTC),
            datetime!(1980-01-01 01:00 UTC),
            datetime!(2099-01-01 00:00 UTC),
        ];
        let stay = stay(good.chain(wrong), 7, 4);
        assert_eq!(stay[..2], [13, 12]);
        for number in 6..=10 {
            assert!(stay.contains(&number), "{stay:?}");
        }
    }

    #[test]
    fn a_plan_that_keeps_nothing_still_keeps_the_last_two() {
        let times = (0..5).map(|day| datetime!(2026-11-01 06:00 UTC) + DAY * day);
        assert_eq!(stay(times, 0, 0), [5, 4]);
    }

    #[test]
    fn the_next_is_due_by_the_age_of_the_newest_also_after_a_restart() {
        let now = datetime!(2026-11-30 12:00 UTC);
        assert!(is_due(None, now, DAY));
        assert!(!is_due(Some(now - DAY / 2), now, DAY));
        assert!(is_due(Some(now - DAY), now, DAY));
        // Made before the clock was set back: waiting for that time could take years.
        assert!(is_due(Some(now + DAY * 400), now, DAY));
    }
}

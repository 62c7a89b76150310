//! Logs that are being read just now, and what reading a section lately gave.
//!
//! Reading a log of a gigabyte takes seconds: it happens beside the requests. Whoever asks waits a
//! moment; if the log is longer than that, they are told how far it is and ask again.

use super::{Site, error::Error};
use crate::{
    bench::record::Layout,
    evaluate::steps::{self, Step},
    intake::logs::{self, Summary},
    log::Section,
    storage::logs as stored,
};
use std::{
    collections::VecDeque,
    sync::{
        Arc, Mutex, PoisonError,
        atomic::{AtomicU64, Ordering},
    },
    time::Duration,
};
use tokio::sync::{Semaphore, watch};

/// So long a request waits for a log before it answers that it is being read.
const PATIENCE: Duration = Duration::from_millis(2500);

/// At most so many logs are read at once.
const AT_ONCE: usize = 2;

/// So many findings are remembered.
const REMEMBERED: usize = 32;

/// What is to be read, and how.
#[derive(Debug, Clone, PartialEq)]
pub struct Wanted {
    pub sha256: String,
    pub layout: Layout,
    pub section: Section,
}

/// What reading gave.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    pub summary: Summary,
    /// Steps of a stepped load.
    pub steps: Vec<Step>,
    /// The same as a unit with several voltages at the same time is judged: by less drift.
    pub steps_multiple: Vec<Step>,
}

/// Finding, or why the log cannot be read by the layout.
pub type Found = Result<Arc<Finding>, String>;

/// How far a log is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress {
    pub bytes: u64,
    pub of: u64,
}

impl Progress {
    /// 0 to 100.
    pub fn percent(self) -> u64 {
        (self.bytes * 100)
            .checked_div(self.of)
            .unwrap_or(0)
            .min(100)
    }
}

/// What came of asking.
pub enum Answer {
    Found(Found),
    UnderWay(Progress),
}

pub struct LogReadings {
    under_way: Mutex<Vec<Arc<Job>>>,
    /// Newest last.
    lately: Mutex<VecDeque<(Wanted, Found)>>,
    turns: Arc<Semaphore>,
}

impl Default for LogReadings {
    fn default() -> LogReadings {
        LogReadings {
            under_way: Mutex::default(),
            lately: Mutex::default(),
            turns: Arc::new(Semaphore::new(AT_ONCE)),
        }
    }
}

struct Job {
    wanted: Wanted,
    bytes: AtomicU64,
    size_bytes: u64,
    done: watch::Sender<bool>,
}

impl Job {
    fn progress(&self) -> Progress {
        Progress {
            bytes: self.bytes.load(Ordering::Relaxed),
            of: self.size_bytes,
        }
    }
}

impl LogReadings {
    /// How far this log is read, if it is being read.
    pub fn progress(&self, sha256: &str) -> Option<Progress> {
        locked(&self.under_way)
            .iter()
            .find(|job| job.wanted.sha256 == sha256)
            .map(|job| job.progress())
    }

    fn remembered(&self, wanted: &Wanted) -> Option<Found> {
        locked(&self.lately)
            .iter()
            .find(|(known, _)| known == wanted)
            .map(|(_, found)| found.clone())
    }

    fn remember(&self, wanted: Wanted, found: Found) {
        let mut lately = locked(&self.lately);
        lately.retain(|(known, _)| *known != wanted);
        lately.push_back((wanted, found));
        while lately.len() > REMEMBERED {
            lately.pop_front();
        }
    }
}

/// Reads a section of a log, or says how far it is.
///
/// # Errors
/// Reading was not possible for a reason that has nothing to do with the log.
pub async fn read(site: &Site, wanted: Wanted, size_bytes: u64) -> Result<Answer, Error> {
    let readings = &site.log_readings;
    if let Some(found) = readings.remembered(&wanted) {
        return Ok(Answer::Found(found));
    }
    let job = begin(site, &wanted, size_bytes);
    let mut done = job.done.subscribe();
    let waited = tokio::time::timeout(PATIENCE, done.wait_for(|done| *done)).await;
    match waited {
        Ok(_) => readings
            .remembered(&wanted)
            .map(Answer::Found)
            .ok_or_else(|| Error::internal("reading a log failed")),
        Err(_) => Ok(Answer::UnderWay(job.progress())),
    }
}

/// The job that reads this, begun if nobody has asked for it yet.
fn begin(site: &Site, wanted: &Wanted, size_bytes: u64) -> Arc<Job> {
    let mut under_way = locked(&site.log_readings.under_way);
    if let Some(job) = under_way.iter().find(|job| job.wanted == *wanted) {
        return job.clone();
    }
    let job = Arc::new(Job {
        wanted: wanted.clone(),
        bytes: AtomicU64::new(0),
        size_bytes,
        done: watch::Sender::new(false),
    });
    under_way.push(job.clone());
    drop(under_way);
    let (site, running) = (site.clone(), job.clone());
    tokio::spawn(async move {
        run(&site, running.clone()).await;
        locked(&site.log_readings.under_way).retain(|job| !Arc::ptr_eq(job, &running));
        running.done.send_replace(true);
    });
    job
}

async fn run(site: &Site, job: Arc<Job>) {
    let Ok(_turn) = site.log_readings.turns.clone().acquire_owned().await else {
        return;
    };
    let (files, reader, method) = (site.db.logs().clone(), job.clone(), site.method.clone());
    let read = tokio::task::spawn_blocking(move || {
        let wanted = &reader.wanted;
        let mut told = |bytes| reader.bytes.store(bytes, Ordering::Relaxed);
        logs::scan(
            &files,
            &wanted.sha256,
            &wanted.layout,
            wanted.section,
            &mut told,
        )
        .map(|reading| {
            let rules = &method.standards.low_power;
            Arc::new(Finding {
                summary: Summary::of(&reading),
                steps: steps::find(&reading, false, rules),
                steps_multiple: steps::find(&reading, true, rules),
            })
        })
    });
    match read.await {
        Ok(found) => {
            if job.wanted.section == Section::default()
                && let Err(cause) = keep(site, &job.wanted, &found).await
            {
                tracing::error!(%cause, "what reading a log gave could not be kept");
            }
            site.log_readings.remember(job.wanted.clone(), found);
        }
        Err(cause) => tracing::error!(%cause, "reading a log failed"),
    }
}

/// Notes what reading the whole log gave, unless somebody has changed how it is to be read since.
pub async fn keep(site: &Site, wanted: &Wanted, found: &Found) -> Result<(), Error> {
    let mut tx = site.db.write().await?;
    let present = stored::find(&mut tx, &wanted.sha256).await?;
    let layout = serde_json::to_string(&wanted.layout).map_err(Error::internal)?;
    if present.layout.as_deref() != Some(layout.as_str()) {
        return Ok(());
    }
    let (summary, fault) = match found {
        Ok(finding) => {
            let summary = serde_json::to_string(&finding.summary).map_err(Error::internal)?;
            (Some(summary), None)
        }
        Err(why) => (None, Some(why.as_str())),
    };
    stored::set_layout(
        &mut tx,
        &wanted.sha256,
        Some(&layout),
        summary.as_deref(),
        fault,
    )
    .await?;
    tx.commit().await?;
    Ok(())
}

fn locked<T>(mutex: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    // What is kept under it is whole between any two statements, whoever panicked.
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

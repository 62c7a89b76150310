//! `serve`: the pages, and the invented data to try them with.

use super::{Failure, hours, open_or_make, web_config};
use crate::bench::decode::decode;
use crate::bench::problem::Problem;
use crate::bench::record::Log;
use crate::config::Config;
use crate::demo::CANDIDATES;
use crate::evaluate::Method;
use crate::intake::{Submission, Target, judge, logs, store};
use crate::photo::{self, Kept};
use crate::storage::backup_schedule::{Plan, Watch, keep_making};
use crate::storage::candidates::{self, Entry, State};
use crate::storage::logs::{self as stored, LogFile};
use crate::storage::{
    Connection, Db,
    audit::{self, Change, Who},
    photos, settings, units,
};
use crate::web;
use rust_embed::RustEmbed;
use std::collections::BTreeMap;
use std::sync::Arc;
use time::OffsetDateTime;

/// Serve the pages, the bench desk and the API
///
/// Serves until it is stopped (Ctrl-C or SIGTERM); requests under way are finished first, within a
/// few seconds. The database is made if it is not there. The first visitor of /set-up makes the
/// first account with the code that is printed at start; more accounts come from
/// `brickbook user add`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    brickbook serve --demo\n  \
    brickbook serve --data-dir /var/lib/brickbook --public-url https://bricks.example --trusted-proxies 127.0.0.1\n\n\
    --listen and the other settings can also stand in brickbook.toml:\n  \
    listen = \"127.0.0.1:8080\"\n  \
    site_name = \"Ada's bench\"")]
pub struct Serve {
    /// Fill an empty database with invented adapters and say on every page that they are invented
    #[arg(long)]
    demo: bool,
}

/// Records that a physical model invented (`src/demo/`).
#[derive(RustEmbed)]
#[folder = "seed-data/"]
struct SeedData;

impl Serve {
    pub async fn run(self, config: &Config) -> Result<(), Failure> {
        let method = config.method();
        let db = open_or_make(config).await?;
        if self.demo {
            load_demo(&db, &method, OffsetDateTime::now_utc()).await?;
        }
        match db.logs().sweep() {
            Ok(0) => {}
            Ok(files) => tracing::info!(files, "removed logs that a stopped process left half-way"),
            Err(cause) => tracing::warn!(%cause, "could not look for logs left half-way"),
        }
        let mut web_config = web_config(config);
        let backups = config.backup_dir.clone().map(|folder| {
            let plan = Plan {
                folder,
                every: hours(config.backup_every_h),
                keep_days: config.backup_keep_days,
                keep_weeks: config.backup_keep_weeks,
            };
            let watch = Watch::default();
            web_config.backups = Some(watch.clone());
            tokio::spawn(keep_making(
                db.clone(),
                plan,
                watch,
                OffsetDateTime::now_utc,
            ))
        });
        let served = web::serve(web_config, db.clone(), Arc::new(method)).await;
        if let Some(backups) = backups {
            backups.abort();
        }
        db.close().await;
        served.map_err(|cause| Failure::Failed(cause.to_string()))
    }
}

/// Puts the invented records, their logs and drawings into an empty database and marks it as a
/// demonstration. A database that is marked already is left as it is.
async fn load_demo(db: &Db, method: &Method, now: OffsetDateTime) -> Result<(), Failure> {
    // Nothing is kept beside a database that is not for this.
    let mut connection = db.read().await?;
    if !is_to_be_filled(db, &mut connection).await? {
        return Ok(());
    }
    drop(connection);
    // Judged before the transaction, which others may be waiting for.
    let mut judged = Vec::new();
    let mut logs = Vec::new();
    let drawings = drawings()?;
    let mut named = Vec::new();
    for name in SeedData::iter().filter(|name| name.ends_with(".json")) {
        let refused = |problems: Vec<Problem>| {
            let problems: Vec<_> = problems.iter().map(ToString::to_string).collect();
            Failure::Failed(format!("seed-data/{name}: {}", problems.join("; ")))
        };
        let file = SeedData::get(&name).expect("a listed file is embedded");
        let text = String::from_utf8(file.data.into_owned())
            .map_err(|_| Failure::Failed(format!("seed-data/{name} is not UTF-8")))?;
        let record = decode(&text).map_err(refused)?;
        for log in &record.logs {
            logs.push(keep(db, log, now)?);
        }
        for photo in &record.photos {
            named.push(drawings.get(&photo.sha256).ok_or_else(|| {
                Failure::Failed(format!(
                    "seed-data/{name} names the photo {}, which is not in seed-data/photos",
                    photo.sha256
                ))
            })?);
        }
        let record = judge(&text, method, db.logs()).map_err(refused)?;
        judged.push((text, record));
    }

    let mut tx = db.write().await?;
    if !is_to_be_filled(db, &mut tx).await? {
        return Ok(());
    }
    for log in &logs {
        stored::enter(&mut tx, log, None).await?;
    }
    for (kept, name) in named {
        photos::enter(&mut tx, kept, name, None, now).await?;
    }
    let count = judged.len();
    for (text, judged) in judged {
        let submission = Submission {
            text: &text,
            target: Target::New,
            author: "demonstration",
            reason: "invented data",
            now,
        };
        store(&mut tx, &Who::command(), &submission, judged, method)
            .await
            .map_err(|cause| Failure::Failed(format!("the invented data: {cause}")))?;
    }
    queue_up(&mut tx, now).await?;
    settings::set(&mut tx, settings::DEMO, "1").await?;
    let change = Change::new("demonstration.filled", "database")
        .detail("invented units, logs, drawings and queue");
    audit::write(&mut tx, &Who::command(), change, now).await?;
    tx.commit().await?;
    tracing::info!(
        units = count,
        "filled the empty database with invented data"
    );
    Ok(())
}

/// Puts the invented candidates into the queue.
async fn queue_up(tx: &mut Connection, now: OffsetDateTime) -> Result<(), Failure> {
    for (number, one) in CANDIDATES.iter().enumerate() {
        let label: BTreeMap<&str, &str> = one.label.iter().copied().collect();
        let entry = Entry {
            maker: one.maker.to_owned(),
            model: one.model.to_owned(),
            link: None,
            price: one
                .price
                .map(|(amount, currency)| (amount.to_owned(), currency.to_owned())),
            planned_on: one.planned_on.map(str::to_owned),
            public: one.public,
            note: one.note.to_owned(),
            label: serde_json::to_string(&label).expect("texts are JSON"),
        };
        let state = State::from_id(one.state).expect("the demonstration knows the states");
        let uid = format!("demonstration-candidate-{number}");
        candidates::insert(tx, &uid, &entry, state, "demonstration", now).await?;
    }
    Ok(())
}

/// Is the database empty? One that holds invented data already is left alone.
async fn is_to_be_filled(db: &Db, connection: &mut Connection) -> Result<bool, Failure> {
    if settings::is_demo(connection).await? {
        return Ok(false);
    }
    let queued = candidates::list(connection).await?.len();
    if units::count(connection).await? > 0 || queued > 0 {
        return Err(Failure::Failed(format!(
            "--demo needs an empty database, and {} holds real measurements or plans, which invented data must not be mixed with; \
             choose another folder with --data-dir, or leave out --demo",
            db.path().display()
        )));
    }
    Ok(true)
}

/// The drawings of `seed-data/photos/` with the names of their files, by SHA-256.
fn drawings() -> Result<BTreeMap<String, (Kept, String)>, Failure> {
    let mut drawings = BTreeMap::new();
    for path in SeedData::iter() {
        let Some(name) = path.strip_prefix("photos/") else {
            continue;
        };
        let file = SeedData::get(&path).expect("a listed file is embedded");
        let kept = photo::take_in(&file.data)
            .map_err(|why| Failure::Failed(format!("seed-data/{path}: {why}")))?;
        drawings.insert(kept.sha256(), (kept, name.to_owned()));
    }
    Ok(drawings)
}

/// Keeps the bytes of a log that an invented record names, and reads them as it says.
fn keep(db: &Db, log: &Log, now: OffsetDateTime) -> Result<LogFile, Failure> {
    let failed = |cause: String| Failure::Failed(format!("seed-data/logs/{}: {cause}", log.name));
    let file = SeedData::get(&format!("logs/{}", log.name))
        .ok_or_else(|| failed("a record names it, but it is not there".to_owned()))?;
    let imported = logs::import(db.logs(), &*file.data, Some(&log.layout), &[], &mut |_| {})
        .map_err(|cause| failed(cause.to_string()))?;
    let summary = imported.summary.map_err(failed)?;
    Ok(LogFile {
        sha256: imported.kept.sha256,
        name: log.name.clone(),
        size_bytes: imported.kept.size_bytes,
        stored_bytes: imported.kept.stored_bytes,
        layout: Some(serde_json::to_string(&log.layout).expect("a layout is JSON")),
        summary: Some(serde_json::to_string(&summary).expect("a summary is JSON")),
        fault: None,
        created_at: now,
    })
}

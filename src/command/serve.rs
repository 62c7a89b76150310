//! `serve`: the pages, and the invented data to try them with.

use super::{Failure, open_or_make};
use crate::config::Config;
use crate::evaluate::Method;
use crate::intake::{Submission, Target, judge, rescore, store};
use crate::storage::{Db, settings, units};
use crate::web;
use rust_embed::RustEmbed;
use std::io::Write;
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
        let outdated = rescore::outdated(&db, &method).await?;
        if outdated > 0 {
            tracing::warn!(
                units = outdated,
                "some units show an evaluation by an older method or other settings; `brickbook rescore` renews them"
            );
        }
        let site = web::Config {
            listen: config.listen,
            public_url: config.public_url.clone(),
            secure_cookies: config.secure_cookies(),
            trusted_proxies: config.trusted_proxies.clone(),
            site_name: config.site_name.clone(),
            ..web::Config::default()
        };
        let served = web::serve(site, db.clone(), Arc::new(method)).await;
        db.close().await;
        served.map_err(|cause| Failure::Failed(cause.to_string()))
    }
}

/// Puts the invented records into an empty database and marks it as a demonstration, all in one
/// transaction. A database that is marked already is left as it is.
async fn load_demo(db: &Db, method: &Method, now: OffsetDateTime) -> Result<(), Failure> {
    // The records refer to logs: these lie beside the database before anything is judged.
    for name in SeedData::iter().filter(|name| name.starts_with("logs/")) {
        let file = SeedData::get(&name).expect("a listed file is embedded");
        keep(db, &file.data)
            .map_err(|cause| Failure::Failed(format!("seed-data/{name}: {cause}")))?;
    }
    // Judged before the transaction, which others may be waiting for.
    let mut judged = Vec::new();
    for name in SeedData::iter().filter(|name| name.ends_with(".json")) {
        let file = SeedData::get(&name).expect("a listed file is embedded");
        let text = String::from_utf8(file.data.into_owned())
            .map_err(|_| Failure::Failed(format!("seed-data/{name} is not UTF-8")))?;
        let record = judge(&text, method, db.logs()).map_err(|problems| {
            let problems: Vec<_> = problems.iter().map(ToString::to_string).collect();
            Failure::Failed(format!("seed-data/{name}: {}", problems.join("; ")))
        })?;
        judged.push((text, record));
    }

    let mut tx = db.write().await?;
    if settings::is_demo(&mut tx).await? {
        return Ok(());
    }
    if units::count(&mut tx).await? > 0 {
        return Err(Failure::Failed(format!(
            "--demo needs an empty database, and {} holds real measurements, which invented data must not be mixed with; \
             choose another folder with --data-dir, or leave out --demo",
            db.path().display()
        )));
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
        store(&mut tx, &submission, judged, method)
            .await
            .map_err(|cause| Failure::Failed(format!("the invented data: {cause}")))?;
    }
    settings::set(&mut tx, settings::DEMO, "1").await?;
    tx.commit().await?;
    tracing::info!(
        units = count,
        "filled the empty database with invented data"
    );
    Ok(())
}

/// Keeps a log's bytes; the same bytes twice are kept once.
fn keep(db: &Db, bytes: &[u8]) -> std::io::Result<()> {
    let mut incoming = db.logs().begin()?;
    incoming.write_all(bytes)?;
    incoming.finish()?;
    Ok(())
}

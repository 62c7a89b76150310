//! A crowd of readers while somebody publishes without a pause: `cargo bench --bench speed -- crowd`.
//!
//! 200 connections ask for a mixture of pages that are kept and pages that must be made, for a
//! minute (`BRICKBOOK_BENCH_SECONDS`); a writer in a process of its own publishes new units one
//! after the other. Every answer must be 200 and whole. `tests/command/crowd.rs` is the short form.

use super::load::Connection;
use super::{Promise, Server, fill, kinds, number_from_environment, print_table};
use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

const READERS: usize = 200;
const UNITS: usize = 1_000;

/// Asks, publishes and prints the table.
pub fn measure() -> io::Result<()> {
    let seconds = number_from_environment("BRICKBOOK_BENCH_SECONDS", 60);
    let folder = tempfile::tempdir()?;
    let data = folder.path().join("data");
    let rows = fill(&data, folder.path(), UNITS)?;
    let slugs: Vec<String> = rows.into_iter().map(|row| row.slug).collect();
    let server = Server::site(&data)?;
    let stop = Arc::new(AtomicBool::new(false));

    let writer = kinds::writer(data.join("brickbook.db"), UNITS, stop.clone());
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()?;
    let until = Instant::now() + Duration::from_secs(seconds as u64);
    let (mut times, mut errors) = (Vec::new(), 0_usize);
    runtime.block_on(async {
        let slugs = Arc::new(slugs);
        let mut readers = tokio::task::JoinSet::new();
        for number in 0..READERS {
            readers.spawn(read(server.port, number, slugs.clone(), until));
        }
        while let Some(done) = readers.join_next().await {
            let (own, failed) = done.expect("a reader does not panic");
            times.extend(own);
            errors += failed;
        }
    });
    stop.store(true, Ordering::SeqCst);
    let published = writer.join().expect("the writer does not panic")?;
    let memory = server.most_resident_mb()?;
    for (kind, name) in KINDS.iter().enumerate() {
        let own = times.iter().filter(|(of, _)| *of == kind);
        let mut own: Vec<Duration> = own.map(|(_, took)| *took).collect();
        own.sort_unstable();
        if let Some(most) = own.len().checked_sub(1) {
            let at = |share: usize| own[most * share / 100].as_secs_f64() * 1e3;
            println!(
                "{name}: {} answers, median {:.2} ms, p99 {:.2} ms",
                own.len(),
                at(50),
                at(99)
            );
        }
    }
    let mut times: Vec<Duration> = times.into_iter().map(|(_, took)| took).collect();
    times.sort_unstable();
    let at = |share: usize| times[(times.len() - 1) * share / 100].as_secs_f64() * 1e3;
    println!(
        "{} answers to {READERS} connections in {seconds} s, {:.0}/s; median {:.2} ms, p99 {:.2} ms; \
         {published} units published meanwhile",
        times.len(),
        times.len() as f64 / seconds as f64,
        at(50),
        at(99)
    );
    print_table(&[
        Promise::below(
            "crowd: answers that were an error or not whole",
            errors as f64,
            1.0,
            0,
        ),
        Promise::at_least(
            "crowd: units published meanwhile, a second",
            published as f64 / seconds as f64,
            1.0,
            0,
        ),
        Promise::below("crowd: most memory held, MB", memory, 160.0, 1),
    ]);
    Ok(())
}

/// What a reader asks for, in turn.
const KINDS: [&str; 10] = [
    "leaderboard",
    "leaderboard",
    "leaderboard",
    "method",
    "unit",
    "leaderboard, further pages",
    "ranking of the API",
    "compare",
    "at a wattage",
    "feed",
];

/// One reader: of each answer its kind and the time it took, and how many were wrong.
async fn read(
    port: u16,
    number: usize,
    slugs: Arc<Vec<String>>,
    until: Instant,
) -> (Vec<(usize, Duration)>, usize) {
    let (mut times, mut errors) = (Vec::new(), 0);
    let mut connection = None;
    let mut round = number * 31;
    while Instant::now() < until {
        round += 1;
        let slug = &slugs[round * 17 % slugs.len()];
        let target = match round % 10 {
            0..=2 => "/".to_owned(),
            3 => "/method".to_owned(),
            4 => format!("/unit/{slug}"),
            5 => format!("/?page={}", round % 20 + 2),
            6 => "/api/v1/ranking?per_page=50".to_owned(),
            7 => format!("/compare?unit={}&unit={slug}", slugs[0]),
            8 => format!("/at?w={}", round % 60 + 1),
            _ => "/feed.atom".to_owned(),
        };
        let open = match connection.take() {
            Some(open) => Ok(open),
            None => Connection::open(port).await,
        };
        let asked = Instant::now();
        match open {
            Ok(mut open) => match open
                .get(&target, "br, gzip")
                .await
                .map(|answer| answer.body.len())
            {
                Ok(bytes) if bytes > 0 => {
                    // All three of the first address are one kind.
                    times.push(((round % 10).max(2), asked.elapsed()));
                    connection = Some(open);
                }
                other => {
                    eprintln!("{target}: {other:?}");
                    errors += 1;
                }
            },
            Err(cause) => {
                eprintln!("no connection: {cause}");
                errors += 1;
            }
        }
    }
    (times, errors)
}

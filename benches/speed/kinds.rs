//! Each kind of work beside the least that the same libraries need for it, in one run:
//! `cargo bench --bench speed -- kinds`; and what the same things cost by the number of units:
//! `-- sizes` (100, 10,000 and 100,000; `-- sizes 100 1000` for others).
//!
//! Pages are asked for twice over: when they are kept ready, against a bare handler that has the
//! same bytes; and each address once, against a bare handler that reads the same documents out of
//! SQLite and sends an answer of the same length, without understanding or drawing anything.

use super::load::Connection;
use super::{
    Promise, SEED, Server, bare, fill, median, number_from_environment, print_table, ratio, show,
    text,
};
use brickbook::bench::decode::decode;
use brickbook::demo;
use brickbook::evaluate::waveform::analyse;
use brickbook::evaluate::{Method, evaluate};
use brickbook::intake::submit::{Submission, Target, submit};
use brickbook::ranking::{Row, SortKey};
use brickbook::standards::Standards;
use brickbook::storage::Db;
use realfft::RealFftPlanner;
use std::collections::BTreeMap;
use std::f64::consts::TAU;
use std::hint::black_box;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};
use time::OffsetDateTime;

const READY_REQUESTS: usize = 12_000;
const MADE_REQUESTS: usize = 250;
const INSERTED: usize = 150;

/// One kind of page: an address that is asked again and again, and addresses without end, each with
/// what the bare server is asked in its place.
struct Kind {
    name: &'static str,
    ready: String,
    fresh: fn(&[Row], usize) -> (String, String),
}

fn slug(rows: &[Row], index: usize) -> &str {
    &rows[index % rows.len()].slug
}

/// Maker and model as the site writes them in its own addresses.
fn words(maker: &str, model: &str) -> String {
    let of = format!("{maker} {model}");
    const KEPT: &percent_encoding::AsciiSet = &percent_encoding::NON_ALPHANUMERIC
        .remove(b'-')
        .remove(b'.')
        .remove(b'_')
        .remove(b'~');
    percent_encoding::utf8_percent_encode(&of, KEPT).to_string()
}

fn kinds(rows: &[Row]) -> Vec<Kind> {
    vec![
        Kind {
            name: "leaderboard",
            ready: "/".to_owned(),
            fresh: |rows, index| {
                // The first page of the usual order has an address of its own.
                let pages = (rows.len().div_ceil(50) - 1).max(1);
                let order = match SortKey::ALL[index / pages % SortKey::ALL.len()] {
                    SortKey::Score => String::new(),
                    key => format!("sort={}&", key.id()),
                };
                let page = index % pages + 2;
                (
                    format!("/?{order}page={page}"),
                    format!("/rows?page={}", page - 1),
                )
            },
        },
        Kind {
            name: "unit",
            ready: format!("/unit/{}", slug(rows, 0)),
            fresh: |rows, index| {
                let slug = slug(rows, index + 1);
                (
                    format!("/unit/{slug}"),
                    format!("/stored?kind=unit&slug={slug}"),
                )
            },
        },
        Kind {
            name: "compare",
            ready: format!("/compare?unit={}&unit={}", slug(rows, 0), slug(rows, 1)),
            fresh: |rows, index| {
                let (a, b) = (slug(rows, index + 1), slug(rows, index + 2));
                (
                    format!("/compare?unit={a}&unit={b}"),
                    format!("/stored?kind=compare&slug={a}&other={b}"),
                )
            },
        },
        Kind {
            name: "search",
            ready: format!("/?q={}", words(&rows[0].maker, &rows[0].model)),
            fresh: |rows, index| {
                let row = &rows[(index + 1) % rows.len()];
                let words = words(&row.maker, &row.model);
                (
                    format!("/?q={words}"),
                    format!("/found?kind=search&q={words}"),
                )
            },
        },
        Kind {
            name: "chart",
            ready: format!("/unit/{}/chart.svg", slug(rows, 0)),
            fresh: |rows, index| {
                let slug = slug(rows, index + 1);
                (
                    format!("/unit/{slug}/chart.svg"),
                    format!("/drawn?slug={slug}"),
                )
            },
        },
    ]
}

/// Every kind once, on a database of `BRICKBOOK_BENCH_UNITS` (10,000) units.
pub fn measure() -> io::Result<()> {
    let units = number_from_environment("BRICKBOOK_BENCH_UNITS", 10_000);
    let rounds = number_from_environment("BRICKBOOK_BENCH_ROUNDS", 5).max(1);
    let folder = tempfile::tempdir()?;
    let data = folder.path().join("data");
    let mut promises = vec![evaluation(rounds), spectra(rounds)];
    let rows = fill(&data, folder.path(), units)?;
    promises.extend(pages(&data, folder.path(), &rows, rounds)?);
    promises.push(insertion(&data, folder.path(), units, rounds)?);
    promises.extend(beside_a_writer(
        &data,
        folder.path(),
        &rows,
        units + 100_000,
        rounds,
    )?);
    print_table(&promises);
    Ok(())
}

/// Time of `a` and of `b`, in turns; the median of a over b.
fn in_turns(rounds: usize, mut a: impl FnMut(), mut b: impl FnMut()) -> f64 {
    let timed = |work: &mut dyn FnMut()| {
        let began = Instant::now();
        work();
        began.elapsed().as_secs_f64()
    };
    median(
        (0..rounds)
            .map(|_| {
                let a = timed(&mut a);
                a / timed(&mut b)
            })
            .collect(),
    )
}

/// Decode and evaluate against JSON that is only read.
fn evaluation(rounds: usize) -> Promise {
    let method = Method::standard();
    let texts: Vec<String> = (0..500)
        .map(|index| text(&demo::invent(SEED, index)))
        .collect();
    let least = in_turns(
        rounds,
        || {
            for text in &texts {
                black_box(serde_json::from_str::<serde_json::Value>(text).expect("JSON"));
            }
        },
        || {
            for text in &texts {
                let record = decode(text).expect("an invented record is valid");
                black_box(serde_json::to_string(&evaluate(&record, &method)).expect("JSON"));
            }
        },
    );
    Promise::at_least(
        "evaluate and write a document: JSON read alone over it",
        least,
        0.05,
        3,
    )
}

/// Power, harmonics and limits of a waveform against its Fourier transforms alone.
fn spectra(rounds: usize) -> Promise {
    let (rate, seconds) = (51_200.0, 2.0);
    let samples = (rate * seconds) as usize;
    let t: Vec<f64> = (0..samples).map(|n| n as f64 / rate).collect();
    let v: Vec<f64> = t.iter().map(|t| 325.0 * (TAU * 50.0 * t).sin()).collect();
    let i: Vec<f64> = t
        .iter()
        .map(|t| {
            (0..20)
                .map(|k| f64::from(2 * k + 1))
                .map(|n| (TAU * 50.0 * n * t).sin() / n)
                .sum()
        })
        .collect();
    let limits = Standards::embedded().harmonics;
    // Ten cycles a window (IEC 61000-4-7), voltage and current.
    let window = (rate / 5.0) as usize;
    let mut planner = RealFftPlanner::<f64>::new();
    let transform = planner.plan_fft_forward(window);
    let mut into = transform.make_output_vec();
    let least = in_turns(
        rounds,
        || {
            for channel in [&v, &i] {
                for part in channel.chunks_exact(window) {
                    let mut part = part.to_vec();
                    transform
                        .process(&mut part, &mut into)
                        .expect("the lengths agree");
                    black_box(&into);
                }
            }
        },
        || {
            black_box(analyse(&t, &v, &i, 50.0, &limits).expect("a sound waveform"));
        },
    );
    Promise::at_least(
        "waveform analysed: its bare Fourier transforms over it",
        least,
        0.1,
        3,
    )
}

fn pages(data: &Path, folder: &Path, rows: &[Row], rounds: usize) -> io::Result<Vec<Promise>> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()?;
    let site = Server::site(data)?;
    let kinds = kinds(rows);
    // As the site sends each kind: compressed, and plain for its length.
    let mut kept = BTreeMap::new();
    for kind in &kinds {
        let ready = runtime.block_on(super::fetch_kept(site.port, &kind.ready))?;
        let plain = runtime.block_on(async {
            let mut connection = Connection::open(site.port).await?;
            io::Result::Ok(connection.get(&kind.ready, "identity").await?.body.len())
        })?;
        println!(
            "{}: {} bytes, {} as sent",
            kind.name,
            plain,
            ready.body.len()
        );
        kept.insert(kind.name.to_owned(), bare::KeptKind { ready, plain });
    }
    let (file, table) = (folder.join("kinds.json"), folder.join("kinds.db"));
    std::fs::write(&file, serde_json::to_vec(&kept)?)?;
    runtime
        .block_on(bare::write_rows(&table, rows))
        .map_err(io::Error::other)?;
    let bare = Server::bare_kinds(&file, &table, &data.join("brickbook.db"))?;

    let mut promises = Vec::new();
    for kind in &kinds {
        let stands = format!("/ready?kind={}", kind.name);
        let (mut own, mut other) = (Vec::new(), Vec::new());
        for _ in 0..rounds {
            other.push(bare.under(folder, "br", READY_REQUESTS, std::slice::from_ref(&stands))?);
            own.push(site.under(
                folder,
                "br",
                READY_REQUESTS,
                std::slice::from_ref(&kind.ready),
            )?);
        }
        show(&format!("{} ready, bare", kind.name), &other);
        show(&format!("{} ready, site", kind.name), &own);
        promises.push(Promise::at_least(
            ready_words(kind.name),
            ratio(&other, &own, |r| r.processor_us),
            0.8,
            3,
        ));
    }
    for kind in &kinds {
        let (mut own, mut other) = (Vec::new(), Vec::new());
        for round in 0..rounds {
            let asked: Vec<_> = (round * MADE_REQUESTS..(round + 1) * MADE_REQUESTS)
                .map(|index| (kind.fresh)(rows, index))
                .collect();
            let (fresh, stands): (Vec<String>, Vec<String>) = asked.into_iter().unzip();
            other.push(bare.under(folder, "identity", stands.len(), &stands)?);
            own.push(site.under(folder, "identity", fresh.len(), &fresh)?);
        }
        show(&format!("{} made, bare", kind.name), &other);
        show(&format!("{} made, site", kind.name), &own);
        promises.push(Promise::at_least(
            made_words(kind.name),
            ratio(&other, &own, |r| r.processor_us),
            0.5,
            3,
        ));
    }
    Ok(promises)
}

fn ready_words(kind: &str) -> String {
    format!("{kind}, ready: processor time of a bare handler over the site's")
}

fn made_words(kind: &str) -> String {
    format!("{kind}, made: processor time of reading and sending over the site's")
}

/// What is written for one unit, as a bare insert would write it.
struct Written {
    record: String,
    document: String,
    row: String,
}

/// A unit taken in, evaluated and ranked, against the same bytes written in one transaction of as
/// many rows with the same durability.
fn insertion(data: &Path, folder: &Path, from: usize, rounds: usize) -> io::Result<Promise> {
    let method = Method::standard();
    let written: Vec<Written> = (0..INSERTED * rounds)
        .map(|index| {
            let record = demo::invent(SEED, from + index);
            let evaluation = evaluate(&record, &method);
            let row = Row::of(index as i64, "slug", &record, &evaluation, &method);
            Written {
                record: text(&record),
                document: serde_json::to_string(&evaluation).expect("JSON"),
                row: serde_json::to_string(&row).expect("JSON"),
            }
        })
        .collect();
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()?;
    let (least, took) = runtime.block_on(async {
        let db = Db::open(&data.join("brickbook.db"))
            .await
            .map_err(io::Error::other)?;
        let mut bare = bare::plain_table(&folder.join("plain.db"))
            .await
            .map_err(io::Error::other)?;
        let (mut ratios, mut took) = (Vec::new(), Vec::new());
        for round in written.chunks(INSERTED) {
            let began = Instant::now();
            for one in round {
                bare::insert(&mut bare, &one.record, &one.document, &one.row)
                    .await
                    .map_err(io::Error::other)?;
            }
            let alone = began.elapsed();
            let began = Instant::now();
            for one in round {
                publish(&db, &one.record, &method).await?;
            }
            took.push(began.elapsed().as_secs_f64() / round.len() as f64);
            ratios.push(alone.as_secs_f64() / began.elapsed().as_secs_f64());
        }
        db.close().await;
        io::Result::Ok((median(ratios), median(took)))
    })?;
    println!(
        "a unit taken in, evaluated, ranked and on the disk: {:.2} ms",
        took * 1e3
    );
    Ok(Promise::at_least(
        "insert with recompute: bare rows written over it",
        least,
        0.5,
        3,
    ))
}

pub(super) async fn publish(db: &Db, record: &str, method: &Method) -> io::Result<()> {
    let submission = Submission {
        text: record,
        target: Target::New,
        author: "writer",
        reason: "",
        now: OffsetDateTime::now_utc(),
    };
    let done = submit(db, &submission, method).await;
    done.map(drop)
        .map_err(|cause| io::Error::other(format!("{cause:?}")))
}

/// Publishes invented units from `first` on, in a thread, until it is told to stop; how many.
pub(super) fn writer(
    database: PathBuf,
    first: usize,
    stop: Arc<AtomicBool>,
) -> std::thread::JoinHandle<io::Result<usize>> {
    std::thread::spawn(move || {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()?;
        runtime.block_on(async {
            let db = Db::open(&database).await.map_err(io::Error::other)?;
            let method = Method::standard();
            let mut published = 0;
            while !stop.load(Ordering::SeqCst) {
                publish(&db, &text(&demo::invent(SEED, first + published)), &method).await?;
                published += 1;
                // Others want a core, too: a tester publishes once a day, not a thousand a second.
                tokio::time::sleep(Duration::from_millis(20)).await;
            }
            db.close().await;
            Ok(published)
        })
    })
}

/// How long readers wait while somebody inserts without end, over how long they wait otherwise.
fn beside_a_writer(
    data: &Path,
    folder: &Path,
    rows: &[Row],
    first: usize,
    rounds: usize,
) -> io::Result<Vec<Promise>> {
    let site = Server::site(data)?;
    let mut asked = 0;
    let mut ask = |requests: usize| {
        let targets: Vec<String> = (0..requests)
            .map(|_| {
                asked += 1;
                match asked % 3 {
                    0 => "/".to_owned(),
                    1 => format!("/?page={}", asked % 100 + 2),
                    _ => format!("/unit/{}", slug(rows, asked)),
                }
            })
            .collect();
        site.under(folder, "br", requests, &targets)
    };
    ask(600)?;
    let (mut quiet, mut busy, mut inserted) = (Vec::new(), Vec::new(), 0);
    for round in 0..rounds {
        quiet.push(ask(600)?);
        let stop = Arc::new(AtomicBool::new(false));
        let beside = writer(
            data.join("brickbook.db"),
            first + round * 10_000,
            stop.clone(),
        );
        busy.push(ask(600)?);
        stop.store(true, Ordering::SeqCst);
        inserted += beside.join().expect("the writer does not panic")?;
    }
    show("mixed pages, nobody writes", &quiet);
    show("mixed pages, somebody inserts", &busy);
    println!("{inserted} units inserted meanwhile");
    Ok(vec![
        Promise::below(
            "mixed pages: median wait beside a writer over the quiet one",
            1.0 / ratio(&quiet, &busy, |r| r.median_us),
            2.0,
            2,
        ),
        Promise::below(
            "mixed pages: p99 beside a writer over the quiet one",
            1.0 / ratio(&quiet, &busy, |r| r.p99_us),
            2.0,
            2,
        ),
    ])
}

/// Cost by number of units.
pub fn sizes(of: &[usize]) -> io::Result<()> {
    let header = [
        "units",
        "add ms",
        "MB",
        "start ms",
        "MB held",
        "board ms",
        "unit ms",
        "search ms",
        "compare ms",
        "insert ms",
        "seen ms",
    ];
    let mut lines = vec![header.map(str::to_owned).join("\t")];
    for &units in of {
        let folder = tempfile::tempdir()?;
        let data = folder.path().join("data");
        let began = Instant::now();
        let rows = fill(&data, folder.path(), units)?;
        let added = began.elapsed().as_secs_f64() * 1e3 / units as f64;
        let bytes: u64 = std::fs::read_dir(&data)?
            .filter_map(|entry| entry.ok()?.metadata().ok())
            .map(|about| about.len())
            .sum();
        let began = Instant::now();
        let site = Server::site(&data)?;
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()?;
        runtime.block_on(async {
            let mut connection = Connection::open(site.port).await?;
            connection.get("/", "identity").await.map(drop)
        })?;
        let started = began.elapsed().as_secs_f64() * 1e3;
        let held = site.resident_mb()?;
        let mut of_kind = BTreeMap::new();
        for kind in kinds(&rows) {
            let waits = runtime.block_on(async {
                let mut connection = Connection::open(site.port).await?;
                let mut waits = Vec::new();
                for index in 0..(units - 2).min(100) {
                    let (target, _) = (kind.fresh)(&rows, index);
                    let asked = Instant::now();
                    connection.get(&target, "identity").await?;
                    waits.push(asked.elapsed().as_secs_f64() * 1e3);
                }
                io::Result::Ok(waits)
            })?;
            of_kind.insert(kind.name, median(waits));
        }
        let (inserted, seen) = runtime.block_on(insert_and_look(&data, &site, units))?;
        lines.push(format!(
            "{units}\t{added:.2}\t{:.1}\t{started:.0}\t{held:.1}\t{:.2}\t{:.2}\t{:.2}\t{:.2}\t{inserted:.2}\t{seen:.1}",
            bytes as f64 / 1e6,
            of_kind["leaderboard"],
            of_kind["unit"],
            of_kind["search"],
            of_kind["compare"],
        ));
        println!("{}", lines[lines.len() - 1]);
    }
    println!("\n{}", lines.join("\n"));
    Ok(())
}

/// Milliseconds of one insert, and from the end of an insert by another process until the site finds
/// it (it looks for others' changes once a second).
async fn insert_and_look(data: &Path, site: &Server, units: usize) -> io::Result<(f64, f64)> {
    let method = Method::standard();
    let db = Db::open(&data.join("brickbook.db"))
        .await
        .map_err(io::Error::other)?;
    let (mut inserts, mut looks) = (Vec::new(), Vec::new());
    for index in 0..5 {
        let record = demo::invent(SEED, units + index);
        let slug = demo::file_name(&record)
            .trim_end_matches(".json")
            .to_owned();
        let began = Instant::now();
        publish(&db, &text(&record), &method).await?;
        inserts.push(began.elapsed().as_secs_f64() * 1e3);
        let began = Instant::now();
        let target = format!("/?q={}", words(&record.unit.maker, &record.unit.model));
        let link = format!("/unit/{slug}\"");
        loop {
            let mut connection = Connection::open(site.port).await?;
            let answer = connection.get(&target, "identity").await?;
            if String::from_utf8_lossy(answer.body).contains(&link) {
                break;
            }
            if began.elapsed() > Duration::from_secs(60) {
                return Err(io::Error::other(format!("{target} is not shown")));
            }
            tokio::time::sleep(Duration::from_millis(10)).await;
        }
        looks.push(began.elapsed().as_secs_f64() * 1e3);
    }
    db.close().await;
    Ok((median(inserts), median(looks)))
}
